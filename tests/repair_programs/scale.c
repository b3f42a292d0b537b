/* Weighing of an invented scale: filter, zero, tare, units, a label of bars, settings with a check sum. */
struct settings { unsigned int zero; unsigned int span; unsigned char unit; unsigned char places; unsigned char sum; };
static struct settings set = {812, 20480, 1, 2, 0};
static unsigned int ring[8];
static unsigned char at, filled;
static long tare;
static const char *const units[4] = {"g", "kg", "lb", "oz"};
static const unsigned int ratio[4] = {1000, 1, 2205, 35274};
static const unsigned char bars[10] = {0x1A, 0x19, 0x13, 0x3D, 0x23, 0x31, 0x2F, 0x3B, 0x37, 0x0B};
volatile unsigned char *const adc = (unsigned char *)0x8400;
volatile unsigned char *const out = (unsigned char *)0x8402;

unsigned int sample(void) {
    unsigned int v;
    adc[0] = 1;
    while (!(adc[1] & 0x80)) { }
    v = (unsigned int)adc[1] << 8 & 0x0F00;
    return v | adc[0];
}
unsigned int filter(unsigned int v) {
    unsigned long sum = 0; unsigned char k, worst = 0; unsigned int low = 0xFFFF, high = 0;
    ring[at] = v; at = (at + 1) & 7;
    if (filled < 8) { ++filled; return v; }
    for (k = 0; k < 8; ++k) {
        sum += ring[k];
        if (ring[k] < low) low = ring[k];
        if (ring[k] > high) { high = ring[k]; worst = k; }
    }
    (void)worst;
    return (unsigned int)((sum - low - high) / 6);
}
long weight(unsigned int v) {
    long w = (long)v - (long)set.zero;
    w = w * 10000L / (long)set.span;
    if (set.unit != 1) w = w * (long)ratio[set.unit] / 1000L;
    return w - tare;
}
unsigned char sum_of(const unsigned char *p, unsigned char n) { unsigned char s = 0x5A; while (n--) s = (unsigned char)((s << 1 | s >> 7) ^ *p++); return s; }
void put(unsigned char c) { unsigned int limit = 30000; while (out[1] & 2) if (!--limit) return; out[0] = c; }
void puts_(const char *s) { while (*s) put((unsigned char)*s++); }
void decimal(long v, unsigned char places) {
    char d[12]; unsigned char n = 0, negative = v < 0;
    if (negative) v = -v;
    do { if (n == places && places) d[n++] = '.'; d[n++] = (char)('0' + (int)(v % 10)); v /= 10; } while (v || n <= places);
    if (negative) d[n++] = '-';
    while (n) put((unsigned char)d[--n]);
}
void bar_digit(unsigned char digit) { unsigned char k, pattern = bars[digit]; for (k = 0; k < 7; ++k) { put(pattern & 0x40 ? 0xFF : 0); pattern <<= 1; } }
void label(long v) {
    unsigned char k; unsigned long u = (unsigned long)(v < 0 ? 0 : v);
    puts_("NET WEIGHT "); decimal(v, set.places); put(' '); puts_(units[set.unit]); put(13);
    put(0x1B); put('b');
    for (k = 0; k < 6; ++k) { bar_digit((unsigned char)(u % 10)); u /= 10; }
    put(10);
}
void key(unsigned char c) {
    switch (c) {
    case 1: set.zero = filter(sample()); break;
    case 2: tare += weight(filter(sample())); break;
    case 3: set.unit = (unsigned char)((set.unit + 1) & 3); tare = 0; break;
    case 4: if (set.places < 4) ++set.places; else set.places = 0; break;
    case 5: label(weight(filter(sample()))); break;
    case 6: set.sum = sum_of((const unsigned char *)&set, 6); break;
    case 7: if (set.sum != sum_of((const unsigned char *)&set, 6)) puts_("SETTINGS LOST, CALIBRATE AGAIN\r"); break;
    default: puts_("PRESS ZERO, TARE, UNIT OR LABEL\r");
    }
}
void main(void) {
    long last = -1, now;
    for (;;) {
        now = weight(filter(sample()));
        if (now != last) { last = now; decimal(now, set.places); put(13); }
        if (out[1] & 0x10) key(out[2]);
    }
}

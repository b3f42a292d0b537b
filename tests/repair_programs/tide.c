/* Tide table of an invented recorder: harmonic sums from a sine table, a page of figures, a bar drawn in characters. */
static const int sine[33] = {0, 25, 50, 74, 98, 120, 142, 162, 180, 197, 212, 225, 236, 244, 250, 254, 256,
                             254, 250, 244, 236, 225, 212, 197, 180, 162, 142, 120, 98, 74, 50, 25, 0};
static const unsigned char days_of[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
static const char *const month_of[12] = {"JANUARY", "FEBRUARY", "MARCH", "APRIL", "MAY", "JUNE", "JULY", "AUGUST",
                                         "SEPTEMBER", "OCTOBER", "NOVEMBER", "DECEMBER"};
struct wave { unsigned int step; unsigned char size; unsigned int phase; };
static struct wave waves[5] = {{1932, 120, 0}, {2000, 40, 700}, {1002, 31, 99}, {929, 22, 5000}, {3864, 9, 12}};
static unsigned char day = 1, month, hour, minute;
static unsigned int year = 1979;
static int level, highest, lowest;
volatile unsigned char *const pen = (unsigned char *)0xC800;
volatile unsigned char *const state = (unsigned char *)0xC801;

void send(unsigned char c) { while (state[0] & 0x40) { } pen[0] = c; }
void say(const char *s) { for (; *s; ++s) send((unsigned char)*s); }
void figure(int v) {
    char text[7]; unsigned char n = 0;
    if (v < 0) { send('-'); v = -v; }
    do { text[n++] = (char)('0' + v % 10); v /= 10; } while (v);
    while (n < 3) text[n++] = ' ';
    while (n) send((unsigned char)text[--n]);
}
int sine_of(unsigned int phase) {
    unsigned char at = (unsigned char)(phase >> 10);
    return at < 32 ? sine[at] : -sine[at - 32];
}
int tide(void) {
    unsigned char k; int sum = 0;
    for (k = 0; k < 5; ++k) { sum += sine_of(waves[k].phase) * waves[k].size / 64; waves[k].phase += waves[k].step; }
    return sum;
}
unsigned char is_leap(void) { return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0; }
void tick(void) {
    if (++minute < 60) return;
    minute = 0;
    if (++hour < 24) return;
    hour = 0;
    if (++day <= days_of[month] + (month == 1 && is_leap())) return;
    day = 1;
    if (++month == 12) { month = 0; ++year; }
}
void bar(int v) { unsigned char n = (unsigned char)((v + 512) / 16); while (n--) send('*'); send(13); send(10); }
void heading(void) { say("TIDES AT THE STAGE, "); say(month_of[month]); send(' '); figure((int)year); send(13); send(10); }
void row(void) {
    figure(day); send(' '); figure(hour); send(':'); figure(minute); send(' ');
    level = tide();
    if (level > highest) highest = level;
    if (level < lowest) lowest = level;
    figure(level); send(' '); bar(level);
}
void main(void) {
    unsigned int lines = 0;
    for (;;) {
        if (lines == 0) heading();
        row();
        if (++lines == 62) { say("HIGHEST "); figure(highest); say(" LOWEST "); figure(lowest); send(12); lines = 0; }
        do tick(); while (minute % 15);
        if (state[0] & 1) { highest = -999; lowest = 999; }
    }
}

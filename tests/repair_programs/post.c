/* Message exchange of an invented telegraph office: five-unit code, shifts, queues by priority, repeats by check sum. */
static const char letters[33] = "?T\rO HNM\nLRGIPCVEZDBSYFXAWJ?UQK?";
static const char figures[33] = "?5\r9 #,.\n)4&8@:(3+d?'6%/-2b?71(?";
static unsigned char heap[40][32];
static unsigned char rank[40], used[40], free_list[40], free_count;
static unsigned char shift, errors;
static unsigned int sent, lost;
volatile unsigned char *const line = (unsigned char *)0xA000;

void setup(void) { unsigned char k; for (k = 0; k < 40; ++k) free_list[k] = k; free_count = 40; }
unsigned char crc8(const unsigned char *p, unsigned char n) { unsigned char c = 0, k; while (n--) { c ^= *p++; for (k = 0; k < 8; ++k) c = (unsigned char)(c & 0x80 ? c << 1 ^ 7 : c << 1); } return c; }
unsigned char find(const char *table, unsigned char c) { unsigned char k; for (k = 0; k < 32; ++k) if ((unsigned char)table[k] == c) return k; return 255; }
void unit(unsigned char v) { unsigned char k; for (k = 0; k < 5; ++k) { while (!(line[1] & 1)) { } line[0] = v & 1; v >>= 1; } while (!(line[1] & 2)) { } }
void encode(unsigned char c) {
    unsigned char v;
    if (c >= 'a' && c <= 'z') c -= 32;
    v = find(letters, c);
    if (v != 255) { if (shift != 1) { unit(31); shift = 1; } unit(v); return; }
    v = find(figures, c);
    if (v == 255) { ++errors; return; }
    if (shift != 2) { unit(27); shift = 2; }
    unit(v);
}
unsigned char take(void) { return free_count ? free_list[--free_count] : 255; }
void give(unsigned char slot) { free_list[free_count++] = slot; }
void rise(unsigned char at) { while (at && rank[used[at]] < rank[used[(at - 1) / 2]]) { unsigned char t = used[at], up = (unsigned char)((at - 1) / 2); used[at] = used[up]; used[up] = t; at = up; } }
static unsigned char waiting;
unsigned char enqueue(const unsigned char *text, unsigned char n, unsigned char priority) {
    unsigned char slot = take(), k;
    if (slot == 255) { ++lost; return 0; }
    for (k = 0; k < n && k < 30; ++k) heap[slot][k] = text[k];
    heap[slot][30] = k; heap[slot][31] = crc8(heap[slot], k);
    rank[slot] = priority; used[waiting] = slot; rise(waiting); ++waiting;
    return 1;
}
int dequeue(void) {
    unsigned char top, at = 0, child, t;
    if (!waiting) return -1;
    top = used[0]; used[0] = used[--waiting];
    for (;;) {
        child = (unsigned char)(2 * at + 1);
        if (child >= waiting) break;
        if (child + 1 < waiting && rank[used[child + 1]] < rank[used[child]]) ++child;
        if (rank[used[at]] <= rank[used[child]]) break;
        t = used[at]; used[at] = used[child]; used[child] = t; at = child;
    }
    return top;
}
void transmit(unsigned char slot) {
    unsigned char k, tries = 3;
    do {
        shift = 0;
        for (k = 0; k < heap[slot][30]; ++k) encode(heap[slot][k]);
        encode('\r'); encode('\n');
        if (line[2] == heap[slot][31]) { ++sent; give(slot); return; }
    } while (--tries);
    ++lost; give(slot);
}
static unsigned char text[30], length;
void main(void) {
    int slot; unsigned char c;
    setup();
    for (;;) {
        if (line[1] & 4) {
            c = line[3];
            if (c == 13) { if (!enqueue(text, length, text[0] == '!' ? 0 : 5)) { const char *s = "EXCHANGE FULL, SEND LATER"; while (*s) encode((unsigned char)*s++); } length = 0; }
            else if (c == 8) { if (length) --length; }
            else if (length < 30) text[length++] = c;
        }
        slot = dequeue();
        if (slot >= 0) transmit((unsigned char)slot);
    }
}

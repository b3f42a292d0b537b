/* Pattern cards of an invented loom: a packed picture, repeats, mirrors, a small interpreter of commands. */
static unsigned char picture[24][8];
static unsigned char cards[256];
static unsigned int count, fault;
static const unsigned char bit_of[8] = {1, 2, 4, 8, 16, 32, 64, 128};
static const char *const faults[5] = {"OK", "CARD JAMMED", "NO SUCH ROW", "TOO MANY REPEATS", "LIFT NOT HOME"};
volatile unsigned char *const lift = (unsigned char *)0x9000;

void wait(unsigned int turns) { while (turns--) if (lift[3] & 4) return; fault = 4; }
void hooks(const unsigned char *row) { unsigned char k; for (k = 0; k < 8; ++k) { lift[0] = row[k]; lift[1] = k; lift[2] = 1; lift[2] = 0; } wait(4000); }
void dot(unsigned char x, unsigned char y, unsigned char on) {
    if (y > 23) { fault = 2; return; }
    if (on) picture[y][x >> 3] |= bit_of[x & 7]; else picture[y][x >> 3] &= (unsigned char)~bit_of[x & 7];
}
unsigned char is_on(unsigned char x, unsigned char y) { return picture[y][x >> 3] & bit_of[x & 7]; }
void segment(int x, int y, int to_x, int to_y) {
    int dx = to_x > x ? to_x - x : x - to_x, dy = to_y > y ? to_y - y : y - to_y;
    int sx = to_x > x ? 1 : -1, sy = to_y > y ? 1 : -1, e = dx - dy, twice;
    for (;;) {
        dot((unsigned char)x, (unsigned char)y, 1);
        if (x == to_x && y == to_y) return;
        twice = e * 2;
        if (twice > -dy) { e -= dy; x += sx; }
        if (twice < dx) { e += dx; y += sy; }
    }
}
void flip(void) { unsigned char x, y, left, right; for (y = 0; y < 24; ++y) for (x = 0; x < 32; ++x) { left = is_on(x, y); right = is_on((unsigned char)(63 - x), y); dot(x, y, right); dot((unsigned char)(63 - x), y, left); } }
void shift(unsigned char by) { unsigned char y, k, n; for (n = 0; n < by; ++n) for (y = 0; y < 24; ++y) { unsigned char carry = picture[y][7] >> 7; for (k = 0; k < 8; ++k) { unsigned char next = picture[y][k] >> 7; picture[y][k] = (unsigned char)(picture[y][k] << 1 | carry); carry = next; } } }
unsigned int pack(void) {
    unsigned int n = 0; unsigned char y, k, run, value;
    for (y = 0; y < 24; ++y) for (k = 0; k < 8; ) {
        value = picture[y][k]; run = 0;
        while (k < 8 && picture[y][k] == value) { ++run; ++k; }
        if (n > 253) { fault = 3; return n; }
        cards[n++] = run; cards[n++] = value;
    }
    return n;
}
void unpack(unsigned int n) { unsigned int i; unsigned char *p = picture[0]; for (i = 0; i + 1 < n; i += 2) { unsigned char r = cards[i]; while (r--) *p++ = cards[i + 1]; } }
unsigned char next(void) { while (!(lift[3] & 1)) { } return lift[4]; }
unsigned int hex(void) { unsigned int v = 0; unsigned char k, c; for (k = 0; k < 2; ++k) { c = next(); c = c > '9' ? (unsigned char)(c - 'A' + 10) : (unsigned char)(c - '0'); v = v << 4 | c; } return v; }
void report(void) { const char *s = faults[fault]; while (*s) { while (lift[3] & 2) { } lift[4] = (unsigned char)*s++; } fault = 0; }
void weave(unsigned char repeats) { unsigned char y; while (repeats--) for (y = 0; y < 24; ++y) { hooks(picture[y]); if (fault) { report(); return; } ++count; } }
void main(void) {
    for (;;) {
        switch (next()) {
        case 'D': dot((unsigned char)hex(), (unsigned char)hex(), 1); break;
        case 'E': dot((unsigned char)hex(), (unsigned char)hex(), 0); break;
        case 'L': segment((int)hex(), (int)hex(), (int)hex(), (int)hex()); break;
        case 'M': flip(); break;
        case 'R': shift((unsigned char)hex()); break;
        case 'P': count = pack(); break;
        case 'U': unpack(count); break;
        case 'W': weave((unsigned char)hex()); break;
        default: fault = 1; report();
        }
    }
}

/* Ticket printing of an invented machine: queue, formatting, check digits, a menu. */
static unsigned char queue[64];
static unsigned char head, tail, column, width = 40;
static unsigned int total, serial = 1000;
static const char *const words[] = {"TICKET NUMBER ", "PRINTER NOT READY", "PAPER OUT", "PRESS ANY KEY", "TOTAL ", "THANK YOU"};
volatile unsigned char *const data_port = (unsigned char *)0xC800;
volatile unsigned char *const status_port = (unsigned char *)0xC801;

unsigned char put(unsigned char c) {
    unsigned int wait = 5000;
    while (*status_port & 0x80) { if (--wait == 0) return 0; }
    *data_port = c; status_port[1] = 0; status_port[1] = 1;
    if (c == 13) column = 0; else if (c >= 32 && ++column >= width) { column = 0; put(13); put(10); }
    return 1;
}
void text(const char *s) { while (*s) { if (!put(*s)) return; ++s; } }
void number(unsigned int n) { char b[6]; unsigned char i = 0; do { b[i++] = '0' + n % 10; n /= 10; } while (n); while (i) put(b[--i]); }
void hex(unsigned char v) { unsigned char d = v >> 4; put(d < 10 ? d + '0' : d + 55); d = v & 15; put(d < 10 ? d + '0' : d + 55); }
unsigned char check(unsigned int n) { unsigned char s = 0; while (n) { s += n % 10 * ((s & 1) ? 3 : 1); n /= 10; } return s % 10; }
void push(unsigned char c) { unsigned char n = (head + 1) & 63; if (n != tail) { queue[head] = c; head = n; } }
int pop(void) { unsigned char c; if (head == tail) return -1; c = queue[tail]; tail = (tail + 1) & 63; return c; }
void line(void) { unsigned char i; for (i = 0; i < width; ++i) put('-'); put(13); put(10); }
void ticket(unsigned int price) {
    line(); text(words[0]); number(serial); put('/'); number(check(serial)); put(13); put(10);
    text(words[4]); number(price / 100); put('.'); if (price % 100 < 10) put('0'); number(price % 100); put(13); put(10);
    text(words[5]); put(13); put(10); line(); total += price; ++serial;
}
unsigned int crc(const unsigned char *p, unsigned int n) {
    unsigned int c = 0xFFFF; unsigned char i;
    while (n--) { c ^= (unsigned int)*p++ << 8; for (i = 8; i; --i) c = c & 0x8000 ? c << 1 ^ 0x1021 : c << 1; }
    return c;
}
void sort(unsigned char *p, unsigned char n) { unsigned char i, j, t; for (i = 1; i < n; ++i) for (j = i; j && p[j - 1] > p[j]; --j) { t = p[j]; p[j] = p[j - 1]; p[j - 1] = t; } }
void dump(const unsigned char *p, unsigned char n) { unsigned char i; for (i = 0; i < n; ++i) { if (!(i & 7)) { put(13); put(10); hex((unsigned int)p >> 8); hex((unsigned int)p & 255); put(':'); } hex(*p++); put(' '); } }
void main(void) {
    for (;;) {
        int c = pop();
        switch (c) {
        case 'T': ticket(250); break;
        case 'H': ticket(125); break;
        case 'D': dump(queue, 64); break;
        case 'S': sort(queue, 64); break;
        case 'C': number(crc(queue, 64)); break;
        case 'W': width = width == 40 ? 80 : 40; break;
        case '?': text(words[3]); break;
        case -1: if (*status_port & 0x20) text(words[2]); break;
        default: push((unsigned char)c); text(words[1]);
        }
    }
}

"""What the blocks of the catalogue compute: pure functions of levels, one record kind for all engines."""

from __future__ import annotations

from functools import reduce
from typing import TYPE_CHECKING, Any

from latchlore.board._levels import L, fall, mux, rise

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from latchlore.board._parts import Values

Function = "Callable[..., Values]"


def all_of(*terms: L) -> L:
    """1 where every term is 1."""
    return reduce(lambda a, b: a & b, terms)


def any_of(*terms: L) -> L:
    """1 where some term is 1."""
    return reduce(lambda a, b: a | b, terms)


def odd(*terms: L) -> L:
    """1 where an odd number of terms is 1."""
    return reduce(lambda a, b: a ^ b, terms)


def and_gate(*i: L) -> tuple[L, ...]:
    """And."""
    return (all_of(*i),)


def nand_gate(*i: L) -> tuple[L, ...]:
    """Not and."""
    return (~all_of(*i),)


def or_gate(*i: L) -> tuple[L, ...]:
    """Or."""
    return (any_of(*i),)


def nor_gate(*i: L) -> tuple[L, ...]:
    """Not or."""
    return (~any_of(*i),)


def xor_gate(*i: L) -> tuple[L, ...]:
    """Exclusive or."""
    return (odd(*i),)


def xnor_gate(*i: L) -> tuple[L, ...]:
    """Equal."""
    return (~odd(*i),)


def buffer_gate(a: L, *_enables: L) -> tuple[L, ...]:
    """The first input."""
    return (a,)


def not_gate(a: L, *_enables: L) -> tuple[L, ...]:
    """The opposite of the first input."""
    return (~a,)


def and_or_invert(*sizes: int) -> Callable[..., Values]:
    """Gate: not of the or of and-groups of these sizes, inputs in order."""

    def function(*i: Any) -> Values:
        terms, at = [], 0
        for size in sizes:
            terms.append(all_of(*i[at : at + size]))
            at += size
        return (~any_of(*terms),)

    return function


def nor_with_strobe(a: L, b: L, c: L, d: L, strobe: L) -> tuple[L, ...]:
    """Four-input nor that is high without its strobe."""
    return (~((a | b | c | d) & strobe),)


def all_low(*i: L) -> L:
    """Enable: every input is 0 (the data input excluded by the caller)."""
    return ~any_of(*i)


def minterms(select: Sequence[L], count: int) -> list[L]:
    """The product terms 0 to count-1 of the select lines, lowest line first."""
    terms = []
    for k in range(count):
        terms.append(all_of(*(line if k >> n & 1 else ~line for n, line in enumerate(select))))
    return terms


def decoder(count: int, *, low: bool = True) -> Callable[..., Values]:
    """Function of (select lines, enable) with one active output for each of `count` codes."""

    def function(select: Sequence[Any], enable: Any | None) -> Values:
        terms = minterms(select, count)
        picked = terms if enable is None else [term & enable for term in terms]
        return tuple(~term for term in picked) if low else tuple(picked)

    return function


_LOW_8, _HIGH_8, _LOW_4, _LOW_10, _LOW_16 = (
    decoder(8),
    decoder(8, low=False),
    decoder(4),
    decoder(10),
    decoder(16),
)


def decode_138(a: L, b: L, c: L, g2a: L, g2b: L, g1: L) -> Values:
    """3 to 8 lines, outputs low, three enables."""
    return _LOW_8((a, b, c), g1 & ~g2a & ~g2b)


def decode_238(a: L, b: L, c: L, g2a: L, g2b: L, g1: L) -> Values:
    """3 to 8 lines, outputs high, three enables."""
    return _HIGH_8((a, b, c), g1 & ~g2a & ~g2b)


def decode_139(g: L, a: L, b: L) -> Values:
    """2 to 4 lines, outputs low."""
    return _LOW_4((a, b), ~g)


def decode_155(a: L, b: L, c1: L, g1: L, g2: L, c2: L) -> Values:
    """Two 2 to 4 line decoders on common select lines, outputs 1Y0-1Y3 then 2Y0-2Y3."""
    return (*_LOW_4((a, b), c1 & ~g1), *_LOW_4((a, b), ~c2 & ~g2))


def decode_42(a: L, b: L, c: L, d: L) -> Values:
    """BCD to ten lines, outputs low; codes above nine give none."""
    return _LOW_10((a, b, c, d), None)


def decode_154(a: L, b: L, c: L, d: L, g1: L, g2: L) -> Values:
    """4 to 16 lines, outputs low."""
    return _LOW_16((a, b, c, d), ~g1 & ~g2)


def pick(select: Sequence[L], data: Sequence[L]) -> L:
    """The data line that the select lines name, lowest select line first; exact where select is unknown."""
    lines = list(data)
    for line in select:
        lines = [mux(line, lines[k], lines[k + 1]) for k in range(0, len(lines), 2)]
    return lines[0]


def mux_151(a: L, b: L, c: L, g: L, *data: L) -> Values:
    """8 to 1 with strobe, true and inverted outputs."""
    y = pick((a, b, c), data) & ~g
    return (y, ~y)


def mux_251(a: L, b: L, c: L, _g: L, *data: L) -> Values:
    """8 to 1, three-state, true and inverted outputs."""
    y = pick((a, b, c), data)
    return (y, ~y)


def mux_150(a: L, b: L, c: L, d: L, g: L, *data: L) -> Values:
    """16 to 1 with strobe, inverted output."""
    return (~(pick((a, b, c, d), data) & ~g),)


def mux_153(a: L, b: L, g: L, *data: L) -> Values:
    """4 to 1 with strobe."""
    return (pick((a, b), data) & ~g,)


def mux_253(a: L, b: L, _g: L, *data: L) -> Values:
    """4 to 1, three-state."""
    return (pick((a, b), data),)


def mux_157(select: L, g: L, a: L, b: L) -> Values:
    """2 to 1 with strobe."""
    return (mux(select, a, b) & ~g,)


def mux_158(select: L, g: L, a: L, b: L) -> Values:
    """2 to 1 with strobe, inverted."""
    return (~(mux(select, a, b) & ~g),)


def mux_257(select: L, _g: L, a: L, b: L) -> Values:
    """2 to 1, three-state."""
    return (mux(select, a, b),)


def mux_258(select: L, _g: L, a: L, b: L) -> Values:
    """2 to 1, three-state, inverted."""
    return (~mux(select, a, b),)


def adder(*i: L) -> Values:
    """Four-bit adder: A1-A4, B1-B4, carry in; sums 1-4 and carry out."""
    a, b, carry = i[0:4], i[4:8], i[8]
    sums = []
    for k in range(4):
        sums.append(a[k] ^ b[k] ^ carry)
        carry = (a[k] & b[k]) | (a[k] & carry) | (b[k] & carry)
    return (*sums, carry)


def compare_85(*i: L) -> Values:
    """Four-bit comparator: A0-A3, B0-B3, cascade A>B, A=B, A<B in; outputs A>B, A=B, A<B."""
    a, b, more, same, less = i[0:4], i[4:8], i[8], i[9], i[10]
    equal = all_of(*(~(x ^ y) for x, y in zip(a, b, strict=True)))
    greater = any_of(*(all_of(a[k], ~b[k], *(~(a[n] ^ b[n]) for n in range(k + 1, 4))) for k in range(4)))
    smaller = any_of(*(all_of(~a[k], b[k], *(~(a[n] ^ b[n]) for n in range(k + 1, 4))) for k in range(4)))
    return (
        greater | (equal & ~less & ~same),
        equal & same,
        smaller | (equal & ~more & ~same),
    )


def compare_688(g: L, *i: L) -> Values:
    """Eight-bit equality of P0-P7 with Q0-Q7, output low where equal and enabled."""
    equal = all_of(*(~(x ^ y) for x, y in zip(i[:8], i[8:], strict=True)))
    return (~(equal & ~g),)


def parity_280(*i: L) -> Values:
    """Nine-bit parity: even sum, odd sum."""
    sum_odd = odd(*i)
    return (~sum_odd, sum_odd)


def parity_180(even: L, odd_in: L, *data: L) -> Values:
    """Eight-bit parity with even and odd inputs: even sum, odd sum."""
    sum_odd = odd(*data)
    return (~mux(sum_odd, odd_in, even), ~mux(sum_odd, even, odd_in))


def priority_148(ei: L, *lines: L) -> Values:
    """8 to 3 priority encoder, all low active: A2, A1, A0, GS, EO from EI and lines 0-7."""
    active = [~line & ~ei for line in lines]
    first = []
    above = ei & ~ei
    for k in reversed(range(8)):
        first.append((k, active[k] & ~above))
        above = above | active[k]
    code = [~any_of(*(term for k, term in first if k >> n & 1)) for n in (2, 1, 0)]
    return (*code, ~above, ~(~above & ~ei))


def priority_147(*lines: L) -> Values:
    """10 to 4 priority encoder, all low active: D, C, B, A from lines 1-9."""
    first = []
    above = lines[0] & ~lines[0]
    for k in reversed(range(1, 10)):
        here = ~lines[k - 1]
        first.append((k, here & ~above))
        above = above | here
    return tuple(~any_of(*(term for k, term in first if k >> n & 1)) for n in (3, 2, 1, 0))


def alu_181(*i: L) -> Values:
    """Four-bit arithmetic unit: A0-A3, B0-B3 (low active names), S0-S3, M, CN; F0-F3, A=B, P, CN+4, G."""
    a, b, s, mode, carry_in = i[0:4], i[4:8], i[8:12], i[12], i[13]
    x = [~((a[k] & ~b[k] & s[2]) | (a[k] & b[k] & s[3])) for k in range(4)]
    y = [~(a[k] | (b[k] & s[0]) | (~b[k] & s[1])) for k in range(4)]
    # x and y are the two inner terms of each bit in the data sheet's gate diagram.
    f, carry = [], carry_in
    for k in range(4):
        f.append((x[k] ^ y[k]) ^ ~(~mode & carry))
        carry = y[k] | (x[k] & carry)
    p = ~all_of(*x)
    g_term = y[3] | (y[2] & x[3]) | (y[1] & x[2] & x[3]) | (y[0] & x[1] & x[2] & x[3])
    return (*f, all_of(*f), p, g_term | (all_of(*x) & carry_in), ~g_term)


def carry_182(*i: L) -> Values:
    """Carry look-ahead: P0-P3, G0-G3 (low active), CN; P, G, CN+x, CN+y, CN+z."""
    p, g, cn = i[0:4], i[4:8], i[8]
    x = ~(g[0] & (p[0] | ~cn))
    y = ~(g[1] & (p[1] | g[0]) & (p[1] | p[0] | ~cn))
    z = ~(g[2] & (p[2] | g[1]) & (p[2] | p[1] | g[0]) & (p[2] | p[1] | p[0] | ~cn))
    big_g = g[3] & (p[3] | g[2]) & (p[3] | p[2] | g[1]) & (p[3] | p[2] | p[1] | g[0])
    return (any_of(*p), big_g, x, y, z)


_SEGMENTS = (0x3F, 0x06, 0x5B, 0x4F, 0x66, 0x6D, 0x7C, 0x07, 0x7F, 0x67, 0x58, 0x4C, 0x62, 0x69, 0x78, 0x00)
_SEGMENTS_247 = (0x3F, 0x06, 0x5B, 0x4F, 0x66, 0x6D, 0x7D, 0x07, 0x7F, 0x6F, *_SEGMENTS[10:])


def _segments(table: Sequence[int]) -> Callable[..., Values]:
    def function(a: Any, b: Any, c: Any, d: Any, lamp: Any, blank_in: Any, ripple: Any) -> Values:
        """Outputs A-G low active, and the ripple-blanking output."""
        terms = minterms((a, b, c, d), 16)
        zero = terms[0] & lamp & ~ripple
        dark = ~blank_in | zero
        lit = [any_of(*(terms[k] for k in range(16) if table[k] >> n & 1)) for n in range(7)]
        return (*(~((segment | ~lamp) & ~dark) for segment in lit), ~zero)

    return function


segments_47, segments_247 = _segments(_SEGMENTS), _segments(_SEGMENTS_247)


# --- storing blocks: function(inputs, state) and step(before, now, state) ---


def show_state(_inputs: Values, state: Values) -> Values:
    """Outputs are the state."""
    return state


def show_both(_inputs: Values, state: Values) -> Values:
    """True and inverted output of one bit."""
    return (state[0], ~state[0])


def show_inverted(_inputs: Values, state: Values) -> Values:
    """Inverted output of one bit."""
    return (~state[0],)


def show_74(inputs: Values, state: Values) -> Values:
    """Q and /Q with preset (input 2) and clear (input 3), low active, both outputs high when both are low."""
    preset, clear = inputs[2], inputs[3]
    return ((state[0] & clear) | ~preset, (~state[0] & preset) | ~clear)


def step_74(before: Values, now: Values, state: Values) -> Values:
    """D, CLK, /PRE, /CLR."""
    q = mux(rise(before[1], now[1]), state[0], now[0])
    return ((q | ~now[2]) & now[3],)


def step_flop(before: Values, now: Values, state: Values) -> Values:
    """D, CLK (rising), further inputs ignored."""
    return (mux(rise(before[1], now[1]), state[0], now[0]),)


def step_flop_clear(before: Values, now: Values, state: Values) -> Values:
    """D, CLK (rising), /CLR."""
    return (mux(rise(before[1], now[1]), state[0], now[0]) & now[2],)


def step_flop_enable(before: Values, now: Values, state: Values) -> Values:
    """D, CLK (rising), /G."""
    return (mux(rise(before[1], now[1]) & ~now[2], state[0], now[0]),)


def step_173(before: Values, now: Values, state: Values) -> Values:
    """D, CLK (rising), /G1, /G2, CLR (high)."""
    return (mux(rise(before[1], now[1]) & ~now[2] & ~now[3], state[0], now[0]) & ~now[4],)


def enable_third_low(*i: L) -> L:
    """Takes data where input 2 is low."""
    return ~i[2]


def enable_173(*i: L) -> L:
    """Takes data where inputs 2 and 3 are low."""
    return ~i[2] & ~i[3]


def step_latch(_before: Values, now: Values, state: Values) -> Values:
    """D, gate (high)."""
    return (mux(now[1], state[0], now[0]),)


def step_298(before: Values, now: Values, state: Values) -> Values:
    """Word 1, word 2, select, CLK (falling)."""
    return (mux(fall(before[3], now[3]), state[0], mux(now[2], now[0], now[1])),)


def enable_298_1(*i: L) -> L:
    """Word 1 is taken where select is low."""
    return ~i[2]


def enable_298_2(*i: L) -> L:
    """Word 2 is taken where select is high."""
    return i[2]


def step_259(_before: Values, now: Values, state: Values) -> Values:
    """Addressable latch: D, /G, S0, S1, S2, /CLR."""
    d, g, clear = now[0], now[1], now[5]
    picked = minterms(now[2:5], 8)
    held = [state[k] & clear for k in range(8)]
    return tuple(mux(~g & picked[k], held[k], d) for k in range(8))


def enable_259(k: int) -> Callable[..., Any]:
    """Cell k of the addressable latch is the one named by S0-S2."""

    def enable(*i: Any) -> Any:
        return minterms(i[2:5], 8)[k]

    return enable


def _jk(state: L, j: L, k: L) -> L:
    return mux(state, j, ~k)


def step_jk_fall(before: Values, now: Values, state: Values) -> Values:
    """J, K, CLK (falling), /PRE, /CLR."""
    q = mux(fall(before[2], now[2]), state[0], _jk(state[0], before[0], before[1]))
    return ((q | ~now[3]) & now[4],)


def step_jk_fall_clear(before: Values, now: Values, state: Values) -> Values:
    """J, K, CLK (falling), /CLR."""
    q = mux(fall(before[2], now[2]), state[0], _jk(state[0], before[0], before[1]))
    return (q & now[3],)


def step_jk_fall_preset(before: Values, now: Values, state: Values) -> Values:
    """J, K, CLK (falling), /PRE."""
    q = mux(fall(before[2], now[2]), state[0], _jk(state[0], before[0], before[1]))
    return (q | ~now[3],)


def step_109(before: Values, now: Values, state: Values) -> Values:
    """J, /K, CLK (rising), /PRE, /CLR."""
    q = mux(rise(before[2], now[2]), state[0], _jk(state[0], now[0], ~now[1]))
    return ((q | ~now[3]) & now[4],)


def step_72(before: Values, now: Values, state: Values) -> Values:
    """J1-J3, K1-K3, CLK (falling), /PRE, /CLR."""
    q = mux(fall(before[6], now[6]), state[0], _jk(state[0], all_of(*before[0:3]), all_of(*before[3:6])))
    return ((q | ~now[7]) & now[8],)


def show_jk(preset: int | None, clear: int | None) -> Callable[..., Values]:
    """Q and /Q, both high while preset and clear (indices of low-active inputs) are low together."""

    def function(inputs: Values, state: Values) -> Values:
        q, nq = state[0], ~state[0]
        if clear is not None:
            q, nq = q & inputs[clear], nq | ~inputs[clear]
        if preset is not None:
            q, nq = q | ~inputs[preset], (nq & inputs[preset]) | (~inputs[clear] if clear is not None else nq & ~nq)
        return (q, nq)

    return function


def step_279(_before: Values, now: Values, state: Values) -> Values:
    """/R, /S...: set-reset latch of two gates; set wins at the output while both are low."""
    reset, sets = ~now[0], ~all_of(*now[1:])
    return (sets | (state[0] & ~reset),)


def _increment(q: Sequence[L], on: L) -> list[L]:
    """Binary count up by one where `on`."""
    out, carry = [], on
    for bit in q:
        out.append(bit ^ carry)
        carry = carry & bit
    return out


def _decrement(q: Sequence[L], on: L) -> list[L]:
    out, borrow = [], on
    for bit in q:
        out.append(bit ^ borrow)
        borrow = borrow & ~bit
    return out


def _decade_up(q: Sequence[L], on: L) -> list[L]:
    """Decade count up as the data sheet's gates do it: 9 goes to 0, codes above nine come back."""
    a, b, c, d = q
    return [a ^ on, b ^ (on & a & ~d), c ^ (on & a & b), d ^ (on & ((a & b & c) | (a & d)))]


def _decade_down(q: Sequence[L], on: L) -> list[L]:
    """Decade count down: 0 goes to 9."""
    a, b, c, d = q
    low = on & ~a
    some = b | c | d
    return [a ^ on, b ^ (low & some & ~b & (c | d)) ^ (low & b), c ^ (low & ~b & (c | d)), d ^ (low & ~b & ~c)]


def sync_counter(*, decade: bool, clear_on_clock: bool) -> Callable[..., Values]:
    """Step of the '160 to '163: CLK, /CLR, /LOAD, ENP, ENT, A-D."""

    def step(before: Values, now: Values, state: Values) -> Values:
        clock = rise(before[0], now[0])
        count = (_decade_up if decade else _increment)(state, now[3] & now[4])
        nxt = [mux(now[2], now[5 + k], count[k]) for k in range(4)]
        if clear_on_clock:
            nxt = [bit & now[1] for bit in nxt]
        after = [mux(clock, state[k], nxt[k]) for k in range(4)]
        return tuple(after) if clear_on_clock else tuple(bit & now[1] for bit in after)

    return step


def show_sync_counter(*, decade: bool) -> Callable[..., Values]:
    """QA-QD and the ripple carry."""

    def function(inputs: Values, state: Values) -> Values:
        full = state[0] & state[3] if decade else all_of(*state)
        if decade:
            full = full & ~state[1] & ~state[2]
        return (*state, full & inputs[4])

    return function


def step_169(*, decade: bool) -> Callable[..., Values]:
    """Step of the '168 and '169: CLK, U/D, /LOAD, /ENP, /ENT, A-D."""

    def step(before: Values, now: Values, state: Values) -> Values:
        clock, on = rise(before[0], now[0]), ~now[3] & ~now[4]
        up = (_decade_up if decade else _increment)(state, on)
        down = (_decade_down if decade else _decrement)(state, on)
        nxt = [mux(now[2], now[5 + k], mux(now[1], down[k], up[k])) for k in range(4)]
        return tuple(mux(clock, state[k], nxt[k]) for k in range(4))

    return step


def show_169(*, decade: bool) -> Callable[..., Values]:
    """QA-QD and the low-active ripple carry."""

    def function(inputs: Values, state: Values) -> Values:
        top = state[0] & state[3] & ((~state[1] & ~state[2]) if decade else (state[1] & state[2]))
        bottom = ~any_of(*state)
        return (*state, ~(mux(inputs[1], bottom, top) & ~inputs[4]))

    return function


def step_191(*, decade: bool) -> Callable[..., Values]:
    """Step of the '190 and '191: CLK, D/U, /LOAD, /CTEN, A-D."""

    def step(before: Values, now: Values, state: Values) -> Values:
        clock, on = rise(before[0], now[0]), ~now[3]
        up = (_decade_up if decade else _increment)(state, on)
        down = (_decade_down if decade else _decrement)(state, on)
        return tuple(mux(now[2], now[4 + k], mux(clock, state[k], mux(now[1], up[k], down[k]))) for k in range(4))

    return step


def show_191(*, decade: bool) -> Callable[..., Values]:
    """QA-QD, MAX/MIN, /RCO."""

    def function(inputs: Values, state: Values) -> Values:
        top = state[0] & state[3] & (state[0] if decade else (state[1] & state[2]))
        end = mux(inputs[1], top, ~any_of(*state))
        return (*state, end, ~(end & ~inputs[3] & ~inputs[0]))

    return function


def step_193(*, decade: bool) -> Callable[..., Values]:
    """Step of the '192 and '193: UP, DOWN, /LOAD, CLR, A-D."""

    def step(before: Values, now: Values, state: Values) -> Values:
        up_edge = rise(before[0], now[0]) & now[1]
        down_edge = rise(before[1], now[1]) & now[0]
        up = (_decade_up if decade else _increment)(state, up_edge | ~up_edge)
        down = (_decade_down if decade else _decrement)(state, up_edge | ~up_edge)
        counted = [mux(down_edge, mux(up_edge, state[k], up[k]), down[k]) for k in range(4)]
        return tuple(mux(now[2], now[4 + k], counted[k]) & ~now[3] for k in range(4))

    return step


def show_193(*, decade: bool) -> Callable[..., Values]:
    """QA-QD, /CO, /BO."""

    def function(inputs: Values, state: Values) -> Values:
        top = state[0] & state[3] & (state[0] if decade else (state[1] & state[2]))
        return (*state, ~(top & ~inputs[0]), ~(~any_of(*state) & ~inputs[1]))

    return function


def step_ripple(before: Values, now: Values, state: Values) -> Values:
    """One toggle stage: CLK (falling), then reset inputs, all of which must be high to reset."""
    q = state[0] ^ fall(before[0], now[0])
    return (q & ~all_of(*now[1:]),)


def step_ripple_3(before: Values, now: Values, state: Values) -> Values:
    """Divide by eight: CLK (falling), reset inputs."""
    count = _increment(state, fall(before[0], now[0]))
    reset = all_of(*now[1:])
    return tuple(bit & ~reset for bit in count)


def step_ripple_4(before: Values, now: Values, state: Values) -> Values:
    """Divide by sixteen: CLK (falling), reset."""
    count = _increment(state, fall(before[0], now[0]))
    return tuple(bit & ~now[1] for bit in count)


def step_92(before: Values, now: Values, state: Values) -> Values:
    """Divide by six of the '92 (codes 0 1 2 4 5 6): CLK (falling), R01, R02; bits B, C, D."""
    b, c, d = state
    on = fall(before[0], now[0])
    nxt = (~b & ~c, b, d ^ c)
    reset = now[1] & now[2]
    return tuple(mux(on, state[k], nxt[k]) & ~reset for k in range(3))


def step_90_a(before: Values, now: Values, state: Values) -> Values:
    """Divide by two of the '90: CKA, R01, R02, R91, R92."""
    q = state[0] ^ fall(before[0], now[0])
    nine = now[3] & now[4]
    return ((q & ~(now[1] & now[2])) | nine,)


def step_90_b(before: Values, now: Values, state: Values) -> Values:
    """Divide by five of the '90: CKB, R01, R02, R91, R92; bits B, C, D."""
    b, c, d = state
    on = fall(before[0], now[0])
    nxt = (~b & ~d, b ^ c, b & c)
    zero, nine = now[1] & now[2], now[3] & now[4]
    counted = [mux(on, state[k], nxt[k]) & ~zero & ~nine for k in range(3)]
    return (counted[0], counted[1], counted[2] | nine)


def step_390_b(before: Values, now: Values, state: Values) -> Values:
    """Divide by five of the '390: CKB, CLR; bits B, C, D."""
    b, c, d = state
    on = fall(before[0], now[0])
    nxt = (~b & ~d, b ^ c, b & c)
    return tuple(mux(on, state[k], nxt[k]) & ~now[1] for k in range(3))


def step_164(before: Values, now: Values, state: Values) -> Values:
    """Shift: A, B, CLK (rising), /CLR."""
    clock = rise(before[2], now[2])
    moved = (now[0] & now[1], *state[:7])
    return tuple(mux(clock, state[k], moved[k]) & now[3] for k in range(8))


def step_165(before: Values, now: Values, state: Values) -> Values:
    """Parallel in: SH/LD, CLK, CLKINH, SER, A-H."""
    clock = rise(before[1] | before[2], now[1] | now[2])
    moved = (now[3], *state[:7])
    return tuple(mux(now[0], now[4 + k], mux(clock, state[k], moved[k])) for k in range(8))


def show_165(_inputs: Values, state: Values) -> Values:
    """QH and its opposite."""
    return (state[7], ~state[7])


def step_166(before: Values, now: Values, state: Values) -> Values:
    """Parallel in with clear: SH/LD, CLK, CLKINH, SER, /CLR, A-H."""
    clock = rise(before[1] | before[2], now[1] | now[2])
    moved = (now[3], *state[:7])
    nxt = [mux(now[0], now[5 + k], moved[k]) for k in range(8)]
    return tuple(mux(clock, state[k], nxt[k]) & now[4] for k in range(8))


def show_last(_inputs: Values, state: Values) -> Values:
    """The last bit."""
    return (state[-1],)


def _shifter(n: int) -> Callable[..., Values]:
    """S0, S1, CLK, /CLR, SR, SL, A...: hold, right, left, load."""

    def step(before: Values, now: Values, state: Values) -> Values:
        s0, s1 = now[0], now[1]
        right = (now[4], *state[: n - 1])
        left = (*state[1:], now[5])
        clock = rise(before[2], now[2])
        nxt = [pick((s0, s1), (state[k], right[k], left[k], now[6 + k])) for k in range(n)]
        return tuple(mux(clock, state[k], nxt[k]) & now[3] for k in range(n))

    return step


step_194, step_198 = _shifter(4), _shifter(8)


def step_195(before: Values, now: Values, state: Values) -> Values:
    """SH/LD, CLK, /CLR, J, /K, A-D."""
    clock = rise(before[1], now[1])
    moved = (_jk(state[0], now[3], ~now[4]), *state[:3])
    nxt = [mux(now[0], now[5 + k], moved[k]) for k in range(4)]
    return tuple(mux(clock, state[k], nxt[k]) & now[2] for k in range(4))


def show_195(_inputs: Values, state: Values) -> Values:
    """QA-QD and /QD."""
    return (*state, ~state[3])


def step_95(before: Values, now: Values, state: Values) -> Values:
    """MODE, CLK1, CLK2 (falling), SER, A-D."""
    shift = fall(before[1], now[1]) & ~now[0]
    load = fall(before[2], now[2]) & now[0]
    moved = (now[3], *state[:3])
    return tuple(mux(load, mux(shift, state[k], moved[k]), now[4 + k]) for k in range(4))


def step_96(before: Values, now: Values, state: Values) -> Values:
    """CLK (rising), /CLR, PRE, SER, A-E: a preset that only sets."""
    clock = rise(before[0], now[0])
    moved = (now[3], *state[:4])
    return tuple((mux(clock, state[k], moved[k]) & now[1]) | (now[2] & now[4 + k]) for k in range(5))


def step_595(before: Values, now: Values, state: Values) -> Values:
    """SER, SRCLK, /SRCLR, RCLK: eight shift bits, then eight output bits."""
    shift, store = rise(before[1], now[1]), rise(before[3], now[3])
    moved = (now[0], *state[:7])
    first = [mux(shift, state[k], moved[k]) & now[2] for k in range(8)]
    return (*first, *(mux(store, state[8 + k], state[k]) for k in range(8)))


def step_137(_before: Values, now: Values, state: Values) -> Values:
    """Address latch of the '137 and '237: A, B, C, /GL, /G2, G1."""
    return tuple(mux(now[3], now[k], state[k]) for k in range(3))


def show_137(inputs: Values, state: Values) -> Values:
    """Eight lines, low."""
    return _LOW_8(state, inputs[5] & ~inputs[4])


def show_237(inputs: Values, state: Values) -> Values:
    """Eight lines, high."""
    return _HIGH_8(state, inputs[5] & ~inputs[4])


def step_memory(lines: int, width: int) -> Callable[..., Values]:
    """Memory written while /ME and /WE are low: /ME, /WE, address lines, data."""

    def step(_before: Values, now: Values, state: Values) -> Values:
        words = minterms(now[2 : 2 + lines], 1 << lines)
        write = ~now[0] & ~now[1]
        data = now[2 + lines :]
        return tuple(mux(write & words[n // width], state[n], data[n % width]) for n in range((1 << lines) * width))

    return step


def show_89(inputs: Values, state: Values) -> Values:
    """Opposite of the addressed word while /ME is low, of the data while /WE is low, else released (high)."""
    me, we, select = inputs[0], inputs[1], inputs[2:6]
    return tuple(~mux(we, inputs[6 + k], pick(select, state[k::4])) | (me & we) for k in range(4))


def step_170(_before: Values, now: Values, state: Values) -> Values:
    """4 by 4 register file: /GW, WA, WB, D1-D4."""
    words = minterms(now[1:3], 4)
    return tuple(mux(~now[0] & words[n // 4], state[n], now[3 + n % 4]) for n in range(16))


def show_170(inputs: Values, state: Values) -> Values:
    """Q1-Q4, high without /GR: inputs 7 /GR, 8 RA, 9 RB."""
    return tuple(pick(inputs[8:10], state[k::4]) | inputs[7] for k in range(4))


def step_one_shot(_before: Values, _now: Values, state: Values) -> Values:
    """A pulse's end is a matter of time: the state is left as it is."""
    return state

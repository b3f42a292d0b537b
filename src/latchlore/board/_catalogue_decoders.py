"""Decoders, multiplexers, comparators, adders and other parts without memory.

Pinouts and functions are set down from memory of the makers' data sheets and tested against open pin facts and
tester vectors.
"""

from __future__ import annotations

from latchlore.board import _functions as f
from latchlore.board._levels import L
from latchlore.board._parts import PartType, Role
from latchlore.board._rows import Does, each, row

_OC = Role.OPEN_COLLECTOR
_Z = Role.THREE_STATE
_PINS_138 = "A B C /G2A /G2B G1 /Y7 GND /Y6 /Y5 /Y4 /Y3 /Y2 /Y1 /Y0 VCC"
_PINS_42 = "0 1 2 3 4 5 6 GND 7 8 9 D C B A VCC"
_PINS_155 = "1C /1G B /1Y3 /1Y2 /1Y1 /1Y0 GND /2Y0 /2Y1 /2Y2 /2Y3 A /2G /2C VCC"
_PINS_151 = "D3 D2 D1 D0 Y /W /G GND C B A D7 D6 D5 D4 VCC"
_PINS_153 = "/1G B 1C3 1C2 1C1 1C0 1Y GND 2Y 2C0 2C1 2C2 2C3 A /2G VCC"
_PINS_157 = "/A/B 1A 1B 1Y 2A 2B 2Y GND 3Y 3B 3A 4Y 4B 4A /G VCC"
_PINS_47 = "B C /LT /BI/RBO /RBI D A GND SEG_E SEG_D SEG_C SEG_B SEG_A SEG_G SEG_F VCC"


def _third_low(_a: L, _b: L, g: L, *_data: L) -> L:
    return ~g


def _fourth_low(_a: L, _b: L, _c: L, g: L, *_data: L) -> L:
    return ~g


def _second_low(_select: L, g: L, *_data: L) -> L:
    return ~g


def _low_out(name: str, title: str, drive: Role) -> PartType:
    return row(name, title, _PINS_42, Does("A B C D", "0 1 2 3 4 5 6 7 8 9", f.decode_42, drive=drive))


def _dual_2_to_4(name: str, title: str, drive: Role) -> PartType:
    outputs = "/1Y0 /1Y1 /1Y2 /1Y3 /2Y0 /2Y1 /2Y2 /2Y3"
    return row(name, title, _PINS_155, Does("A B 1C /1G /2G /2C", outputs, f.decode_155, drive=drive))


def _seven(name: str, title: str, function: object) -> PartType:
    outputs = "SEG_A SEG_B SEG_C SEG_D SEG_E SEG_F SEG_G"

    def segments(*i: L) -> tuple[L, ...]:
        return function(*i)[:7]  # type: ignore[operator,no-any-return]

    def ripple(*i: L) -> tuple[L, ...]:
        return function(*i)[7:]  # type: ignore[operator,no-any-return]

    inputs = "A B C D /LT /BI/RBO /RBI"
    return row(
        name,
        title,
        _PINS_47,
        Does(inputs, outputs, segments, drive=_OC),
        Does(inputs, "/BI/RBO", ripple, drive=_OC),
    )


DECODERS: tuple[PartType, ...] = (
    _low_out("7442", "BCD to decimal decoder", Role.OUTPUT),
    _low_out("7445", "BCD to decimal driver, open collector, 30 V", _OC),
    _seven("7446", "BCD to seven segments, open collector, 30 V", f.segments_47),
    _seven("7447", "BCD to seven segments, open collector, 15 V", f.segments_47),
    row(
        "7483",
        "4-bit adder",
        "A4 S3 A3 B3 VCC S2 B2 A2 S1 A1 B1 GND C0 C4 S4 B4",
        Does("A1 A2 A3 A4 B1 B2 B3 B4 C0", "S1 S2 S3 S4 C4", f.adder),
    ),
    row(
        "7485",
        "4-bit comparator",
        "B3 A<B(IN) A=B(IN) A>B(IN) A>B(OUT) A=B(OUT) A<B(OUT) GND B0 A0 B1 A1 A2 B2 A3 VCC",
        Does("A0 A1 A2 A3 B0 B1 B2 B3 A>B(IN) A=B(IN) A<B(IN)", "A>B(OUT) A=B(OUT) A<B(OUT)", f.compare_85),
    ),
    row(
        "74138",
        "3 to 8 line decoder",
        _PINS_138,
        Does("A B C /G2A /G2B G1", "/Y0 /Y1 /Y2 /Y3 /Y4 /Y5 /Y6 /Y7", f.decode_138),
    ),
    row(
        "74139",
        "dual 2 to 4 line decoder",
        "/1G 1A 1B /1Y0 /1Y1 /1Y2 /1Y3 GND /2Y3 /2Y2 /2Y1 /2Y0 2B 2A /2G VCC",
        each("1 2", "/{}G {}A {}B", "/{}Y0 /{}Y1 /{}Y2 /{}Y3", f.decode_139),
    ),
    _low_out("74145", "BCD to decimal driver, open collector, 15 V", _OC),
    row(
        "74147",
        "10 to 4 line priority encoder",
        "/4 /5 /6 /7 /8 /C /B GND /A /9 /1 /2 /3 /D NC VCC",
        Does("/1 /2 /3 /4 /5 /6 /7 /8 /9", "/D /C /B /A", f.priority_147),
    ),
    row(
        "74148",
        "8 to 3 line priority encoder",
        "/4 /5 /6 /7 /EI /A2 /A1 GND /A0 /0 /1 /2 /3 /GS /EO VCC",
        Does("/EI /0 /1 /2 /3 /4 /5 /6 /7", "/A2 /A1 /A0 /GS /EO", f.priority_148),
    ),
    row(
        "74150",
        "16 to 1 multiplexer, inverted",
        "E7 E6 E5 E4 E3 E2 E1 E0 /G /W D GND C B A E15 E14 E13 E12 E11 E10 E9 E8 VCC",
        Does("A B C D /G " + " ".join(f"E{k}" for k in range(16)), "/W", f.mux_150),
    ),
    row("74151", "8 to 1 multiplexer", _PINS_151, Does("A B C /G D0 D1 D2 D3 D4 D5 D6 D7", "Y /W", f.mux_151)),
    row(
        "74153",
        "dual 4 to 1 multiplexer",
        _PINS_153,
        each("1 2", "A B /{}G {}C0 {}C1 {}C2 {}C3", "{}Y", f.mux_153),
    ),
    row(
        "74154",
        "4 to 16 line decoder",
        "/0 /1 /2 /3 /4 /5 /6 /7 /8 /9 /10 GND /11 /12 /13 /14 /15 /G1 /G2 D C B A VCC",
        Does("A B C D /G1 /G2", " ".join(f"/{k}" for k in range(16)), f.decode_154),
    ),
    _dual_2_to_4("74155", "dual 2 to 4 line decoder", Role.OUTPUT),
    _dual_2_to_4("74156", "dual 2 to 4 line decoder, open collector", _OC),
    row("74157", "quad 2 to 1 multiplexer", _PINS_157, each("1 2 3 4", "/A/B /G {}A {}B", "{}Y", f.mux_157)),
    row("74158", "quad 2 to 1 multiplexer, inverted", _PINS_157, each("1 2 3 4", "/A/B /G {}A {}B", "{}Y", f.mux_158)),
    row(
        "74180",
        "9-bit parity generator",
        "G H EVEN(IN) ODD(IN) SUM_EVEN SUM_ODD GND A B C D E F VCC",
        Does("EVEN(IN) ODD(IN) A B C D E F G H", "SUM_EVEN SUM_ODD", f.parity_180),
    ),
    row(
        "74181",
        "4-bit arithmetic unit",
        "/B0 /A0 S3 S2 S1 S0 CN M /F0 /F1 /F2 GND /F3 A=B /P CN+4 /G /B3 /A3 /B2 /A2 /B1 /A1 VCC",
        Does(
            "/A0 /A1 /A2 /A3 /B0 /B1 /B2 /B3 S0 S1 S2 S3 M CN",
            "/F0 /F1 /F2 /F3 /P CN+4 /G",
            lambda *i: f.alu_181(*i)[:4] + f.alu_181(*i)[5:],
        ),
        Does("/A0 /A1 /A2 /A3 /B0 /B1 /B2 /B3 S0 S1 S2 S3 M CN", "A=B", lambda *i: (f.alu_181(*i)[4],), drive=_OC),
    ),
    row(
        "74182",
        "look-ahead carry generator",
        "/G1 /P1 /G0 /P0 /G3 /P3 /P GND CN+Z /G CN+Y CN+X CN /G2 /P2 VCC",
        Does("/P0 /P1 /P2 /P3 /G0 /G1 /G2 /G3 CN", "/P /G CN+X CN+Y CN+Z", f.carry_182),
    ),
    row(
        "74238",
        "3 to 8 line decoder, outputs high",
        "A B C /G2A /G2B G1 Y7 GND Y6 Y5 Y4 Y3 Y2 Y1 Y0 VCC",
        Does("A B C /G2A /G2B G1", "Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7", f.decode_238),
    ),
    _seven("74247", "BCD to seven segments with tails, open collector, 15 V", f.segments_247),
    row(
        "74251",
        "8 to 1 multiplexer, three-state",
        _PINS_151,
        Does("A B C /G D0 D1 D2 D3 D4 D5 D6 D7", "Y /W", f.mux_251, drive=_Z, enable=_fourth_low),
    ),
    row(
        "74253",
        "dual 4 to 1 multiplexer, three-state",
        _PINS_153,
        each("1 2", "A B /{}G {}C0 {}C1 {}C2 {}C3", "{}Y", f.mux_253, drive=_Z, enable=_third_low),
    ),
    row(
        "74257",
        "quad 2 to 1 multiplexer, three-state",
        _PINS_157,
        each("1 2 3 4", "/A/B /G {}A {}B", "{}Y", f.mux_257, drive=_Z, enable=_second_low),
    ),
    row(
        "74258",
        "quad 2 to 1 multiplexer, three-state, inverted",
        _PINS_157,
        each("1 2 3 4", "/A/B /G {}A {}B", "{}Y", f.mux_258, drive=_Z, enable=_second_low),
    ),
    row(
        "74280",
        "9-bit parity generator",
        "G H NC I EVEN ODD GND A B C D E F VCC",
        Does("A B C D E F G H I", "EVEN ODD", f.parity_280),
    ),
    row(
        "74283",
        "4-bit adder",
        "S2 B2 A2 S1 A1 B1 C0 GND C4 S4 B4 A4 S3 A3 B3 VCC",
        Does("A1 A2 A3 A4 B1 B2 B3 B4 C0", "S1 S2 S3 S4 C4", f.adder),
    ),
    row(
        "74688",
        "8-bit equality comparator",
        "/G P0 Q0 P1 Q1 P2 Q2 P3 Q3 GND P4 Q4 P5 Q5 P6 Q6 P7 Q7 /P=Q VCC",
        Does(
            "/G " + " ".join(f"P{k}" for k in range(8)) + " " + " ".join(f"Q{k}" for k in range(8)),
            "/P=Q",
            f.compare_688,
        ),
    ),
)

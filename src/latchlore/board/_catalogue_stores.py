"""Flip-flops, latches, counters, shift registers, small memories and one-shots.

Pinouts and functions are set down from memory of the makers' data sheets and tested against open pin facts and
tester vectors.  The one-shots' pulse times stand in the table of timed parts.
"""

from __future__ import annotations

from typing import Any

from latchlore.board import _functions as f
from latchlore.board._levels import L
from latchlore.board._parts import Capture, PartType, Role, Timing
from latchlore.board._rows import Does, each, row, takes

_OC = Role.OPEN_COLLECTOR
_Z = Role.THREE_STATE
_EIGHT = "1 2 3 4 5 6 7 8"
_OCTAL = "1Q 1D 2D 2Q 3Q 3D 4D 4Q GND {clock} 5Q 5D 6D 6Q 7Q 7D 8D 8Q VCC"
_FLOW = "/OC 1D 2D 3D 4D 5D 6D 7D 8D GND {clock} 8Q 7Q 6Q 5Q 4Q 3Q 2Q 1Q VCC"
_HEX = "1Q 1D 2D 2Q 3D 3Q GND CLK 4Q 4D 5Q 5D 6D 6Q VCC"
_QUAD = "1Q /1Q 1D 2D /2Q 2Q GND CLK 3Q /3Q 3D 4D /4Q 4Q VCC"
_COUNTER = "/CLR CLK A B C D ENP GND /LOAD ENT QD QC QB QA RCO VCC"
_COUNTER_169 = "U/D CLK A B C D /ENP GND /LOAD /ENT QD QC QB QA /RCO VCC"
_COUNTER_191 = "B QB QA /CTEN D/U QC QD GND D C /LOAD MAX/MIN /RCO CLK A VCC"
_COUNTER_193 = "B QB QA DOWN UP QC QD GND D C /LOAD /CO /BO CLR A VCC"
_RISE = takes(Timing.RISE)
_RISE_G = takes(Timing.RISE, enable=f.enable_third_low)
_HIGH = takes(Timing.HIGH)


def _third_low(_d: L, _clock: L, oc: L) -> L:
    return ~oc


def _octal(name: str, title: str, pins: str, clock: str, *, inverted: bool = False) -> PartType:
    """Octal three-state latch (clock C) or flip-flop (clock CLK)."""
    pins = pins.replace("{clock}", clock)
    if not pins.startswith("/OC"):
        pins = "/OC " + pins
    edge = clock == "CLK"
    out = "/{}Q" if inverted else "{}Q"
    if inverted:
        pins = " ".join(f"/{n}" if n.endswith("Q") else n for n in pins.split())
    return row(
        name,
        title,
        pins,
        each(
            _EIGHT,
            f"{{}}D {clock} /OC",
            out,
            f.show_inverted if inverted else f.show_state,
            drive=_Z,
            enable=_third_low,
            states=1,
            step=f.step_flop if edge else f.step_latch,
            captures=_RISE if edge else _HIGH,
        ),
    )


def _counter(name: str, title: str, *, decade: bool, clear_on_clock: bool) -> PartType:
    return row(
        name,
        title,
        _COUNTER,
        Does(
            "CLK /CLR /LOAD ENP ENT A B C D",
            "QA QB QC QD RCO",
            f.show_sync_counter(decade=decade),
            states=4,
            step=f.sync_counter(decade=decade, clear_on_clock=clear_on_clock),
            captures=tuple(Capture(k, 5 + k, 0, Timing.RISE, f.enable_third_low) for k in range(4)),
        ),
    )


def _counter_169(name: str, title: str, *, decade: bool) -> PartType:
    return row(
        name,
        title,
        _COUNTER_169,
        Does(
            "CLK U/D /LOAD /ENP /ENT A B C D",
            "QA QB QC QD /RCO",
            f.show_169(decade=decade),
            states=4,
            step=f.step_169(decade=decade),
            captures=tuple(Capture(k, 5 + k, 0, Timing.RISE, f.enable_third_low) for k in range(4)),
        ),
    )


def _counter_191(name: str, title: str, *, decade: bool) -> PartType:
    return row(
        name,
        title,
        _COUNTER_191,
        Does(
            "CLK D/U /LOAD /CTEN A B C D",
            "QA QB QC QD MAX/MIN /RCO",
            f.show_191(decade=decade),
            states=4,
            step=f.step_191(decade=decade),
            captures=tuple(Capture(k, 4 + k, 2, Timing.LOW) for k in range(4)),
        ),
    )


def _counter_193(name: str, title: str, *, decade: bool) -> PartType:
    return row(
        name,
        title,
        _COUNTER_193,
        Does(
            "UP DOWN /LOAD CLR A B C D",
            "QA QB QC QD /CO /BO",
            f.show_193(decade=decade),
            states=4,
            step=f.step_193(decade=decade),
            captures=tuple(Capture(k, 4 + k, 2, Timing.LOW) for k in range(4)),
        ),
    )


def _quad_latch(name: str, title: str, pins: str) -> PartType:
    latch: dict[str, Any] = {"states": 1, "step": f.step_latch, "captures": _HIGH}
    return row(
        name,
        title,
        pins,
        each("1 2", "{}D 1C,2C", "{}Q /{}Q", f.show_both, **latch),
        each("3 4", "{}D 3C,4C", "{}Q /{}Q", f.show_both, **latch),
    )


def _decade_90(name: str, title: str, pins: str) -> PartType:
    resets = "R0(1) R0(2) R9(1) R9(2)"
    return row(
        name,
        title,
        pins,
        Does(f"CKA {resets}", "QA", f.show_state, states=1, step=f.step_90_a),
        Does(f"CKB {resets}", "QB QC QD", f.show_state, states=3, step=f.step_90_b),
    )


def _binary_93(name: str, title: str, pins: str) -> PartType:
    return row(
        name,
        title,
        pins,
        Does("CKA R0(1) R0(2)", "QA", f.show_state, states=1, step=f.step_ripple),
        Does("CKB R0(1) R0(2)", "QB QC QD", f.show_state, states=3, step=f.step_ripple_3),
    )


_PULSE: dict[str, Any] = {"states": 1, "step": f.step_one_shot, "timed": True}

STORES: tuple[PartType, ...] = (
    row(
        "7472",
        "AND-gated J-K flip-flop",
        "NC /CLR J1 J2 J3 /Q GND Q K1 K2 K3 CLK /PRE VCC",
        Does("J1 J2 J3 K1 K2 K3 CLK /PRE /CLR", "Q /Q", f.show_jk(7, 8), states=1, step=f.step_72),
    ),
    row(
        "7473",
        "dual J-K flip-flop with clear",
        "1CLK /1CLR 1K VCC 2CLK /2CLR 2J /2Q 2Q 2K GND 1Q /1Q 1J",
        each(
            "1 2",
            "{}J {}K {}CLK /{}CLR",
            "{}Q /{}Q",
            f.show_jk(None, 3),
            states=1,
            step=f.step_jk_fall_clear,
        ),
    ),
    row(
        "7474",
        "dual D flip-flop with preset and clear",
        "/1CLR 1D 1CLK /1PRE 1Q /1Q GND /2Q 2Q /2PRE 2CLK 2D /2CLR VCC",
        each("1 2", "{}D {}CLK /{}PRE /{}CLR", "{}Q /{}Q", f.show_74, states=1, step=f.step_74, captures=_RISE),
    ),
    _quad_latch("7475", "quad latch", "/1Q 1D 2D 3C,4C VCC 3D 4D /4Q 4Q 3Q /3Q GND 1C,2C /2Q 2Q 1Q"),
    row(
        "7476",
        "dual J-K flip-flop with preset and clear",
        "1CLK /1PRE /1CLR 1J VCC 2CLK /2PRE /2CLR 2J /2Q 2Q 2K GND /1Q 1Q 1K",
        each(
            "1 2",
            "{}J {}K {}CLK /{}PRE /{}CLR",
            "{}Q /{}Q",
            f.show_jk(3, 4),
            states=1,
            step=f.step_jk_fall,
        ),
    ),
    row(
        "7489",
        "16 by 4 memory, open collector, inverted outputs",
        "A0 /ME /WE D1 /Q1 D2 /Q2 GND /Q3 D3 /Q4 D4 A3 A2 A1 VCC",
        Does(
            "/ME /WE A0 A1 A2 A3 D1 D2 D3 D4",
            "/Q1 /Q2 /Q3 /Q4",
            f.show_89,
            drive=_OC,
            states=64,
            step=f.step_memory(4, 4),
        ),
    ),
    _decade_90("7490", "decade counter", "CKB R0(1) R0(2) NC VCC R9(1) R9(2) QC QB GND QD QA NC CKA"),
    row(
        "7492",
        "divide-by-twelve counter",
        "CKB NC NC NC VCC R0(1) R0(2) QD QC GND QB QA NC CKA",
        Does("CKA R0(1) R0(2)", "QA", f.show_state, states=1, step=f.step_ripple),
        Does("CKB R0(1) R0(2)", "QB QC QD", f.show_state, states=3, step=f.step_92),
    ),
    _binary_93("7493", "4-bit binary counter", "CKB R0(1) R0(2) NC VCC NC NC QC QB GND QD QA NC CKA"),
    row(
        "7495",
        "4-bit shift register",
        "SER A B C D MODE GND CLK2 CLK1 QD QC QB QA VCC",
        Does("MODE CLK1 CLK2 SER A B C D", "QA QB QC QD", f.show_state, states=4, step=f.step_95),
    ),
    row(
        "7496",
        "5-bit shift register",
        "CLK A B C VCC D E PRE SER QE QD GND QC QB QA /CLR",
        Does("CLK /CLR PRE SER A B C D E", "QA QB QC QD QE", f.show_state, states=5, step=f.step_96),
    ),
    row(
        "74107",
        "dual J-K flip-flop with clear",
        "1J /1Q 1Q 1K 2Q /2Q GND 2J 2CLK /2CLR 2K 1CLK /1CLR VCC",
        each(
            "1 2",
            "{}J {}K {}CLK /{}CLR",
            "{}Q /{}Q",
            f.show_jk(None, 3),
            states=1,
            step=f.step_jk_fall_clear,
        ),
    ),
    row(
        "74109",
        "dual J-/K flip-flop with preset and clear",
        "/1CLR 1J /1K 1CLK /1PRE 1Q /1Q GND /2Q 2Q /2PRE 2CLK /2K 2J /2CLR VCC",
        each("1 2", "{}J /{}K {}CLK /{}PRE /{}CLR", "{}Q /{}Q", f.show_jk(3, 4), states=1, step=f.step_109),
    ),
    row(
        "74112",
        "dual J-K flip-flop with preset and clear, falling edge",
        "1CLK 1K 1J /1PRE 1Q /1Q /2Q GND 2Q /2PRE 2J 2K 2CLK /2CLR /1CLR VCC",
        each(
            "1 2",
            "{}J {}K {}CLK /{}PRE /{}CLR",
            "{}Q /{}Q",
            f.show_jk(3, 4),
            states=1,
            step=f.step_jk_fall,
        ),
    ),
    row(
        "74113",
        "dual J-K flip-flop with preset, falling edge",
        "1CLK 1K 1J /1PRE 1Q /1Q GND /2Q 2Q /2PRE 2J 2K 2CLK VCC",
        each(
            "1 2",
            "{}J {}K {}CLK /{}PRE",
            "{}Q /{}Q",
            f.show_jk(3, None),
            states=1,
            step=f.step_jk_fall_preset,
        ),
    ),
    row(
        "74121",
        "one-shot",
        "/Q NC A1 A2 B Q GND NC RINT CEXT REXT/CEXT NC NC VCC",
        Does("A1 A2 B", "Q /Q", f.show_both, **_PULSE),
        analog="RINT CEXT REXT/CEXT",
        source="TI SDLS042 (pins from memory)",
    ),
    row(
        "74122",
        "one-shot, retriggerable",
        "A1 A2 B1 B2 /CLR /Q GND Q RINT NC CEXT NC REXT/CEXT VCC",
        Does("A1 A2 B1 B2 /CLR", "Q /Q", f.show_both, **_PULSE),
        analog="RINT CEXT REXT/CEXT",
        source="TI SDLS043 (pins from memory)",
    ),
    row(
        "74123",
        "dual one-shot, retriggerable",
        "1A 1B /1CLR /1Q 2Q 2CEXT 2REXT/CEXT GND 2A 2B /2CLR /2Q 1Q 1CEXT 1REXT/CEXT VCC",
        each("1 2", "{}A {}B /{}CLR", "{}Q /{}Q", f.show_both, **_PULSE),
        analog="1CEXT 1REXT/CEXT 2CEXT 2REXT/CEXT",
        source="TI SDLS043 (pins from memory)",
    ),
    row(
        "74137",
        "3 to 8 line decoder with address latch",
        "A B C /GL /G2 G1 /Y7 GND /Y6 /Y5 /Y4 /Y3 /Y2 /Y1 /Y0 VCC",
        Does(
            "A B C /GL /G2 G1",
            "/Y0 /Y1 /Y2 /Y3 /Y4 /Y5 /Y6 /Y7",
            f.show_137,
            states=3,
            step=f.step_137,
            captures=tuple(Capture(k, k, 3, Timing.LOW) for k in range(3)),
        ),
    ),
    _counter("74160", "decade counter, clear at once", decade=True, clear_on_clock=False),
    _counter("74161", "4-bit binary counter, clear at once", decade=False, clear_on_clock=False),
    _counter("74162", "decade counter, clear on clock", decade=True, clear_on_clock=True),
    _counter("74163", "4-bit binary counter, clear on clock", decade=False, clear_on_clock=True),
    row(
        "74164",
        "8-bit shift register, serial in",
        "A B QA QB QC QD GND CLK /CLR QE QF QG QH VCC",
        Does("A B CLK /CLR", "QA QB QC QD QE QF QG QH", f.show_state, states=8, step=f.step_164),
    ),
    row(
        "74165",
        "8-bit shift register, parallel in",
        "SH/LD CLK E F G H /QH GND QH SER A B C D CLKINH VCC",
        Does("SH/LD CLK CLKINH SER A B C D E F G H", "QH /QH", f.show_165, states=8, step=f.step_165),
    ),
    row(
        "74166",
        "8-bit shift register, parallel in on clock",
        "SER A B C D CLKINH CLK GND /CLR E F G QH H SH/LD VCC",
        Does("SH/LD CLK CLKINH SER /CLR A B C D E F G H", "QH", f.show_last, states=8, step=f.step_166),
    ),
    _counter_169("74168", "up/down decade counter", decade=True),
    _counter_169("74169", "up/down binary counter", decade=False),
    row(
        "74170",
        "4 by 4 register file, open collector",
        "D2 D3 D4 RB RA Q4 Q3 GND Q2 Q1 /GR /GW WB WA D1 VCC",
        Does(
            "/GW WA WB D1 D2 D3 D4 /GR RA RB",
            "Q1 Q2 Q3 Q4",
            f.show_170,
            drive=_OC,
            states=16,
            step=f.step_170,
        ),
    ),
    row(
        "74173",
        "quad D register, three-state",
        "M N 1Q 2Q 3Q 4Q CLK GND /G1 /G2 4D 3D 2D 1D CLR VCC",
        each(
            "1 2 3 4",
            "{}D CLK /G1 /G2 CLR M N",
            "{}Q",
            f.show_state,
            drive=_Z,
            enable=lambda *i: ~i[5] & ~i[6],
            states=1,
            step=f.step_173,
            captures=takes(Timing.RISE, enable=f.enable_173),
        ),
    ),
    row(
        "74174",
        "hex D flip-flop with clear",
        "/CLR " + _HEX.replace("CLK", "CLK"),
        each("1 2 3 4 5 6", "{}D CLK /CLR", "{}Q", f.show_state, states=1, step=f.step_flop_clear, captures=_RISE),
    ),
    row(
        "74175",
        "quad D flip-flop with clear",
        "/CLR " + _QUAD,
        each(
            "1 2 3 4",
            "{}D CLK /CLR",
            "{}Q /{}Q",
            f.show_both,
            states=1,
            step=f.step_flop_clear,
            captures=_RISE,
        ),
    ),
    _counter_191("74190", "up/down decade counter", decade=True),
    _counter_191("74191", "up/down binary counter", decade=False),
    _counter_193("74192", "up/down decade counter, two clocks", decade=True),
    _counter_193("74193", "up/down binary counter, two clocks", decade=False),
    row(
        "74194",
        "4-bit universal shift register",
        "/CLR SR A B C D SL GND S0 S1 CLK QD QC QB QA VCC",
        Does("S0 S1 CLK /CLR SR SL A B C D", "QA QB QC QD", f.show_state, states=4, step=f.step_194),
    ),
    row(
        "74195",
        "4-bit shift register",
        "/CLR J /K A B C D GND SH/LD CLK /QD QD QC QB QA VCC",
        Does("SH/LD CLK /CLR J /K A B C D", "QA QB QC QD /QD", f.show_195, states=4, step=f.step_195),
    ),
    row(
        "74198",
        "8-bit universal shift register",
        "S0 SR A QA B QB C QC D QD CLK GND /CLR QE E QF F QG G QH H SL S1 VCC",
        Does(
            "S0 S1 CLK /CLR SR SL A B C D E F G H",
            "QA QB QC QD QE QF QG QH",
            f.show_state,
            states=8,
            step=f.step_198,
        ),
    ),
    row(
        "74221",
        "dual one-shot",
        "1A 1B /1CLR /1Q 2Q 2CEXT 2REXT/CEXT GND 2A 2B /2CLR /2Q 1Q 1CEXT 1REXT/CEXT VCC",
        each("1 2", "{}A {}B /{}CLR", "{}Q /{}Q", f.show_both, **_PULSE),
        analog="1CEXT 1REXT/CEXT 2CEXT 2REXT/CEXT",
    ),
    row(
        "74237",
        "3 to 8 line decoder with address latch, outputs high",
        "A B C /GL /G2 G1 Y7 GND Y6 Y5 Y4 Y3 Y2 Y1 Y0 VCC",
        Does(
            "A B C /GL /G2 G1",
            "Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7",
            f.show_237,
            states=3,
            step=f.step_137,
            captures=tuple(Capture(k, k, 3, Timing.LOW) for k in range(3)),
        ),
    ),
    row(
        "74259",
        "8-bit addressable latch",
        "S0 S1 S2 Q0 Q1 Q2 Q3 GND Q4 Q5 Q6 Q7 D /G /CLR VCC",
        Does(
            "D /G S0 S1 S2 /CLR",
            "Q0 Q1 Q2 Q3 Q4 Q5 Q6 Q7",
            f.show_state,
            states=8,
            step=f.step_259,
            captures=tuple(Capture(k, 0, 1, Timing.LOW, f.enable_259(k)) for k in range(8)),
        ),
    ),
    row(
        "74273",
        "octal D flip-flop with clear",
        "/CLR " + _OCTAL.replace("{clock}", "CLK"),
        each(_EIGHT, "{}D CLK /CLR", "{}Q", f.show_state, states=1, step=f.step_flop_clear, captures=_RISE),
    ),
    row(
        "74279",
        "quad set-reset latch",
        "/1R /1S1 /1S2 1Q /2R /2S 2Q GND 3Q /3R /3S1 /3S2 4Q /4R /4S VCC",
        each("1 3", "/{}R /{}S1 /{}S2", "{}Q", f.show_state, states=1, step=f.step_279),
        each("2 4", "/{}R /{}S", "{}Q", f.show_state, states=1, step=f.step_279),
    ),
    _decade_90("74290", "decade counter", "R9(1) NC R9(2) QC QB NC GND QD QA CKA CKB R0(1) R0(2) VCC"),
    _binary_93("74293", "4-bit binary counter", "NC NC NC QC QB NC GND QD QA CKA CKB R0(1) R0(2) VCC"),
    row(
        "74298",
        "quad 2 to 1 multiplexer with register",
        "B2 A2 A1 B1 C2 D2 D1 GND C1 WS CLK QD QC QB QA VCC",
        each(
            "A B C D",
            "{}1 {}2 WS CLK",
            "Q{}",
            f.show_state,
            states=1,
            step=f.step_298,
            captures=(
                Capture(0, 0, 3, Timing.FALL, f.enable_298_1),
                Capture(0, 1, 3, Timing.FALL, f.enable_298_2),
            ),
        ),
    ),
    _octal("74373", "octal latch, three-state", _OCTAL, "C"),
    _octal("74374", "octal D flip-flop, three-state", _OCTAL, "CLK"),
    _quad_latch("74375", "quad latch", "1D /1Q 1Q 1C,2C 2Q /2Q 2D GND 3D /3Q 3Q 3C,4C 4Q /4Q 4D VCC"),
    row(
        "74377",
        "octal D flip-flop with enable",
        "/G " + _OCTAL.replace("{clock}", "CLK"),
        each(_EIGHT, "{}D CLK /G", "{}Q", f.show_state, states=1, step=f.step_flop_enable, captures=_RISE_G),
    ),
    row(
        "74378",
        "hex D flip-flop with enable",
        "/G " + _HEX,
        each("1 2 3 4 5 6", "{}D CLK /G", "{}Q", f.show_state, states=1, step=f.step_flop_enable, captures=_RISE_G),
    ),
    row(
        "74379",
        "quad D flip-flop with enable",
        "/G " + _QUAD,
        each(
            "1 2 3 4",
            "{}D CLK /G",
            "{}Q /{}Q",
            f.show_both,
            states=1,
            step=f.step_flop_enable,
            captures=_RISE_G,
        ),
    ),
    row(
        "74390",
        "dual decade counter",
        "1CKA 1CLR 1QA 1CKB 1QB 1QC 1QD GND 2QD 2QC 2QB 2CKB 2QA 2CLR 2CKA VCC",
        each("1 2", "{}CKA {}CLR", "{}QA", f.show_state, states=1, step=f.step_ripple),
        each("1 2", "{}CKB {}CLR", "{}QB {}QC {}QD", f.show_state, states=3, step=f.step_390_b),
    ),
    row(
        "74393",
        "dual 4-bit binary counter",
        "1A 1CLR 1QA 1QB 1QC 1QD GND 2QD 2QC 2QB 2QA 2CLR 2A VCC",
        each("1 2", "{}A {}CLR", "{}QA {}QB {}QC {}QD", f.show_state, states=4, step=f.step_ripple_4),
    ),
    _octal("74533", "octal latch, three-state, inverted", _OCTAL, "C", inverted=True),
    _octal("74534", "octal D flip-flop, three-state, inverted", _OCTAL, "CLK", inverted=True),
    _octal("74563", "octal latch, three-state, inverted, inputs beside outputs", _FLOW, "C", inverted=True),
    _octal("74564", "octal D flip-flop, three-state, inverted, inputs beside outputs", _FLOW, "CLK", inverted=True),
    _octal("74573", "octal latch, three-state, inputs beside outputs", _FLOW, "C"),
    _octal("74574", "octal D flip-flop, three-state, inputs beside outputs", _FLOW, "CLK"),
    row(
        "74595",
        "8-bit shift register with output register, three-state",
        "QB QC QD QE QF QG QH GND QHS /SRCLR SRCLK RCLK /G SER QA VCC",
        Does(
            "SER SRCLK /SRCLR RCLK /G",
            "QA QB QC QD QE QF QG QH",
            lambda _i, s: s[8:],
            drive=_Z,
            enable=lambda *i: ~i[4],
            states=16,
            step=f.step_595,
        ),
        Does("SER SRCLK /SRCLR RCLK", "QHS", lambda _i, s: (s[7],), states=16, step=f.step_595),
    ),
)

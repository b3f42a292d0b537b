"""Gates, inverters, buffers and three-state drivers.

Pinouts and functions are set down from memory of the makers' data sheets (TI's "TTL Data Book" numbering of pins
and names) and tested against open pin facts and tester vectors; where a row was read in a sheet, it names it.
"""

from __future__ import annotations

from latchlore.board import _functions as f
from latchlore.board._levels import L
from latchlore.board._parts import PartType, Role
from latchlore.board._rows import Does, each, row

_OC = Role.OPEN_COLLECTOR
_Z = Role.THREE_STATE

_QUAD = "1A 1B 1Y 2A 2B 2Y GND 3Y 3A 3B 4Y 4A 4B VCC"
_QUAD_Y_FIRST = "1Y 1A 1B 2Y 2A 2B GND 3A 3B 3Y 4A 4B 4Y VCC"
_QUAD_INNER = "1A 1B 1Y 2Y 2A 2B GND 3A 3B 3Y 4Y 4A 4B VCC"
_HEX = "1A 1Y 2A 2Y 3A 3Y GND 4Y 4A 5Y 5A 6Y 6A VCC"
_TRIPLE = "1A 1B 2A 2B 2C 2Y GND 3Y 3A 3B 3C 1Y 1C VCC"
_DUAL_4 = "1A 1B NC 1C 1D 1Y GND 2Y 2A 2B NC 2C 2D VCC"
_OCTAL_BUFFER = "/1G 1A1 2Y4 1A2 2Y3 1A3 2Y2 1A4 2Y1 GND 2A1 1Y4 2A2 1Y3 2A3 1Y2 2A4 1Y1 /2G VCC"
_HEX_COMMON = "/G1 A1 Y1 A2 Y2 A3 Y3 GND Y4 A4 Y5 A5 Y6 A6 /G2 VCC"
_HEX_SPLIT = "/1G 1A1 1Y1 1A2 1Y2 1A3 1Y3 GND 1Y4 1A4 2Y1 2A1 2Y2 2A2 /2G VCC"
_FLOW = "/G1 A1 A2 A3 A4 A5 A6 A7 A8 GND Y8 Y7 Y6 Y5 Y4 Y3 Y2 Y1 /G2 VCC"
_TRANSCEIVER = "DIR A1 A2 A3 A4 A5 A6 A7 A8 GND B8 B7 B6 B5 B4 B3 B2 B1 /G VCC"
_QUAD_TRANSCEIVER = "/GAB NC A1 A2 A3 A4 GND B4 B3 B2 B1 NC GBA VCC"


def _low(*i: object) -> object:
    """Drives while the inputs after the data are low."""
    return f.all_low(*i[1:])  # type: ignore[type-var]  # levels of any kind


def _high(_a: object, g: object) -> object:
    """Drives while the enable is high."""
    return g


def _to_b(_a: L, g: L, direction: L) -> L:
    """A to B: enabled and DIR high."""
    return ~g & direction


def _to_a(_b: L, g: L, direction: L) -> L:
    """B to A: enabled and DIR low."""
    return ~g & ~direction


def _quad(name: str, title: str, function: object, pins: str = _QUAD, drive: Role = Role.OUTPUT) -> PartType:
    return row(name, title, pins, each("1 2 3 4", "{}A {}B", "{}Y", function, drive=drive))  # type: ignore[arg-type]


def _hex(name: str, title: str, function: object, drive: Role = Role.OUTPUT) -> PartType:
    return row(name, title, _HEX, each("1 2 3 4 5 6", "{}A", "{}Y", function, drive=drive))  # type: ignore[arg-type]


def _triple(name: str, title: str, function: object, drive: Role = Role.OUTPUT) -> PartType:
    return row(name, title, _TRIPLE, each("1 2 3", "{}A {}B {}C", "{}Y", function, drive=drive))  # type: ignore[arg-type]


def _dual(name: str, title: str, function: object, drive: Role = Role.OUTPUT) -> PartType:
    return row(name, title, _DUAL_4, each("1 2", "{}A {}B {}C {}D", "{}Y", function, drive=drive))  # type: ignore[arg-type]


def _octal(name: str, title: str, function: object, second: object = _low) -> PartType:
    pins = _OCTAL_BUFFER if second is _low else _OCTAL_BUFFER.replace("/2G", "2G")
    gate = "/2G" if second is _low else "2G"
    return row(
        name,
        title,
        pins,
        each("1 2 3 4", "1A{} /1G", "1Y{}", function, drive=_Z, enable=_low),  # type: ignore[arg-type]
        each("1 2 3 4", f"2A{{}} {gate}", "2Y{}", function, drive=_Z, enable=second),  # type: ignore[arg-type]
    )


def _hex_driver(name: str, title: str, function: object, *, split: bool) -> PartType:
    if not split:
        return row(
            name,
            title,
            _HEX_COMMON,
            each("1 2 3 4 5 6", "A{} /G1 /G2", "Y{}", function, drive=_Z, enable=_low),  # type: ignore[arg-type]
        )
    return row(
        name,
        title,
        _HEX_SPLIT,
        each("1 2 3 4", "1A{} /1G", "1Y{}", function, drive=_Z, enable=_low),  # type: ignore[arg-type]
        each("1 2", "2A{} /2G", "2Y{}", function, drive=_Z, enable=_low),  # type: ignore[arg-type]
    )


def _transceiver(name: str, title: str, function: object) -> PartType:
    return row(
        name,
        title,
        _TRANSCEIVER,
        each("1 2 3 4 5 6 7 8", "A{} /G DIR", "B{}", function, drive=_Z, enable=_to_b),  # type: ignore[arg-type]
        each("1 2 3 4 5 6 7 8", "B{} /G DIR", "A{}", function, drive=_Z, enable=_to_a),  # type: ignore[arg-type]
    )


def _quad_transceiver(name: str, title: str, function: object) -> PartType:
    return row(
        name,
        title,
        _QUAD_TRANSCEIVER,
        each("1 2 3 4", "A{} /GAB", "B{}", function, drive=_Z, enable=_low),  # type: ignore[arg-type]
        each("1 2 3 4", "B{} GBA", "A{}", function, drive=_Z, enable=_high),  # type: ignore[arg-type]
    )


GATES: tuple[PartType, ...] = (
    _quad("7400", "quad 2-input NAND gate", f.nand_gate),
    _quad("7401", "quad 2-input NAND gate, open collector", f.nand_gate, _QUAD_Y_FIRST, _OC),
    _quad("7402", "quad 2-input NOR gate", f.nor_gate, _QUAD_Y_FIRST),
    _quad("7403", "quad 2-input NAND gate, open collector", f.nand_gate, _QUAD, _OC),
    _hex("7404", "hex inverter", f.not_gate),
    _hex("7405", "hex inverter, open collector", f.not_gate, _OC),
    _hex("7406", "hex inverter, open collector, 30 V", f.not_gate, _OC),
    _hex("7407", "hex buffer, open collector, 30 V", f.buffer_gate, _OC),
    _quad("7408", "quad 2-input AND gate", f.and_gate),
    _quad("7409", "quad 2-input AND gate, open collector", f.and_gate, _QUAD, _OC),
    _triple("7410", "triple 3-input NAND gate", f.nand_gate),
    _triple("7411", "triple 3-input AND gate", f.and_gate),
    _triple("7412", "triple 3-input NAND gate, open collector", f.nand_gate, _OC),
    _dual("7413", "dual 4-input NAND gate, hysteresis", f.nand_gate),
    _hex("7414", "hex inverter, hysteresis", f.not_gate),
    _triple("7415", "triple 3-input AND gate, open collector", f.and_gate, _OC),
    _hex("7416", "hex inverter, open collector, 15 V", f.not_gate, _OC),
    _hex("7417", "hex buffer, open collector, 15 V", f.buffer_gate, _OC),
    _dual("7418", "dual 4-input NAND gate, hysteresis", f.nand_gate),
    _hex("7419", "hex inverter, hysteresis", f.not_gate),
    _dual("7420", "dual 4-input NAND gate", f.nand_gate),
    _dual("7421", "dual 4-input AND gate", f.and_gate),
    _dual("7422", "dual 4-input NAND gate, open collector", f.nand_gate, _OC),
    _quad("7424", "quad 2-input NAND gate, hysteresis", f.nand_gate),
    row(
        "7425",
        "dual 4-input NOR gate with strobe",
        "1A 1B 1G 1C 1D 1Y GND 2Y 2A 2B 2G 2C 2D VCC",
        each("1 2", "{}A {}B {}C {}D {}G", "{}Y", f.nor_with_strobe),
    ),
    _quad("7426", "quad 2-input NAND gate, open collector, 15 V", f.nand_gate, _QUAD, _OC),
    _triple("7427", "triple 3-input NOR gate", f.nor_gate),
    _quad("7428", "quad 2-input NOR buffer", f.nor_gate, _QUAD_Y_FIRST),
    row("7430", "8-input NAND gate", "A B C D E F GND Y NC NC G H NC VCC", Does("A B C D E F G H", "Y", f.nand_gate)),
    _quad("7432", "quad 2-input OR gate", f.or_gate),
    _quad("7433", "quad 2-input NOR buffer, open collector", f.nor_gate, _QUAD_Y_FIRST, _OC),
    _quad("7437", "quad 2-input NAND buffer", f.nand_gate),
    _quad("7438", "quad 2-input NAND buffer, open collector", f.nand_gate, _QUAD, _OC),
    _dual("7440", "dual 4-input NAND buffer", f.nand_gate),
    row(
        "7451",
        "dual 2-wide 2-input AND-OR-INVERT gate",
        "1A 2A 2B 2C 2D 2Y GND 1Y 1C 1D NC NC 1B VCC",
        each("1 2", "{}A {}B {}C {}D", "{}Y", f.and_or_invert(2, 2)),
    ),
    row(
        "74LS51",
        "AND-OR-INVERT gates, 2-wide 3-input and 2-wide 2-input",
        "1A 2A 2B 2C 2D 2Y GND 1Y 1D 1E 1F 1B 1C VCC",
        Does("1A 1B 1C 1D 1E 1F", "1Y", f.and_or_invert(3, 3)),
        Does("2A 2B 2C 2D", "2Y", f.and_or_invert(2, 2)),
    ),
    row(
        "7454",
        "4-wide 2-input AND-OR-INVERT gate",
        "A C D E F NC GND Y G H NC NC B VCC",
        Does("A B C D E F G H", "Y", f.and_or_invert(2, 2, 2, 2)),
    ),
    row(
        "74LS54",
        "4-wide AND-OR-INVERT gate, 2-3-3-2 inputs",
        "A B C D E Y GND NC F G H I J VCC",
        Does("A B C D E F G H I J", "Y", f.and_or_invert(2, 3, 3, 2)),
    ),
    row(
        "7455",
        "2-wide 4-input AND-OR-INVERT gate",
        "A B C D NC NC GND Y NC E F G H VCC",
        Does("A B C D E F G H", "Y", f.and_or_invert(4, 4)),
    ),
    row(
        "7464",
        "AND-OR-INVERT gate, 4-2-3-2 inputs",
        "A E F G H I GND Y J K B C D VCC",
        Does("A B C D E F G H I J K", "Y", f.and_or_invert(4, 2, 3, 2)),
    ),
    row(
        "7465",
        "AND-OR-INVERT gate, 4-2-3-2 inputs, open collector",
        "A E F G H I GND Y J K B C D VCC",
        Does("A B C D E F G H I J K", "Y", f.and_or_invert(4, 2, 3, 2), drive=_OC),
    ),
    _quad("7486", "quad 2-input exclusive-OR gate", f.xor_gate),
    row(
        "74125",
        "quad buffer, three-state, enable low",
        "/1G 1A 1Y /2G 2A 2Y GND 3Y 3A /3G 4Y 4A /4G VCC",
        each("1 2 3 4", "{}A /{}G", "{}Y", f.buffer_gate, drive=_Z, enable=_low),
    ),
    row(
        "74126",
        "quad buffer, three-state, enable high",
        "1G 1A 1Y 2G 2A 2Y GND 3Y 3A 3G 4Y 4A 4G VCC",
        each("1 2 3 4", "{}A {}G", "{}Y", f.buffer_gate, drive=_Z, enable=_high),
    ),
    _quad("74128", "quad 2-input NOR line driver", f.nor_gate, _QUAD_Y_FIRST),
    _quad("74132", "quad 2-input NAND gate, hysteresis", f.nand_gate),
    row(
        "74133",
        "13-input NAND gate",
        "A B C D E F G GND Y H I J K L M VCC",
        Does("A B C D E F G H I J K L M", "Y", f.nand_gate),
    ),
    _quad("74136", "quad 2-input exclusive-OR gate, open collector", f.xor_gate, _QUAD, _OC),
    _dual("74140", "dual 4-input NAND line driver", f.nand_gate),
    _octal("74240", "octal inverting buffer, three-state", f.not_gate),
    _octal("74241", "octal buffer, three-state, second enable high", f.buffer_gate, _high),
    _quad_transceiver("74242", "quad inverting bus transceiver", f.not_gate),
    _quad_transceiver("74243", "quad bus transceiver", f.buffer_gate),
    _octal("74244", "octal buffer, three-state", f.buffer_gate),
    _transceiver("74245", "octal bus transceiver", f.buffer_gate),
    row(
        "74260",
        "dual 5-input NOR gate",
        "1A 1B 1C 2A 1Y 2Y GND 2B 2C 2D 2E 1D 1E VCC",
        each("1 2", "{}A {}B {}C {}D {}E", "{}Y", f.nor_gate),
    ),
    _quad("74266", "quad exclusive-NOR gate, open collector", f.xnor_gate, _QUAD_INNER, _OC),
    _hex_driver("74365", "hex buffer, three-state, two enables", f.buffer_gate, split=False),
    _hex_driver("74366", "hex inverting buffer, three-state, two enables", f.not_gate, split=False),
    _hex_driver("74367", "hex buffer, three-state, 4 + 2", f.buffer_gate, split=True),
    _hex_driver("74368", "hex inverting buffer, three-state, 4 + 2", f.not_gate, split=True),
    _quad("74386", "quad 2-input exclusive-OR gate", f.xor_gate, _QUAD_INNER),
    row(
        "74540",
        "octal inverting buffer, three-state, inputs beside outputs",
        _FLOW,
        each("1 2 3 4 5 6 7 8", "A{} /G1 /G2", "Y{}", f.not_gate, drive=_Z, enable=_low),
    ),
    row(
        "74541",
        "octal buffer, three-state, inputs beside outputs",
        _FLOW,
        each("1 2 3 4 5 6 7 8", "A{} /G1 /G2", "Y{}", f.buffer_gate, drive=_Z, enable=_low),
    ),
    _transceiver("74640", "octal inverting bus transceiver", f.not_gate),
    _transceiver("74645", "octal bus transceiver", f.buffer_gate),
    _quad("747266", "quad exclusive-NOR gate", f.xnor_gate, _QUAD_INNER),
)

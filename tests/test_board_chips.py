"""Programmable chips as registers: the published examples, both ways, and the strobes of their ports.

Sources beside each test; a value marked *from memory* is from memory of the sheet named in the facts.
"""

from __future__ import annotations

import pytest

from latchlore.base import SubjectKind, UnknownName
from latchlore.board import (
    Levels,
    Role,
    decode,
    describe_word,
    divisor_8250,
    explain_word,
    find_words,
    get_chip,
    get_type,
    input_edge,
    parse_board,
    pin_states,
    read_register,
    reset_state,
    select_inners,
    selected_register,
    write_register,
)
from latchlore.board import testify as say
from latchlore.board.chipfacts import CHIPS


def outputs(state: object, stem: str) -> str:
    """The levels of a port from bit 7 down; a dash for an input."""
    pins = pin_states(state)  # type: ignore[arg-type]
    return "".join(
        "-" if not pins[f"{stem}{k}"].is_output else str(pins[f"{stem}{k}"].level) for k in reversed(range(8))
    )


# Mode 0 codes: a data acquisition board's manual (PCI-DAS1602/16, page 33), inputs named.
MODE_0 = {0x80: "", 0x9B: "A B C", 0x82: "B", 0x90: "A", 0x89: "C", 0x92: "A B", 0x8B: "B C", 0x99: "A C"}


@pytest.mark.parametrize(("word", "inputs"), list(MODE_0.items()))
def test_8255_mode_0(word: int, inputs: str) -> None:
    """The published codes of mode 0 make these ports inputs, and the wish for them finds the code."""
    state = write_register(reset_state("8255"), 3, word)
    for letter in "ABC":
        assert outputs(state, f"P{letter}") == ("-" * 8 if letter in inputs.split() else "0" * 8)
    wanted = {
        name: "input" if name.split()[1] in inputs.split() else "output"
        for name in ("port A", "port B", "port C upper", "port C lower")
    }
    wanted |= {"group A": "mode 0", "group B": "mode 0"}
    assert find_words("8255", "control", wanted) == (word,)


def test_8255_halves() -> None:
    """81: the lower half of port C is an input; 88: the upper half (same manual)."""
    assert outputs(write_register(reset_state("8255"), 3, 0x81), "PC") == "0000----"
    assert outputs(write_register(reset_state("8255"), 3, 0x88), "PC") == "----0000"


def test_8255_reset() -> None:
    """After reset all ports are inputs in mode 0, which is the word 9B (a board's register description)."""
    state = reset_state("8255")
    assert state.word("control") == 0x9B
    assert {outputs(state, stem) for stem in ("PA", "PB", "PC")} == {"-" * 8}


def test_8255_bits() -> None:
    """Set PC4: 09; clear PC4: 08; set PC7: 0F (by the published bit layout); bits 6 to 4 of such a word are ignored."""
    assert min(find_words("8255", "control", {"bit": "PC4", "level": "set"})) == 0x09
    assert min(find_words("8255", "control", {"bit": "PC4", "level": "clear"})) == 0x08
    assert min(find_words("8255", "control", {"bit": "PC7", "level": "set"})) == 0x0F
    assert len(find_words("8255", "control", {"bit": "PC7", "level": "set"})) == 8
    state = write_register(write_register(reset_state("8255"), 3, 0x80), 3, 0x09)
    assert outputs(state, "PC") == "00010000"
    assert describe_word("8255", "control", 0x09) == "bit of port C: bit PC4, level set"


def test_8255_mode_change_clears() -> None:
    """A mode word clears the output latches (a board's register description: outputs are reset on mode change)."""
    state = write_register(write_register(reset_state("8255"), 3, 0x80), 0, 0xA5)
    assert outputs(state, "PA") == "10100101"
    assert outputs(write_register(state, 3, 0x80), "PA") == "00000000"


def test_8255_mode_1_output() -> None:
    """Mode 1 output, port A: /OBF PC7, /ACK PC6, INTR PC3, interrupt bit PC6 (from memory of order 231308)."""
    state = write_register(write_register(reset_state("8255"), 3, 0xA0), 3, 0x0D)
    assert pin_states(state)["PC7"] == (True, 1)
    state = write_register(state, 0, 0x41)
    assert pin_states(state)["PC7"] == (True, 0)
    assert not pin_states(state)["PC6"].is_output
    state = input_edge(state, "PC6", 0)
    assert (pin_states(state)["PC7"].level, pin_states(state)["PC3"].level) == (1, 0)
    state = input_edge(state, "PC6", 1)
    assert pin_states(state)["PC3"].level == 1
    assert pin_states(write_register(state, 0, 0x42))["PC3"].level == 0


def test_8255_mode_1_input() -> None:
    """Mode 1 input, port B: /STB PC2, IBF PC1, INTR PC0, interrupt bit PC2 (from memory of order 231308)."""
    state = write_register(write_register(reset_state("8255"), 3, 0x86), 3, 0x05)
    state = input_edge(input_edge(state, "PC2", 0), "PC2", 1)
    pins = pin_states(state)
    assert (pins["PC1"].level, pins["PC0"].level, pins["PC2"].is_output) == (1, 1, False)
    seen, after = read_register(state, 1, {f"PB{k}": 0xC3 >> k & 1 for k in range(8)})
    assert seen == (0xC3, 0xFF)
    assert (pin_states(after)["PC1"].level, pin_states(after)["PC0"].level) == (0, 0)


def test_6821_start() -> None:
    """Port A as outputs: 00 to control A, FF to address 0, 04 to control A: address 0 is now the port (from memory)."""
    state = reset_state("6821")
    assert selected_register(state, 0, "w") == "direction A"
    state = write_register(write_register(write_register(state, 1, 0x00), 0, 0xFF), 1, 0x04)
    assert selected_register(state, 0, "w") == "port A"
    assert outputs(write_register(state, 0, 0x5A), "PA") == "01011010"


@pytest.mark.parametrize(("word", "level"), [(0x34, 0), (0x3C, 1)])
def test_6821_ca2(word: int, level: int) -> None:
    """CA2 low is 34, high is 3C, with bit 2 set (from memory of DS9435)."""
    assert pin_states(write_register(reset_state("6821"), 1, word))["CA2"] == (True, level)
    wanted = {"CA2": "high" if level else "low", "data address reaches": "port register", "CA1 edge": "falling"}
    assert find_words("6821", "control A", {**wanted, "CA1 interrupt": "off"})[0] == word


def test_6821_handshake() -> None:
    """CA2's handshake starts on a read of A, CB2's on a write of B (from memory of DS9435)."""
    state = write_register(write_register(reset_state("6821"), 1, 0x24), 3, 0x24)
    _, read = read_register(state, 0, {})
    assert (pin_states(read)["CA2"].level, pin_states(read)["CB2"].level) == (0, 1)
    written = write_register(write_register(state, 0, 1), 2, 1)
    assert (pin_states(written)["CA2"].level, pin_states(written)["CB2"].level) == (1, 0)
    assert pin_states(input_edge(read, "CA1", 0))["CA2"].level == 1
    _, pulsed = read_register(write_register(reset_state("6821"), 1, 0x2C), 0, {})
    assert pulsed.pulsed == ("CA2",)


def test_6821_flags() -> None:
    """The CA1 flag is bit 7 of control A, set by the chosen edge, cleared by reading port A; no write changes it."""
    state = write_register(reset_state("6821"), 1, 0x07)
    assert read_register(input_edge(state, "CA1", 0), 1)[0].word == 0x07
    state = input_edge(state, "CA1", 1)
    assert read_register(state, 1)[0].word == 0x87
    assert pin_states(state)["/IRQA"].level == 0
    assert read_register(write_register(state, 1, 0x06), 1)[0].word == 0x86
    assert read_register(read_register(state, 0, {})[1], 1)[0].word == 0x07


# Register list of the 6522: two transcriptions of the makers' sheets agree (interrupt flags 13, enable 14).
VIA = (
    "port B",
    "port A with handshake",
    "direction B",
    "direction A",
    "timer 1 counter low",
    "timer 1 counter high",
    "timer 1 latch low",
    "timer 1 latch high",
    "timer 2 low",
    "timer 2 high",
    "shift",
    "auxiliary control",
    "peripheral control",
    "interrupt flags",
    "interrupt enable",
    "port A without handshake",
)


def test_6522_registers() -> None:
    """The sixteen registers by their select lines."""
    assert tuple(select_inners(get_chip("6522"), code, "w")[0].name for code in range(16)) == VIA


def test_6522_pins() -> None:
    """The pins as a transcription of Rockwell's sheet numbers them."""
    names = [pin.name for pin in get_type("6522").pins]
    assert names[0] == "VSS"
    assert names[1:17] == [f"PA{k}" for k in range(8)] + [f"PB{k}" for k in range(8)]
    assert names[17:25] == ["CB1", "CB2", "VCC", "/IRQ", "R/W", "/CS2", "CS1", "PHI2"]
    assert names[25:40] == [*(f"D{7 - k}" for k in range(8)), "/RES", "RS3", "RS2", "RS1", "RS0", "CA2", "CA1"]


def test_6522_handshake() -> None:
    """CA2 goes low on a read or write of register 1, not of 15; CB2 on a write of 0 only (from memory)."""
    state = write_register(reset_state("6522"), 12, 0x88)
    assert pin_states(write_register(state, 15, 1))["CA2"].level == 1
    assert pin_states(write_register(state, 1, 1))["CA2"].level == 0
    assert pin_states(read_register(state, 1, {})[1])["CA2"].level == 0
    assert pin_states(read_register(state, 0, {})[1])["CB2"].level == 1
    assert pin_states(write_register(state, 0, 1))["CB2"].level == 0
    assert describe_word("6522", "peripheral control", 0x88).startswith(
        "peripheral control: CA1 edge falling, CA2 handshake"
    )


def test_6522_interrupts() -> None:
    """Bit 7 of the enable word sets or clears, and reads 1; bit 7 of the flags is their sum (from memory)."""
    state = write_register(reset_state("6522"), 14, 0x82)
    assert read_register(state, 14)[0].word == 0x82
    state = input_edge(state, "CA1", 0)
    assert read_register(state, 13)[0].word == 0x82
    assert pin_states(state)["/IRQ"].level == 0
    assert read_register(write_register(state, 13, 0x02), 13)[0].word == 0x00
    assert read_register(write_register(state, 14, 0x02), 14)[0].word == 0x80
    assert [form for form, _ in explain_word("6522", "interrupt enable", 0x02)] == ["interrupts switched off"]


# 6850: a transcription of the maker's manual and a table of settings of 1982; the latter gives 91.
@pytest.mark.parametrize(
    ("word", "says"),
    [
        (0x03, "master reset"),
        (
            0x15,
            "control: clock divided by 16, format 8N1, transmitter /RTS low, interrupt off, receive interrupt off",
        ),
        (0x91, "control: clock divided by 16, format 8N2, transmitter /RTS low, interrupt off, receive interrupt on"),
    ],
)
def test_6850_words(word: int, says: str) -> None:
    """Published control words; a list that prints the dividers in reverse order is wrong about these."""
    assert describe_word("6850", "control", word) == says


def test_6850_find() -> None:
    """8N1, /16, no interrupts is 15; 7E2 is the lowest format."""
    wanted = {
        "format": "8N1",
        "clock divided by": "16",
        "receive interrupt": "off",
        "transmitter": "/RTS low, interrupt off",
    }
    assert find_words("6850", "control", wanted) == (0x15,)
    assert find_words("6850", "control", {"format": "7E2"})[0] == 0x00
    assert 0x03 not in find_words("6850", "control", {"format": "7E2"})


def test_6850_clear_to_send() -> None:
    """/CTS is bit 3 of the status; while it is high, bit 1 reads 0 (from memory of DS9493)."""
    seen, _ = read_register(reset_state("6850"), 0, {"/CTS": 1})
    assert (seen.word, seen.known) == (0x08, 0x0A)


def test_6551_words() -> None:
    """9600 baud 8N1 by the internal clock is control 1E; polling is command 0B (rates read, bits from memory)."""
    wanted = {"rate": "9600 baud", "length": "8 bits", "stop bits": "1", "receiver clock": "internal"}
    assert find_words("6551", "control", wanted) == (0x1E,)
    assert describe_word("6551", "command", 0x0B) == (
        "command: terminal ready /DTR low, chip on, receive interrupt off, transmitter /RTS low, interrupt off,"
        " echo off, parity none"
    )
    pins = pin_states(write_register(reset_state("6551"), 2, 0x0B))
    assert (pins["/DTR"].level, pins["/RTS"].level) == (0, 0)


@pytest.mark.parametrize(("rate", "divisor"), [(9600, 0x0C), (1200, 0x60), (300, 0x180), (110, 0x417), (115_200, 1)])
def test_8250_divisors(rate: int, divisor: int) -> None:
    """1843200 / (16 x rate), as the port lists give them."""
    assert divisor_8250(rate)[0] == divisor


def test_8250_divisor_latch() -> None:
    """Bit 7 of line control puts the divisor at addresses 0 and 1 (port lists)."""
    state = write_register(reset_state("8250"), 3, 0x83)
    assert (selected_register(state, 0, "w"), selected_register(state, 1, "w")) == ("divisor low", "divisor high")
    assert selected_register(write_register(state, 3, 0x03), 0, "w") == "data to send"
    assert describe_word("8250", "line control", 0x03) == (
        "line control: length 8 bits, stop bits 1, parity none, break off, addresses 0 and 1 reach data and interrupt"
        " enable"
    )


def test_8250_modem_lines() -> None:
    """A modem control bit pulls its pin low; a low input pin reads 1 (from memory of National's sheet)."""
    pins = pin_states(write_register(reset_state("8250"), 4, 0x03))
    assert [pins[name].level for name in ("/DTR", "/RTS", "/OUT1", "/OUT2")] == [0, 0, 1, 1]
    seen, _ = read_register(reset_state("8250"), 6, {"/CTS": 0, "/DSR": 1})
    assert (seen.word & 0x30, seen.known) == (0x10, 0x30)


def test_8251_order() -> None:
    """The first word after reset is the mode, the next a command; bit 6 of a command starts again (from memory)."""
    state = write_register(reset_state("8251"), 1, 0x4E)
    assert state.word("mode") == 0x4E
    state = write_register(state, 1, 0x27)
    assert (state.word("command"), pin_states(state)["/DTR"].level, pin_states(state)["/RTS"].level) == (0x27, 0, 0)
    assert write_register(write_register(state, 1, 0x40), 1, 0x4F).word("mode") == 0x4F
    assert [form for form, _ in explain_word("8251", "mode and command", 0x4E)] == ["mode", "command"]
    assert describe_word("8251", "mode and command", 0x4E).startswith(
        "mode: clock divided by 16, length 8 bits, parity none, stop bits 1; or command:"
    )


@pytest.mark.parametrize("name", list(CHIPS))
def test_rows_and_facts_agree(name: str) -> None:
    """Every chip's row has the facts' pins; what a program can turn round is both ways; the data pins are."""
    part, chip = get_type(name), CHIPS[name]
    assert " ".join(pin.name for pin in part.pins) == chip.pins
    assert chip.source
    roles = {pin.name: pin.role for pin in part.pins}
    writable = any("w" in inner.access for inner in chip.inners)
    assert all(roles[f"D{k}"] is (Role.BOTH if writable else Role.THREE_STATE) for k in range(8))
    for stem in chip.both:
        found = [role for pin, role in roles.items() if pin == stem or (pin.startswith(stem) and pin[2:].isdigit())]
        assert found
        assert set(found) == {Role.BOTH}
    pins = pin_states(reset_state(name))
    assert set(pins) <= set(roles)


@pytest.mark.parametrize("name", list(CHIPS))
def test_words_both_ways(name: str) -> None:
    """Whatever a word of a register is said to mean, the wish for that meaning finds the word again."""
    for inner in CHIPS[name].inners:
        for form in inner.forms:
            for word in range(256):
                said = [fields for got, fields in explain_word(name, inner.name, word) if got == form.name]
                if said and all(meaning != "not defined" for _, meaning in said[0]):
                    assert word in find_words(name, inner.name, dict(said[0]), form.name)


def test_find_words_wrong() -> None:
    """Unknown fields and meanings are refused with those that are known."""
    with pytest.raises(
        UnknownName,
        match=r"^register 'control' of the 6850 has no field 'speed'; known are 'clock divided by', 'format',"
        r" 'transmitter', 'receive interrupt'$",
    ):
        find_words("6850", "control", {"speed": "9600"})
    with pytest.raises(
        UnknownName, match=r"^field 'clock divided by' cannot be '32'; known are '1', '16', '64', 'master reset'$"
    ):
        find_words("6850", "control", {"clock divided by": "32"})
    with pytest.raises(UnknownName, match=r"^no one word of register 'control' has all of port A, bit$"):
        find_words("8255", "control", {"port A": "input", "bit": "PC4"})


def test_read_register_wrong() -> None:
    """The 8255's control register cannot be read, and a code beyond the select pins is refused."""
    with pytest.raises(UnknownName, match=r"^nothing in the 8255 answers a read at 3$"):
        read_register(reset_state("8255"), 3)
    with pytest.raises(UnknownName, match=r"^the 8255 has select levels 0 to 3, not 4$"):
        write_register(reset_state("8255"), 4, 0)


def test_get_chip_wrong() -> None:
    """A chip that is not among the facts is refused with those that are."""
    with pytest.raises(
        UnknownName,
        match=r"^no programmable chip '8253' is known; known are '8255', '6520', '6821', '6522', '6530', '6532',"
        r" '6551', '6850', '8250', '8251', '2716', '2732', '2764', '27128', '27256', '6116', '6264', '62256'$",
    ):
        get_chip("8253")


def test_divisor_8250_wrong() -> None:
    """A rate above a sixteenth of the clock is refused."""
    with pytest.raises(UnknownName, match=r"^a rate is 1 to 115200 baud at this clock, not 230400$"):
        divisor_8250(230_400)


MEMORY_CARD = """
host 6502
part u1 74ls138
part u2 tms2716-45
part u3 hm6116p-3
part u4 7404
part u5 7400
net a15 u1.6
net a14 u1.3
net a13 u1.2
net a12 u1.1
tie low u1.4 u1.5
net rom u1.7 u2.18
net ram u1.15 u3.18
net rw u4.1 u4.3
net nrw u4.2 u2.20 u3.20 u5.1
open u4.4
net phi2 u5.2
net wr u5.3 u3.21
net d0 u2.9 u3.9
net d7 u2.17 u3.17
done all
"""


def test_memories() -> None:
    """A ROM and a RAM answer where their selects say, the RAM to writes too; nothing is said of what they hold."""
    found = decode(parse_board(MEMORY_CARD, "x.nets"))
    shown = {(r.label, r.direction): str(r.addresses) for r in found.registers}
    assert shown == {
        ("u2 memory", "read"): "1111 xxxx xxxx xxxx",
        ("u3 memory", "read"): "1000 xxxx xxxx xxxx",
        ("u3 memory", "write"): "1000 xxxx xxxx xxxx",
    }
    assert not found.conflicts
    assert not [t for t in say(found.board, found) if t.subject.kind is SubjectKind.BIT]
    assert [get_type(name).name for name in ("D2764A-2", "27C256", "HM62256LP")] == ["2764", "27256", "62256"]


PORT_8212 = """
host 8080 8
part u1 8212
part u2 8212
part u3 74ls04
plug j1 20 outside
pin j1.1 lamp out
pin j1.2 key in
pin j1.3 ready in high
pin j1.4 int out low
net a7 u1.13 u2.13
net iow u1.1
net ior u2.1
tie high u1.2 u1.14 u2.14
tie low u2.2 u1.11
net d0 u1.3 u2.4
net d1 u1.5 u2.6
net lamp u1.4 j1.1
net key u2.3 j1.2
net ready u2.11 j1.3
net int u2.23 j1.4
done all
"""


def test_8212_pins() -> None:
    """The pins as a public header numbers them (1 to 8 and 17 to 24); 9 to 16 from memory of Intel's sheet."""
    names = [pin.name for pin in get_type("8212").pins]
    assert names == [
        *("/DS1", "MD", "DI1", "DO1", "DI2", "DO2", "DI3", "DO3", "DI4", "DO4", "STB", "GND"),
        *("DS2", "/CLR", "DO5", "DI5", "DO6", "DI6", "DO7", "DI7", "DO8", "DI8", "/INT", "VCC"),
    ]


def test_8212_in_the_decode() -> None:
    """MD high: a latch that opens for the access where it is selected; MD low: outputs drive where it is (Intel)."""
    found = decode(parse_board(PORT_8212, "x.nets"))
    takes = found.register(0x80, "write", "port")
    assert (str(takes.addresses), takes.note) == ("1xxx xxxx", "open during the access")
    assert {bit.number: str(bit.sense) for bit in takes.bits} == {0: "lamp", 1: "wired to nothing"}
    gives = found.register(0x80, "read", "port")
    assert str(gives.addresses) == "1xxx xxxx"
    assert {bit.number for bit in gives.bits} == {0, 1}
    assert not found.conflicts


def test_8212_levels() -> None:
    """Mode 0: the latch follows while the strobe is high; mode 1: while selected; /CLR clears; /INT is low while
    selected, or after the strobe fell (two teaching pages; /INT while selected from memory).
    """
    part = get_type("8212")
    latch = part.blocks[0]
    request = part.blocks[-1]

    def held(d: int, ds1: int, ds2: int, md: int, stb: int, clear: int, was: int) -> int:
        inputs = tuple(Levels(1 - level, level) for level in (d, ds1, ds2, md, stb, clear))
        assert latch.step is not None
        (state,) = latch.step(inputs, inputs, (Levels(1 - was, was),))
        return int(state.can1)

    assert [held(1, 1, 0, 0, stb, 1, 0) for stb in (1, 0)] == [1, 0]
    assert [held(1, ds1, ds2, 1, 1, 1, 0) for ds1, ds2 in ((0, 1), (1, 1), (0, 0))] == [1, 0, 0]
    assert held(0, 1, 0, 0, 0, 0, 1) == 0
    assert latch.enable is not None
    on = [
        latch.enable(*(Levels(1 - level, level) for level in (0, ds1, ds2, md, 0, 1))).can1
        for ds1, ds2, md in ((0, 1, 0), (1, 1, 0), (1, 0, 1))
    ]
    assert on == [1, 0, 1]
    before = tuple(Levels(1 - level, level) for level in (1, 0, 0, 1, 1))
    after = tuple(Levels(1 - level, level) for level in (1, 0, 0, 0, 1))
    assert request.step is not None
    state = request.step(before, after, (Levels(1, 0),))
    assert request.function(after, state)[0].can1 == 0
    selected = tuple(Levels(1 - level, level) for level in (0, 1, 0, 0, 1))
    assert request.function(selected, request.step(after, selected, state))[0].can1 == 0
    assert request.function(after, request.step(selected, after, request.step(after, selected, state)))[0].can1 == 1

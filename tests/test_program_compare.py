"""Two versions of a program compared by what they do; the handshake's figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from latchlore.base import AddressSet, Clock, CycleRange, InputKind, SignalRole, Span, SpanRange
from latchlore.program import Comparison, Image, compare_trees, explore, read_handshake, run, tidy
from tests.test_program_random import DEVICES, ORIGIN, make_program

if TYPE_CHECKING:
    from latchlore.base import ByteTree

REGISTERS = AddressSet.of_range(0xC800, 0xC8FF)
STROBE = SignalRole("STROBE", InputKind.MEMORY, AddressSet.of((0xC802,)), "write", 0)
DATA = SignalRole("DATA", InputKind.MEMORY, AddressSet.of((0xC800,)), "write")


def explored(code: str, load: int = 0xE000) -> ByteTree:
    """The tree of a routine with registers C800 to C8FF."""
    image = Image.from_bytes(bytes.fromhex(code), load, "rom.bin")
    return explore([image], load, REGISTERS)


def compared(first: str, second: str) -> Comparison:
    """Two routines compared."""
    return compare_trees(explored(first), explored(second))


# wait: BIT C801; BPL wait; STA C800; LDA #0; STA C802; LDX #5; delay; LDA #1; STA C802; RTS
SEND = "2C01C8 10FB 8D00C8 A900 8D02C8 A205 CAD0FD A901 8D02C8 60"


def test_the_same_elsewhere() -> None:
    """The same routine at another address, and with other instructions in between, does the same."""
    moved = compare_trees(explored(SEND), explored(SEND, 0x8000))
    assert (moved.same, moved.num_times, moved.differences) == (True, 0, ())
    assert str(moved) == "the same in everything, cycles too"
    # LDA C801; BPL instead of BIT; the data kept in Y meanwhile
    other = compared(SEND, "A8 AD01C8 10FB 8C00C8 A900 8D02C8 A205 CAD0FD A901 8D02C8 60")
    assert other.same is True


def test_other_times() -> None:
    """A longer strobe is the same bytes in other times: 32 cycles, then 37."""
    longer = compared(SEND, SEND.replace("A205", "A206"))
    assert longer.same is True
    assert str(longer) == "the same bytes under the same conditions, in other times"
    (late,) = longer.times
    assert (late.first, late.second) == (CycleRange.exactly(32), CycleRange.exactly(37))
    assert (late.first_at, late.second_at) == (0xE014, 0xE014)


def test_first_difference() -> None:
    """Another sense of busy, another byte, another end: the first place where they part, with what shows it."""
    sense = compared(SEND, SEND.replace("10FB", "30FB"))
    (one,) = sense.differences
    assert sense.same is False
    assert (one.first, one.second) == ("wait until C801 bit 7 = 1", "wait until C801 bit 7 = 0")
    value = compared(SEND, SEND.replace("8D00C8", "290F 8D00C8"))
    (two,) = value.differences
    assert value.same is False
    assert two.values is not None
    (example,) = two.example
    assert (example.name, two.values) == ("A", (example.value, example.value & 0x0F))
    third = compared("A941 8D00C8 60", "A941 8D00C8 4C05E0")
    assert [(d.first, d.second) for d in third.differences] == [("returns", "runs for ever without touching a device")]


def test_conditions_of_a_difference() -> None:
    """A byte that differs under two status bits only is told with their levels, and a concrete run shows it."""
    # LDA C801; BPL E00D; AND #01; BEQ E00D; LDA #41; BNE E00F; E00D: LDA #42; E00F: STA C800; RTS
    first = "AD01C8 1008 2901 F004 A941 D002 A942 8D00C8 60"
    second = first.replace("A941", "A943")
    (one,) = compared(first, second).differences
    (status,) = one.example
    assert (status.address, status.value, status.mask) == (0xC801, 0x81, 0x81)
    assert one.values in ((0x41, 0x43), None)
    sent = []
    for code in (first, second):
        image = Image.from_bytes(bytes.fromhex(code), 0xE000, "rom.bin")
        result = run([image], 0xE000, REGISTERS, read=lambda _address, _cycle: status.value)
        sent.append(result.accesses[-1].value)
    assert sent == [0x41, 0x43]


def test_mirrors_are_one_register() -> None:
    """Another mirror of a register is no difference where the register is known."""
    mirror = SEND.replace("8D00C8", "8D04C8")
    assert compared(SEND, mirror).same is False
    canon = compare_trees(explored(SEND), explored(mirror), lambda _, address: address & 0xFF03)
    assert canon.same is True


def test_reading_order() -> None:
    """Two registers read in turn are told apart, and a byte kept over a second reading is still the first one."""
    # LDX C801; LDA C801; STA C800; STX C800; RTS    and with X and A the other way round
    keeps = compared("AE01C8 AD01C8 8D00C8 8E00C8 60", "AD01C8 AE01C8 8E00C8 8D00C8 60")
    assert keeps.same is True
    swapped = compared("AE01C8 AD01C8 8D00C8 8E00C8 60", "AE01C8 AD01C8 8E00C8 8D00C8 60")
    assert swapped.same is False


def test_cannot_be_told() -> None:
    """Where one version was not followed the answer stays open, and says where."""
    answer = compared("A941 8D00C8 4C00F0", "A941 8D00C8 4C00F0")
    assert answer.same is None
    assert answer.not_compared == (
        "the first version was not followed at F000: the content of F000 is not known",
        "the second version was not followed at F000: the content of F000 is not known",
    )


@pytest.mark.parametrize("seed", range(0, 60, 5))
def test_random_programs(seed: int) -> None:
    """A random program is the same as itself and as its shortened tree; with one written byte changed it is not."""
    code, start = make_program(seed)

    def tree(data: bytes) -> ByteTree:
        return explore([Image.from_bytes(data, ORIGIN, f"random {seed}")], ORIGIN + start, DEVICES)

    whole = tree(code)
    if not whole.is_exhausted or len(whole.nodes) > 400:
        return
    assert compare_trees(whole, whole).same is True
    assert compare_trees(whole, whole).num_times == 0
    assert compare_trees(whole, tidy(whole)).same is True
    place = code.find(b"\xa9", start)  # LDA #: some constant
    changed = tree(code[: place + 1] + bytes([code[place + 1] ^ 0x10]) + code[place + 2 :])
    if changed.possible_bytes(lambda *_: True) != whole.possible_bytes(lambda *_: True):
        assert compare_trees(whole, changed).same is not True


def test_compare_wrong() -> None:
    """Nothing is said to differ that no input can show: a test of a bit that is known already."""
    # LDA C801; BPL E00A; BPL E00B (never); STA C800; RTS; E00A: RTS; E00B: STA C800
    with_test = "AD01C8 1006 1005 8D00C8 60 60 A9FF 8D00C8 60"
    without = "AD01C8 1006 EAEA 8D00C8 60 60 A9FF 8D00C8 60"
    answer = compared(with_test, without)
    assert (answer.same, answer.differences) == (True, ())


# -- the handshake ---------------------------------------------------------------------------------------------------


def test_handshake_figures() -> None:
    """Strobe width 32 cycles as in the bench case: 32.0 us at 1 MHz, 16.0 us at 2 MHz; set-up and polling too."""
    handshake = read_handshake([explored(SEND)], (DATA, STROBE))
    figures = {one.name: one.cycles for one in handshake.figures}
    assert figures["strobe width"] == CycleRange.exactly(32)
    assert figures["data set-up"] == CycleRange.exactly(6)  # LDA # 2, STA absolute 4
    assert Clock.of(mhz=1).span(figures["strobe width"]) == SpanRange.exactly(Span.of(us=32))
    assert Clock.of(mhz=2).span(figures["strobe width"]) == SpanRange.exactly(Span.of(us=16))
    (polling,) = handshake.pollings
    assert (polling.period, polling.polls, polling.time_out) == (CycleRange.exactly(7), None, None)  # BIT 4, BPL 3
    assert [str(moment.event) for moment in handshake.moments] == [
        "wait until C801 bit 7 = 1",
        "write one of 256 values by A to C800",
        "write 00 to C802",
        "write 01 to C802",
    ]
    assert [moment.since.least for moment in handshake.moments] == [0, 6, 12, 44]


@pytest.mark.parametrize(("delay", "cycles"), [(1, 12), (5, 32), (20, 107)])
def test_strobe_width_without_roles(delay: int, cycles: int) -> None:
    """The bench case's delays: 12 cycles with X = 1, 32 with 5, 107 with 20; found though nobody names the strobe."""
    code = f"A900 8D02C8 A2{delay:02X} CA D0FD A901 8D02C8 60"
    (pulse,) = read_handshake([explored(code)], ()).pulses
    assert (pulse.address, pulse.bits, pulse.timing.width) == (0xC802, (0,), CycleRange.exactly(cycles))


def test_strobe_width_of_the_z80() -> None:
    """The bench case's twin: OUT, LD B,3, DJNZ, LD A,n, OUT: 59 T, 23.6 us at 2.5 MHz, 14.75 us at 4 MHz.

    OUT (n),A puts A on the upper eight address lines, which a port of eight lines does not look at.
    """
    image = Image.from_bytes(bytes.fromhex("AF D390 0603 10FE 3E01 D390 C9"), 0x8000, "rom.bin")
    tree = explore([image], 0x8000, AddressSet.of(()), cpu="Z80", ports=AddressSet.of((0x90,), 8))
    (pulse,) = read_handshake([tree], ()).pulses
    assert pulse.timing.width == CycleRange.exactly(59)
    assert Clock.of(mhz="2.5").span(pulse.timing.width) == SpanRange.exactly(Span.of(us="23.6"))
    assert Clock.of(mhz=4).span(pulse.timing.width) == SpanRange.exactly(Span.of(us="14.75"))


def test_time_out() -> None:
    """Polls that give up: 16 reads, 15 periods of LDA 4, BMI 2, DEX 2, BNE 3 after the first one."""
    # LDX #10; E002: LDA C801; BMI E00B; DEX; BNE E002; RTS; E00B: RTS
    (polling,) = read_handshake([explored("A210 AD01C8 3004 CA D0F8 60 60")], ()).pollings
    assert (polling.polls, polling.period, polling.time_out) == (
        16,
        CycleRange.exactly(11),
        CycleRange.exactly(15 * 11),
    )


def test_handshake_wrong() -> None:
    """A routine that touches nothing has no handshake, and nothing is made up."""
    handshake = read_handshake([explored("EA 60")], (DATA, STROBE))
    assert (handshake.moments, handshake.figures, handshake.pollings, handshake.pulses) == ((), (), (), ())

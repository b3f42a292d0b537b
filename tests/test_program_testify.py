"""What the program says of registers, bits, sequences and times."""

from __future__ import annotations

from fractions import Fraction

import pytest

from latchlore.base import (
    AddressSet,
    BitUse,
    ByteTree,
    Clock,
    CycleRange,
    Emission,
    InputBit,
    InputKind,
    SignalRole,
    Span,
    SpanLimit,
    SpanRange,
    Subject,
    SubjectKind,
    Words,
)
from latchlore.program import Bounds, Image, explore
from latchlore.program import testify as door
from latchlore.program._answers import emission, handshake_timing
from latchlore.program._lengths import Lengths
from latchlore.program.testify import Entry, Material, emission_testimony

DEVICES = AddressSet.parse("1100 1xxx xxxx xx00 | 1100 1xxx xxxx xx01 | 1100 1xxx xxxx xx10")
DATA = SignalRole("DATA", InputKind.MEMORY, AddressSet.parse("1100 1xxx xxxx xx00"), "write")
STATUS = AddressSet.parse("1100 1xxx xxxx xx01")
BUSY = SignalRole("BUSY", InputKind.MEMORY, STATUS, "read", 7, inverted=True)
STROBE = SignalRole("STROBE", InputKind.MEMORY, AddressSet.parse("1100 1xxx xxxx xx10"), "write", 0)
ROLES = (DATA, BUSY, STROBE)
ORIGIN = 0xE000

# send: BIT C801; BPL send; STA C804; LDA #0; STA C802; LDX #5; l: DEX; BNE l; LDA #1; STA C802; RTS
SEND = "2C01C810FB8D04C8A9008D02C8A205CAD0FDA9018D02C860"
# start at E018: LDA C801; AND #3; BEQ long; LDA #41; JMP send; long: LDA #42; JSR send; LDA #43; JMP send
START = "AD01C82903F005A9414C00E0A9422000E0A9434C00E0"


def material(code: str = SEND + START, entry: int = 0xE018, **options: object) -> Material:
    """A program of one entry."""
    image = Image.from_bytes(bytes.fromhex(code), ORIGIN, "rom.bin")
    tree = explore([image], entry, DEVICES, held={0xC801: 3}, **options)  # type: ignore[arg-type]  # passed through
    return Material((image,), (Entry("power-on", tree),), DEVICES, Clock.of(mhz=1))


def value_of(kind: SubjectKind, *key: str) -> object:
    """The one value about a subject."""
    (found,) = [one.value for one in door.testify(material(), ROLES) if one.subject == Subject(kind, key)]
    return found


def test_touched_addresses() -> None:
    """Each register is known by its lowest address; the value holds the addresses that the code uses."""
    assert value_of(SubjectKind.REGISTER, "memory", "C800", "write") == AddressSet.of([0xC804])
    assert value_of(SubjectKind.REGISTER, "memory", "C801", "read") == AddressSet.of([0xC801])
    assert value_of(SubjectKind.REGISTER, "memory", "C802", "write") == AddressSet.of([0xC802])


def test_bits() -> None:
    """Bit 7 is waited for, the straps choose between one byte and two, the others are never looked at."""
    assert value_of(SubjectKind.BIT, "memory", "C801", "read", "7") == BitUse(goes_on_at=1)
    strap = value_of(SubjectKind.BIT, "memory", "C801", "read", "0")
    assert strap == BitUse(None, True, ("sequence of 1 or 2 bytes", "sequence of 1 byte"))
    assert value_of(SubjectKind.BIT, "memory", "C801", "read", "4") == BitUse()


def test_times() -> None:
    """Strobe width, set-up and byte period from cycles and the clock."""
    assert value_of(SubjectKind.TIMING, "strobe width") == SpanRange.exactly(Span.of(us=32))
    # STA C804's write to STA C802's: LDA 2, STA 4
    assert value_of(SubjectKind.TIMING, "data set-up") == SpanRange.exactly(Span.of(us=6))
    # strobe, 32, then RTS 6, LDA 2, JMP 3, BIT 4, BPL 2, STA 4, LDA 2, STA 4, and one more: the write is STA's last
    assert value_of(SubjectKind.TIMING, "byte period") == SpanLimit(
        least=Span.of(us=32 + 6 + 2 + 3 + 4 + 2 + 4 + 2 + 4)
    )


def test_sequence_and_values() -> None:
    """The tree itself, and the set of bytes that can reach the data register."""
    tree = value_of(SubjectKind.SEQUENCE, "power-on")
    assert isinstance(tree, ByteTree)
    paths = tree.explain(b"\x42\x43", lambda kind, address: address == 0xC804)
    levels = {(bit.address, bit.bit): level for bit, level in paths[0].held_bits().items()}
    assert levels == {(0xC801, 0): 0, (0xC801, 1): 0}
    values = value_of(SubjectKind.NOTE, "bytes that can be written to C800")
    assert values == Words("3 of 256: 41 to 43")


def test_every_testimony_has_an_origin_in_the_image() -> None:
    """Each leads to an address of the ROM."""
    for one in door.testify(material(), ROLES):
        assert one.origins
        assert all(origin.file == "rom.bin" and 0xE000 <= origin.number < 0xE030 for origin in one.origins)


def test_emission() -> None:
    """Never is said after an exhausted search only, with its bounds."""
    tree = material().entries[0].tree
    assert emission(tree, [frozenset({0x42}), frozenset({0x43})], ROLES).happens is True
    never = emission(tree, [frozenset({0x43}), frozenset({0x42})], ROLES)
    assert never.happens is False
    assert never.bounds[0].startswith("every path from E018 was followed to an end of the program's own")
    assert emission(tree, [frozenset({0x41})], ()).happens is None


def test_emission_wrong() -> None:
    """A path that was not followed forbids to say never, and is named; its bits are not called unlooked at."""
    cut = material(bounds=Bounds(nodes=2))
    assert not cut.entries[0].tree.is_exhausted
    answer = emission_testimony(cut, "drawing", [frozenset({0x55})], ROLES).value
    assert isinstance(answer, Emission)
    assert answer.happens is None
    assert all("not followed" in words for words in answer.bounds)
    looked = {one.subject.key[3] for one in door.testify(cut, ROLES) if one.subject.kind is SubjectKind.BIT}
    assert "4" not in looked


@pytest.mark.parametrize(("count", "cycles"), [(1, 12), (5, 32), (20, 107)])
def test_strobe_width_cycles(count: int, cycles: int) -> None:
    """Bench case "strobe width from code" with roles: the low pulse."""
    code = f"8D00C8A9008D02C8A2{count:02X}CAD0FDA9018D02C860"
    image = Image.from_bytes(bytes.fromhex(code), 0x0300, "case.bin")
    timing = handshake_timing(explore([image], 0x0300, DEVICES), ROLES)
    assert timing.width == CycleRange.exactly(cycles)
    assert timing.set_up == CycleRange.exactly(6)
    assert Clock.of(mhz=2).span(timing.width) == SpanRange.exactly(Span.of(us=Fraction(cycles, 2)))


def test_lengths() -> None:
    """Least and most bytes under each strap, none for an endless loop, no most for a loop that sends."""
    tree = material().entries[0].tree
    belongs = lambda kind, address: address in DATA.addresses  # noqa: E731  # one line, used once
    finder = Lengths(tree, belongs)
    bits = {k: InputBit(InputKind.MEMORY, 0xC801, k) for k in (0, 1)}
    assert finder.between({}) == CycleRange(1, 2)
    assert finder.between({bits[0]: 0, bits[1]: 0}) == CycleRange.exactly(2)
    assert finder.between({bits[0]: 1}) == CycleRange.exactly(1)
    image = Image.from_bytes(bytes.fromhex("AD01C81006A9418D00C84C00E060"), ORIGIN, "rom.bin")
    loop = explore([image], ORIGIN, DEVICES)
    assert Lengths(loop, belongs).between({}).most is None or not loop.leaves

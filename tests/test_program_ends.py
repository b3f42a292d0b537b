"""Bad input and endless programs: each a leaf with its reason, or a graph that goes round; never a wrong "never"."""

from __future__ import annotations

import pytest

from latchlore.base import AddressSet, BadInput, ByteTree, InputKind, LeafKind
from latchlore.program import Bounds, Image, explore

DEVICES = AddressSet.of_range(0xC800, 0xC803)
NOWHERE = AddressSet.of(())


def follow(code: str, cpu: str = "6502", *, writable: bool = False, bounds: Bounds | None = None) -> ByteTree:
    """Explore a routine: at 0300 on the 6502, at 8000 on the Z80."""
    origin, devices = (0x0300, DEVICES) if cpu == "6502" else (0x8000, NOWHERE)
    image = Image.from_bytes(bytes.fromhex(code), origin, "routine.bin", writable=writable)
    return explore([image], origin, devices, cpu=cpu, bounds=bounds)


def on_data(kind: InputKind, address: int) -> bool:
    """Whether an address is the data register."""
    return address in (0xC800, 0x91)


@pytest.mark.parametrize(
    ("cpu", "code"),
    [
        ("6502", "A9418D00C84C0003"),  # a known byte, at full speed
        ("6502", "8D00C84C0003"),  # an unknown one
        ("6502", "E6108D00C8A9418D00C84C0003"),  # a counter meanwhile
        ("Z80", "3E41D39118FA"),
        ("Z80", "D39118FC"),
    ],
)
def test_endless_writer(cpu: str, code: str) -> None:
    """A loop that writes for ever goes round in the graph: no number of bytes is too long for it."""
    tree = follow(code, cpu)
    assert tree.is_exhausted
    assert tree.leaves == ()
    assert tree.can_emit([frozenset({0x41})] + [frozenset(range(256))] * 1000, on_data)
    assert not tree.can_emit([frozenset({0x41})], lambda kind, address: address == 0xC801)


def test_long_text_without_a_wait() -> None:
    """A text of 250 bytes sent without a look at anything stays one node."""
    # LDX #0; l: LDA 0310,X; STA C800; INX; CPX #FA; BNE l; RTS
    text = bytes(range(1, 251))
    tree = follow("A200BD10038D00C8E8E0FAD0F560EAEA" + text.hex())
    assert [path.written for path in tree.iter_paths(on_data)] == [text]
    assert len(tree.nodes) == 1


def test_too_many_writes() -> None:
    """A count of writes that goes on beyond the bound is a leaf."""
    # l: STA C800; INC 10; BNE l; INC 11; BNE l; RTS
    tree = follow("A90085108511" + "8D00C8E610D0F9E611D0F560", bounds=Bounds(events=3000))
    (leaf,) = tree.leaves
    assert (leaf.kind, leaf.reason) == (LeafKind.BOUND, "more than 3000 touches on one path without a choice")


@pytest.mark.parametrize(
    ("cpu", "code", "kind", "words"),
    [
        (
            "6502",
            "200003",
            LeafKind.ENDLESS,
            "its stack runs over, and it comes back to the same state without touching a device",
        ),
        ("6502", "48200003", LeafKind.BOUND, "its stack grows without end: deeper each time that it comes here"),
        ("Z80", "CD0080", LeafKind.BOUND, "its stack grows without end: deeper each time that it comes here"),
        ("Z80", "C5CD0080", LeafKind.BOUND, "its stack grows without end: deeper each time that it comes here"),
        ("6502", "E6104C0003", LeafKind.ENDLESS, "comes back to the same state without touching a device"),
        ("Z80", "210000773418FD", LeafKind.ENDLESS, "comes back to the same state without touching a device"),
        ("Z80", "18FE", LeafKind.ENDLESS, "comes back to the same state without touching a device"),
        ("Z80", "FB76", LeafKind.HALTED, "HALT waits for an interrupt"),
        ("6502", "EAEA", LeafKind.UNKNOWN_CODE, "the content of 0302 is not known"),
        ("Z80", "0000", LeafKind.UNKNOWN_CODE, "the content of 8002 is not known"),
        ("6502", "4C00C8", LeafKind.UNKNOWN_CODE, "runs into device registers at C800"),
        ("Z80", "18FF", LeafKind.UNKNOWN_CODE, "the content of 0038 is not known"),  # its operand FF is RST 38
        ("Z80", "C30000", LeafKind.UNKNOWN_CODE, "the content of 0000 is not known"),
        (
            "Z80",
            "E9",
            LeafKind.UNKNOWN_JUMP,
            "the target of the jump depends on unknown bits and has 65536 possible values",
        ),
    ],
)
def test_leaf(cpu: str, code: str, kind: LeafKind, words: str) -> None:
    """The only leaf and its reason."""
    assert [(leaf.kind, leaf.reason) for leaf in follow(code, cpu).leaves] == [(kind, words)]


def test_jump_into_an_operand() -> None:
    """The bytes of an operand are code where the program jumps there."""
    # BIT 60A9; STA C800; RTS: from 0301 on it is LDA #60; STA C800; RTS
    image = Image.from_bytes(bytes.fromhex("2CA9608D00C860"), 0x0300, "skip.bin")
    behind = explore([image], 0x0301, DEVICES)
    (write,) = [event for event in behind.iter_events() if event.address == 0xC800]
    assert write.value.possible == {0x60}  # type: ignore[union-attr]  # a write


def test_image_wrong() -> None:
    """An image larger than the space, or past its end, is refused."""
    with pytest.raises(
        BadInput, match=r"^big\.bin: 65537 bytes from 0000 on reach past FFFF; at most 65536 fit there$"
    ):
        Image.from_bytes(bytes(65537), 0, "big.bin")
    with pytest.raises(BadInput, match=r"^late\.bin: 2 bytes from FFFF on reach past FFFF; at most 1 fit there$"):
        Image.from_bytes(bytes(2), 0xFFFF, "late.bin")

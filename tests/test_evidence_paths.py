"""A captured sequence looked up in a tree: nothing is concluded from paths that the search did not come to."""

from __future__ import annotations

import pytest

from latchlore.base import (
    HELD,
    Arm,
    ByteSequence,
    ByteTable,
    ByteTree,
    Choice,
    Condition,
    CycleRange,
    Explainer,
    InputBit,
    InputKind,
    Leaf,
    LeafKind,
    Node,
    Paths,
    SequenceByte,
    Write,
)
from latchlore.evidence import explain_sequence
from latchlore.evidence._relations import Side

DATA = 0xC800
END = Leaf(LeafKind.RETURNED, "rts", 0)


def is_data(kind: InputKind, address: int) -> bool:
    """The data register."""
    return address == DATA


def ladder(steps: int) -> ByteTree:
    """One byte, then so many choices by bits of their own, all of which come together again."""
    write = Write(InputKind.MEMORY, DATA, ByteTable.constant(0x41), CycleRange.exactly(0))
    found: list[Node] = []
    for k in range(steps):
        bit = InputBit(InputKind.MEMORY, 0xC801, 0, k)
        arms = (Arm(Condition.of_bit(bit, 0), k + 1), Arm(Condition.of_bit(bit, 1), k + 1))
        found.append(Node((write,) if k == 0 else (), Choice(arms)))
    return ByteTree((*found, Node((), END)), 0xF000)


def test_all_paths_agree() -> None:
    """Where every path was seen, a bit that all of them fix to one level is concluded."""
    bit = InputBit(InputKind.MEMORY, 0xC801, 7)
    start = Node((), Choice((Arm(Condition.of_bit(bit, 1), 1), Arm(Condition.of_bit(bit, 0), 2))))
    write = Write(InputKind.MEMORY, DATA, ByteTable.constant(0x41), CycleRange.exactly(0))
    found = explain_sequence(
        ByteSequence.certain(b"A"), ByteTree((start, Node((write,), END), Node((), END)), 0), is_data
    )
    assert (found.side, found.held) == (Side.AGREE, ((bit, 1),))


def test_too_many_paths() -> None:
    """Of 128 paths 64 are looked at: what these have in common is not concluded."""
    found = explain_sequence(ByteSequence.certain(b"A"), ladder(7), is_data)
    assert (found.side, found.held) == (Side.AGREE, ())
    assert found.follows == ("64 or more paths explain it; the search ended there",)


def test_search_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """A search that ended too soon is no contradiction, though every path of the tree was followed.

    The tree would send A with a bit at 0 and go on to B with the same bit at 1, which no walk does.
    """
    bit = InputBit(InputKind.MEMORY, 0xC801, 7, HELD)
    zero = CycleRange.exactly(0)
    send_a, send_b = (Write(InputKind.MEMORY, DATA, ByteTable.constant(byte), zero) for byte in b"AB")
    arms = [Choice((Arm(Condition.of_bit(bit, level), k), Arm(Condition.of_bit(bit, 1 - level), 3))) for level, k in
            ((0, 1), (1, 2))]  # fmt: skip
    tree = ByteTree((Node((), arms[0]), Node((send_a,), arms[1]), Node((send_b,), END), Node((), END)), 0xF000)
    whole = explain_sequence(ByteSequence.certain(b"AB"), tree, is_data)
    assert whole.side is Side.CLASH
    search = Explainer.explain

    def hasty(self: Explainer, observed: bytes, max_paths: int = 64, max_steps: int = 1) -> Paths:
        return search(self, observed, max_paths, min(max_steps, 1))

    monkeypatch.setattr(Explainer, "explain", hasty)
    found = explain_sequence(ByteSequence.certain(b"AB"), tree, is_data)
    assert found.side is Side.APART
    assert found.words == (
        "the search for paths that write this sequence was given up before its end; there may be others"
    )


def test_doubts_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the doubts of a merge could not all be followed up, nothing is contradicted either."""
    tree, _ = choice_of(b"AA", b"XYZ")
    monkeypatch.setattr("latchlore.evidence._paths.NEAR_STEPS", 0)
    found = explain_sequence(merged(SURE, SURE, SequenceByte(0x41, 0.98)), tree, is_data)
    assert (found.side, found.held) == (Side.APART, ())


def merged(*items: SequenceByte) -> ByteSequence:
    """A merge of nine runs that is fairly sure of itself."""
    return ByteSequence(items, 0.97, 9)


def choice_of(first: bytes, second: bytes) -> tuple[ByteTree, InputBit]:
    """A routine that sends one or the other by a held bit: the first where it is 1."""
    bit = InputBit(InputKind.MEMORY, 0xC801, 7, HELD)
    start = Node((), Choice((Arm(Condition.of_bit(bit, 1), 1), Arm(Condition.of_bit(bit, 0), 2))))
    zero = CycleRange.exactly(0)
    writes = [tuple(Write(InputKind.MEMORY, DATA, ByteTable.constant(b), zero) for b in one) for one in (first, second)]
    return ByteTree((start, *(Node(one, END) for one in writes)), 0xF000), bit


SURE = SequenceByte(0x41, 0.9999)


@pytest.mark.parametrize(
    "sequence",
    [
        # one too many (2 %), one missing (1 %)
        merged(SURE, SURE, SequenceByte(0x41, 0.98)),
        merged(SURE, SequenceByte(0x42, 0.9999, (), 0.01)),
    ],
)
def test_doubts_before_contradiction(sequence: ByteSequence) -> None:
    """A small doubt that the program settles is believed before a contradiction, and tells how the bit stood."""
    told = sequence.data
    sent = {b"AAA": b"AA", b"AB": b"AAB"}[told]
    tree, bit = choice_of(sent, b"XYZ")
    found = explain_sequence(sequence, tree, is_data)
    assert (found.side, found.held) == (Side.APART, ((bit, 1),))
    assert found.words == "no path writes exactly this, but one sequence of the program differs in 1 byte"
    assert found.follows[0] == f"the program would send {sent.hex(' ').upper()}"


def test_doubts_before_contradiction_wrong() -> None:
    """Where the merge has no doubt, or none that the program settles, they contradict one another."""
    tree, _ = choice_of(b"AA", b"XYZ")
    for sequence in (merged(SURE, SURE, SURE), merged(SURE, SequenceByte(0x42, 0.98), SequenceByte(0x43, 0.9999))):
        found = explain_sequence(sequence, tree, is_data)
        assert (found.side, found.held, found.words) == (
            Side.CLASH, (), "no path of the program writes this sequence, and every path was followed",
        )  # fmt: skip


def test_doubts_of_both() -> None:
    """Where the doubt may be settled either way, no bit is concluded."""
    tree, _ = choice_of(b"AA", b"AAB")
    found = explain_sequence(merged(SURE, SURE, SequenceByte(0x43, 0.98, ((0x42, 0.015),))), tree, is_data)
    assert (found.side, found.held) == (Side.APART, ())

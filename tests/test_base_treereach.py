"""Looking a sequence up in a tree, against every walk written out; and which single changes some walk allows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hypothesis import given
from hypothesis import strategies as st

from latchlore.base import (
    HELD,
    Arm,
    ByteTable,
    ByteTree,
    Choice,
    Condition,
    CycleRange,
    InputBit,
    InputKind,
    Leaf,
    LeafKind,
    Link,
    Node,
    Path,
    Write,
    find_reach,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import Reach

DATA, STATUS = 0xC800, 0xC801
LETTERS = b"AB"


def is_data(kind: InputKind, address: int) -> bool:
    """The data register."""
    return kind is InputKind.MEMORY and address == DATA


@st.composite
def trees(draw: st.DrawFn, *, bits: int = 2) -> ByteTree:
    """Trees of up to six nodes that lead on only; bits that keep their level decide, and stand in what is written."""
    size = draw(st.integers(1, 6))
    held = [InputBit(InputKind.MEMORY, STATUS, k, HELD) for k in range(bits)]
    nodes = []
    for number in range(size):
        events = []
        for _ in range(draw(st.integers(0, 2))):
            values = tuple(draw(st.sampled_from(LETTERS)) for _ in range(2))
            varies = bits and values[0] != values[1] and draw(st.booleans())
            table = ByteTable((draw(st.sampled_from(held)),), values) if varies else ByteTable.constant(values[0])
            events.append(Write(InputKind.MEMORY, draw(st.sampled_from((DATA, STATUS))), table, CycleRange.exactly(0)))
        behind = st.integers(number + 1, size - 1)
        if number == size - 1 or draw(st.integers(0, 3)) == 0:
            after: Choice | Link | Leaf = Leaf(LeafKind.RETURNED, "rts", number)
        elif bits and draw(st.booleans()):
            bit = draw(st.sampled_from(held))
            after = Choice(tuple(Arm(Condition.of_bit(bit, level), draw(behind)) for level in (0, 1)))
        else:
            after = Link(draw(behind))
        nodes.append(Node(tuple(events), after))
    return ByteTree(tuple(nodes), 0xF000)


sequences = st.binary(min_size=0, max_size=4).map(lambda raw: bytes(LETTERS[byte % 2] for byte in raw))


def is_possible(path: Path) -> bool:
    """Whether no bit has to be 0 and 1."""
    seen: dict[InputBit, int] = {}
    each = [Path((), (condition,), b"", None).held_bits() for condition in path.conditions]
    return all(seen.setdefault(bit, level) == level for one in each for bit, level in one.items())


def walks_of(tree: ByteTree, observed: bytes) -> set[tuple[tuple[int, ...], LeafKind | None]]:
    """Every walk that writes just this, by writing all walks out; one that writes more ends where it does so."""
    found: set[tuple[tuple[int, ...], LeafKind | None]] = set()
    for path in tree.iter_paths(is_data, max_bytes=100, max_paths=10_000):
        if not is_possible(path) or path.written[: len(observed)] != observed:
            continue
        if path.written == observed:
            found.add((path.nodes, path.ends))
            continue
        written = 0
        for place, node in enumerate(path.nodes):
            events = tree.nodes[node].events
            written += sum(isinstance(one, Write) and is_data(one.kind, one.address) for one in events)
            if written > len(observed):
                found.add((path.nodes[: place + 1], None))
                break
    return found


@given(trees(), sequences)
def test_explain(tree: ByteTree, observed: bytes) -> None:
    """The walks found are just those that there are."""
    found = tree.explain(observed, is_data, max_paths=10_000)
    assert found.is_complete
    assert {(path.nodes, path.ends) for path in found} == walks_of(tree, observed)
    assert all(is_possible(path) and path.written == observed for path in found)


def changes(observed: bytes) -> Iterator[tuple[str, int, int, bytes]]:
    """Every single change with what comes of it."""
    for k in range(len(observed)):
        yield "left out", k, 0, observed[:k] + observed[k + 1 :]
        for value in LETTERS:
            yield "replaced", k, value, observed[:k] + bytes([value]) + observed[k + 1 :]
    for k in range(len(observed) + 1):
        for value in LETTERS:
            yield "put in", k, value, observed[:k] + bytes([value]) + observed[k:]


def is_within(reach: Reach, kind: str, place: int, value: int) -> bool:
    """Whether a change is among those that some walk allows."""
    of_kind = {
        "left out": reach.left_out,
        "replaced": reach.replaced.get(value, 0),
        "put in": reach.put_in.get(value, 0),
    }
    return bool(of_kind[kind] >> place & 1)


@given(trees(), sequences)
def test_find_reach(tree: ByteTree, observed: bytes) -> None:
    """Nothing that a walk writes is left out."""
    reach = find_reach(tree, observed, is_data)
    for kind, place, value, changed in changes(observed):
        if walks_of(tree, changed):
            assert is_within(reach, kind, place, value), (kind, place, value)


@given(trees(bits=0), sequences)
def test_find_reach_without_conditions(tree: ByteTree, observed: bytes) -> None:
    """Where no bit decides, just the changes that a walk writes are named: the byte put in or exchanged is its own."""
    reach = find_reach(tree, observed, is_data)
    for kind, place, value, changed in changes(observed):
        if is_within(reach, kind, place, value):
            assert walks_of(tree, changed), (kind, place, value)

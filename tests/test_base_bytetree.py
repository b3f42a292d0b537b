"""Byte trees against brute force: every setting of the input bits run through the graph one by one."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from latchlore.base import (
    OWN_ENDS,
    Arm,
    ByteTable,
    ByteTree,
    Choice,
    Condition,
    CycleRange,
    Event,
    InputBit,
    InputKind,
    Leaf,
    LeafKind,
    Link,
    Node,
    Read,
    Wait,
    Write,
)

DATA, OTHER = 0xC800, 0xC802
BITS = tuple(InputBit(InputKind.MEMORY, 0xC801, k) for k in range(3))
SETTINGS = [dict(zip(BITS, levels, strict=True)) for levels in itertools.product((0, 1), repeat=3)]
NO_TIME = CycleRange.exactly(0)


def is_data(kind: InputKind, address: int) -> bool:
    """The writes that count."""
    return kind is InputKind.MEMORY and address == DATA


def write(value: int | ByteTable, address: int = DATA) -> Write:
    """A write without time."""
    table = ByteTable.constant(value) if isinstance(value, int) else value
    return Write(InputKind.MEMORY, address, table, NO_TIME)


class Run(NamedTuple):
    """What one setting of the bits leads to: bytes, and the leaf's kind, or None where it never ends."""

    written: bytes
    ends: LeafKind | None


def run(tree: ByteTree, levels: dict[InputBit, int], max_bytes: int) -> Run:
    """Follow the graph with every bit known; a run is cut at `max_bytes`, or where it goes round without writing."""
    node, written, seen = 0, b"", set[int]()
    while len(written) < max_bytes:
        if node in seen:
            return Run(written, None)
        seen.add(node)
        for event in tree.nodes[node].events:
            if isinstance(event, Write) and is_data(event.kind, event.address):
                index = sum(levels[bit] << i for i, bit in enumerate(event.value.bits))
                written += bytes([event.value.values[index]])
                seen = set()
        after = tree.nodes[node].after
        if isinstance(after, Leaf):
            return Run(written, after.kind)
        if isinstance(after, Link):
            node = after.node
        else:
            (node,) = (arm.node for arm in after.arms if arm.condition.holds(levels))
    return Run(written[:max_bytes], None)


tables = st.one_of(
    st.integers(1, 4).map(ByteTable.constant),
    st.tuples(st.sampled_from(BITS), st.integers(1, 4), st.integers(1, 4)).map(
        lambda parts: ByteTable((parts[0],), (parts[1], parts[2]))
    ),
    st.lists(st.integers(1, 4), min_size=4, max_size=4).map(lambda values: ByteTable(BITS[:2], tuple(values))),
)
events: st.SearchStrategy[Event] = st.one_of(
    tables.map(write),
    tables.map(lambda table: write(table, OTHER)),
    st.just(Read(InputKind.MEMORY, 0xC801, 0, NO_TIME)),
    st.just(Wait(InputKind.MEMORY, 0xC801, 0x80, (0x80,), NO_TIME, NO_TIME)),
)


@st.composite
def trees(draw: st.DrawFn, loops: bool = True) -> ByteTree:
    """A graph of up to six nodes whose choices are complete and exclusive; without loops, nodes only lead onwards."""
    size = draw(st.integers(1, 6))
    nodes = []
    for here in range(size):
        onwards = st.integers(0 if loops else here + 1, size - 1)
        kinds = ["leaf", "link", "choice"] if loops or here + 1 < size else ["leaf"]
        after: Choice | Link | Leaf
        match draw(st.sampled_from(kinds)):
            case "leaf":
                after = Leaf(draw(st.sampled_from(list(LeafKind))), "made up", 0)
            case "link":
                after = Link(draw(onwards))
            case _:
                bits = tuple(draw(st.lists(st.sampled_from(BITS), min_size=1, max_size=2, unique=True)))
                table = draw(st.integers(1, (1 << (1 << len(bits))) - 2))
                rest = (1 << (1 << len(bits))) - 1 - table
                after = Choice(tuple(Arm(Condition(bits, part), draw(onwards)) for part in (table, rest)))
        nodes.append(Node(tuple(draw(st.lists(events, max_size=2))), after))
    return ByteTree(tuple(nodes), 0xF000)


@settings(max_examples=300, deadline=None)
@given(trees(), st.integers(0, 5))
def test_explain_finds_every_run(tree: ByteTree, size: int) -> None:
    """Whatever the bits are, the bytes the run begins with are explained by a walk that these bits allow."""
    for levels in SETTINGS:
        whole = run(tree, levels, 8)
        observed = whole.written[:size]
        paths = [
            path
            for path in tree.explain(observed, is_data, max_paths=4096)
            if all(condition.holds(levels) for condition in path.conditions)
        ]
        assert paths
        if observed == whole.written and whole.ends is not None and len(observed) < 8:
            assert whole.ends in {path.ends for path in paths}


@settings(max_examples=300, deadline=None)
@given(trees(), st.binary(max_size=4).map(lambda data: bytes(1 + one % 4 for one in data)))
def test_explain_is_sound(tree: ByteTree, observed: bytes) -> None:
    """Each walk is one of the graph, and bits that satisfy its conditions make the run begin with these bytes."""
    for path in tree.explain(observed, is_data):
        assert path.written == observed
        assert path.nodes[0] == 0
        for one, other in itertools.pairwise(path.nodes):
            assert other in {node for _, node in tree.nodes[one].successors}
        for levels in SETTINGS:
            if all(condition.holds(levels) for condition in path.conditions):
                found = run(tree, levels, len(observed) + 1)
                assert found.written[: len(observed)] == observed
                if path.ends is not None:
                    assert found == (observed, path.ends)
                assert {bit: levels[bit] for bit in path.held_bits()} == path.held_bits()


def windows(tree: ByteTree, size: int) -> set[bytes]:
    """All strings of up to `size` bytes that some walk writes one after another: a fixpoint of sets of strings."""
    held: list[set[bytes]] = [set() for _ in tree.nodes]
    held[0].add(b"")
    found = {b""}
    changed = True
    while changed:
        changed = False
        for here, node in enumerate(tree.nodes):
            recent = set(held[here])
            for event in node.events:
                if isinstance(event, Write) and is_data(event.kind, event.address):
                    recent = {(text + bytes([value]))[-size:] for text in recent for value in event.value.possible}
                    found |= recent
            for _, follower in node.successors:
                if not recent <= held[follower]:
                    held[follower] |= recent
                    changed = True
    return found


@settings(max_examples=300, deadline=None)
@given(trees(), st.lists(st.frozensets(st.integers(1, 4), min_size=1, max_size=3), min_size=1, max_size=3))
def test_can_emit(tree: ByteTree, pattern: list[frozenset[int]]) -> None:
    """A pattern may be emitted exactly when some string of a walk ends in it."""
    wanted = any(
        len(text) >= len(pattern)
        and all(value in one for value, one in zip(text[-len(pattern) :], pattern, strict=True))
        for text in windows(tree, len(pattern))
    )
    assert tree.can_emit(pattern, is_data) == wanted


letters = st.integers(0x41, 0x42)
letter_sets = st.frozensets(letters, min_size=1)


@given(st.lists(letters, max_size=10), st.lists(letter_sets, min_size=1, max_size=4))
def test_can_emit_in_a_row(text: list[int], pattern: list[frozenset[int]]) -> None:
    """Along one walk, a pattern is found exactly where Python's own pattern search finds it, overlaps included."""
    tree = ByteTree((Node(tuple(map(write, text)), Leaf(LeafKind.RETURNED, "rts", 0)),), 0)
    expression = "".join(f"[{bytes(sorted(one)).decode()}]" for one in pattern)
    assert tree.can_emit(pattern, is_data) == bool(re.search(expression, bytes(text).decode()))


@settings(max_examples=200, deadline=None)
@given(trees())
def test_never_is_never(tree: ByteTree) -> None:
    """What the search calls impossible no setting of the bits does."""
    for text in (bytes(pair) for pair in itertools.product(range(1, 5), repeat=2)):
        if not tree.can_emit([frozenset({value}) for value in text], is_data):
            assert all(text not in run(tree, levels, 12).written for levels in SETTINGS)


def walks(tree: ByteTree, node: int = 0, before: bytes = b"") -> Iterator[tuple[bytes, LeafKind]]:
    """Every walk of a graph without loops, by plain recursion."""
    texts = [before]
    for event in tree.nodes[node].events:
        if isinstance(event, Write) and is_data(event.kind, event.address):
            texts = [text + bytes([value]) for text in texts for value in sorted(event.value.possible)]
    for text in texts:
        after = tree.nodes[node].after
        if isinstance(after, Leaf):
            yield text, after.kind
        for _, follower in tree.nodes[node].successors:
            yield from walks(tree, follower, text)


@settings(max_examples=200, deadline=None)
@given(trees(loops=False))
def test_iter_paths(tree: ByteTree) -> None:
    """Without loops, the walks are those that plain recursion finds, each as often."""
    found = [(path.written, path.ends) for path in tree.iter_paths(is_data, max_paths=10**6)]
    assert sorted(found) == sorted(walks(tree))


@settings(max_examples=200, deadline=None)
@given(trees(), st.integers(1, 6))
def test_iter_paths_with_loops(tree: ByteTree, max_bytes: int) -> None:
    """With loops, every run shows up as far as the limit, and no walk is longer than one node's bytes beyond it."""
    found = list(tree.iter_paths(is_data, max_bytes=max_bytes, max_paths=10**6))
    assert all(len(path.written) <= max_bytes + 1 for path in found)
    for levels in SETTINGS:
        whole = run(tree, levels, max_bytes)
        fitting = [path for path in found if all(condition.holds(levels) for condition in path.conditions)]
        assert whole.written[:max_bytes] in {path.written[:max_bytes] for path in fitting}


@pytest.mark.parametrize(("limit", "number", "complete"), [(3, 3, False), (4, 4, True), (4096, 4, True)])
def test_iter_paths_limit(limit: int, number: int, complete: bool) -> None:
    """No more walks than asked for are given, and it is said whether there were more."""
    tree = ByteTree((Node((write(ByteTable(BITS[:2], (1, 2, 3, 4))),), Leaf(LeafKind.RETURNED, "rts", 0)),), 0)
    walks = tree.iter_paths(is_data, max_paths=limit)
    assert not walks.is_complete
    assert len(list(walks)) == number
    assert walks.is_complete == complete


@pytest.mark.parametrize(
    ("options", "number", "complete"), [({}, 2, True), ({"max_paths": 1}, 1, False), ({"max_steps": 2}, 1, False)]
)
def test_explain_limit(options: dict[str, int], number: int, complete: bool) -> None:
    """A search that was given up says so."""
    end = Leaf(LeafKind.RETURNED, "rts", 0)
    arms = Choice((Arm(Condition.of_bit(BITS[0], 0), 1), Arm(Condition.of_bit(BITS[0], 1), 2)))
    tree = ByteTree((Node((write(0x41),), arms), Node((), end), Node((), end)), 0)
    found = tree.explain(b"A", is_data, **options)
    assert (len(found), found.is_complete) == (number, complete)
    nothing = tree.explain(b"B", is_data, max_steps=1)
    assert not nothing
    assert nothing.is_complete


@settings(max_examples=100, deadline=None)
@given(trees())
def test_whole_graph(tree: ByteTree) -> None:
    """Bytes, leaves and exhaustion are those of the nodes, looked at one by one."""
    writes = [event for node in tree.nodes for event in node.events if isinstance(event, Write)]
    wanted = {value for event in writes if event.address == DATA for value in event.value.values}
    assert tree.possible_bytes(is_data) == wanted
    leaves = [node.after for node in tree.nodes if isinstance(node.after, Leaf)]
    assert list(tree.leaves) == leaves
    assert tree.is_exhausted == all(leaf.kind in OWN_ENDS for leaf in leaves)
    assert list(tree.iter_events()) == [event for node in tree.nodes for event in node.events]


def test_main_loop() -> None:
    """A program that sends a greeting and then polls for ever explains the greeting."""
    poll = Node((Read(InputKind.MEMORY, 0xC801, 0, NO_TIME),), Link(1))
    tree = ByteTree((Node((write(0x41),), Link(1)), poll), 0)
    (path,) = tree.explain(b"A", is_data)
    assert (path.ends, path.written) == (None, b"A")
    assert tree.explain(b"AB", is_data) == ()


def test_straps() -> None:
    """Two straps choose among three greetings; a captured one tells what the straps were."""
    greetings = {0: b"\x1b@", 1: b"\x1b@\x1b1", 2: b"HELLO", 3: b"\x1b@"}
    texts = sorted(set(greetings.values()))
    arms = tuple(
        Arm(Condition(BITS[:2], sum(1 << case for case, text in greetings.items() if text == wanted)), 1 + i)
        for i, wanted in enumerate(texts)
    )
    ends = [Node(tuple(map(write, text)), Leaf(LeafKind.RETURNED, "rts", 0xF010)) for text in texts]
    tree = ByteTree((Node((), Choice(arms)), *ends), 0xF000)
    (path,) = tree.explain(b"HELLO", is_data)
    assert path.held_bits() == {BITS[0]: 0, BITS[1]: 1}
    short, longer = tree.explain(b"\x1b@", is_data)
    assert (short.ends, longer.ends) == (LeafKind.RETURNED, None)
    assert short.held_bits() == {}  # bit 0 alone does not say it: 00 or 11
    assert str(short.conditions[0]) == "(C801 bit 0, C801 bit 1) is 00 or 11"
    assert tree.explain(b"HELP", is_data) == ()


@given(st.integers(0, 255))
def test_condition(table: int) -> None:
    """A condition holds and counts as its table says, case by case, and its text is true of exactly those cases."""
    condition = Condition(BITS, table)
    held = [k for k in range(8) if condition.holds({bit: k >> i & 1 for i, bit in enumerate(BITS)})]
    assert held == [k for k in range(8) if table >> k & 1]
    assert condition.count == len(held)
    text = str(condition)
    if text in ("always", "never"):
        assert held == (list(range(8)) if text == "always" else [])
    elif text.startswith("("):
        cases = text.partition(" is ")[2].split(" or ")
        assert sorted(int(case[::-1], 2) for case in cases) == held
    else:
        terms = dict(term.split(" = ") for term in text.split(" and "))
        told = [
            k
            for k in range(8)
            if all(str(k >> i & 1) == terms.get(str(bit), str(k >> i & 1)) for i, bit in enumerate(BITS))
        ]
        assert told == held


def test_texts() -> None:
    """Events and bits in words."""
    port = InputBit(InputKind.PORT, 0x84, 7, turn=2)
    wait = Wait(InputKind.MEMORY, 0xC801, 0x80, (0x80,), NO_TIME, NO_TIME)
    texts = [
        (BITS[1], "C801 bit 1"),
        (port, "port 84 bit 7 (read 3)"),
        (InputBit(InputKind.ARGUMENT, 0, 3, name="A"), "A bit 3"),
        (Condition.of_bit(BITS[0], 1), "C801 bit 0 = 1"),
        (Condition.of_bit(BITS[0], 0), "C801 bit 0 = 0"),
        (Condition((), 1), "always"),
        (Condition((), 0), "never"),
        (write(0x1B), "write 1B to C800"),
        (write(ByteTable(BITS[:1], (1, 2))), "write one of 2 values by C801 to C800"),
        (Write(InputKind.PORT, 0x84, ByteTable.constant(1), NO_TIME), "write 01 to port 84"),
        (Read(InputKind.MEMORY, 0xC801, 0, NO_TIME), "read C801"),
        (wait, "wait until C801 bit 7 = 1"),
        (Wait(InputKind.PORT, 1, 0xF0, (0x30, 0x70), NO_TIME, NO_TIME, 9),
         "wait until port 01 masked with F0 is 30, 70 (gives up after 9 reads)"),
    ]  # fmt: skip
    assert [str(value) for value, _ in texts] == [text for _, text in texts]


def test_questions_wrong() -> None:
    """An empty pattern, and levels that leave a bit out, are refused."""
    tree = ByteTree((Node((), Leaf(LeafKind.RETURNED, "rts", 0)),), 0)
    with pytest.raises(ValueError, match=r"^a pattern has at least one byte$"):
        tree.can_emit([], is_data)
    with pytest.raises(KeyError):
        Condition(BITS[:2], 1).holds({BITS[0]: 1})

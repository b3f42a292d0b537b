"""What several drivers ask of one status register: which bytes satisfy each, and all of them; who tests which bit.

A driver is satisfied by a byte if, read every time, it surely leads to a write of the data, whatever all other inputs
are; a polling loop that the byte does not end, a time-out, and an end without a write do not satisfy it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import Leaf, Wait, Write
from latchlore.program import wording
from latchlore.program._lengths import may_hold

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.base import ByteTree, Condition, InputBit
    from latchlore.program._sending import Belongs

EVERY = range(256)


@dataclass(frozen=True, slots=True)
class StatusTest:
    """One driver: bytes that satisfy it, bytes that may or may not (other inputs decide), and the bits it looks at.

    `is_exhausted`: whether all of its paths were followed; otherwise a byte that "may" could do more than was seen.
    """

    name: str
    satisfied_by: frozenset[int]
    may_do: frozenset[int]
    tested: tuple[int, ...]
    is_exhausted: bool


@dataclass(frozen=True, slots=True)
class StatusBit:
    """One bit: who tests it, the level that all satisfying bytes have (None: both do), and what to make of it."""

    bit: int
    tested_by: tuple[str, ...]
    level: int | None
    words: str


@dataclass(frozen=True, slots=True)
class StatusTests:
    """All drivers together; `satisfy_all`: bytes that satisfy every one.  Bits from 7 down."""

    tests: tuple[StatusTest, ...]
    satisfy_all: frozenset[int]
    bits: tuple[StatusBit, ...]
    undriven: int

    def satisfied(self, value: int) -> tuple[str, ...]:
        """The drivers that a byte satisfies."""
        return tuple(test.name for test in self.tests if value in test.satisfied_by)


def status_tests(trees: Mapping[str, ByteTree], status: Belongs, data: Belongs, *, undriven: int = 0xFF) -> StatusTests:
    """Ask the drivers (name → tree) about a status register, by its reads, and the data, by its writes.

    `undriven`: what a bus reads that nothing drives.  Refuses an empty mapping (ValueError).
    """
    if not trees:
        raise ValueError("at least one driver is asked")
    tests = tuple(_test(name, tree, status, data) for name, tree in trees.items())
    satisfy_all = frozenset(EVERY).intersection(*(test.satisfied_by for test in tests))
    bits = tuple(_bit(bit, tests, satisfy_all, undriven) for bit in range(7, -1, -1))
    return StatusTests(tests, satisfy_all, bits, undriven)


def _test(name: str, tree: ByteTree, status: Belongs, data: Belongs) -> StatusTest:
    outcomes = [_outcome(tree, status, data, value) for value in EVERY]
    sure = frozenset(value for value in EVERY if outcomes[value] == (True, True))
    may = frozenset(value for value in EVERY if outcomes[value] == (True, False))
    tested = [bit for bit in range(7, -1, -1) if any(outcomes[v] != outcomes[v ^ 1 << bit] for v in EVERY)]
    return StatusTest(name, sure, may, tuple(tested), tree.is_exhausted)


def _outcome(tree: ByteTree, status: Belongs, data: Belongs, value: int) -> tuple[bool, bool]:
    """Whether the data may be written where every read of the status gives a byte, and whether it surely is."""
    ways: dict[int, list[int]] = {}
    writes = fails = False
    work = [0]
    while work:
        at = work.pop()
        if at in ways:
            continue
        ways[at] = []
        end = _through(tree, at, status, data, value)
        if end == "written":
            writes = True
            continue
        if end == "stuck" or isinstance(tree.nodes[at].after, Leaf):
            fails = True
            continue
        for condition, target in tree.nodes[at].successors:
            if condition is None or may_hold(condition, _levels(condition, status, value)):
                ways[at].append(target)
        work += ways[at]
    return writes, writes and not fails and not _has_loop(ways)


def _through(tree: ByteTree, at: int, status: Belongs, data: Belongs, value: int) -> str:
    """How a node's events end: ``written``, ``stuck`` in a loop, or ``behind`` them."""
    for event in tree.nodes[at].events:
        if isinstance(event, Write) and data(event.kind, event.address):
            return "written"
        is_mine = isinstance(event, Wait) and status(event.kind, event.address)
        if is_mine and isinstance(event, Wait) and value & event.mask not in event.until and event.polls is None:
            return "stuck"
    return "behind"


def _levels(condition: Condition, status: Belongs, value: int) -> dict[InputBit, int]:
    return {bit: value >> bit.bit & 1 for bit in condition.bits if not bit.name and status(bit.kind, bit.address)}


def _has_loop(ways: Mapping[int, list[int]]) -> bool:
    """Whether one can go round for ever without a write."""
    done: set[int] = set()
    for root in ways:
        if root in done:
            continue
        on_way: list[int] = []
        stack: list[tuple[int, bool]] = [(root, False)]
        open_nodes: set[int] = set()
        while stack:
            at, is_left = stack.pop()
            if is_left:
                open_nodes.discard(at)
                done.add(at)
                continue
            if at in open_nodes:
                return True
            if at in done:
                continue
            open_nodes.add(at)
            on_way.append(at)
            stack.append((at, True))
            for target in ways[at]:
                if target in open_nodes:
                    return True
                stack.append((target, False))
    return False


def _bit(bit: int, tests: tuple[StatusTest, ...], satisfy_all: frozenset[int], undriven: int) -> StatusBit:
    testers = [test for test in tests if bit in test.tested]
    levels = {value >> bit & 1 for value in satisfy_all}
    level = levels.pop() if len(levels) == 1 else None
    names = tuple(test.name for test in testers)
    if not testers:
        words = wording.NOBODY_TESTS
    elif level is None:
        words = wording.NO_LEVEL if not satisfy_all else wording.EITHER_LEVEL
    elif level == undriven >> bit & 1 and all(len(test.tested) == 8 for test in testers):
        # Only drivers that compare the whole byte look at it, and it has the level of a bus that nothing drives.
        words = wording.probably_undriven(level)
    else:
        words = wording.must_read(level)
    return StatusBit(bit, names, level, words)

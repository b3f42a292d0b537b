"""What holds on a path of a tree: facts about input bits, as the engines' truth tables keep them.

A fact is dropped where it would need more bits than a table takes; so less may be known than could be, never more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from latchlore.base import ByteTable, Choice, Condition, InputBit, Wait, Write
from latchlore.program import _values as values
from latchlore.program._graph import as_condition
from latchlore.program._values import Constraints, Sym, TooWideError, Value

if TYPE_CHECKING:
    from collections.abc import Iterable

    from latchlore.base import ByteTree, Event, Node


class Facts(NamedTuple):
    """Conditions over disjoint bits, all of which hold, and bits of one known level (number, level), rising.

    `is_partial`: a condition was too wide to be kept on the way here.
    """

    conditions: Constraints = ()
    levels: tuple[tuple[int, int], ...] = ()
    is_partial: bool = False

    @property
    def key(self) -> tuple[object, ...]:
        """What tells them apart from other facts."""
        return (tuple(sorted(one.key for one in self.conditions)), self.levels)


NOTHING = Facts()


class Bits:
    """Numbers for the input bits of one tree or several."""

    def __init__(self) -> None:
        self.bits: list[InputBit] = []
        self.numbers: dict[InputBit, int] = {}
        self.syms: dict[tuple[object, ...], Value] = {}
        self.reads: dict[tuple[object, ...], set[int]] = {}

    def number(self, bit: InputBit) -> int:
        """The number of a bit."""
        if bit not in self.numbers:
            self.numbers[bit] = len(self.bits)
            self.bits.append(bit)
            self.reads.setdefault((bit.kind, bit.address, bit.turn), set()).add(self.numbers[bit])
        return self.numbers[bit]

    def value(self, bits: tuple[InputBit, ...], table: tuple[int, ...] | np.ndarray) -> Value:
        """A table over bits in any order as a value."""
        numbers = [self.number(bit) for bit in bits]
        array = np.asarray(table, dtype=np.int32)
        order = sorted(range(len(numbers)), key=numbers.__getitem__)
        if order != list(range(len(numbers))):
            size = len(numbers)
            cube = array.reshape((2,) * size)  # axis 0 is the last bit
            array = np.ascontiguousarray(cube.transpose([size - 1 - k for k in reversed(order)])).ravel()
        return values.make(tuple(sorted(numbers)), array)

    def condition(self, condition: Condition) -> Value:
        """A condition as a value of 0 and 1."""
        key = (condition.bits, condition.table)
        if key not in self.syms:
            size = 1 << len(condition.bits)
            raw = np.frombuffer(condition.table.to_bytes((size + 7) // 8, "little"), dtype=np.uint8)
            self.syms[key] = self.value(condition.bits, np.unpackbits(raw, bitorder="little")[:size])
        return self.syms[key]

    def table(self, table: ByteTable) -> Value:
        """A byte as a value."""
        key = ("byte", table.bits, table.values)
        if key not in self.syms:
            self.syms[key] = self.value(table.bits, table.values)
        return self.syms[key]

    def as_condition(self, value: Value) -> Condition:
        """A value of 0 and 1 as a condition."""
        return Condition((), value) if isinstance(value, int) else as_condition(value, self.bits)

    def as_table(self, value: Value) -> ByteTable:
        """A value as a byte."""
        if isinstance(value, int):
            return ByteTable.constant(value)
        return ByteTable(tuple(self.bits[v] for v in value.vars), tuple(value.tab.tolist()))

    def read_by(self, event: Event) -> set[int]:
        """Numbers of the bits that an event sets anew."""
        if isinstance(event, Write):
            return set()
        return self.reads.get((event.kind, event.address, event.turn), set())

    def until(self, wait: Wait) -> Value:
        """What holds when a loop without a time-out has ended."""
        bits = tuple(InputBit(wait.kind, wait.address, k, wait.turn) for k in range(8) if wait.mask >> k & 1)
        table = np.zeros(1 << len(bits), dtype=np.int32)
        for value in wait.until:
            table[sum((value >> bit.bit & 1) << i for i, bit in enumerate(bits))] = 1
        return self.value(bits, table)


def assume(facts: Facts, condition: Value) -> Facts | None:
    """The facts, and the condition; None where they cannot hold together."""
    known = dict(facts.levels)
    left = values.substitute(condition, known)
    try:
        added = values.constrain(facts.conditions, left)
    except TooWideError:
        return facts._replace(is_partial=True)
    if added is None:
        return None
    conditions, forced = added
    if not forced:
        return Facts(conditions, facts.levels, facts.is_partial)
    return Facts(conditions, tuple(sorted({**known, **forced}.items())), facts.is_partial)


def forget(facts: Facts, gone: set[int]) -> Facts:
    """The facts without what concerns some bits alone."""
    if not gone:
        return facts
    return keep(facts, {v for one in facts.conditions for v in one.vars} - gone | {v for v, _ in facts.levels} - gone)


def keep(facts: Facts, live: set[int]) -> Facts:
    """What the facts say of some bits."""
    return Facts(values.project(facts.conditions, live), tuple((v, level) for v, level in facts.levels if v in live))


def solve(facts: Facts) -> dict[int, int]:
    """Levels under which the facts hold: the lowest case of each condition; bits that they leave open are not named."""
    found = dict(facts.levels)
    for one in facts.conditions:
        case = int(np.flatnonzero(one.tab)[0])
        found |= {v: case >> i & 1 for i, v in enumerate(one.vars)}
    return found


def possible(facts: Facts, value: Value) -> list[int]:
    """Every number a value can be under the facts, rising."""
    left = values.substitute(value, dict(facts.levels))
    try:
        return values.possible(facts.conditions, left)
    except TooWideError:
        return values.possible((), left)


def _pieces(facts: Facts) -> list[Sym]:
    """Everything as conditions over disjoint bits."""
    single = [Sym((v,), np.array([1 - level, level], dtype=np.int32)) for v, level in facts.levels]
    return [*facts.conditions, *single]


def _about(facts: Facts, piece: Sym) -> Value:
    """What facts say of the bits of a piece of other facts."""
    known = dict(facts.levels)
    said: Value = 1
    for v in piece.vars:
        if v in known:
            said = Sym((v,), np.array([1 - known[v], known[v]], dtype=np.int32)) & said
    one, _ = values.joined(facts.conditions, piece.vars)
    if one is not None:
        for left in values.project((one,), set(piece.vars)):
            said = left & said
    return said


def common(first: Facts, second: Facts) -> Facts:
    """What holds under either of two sets of facts, as far as the first one's conditions can say it."""
    found: Facts | None = NOTHING
    for piece in _pieces(first):
        try:
            either = piece | _about(second, piece)
        except TooWideError:
            continue
        if isinstance(either, Sym):
            assert found is not None
            found = assume(found, either)
    assert found is not None
    return found


def reduce(facts: Facts, value: Value) -> Value:
    """The simplest value that agrees with this one wherever the facts hold."""
    left = values.substitute(value, dict(facts.levels))
    if isinstance(left, int):
        return left
    mask = _allowed(facts, left)
    if mask is None:
        return left
    variables, table = list(left.vars), left.tab
    for v in left.vars:
        axis = len(variables) - 1 - variables.index(v)
        shape = (2,) * len(variables)
        low, high = (table.reshape(shape).take(k, axis) for k in (0, 1))
        can_low, can_high = (mask.reshape(shape).take(k, axis) for k in (0, 1))
        if bool((low == high)[can_low & can_high].all()):
            table = np.where(can_low, low, high).ravel()
            mask = (can_low | can_high).ravel()
            variables.remove(v)
    first = table[mask][0] if mask.any() else 0
    return values.make(tuple(variables), np.where(mask, table, first).astype(np.int32))


def _allowed(facts: Facts, value: Sym) -> np.ndarray | None:
    """In which cases of a value's own bits the facts can hold; None where that cannot be told."""
    try:
        one, _ = values.joined(facts.conditions, value.vars)
    except TooWideError:
        return None
    allowed = np.ones(len(value.tab), dtype=np.bool_)
    if one is not None:
        for left in values.project((one,), set(value.vars)):
            allowed &= values.over(left, value.vars) != 0
    return allowed


def conditions_of(node: Node) -> Iterable[Condition]:
    """The conditions of a node's arms."""
    return [arm.condition for arm in node.after.arms] if isinstance(node.after, Choice) else []


def live_bits(tree: ByteTree, bits: Bits) -> list[set[int]]:
    """For every node the bits known at its start that something behind still looks at."""
    own: list[set[int]] = []
    killed: list[set[int]] = []
    for node in tree.nodes:
        for event in node.events:
            if isinstance(event, Write):
                bits.table(event.value)
            elif isinstance(event, Wait):
                bits.until(event)
        for condition in conditions_of(node):
            bits.condition(condition)
    for node in tree.nodes:
        seen: set[int] = set()
        gone: set[int] = set()
        for event in node.events:
            if isinstance(event, Write):
                seen |= {bits.number(bit) for bit in event.value.bits} - gone
            else:
                gone |= bits.read_by(event)
        seen |= {bits.number(bit) for one in conditions_of(node) for bit in one.bits} - gone
        own.append(seen)
        killed.append(gone)
    before: dict[int, list[int]] = {}
    for at, node in enumerate(tree.nodes):
        for _, target in node.successors:
            before.setdefault(target, []).append(at)
    live = [set(one) for one in own]
    work = list(range(len(tree.nodes)))
    while work:
        at = work.pop()
        for source in before.get(at, ()):
            grown = live[at] - killed[source] - live[source]
            if grown:
                live[source] |= grown
                work.append(source)
    return live


class Live:
    """Which bits something behind a place in a tree still looks at; `bits` numbers them."""

    def __init__(self, tree: ByteTree, bits: Bits) -> None:
        self.tree, self.bits = tree, bits
        self.starts = live_bits(tree, bits)
        self.known: dict[tuple[int, int], frozenset[InputBit]] = {}

    def at(self, node: int, index: int) -> frozenset[InputBit]:
        """In front of an event of a node (or, at their number, in front of its choice)."""
        key = (node, index)
        if key not in self.known:
            found = {bit for one in conditions_of(self.tree.nodes[node]) for bit in one.bits}
            for _, target in self.tree.nodes[node].successors:
                found |= {self.bits.bits[number] for number in self.starts[target]}
            for event in reversed(self.tree.nodes[node].events[index:]):
                if isinstance(event, Write):
                    found |= set(event.value.bits)
                else:
                    gone = (event.kind, event.address, event.turn)
                    found = {bit for bit in found if (bit.kind, bit.address, bit.turn) != gone}
            self.known[key] = frozenset(found)
        return self.known[key]

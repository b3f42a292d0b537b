"""Two versions of a program compared by what they do to their devices, not by their bytes.

Both trees are walked together.  They are the same where, whatever the inputs, the same events come in the same order
and the same end; places in the program do not matter, and cycles are told apart.  A difference is told with the
conditions on the way to it.  What was not followed in one of the trees cannot be compared.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

from latchlore.base import HELD, Choice, Condition, InputBit, Leaf, Link, Read, Wait, Write
from latchlore.program import _comparewords as words
from latchlore.program._facts import NOTHING, Bits, Facts, Live, assume, keep, possible, solve
from latchlore.program._sending import Example, examples
from latchlore.program._tidy import after_event, doing_signature, equal_classes, join_lines, merge_equal, renumber
from latchlore.program._values import Sym, TooWideError, substitute

if TYPE_CHECKING:
    from collections.abc import Callable

    from latchlore.base import ByteTree, CycleRange, Event, InputKind, Node
    from latchlore.program._values import Value

MAX_STATES = 30_000
MORE_STATES = 2_000
"""So many pairs of places are looked at behind the last difference found."""

MAX_DIFFERENCES = 16
MAX_TIMES = 16
LOST = 1 << 16
"""Added to the turn of a reading that the second version has forgotten: a bit of its own, of which nothing is known."""

Canon: TypeAlias = "Callable[[InputKind, int], int]"
"""The address that stands for a register's mirrors."""


@dataclass(frozen=True, slots=True)
class Difference:
    """The first difference on one way: what each version does there, at which place in it.

    `conditions` on the way, in the order met, over inputs as the second version reads them.  `example`: levels under
    which it shows; of two bytes written `values` are then those.  `is_sure` False: the conditions were too wide to be
    kept all, so it may be that they cannot hold together.
    """

    conditions: tuple[Condition, ...]
    first: str
    second: str
    first_at: int
    second_at: int
    example: tuple[Example, ...] = ()
    values: tuple[int, int] | None = None
    is_sure: bool = True


@dataclass(frozen=True, slots=True)
class TimeDifference:
    """The same event (or end) in other cycles since the event before it."""

    words: str
    first_at: int
    second_at: int
    first: CycleRange
    second: CycleRange


@dataclass(frozen=True, slots=True)
class Comparison:
    """The answer: `same` True, False, or None where something was not followed and nothing else differs.

    `differences`: at most 16, those after the fewest choices first.  `times`: at most 16 events in other cycles, of
    `num_times`.  `not_compared`: why, in sentences.
    """

    same: bool | None
    differences: tuple[Difference, ...]
    times: tuple[TimeDifference, ...]
    num_times: int
    not_compared: tuple[str, ...]

    def __str__(self) -> str:
        if self.same is None:
            return words.OPEN
        if not self.same:
            return words.DIFFERENT
        return words.OTHER_TIMES if self.num_times else words.SAME


def compare_trees(first: ByteTree, second: ByteTree, canon: Canon = lambda _, address: address) -> Comparison:
    """Walk two trees together.  `canon` gives mirrors of one register one address."""
    one, two = _canonical(first, canon), _canonical(second, canon)
    pairing = _Pairing(_merged(one), _merged(two))
    pairing.walk()
    same: bool | None = not pairing.differences
    if (same and pairing.not_compared) or (pairing.differences and not any(d.is_sure for d in pairing.differences)):
        same = None
    times = _Times(one, two).walk()
    return Comparison(same, tuple(pairing.differences), times[:MAX_TIMES], len(times), tuple(pairing.not_compared))


def _merged(tree: ByteTree) -> ByteTree:
    """The tree with whatever does the same stored once; its conditions stay as they are, and exclude one another."""
    return renumber(join_lines(merge_equal(tree, doing_signature)))


def _canonical(tree: ByteTree, canon: Canon) -> ByteTree:
    """The tree with every register under one address, so that versions that use other mirrors are alike."""
    if all(canon(event.kind, event.address) == event.address for event in tree.iter_events()):
        return tree

    def bit(one: InputBit) -> InputBit:
        if one.name or one.kind.value in ("argument", "cell"):
            return one
        return replace(one, address=canon(one.kind, one.address))

    def event(one: Event) -> Event:
        moved = replace(one, address=canon(one.kind, one.address))
        if isinstance(moved, Write):
            table = moved.value
            return replace(moved, value=replace(table, bits=tuple(bit(b) for b in table.bits)))
        return moved

    nodes = []
    for node in tree.nodes:
        after = node.after
        if isinstance(after, Choice):
            arms = (
                replace(arm, condition=Condition(tuple(bit(b) for b in arm.condition.bits), arm.condition.table))
                for arm in after.arms
            )
            after = Choice(tuple(arms))
        nodes.append(replace(node, events=tuple(event(one) for one in node.events), after=after))
    return replace(tree, nodes=tuple(nodes))


Turns: TypeAlias = tuple[tuple[tuple[object, int, int], int], ...]
"""(kind, address, turn) of the first tree → turn of the second one, for readings that both know."""


@dataclass(frozen=True, slots=True)
class _Pair:
    """A place in both trees: node and event, what is known (over bits of the second tree), and the way there."""

    first: tuple[int, int]
    second: tuple[int, int]
    facts: Facts
    turns: Turns
    before: int
    condition: Condition | None


class _Pairing:
    """The common walk."""

    def __init__(self, first: ByteTree, second: ByteTree) -> None:
        self.trees = (first, second)
        self.bits = Bits()
        self.live = (Live(first, Bits()), Live(second, self.bits))
        self.pairs: list[_Pair] = []
        self.queue: deque[int] = deque()
        self.seen: set[tuple[object, ...]] = set()
        self.differences: list[Difference] = []
        self.not_compared: dict[str, None] = {}
        both = replace(second, nodes=(*second.nodes, *_moved_on(first, len(second.nodes))))
        classes = equal_classes(both, doing_signature)
        self.classes = (classes[len(second.nodes) :], classes[: len(second.nodes)])

    def walk(self) -> None:
        """Find the differences."""
        self.arrive(_Pair((0, 0), (0, 0), NOTHING, (), -1, None))
        last = 0
        while self.queue and len(self.differences) < MAX_DIFFERENCES:
            known = len(self.differences)
            self.follow(self.queue.popleft())
            last = len(self.pairs) if len(self.differences) > known else last
            if len(self.pairs) > MAX_STATES and not self.differences:
                self.not_compared[words.too_many(MAX_STATES)] = None
                break
            if self.differences and len(self.pairs) > last + MORE_STATES:
                self.not_compared[words.NO_FURTHER] = None
                break
        for which, tree in enumerate(self.trees):
            for leaf in tree.leaves:
                if not leaf.is_done:
                    self.not_compared[words.not_followed(which, leaf)] = None

    def is_settled(self, pair: _Pair) -> bool:
        """Whether everything from here on is the same in both, node by node and reading by reading."""
        if pair.first[1] or pair.second[1] or any(key[2] != turn for key, turn in pair.turns):
            return False
        return self.classes[0][pair.first[0]] == self.classes[1][pair.second[0]]

    def arrive(self, pair: _Pair) -> None:
        """Come to a pair of places, unless it is known or nothing can differ from there on."""
        if self.is_settled(pair):
            return
        turns = dict(pair.turns)
        wanted = {self.bits.number(self.moved(bit, turns)) for bit in self.live[0].at(*pair.first)}
        wanted |= {self.bits.number(bit) for bit in self.live[1].at(*pair.second)}
        facts = keep(pair.facts, wanted)
        key = (pair.first, pair.second, facts.key, pair.turns)
        if key in self.seen:
            return
        self.seen.add(key)
        self.pairs.append(replace(pair, facts=facts))
        self.queue.append(len(self.pairs) - 1)

    def moved(self, bit: InputBit, turns: dict[tuple[object, int, int], int]) -> InputBit:
        """A bit of the first tree as the second one calls it."""
        if bit.turn == HELD:
            return bit
        return replace(bit, turn=turns.get((bit.kind, bit.address, bit.turn), bit.turn + LOST))

    def follow(self, number: int) -> None:
        """Go along the events of both nodes as far as both have any."""
        pair = self.pairs[number]
        facts, turns = pair.facts, dict(pair.turns)
        nodes = (self.trees[0].nodes[pair.first[0]], self.trees[1].nodes[pair.second[0]])
        at = [pair.first[1], pair.second[1]]
        while at[0] < len(nodes[0].events) and at[1] < len(nodes[1].events):
            one, two = nodes[0].events[at[0]], nodes[1].events[at[1]]
            if not self.same_event(one, two, facts, turns, number):
                return
            if not isinstance(one, Write) and not isinstance(two, Write):
                stale = [key for key, turn in turns.items() if key[:2] == (one.kind, one.address) and turn == two.turn]
                for key in stale:
                    del turns[key]
                turns[one.kind, one.address, one.turn] = two.turn
                facts = after_event(two, facts, self.bits)
            at = [at[0] + 1, at[1] + 1]
        mine = tuple(sorted(turns.items(), key=lambda item: (str(item[0][0]), item[0][1:])))
        here = replace(pair, first=(pair.first[0], at[0]), second=(pair.second[0], at[1]), facts=facts, turns=mine)
        self.branch(here, number)

    def branch(self, pair: _Pair, number: int) -> None:
        """Take every way on of the side whose events are at an end; a choice of either side parts the other too."""
        first, second = self.trees[0].nodes[pair.first[0]], self.trees[1].nodes[pair.second[0]]
        ends = (pair.first[1] == len(first.events), pair.second[1] == len(second.events))
        if ends[0] and not isinstance(first.after, Leaf):
            turns = dict(pair.turns)
            for condition, target in first.successors:
                met = None if condition is None else self.in_second(condition, turns)
                self.go(pair, number, met, first=target)
            return
        if ends[1] and not isinstance(second.after, Leaf):
            for condition, target in second.successors:
                self.go(pair, number, condition, second=target)
            return
        self.compare_ends(pair, number, ends)

    def in_second(self, condition: Condition, turns: dict[tuple[object, int, int], int]) -> Condition:
        return Condition(tuple(self.moved(bit, turns) for bit in condition.bits), condition.table)

    def go(
        self,
        pair: _Pair,
        number: int,
        condition: Condition | None,
        *,
        first: int | None = None,
        second: int | None = None,
    ) -> None:
        facts = pair.facts if condition is None else assume(pair.facts, self.bits.condition(condition))
        if facts is None:
            return
        self.arrive(
            _Pair(
                pair.first if first is None else (first, 0),
                pair.second if second is None else (second, 0),
                facts,
                pair.turns,
                number,
                condition,
            )
        )

    def compare_ends(self, pair: _Pair, number: int, ends: tuple[bool, bool]) -> None:
        """Both sides are at an end, or one is and the other goes on."""
        first, second = self.trees[0].nodes[pair.first[0]], self.trees[1].nodes[pair.second[0]]
        sides = [node.after if end else None for node, end in zip((first, second), ends, strict=True)]
        leaves = [side if isinstance(side, Leaf) else None for side in sides]
        for leaf in leaves:
            if leaf is not None and not leaf.is_done:
                return
        texts, places = [], []
        for node, leaf, place in zip((first, second), leaves, (pair.first, pair.second), strict=True):
            if leaf is not None:
                texts.append(leaf.kind.value)
                places.append(leaf.address)
            else:
                event = node.events[place[1]]
                texts.append(str(event))
                places.append(event.program_address)
        one, two = leaves
        if one is None or two is None or one.kind is not two.kind:
            self.differ(pair.facts, number, (texts[0], texts[1]), (places[0], places[1]))

    # -- events ------------------------------------------------------------------------------------------------

    def same_event(
        self, one: Event, two: Event, facts: Facts, turns: dict[tuple[object, int, int], int], number: int
    ) -> bool:
        """Whether two events do the same; notes it where they do not."""
        places = (one.program_address, two.program_address)
        same = type(one) is type(two) and (one.kind, one.address) == (two.kind, two.address)
        if same and isinstance(one, Write) and isinstance(two, Write):
            apart = self.unequal(one, two, facts, turns)
            if apart is not None:
                self.differ(facts, number, (str(one), str(two)), places, apart)
                return False
        elif same and isinstance(one, Wait) and isinstance(two, Wait):
            same = (_passing(one), one.polls) == (_passing(two), two.polls)
        elif same and isinstance(one, Read) and isinstance(two, Read):
            same = one.discarded == two.discarded
        if not same:
            self.differ(facts, number, (str(one), str(two)), places)
        return same

    def unequal(
        self, one: Write, two: Write, facts: Facts, turns: dict[tuple[object, int, int], int]
    ) -> tuple[Value, Value] | None:
        """Two written bytes that can differ; None where they never do."""
        bits = tuple(self.moved(bit, turns) for bit in one.value.bits)
        first = self.bits.table(replace(one.value, bits=bits))
        second = self.bits.table(two.value)
        try:
            apart = first ^ second
        except TooWideError:
            self.not_compared[words.too_wide(one.program_address, two.program_address)] = None
            return None
        return None if possible(facts, apart) == [0] else (first, second)

    def differ(
        self,
        facts: Facts,
        number: int,
        texts: tuple[str, str],
        places: tuple[int, int],
        apart: tuple[Value, Value] | None = None,
    ) -> None:
        """Note a difference with the way to it; one for each pair of places in the programs."""
        if any((one.first_at, one.second_at) == places for one in self.differences):
            return
        conditions: list[Condition] = []
        values = None
        if apart is not None:
            unlike = apart[0] ^ apart[1]
            if isinstance(unlike, Sym):
                last = Sym(unlike.vars, (unlike.tab != 0).astype(unlike.tab.dtype))
                conditions.append(self.bits.as_condition(last))
        while number >= 0:
            pair = self.pairs[number]
            if pair.condition is not None:
                conditions.append(pair.condition)
            number = pair.before
        told = tuple(dict.fromkeys(reversed(conditions)))
        whole = NOTHING
        for condition in told:
            whole = assume(whole, self.bits.condition(condition)) or whole
        levels = solve(whole)
        if apart is not None:
            one, two = (substitute(value, {v: levels.get(v, 0) for v in _variables(value)}) for value in apart)
            assert isinstance(one, int)
            assert isinstance(two, int)
            values = (one, two)
        example = examples({self.bits.bits[v]: level for v, level in levels.items()})
        self.differences.append(Difference(told, *texts, *places, example, values, not facts.is_partial))


def _variables(value: Value) -> tuple[int, ...]:
    return () if isinstance(value, int) else value.vars


def _moved_on(tree: ByteTree, by: int) -> tuple[Node, ...]:
    """The nodes of a tree with other numbers."""
    nodes = []
    for node in tree.nodes:
        match node.after:
            case Choice(arms):
                after: Choice | Link | Leaf = Choice(tuple(replace(arm, node=arm.node + by) for arm in arms))
            case Link(target):
                after = Link(target + by)
            case leaf:
                after = leaf
        nodes.append(replace(node, after=after))
    return tuple(nodes)


def _passing(wait: Wait) -> frozenset[int]:
    """Every byte that ends a loop."""
    return frozenset(value for value in range(256) if value & wait.mask in wait.until)


# -- times ---------------------------------------------------------------------------------------------------------


class _Times:
    """Walks two trees that do the same together and notes where the cycles differ; facts are not needed for that."""

    def __init__(self, first: ByteTree, second: ByteTree) -> None:
        self.trees = (first, second)
        self.bits = Bits()
        self.found: dict[tuple[object, ...], TimeDifference] = {}

    def walk(self) -> tuple[TimeDifference, ...]:
        """Every event in other cycles, in the order of a walk."""
        seen = {((0, 0), (0, 0))}
        work: deque[tuple[tuple[int, int], tuple[int, int]]] = deque(seen)
        while work:
            for pair in self.follow(*work.popleft()):
                if pair not in seen:
                    seen.add(pair)
                    work.append(pair)
        return tuple(self.found.values())

    def follow(self, first: tuple[int, int], second: tuple[int, int]) -> list[tuple[tuple[int, int], tuple[int, int]]]:
        """Compare the events that two places share; the pairs of places behind them."""
        nodes = (self.trees[0].nodes[first[0]], self.trees[1].nodes[second[0]])
        at = [first[1], second[1]]
        while at[0] < len(nodes[0].events) and at[1] < len(nodes[1].events):
            one, two = nodes[0].events[at[0]], nodes[1].events[at[1]]
            if type(one) is not type(two) or (one.kind, one.address) != (two.kind, two.address):
                return []
            places = (one.program_address, two.program_address)
            self.note(str(two), places, one.cycles, two.cycles)
            if isinstance(one, Wait) and isinstance(two, Wait):
                self.note(words.period_of(two), places, one.period, two.period)
            at = [at[0] + 1, at[1] + 1]
        here = ((first[0], at[0]), (second[0], at[1]))
        ends = [at[k] == len(nodes[k].events) for k in range(2)]
        ways = [node.successors if end else () for node, end in zip(nodes, ends, strict=True)]
        # Links first, so that two choices by the same inputs meet.
        if len(ways[0]) == 1 or (ways[0] and len(ways[1]) == 0):
            return [((target, 0), here[1]) for _, target in ways[0]]
        if len(ways[1]) == 1 or (ways[1] and len(ways[0]) == 0):
            return [(here[0], (target, 0)) for _, target in ways[1]]
        if ways[0]:
            return [((a, 0), (b, 0)) for met, a in ways[0] for other, b in ways[1] if self.together(met, other)]
        last = (nodes[0].after, nodes[1].after)
        if all(ends) and isinstance(last[0], Leaf) and isinstance(last[1], Leaf) and last[0].kind is last[1].kind:
            self.note(last[0].kind.value, (last[0].address, last[1].address), last[0].cycles, last[1].cycles)
        return []

    def together(self, first: Condition | None, second: Condition | None) -> bool:
        """Whether two arms can be taken by the same inputs."""
        facts: Facts | None = NOTHING
        for condition in (first, second):
            if condition is not None and facts is not None:
                facts = assume(facts, self.bits.condition(condition))
        return facts is not None

    def note(self, text: str, places: tuple[int, int], first: CycleRange, second: CycleRange) -> None:
        """Note other cycles, once a pair of places."""
        if first != second:
            self.found.setdefault((text, *places), TimeDifference(text, *places, first, second))

"""Whether a code can be sent, and under which conditions; which inputs reach a register at all.

A code may be sent where a walk through the tree writes it and the walk's conditions can hold together.  "Never" is
said only where every walk was looked at and every path was followed to an end of the program's own.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from latchlore.base import HELD, Choice, Condition, InputKind, Wait, Write
from latchlore.program import _values as values
from latchlore.program import wording
from latchlore.program._facts import NOTHING, Bits, Facts, assume, conditions_of, keep, live_bits, reduce, solve
from latchlore.program._tidy import after_event, facts_at
from latchlore.program._values import Sym

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from latchlore.base import ByteTree, Event, InputBit
    from latchlore.program._values import Value

MAX_STATES = 100_000
"""So many (node, place in the code, facts) are looked at before the search for a witness stops."""

Belongs: TypeAlias = "Callable[[InputKind, int], bool]"


@dataclass(frozen=True, slots=True)
class Witness:
    """A walk that sends a code: `steps` in order are conditions met, loops waited for, and bytes written.

    `nodes` of the tree that was searched.  The conditions can hold together, as far as a tree tells.
    """

    nodes: tuple[int, ...]
    steps: tuple[Condition | Event, ...]

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """The conditions alone, each once."""
        return tuple(dict.fromkeys(step for step in self.steps if isinstance(step, Condition)))

    def example(self) -> tuple[Example, ...]:
        """Levels under which the walk is taken, of all bits that stay the same: arguments, RAM, straps."""
        bits = Bits()
        facts = NOTHING
        for condition in self.conditions:
            if all(bit.turn == HELD for bit in condition.bits):
                facts = assume(facts, bits.condition(condition)) or facts
        return examples({bits.bits[number]: level for number, level in solve(facts).items()})


@dataclass(frozen=True, slots=True)
class Example:
    """A byte (or wide register) with the levels of the bits in `mask`."""

    kind: InputKind
    address: int
    name: str
    value: int
    mask: int


@dataclass(frozen=True, slots=True)
class Sending:
    """The answer: `happens` True with a witness, False ("never"), or None (cannot be told).

    `grounds`: what it rests on, in sentences; under a "never" also the tree's assumptions and bounds.
    """

    happens: bool | None
    witness: Witness | None
    grounds: tuple[str, ...]


def examples(levels: Mapping[InputBit, int]) -> tuple[Example, ...]:
    """Levels of bits put together to bytes: arguments first, then RAM, then devices."""
    found: dict[tuple[InputKind, int, str], tuple[int, int]] = {}
    for bit, level in levels.items():
        value, mask = found.get(_byte_of(bit), (0, 0))
        found[_byte_of(bit)] = (value | level << bit.bit, mask | 1 << bit.bit)
    return tuple(Example(*key, *found[key]) for key in sorted(found, key=_place_key))


def may_send(tree: ByteTree, pattern: Sequence[frozenset[int]], belongs: Belongs) -> Sending:
    """Whether a program may write, one after another to the addresses meant, a byte out of each set of `pattern`.

    Refuses an empty pattern (ValueError).
    """
    if not tree.can_emit(pattern, belongs):  # no walk at all, whatever its conditions
        return _not_found(tree, wording.NO_WALK)
    search = _Search(tree, pattern, belongs)
    witness = search.run()
    if witness is not None:
        return Sending(True, witness, (wording.WITNESS,))
    if search.is_cut:
        return Sending(None, None, (wording.witness_cut(MAX_STATES),))
    return _not_found(tree, wording.NO_CONSISTENT_WALK)


def _not_found(tree: ByteTree, why: str) -> Sending:
    if tree.is_exhausted:
        grounds = (why, wording.exhausted(len(tree.nodes), tree.entry), *tree.assumptions, *tree.bounds)
        return Sending(False, None, grounds)
    ends = sorted({f"{leaf.reason} at {leaf.address:04X}" for leaf in tree.leaves if not leaf.is_done})
    return Sending(None, None, tuple(wording.not_followed(words) for words in ends))


@dataclass(frozen=True, slots=True)
class _At:
    """A place in the search: at the start of a node, with so many bytes of the code sent, and what is known."""

    node: int
    sent: int
    facts: Facts
    before: int
    steps: tuple[Condition | Event, ...]


class _Search:
    """Walks the tree and the code together, shortest way first."""

    def __init__(self, tree: ByteTree, pattern: Sequence[frozenset[int]], belongs: Belongs) -> None:
        self.tree, self.pattern, self.belongs = tree, pattern, belongs
        self.bits = Bits()
        self.live = live_bits(tree, self.bits)
        self.places: list[_At] = [_At(0, 0, NOTHING, -1, ())]
        self.is_cut = False

    def run(self) -> Witness | None:
        seen: set[tuple[object, ...]] = set()
        queue: deque[int] = deque([0])
        while queue:
            number = queue.popleft()
            place = self.places[number]
            for sent, facts, steps in self.through(place):
                if sent == len(self.pattern):
                    return self.witness(number, steps)
                for condition, target in self.tree.nodes[place.node].successors:
                    there = facts if condition is None else assume(facts, self.bits.condition(condition))
                    if there is None:
                        continue
                    there = keep(there, self.live[target])
                    key = (target, sent, there.key)
                    if key in seen:
                        continue
                    seen.add(key)
                    if len(self.places) >= MAX_STATES:
                        self.is_cut = True
                        return None
                    taken = steps if condition is None else (*steps, condition)
                    self.places.append(_At(target, sent, there, number, taken))
                    queue.append(len(self.places) - 1)
        return None

    def through(self, place: _At) -> list[tuple[int, Facts, tuple[Condition | Event, ...]]]:
        """(bytes of the code sent, facts, steps) behind a node's events; the code may begin at any write."""
        going: list[tuple[int, Facts, tuple[Condition | Event, ...]]] = [(place.sent, place.facts, ())]
        for event in self.tree.nodes[place.node].events:
            if not isinstance(event, Write):
                noted = (event,) if isinstance(event, Wait) else ()
                going = [(sent, after_event(event, facts, self.bits), (*steps, *noted)) for sent, facts, steps in going]
                continue
            if not self.belongs(event.kind, event.address):
                continue
            behind: list[tuple[int, Facts, tuple[Condition | Event, ...]]] = []
            for sent, facts, steps in going:
                if sent == len(self.pattern):
                    return [(sent, facts, steps)]
                wanted = self.wanted(event, self.pattern[sent])
                matched = assume(facts, wanted)
                if matched is not None:
                    met = () if isinstance(wanted, int) else (self.bits.as_condition(wanted),)
                    behind.append((sent + 1, matched, (*steps, *met, event)))
                if sent == 0:
                    behind.append((0, facts, steps))
            going = behind
        done = [one for one in going if one[0] == len(self.pattern)]
        return done or going

    def wanted(self, event: Write, allowed: frozenset[int]) -> Value:
        """When a write's byte is one of those allowed."""
        value = self.bits.table(event.value)
        if isinstance(value, int):
            return int(value in allowed)
        return values.make(value.vars, np.isin(value.tab, sorted(allowed)).astype(np.int32))

    def witness(self, number: int, steps: tuple[Condition | Event, ...]) -> Witness:
        """The walk back from where the code was complete."""
        nodes = []
        found = list(steps)
        while number >= 0:
            place = self.places[number]
            nodes.append(place.node)
            found = [*place.steps, *found]
            number = place.before
        return Witness(tuple(reversed(nodes)), tuple(found))


# -- what reaches a register ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Reaching:
    """One input byte and what it does to a register.

    `copies`: (input bit, register bit) where a written bit depends on the input bit; `decides`: input bits that
    choose a path on which the register is, or is not, written.  Both rising.
    """

    kind: InputKind
    address: int
    name: str
    copies: tuple[tuple[int, int], ...]
    decides: tuple[int, ...]

    @property
    def verdict(self) -> str:
        """In a word: ``reaches it``, ``decides what is written``."""
        return wording.REACHES if self.copies else wording.DECIDES


@dataclass(frozen=True, slots=True)
class Reach:
    """Every input that reaches a register, and the processor's registers that certainly do not.

    `never`: registers at the entry of which no bit does; empty where that cannot be told: `untold` are then those
    that were not seen to reach it.
    """

    found: tuple[Reaching, ...]
    never: tuple[str, ...]
    untold: tuple[str, ...]


def what_reaches(tree: ByteTree, belongs: Belongs, arguments: Sequence[str]) -> Reach:
    """Which inputs reach the addresses meant, by value or by choice; `arguments`: registers that are not known."""
    copies: dict[tuple[InputKind, int, str], set[tuple[int, int]]] = {}
    decides: dict[tuple[InputKind, int, str], set[int]] = {}
    bits = Bits()
    for at, start in facts_at(tree, bits).items():
        facts = start
        for event in tree.nodes[at].events:
            if isinstance(event, Write) and belongs(event.kind, event.address):
                for bit, out in _dependences(facts, bits.table(event.value), bits):
                    copies.setdefault(_byte_of(bit), set()).add((bit.bit, out))
            facts = after_event(event, facts, bits)
    for node in _choosing_nodes(tree, belongs):
        for condition in conditions_of(tree.nodes[node]):
            for bit in condition.bits:
                decides.setdefault(_byte_of(bit), set()).add(bit.bit)
    found = tuple(
        Reaching(*key, tuple(sorted(copies.get(key, ()))), tuple(sorted(decides.get(key, ()))))
        for key in sorted({**copies, **decides}, key=_place_key)
    )
    silent = tuple(name for name in arguments if not any(one.name == name for one in found))
    return Reach(found, silent, ()) if tree.is_exhausted else Reach(found, (), silent)


_ORDER = {InputKind.ARGUMENT: 0, InputKind.CELL: 1, InputKind.MEMORY: 2, InputKind.PORT: 3}


def _place_key(place: tuple[InputKind, int, str]) -> tuple[int, str, int]:
    """Arguments first, then RAM, then devices; by name and address."""
    return _ORDER[place[0]], place[2], place[1]


def _byte_of(bit: InputBit) -> tuple[InputKind, int, str]:
    return bit.kind, bit.address, bit.name


def _dependences(facts: Facts, value: Value, bits: Bits) -> list[tuple[InputBit, int]]:
    """(input bit, output bit) where an output bit cannot be told without the input bit, whatever the facts allow."""
    found = []
    for out in range(8):
        one = reduce(facts, (value >> out) & 1)
        if isinstance(one, Sym):
            found += [(bits.bits[v], out) for v in one.vars]
    return found


def _choosing_nodes(tree: ByteTree, belongs: Belongs) -> list[int]:
    """Nodes with a choice behind which the register may be written."""
    writes = [
        any(isinstance(event, Write) and belongs(event.kind, event.address) for event in node.events)
        for node in tree.nodes
    ]
    before: dict[int, list[int]] = {}
    for at, node in enumerate(tree.nodes):
        for _, target in node.successors:
            before.setdefault(target, []).append(at)
    work = [at for at, does in enumerate(writes) if does]
    leads: set[int] = set()
    while work:
        for source in before.get(work.pop(), ()):
            if source not in leads:
                leads.add(source)
                work.append(source)
    return sorted(at for at in leads if isinstance(tree.nodes[at].after, Choice))

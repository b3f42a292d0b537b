"""What a program can do to its devices: conditions on input bits, events, and the bytes that follow.

A `ByteTree` is a rooted graph of nodes: the tree of all runs, with equal subtrees stored once and loops as links
back.  A node is a list of events in time order and then either a choice (arms with conditions on input bits), a
link to one other node, or a leaf.  Node 0 is the root.

Reading it is safe in one direction only: a run of the real program is always a walk through the graph, but a walk
may combine conditions that cannot hold together (where paths have rejoined).  So "no walk does it" proves
"never", provided that the search was exhausted (`ByteTree.is_exhausted`), while "a walk does it" means "may".
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, TypeAlias

from latchlore.base._addresswords import describe_place
from latchlore.base._spans import CycleRange

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from latchlore.base._treewalks import Paths, Walks


class InputKind(StrEnum):
    """Where an unknown bit comes from."""

    MEMORY = "memory"  # a read of a device register in the memory space
    PORT = "port"  # a read of a device register in the port space
    ARGUMENT = "argument"  # a processor register at the entry
    CELL = "cell"  # a memory cell whose content at the entry is not known


HELD = -1
"""`InputBit.turn` of a bit that is the same on every read (a strap, a switch)."""


@dataclass(frozen=True, slots=True, order=True)
class InputBit:
    """One unknown bit.

    `address` is that of the register, port or cell (0 for an argument, which `name` tells apart: ``A``, ``X``);
    `bit` 0 to 7 (0 to 15 for wide arguments).  `turn` counts the reads of that address along the path, from 0;
    `HELD` where the bit is stated to be the same on every read, and for arguments and cells.
    """

    kind: InputKind
    address: int
    bit: int
    turn: int = HELD
    name: str = ""

    def __str__(self) -> str:
        place = self.name or describe_place(self.kind, self.address)
        return f"{place} bit {self.bit}" + (f" (read {self.turn + 1})" if self.turn >= 0 else "")


@dataclass(frozen=True, slots=True)
class Condition:
    """A truth table over up to 16 input bits.

    Bit k of `table` tells whether the condition holds when input `bits[i]` equals bit i of k, for every i.  No
    bits and table 1: always.
    """

    bits: tuple[InputBit, ...]
    table: int

    @classmethod
    def of_bit(cls, bit: InputBit, level: int) -> Condition:
        """The bit has this level."""
        return cls((bit,), 0b10 if level else 0b01)

    def holds(self, levels: dict[InputBit, int]) -> bool:
        """Whether it holds under these levels.  Refuses levels that leave one of its bits out (KeyError)."""
        index = sum(levels[bit] << i for i, bit in enumerate(self.bits))
        return bool(self.table >> index & 1)

    @property
    def count(self) -> int:
        """In how many of the 2**len(bits) cases it holds."""
        return self.table.bit_count()

    def __str__(self) -> str:
        if not self.bits or not self.table:
            return "always" if self.table else "never"
        held = [k for k in range(1 << len(self.bits)) if self.table >> k & 1]
        terms = []
        for i, bit in enumerate(self.bits):
            levels = {k >> i & 1 for k in held}
            if len(levels) == 1:
                terms.append((i, f"{bit} = {levels.pop()}"))
        fixed = sum(1 << i for i, _ in terms)
        if held and len(held) == 1 << (len(self.bits) - fixed.bit_count()):
            return " and ".join(text for _, text in terms) or "always"
        names = ", ".join(str(bit) for bit in self.bits)
        cases = " or ".join(format(k, f"0{len(self.bits)}b")[::-1] for k in held[:8])
        return f"({names}) is {cases}" + (f" or {len(held) - 8} more" if len(held) > 8 else "")


@dataclass(frozen=True, slots=True)
class ByteTable:
    """A byte as a function of up to 16 input bits: `values[k]` when `bits[i]` is bit i of k.  No bits: one value."""

    bits: tuple[InputBit, ...]
    values: tuple[int, ...]

    @classmethod
    def constant(cls, value: int) -> ByteTable:
        """A byte that depends on nothing."""
        return cls((), (value,))

    @property
    def possible(self) -> frozenset[int]:
        """Every value the byte can take."""
        return frozenset(self.values)

    def __str__(self) -> str:
        if not self.bits:
            return f"{self.values[0]:02X}"
        places = sorted({bit.name or describe_place(bit.kind, bit.address) for bit in self.bits})
        return f"one of {len(self.possible)} values by {', '.join(places)}"


@dataclass(frozen=True, slots=True)
class Write:
    """A byte written to a device.  `cycles`: from the bus cycle of the event before to this one's."""

    kind: InputKind
    address: int
    value: ByteTable
    cycles: CycleRange
    program_address: int = 0

    def __str__(self) -> str:
        return f"write {self.value} to {describe_place(self.kind, self.address)}"


@dataclass(frozen=True, slots=True)
class Read:
    """A read of a device register (once; a polling loop is a `Wait`).  `turn` counts reads of the address.

    From this event on, an `InputBit` of the same address and turn means a bit of the value read here.  `discarded`:
    the processor throws the value away (a dummy access), but the device sees the read.
    """

    kind: InputKind
    address: int
    turn: int
    cycles: CycleRange
    program_address: int = 0
    discarded: bool = False

    def __str__(self) -> str:
        return f"read {describe_place(self.kind, self.address)}"


@dataclass(frozen=True, slots=True)
class Wait:
    """A polling loop: read `address` again and again until (value and `mask`) is one of `until`.

    `period`: cycles from one read to the next; `cycles`: from the event before to the first read.  `polls`: the
    number of reads after which the loop gives up, None where it never does; a choice by the bits of the last read then
    follows.  From this event on, an `InputBit` of the same address and `turn` means a bit of the last value read.
    """

    kind: InputKind
    address: int
    mask: int
    until: tuple[int, ...]
    period: CycleRange
    cycles: CycleRange
    polls: int | None = None
    program_address: int = 0
    turn: int = 0

    def __str__(self) -> str:
        place = describe_place(self.kind, self.address)
        if self.mask.bit_count() == 1 and len(self.until) == 1:
            bit = self.mask.bit_length() - 1
            text = f"wait until {place} bit {bit} = {self.until[0] >> bit}"
        else:
            wanted = ", ".join(f"{value:02X}" for value in self.until)
            text = f"wait until {place} masked with {self.mask:02X} is {wanted}"
        return text + (f" (gives up after {self.polls} reads)" if self.polls is not None else "")


Event: TypeAlias = Write | Read | Wait


class LeafKind(StrEnum):
    """Why a path ends.  The first three are ends of the program's own; the others are places not followed."""

    RETURNED = "returns"
    ENDLESS = "runs for ever without touching a device"
    HALTED = "stops the processor"
    UNKNOWN_CODE = "runs into code that is not known"
    UNKNOWN_JUMP = "jumps to an address that is not known"
    UNDOCUMENTED = "meets an undocumented opcode"
    BOUND = "not followed further: bound reached"


OWN_ENDS = frozenset({LeafKind.RETURNED, LeafKind.ENDLESS, LeafKind.HALTED})


@dataclass(frozen=True, slots=True)
class Leaf:
    """The end of a path; `cycles` from the last event to the end."""

    kind: LeafKind
    reason: str
    address: int
    cycles: CycleRange = field(default_factory=lambda: CycleRange.exactly(0))

    @property
    def is_done(self) -> bool:
        """Whether the program itself ends here, rather than our following of it."""
        return self.kind in OWN_ENDS


@dataclass(frozen=True, slots=True)
class Arm:
    """One way out of a choice."""

    condition: Condition
    node: int


@dataclass(frozen=True, slots=True)
class Choice:
    """A choice by input bits; the arms' conditions exclude one another and cover all cases possible here."""

    arms: tuple[Arm, ...]


@dataclass(frozen=True, slots=True)
class Link:
    """Go on at another node; at one that lies before, where the program loops."""

    node: int


@dataclass(frozen=True, slots=True)
class Node:
    """Events in time order, then what comes after."""

    events: tuple[Event, ...]
    after: Choice | Link | Leaf

    @property
    def successors(self) -> tuple[tuple[Condition | None, int], ...]:
        """(condition or None, node) for each way on."""
        match self.after:
            case Choice(arms):
                return tuple((arm.condition, arm.node) for arm in arms)
            case Link(node):
                return ((None, node),)
            case _:
                return ()


@dataclass(frozen=True, slots=True)
class Path:
    """One walk from the root that explains or produces bytes.

    `conditions` in the order met; `ends`: the leaf's kind, or None where the walk was cut at a limit or at the end
    of the bytes to be explained.
    """

    nodes: tuple[int, ...]
    conditions: tuple[Condition, ...]
    written: bytes
    ends: LeafKind | None

    def held_bits(self) -> dict[InputBit, int]:
        """Input bits that the conditions fix to one level."""
        held: dict[InputBit, int] = {}
        for condition in self.conditions:
            cases = [k for k in range(1 << len(condition.bits)) if condition.table >> k & 1]
            for i, bit in enumerate(condition.bits):
                levels = {k >> i & 1 for k in cases}
                if len(levels) == 1:
                    held[bit] = levels.pop()
        return held


@dataclass(frozen=True, slots=True)
class ByteTree:
    """The graph, with what was assumed and how far it was followed.

    `assumptions` and `bounds` are sentences for people: what was stated before the search (such as ``stack and
    zero page hold what was written``) and the limits it kept to.
    """

    nodes: tuple[Node, ...]
    entry: int
    assumptions: tuple[str, ...] = ()
    bounds: tuple[str, ...] = ()

    def __str__(self) -> str:
        """What it amounts to: ``from F000: 46 events, 3 choices, followed to every end``."""
        events = sum(len(node.events) for node in self.nodes)
        choices = sum(isinstance(node.after, Choice) for node in self.nodes)
        open_ends = sum(not leaf.is_done for leaf in self.leaves)
        reach = (
            "followed to every end" if not open_ends else f"{open_ends} end{'s' if open_ends > 1 else ''} not followed"
        )
        return (
            f"from {self.entry:04X}: {events} event{'s' if events != 1 else ''}, "
            f"{choices} choice{'s' if choices != 1 else ''}, {reach}"
        )

    @property
    def leaves(self) -> tuple[Leaf, ...]:
        """All leaves, in node order."""
        return tuple(node.after for node in self.nodes if isinstance(node.after, Leaf))

    @property
    def is_exhausted(self) -> bool:
        """Whether every path was followed to an end of the program's own (a loop is a link back and is followed)."""
        return all(leaf.is_done for leaf in self.leaves)

    def iter_events(self) -> Iterator[Event]:
        """Every event, node by node."""
        for node in self.nodes:
            yield from node.events

    def possible_bytes(self, belongs: Callable[[InputKind, int], bool]) -> frozenset[int]:
        """Every byte that may be written to the addresses for which `belongs` is true."""
        values: set[int] = set()
        for event in self.iter_events():
            if isinstance(event, Write) and belongs(event.kind, event.address):
                values |= event.value.possible
        return frozenset(values)

    def can_emit(self, pattern: Sequence[frozenset[int]], belongs: Callable[[InputKind, int], bool]) -> bool:
        """Whether a walk may write, one after another to the addresses meant, a byte out of each set of `pattern`.

        False proves "never" only if `is_exhausted`.  Refuses an empty pattern.
        """
        if not pattern:
            raise ValueError("a pattern has at least one byte")
        full = 1 << len(pattern)
        seen: dict[int, int] = {}
        queue: deque[tuple[int, int]] = deque([(0, 1)])
        while queue:
            node, state = queue.popleft()
            known = seen.get(node, 0)
            if state | known == known:
                continue
            seen[node] = known | state
            for event in self.nodes[node].events:
                if isinstance(event, Write) and belongs(event.kind, event.address):
                    after = 1
                    for k, wanted in enumerate(pattern):
                        if state >> k & 1 and event.value.possible & wanted:
                            after |= 1 << (k + 1)
                    if after & full:
                        return True
                    state = after
            queue.extend((follower, state) for _, follower in self.nodes[node].successors)
        return False

    def iter_paths(
        self, belongs: Callable[[InputKind, int], bool], max_bytes: int = 4096, max_paths: int = 4096
    ) -> Walks:
        """Walks from the root with the bytes they write, depth first, arms in order.

        A walk ends at a leaf, at `max_bytes` written, or when it comes to a node for the second time without having
        written a byte in between.  A byte that depends on input bits gives one path for each value it can take.  What
        comes back says in the end whether there were more.
        """
        from latchlore.base._treewalks import Walks, walk_all

        return Walks(lambda walks: walk_all(self, belongs, max_bytes, max_paths, walks))

    def explain(
        self,
        observed: bytes,
        belongs: Callable[[InputKind, int], bool],
        max_paths: int = 64,
        max_steps: int = 200_000,
    ) -> Paths:
        """Walks that write exactly `observed` from the root on; those that end at a leaf there come first.

        A walk counts when it has written all of `observed`; where it then writes more, or goes round for ever, `ends`
        is None.  Walks whose conditions fix a held bit to both levels are left out.  `is_complete` of what comes back
        says whether the search came to its end before so many paths or steps.
        """
        from latchlore.base._treewalks import Explainer

        return Explainer(self, belongs).explain(observed, max_paths, max_steps)

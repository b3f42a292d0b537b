"""Follows every path of a program from an entry, with device bits unknown until the code looks at them."""

from __future__ import annotations

import contextlib
import gc
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import (
    HELD,
    AddressSet,
    ByteTable,
    ByteTree,
    CycleRange,
    InputBit,
    InputKind,
    Leaf,
    LeafKind,
    Progress,
    Read,
    Write,
    no_progress,
)
from latchlore.program import _core as core
from latchlore.program import _values as values
from latchlore.program import wording
from latchlore.program._bounds import Bounds
from latchlore.program._cpu import Cpu, get_cpu
from latchlore.program._diamonds import fold
from latchlore.program._graph import Cycles, Edge, Growing, finish
from latchlore.program._image import SPACE, Image
from latchlore.program._polls import count_polls, use_known
from latchlore.program._state import Key, State
from latchlore.program._symbolic import ForkError, HaltError, NeedsReadError, StopError
from latchlore.program._values import Sym, TooWideError, Value
from latchlore.program._walkrepeats import Depth, Repeats
from latchlore.program._walkstep import Stepper

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from latchlore.program._polls import Known
    from latchlore.program._replay import Measure

STRETCH = 1 << 20
MAX_VISITS = 300
MAX_DEPTH = 200  # visits of one place, the stack deeper each time
MAX_EVENTS = 64  # of a node, before it is asked whether its end is known
MAX_CHOICES = 32  # between two turns of a loop


class Explorer(Stepper):
    """One exploration.  `explore` is its public face."""

    def __init__(
        self,
        cpu: Cpu,
        images: tuple[Image, ...],
        devices: AddressSet,
        ports: AddressSet | None,
        held: Mapping[int, int],
        memory: Mapping[int, int],
        bounds: Bounds,
    ) -> None:
        super().__init__(cpu, images, devices, ports, held, memory, bounds)
        self.nodes: list[Growing] = []
        self.known: dict[Key, int] = {}
        self.loops: dict[int, Measure] = {}  # waits that give up, by the place of their read
        self.turns: dict[tuple[object, ...], list[Known]] = {}  # what is known of waits, by how they begin
        self.waits: dict[tuple[int, int], list[tuple[int, tuple[int, ...]]]] = {}  # by place and register: what waits
        self.tries: dict[tuple[object, ...], int] = {}  # how often turns of a read were not shown to be alike
        self.work: list[int] = []
        self.urgent: list[int] = []  # arms of choices: siblings come to their next read before any goes on from there
        self.is_interrupted = False
        self.entry_registers: tuple[Value, ...] | None = None  # of an interrupt routine, which has to give them back
        self.changed: set[str] = set()
        self.site = -1  # the place of the read behind which the node being expanded begins
        self.instructions = 0

    def add_node(
        self, state: State | None, read: tuple[int, ...] = (), *, parent: int = -1, urgent: bool = False
    ) -> int:
        """A node that waits to be expanded; the urgent ones first."""
        site = state.pc if read and state is not None else self.nodes[parent].site if parent >= 0 else -1
        self.nodes.append(Growing(state, read=read, parent=parent, site=site))
        if state is not None:
            (self.urgent if urgent else self.work).append(len(self.nodes) - 1)
        return len(self.nodes) - 1

    def link(self, number: int) -> int:
        """Come to a node that is there already."""
        node = self.nodes[number]
        if node.abandoned:
            node.abandoned = False
            if node.expanded:
                for edge in node.edges:
                    self.link(edge.target)
            else:
                self.work.append(number)
        return number

    def descendants(self, start: int) -> list[int]:
        """Nodes first reached by way of `start`, itself left out."""
        under = {start}
        for number in range(start + 1, len(self.nodes)):
            if self.nodes[number].parent in under:
                under.add(number)
        return sorted(under - {start})

    def run(self, progress: Progress) -> None:
        """Expand until nothing waits."""
        while self.urgent or self.work:
            at = (self.urgent or self.work).pop()
            node = self.nodes[at]
            if node.expanded or node.abandoned or node.state is None:
                continue
            if len(self.nodes) > self.bounds.nodes:
                self.leaf(node, LeafKind.BOUND, wording.too_many_nodes(self.bounds.nodes), node.state.pc, (0, 0))
                node.expanded = True
                continue
            if len(self.nodes) % 256 == 0:
                progress(len(self.nodes) - len(self.work), 0, wording.PROGRESS)
            node.expanded = True
            self.expand(at)

    def expand(self, at: int) -> None:
        """Follow a node's path to the next place where it reads a device, forks, or ends."""
        node = self.nodes[at]
        assert node.state is not None
        self.load(node.state)
        self.site = node.site
        watch = Repeats()
        while True:
            try:
                if not (self.state.answers or self.is_blocked() or self.stretch(node)):
                    return
                if len(node.events) >= MAX_EVENTS and not self.state.answers:
                    self.meet_cut(node, at)
                    return
                if watch.is_back(self, len(node.events)):
                    self.leaf(node, LeafKind.ENDLESS, wording.ENDLESS, self.state.pc, self.state.pending)
                    return
                if watch.depth.count >= MAX_DEPTH:
                    self.leaf(node, LeafKind.BOUND, wording.STACK_GROWS, self.state.pc, self.state.pending)
                    return
                if watch.steps > self.bounds.steps:
                    reason = wording.too_many_steps(self.bounds.steps)
                    self.leaf(node, LeafKind.BOUND, reason, self.state.pc, self.state.pending)
                    return
                self.single(node)
            except NeedsReadError as need:
                self.meet_read(node, at, need)
                return
            except ForkError as fork:
                if not fold(self, fork.ways):
                    self.meet_fork(node, at, fork.ways)
                    return
            except TooWideError as wide:
                self.meet_fork(node, at, self.split_widest(wide))
                return
            except HaltError as halt:
                self.meet_halt(node, at, halt)
                return
            except StopError as stop:
                if stop.kind is LeafKind.RETURNED and self.entry_registers is not None:
                    self.note_changed(self.entry_registers)
                self.leaf(node, stop.kind, stop.reason, self.state.pc, self.state.pending)
                return

    def split_widest(self, wide: TooWideError) -> list[Sym]:
        """Two ways by one of the bits of a value that depends on too many: the one met first."""
        one = values.variable(wide.variables[0])
        other = one ^ 1
        assert isinstance(other, Sym)
        return [one, other]

    def leaf(self, node: Growing, kind: LeafKind, reason: str, address: int, cycles: Cycles) -> None:
        """End a node."""
        node.leaf = Leaf(kind, reason, address, CycleRange(max(cycles[0], 0), max(cycles[1], 0)))

    def stretch(self, node: Growing) -> bool:
        """Run at full speed to an instruction that needs a closer look.  False: the path has ended."""
        taken = 0
        limit = STRETCH
        snapshot: tuple[list[int], bytes] | None = None
        visits = 0
        depth = Depth()
        while True:
            room = max(self.bounds.instructions - taken, 0)
            status, steps, wrote = self.run_core(min(limit, room), -1 if snapshot is None else snapshot[0][-1])
            taken += steps
            self.instructions += steps
            if wrote:
                self.take_log(node)
                snapshot, limit, visits = None, STRETCH, 0
            if status != core.DONE or len(node.events) >= MAX_EVENTS:
                return True
            if wrote:
                continue
            if taken >= self.bounds.instructions:
                reason = wording.too_many_instructions(self.bounds.instructions)
                self.leaf(node, LeafKind.BOUND, reason, self.state.pc, self.state.pending)
                return False
            if snapshot is None:
                snapshot, visits = (self.regs.tolist(), self.space.cells[: self.space.size].tobytes()), 0
                depth = Depth()
                continue
            visits += 1
            depth.note(self.regs[self.stack_index])
            if self.regs.tolist() == snapshot[0] and self.space.cells[: self.space.size].tobytes() == snapshot[1]:
                reason = wording.ENDLESS_STACK if depth.count else wording.ENDLESS
                self.leaf(node, LeafKind.ENDLESS, reason, self.state.pc, self.state.pending)
                return False
            if depth.count >= MAX_DEPTH:
                self.leaf(node, LeafKind.BOUND, wording.STACK_GROWS, self.state.pc, self.state.pending)
                return False
            if visits >= MAX_VISITS:  # a loop that is getting somewhere: look again later
                snapshot, limit = None, max(STRETCH, taken)

    def take_log(self, node: Growing) -> None:
        """Turn the core's log into events."""
        book = self.book
        last = 0
        pending = self.state.pending
        count = int(book[core.NUM_LOGGED])
        rows = book[core.LOG_ROWS : core.LOG_ROWS + 5 * count].reshape(-1, 5).tolist()
        for _, address, value, cycle, pc in rows:
            passed = cycle - last
            last = cycle
            cycles = CycleRange(max(pending[0] + passed, 0), max(pending[1] + passed, 0))
            kind, place = _place(address if address < SPACE else SPACE | (address & self.bounds.port_mask))
            node.events.append(Write(kind, place, ByteTable.constant(value), cycles, pc))
            pending = (0, 0)
        rest = int(book[core.CYCLES]) - last
        self.state.pending = (pending[0] + rest, pending[1] + rest)

    def single(self, node: Growing) -> None:
        """Do the instruction at PC over unknown values."""
        pc = self.state.pc
        outcome = self.step()
        told = self.commit(outcome)
        self.instructions += 1
        pending = self.state.pending
        last = (0, 0)
        for address, value, (low, high) in told:
            cycles = CycleRange(max(pending[0] + low - last[0], 0), max(pending[1] + high - last[1], 0))
            kind, place = _place(address)
            node.events.append(Write(kind, place, self.table(value), cycles, pc))
            pending, last = (0, 0), (low, high)
        self.state.pending = (pending[0] + outcome.cycles[0] - last[0], pending[1] + outcome.cycles[1] - last[1])

    def meet_read(self, node: Growing, at: int, need: NeedsReadError) -> None:
        """End a node with a device read; the next one begins with its answer."""
        self.tidy()
        self.blur()
        kind, place = _place(need.address)
        turn = self.free_turn(kind, place)
        low, high = need.offset
        pending = self.state.pending
        cycles = CycleRange(max(pending[0] + low, 0), max(pending[1] + high, 0))
        node.events.append(Read(kind, place, turn, cycles, self.state.pc, discarded=not need.used))
        answer: Value = 0
        read: tuple[int, ...] = ()
        if need.used:
            port = SPACE + (place & self.bounds.port_mask)
            mask = self.held.get(place if kind is InputKind.MEMORY else port, 0)
            answer = values.substitute(self.numbered_byte(kind, place, turn, mask), self.state.forced)
            bits = (InputBit(kind, place, k, HELD if mask >> k & 1 else turn) for k in range(8))
            read = tuple(self.numbers[bit] for bit in bits)
        self.state.answers = (*self.state.answers, answer)
        self.state.pending = (-high, -low)
        key = self.state.key()
        if key not in self.known:
            self.known[key] = self.add_node(self.freeze(), read, parent=at)
            self.count_turns(self.known[key])
            address = place if kind is InputKind.MEMORY else SPACE + place
            if (self.state.pc, address) in self.waits and self.nodes[-1].leaf is None:
                use_known(self, self.known[key], address)
        target = self.link(self.known[key])
        node.edges = [Edge(None, target, (0, 0))]
        if self.nodes[target].leaf is None and self.nodes[target].polling is None:
            count_polls(self, at, target)

    def count_turns(self, number: int) -> None:
        """Give up on a loop of reads that was unrolled for too long."""
        node = self.nodes[number]
        pc = self.state.pc
        here = node.parent
        for _ in range(MAX_CHOICES):
            before = self.nodes[here]
            if here < 0 or any(isinstance(event, Write) for event in before.events):
                return
            if before.read and before.state is not None and before.state.pc == pc:
                node.turns = before.turns + 1
                break
            here = before.parent
        if node.turns > self.bounds.turns:
            self.leaf(node, LeafKind.BOUND, wording.too_many_turns(pc, self.bounds.turns), pc, (0, 0))
            node.expanded = True

    def meet_fork(self, node: Growing, at: int, ways: list[Sym]) -> None:
        """End a node with a choice."""
        self.tidy()
        self.blur(ways)
        pending = self.state.pending
        self.state.pending = (0, 0)
        key = ("fork", *self.state.key())
        if key not in self.known:
            self.known[key] = self.add_fork(self.freeze(), ways, at)
        node.edges = [Edge(None, self.link(self.known[key]), pending)]

    def meet_cut(self, node: Growing, at: int) -> None:
        """End a long node; where the state is known, the program goes round and writes for ever."""
        touches = node.touches + len(node.events)
        if touches > self.bounds.events:
            reason = wording.too_many_events(self.bounds.events)
            self.leaf(node, LeafKind.BOUND, reason, self.state.pc, self.state.pending)
            return
        self.tidy()
        pending = self.state.pending
        self.state.pending = (0, 0)
        key = ("cut", *self.state.key())
        if key not in self.known:
            self.known[key] = self.add_node(self.freeze(), parent=at)
            self.nodes[self.known[key]].touches = touches
        node.edges = [Edge(None, self.link(self.known[key]), pending)]

    def meet_halt(self, node: Growing, at: int, halt: HaltError) -> None:
        """Stop at an instruction that waits for an interrupt, or go on behind it where one may come."""
        if not self.is_interrupted:
            self.leaf(node, halt.kind, halt.reason, self.state.pc, self.state.pending)
            return
        if not halt.is_plain:
            self.leaf(node, LeafKind.BOUND, wording.HALT_NOT_FOLLOWED, self.state.pc, self.state.pending)
            return
        label = f"an interrupt at {self.state.pc:04X}"
        comes = values.variable(self.fresh(label, 0, 1)[0])
        waits = comes ^ 1
        assert isinstance(waits, Sym)
        self.state.registers = (*self.state.registers[:-1], halt.after)
        self.tidy()
        pending = (self.state.pending[0] + halt.cycles[0], self.state.pending[1] + halt.cycles[1])
        self.state.pending = (0, 0)
        key = ("halt", *self.state.key())
        if key not in self.known:
            number = self.known[key] = self.add_node(None, parent=at)
            onward = self.add_node(self.freeze(), parent=number)
            self.nodes[number].edges = [Edge(comes, onward, (0, 0)), Edge(waits, number, halt.cycles)]
            self.nodes[number].expanded = True
        node.edges = [Edge(None, self.link(self.known[key]), pending)]

    def note_changed(self, before: tuple[Value, ...]) -> None:
        """Note which registers an interrupt routine does not give back; those that its return takes back are."""
        code = self.cpu.code_at(lambda place: self.space.memory[place], self.state.pc)
        taken = self.cpu.rows[code].print.may_write
        for name, old, new in zip(self.names[:-1], before, self.state.registers, strict=False):
            same = old == new if isinstance(old, int) or isinstance(new, int) else old.key == new.key
            if not same and name not in taken and name not in self.cpu.volatile:
                self.changed.add(name)

    def ram_written(self) -> frozenset[int]:
        """Cells of RAM written by any path, those left out that lie below the stack pointer of the entry."""
        low, high = self.cpu.below(self.base)
        if not self.cpu.stack_page:
            low = max(high - 0x100, 0)  # calls, pushes, and what the routine keeps there
        return frozenset(at for at in self.space.ever_written() if not low <= at < high)

    def add_fork(self, state: State, ways: list[Sym], parent: int) -> int:
        """A node that is nothing but a choice; its arms wait to be expanded."""
        number = self.add_node(None, parent=parent)
        arms = []
        for way in ways:
            branch = self.constrain(state, way)
            if branch is not None:
                arms.append((way, branch))
        edges = [
            Edge(way, self.add_node(branch, parent=number, urgent=True), (0, 0)) for way, branch in reversed(arms)
        ][::-1]
        if len(edges) == 1:
            edges[0].condition = None
        self.nodes[number].edges = edges
        self.nodes[number].expanded = True
        return number


def _place(address: int) -> tuple[InputKind, int]:
    """Memory or port, and the address; in the core's log a port has all sixteen lines."""
    return (InputKind.MEMORY, address) if address < SPACE else (InputKind.PORT, address - SPACE)


@contextlib.contextmanager
def _collector_paused() -> Iterator[None]:
    """Many small values that stay, none in circles: searching them for circles again and again only takes time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def explore(
    images: Sequence[Image],
    entry: int,
    devices: AddressSet,
    *,
    cpu: str = "6502",
    ports: AddressSet | None = None,
    held: Mapping[int, int] | None = None,
    arguments: Mapping[str, int] | None = None,
    memory: Mapping[int, int] | None = None,
    interrupts: Sequence[int] = (),
    assumptions: Sequence[str] = (),
    bounds: Bounds | None = None,
    progress: Progress = no_progress,
) -> ByteTree:
    """Follow every path from an entry to its ends.

    `devices`: addresses of device registers; all else outside of the images is RAM of unknown content.  `ports`: the
    device ports of a processor that has ports, all where None.  `held`: device address (a port: its number plus 10000h)
    → mask of bits that are the same on every read.  `arguments`: registers and flags of known value at the entry; the
    others are unknown.  `memory`: RAM bytes known at the entry.  `interrupts`: entries of routines that may interrupt
    the program anywhere; cycles leave them out.  `assumptions` are carried along as they are.  Refuses an entry outside
    of the images.
    """
    from latchlore.program._entry import check_entry, entry_state, sentences
    from latchlore.program._interrupts import ENABLES, Followed, Shared, explore_interrupted

    processor = get_cpu(cpu)
    limits = bounds or Bounds()
    loaded = tuple(images)
    for at in interrupts:
        check_entry(loaded, at)
    kept, stated, cells = held or {}, arguments or {}, memory or {}
    assumed = (*sentences(processor, loaded, devices, kept, stated, cells, interrupts), *assumptions)

    def follow(start: int, shared: Shared, is_routine: bool) -> Followed:
        explorer = Explorer(processor, loaded, devices, ports, kept, {} if is_routine else cells, limits)
        explorer.space.share(shared.cells, shared.unknown)
        explorer.shared, explorer.is_interrupted = shared.cells, bool(interrupts)
        explorer.space.ever = np.zeros_like(explorer.space.written) if interrupts else None
        state = entry_state(explorer, loaded, start, {} if is_routine else stated)
        if is_routine:
            explorer.entry_registers = state.registers
            explorer.liveness.keeps = True
        explorer.add_node(state)
        with _collector_paused():
            explorer.run(progress)
            tree = finish(explorer.nodes, explorer.bits, start, assumed, limits.sentences())
        written = explorer.ram_written() if interrupts else frozenset()
        return Followed(tree, written, tuple(sorted(explorer.changed - ENABLES)))

    if not interrupts:
        return follow(entry, Shared(), False).tree
    loads = {at for image in loaded if image.writable for at in range(image.load, image.last + 1)}
    return explore_interrupted(entry, interrupts, follow, frozenset(loads | cells.keys()))

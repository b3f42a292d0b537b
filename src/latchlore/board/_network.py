"""A board made ready for evaluation: nets by index, blocks by their nets, drivers, and an order of evaluation."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from latchlore.board._board import Direction, PinAt
from latchlore.board._functions import buffer_gate
from latchlore.board._loops import Loop, fold_group
from latchlore.board._parts import Block, Role

if TYPE_CHECKING:
    from latchlore.board._board import Board, Connector, ConnectorPin, Pull, Strap


@dataclass(slots=True)
class NetNode:
    """One net of the network.

    `rail`: 0 ground, 1 supply.  `drivers`: (block, output index).  `outside`: something not on the board may drive
    it.  `mystery`: pins that may drive it but are not understood.  `straps`: (strap, level of the rail it leads to).
    """

    name: str
    pins: list[PinAt] = field(default_factory=list)
    rail: int | None = None
    drivers: list[tuple[int, int]] = field(default_factory=list)
    sinks: list[tuple[int, int]] = field(default_factory=list)
    pulls: list[Pull] = field(default_factory=list)
    straps: list[tuple[Strap, int]] = field(default_factory=list)
    mystery: list[PinAt] = field(default_factory=list)
    plugs: list[tuple[Connector, ConnectorPin]] = field(default_factory=list)
    host: str = ""
    outside: bool = False
    untraced: bool = False
    loose: bool = False


@dataclass(slots=True)
class BlockNode:
    """One block on the board: the part's name and the nets of its pins."""

    part: str
    block: Block
    inputs: tuple[int, ...]
    outputs: tuple[int, ...]
    at_in: tuple[PinAt, ...] = ()  # where a block stands for gates of several parts
    at_out: tuple[PinAt, ...] = ()

    def out_pin(self, output: int) -> PinAt:
        """The pin of an output, by index."""
        return self.at_out[output] if self.at_out else PinAt(self.part, self.block.outputs[output])

    def in_pin(self, index: int) -> PinAt:
        """The pin of an input, by index."""
        return self.at_in[index] if self.at_in else PinAt(self.part, self.block.inputs[index])


@dataclass(slots=True)
class Network:
    """The board as a graph.  `order` lists groups of block indices; a group of more than one is a feedback loop."""

    board: Board
    nets: list[NetNode]
    blocks: list[BlockNode]
    order: list[tuple[int, ...]]
    index: dict[PinAt, int]
    host: dict[str, int]
    loops: tuple[Loop, ...] = ()
    kept: dict[str, frozenset[int]] = field(default_factory=dict)  # what is asked for again and again


def build_network(board: Board) -> Network:
    """The network of a board.  Straps that are joined join their nets; those to a rail are kept as straps."""
    return _Builder(board).build()


class _Builder:
    def __init__(self, board: Board) -> None:
        self.board = board
        self.nets: list[NetNode] = []
        self.index: dict[PinAt, int] = {}
        self.blocks: list[BlockNode] = []

    def build(self) -> Network:
        self._make_nets()
        self._mark_rails()
        self._join_straps()
        self._add_plugs()
        self._add_parts()
        self._add_links()
        for pull in self.board.pulls:
            node = self._by_name(pull.net)
            if node is not None:
                node.pulls.append(pull)
        host = {node.host: k for k, node in enumerate(self.nets) if node.host}
        order, loops = self._fold_loops(_order(self.nets, self.blocks))
        return Network(self.board, self.nets, self.blocks, order, self.index, host, loops)

    def _fold_loops(self, order: list[tuple[int, ...]]) -> tuple[list[tuple[int, ...]], tuple[Loop, ...]]:
        """Put one storing block in the place of each latch that is made of gates."""
        loops: list[Loop] = []
        gone: set[int] = set()
        for group in order:
            if len(group) == 1 and not set(self.blocks[group[0]].outputs) & set(self.blocks[group[0]].inputs):
                continue
            if any(self.blocks[b].block.step is not None or self.blocks[b].block.enable is not None for b in group):
                continue  # ways through storing blocks and buses are loops of the drawing only
            found = fold_group(self.nets, self.blocks, group)
            if isinstance(found, Loop):
                loops.append(found)
                continue
            loops.append(found.loop)
            gone |= found.group
            part = found.at_out[0].owner
            self._add_block(BlockNode(part, found.block, found.inputs, found.outputs, found.at_in, found.at_out))
        if not gone:
            return order, tuple(loops)
        kept = [block for k, block in enumerate(self.blocks) if k not in gone]
        self.blocks = []
        for node in self.nets:
            node.drivers, node.sinks = [], []
        for block in kept:
            self._add_block(block)
        return _order(self.nets, self.blocks), tuple(loops)

    def _by_name(self, name: str) -> NetNode | None:
        for net in self.board.nets:
            if net.name == name and net.pins:
                return self.nets[self.index[net.pins[0]]]
        return None

    def _make_nets(self) -> None:
        signals = self.board.host_signals()
        for net in self.board.nets:
            node = NetNode(net.name, list(net.pins))
            if net.name in signals:
                node.host = net.name
            elif any(at in self.board.not_traced for at in net.pins):
                node.untraced = True  # traced in part only: its driver has not been found
            for at in net.pins:
                self.index[at] = len(self.nets)
            self.nets.append(node)

    def _net_at(self, at: PinAt) -> int:
        """The net of a pin; a pin in no net gets one of its own."""
        if at not in self.index:
            node = NetNode(str(at), [at])
            node.untraced = at in self.board.not_traced
            node.loose = not node.untraced
            self.index[at] = len(self.nets)
            self.nets.append(node)
        return self.index[at]

    def _mark_rails(self) -> None:
        types = {part.name: part.type for part in self.board.parts}
        plug_pins = {(c.name, p.number): p.direction for c in self.board.connectors for p in c.pins}
        for node in self.nets:
            if node.name in ("gnd", "vcc"):
                node.rail = int(node.name == "vcc")
            for at in node.pins:
                if node.rail is not None:
                    break
                role = types[at.owner].pin(at.pin).role if at.owner in types else None
                direction = plug_pins.get((at.owner, at.pin))
                if role is Role.GROUND or direction is Direction.GROUND:
                    node.rail = 0
                elif role is Role.POWER or direction is Direction.POWER:
                    node.rail = 1

    def _join_straps(self) -> None:
        for strap in self.board.straps:
            ends = [self._net_at(PinAt(strap.name, k)) for k in range(1, strap.size + 1)]
            rails = [self.nets[k].rail for k in ends]
            for a in range(strap.size):
                for b in range(strap.size):
                    if a != b and abs(a - b) == 1 and rails[b] is not None and rails[a] is None:
                        self.nets[ends[a]].straps.append((strap, rails[b] or 0))
            if strap.joined:
                a, b = (ends[k - 1] for k in strap.joined)
                if self.nets[a].rail is None and self.nets[b].rail is None:
                    self._merge(a, b)

    def _merge(self, keep: int, gone: int) -> None:
        if keep == gone:
            return
        one, other = self.nets[keep], self.nets[gone]
        if other.host or (other.name in self.board.host_signals() and not one.host):
            one, other, keep, gone = other, one, gone, keep
        one.pins += other.pins
        one.straps += other.straps
        for at in other.pins:
            self.index[at] = keep
        other.pins = []

    def _add_plugs(self) -> None:
        for plug in self.board.connectors:
            for pin in plug.pins:
                if pin.direction in (Direction.GROUND, Direction.POWER, Direction.NONE):
                    continue
                at = PinAt(plug.name, pin.number)
                if at not in self.index and at in self.board.open_pins:
                    continue
                node = self.nets[self._net_at(at)]
                node.plugs.append((plug, pin))
                if plug.is_host and not node.host:
                    node.host = pin.signal
                if pin.direction in (Direction.IN, Direction.BOTH):
                    node.outside = True

    def _add_parts(self) -> None:
        for part in self.board.parts:
            for block in part.type.blocks:
                inputs = tuple(self._net_at(PinAt(part.name, pin)) for pin in block.inputs)
                outputs = tuple(self._net_at(PinAt(part.name, pin)) for pin in block.outputs)
                self._add_block(BlockNode(part.name, block, inputs, outputs))
            if part.type.name.startswith("unknown") or part.type.name in ("transistor", "diode"):
                for pin in part.type.pins:
                    at = PinAt(part.name, pin.number)
                    if at in self.index and pin.role not in (Role.INPUT, Role.OUTPUT):
                        self.nets[self.index[at]].mystery.append(at)

    def _add_block(self, node: BlockNode) -> None:
        number = len(self.blocks)
        self.blocks.append(node)
        for k, net in enumerate(node.inputs):
            self.nets[net].sinks.append((number, k))
        for k, net in enumerate(node.outputs):
            self.nets[net].drivers.append((number, k))

    def _add_links(self) -> None:
        """A resistor to a rail pulls; one between two nets passes the level to the side that nothing drives."""
        from latchlore.board._board import Pull

        for part in self.board.parts:
            if part.type.name not in ("resistor", "inductor", "fuse"):
                continue
            ends = [PinAt(part.name, 1), PinAt(part.name, 2)]
            if not all(at in self.index for at in ends):
                continue
            a, b = (self.index[at] for at in ends)
            for here, there in ((a, b), (b, a)):
                rail = self.nets[there].rail
                if self.nets[here].rail is not None:
                    continue
                if rail is not None:
                    self.nets[here].pulls.append(Pull(self.nets[here].name, rail, part.words, part.origin))
                elif not self.nets[here].drivers and not self.nets[here].outside and not self.nets[here].host:
                    block = Block((1,), (2,), buffer_gate) if here == b else Block((2,), (1,), buffer_gate)
                    self._add_block(BlockNode(part.name, block, (there,), (here,)))


def _order(nets: list[NetNode], blocks: list[BlockNode]) -> list[tuple[int, ...]]:
    """Strongly connected groups of blocks, what feeds others first (Tarjan's method without recursion)."""
    feeds_from = [sorted({d for net in block.inputs for d, _ in nets[net].drivers}) for block in blocks]
    number: dict[int, int] = {}
    low: dict[int, int] = {}
    on_stack: set[int] = set()
    stack: list[int] = []
    groups: list[tuple[int, ...]] = []
    for root in range(len(blocks)):
        if root in number:
            continue
        work = [(root, 0)]
        while work:
            here, at = work.pop()
            if at == 0:
                number[here] = low[here] = len(number)
                stack.append(here)
                on_stack.add(here)
            descended = False
            for k in range(at, len(feeds_from[here])):
                there = feeds_from[here][k]
                if there not in number:
                    work += [(here, k + 1), (there, 0)]
                    descended = True
                    break
                if there in on_stack:
                    low[here] = min(low[here], number[there])
            if descended:
                continue
            if low[here] == number[here]:
                group = []
                while True:
                    top = stack.pop()
                    on_stack.discard(top)
                    group.append(top)
                    if top == here:
                        break
                groups.append(tuple(sorted(group)))
            if work:
                low[work[-1][0]] = min(low[work[-1][0]], low[here])
    return groups

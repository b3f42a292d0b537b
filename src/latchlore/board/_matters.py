"""Which address lines can matter to a register at all, and which cannot, by what is wired to what.

This holds whatever an unknown chip does inside: a line that leads to none of its inputs cannot matter through it.
Where a pin on the way is not traced, a line could be joined there, and none can be excluded.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.board._board import PinAt
from latchlore.board._parts import Timing

if TYPE_CHECKING:
    from collections.abc import Iterable

    from latchlore.board._network import Network


class Matters(NamedTuple):
    """What a register looks at: address lines, lowest first, and other host lines, sorted.

    `open_at`: pins not traced on the way, by which any other line could still come in; empty where none could.
    """

    lines: tuple[int, ...]
    controls: tuple[str, ...]
    open_at: tuple[str, ...]

    @property
    def is_closed(self) -> bool:
        """Whether a line that is not named cannot matter."""
        return not self.open_at


NOTHING_MATTERS = Matters((), (), ())


def what_matters(network: Network, causes: Iterable[int]) -> Matters:
    """Everything behind the nets `causes`, through all that drives or may drive them."""
    chips = {part.name: part.type for part in network.board.parts}
    lines: set[int] = set()
    controls: set[str] = set()
    open_at: set[str] = set()
    seen: set[int] = set()
    stack = list(causes)
    while stack:
        net = stack.pop()
        if net in seen:
            continue
        seen.add(net)
        node = network.nets[net]
        if node.rail is not None:
            continue
        if node.untraced:
            open_at.add(node.name)
        if node.host:
            if node.host[:1] == "a" and node.host[1:].isdigit():
                lines.add(int(node.host[1:]))
            elif not (node.host[:1] == "d" and node.host[1:].isdigit()):
                controls.add(node.host)
            if not node.drivers:
                continue
        for block, _ in node.drivers:
            stack += control_nets(network, block) if _is_edged(network, block) else network.blocks[block].inputs
        for at in node.mystery:
            for pin in chips[at.owner].pins:
                other = PinAt(at.owner, pin.number)
                if other in network.index:
                    stack.append(network.index[other])
                elif other in network.board.not_traced:
                    open_at.add(str(other))
    return Matters(tuple(sorted(lines)), tuple(sorted(controls)), tuple(sorted(open_at)))


def control_nets(network: Network, number: int) -> frozenset[int]:
    """The nets at a block's inputs, but for those that are only ever taken as data."""
    name = f"controls of block {number}"
    if name not in network.kept:
        node = network.blocks[number]
        data = {c.data for c in node.block.captures} - {c.clock for c in node.block.captures}
        network.kept[name] = frozenset(net for k, net in enumerate(node.inputs) if k not in data)
    return network.kept[name]


def side_nets(network: Network, passed: set[PinAt]) -> set[int]:
    """The nets at the inputs of the blocks that a way passes, but for those the way itself came through."""
    nets: set[int] = set()
    through = {network.index[at] for at in passed if at in network.index}
    for number, node in enumerate(network.blocks):
        if not through.isdisjoint(node.outputs) and any(node.out_pin(k) in passed for k in range(len(node.outputs))):
            came = {net for k, net in enumerate(node.inputs) if node.in_pin(k) in passed}
            nets |= control_nets(network, number) - came
    return nets


def _is_edged(network: Network, number: int) -> bool:
    """Whether a block takes its data at edges only, so that the data of one access do not pass through it."""
    captures = network.blocks[number].block.captures
    return bool(captures) and all(capture.timing in (Timing.RISE, Timing.FALL) for capture in captures)


def matters_words(matters: Matters, lines: int) -> str:
    """Which address lines of so many can matter and which cannot."""
    able = _ranges(matters.lines)
    if not matters.is_closed:
        more = "" if len(matters.open_at) == 1 else f" and {len(matters.open_at) - 1} more pins"
        seen = able or "none"
        return f"no address line can be excluded, because {matters.open_at[0]}{more} is not traced; seen so far: {seen}"
    rest = _ranges([line for line in range(lines) if line not in matters.lines])
    if not able:
        return "no address line can matter"
    return f"address lines that can matter: {able}" + (f"; {rest} cannot" if rest else "")


def _ranges(lines: Iterable[int]) -> str:
    """Lines as ``a0, a4 to a7``."""
    runs: list[list[int]] = []
    for line in lines:
        if runs and runs[-1][-1] == line - 1:
            runs[-1].append(line)
        else:
            runs.append([line])
    return ", ".join(
        f"a{run[0]} to a{run[-1]}" if len(run) > 2 else ", ".join(f"a{line}" for line in run) for run in runs
    )

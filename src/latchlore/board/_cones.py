"""Address lines that reach the rest of a board through one net only: that net stands for all of them.

Where a gate looks at eight address lines and nothing else does, the rest of the board sees one bit.  Evaluating with
that bit in place of the lines is exact, and keeps wide address spaces small: the addresses are put back afterwards.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import AddressSet
from latchlore.board._levels import Levels, known, line_plane
from latchlore.board._parts import Role

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.board._network import Network

MAX_CONE = 20
"""Most address lines behind one net."""


class Cone(NamedTuple):
    """A net that stands for address lines: `low` and `high` are its addresses over these lines alone."""

    net: int
    lines: tuple[int, ...]
    low: AddressSet
    high: AddressSet


class _Shape(NamedTuple):
    lines: frozenset[int]
    blocks: frozenset[int]


_NOTHING = _Shape(frozenset(), frozenset())


def find_cones(network: Network, lines: Sequence[int]) -> list[Cone]:
    """Cones that share no address line, the widest first, then by net; each replaces at least two lines."""
    nets = {network.host[f"a{line}"]: line for line in lines}
    shapes: dict[int, _Shape | None] = {}
    found = []
    for net in range(len(network.nets)):
        shape = _shape(network, net, nets, shapes)
        if shape is not None and 2 <= len(shape.lines) <= MAX_CONE and _is_closed(network, net, shape, nets):
            found.append((net, shape))
    taken: set[int] = set()
    cones = []
    for net, shape in sorted(found, key=lambda pair: (-len(pair[1].lines), pair[0])):
        if taken.isdisjoint(shape.lines):
            taken |= shape.lines
            cones.append(_cone(network, net, shape))
    return cones


def _shape(network: Network, net: int, nets: dict[int, int], shapes: dict[int, _Shape | None]) -> _Shape | None:
    """The address lines and blocks behind a net; None where anything else stands there."""
    if net in shapes:
        return shapes[net]
    shapes[net] = None  # a loop is no cone
    node = network.nets[net]
    if net in nets:
        shape: _Shape | None = _Shape(frozenset((nets[net],)), frozenset())
    elif node.rail is not None:
        shape = _NOTHING
    else:
        shape = _behind_driver(network, net, nets, shapes)
    shapes[net] = shape
    return shape


def _behind_driver(network: Network, net: int, nets: dict[int, int], shapes: dict[int, _Shape | None]) -> _Shape | None:
    node = network.nets[net]
    if len(node.drivers) != 1 or node.host or node.outside or node.mystery:
        return None
    number = node.drivers[0][0]
    block = network.blocks[number].block
    if block.step is not None or block.enable is not None or block.drive is not Role.OUTPUT:
        return None
    inputs = [_shape(network, one, nets, shapes) for one in network.blocks[number].inputs]
    if any(one is None for one in inputs):
        return None
    known_shapes = [one for one in inputs if one is not None]
    return _Shape(
        frozenset().union(*(one.lines for one in known_shapes)),
        frozenset((number,)).union(*(one.blocks for one in known_shapes)),
    )


def _is_closed(network: Network, net: int, shape: _Shape, nets: dict[int, int]) -> bool:
    """Whether nothing outside the cone looks at the lines, or at any net inside but the last."""
    inner = {one for one, line in nets.items() if line in shape.lines}
    inner |= {out for number in shape.blocks for out in network.blocks[number].outputs}
    inner.discard(net)
    for one in inner:
        node = network.nets[one]
        if any(block not in shape.blocks for block, _ in node.sinks):
            return False
        if node.plugs and any(not plug.is_host for plug, _ in node.plugs):
            return False
    return True


def _cone(network: Network, net: int, shape: _Shape) -> Cone:
    lines = tuple(sorted(shape.lines))
    full = (1 << (1 << len(lines))) - 1
    levels: dict[int, Levels] = {
        network.host[f"a{line}"]: known(line_plane(k, len(lines)), full) for k, line in enumerate(lines)
    }

    def level(one: int) -> Levels:
        if one not in levels:
            node = network.nets[one]
            if node.rail is not None:
                levels[one] = Levels(0, full) if node.rail else Levels(full, 0)
            else:
                number, output = node.drivers[0]
                inputs = [level(source) for source in network.blocks[number].inputs]
                levels[one] = network.blocks[number].block.function(*inputs)[output]
        return levels[one]

    high = level(net).sure1
    return Cone(net, lines, AddressSet.from_table(full & ~high, len(lines)), AddressSet.from_table(high, len(lines)))


def spread(addresses: AddressSet, lines: Sequence[int]) -> list[tuple[int, int]]:
    """The cubes of a set over a few lines (lowest first) as cubes of the whole address."""
    cubes = []
    for care, value in addresses.cubes:
        wide_care = wide_value = 0
        for k, line in enumerate(lines):
            wide_care |= (care >> k & 1) << line
            wide_value |= (value >> k & 1) << line
        cubes.append((wide_care, wide_value))
    return cubes

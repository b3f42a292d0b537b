"""One kind of bus access, evaluated over the address lines that matter."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

from latchlore.base import AddressSet, Unsupported
from latchlore.board._cones import Cone, find_cones, spread
from latchlore.board._evaluate import Phase, evaluate
from latchlore.board._levels import known, line_plane

if TYPE_CHECKING:
    from latchlore.board._board import Cycle
    from latchlore.board._levels import Levels
    from latchlore.board._network import Network

MAX_LINES = 22
"""Most address lines that may matter together; each doubles the planes."""

SPLIT_ABOVE = 16
"""With more address lines than this, nets that stand for several of them are looked for."""


@dataclass(slots=True)
class Access:
    """A cycle's levels at rest and during the access, and which address lines count.

    Bit k of a plane is the situation in which line `lines[j]` has the value of bit j of k; the bits of k above these
    are the levels of the nets of `cones`, which stand for the lines behind them.
    """

    cycle: Cycle
    lines: tuple[int, ...]
    full: int
    rest: Phase
    active: Phase
    cones: tuple[Cone, ...] = ()
    _sets: dict[int, AddressSet] = field(default_factory=dict)

    def addresses(self, plane: int) -> AddressSet:
        """The plane as a set of addresses of the cycle's width."""
        found = self._sets.get(plane)
        if found is None:
            count = len(self.lines) + len(self.cones)
            small = AddressSet.from_table(plane, count).cubes if count else ((0, 0),) if plane else ()
            fixed = ((1 << self.cycle.width) - 1) & ~((1 << self.cycle.lines) - 1)
            cubes = []
            for care, value in small:
                wide_care, wide_value = fixed, self.cycle.base & fixed
                for k, line in enumerate(self.lines):
                    wide_care |= (care >> k & 1) << line
                    wide_value |= (value >> k & 1) << line
                cubes += self._with_cones(care >> len(self.lines), value >> len(self.lines), wide_care, wide_value)
            if self.cones:
                found = self._sets[plane] = AddressSet.of_cubes(cubes, self.cycle.width)
                return found
            # Lines are spread out in their order, so that the cubes stay disjoint and in canonical order.
            found = self._sets[plane] = AddressSet(self.cycle.width, tuple(cubes))
        return found

    def _with_cones(self, care: int, value: int, wide_care: int, wide_value: int) -> list[tuple[int, int]]:
        """A cube with the addresses behind each net that it cares for."""
        cubes = [(wide_care, wide_value)]
        for k, cone in enumerate(self.cones):
            if care >> k & 1:
                behind = spread(cone.high if value >> k & 1 else cone.low, cone.lines)
                cubes = [(c | more, v | levels) for c, v in cubes for more, levels in behind]
        return cubes


@lru_cache(maxsize=64)
def _line_levels(line: int, lines: int) -> Levels:
    """The levels of one address line; the same object each time, so that phases share what follows from it."""
    return known(line_plane(line, lines), (1 << (1 << lines)) - 1)


def evaluate_cycle(network: Network, cycle: Cycle, shared: dict[int, Phase] | None = None) -> Access:
    """Both phases of a cycle.  Refuses more address lines than can be computed together.

    `shared` keeps work between the cycles of one network.
    """
    lines = cone_lines(network, cycle)
    cones = tuple(find_cones(network, lines)) if len(lines) > SPLIT_ABOVE else ()
    behind = {line for cone in cones for line in cone.lines}
    lines = tuple(line for line in lines if line not in behind)
    count = len(lines) + len(cones)
    if count > MAX_LINES:
        raise Unsupported(cycle.origin, f"{count} address lines matter together; {MAX_LINES} can be computed")
    full = (1 << (1 << count)) - 1
    rest: dict[int, Levels] = {}
    for k, variable in enumerate([network.host[f"a{line}"] for line in lines] + [cone.net for cone in cones]):
        rest[variable] = _line_levels(k, count)
    active = dict(rest)
    shared = {} if shared is None else shared
    like = shared.setdefault(full, Phase(network, full))
    for signal, resting, acting in cycle.controls:
        net = network.host.get(signal)
        if net is not None:
            rest[net], active[net] = like.rails[resting], like.rails[acting]
    is_write = cycle.direction == "write"
    if is_write:
        for net in data_nets(network).values():
            rest[net] = active[net] = like.unknown
    return Access(
        cycle,
        lines,
        full,
        evaluate(network, rest, full, host_drives_data=is_write, like=like),
        evaluate(network, active, full, host_drives_data=is_write, like=like),
        cones,
    )


def cone_lines(network: Network, cycle: Cycle) -> tuple[int, ...]:
    """The address lines of the cycle that any input on the board looks at, lowest first."""
    found = []
    for line in range(cycle.lines):
        net = network.host.get(f"a{line}")
        if net is not None and network.nets[net].sinks:
            found.append(line)
    return tuple(found)


def data_nets(network: Network) -> dict[int, int]:
    """The host's data lines on the board: number → net, lowest first."""
    found = {int(name[1:]): net for name, net in network.host.items() if name[:1] == "d" and name[1:].isdigit()}
    return dict(sorted(found.items()))

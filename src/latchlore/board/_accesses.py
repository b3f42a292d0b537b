"""One kind of bus access, evaluated over the address lines that matter."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from latchlore.base import AddressSet, Unsupported
from latchlore.board._evaluate import Phase, evaluate
from latchlore.board._levels import Levels, known, line_plane

if TYPE_CHECKING:
    from latchlore.board._board import Cycle
    from latchlore.board._network import Network

MAX_LINES = 22
"""Most address lines that may matter together; each doubles the planes."""


@dataclass(slots=True)
class Access:
    """A cycle's levels at rest and during the access, and which address lines count.

    Bit k of a plane is the situation in which line `lines[j]` has the value of bit j of k.
    """

    cycle: Cycle
    lines: tuple[int, ...]
    full: int
    rest: Phase
    active: Phase
    _sets: dict[int, AddressSet] = field(default_factory=dict)

    def addresses(self, plane: int) -> AddressSet:
        """The plane as a set of addresses of the cycle's width."""
        found = self._sets.get(plane)
        if found is None:
            small = AddressSet.from_table(plane, len(self.lines)).cubes if self.lines else ((0, 0),) if plane else ()
            fixed = ((1 << self.cycle.width) - 1) & ~((1 << self.cycle.lines) - 1)
            cubes = []
            for care, value in small:
                wide_care, wide_value = fixed, self.cycle.base & fixed
                for k, line in enumerate(self.lines):
                    wide_care |= (care >> k & 1) << line
                    wide_value |= (value >> k & 1) << line
                cubes.append((wide_care, wide_value))
            found = self._sets[plane] = AddressSet.of_cubes(cubes, self.cycle.width)
        return found


def evaluate_cycle(network: Network, cycle: Cycle) -> Access:
    """Both phases of a cycle.  Refuses more address lines than can be computed together."""
    lines = cone_lines(network, cycle)
    if len(lines) > MAX_LINES:
        raise Unsupported(cycle.origin, f"{len(lines)} address lines matter together; {MAX_LINES} can be computed")
    full = (1 << (1 << len(lines))) - 1
    rest: dict[int, Levels] = {}
    for k, line in enumerate(lines):
        rest[network.host[f"a{line}"]] = known(line_plane(k, len(lines)), full)
    active = dict(rest)
    for signal, resting, acting in cycle.controls:
        net = network.host.get(signal)
        if net is not None:
            rest[net] = known(full if resting else 0, full)
            active[net] = known(full if acting else 0, full)
    is_write = cycle.direction == "write"
    if is_write:
        for net in data_nets(network).values():
            rest[net] = active[net] = Levels(full, full)
    return Access(
        cycle,
        lines,
        full,
        evaluate(network, rest, full, host_drives_data=is_write),
        evaluate(network, active, full, host_drives_data=is_write),
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

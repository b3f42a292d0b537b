"""How far an exploration goes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bounds:
    """Limits of an exploration; where one is reached the path ends in a leaf that says so.

    `nodes` of the graph, `instructions` on end without an event, `steps` on end over
    unknown values without a choice, `events` in one node, `turns` of a polling loop
    that are not alike, `ways` of an address that depends on unknown bits, `targets`
    of a jump that does.  `port_mask`: the address lines that tell ports apart, of
    processors with ports.
    """

    nodes: int = 20_000
    instructions: int = 400_000_000
    steps: int = 20_000
    events: int = 100_000
    turns: int = 2_000
    ways: int = 256
    targets: int = 256
    port_mask: int = 0xFF

    def sentences(self) -> tuple[str, ...]:
        """The bounds in words."""
        return (
            f"at most {self.nodes} nodes, {self.instructions} instructions without a touch of a device, "
            f"{self.steps} instructions over unknown bytes and {self.events} touches between two choices",
            f"a loop of reads whose turns are not shown to be alike is followed for {self.turns} turns",
            f"an address that depends on unknown bits is followed up to {self.ways} values, "
            f"a jump up to {self.targets} targets",
        )

"""Which nets may move during an access though their level is not known before it or in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.board._accesses import Access
    from latchlore.board._network import Network


def moving_nets(network: Network, access: Access) -> frozenset[int]:
    """The nets that follow, through blocks without memory, a pin not traced or a host's line that the access moves.

    Behind a pin that is not traced there may be the strobe itself.  What a storing block holds, and what comes from
    outside, is taken to stay as it is for the length of an access.
    """
    name = f"moving with {access.cycle.controls}"
    if name not in network.kept:
        found = {net for net, node in enumerate(network.nets) if node.rail is None and (node.untraced or node.mystery)}
        for signal, resting, acting in access.cycle.controls:
            if resting != acting and signal in network.host:
                found.add(network.host[signal])
        stack = list(found)
        while stack:
            for block, _ in network.nets[stack.pop()].sinks:
                node = network.blocks[block]
                if node.block.step is None:
                    more = [net for net in node.outputs if net not in found and network.nets[net].rail is None]
                    found.update(more)
                    stack += more
        network.kept[name] = frozenset(found)
    return network.kept[name]


def still_plane(network: Network, access: Access, net: int) -> int:
    """Where a net's level is not known but cannot change, because nothing in the access touches it."""
    if net in moving_nets(network, access):
        return 0
    return access.rest.nets[net].unknown & access.active.nets[net].unknown

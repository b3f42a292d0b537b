"""Which nets may move during an access though their level is not known before it or in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.board._accesses import Access
    from latchlore.board._network import Network
    from latchlore.board._parts import Capture


def moving_nets(network: Network, access: Access) -> frozenset[int]:
    """The nets that follow, through blocks without memory, a pin not traced or a host's line that the access moves.

    Behind a pin that is not traced there may be the strobe itself.  What a storing block holds, and what comes from
    outside, is taken to stay as it is for the length of an access.
    """
    name = f"moving with {access.cycle.controls}"
    if name not in network.kept:
        moved = {network.host[s] for s, rest, active in access.cycle.controls if rest != active and s in network.host}
        network.kept[name] = _followers(network, moved) | untraced_nets(network)
    return network.kept[name]


def untraced_nets(network: Network) -> frozenset[int]:
    """The nets that follow, through blocks without memory, a pin that is not traced or not understood."""
    if "untraced" not in network.kept:
        first = {net for net, node in enumerate(network.nets) if node.rail is None and (node.untraced or node.mystery)}
        network.kept["untraced"] = _followers(network, first)
    return network.kept["untraced"]


def _followers(network: Network, first: set[int]) -> frozenset[int]:
    found, stack = set(first), list(first)
    while stack:
        for block, _ in network.nets[stack.pop()].sinks:
            node = network.blocks[block]
            if node.block.step is None:
                more = [net for net in node.outputs if net not in found and network.nets[net].rail is None]
                found.update(more)
                stack += more
    return frozenset(found)


def held_by(access: Access, number: int, capture: Capture) -> dict[int, int]:
    """Nets that are not traced and may hold the cell, as a clear or a preset does, whatever its data: net → where."""
    network = access.active.network
    node = network.blocks[number]
    found: dict[int, int] = {}
    if node.block.step is None:
        return found
    unknown = access.active.unknown
    levels = [*access.active.inputs(number)]
    levels[capture.data] = unknown
    for k, net in enumerate(node.inputs):
        if k in (capture.clock, capture.data) or net not in untraced_nets(network) or not levels[k].unknown:
            continue
        for level in access.active.rails:
            now = (*levels[:k], level, *levels[k + 1 :])
            state = node.block.step(now, now, (unknown,) * node.block.states)[capture.state]
            held = levels[k].unknown & (state.sure0 | state.sure1)
            if held:
                found[net] = found.get(net, 0) | held
    return found


def still_plane(network: Network, access: Access, net: int) -> int:
    """Where a net's level is not known but cannot change, because nothing in the access touches it."""
    if net in moving_nets(network, access):
        return 0
    return access.rest.nets[net].unknown & access.active.nets[net].unknown

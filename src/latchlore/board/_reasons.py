"""Why an address set is not certain: what is unknown on the way to a control line."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.board._accesses import Access
    from latchlore.board._network import Network


def describe_unsure(network: Network, access: Access, causes: set[int]) -> tuple[str, ...]:
    """The unknown things that the nets `causes` depend on, in words, sorted."""
    found: set[str] = set()
    seen: set[int] = set()
    stack = list(causes)
    while stack:
        net = stack.pop()
        if net in seen or not access.active.nets[net].unknown:
            continue
        seen.add(net)
        node = network.nets[net]
        if node.host and not node.drivers:
            found.add(f"host line {node.host} has no stated level")
        elif node.untraced:
            found.add(f"{node.name} is not traced")
        elif not node.drivers:
            found.update(f"{at} is not understood" for at in node.mystery)
            found.update(f"{plug.name}.{pin.number} {pin.signal} comes from outside" for plug, pin in node.plugs)
            found.update(f"strap {strap.name}" for strap, _ in node.straps)
            if not (node.mystery or node.plugs or node.straps):
                found.add(f"net {node.name} has no traced driver")
        for block, _ in node.drivers:
            if network.blocks[block].block.opaque:
                found.add(f"the logic of {network.blocks[block].part} is not known")
            elif network.blocks[block].block.step is not None:
                found.add(f"the state of {network.blocks[block].part}")
            else:
                stack += network.blocks[block].inputs
    return tuple(sorted(found))

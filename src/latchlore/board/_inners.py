"""What the decode says of registers inside programmable chips: which it is, under which condition, what a bit means."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.board._board import Direction
from latchlore.board._parts import Role
from latchlore.board.chipfacts import CHIPS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from latchlore.board._accesses import Access
    from latchlore.board._board import Board
    from latchlore.board._chipparts import Inner
    from latchlore.board._network import BlockNode, Network
    from latchlore.board._ways import End
    from latchlore.board._writes import Take


class InnerAt(NamedTuple):
    """A register inside a chip on the board."""

    part: str
    chip: str
    register: Inner


def find_inner(board: Board, part: str, name: str) -> InnerAt | None:
    """The register of that name inside a part, or None where the name is a pin's or the part is no such chip."""
    kind = board.part(part).type.name
    for register in CHIPS[kind].inners if kind in CHIPS else ():
        if register.name == name:
            return InnerAt(part, kind, register)
    return None


def read_inners(network: Network, access: Access, plane: int) -> list[InnerAt]:
    """The registers inside chips that may drive the data lines somewhere in a plane, in file order."""
    found: dict[tuple[str, str], InnerAt | None] = {}
    for number, node in enumerate(network.blocks):
        _, enable = access.active.outs[number]
        if node.block.inner and not node.block.programmed and enable is not None and enable.can1 & plane:
            found.setdefault((node.part, node.block.inner), find_inner(network.board, node.part, node.block.inner))
    return [inner for inner in found.values() if inner is not None]


def inner_notes(inners: Iterable[InnerAt]) -> list[str]:
    """Which registers they are, in words."""
    return [
        f"{inner.register.name} of {inner.part} ({inner.chip})"
        + (f", while {inner.register.when}" if inner.register.when else "")
        + (f", {inner.register.note}" if inner.register.note else "")
        for inner in inners
    ]


def mask_reasons(inners: Iterable[InnerAt]) -> tuple[str, ...]:
    """Why such registers are never certain: the chip's own mask selects it."""
    return tuple(dict.fromkeys(f"the mask of {inner.part} selects it" for inner in inners if CHIPS[inner.chip].masked))


def bit_notes(network: Network, takes: list[Take], number: int) -> list[str]:
    """What a written bit means inside its chip, and under which condition it sets a pin."""
    notes = []
    for take in takes:
        node = network.blocks[take.cell[0]]
        if not node.block.inner:
            continue
        if node.block.bits and node.block.bits[take.cell[1]]:
            notes.append(node.block.bits[take.cell[1]])
        notes += _fights(network, node, take.cell[1])
        kind = network.board.part(node.part).type.name
        for inner in CHIPS[kind].inners if kind in CHIPS else ():
            notes += [
                f"sets {pin} where {when}"
                for bit, pin, _, when in inner.drives
                if when and bit == number and pin == node.block.inner
            ]
    return notes


def _fights(network: Network, node: BlockNode, state: int) -> list[str]:
    """What drives a pin that a program can turn round: as an output it would fight with that."""
    if not node.block.programmed or state >= len(node.outputs):
        return []
    net = network.nets[node.outputs[state]]
    others = [
        str(network.blocks[b].out_pin(k))
        for b, k in net.drivers
        if not network.blocks[b].block.programmed and network.blocks[b].block.drive is Role.OUTPUT
    ]
    others += [f"{plug.name}.{pin.number} {pin.signal}" for plug, pin in net.plugs if pin.direction is Direction.IN]
    return [f"{other} drives {node.out_pin(state)}: as an output it would fight" for other in others]


def shown_notes(network: Network, ends: list[End]) -> list[str]:
    """What a bit that is read means inside its chip."""
    notes = []
    for end in ends:
        block, state = end.cell
        if block >= 0 and state >= 0 and network.blocks[block].block.bits:
            notes.append(network.blocks[block].block.bits[state])
    return [note for note in notes if note]

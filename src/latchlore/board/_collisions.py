"""Where one access reaches more than one thing: two registers of the board, or a register and another card."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.board._registermap import Collision, RegisterKind

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.board._board import Board
    from latchlore.board._registermap import Register


def find_collisions(board: Board, registers: Sequence[Register]) -> Iterator[Collision]:
    """Pairs of registers that one write reaches, in register order, then registers and stated cards.

    Two registers that answer one read are a fight of drivers, which is told as a conflict.
    """
    taking = [r for r in registers if r.kind is RegisterKind.TAKES]
    for k, first in enumerate(taking):
        for other in taking[k + 1 :]:
            if (first.space, first.direction, first.addresses.width) == (
                other.space,
                other.direction,
                other.addresses.width,
            ):
                both = first.addresses & other.addresses
                if both:
                    yield Collision(
                        describe_register(first),
                        describe_register(other),
                        first.space,
                        first.direction,
                        both,
                        (*first.origins, *other.origins),
                    )
    for first in registers:
        for card in board.cards:
            if card.space == first.space and first.direction in card.directions:
                both = first.addresses & card.addresses
                if both:
                    yield Collision(
                        describe_register(first),
                        card.name,
                        first.space,
                        first.direction,
                        both,
                        (*first.origins, card.origin),
                    )


def describe_register(register: Register) -> str:
    """A register by its chip's name for it, else by its parts."""
    return register.label or ", ".join(register.parts) or register.key[1]

"""The maps still possible: every position of a strap that is not known, every level of an input that is not traced.

A decode keeps what is not known as unknown, which is safe and sometimes too careful: an unknown that meets itself is
known again.  Here each case is decoded for itself, so that what holds in all of them is certain, and what holds in none
is ruled out.
"""

from __future__ import annotations

import dataclasses
import itertools
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import AddressSet, Unsupported
from latchlore.board._board import Net, PinAt, Strap
from latchlore.board._decode import decode
from latchlore.board._network import build_network
from latchlore.board._parts import Role

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.board._board import Board
    from latchlore.board._registermap import Register, RegisterMap

MAX_CASES = 64
"""Most cases that are decoded."""


class Choice(NamedTuple):
    """One thing that is not known, and what it may be: words → how the board looks then."""

    name: str
    options: tuple[str, ...]


class Case(NamedTuple):
    """One combination: what is assumed, and the map then."""

    assumes: tuple[str, ...]
    map: RegisterMap


@dataclasses.dataclass(frozen=True, slots=True)
class Settled:
    """A register over all cases.

    `parts`, `space` and `direction` name it.  `certain`: addresses in every case; `possible`: in some; `by_case`: the
    addresses of each case, in the order of the cases.
    """

    parts: tuple[str, ...]
    space: str
    direction: str
    certain: AddressSet
    possible: AddressSet
    by_case: tuple[AddressSet, ...]


def open_choices(board: Board) -> tuple[Choice, ...]:
    """Straps of unknown position, then untraced inputs of blocks that something depends on, in file order."""
    found = [Choice(f"strap {strap.name}", _positions(strap)) for strap in board.straps if strap.joined is None]
    network = build_network(board)
    for part in board.parts:
        for pin in part.type.pins:
            at = PinAt(part.name, pin.number)
            if pin.role is not Role.INPUT or at not in board.not_traced or at not in network.index:
                continue
            if any(network.nets[out].sinks for block, _ in network.nets[network.index[at]].sinks
                   for out in network.blocks[block].outputs):  # fmt: skip
                found.append(Choice(str(at), ("low", "high")))
    return tuple(found)


def possible_maps(board: Board, limit: int = MAX_CASES) -> tuple[Case, ...]:
    """The map of every case, in the order of the choices; one case where nothing is open.

    An untraced input is taken to be low or high throughout; it may in truth be joined to another net, so that only a
    strap's cases are all there are.  Refuses more than `limit` cases (`Unsupported`).
    """
    choices = open_choices(board)
    count = 1
    for choice in choices:
        count *= len(choice.options)
    if count > limit:
        names = ", ".join(choice.name for choice in choices[:6])
        more = f" and {len(choices) - 6} more" if len(choices) > 6 else ""
        raise Unsupported(board.origin, f"{count} cases are open; {limit} are computed: settle one of {names}{more}")
    cases = []
    for options in itertools.product(*(choice.options for choice in choices)):
        settled = board
        for choice, option in zip(choices, options, strict=True):
            settled = _settle(settled, choice.name, option)
        assumes = tuple(f"{choice.name} {option}" for choice, option in zip(choices, options, strict=True))
        cases.append(Case(assumes, decode(settled)))
    return tuple(cases)


def settle_registers(cases: tuple[Case, ...]) -> tuple[Settled, ...]:
    """What each register's addresses are over all cases; a register is the same where its parts and bits are."""
    found: dict[tuple[object, ...], list[Register | None]] = {}
    for k, case in enumerate(cases):
        for register in case.map.registers:
            row = found.setdefault(_identity(register), [None] * len(cases))
            row[k] = register
    return tuple(_settled(row) for row in found.values())


def _identity(register: Register) -> tuple[object, ...]:
    bits = tuple((bit.number, bit.way) for bit in register.bits)
    return (register.space, register.direction, register.kind, register.parts, bits, register.effects)


def _settled(row: list[Register | None]) -> Settled:
    first = next(register for register in row if register is not None)
    nothing = AddressSet.of((), first.addresses.width)
    sets = tuple(register.addresses if register is not None else nothing for register in row)
    certain = possible = sets[0]
    for one in sets[1:]:
        certain, possible = certain & one, possible | one
    # What is not certain within a case is not certain over all of them.
    for register in row:
        if register is not None and register.certain != register.addresses:
            certain = certain & register.certain
    return Settled(first.parts, first.space, first.direction, certain, possible, sets)


def _positions(strap: Strap) -> tuple[str, ...]:
    return ("open", "joined") if strap.size == 2 else ("open", "1-2", "2-3")


def _settle(board: Board, name: str, option: str) -> Board:
    kind, _, strap_name = name.partition(" ")
    if kind == "strap":
        joined = {"open": (), "joined": (1, 2), "1-2": (1, 2), "2-3": (2, 3)}[option]
        straps = tuple(
            dataclasses.replace(strap, joined=joined) if strap.name == strap_name else strap for strap in board.straps
        )
        return dataclasses.replace(board, straps=straps, _net_at={})
    owner, _, pin = name.partition(".")
    at = PinAt(owner, int(pin))
    rail = "vcc" if option == "high" else "gnd"
    nets = tuple(_with_pin(board, rail, at))
    return dataclasses.replace(board, nets=nets, not_traced=board.not_traced - {at}, _net_at={})


def _with_pin(board: Board, rail: str, at: PinAt) -> Iterator[Net]:
    """The nets with one pin more on a rail, which is made where there is none."""
    seen = False
    for net in board.nets:
        if net.name == rail:
            seen = True
            yield dataclasses.replace(net, pins=(*net.pins, at))
        else:
            yield net
    if not seen:
        yield Net(rail, (at,), board.origin)

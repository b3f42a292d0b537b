"""From a board to its register map: every address, read and write, at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import Unsupported
from latchlore.board._accesses import evaluate_cycle
from latchlore.board._collisions import find_collisions
from latchlore.board._evaluate import find_clashes
from latchlore.board._network import build_network
from latchlore.board._outputs import find_pin_drives
from latchlore.board._reads import find_reads
from latchlore.board._registermap import Conflict, Register, RegisterKind, RegisterMap
from latchlore.board._troubles import find_troubles
from latchlore.board._writes import find_writes, name_cells

if TYPE_CHECKING:
    from latchlore.base import AddressSet
    from latchlore.board._accesses import Access
    from latchlore.board._board import Board
    from latchlore.board._evaluate import Phase
    from latchlore.board._network import Network


def decode(board: Board) -> RegisterMap:
    """The register map of a board.  Exact for all addresses; what is not known stays so (`Register.certain`).

    Refuses a board of which no host or cycle is stated (`Unsupported`).
    """
    if not board.cycles:
        raise Unsupported(board.origin, "the board states no host; write for instance: host 6502")
    network = build_network(board)
    shared: dict[int, Phase] = {}
    accesses = [evaluate_cycle(network, cycle, shared) for cycle in board.cycles]
    registers: list[Register] = []
    floating: list[tuple[str, AddressSet]] = []
    writes = find_writes(network, accesses)
    names = name_cells(writes)
    drives, reached = find_pin_drives(network, accesses, names, writes)
    registers += [draft.finish(network, drives, reached) for draft in writes]
    for access in accesses:
        if access.cycle.direction == "read":
            found, loose = find_reads(network, access, names)
            registers += found
            if loose:
                floating.append((access.cycle.space, access.addresses(loose)))
    conflicts = tuple(c for access in accesses for c in _conflicts(network, access))
    ranked = sorted(registers, key=rank)
    return RegisterMap(
        board,
        tuple(ranked),
        tuple(drives),
        conflicts,
        tuple(find_troubles(network, drives)),
        tuple(floating),
        tuple(find_collisions(board, ranked)),
        network.loops,
    )


def rank(register: Register) -> tuple[str, int, str, int, tuple[str, ...]]:
    """Order of registers: space, lowest address, read before write; data before pulses; parts make it total."""
    kinds = (RegisterKind.GIVES, RegisterKind.TAKES, RegisterKind.PULSES)
    return (register.space, register.lowest, register.direction, kinds.index(register.kind), register.parts)


def _conflicts(network: Network, access: Access) -> list[Conflict]:
    found = []
    for clash in find_clashes(access.active):
        first, second = (network.blocks[block].out_pin(output) for block, output in (clash.first, clash.second))
        found.append(
            Conflict(
                network.nets[clash.net].name,
                first,
                second,
                f"{access.cycle.space} {access.cycle.direction}",
                access.addresses(clash.possible),
                access.addresses(clash.sure),
            )
        )
    return found

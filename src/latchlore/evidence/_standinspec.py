"""The specification of a stand-in, put together from its parts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.evidence import standinwording as words
from latchlore.evidence._standin import StandIn
from latchlore.evidence._standinnever import iter_never
from latchlore.evidence._standinstatus import status_bytes
from latchlore.evidence._standintimes import answering, iter_demands

if TYPE_CHECKING:
    from latchlore.evidence._standin import Basis


def specify(basis: Basis) -> StandIn:
    """Say what a stand-in must do.  Nothing is asked again of the witnesses; what they left open is said to be open."""
    unsaid = []
    if not basis.trees:
        unsaid.append(words.NO_PROGRAM)
    elif not any(role.signal == "DATA" and role.direction == "write" for role in basis.roles):
        unsaid.append(words.NO_DATA)
    status = status_bytes(basis) if not unsaid else ()
    if not status and not unsaid:
        unsaid.append(words.NO_STATUS)
    if basis.trees and basis.clock is None:
        unsaid.append(words.NO_CLOCK)
    unsaid += [words.not_followed(name) for name, tree in basis.trees.items() if not tree.is_exhausted]
    demands = tuple(iter_demands(basis))
    return StandIn(
        basis.table.title,
        basis.table.invented,
        status,
        demands,
        answering(demands),
        tuple(iter_never(basis)),
        tuple(unsaid),
    )

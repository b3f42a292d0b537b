"""The handshake in figures: event by event, least and most over all paths, polling; each with its place."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import ByteTree
from latchlore.dossier import wording
from latchlore.dossier._trees import origin_at
from latchlore.dossier._view import PlaceLink
from latchlore.program import Names, event_words, polling_words, range_words, read_handshake

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from latchlore.base import Origin
    from latchlore.dossier._trees import Grown
    from latchlore.program import Handshake
    from latchlore.study import AskedProgram

    LinkToOrigin = Callable[[Origin], str]


class HandoverView(NamedTuple):
    """`clock` in words; `events` (since the first, what, place); `figures` (name, cycles and time, places)."""

    clock: str
    events: tuple[tuple[str, str, tuple[PlaceLink, ...]], ...]
    figures: tuple[tuple[str, str, tuple[PlaceLink, ...]], ...]
    pollings: tuple[str, ...]


def time_handover(grown: Sequence[Grown], program: AskedProgram | None) -> Handshake | None:
    """The handshake over all trees; None where nobody says which registers carry what, or nothing is sent."""
    trees = [one.said.value for one in grown if isinstance(one.said.value, ByteTree)]
    if program is None or not trees:
        return None
    found = read_handshake(trees, program.roles, program.registers)
    return found if found.moments else None


def iter_handover_origins(handshake: Handshake | None, program: AskedProgram | None) -> Iterator[Origin]:
    """Every place in the program that the figures lead to."""
    if handshake is None:
        return
    places = [one.event.program_address for one in handshake.moments]
    places += [place for figure in handshake.figures for place in figure.places]
    for place in places:
        origin = origin_at(place, program)
        if origin is not None:
            yield origin


def view_handover(handshake: Handshake | None, program: AskedProgram | None, link: LinkToOrigin) -> HandoverView | None:
    """The figures as the page shows them; None where there are none."""
    if handshake is None or program is None:
        return None
    names = Names(program.registers, program.roles)

    def links(places: Sequence[int]) -> tuple[PlaceLink, ...]:
        found = ((place, origin_at(place, program)) for place in places)
        return tuple(PlaceLink(f"{place:04X}", link(origin)) for place, origin in found if origin is not None)

    clock = program.clock
    return HandoverView(
        wording.NO_CLOCK if clock is None else wording.CLOCK.format(clock=clock),
        tuple(
            (range_words(one.since, clock), event_words(one.event, names), links([one.event.program_address]))
            for one in handshake.moments
        ),
        tuple((one.name, range_words(one.cycles, clock), links(one.places)) for one in handshake.figures),
        tuple(polling_words(one, clock, names) for one in handshake.pollings),
    )

"""The program: its touches of registers, the handshake as a line of time, decision trees, the listing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.routing import Route

from latchlore.base import UnknownName
from latchlore.desk import _program_view as views
from latchlore.desk import wording

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from latchlore.desk._desk import Desk
    from latchlore.desk._watch import State


def routes(desk: Desk) -> list[Route]:
    """The program, one tree, the listing."""
    room = _Program(desk)
    return [
        Route("/program", desk.shown(room.program)),
        Route("/program-tree", desk.shown(room.tree)),
        Route("/program-listing", desk.shown(room.listing)),
    ]


class _Program:
    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    async def _asked(self, state: State) -> views.Asked | None:
        """The program of the study; None where it has none."""
        return await self._desk.once(state, "program", lambda: views.ask(self._desk.folder))

    async def program(self, _: Request, state: State) -> Response:
        """What the program touches, and how it shakes hands; a study without one says how to begin."""
        asked = await self._asked(state)
        shown = None if asked is None else await self._desk.once(state, "program room", lambda: views.overview(asked))
        return self._desk.page("program_room.html", state, room="program", shown=shown)

    async def tree(self, request: Request, state: State) -> Response:
        """The decision tree from one entry."""
        asked = await self._asked(state)
        name = request.query_params.get("entry", "")
        if asked is None or name not in asked.entry_names:
            raise UnknownName(f"there is no entry {name!r}", asked.entry_names if asked is not None else ())
        shown = await self._desk.once(state, ("tree", name), lambda: views.tree(asked, name))
        return self._desk.page("program_tree.html", state, room="program", shown=shown, entries=asked.entry_names)

    async def listing(self, request: Request, state: State) -> Response:
        """A part of the listing: from the address asked for, as many lines as one page holds."""
        asked = await self._asked(state)
        if asked is None:
            raise UnknownName(wording.NO_PROGRAM)
        lines = await self._desk.once(state, "listing", lambda: views.listing(asked))
        page = views.page_of(lines, request.query_params.get("at", ""), request.query_params.get("find", ""))
        return self._desk.page("program_listing.html", state, room="program", page=page, title=asked.title)

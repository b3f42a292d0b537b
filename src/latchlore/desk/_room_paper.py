"""The paper: the strip that a stream leaves, from each byte to its marks and from each mark to its byte."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from latchlore.base import UnknownName
from latchlore.desk import _paper_view as views
from latchlore.desk import wording

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.requests import Request

    from latchlore.desk._desk import Desk
    from latchlore.desk._watch import State


def routes(desk: Desk) -> list[Route]:
    """The strip, its tiles, and the way from a point of a tile to its byte."""
    room = _Paper(desk)
    return [
        Route("/paper", desk.shown(room.paper)),
        Route("/paper-tile", desk.shown(room.tile)),
        Route("/paper-mark", desk.shown(room.mark)),
    ]


class _Paper:
    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    async def paper(self, request: Request, state: State) -> Response:
        """The strip of a sequence on a device, with the meaning of its bytes."""
        query = request.query_params
        hearing = await self._desk.hearing(state)
        assert state.table is not None
        choice = views.choice_of(state.table, hearing.devices, query.get("device", ""))
        asked = views.asked_of(query, choice)
        shown = None
        if choice.devices and (asked.sequence or asked.typed):
            sheet = await self._sheet(state, asked)
            byte, tile = _number(query, "byte"), _number(query, "tile")
            shown = await run_in_threadpool(views.strip_page, sheet, asked, byte, tile)
        return self._desk.page("paper_room.html", state, room="paper", choice=choice, asked=asked, shown=shown)

    async def _sheet(self, state: State, asked: views.Asked) -> views.Sheet:
        hearing = await self._desk.hearing(state)
        table = state.table
        assert table is not None
        return await self._desk.once(state, ("strip", asked), lambda: views.open_sheet(table, hearing.devices, asked))

    async def _asked(self, request: Request, state: State) -> views.Asked:
        hearing = await self._desk.hearing(state)
        assert state.table is not None
        return views.asked_of(
            request.query_params, views.choice_of(state.table, hearing.devices, request.query_params.get("device", ""))
        )

    async def tile(self, request: Request, state: State) -> Response:
        """A tile of the strip as a picture."""
        sheet = await self._sheet(state, await self._asked(request, state))
        index = _number(request.query_params, "tile") or 0
        return Response(await run_in_threadpool(views.tile_png, sheet, index), media_type="image/png")

    async def mark(self, request: Request, state: State) -> Response:
        """The page of the byte that left the mark at a point."""
        asked = await self._asked(request, state)
        sheet = await self._sheet(state, asked)
        tile, x, y = (_number(request.query_params, name) or 0 for name in ("tile", "x", "y"))
        byte = await run_in_threadpool(views.byte_at, sheet, tile, x, y)
        if byte is None:
            raise UnknownName(wording.NO_MARK)
        return RedirectResponse(f"paper?{asked.query}&byte={byte}#tile-{tile}")


def _number(query: Mapping[str, str], name: str) -> int | None:
    """A whole number of the address; None where it is not there.  Refuses what is none."""
    text = query.get(name, "")
    if not text:
        return None
    if not text.isascii() or not text.isdecimal() or len(text) > 12:
        raise UnknownName(f"{name} is a whole number, not {text!r}")
    return int(text)

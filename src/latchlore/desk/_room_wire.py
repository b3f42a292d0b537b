"""The wire: runs aligned under their merge, captures drawn at any zoom with their bytes and times."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse
from starlette.routing import Route

from latchlore.base import UnknownName
from latchlore.desk import _room_wire_live, wording
from latchlore.desk import _wire_view as views

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from latchlore.desk._desk import Desk
    from latchlore.desk._watch import State


def routes(desk: Desk) -> list[Route]:
    """The sequences, one capture, and the stretches that its drawing asks for."""
    room = _Wire(desk)
    return [
        Route("/wire", desk.shown(room.wire)),
        Route("/wire-capture", desk.shown(room.capture)),
        Route("/wire-stretch", room.stretch),
        *_room_wire_live.routes(desk, desk.ear),
    ]


class _Wire:
    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._open = views.OpenCaptures(desk.folder)

    async def wire(self, _: Request, state: State) -> Response:
        """Every sequence with its runs and what they come to, and the captures of the study."""
        hearing = await self._desk.hearing(state)
        shown = await self._desk.once(state, "wire room", lambda: views.overview(hearing))
        return self._desk.page("wire_room.html", state, room="wire", shown=shown)

    async def capture(self, request: Request, state: State) -> Response:
        """One capture: its drawing, the bytes read from it, and its times against the published row asked for."""
        file = request.query_params.get("file", "")
        against = request.query_params.get("against", "")
        opened = await run_in_threadpool(self._open.get, state.version, file)
        shown = await self._desk.once(state, ("capture", file, against), lambda: views.capture_page(opened, against))
        at = request.query_params.get("at", "")
        if at and not at.removeprefix("-").isdecimal():
            raise UnknownName(f"{at!r} is no time in picoseconds")
        rows = views.published_rows()
        return self._desk.page("wire_capture.html", state, room="wire", shown=shown, rows=rows, at=at)

    async def stretch(self, request: Request) -> Response:
        """What a drawing needs of a stretch, as JSON: see `latchlore.wire.view_to_plain`."""
        asked = request.query_params
        try:
            numbers = {name: int(asked[name]) for name in ("from", "to", "width")}
        except (KeyError, ValueError):
            return self._desk.refusal(UnknownName(wording.NO_STRETCH), None)
        version = await run_in_threadpool(self._desk.watched.version)
        try:
            opened = await run_in_threadpool(self._open.get, version, asked.get("file", ""))
            plain = await run_in_threadpool(
                views.stretch, opened, asked.getlist("line"), numbers["from"], numbers["to"], numbers["width"]
            )
        except views.REFUSED as error:
            return self._desk.refusal(error, None)
        return JSONResponse(plain)

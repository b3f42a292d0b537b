"""Live listening, a part of the wire room: bytes as they come, and the paper as it grows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from latchlore.base import StudyError
from latchlore.desk import wording
from latchlore.desk._desk import nothing_there
from latchlore.desk._listening import TAIL_BYTES, Ear
from latchlore.desk._places import file_address

if TYPE_CHECKING:
    from starlette.requests import Request

    from latchlore.desk._desk import Desk
    from latchlore.desk._watch import State


def routes(desk: Desk, ear: Ear) -> list[Route]:
    """The form, the page of the run, and what it asks for while bytes come in."""
    live = _Live(desk, ear)
    return [
        Route("/wire-listen", desk.shown(live.form)),
        Route("/wire-begin", desk.taken(live.begin), methods=["POST"]),
        Route("/wire-live", live.page),
        Route("/wire-heard", live.heard),
        Route("/wire-strip.png", live.strip),
        Route("/wire-stop", desk.taken(live.stop), methods=["POST"]),
    ]


class _Live:
    def __init__(self, desk: Desk, ear: Ear) -> None:
        self._desk = desk
        self._ear = ear

    async def form(self, _: Request, state: State) -> Response:
        """What to listen to, with the caution first."""
        devices = [(one.file, one.name) for one in (await self._desk.hearing(state)).devices if one.paper is not None]
        return self._desk.page("wire_listen.html", state, room="wire", devices=devices, caution=wording.LISTEN_CAUTION)

    async def begin(self, request: Request) -> str:
        """Open the port and begin a run."""
        form = await request.form()
        asked = {name: str(form.get(name, "")).strip() for name in ("port", "baud", "framing", "sequence", "label")}
        state = await run_in_threadpool(self._desk.watched.state)
        devices = (await self._desk.hearing(state)).devices if state.table is not None else ()
        device = next((one for one in devices if one.file == form.get("device")), None)
        await run_in_threadpool(lambda: self._ear.begin(**asked, device=device))
        return "wire-live"

    async def page(self, _: Request) -> Response:
        """The run as it is now; it follows by itself."""
        try:
            run = self._ear.current()
        except StudyError as error:
            return self._desk.refusal(error, None)
        return self._desk.page(
            "wire_live.html",
            None,
            room="wire",
            run=run.run,
            href=file_address(run.run.file),
            count=len(run.data),
            tail=bytes(run.data[-TAIL_BYTES:]).hex(" ").upper(),
            ended=run.ended,
            device=run.device.name if run.device is not None else "",
        )

    async def heard(self, _: Request) -> Response:
        """How many bytes there are, the last of them, and whether the run has ended."""
        try:
            run = self._ear.current()
        except StudyError as error:
            return self._desk.refusal(error, None)
        tail = bytes(run.data[-TAIL_BYTES:]).hex(" ").upper()
        return JSONResponse({"count": len(run.data), "tail": tail, "ended": run.ended})

    async def strip(self, _: Request) -> Response:
        """The end of the strip so far."""
        try:
            png = await run_in_threadpool(self._ear.current().strip_png)
        except StudyError as error:
            return self._desk.refusal(error, None)
        if png is None:
            raise nothing_there()
        return Response(png, media_type="image/png")

    async def stop(self, _: Request) -> str:
        """End the run."""
        await run_in_threadpool(self._ear.current().stop)
        return "wire-live"

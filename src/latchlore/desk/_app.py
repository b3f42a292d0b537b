"""The desk as an application: the rooms' addresses, its own files, and what is answered when something is amiss."""

from __future__ import annotations

import sys
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from latchlore.base import outcome_of
from latchlore.desk import _rooms, wording
from latchlore.desk._desk import Desk, nothing_there, own_file, own_files
from latchlore.desk._guard import HOSTS, Guard
from latchlore.dossier import look_file

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Sequence
    from pathlib import Path

    from starlette.requests import Request
    from starlette.types import ASGIApp

    from latchlore.desk._desk import Loads
    from latchlore.desk._watch import Weigh

KINDS = {"css": "text/css", "js": "text/javascript", "svg": "image/svg+xml"}


def make_app(
    folder: Path, *, token: str, weigh: Weigh, loads: Loads, port: int | None = None, hosts: Sequence[str] = HOSTS
) -> ASGIApp:
    """The desk of one study as an application.

    `weigh` makes the table; `loads` names each image's first address; `hosts` are the names that it answers to.
    Nothing outside of `folder` is read or written.
    """
    desk = Desk(folder, weigh, loads, _rooms.ROOMS)
    own = _Own(desk)

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        yield
        desk.ear.close()
        desk.watched.close()

    app = Starlette(
        routes=[
            *_rooms.routes(desk),
            Route("/version", own.version),
            Route("/undo", desk.taken(own.undo), methods=["POST"]),
            Route("/{name}", own.file),
        ],
        exception_handlers={HTTPException: own.refused, Exception: own.fault},
        lifespan=lifespan,
    )
    return Guard(app, token, port, hosts)


class _Own:
    """What belongs to no room."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    async def version(self, _: Request) -> Response:
        """What the page asks now and then, to learn that the files have changed."""
        return JSONResponse({"version": await run_in_threadpool(self._desk.watched.version)})

    async def undo(self, request: Request) -> str:
        """Take the last change back, and show the page from which that was asked."""
        back = (await request.form()).get("back", "")
        await run_in_threadpool(self._desk.changes.undo)
        return next((room.path for room in self._desk.rooms if room.path == back), "")

    async def file(self, request: Request) -> Response:
        """A file of the look (the style shared with the dossier, then the desk's own) or of the script."""
        name = request.path_params["name"]
        if name == "look.css":
            return Response(look_file("look.css") + own_file("desk.css"), media_type=KINDS["css"])
        if name not in own_files():
            raise nothing_there()
        return Response(own_file(name), media_type=KINDS[name.rpartition(".")[2]])

    async def refused(self, _: Request, error: Exception) -> Response:
        """A request that names nothing, or one of the wrong kind."""
        assert isinstance(error, HTTPException)
        words = {"Not Found": wording.NOT_FOUND, "Method Not Allowed": wording.REFUSED_METHOD}
        title = words.get(error.detail, error.detail)
        return self._desk.page(
            "message.html", None, status=error.status_code, headers=error.headers, title=title, lead="", mistakes=[]
        )

    async def fault(self, _: Request, error: Exception) -> Response:
        """A fault of ours; the terminal has the rest."""
        print(f"latchlore: {type(error).__name__}: {error}", file=sys.stderr, flush=True)
        status = outcome_of(error).http_status
        return self._desk.message(wording.FAULT_TITLE, wording.FAULT_LEAD, status, [("", type(error).__name__, "")])

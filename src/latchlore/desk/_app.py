"""The desk's pages: arguments in, one call, one template out."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from latchlore.base import BadInput, Origin, Place, UnknownName, outcome_of
from latchlore.desk import wording
from latchlore.desk._guard import Guard
from latchlore.desk._watch import Watched
from latchlore.dossier import cited_by, look_file, read_excerpt, row_anchors, templates, view_table
from latchlore.evidence import Standing

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from starlette.requests import Request
    from starlette.types import ASGIApp

    from latchlore.desk._watch import State, Weigh
    from latchlore.evidence import Table

    Loads = Callable[[Path], Mapping[str, int]]

AROUND = 8
"""Lines, or rows of bytes, shown before and after a cited place."""


def make_app(folder: Path, *, token: str, weigh: Weigh, loads: Loads, port: int | None = None) -> ASGIApp:
    """The desk of one study as an application.

    `weigh` makes the table; `loads` names each image's first address.  Nothing outside of `folder` is read.
    """
    desk = _Desk(Watched(folder, weigh), loads)
    app = Starlette(
        routes=[
            Route("/", desk.table),
            Route("/place", desk.place),
            Route("/version", desk.version),
            Route("/look.css", desk.look),
            Route("/desk.js", desk.script),
            Route("/mark.svg", desk.mark),
        ],
        exception_handlers={HTTPException: desk.refused, Exception: desk.fault},
    )
    return Guard(app, token, port)


class _Desk:
    def __init__(self, watched: Watched, loads: Loads) -> None:
        self._watched = watched
        self._loads = loads
        self._templates = templates("latchlore.desk")

    async def table(self, request: Request) -> Response:
        """The weighing table, all of it or the standings asked for."""
        state = await run_in_threadpool(self._watched.state)
        if state.table is None:
            return self._broken(state)
        wanted = request.query_params.getlist("standing")
        standings = tuple(one for one in Standing if not wanted or one.value in wanted)
        view = view_table(state.table, origin_address, standings)
        return self._page("desk.html", state.version, view=view, wanted=wanted, total=len(state.table.rows))

    async def place(self, request: Request) -> Response:
        """What stands at a cited place, and which subjects rest on it."""
        state = await run_in_threadpool(self._watched.state)
        origin = _asked_origin(request.query_params)
        subjects = cited_by(state.table).get(origin, ()) if state.table is not None else ()
        if not subjects and origin not in _mistaken(state):
            raise HTTPException(outcome_of(UnknownName("")).http_status, wording.NO_PLACE)
        loads = await run_in_threadpool(self._loads, self._watched.folder)
        excerpt = await run_in_threadpool(read_excerpt, self._watched.folder, origin, loads, AROUND)
        links = _row_links(state.table, subjects) if state.table is not None else []
        return self._page("place.html", state.version, origin=origin, excerpt=excerpt, links=links)

    async def version(self, _: Request) -> Response:
        """What the page asks now and then, to learn that the files have changed."""
        return JSONResponse({"version": await run_in_threadpool(self._watched.version)})

    async def look(self, _: Request) -> Response:
        """The style sheet: the look shared with the dossier, then the desk's own."""
        return Response(look_file("look.css") + own_file("desk.css"), media_type="text/css")

    async def script(self, _: Request) -> Response:
        """The page's one script."""
        return Response(own_file("desk.js"), media_type="text/javascript")

    async def mark(self, _: Request) -> Response:
        """The page's sign in the browser's tab."""
        return Response(own_file("mark.svg"), media_type="image/svg+xml")

    async def refused(self, _: Request, error: Exception) -> Response:
        """A request that names nothing."""
        assert isinstance(error, HTTPException)
        words = wording.NOT_FOUND if error.detail == "Not Found" else error.detail
        return self._page("message.html", "", error.status_code, title=words, lead="", mistakes=[])

    async def fault(self, _: Request, error: Exception) -> Response:
        """A fault of ours; the terminal has the rest."""
        print(f"latchlore: {type(error).__name__}: {error}", file=sys.stderr, flush=True)
        title, lead = wording.FAULT_TITLE, wording.FAULT_LEAD
        mistakes = [("", type(error).__name__, "")]
        return self._page("message.html", "", outcome_of(error).http_status, title=title, lead=lead, mistakes=mistakes)

    def _broken(self, state: State) -> Response:
        assert state.error is not None
        mistakes = [(str(origin), words, origin_address(origin)) for origin, words in _mistakes(state)]
        return self._page(
            "message.html",
            state.version,
            outcome_of(state.error).http_status,
            title=wording.BROKEN_TITLE,
            lead=wording.BROKEN_LEAD,
            mistakes=mistakes or [("", str(state.error), "")],
        )

    def _page(self, template: str, version: str, status: int = 200, **names: Any) -> Response:
        return HTMLResponse(self._templates.get_template(template).render(version=version, **names), status)


def _mistakes(state: State) -> tuple[tuple[Origin, str], ...]:
    return state.error.mistakes if isinstance(state.error, BadInput) else ()


def _mistaken(state: State) -> set[Origin]:
    """Places that may be opened although no table cites them: those of the mistakes."""
    return {origin for origin, _ in _mistakes(state)}


def _row_links(table: Table, subjects: tuple[Any, ...]) -> list[tuple[str, str]]:
    anchors = row_anchors(table)
    return [(str(subject), f"./#{anchors[subject]}") for subject in subjects]


def origin_address(origin: Origin) -> str:
    """The page of a cited place, as seen from the table's."""
    place = {"file": origin.file, "as": origin.place.value, "at": str(origin.number), "detail": origin.detail}
    return "place?" + urlencode(place, errors="surrogateescape")


def _asked_origin(asked: Mapping[str, str]) -> Origin:
    try:
        return Origin(asked["file"], Place(asked["as"]), int(asked["at"]), asked.get("detail", ""))
    except (KeyError, ValueError) as error:
        raise HTTPException(outcome_of(UnknownName("")).http_status, wording.NO_PLACE) from error


def own_file(name: str) -> str:
    """A file of the desk's own look or script."""
    from importlib import resources

    return (resources.files("latchlore.desk") / "static" / name).read_text("utf-8")

"""What every room of the desk is given: the study's state, one page to put things on, one way to change files."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, RedirectResponse, Response

from latchlore.base import BadInput, StudyError, UnknownName, outcome_of
from latchlore.desk import wording
from latchlore.desk._changes import Changes
from latchlore.desk._listening import Ear
from latchlore.desk._places import origin_address
from latchlore.desk._watch import State, Watched, Weighing
from latchlore.dossier import templates

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, Hashable, Iterable, Mapping
    from pathlib import Path

    from starlette.requests import Request

    from latchlore.base import Origin
    from latchlore.desk._watch import Weigh
    from latchlore.study import Hearing

    Loads = Callable[[Path], Mapping[str, int]]
    Handler = Callable[[Request], Awaitable[Response]]
    Show = Callable[[Request, State], Awaitable[Response]]

T = TypeVar("T")
PATIENCE_SECONDS = 0.15
"""A page waits so long for the weighing before it says that the study is being weighed."""


class Room(NamedTuple):
    """A room in the list on top of every page: its address (one part, no slash), its name, what is done there."""

    path: str
    title: str
    lead: str

    @property
    def key(self) -> str:
        """Its address as a name for templates and tests; the table's is ``table``."""
        return self.path or "table"


class Desk:
    """One study on the desk.

    Addresses are one part long and relative (``board``, ``board-trace?pin=3``), so that every page may link to every
    other without knowing the secret in front.  A room's handler is wrapped by `shown`, a handler of something sent by
    `taken`.
    """

    def __init__(self, folder: Path, weigh: Weigh, loads: Loads, rooms: tuple[Room, ...]) -> None:
        self.folder = folder
        self.watched = Watched(folder, weigh)
        self.loads = loads
        self.rooms = rooms
        self.changes = Changes(folder)
        self.ear = Ear(folder)
        self._title = folder.absolute().name
        self._templates = templates("latchlore.desk")

    def shown(self, show: Show) -> Handler:
        """A page that needs a study that can be read: meanwhile, or else, the page says what is the matter."""

        async def handle(request: Request) -> Response:
            state = await run_in_threadpool(self.watched.state_within, PATIENCE_SECONDS)
            if isinstance(state, Weighing):
                return self.page("waiting.html", None, words=state.words)
            if state.table is None:
                return self.broken(state)
            try:
                return await show(request, state)
            except (StudyError, OSError) as error:
                return self.refusal(error, state)

        return handle

    def waited(self, show: Show) -> Handler:
        """A page with a form: what is sent is not answered by a page that asks for patience, which would lose it."""
        shown = self.shown(show)

        async def handle(request: Request) -> Response:
            if request.method != "POST":
                return await shown(request)
            state = await run_in_threadpool(self.watched.state)
            try:
                return await show(request, state)
            except (StudyError, OSError) as error:
                return self.refusal(error, None)

        return handle

    def taken(self, take: Callable[[Request], Awaitable[str]]) -> Handler:
        """Something sent by a form; `take` carries it out and gives the address to show next.

        What the study or the request refuses is shown as a page of its own with the whole message; the sender's text
        is still in the form, one step back.
        """

        async def handle(request: Request) -> Response:
            try:
                address = await take(request)
            except (StudyError, OSError) as error:
                return self.refusal(error, None)
            return RedirectResponse(address or "./", 303)

        return handle

    async def change(self, words: str, files: Iterable[str], act: Callable[[], T]) -> T:
        """Carry out `act`, which may write just `files` of the study; `words` name the change for Undo."""
        return await run_in_threadpool(self.changes.carry_out, words, tuple(files), act)

    async def once(self, state: State, key: Hashable, compute: Callable[[], T]) -> T:
        """Work something out in a thread, once for the files as they are in `state`."""
        return await run_in_threadpool(state.once, key, compute)

    async def hearing(self, state: State) -> Hearing:
        """What the witnesses said, with the board, the program and the devices that they spoke of."""
        from latchlore.study import hear, load_study

        return await self.once(state, "hearing", lambda: hear(load_study(self.folder)))

    def page(
        self,
        template: str,
        state: State | None,
        *,
        status: int = 200,
        headers: Mapping[str, str] | None = None,
        room: str = "",
        **names: Any,
    ) -> Response:
        """One page: `template` of ``desk/templates``, which extends ``frame.html``; `room` is the room's key."""
        if state is not None and state.table is not None:
            self._title = state.table.title
        text = self._templates.get_template(template).render(
            version=state.version if state is not None else "",
            study_title=self._title,
            rooms=self.rooms,
            room=room,
            last_change=self.changes.last,
            place=origin_address,
            **names,
        )
        return HTMLResponse(text, status, headers=dict(headers or {}))

    def message(
        self, title: str, lead: str = "", status: int = 200, mistakes: Iterable[tuple[str, str, str]] = ()
    ) -> Response:
        """A page of words; `mistakes` are (place, words, address of the place)."""
        return self.page("message.html", None, status=status, title=title, lead=lead, mistakes=tuple(mistakes))

    def refusal(self, error: StudyError | OSError, state: State | None) -> Response:
        """What the study, a request or the disk refuses, with its whole message."""
        title = wording.NOT_FOUND if isinstance(error, UnknownName) else wording.REFUSED_TITLE
        places = [(str(origin), words, origin_address(origin)) for origin, words in mistakes_of(error)]
        return self.page(
            "message.html",
            state,
            status=outcome_of(error).http_status,
            title=title,
            lead="",
            mistakes=places or [("", str(error), "")],
        )

    def broken(self, state: State) -> Response:
        """The study cannot be read: every mistake with its place."""
        assert state.error is not None
        mistakes = [(str(origin), words, origin_address(origin)) for origin, words in mistakes_of(state.error)]
        return self.page(
            "message.html",
            state,
            status=outcome_of(state.error).http_status,
            title=wording.BROKEN_TITLE,
            lead=wording.BROKEN_LEAD,
            mistakes=mistakes or [("", str(state.error), "")],
        )


def mistakes_of(error: Exception | None) -> tuple[tuple[Origin, str], ...]:
    """The places of a bad input and what is wrong there."""
    return error.mistakes if isinstance(error, BadInput) else ()


def nothing_there(words: str = wording.NOT_FOUND) -> HTTPException:
    """What a handler raises for an address that names nothing."""
    return HTTPException(outcome_of(UnknownName("")).http_status, words)


@cache
def own_files() -> frozenset[str]:
    """The names of the desk's own files that a page may ask for."""
    from importlib import resources

    return frozenset(one.name for one in (resources.files("latchlore.desk") / "static").iterdir())


def own_file(name: str) -> str:
    """A file of the desk's own look or script."""
    from importlib import resources

    return (resources.files("latchlore.desk") / "static" / name).read_text("utf-8")

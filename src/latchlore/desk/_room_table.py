"""The weighing table, and what stands at the places that it cites."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.routing import Route

from latchlore.base import Place, StudyError, Witness
from latchlore.desk import enterwording, wording
from latchlore.desk._desk import mistakes_of, nothing_there
from latchlore.desk._places import asked_origin, drawing_address, origin_address
from latchlore.dossier import cited_by, read_excerpt, row_anchors, view_table
from latchlore.evidence import Standing, one_line

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from latchlore.desk._desk import Desk
    from latchlore.desk._watch import State
    from latchlore.evidence import Finding, Table

HISTORY = "history.txt"
"""Only ever added to: it is shown, and not changed as text."""
AROUND = 8
"""Lines, or rows of bytes, shown before and after a cited place."""


def routes(desk: Desk) -> list[Route]:
    """The table and the places."""
    room = _Table(desk)
    return [Route("/", desk.shown(room.table)), Route("/place", room.place)]


class _Table:
    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    async def table(self, request: Request, state: State) -> Response:
        """The weighing table, all of it or the standings asked for."""
        assert state.table is not None
        wanted = request.query_params.getlist("standing")
        standings = tuple(one for one in Standing if not wanted or one.value in wanted)
        view = view_table(state.table, origin_address, standings)
        total = len(state.table.rows)
        missing = [words for key, words in enterwording.MISSING.items() if Witness(key) not in state.table.heard]
        resting = await self._desk.once(state, "resting", lambda: self._resting(state))
        return self._desk.page(
            "table_room.html",
            state,
            room="table",
            view=view,
            wanted=wanted,
            total=total,
            missing=missing,
            resting=resting,
        )

    def _resting(self, state: State) -> dict[str, list[str]]:
        """Anchor of a row → the findings that rest on it."""
        assert state.table is not None
        anchors = {one_line(str(subject)): anchor for subject, anchor in row_anchors(state.table).items()}
        found: dict[str, list[str]] = {}
        for finding in self._record():
            for on in finding.rests_on:
                if on in anchors:
                    found.setdefault(anchors[on], []).append(finding.name)
        return found

    async def place(self, request: Request) -> Response:
        """What stands at a cited place, and which subjects rest on it; also while the study cannot be read."""
        desk = self._desk
        state = await run_in_threadpool(desk.watched.state)
        origin = asked_origin(request.query_params)
        if origin is None:
            raise nothing_there(wording.NO_PLACE)
        subjects = cited_by(state.table).get(origin, ()) if state.table is not None else ()
        loads = await run_in_threadpool(desk.loads, desk.folder)
        excerpt = await run_in_threadpool(read_excerpt, desk.folder, origin, loads, AROUND)
        if not subjects and not excerpt.lines and origin not in {place for place, _ in mistakes_of(state.error)}:
            raise nothing_there(wording.NO_PLACE)
        links = _row_links(state.table, subjects) if state.table is not None else []
        drawing = drawing_address(origin) if origin.place is Place.TIME else ""
        findings = await run_in_threadpool(self._findings, subjects)
        may_change = origin.place is Place.LINE and origin.file != HISTORY
        return desk.page(
            "place.html",
            state,
            origin=origin,
            excerpt=excerpt,
            links=links,
            drawing=drawing,
            findings=findings,
            may_change=may_change,
        )

    def _findings(self, subjects: tuple[Any, ...]) -> list[str]:
        """The findings that rest on one of these subjects."""
        names = {one_line(str(subject)) for subject in subjects}
        return [one.name for one in self._record() if names & set(one.rests_on)] if names else []

    def _record(self) -> tuple[Finding, ...]:
        """The findings; none where the record cannot be read, which its own room says."""
        from latchlore.study import find_record

        try:
            record = find_record(self._desk.folder)
        except (StudyError, OSError):
            return ()
        return record.findings if record else ()


def _row_links(table: Table, subjects: tuple[Any, ...]) -> list[tuple[str, str]]:
    anchors = row_anchors(table)
    return [(str(subject), f"./#{anchors[subject]}") for subject in subjects]

"""The board: register map, address ribbon, the ways of the bits, chips with nets that light, matings, tracing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.routing import Route

from latchlore.base import StudyError
from latchlore.board import tracewording
from latchlore.desk import wording
from latchlore.desk._places import origin_address
from latchlore.desk._tracing import Bench, asked_view
from latchlore.dossier import (
    board_picture,
    draw_registers,
    draw_ribbons,
    find_board,
    row_anchors,
    view_matings,
    way_pictures,
)

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from latchlore.base import Subject
    from latchlore.desk._desk import Desk
    from latchlore.desk._watch import State
    from latchlore.evidence import Table


def routes(desk: Desk) -> list[Route]:
    """The board, and its tracing with a meter."""
    room = _Board(desk)
    return [
        Route("/board", desk.shown(room.board)),
        Route("/board-trace", room.trace),
        Route("/board-answer", desk.taken(room.answer), methods=["POST"]),
    ]


class _Board:
    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._bench = Bench(desk.folder)

    async def board(self, _: Request, state: State) -> Response:
        """Everything that the board says, as pictures; a study without a board says how to begin one."""
        desk = self._desk
        shown = await desk.once(state, "board room", lambda: self._view(state))
        return desk.page("board_room.html", state, room="board", **shown)

    def _view(self, state: State) -> dict[str, Any]:
        view = find_board(self._desk.folder)
        assert state.table is not None
        if view is None:
            return {"has_board": False}
        link = _link_to_row(state.table)
        picture, nets = board_picture(view)
        registers = draw_registers(state.table, link)
        return {
            "has_board": True,
            "registers": Markup(registers),
            "ribbons": [Markup(one) for one in draw_ribbons(state.table, link)],
            "ways": [(anchor, name, Markup(drawing)) for anchor, name, drawing in way_pictures(view)],
            "picture": Markup(picture),
            "nets": nets,
            "matings": view_matings(view, origin_address),
        }

    async def trace(self, request: Request) -> Response:
        """The next action with large keys; also while the study cannot be weighed."""
        from latchlore.board.tracing import describe_report

        desk = self._desk
        try:
            tracing = await run_in_threadpool(self._bench.tracing)
        except (StudyError, OSError) as error:
            return desk.refusal(error, None)
        asked = asked_view(tracing, self._bench.strip)
        report = await run_in_threadpool(lambda: describe_report(tracing.report()))
        return desk.page(
            "board_trace.html",
            None,
            room="board",
            asked=asked,
            report=report,
            before=tracewording.BEFORE,
            cautions=tracewording.CAUTIONS,
            defers=tracewording.DEFERS,
            ready="ready" in request.query_params,
            file=tracing.file,
            is_begun=bool(tracing.text),
        )

    async def answer(self, request: Request) -> str:
        """Keep an answer to the proposal, or a statement of a readings file, in the readings file."""
        form = await request.form()
        typed = " ".join(str(one) for one in form.getlist("pin")) or str(form.get("typed", ""))
        if form.get("nothing"):
            typed = ""
        tracing = await run_in_threadpool(self._bench.tracing)
        if form.get("asked") != asked_view(tracing, self._bench.strip).action:
            return "board-trace?ready"  # an answer to what is asked no more: the page shows what is asked now
        words = wording.READING_KEPT.format(action=asked_view(tracing, self._bench.strip).action)
        await self._desk.change(words, [tracing.file], lambda: self._bench.answer(typed))
        return "board-trace?ready"


def _link_to_row(table: Table) -> Any:
    anchors = row_anchors(table)

    def link(subject: Subject) -> str:
        return f"./#{anchors[subject]}"

    return link

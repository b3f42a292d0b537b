"""The record: findings with their grounds and errata, open questions, and the trial to do next with its bench sheet."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from latchlore.base import StudyError
from latchlore.desk import _record_forms as forms
from latchlore.desk import _room_record_ask
from latchlore.desk import recordwording as words
from latchlore.desk._desk import mistakes_of, nothing_there
from latchlore.desk._forms import FormPages, Sent, read_sent, with_values
from latchlore.desk._places import origin_address
from latchlore.desk._record_view import cautions_of, view_findings, view_questions, view_trial
from latchlore.evidence import one_line

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from latchlore.desk._desk import Desk
    from latchlore.desk._record_view import FindingView, QuestionView
    from latchlore.desk._watch import State
    from latchlore.evidence import Past, Table
    from latchlore.study import Edit, Questions

PATIENCE_SECONDS = 0.5
"""So long the page waits for the questions; then it shows the findings, and follows by itself."""


def routes(desk: Desk) -> list[Route]:
    """The record, its forms, and bench sheets."""
    room = _Record(desk)
    return [
        Route("/record", desk.shown(room.record)),
        Route("/record-add", desk.waited(room.add), methods=["GET", "POST"]),
        Route("/record-withdraw", room.withdraw, methods=["POST"]),
        Route("/record-accept", desk.waited(room.accept), methods=["POST"]),
        Route("/record-sheet", desk.waited(room.sheet), methods=["GET", "POST"]),
        Route("/record-sheet.txt", desk.shown(room.sheet_file)),
        Route("/record-filled", room.filled, methods=["GET", "POST"]),
        Route("/record-unsay", room.unsay, methods=["POST"]),
        *_room_record_ask.routes(desk),
    ]


class _Record:
    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._pages = FormPages(desk, "record")

    async def record(self, _: Request, state: State) -> Response:
        """The whole record; a part that cannot be read says why, and the other is shown."""
        findings: tuple[FindingView, ...] = ()
        history: tuple[Past, ...] = ()
        questions: tuple[QuestionView, ...] = ()
        no_findings: list[tuple[str, str, str]] = []
        no_questions: list[tuple[str, str, str]] = []
        try:
            findings, history = await self._desk.once(state, "record-findings", lambda: self._findings(state))
        except (StudyError, OSError) as error:
            no_findings = _mistakes(error)
        weighing = asyncio.ensure_future(self._view(state))
        weighing.add_done_callback(lambda task: task.cancelled() or task.exception())  # told on the next page
        await asyncio.wait({weighing}, timeout=PATIENCE_SECONDS)
        if weighing.done():
            try:
                questions = weighing.result()
            except (StudyError, OSError) as error:
                no_questions = _mistakes(error)
        return self._desk.page(
            "record_room.html",
            state,
            room="record",
            findings=findings,
            history=history,
            no_findings=no_findings,
            changed=[one for one in findings if one.changes and not one.is_new],
            num_open=sum(bool(one.changes) for one in findings),
            questions=questions,
            is_weighing=not weighing.done(),
            no_questions=no_questions,
            day=forms.today(),
        )

    def _findings(self, state: State) -> tuple[tuple[FindingView, ...], tuple[Past, ...]]:
        from latchlore.study import judge_record, read_record

        assert state.table is not None
        record = read_record(self._desk.folder)
        return view_findings(judge_record(record, state.table), record.history, state.table), record.history

    async def _view(self, state: State) -> tuple[QuestionView, ...]:
        found = await self._questions(state)
        return await self._desk.once(state, "record-view", lambda: view_questions(found.questions))

    async def _questions(self, state: State) -> Questions:
        from latchlore.study import read_questions

        return await self._desk.once(state, "questions", lambda: read_questions(self._desk.folder))

    async def add(self, request: Request, state: State) -> Response:
        """The form of a new finding, or the finding that came with it."""
        from latchlore.study import plan_finding, read_record

        form = forms.finding_form(*await run_in_threadpool(self._known, state))
        if request.method != "POST":
            on = request.query_params.get("on", "")
            return self._pages.show(with_values(form, {"on-0": on}))

        def plan(sent: Sent) -> tuple[Edit, str]:
            rows = sent.rows(forms.GROUNDS)
            says = {row["on"]: row["says"] for row in rows if row["says"]}
            name = sent.get("name")
            finding = (name, sent.get("sentence"))
            grounds = [row["on"] for row in rows]
            because = sent.get("because")
            record = read_record(self._desk.folder)
            _, edit = plan_finding(record, _table(state), finding, grounds, says, sent.get("day"), because)
            return edit, f"record#finding-{name}"

        return await self._pages.take(form, await read_sent(request), plan)

    def _known(self, state: State) -> tuple[list[str], list[str]]:
        """The subjects and findings that one may rest on, as far as they can be told."""
        from latchlore.study import read_record

        subjects = dict.fromkeys(one_line(str(row.subject)) for row in state.table.rows) if state.table else {}
        try:
            return [*subjects], [one.name for one in read_record(self._desk.folder).findings]
        except (StudyError, OSError):  # sending the form will say so
            return [*subjects], []

    async def withdraw(self, request: Request) -> Response:
        """A finding taken back for good."""
        from latchlore.study import plan_withdrawal, read_record

        def plan(sent: Sent) -> tuple[Edit, str]:
            name = sent.get("name")
            _, edit = plan_withdrawal(read_record(self._desk.folder), name, sent.get("day"), sent.get("because"))
            return edit, f"record#finding-{name}"

        sent = await read_sent(request)
        return await self._pages.take(forms.withdrawal_form(sent.get("name")), sent, plan)

    async def accept(self, request: Request, state: State) -> Response:
        """Everything that changed in the findings, written into the history."""
        from latchlore.study import plan_acceptance, read_record

        def plan(sent: Sent) -> tuple[Edit, str]:
            record = read_record(self._desk.folder)
            _, edit = plan_acceptance(record, _table(state), sent.get("day"), sent.get("because"))
            return edit, "record"

        return await self._pages.take(forms.acceptance_form(), await read_sent(request), plan)

    async def sheet(self, request: Request, state: State) -> Response:
        """A bench sheet to print, with the form for what the trial showed."""
        from latchlore.study import plan_outcome, sheet_text

        found = await self._questions(state)
        sent = await read_sent(request) if request.method == "POST" else None
        name = request.query_params.get("trial", "") if sent is None else sent.get("trial")
        question = found.question_of(name)
        stated = question.get_trial(name)
        prospect = next((one for one in question.prospects if one.trial.name == name), None)
        form = forms.outcome_form(stated)
        shown: dict[str, Any] = {
            "sheet": await run_in_threadpool(sheet_text, found.title, question, stated),
            "trial": None if prospect is None else view_trial(question, prospect),
            "rivals": [one.name for one in question.rivals],
            "name": name,
            "question": question.text,
            "cautions": cautions_of(stated),
        }
        if sent is None:
            return self._pages.show(form, **shown)

        def plan(given: Sent) -> tuple[Edit, str]:
            saw, sure = given.get("saw"), forms.sure_of(given.get("sure"))
            note = " ".join(given.get("note").split())
            return plan_outcome(self._desk.folder, name, saw, sure=sure, on=given.get("day"), note=note), "record"

        return await self._pages.take(form, sent, plan, **shown)

    async def sheet_file(self, request: Request, state: State) -> Response:
        """The same sheet as a text file."""
        from latchlore.study import sheet_text

        found = await self._questions(state)
        name = request.query_params.get("trial", "")
        if not name:
            raise nothing_there()
        question = found.question_of(name)
        text = await run_in_threadpool(sheet_text, found.title, question, question.get_trial(name))
        return PlainTextResponse(text, headers={"content-disposition": 'attachment; filename="bench-sheet.txt"'})

    async def filled(self, request: Request) -> Response:
        """A filled-in sheet read back."""
        from latchlore.study import SURE_PERCENT, plan_outcome, read_sheet

        form = forms.filled_form()
        if request.method != "POST":
            return self._pages.show(form)
        came = await read_sent(request)
        _, content = came.files.get("file", ("", b""))
        if content:  # its text takes the place of the field's, so that it is still there when it is refused
            came = Sent({**came.texts, "sheet": content.decode("utf-8", "replace")}, {})

        def plan(sent: Sent) -> tuple[Edit, str]:
            told = read_sheet(sent.texts.get("sheet", ""), words.PASTED)
            sure = SURE_PERCENT if told.sure is None else told.sure
            on = told.on or sent.get("day")
            return plan_outcome(self._desk.folder, told.trial, told.saw, sure=sure, on=on, note=told.note), "record"

        return await self._pages.take(form, came, plan)

    async def unsay(self, request: Request) -> Response:
        """An outcome withdrawn: it stays, and counts no more."""
        from latchlore.study import plan_outcome_withdrawal

        def plan(sent: Sent) -> tuple[Edit, str]:
            number = forms.number_of(sent.get("number"))
            return plan_outcome_withdrawal(self._desk.folder, number, sent.get("because")), "record"

        sent = await read_sent(request)
        return await self._pages.take(forms.unsaying_form(sent.get("number")), sent, plan)


def _table(state: State) -> Table:
    """The table, or why there is none."""
    if state.table is None:
        assert state.error is not None
        raise state.error
    return state.table


def _mistakes(error: StudyError | OSError) -> list[tuple[str, str, str]]:
    places = [(str(place), text, origin_address(place)) for place, text in mistakes_of(error)]
    return places or [("", str(error), "")]

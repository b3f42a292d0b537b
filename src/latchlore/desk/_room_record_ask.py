"""Asking, a part of the record room: a new question with its rivals, and a trial that could tell them apart."""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.routing import Route

from latchlore.base import StudyError, UnknownName
from latchlore.desk import _ask_forms as forms
from latchlore.desk._forms import MORE, FormPages, Rows, Sent, read_sent, with_more_rows

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from latchlore.desk._desk import Desk
    from latchlore.desk._forms import Form
    from latchlore.study import Edit


def routes(desk: Desk) -> list[Route]:
    """The two forms."""
    room = _Asking(desk)
    both = ["GET", "POST"]
    return [
        Route("/record-question", room.question, methods=both),
        Route("/record-trial", room.trial, methods=both),
    ]


class _Asking:
    """Nothing here waits for the weighing: what is asked is foretold when it is sent."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._pages = FormPages(desk, "record")

    async def question(self, request: Request) -> Response:
        """The form of a new question, or the question that came with it."""
        from latchlore.study import QUESTION_KEYS, document_files, plan_question

        sent = await read_sent(request) if request.method == "POST" else None
        values = {"text": request.query_params.get("text", "")} if sent is None else sent.texts
        try:
            files = await run_in_threadpool(document_files, self._desk.folder)
        except (StudyError, OSError):  # sending the form will say so
            files = ()
        documents = [PurePosixPath(file).stem for file in files]
        form = forms.question_form(documents, values)
        if sent is None:
            return self._pages.show(form)
        if MORE in sent.texts:  # more rivals are more columns of chances
            more = with_more_rows(form, sent)
            return self._pages.show(forms.question_form(documents, more), more)

        def plan(given: Sent) -> tuple[Edit, str]:
            question = {key: given.get(key) for key in QUESTION_KEYS}
            rivals = [forms.typed_parts(row, "rival") for row in given.all_rows(_rows(form, "rivals"))]
            edit, number = plan_question(self._desk.folder, question, rivals, *_trial(form, given))
            return edit, f"record#question-{number}"

        return await self._pages.take(form, sent, plan)

    async def trial(self, request: Request) -> Response:
        """The form of a new trial of a question, or the trial that came with it."""
        from latchlore.study import open_questions, plan_trial

        sent = await read_sent(request) if request.method == "POST" else None
        name = request.query_params.get("question", "") if sent is None else sent.get("question")
        try:
            known = await run_in_threadpool(open_questions, self._desk.folder)
            asked = next((one for one in known if one.name == name), None)
            if asked is None:
                raise UnknownName(f"questions.toml has no question {name!r}", [one.name for one in known])
        except (StudyError, OSError) as error:
            return self._desk.refusal(error, None)
        form = forms.trial_form(asked)
        if sent is None:
            return self._pages.show(form)

        def plan(given: Sent) -> tuple[Edit, str]:
            edit, number = plan_trial(self._desk.folder, name, *_trial(form, given))
            return edit, f"record#question-{number}"

        return await self._pages.take(form, sent, plan)


def _rows(form: Form, name: str) -> Rows:
    return next(one for one in form.every if isinstance(one, Rows) and one.name == name)


def _trial(form: Form, sent: Sent) -> tuple[dict[str, str], list[dict[str, str]]]:
    """The trial's own fields, as they were typed, and the rows of its outcomes."""
    from latchlore.study import TRIAL_KEYS

    trial = {key: sent.texts.get(f"trial-{key.replace(' ', '-')}", "") for key in TRIAL_KEYS}
    return trial, [forms.typed_parts(row, "outcome") for row in sent.all_rows(_rows(form, "outcomes"))]

"""Entering what was taken at the bench or read in a manual; it lands in the study's text files."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.routing import Route

from latchlore.base import StudyError, UnknownName
from latchlore.desk import _enter_forms as forms
from latchlore.desk import enterwording as words
from latchlore.desk._forms import FormPages, Sent, read_sent
from latchlore.dossier import iter_files

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from starlette.requests import Request
    from starlette.responses import Response

    from latchlore.desk._desk import Desk
    from latchlore.desk._forms import Form
    from latchlore.desk._watch import State
    from latchlore.study import Edit

MAX_LISTED = 300
AFTER = "enter"


def routes(desk: Desk) -> list[Route]:
    """The list of what can be entered, and a page for each."""
    room = _Enter(desk)
    both = ["GET", "POST"]
    return [
        Route("/enter", room.enter),
        Route("/enter-run", room.run, methods=both),
        Route("/enter-document", room.document, methods=both),
        Route("/enter-row", room.row, methods=both),
        Route("/enter-row-out", desk.waited(room.row_out), methods=both),
        Route("/enter-readings", room.readings, methods=both),
        Route("/enter-note", room.note, methods=both),
        Route("/enter-about", room.about, methods=both),
        Route("/enter-file", room.file, methods=both),
        Route("/edit", room.text, methods=both),
    ]


class _Enter:
    """Nothing here needs a study that can be read: forms are also how one is mended."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._pages = FormPages(desk, "enter")

    @property
    def _folder(self) -> Path:
        return self._desk.folder

    async def enter(self, request: Request) -> Response:
        """What can be entered, and every text file that can be changed."""
        from latchlore.study import document_files

        tables = await self._listed(document_files)
        files = await run_in_threadpool(lambda: list(iter_files(self._folder)))
        asked = request.query_params
        kind = asked.get("kept", "")
        after = words.NEXT_STEPS.get(kind)
        steps = None
        if after is not None:
            shown = {"file": asked.get("file", ""), "sum": asked.get("sum", "")}
            steps = (after[0], after[1].format(**shown))
        return self._desk.page(
            "enter_room.html",
            None,
            room="enter",
            tables=tables,
            files=[file for file in files if _can_be_text(file)][:MAX_LISTED],
            steps=steps,
        )

    async def run(self, request: Request) -> Response:
        """A run that is pasted, into a new log or one that is there."""
        from latchlore.study import log_files, plan_log, plan_runs

        def plan(sent: Sent) -> tuple[Edit, str]:
            pasted, note = sent.texts.get("bytes", ""), sent.get("note")
            if into := sent.get("into"):
                return plan_runs(self._folder, into, pasted, note=note), AFTER
            name, numbers, runs = sent.get("name"), sent.get("numbers"), sent.get("runs")
            return plan_log(self._folder, name, pasted, numbers=numbers, runs=runs, note=note), AFTER

        return await self._form(request, forms.run_form(await self._listed(log_files)), plan)

    async def document(self, request: Request) -> Response:
        """A new table of what a document says."""
        from latchlore.study import HEAD_KEYS, PAPER_KEYS, plan_document

        def plan(sent: Sent) -> tuple[Edit, str]:
            head = {key: sent.get(key) for key in HEAD_KEYS}
            paper = {key: sent.get(f"paper-{key}") for key in PAPER_KEYS}
            return plan_document(self._folder, sent.get("name"), head, sent.rows(forms.rows_field()), paper), AFTER

        return await self._form(request, forms.document_form(), plan)

    async def row(self, request: Request) -> Response:
        """A row of a table: a new one, or one that is there."""
        from latchlore.study import ROW_KEYS, check_document, content_of, digest_of, plan_row, rows_of

        sent = await read_sent(request) if request.method == "POST" else None
        asked = request.query_params if sent is None else sent.texts
        file, typed = asked.get("file", ""), asked.get("number", "")
        number = _number(typed)
        try:
            raw = await run_in_threadpool(content_of, self._folder, check_document(file))
            if raw is None:
                raise UnknownName(f"the study has no device table {file!r}")
            rows = await run_in_threadpool(rows_of, raw, file)
        except (StudyError, OSError) as error:
            return self._desk.refusal(error, None)
        values = rows[number - 1] if number is not None and 1 <= number <= len(rows) else {}
        form = forms.row_form(file, number, values, digest_of(raw))
        if sent is None:
            return self._pages.show(form, rows=rows, file=file)

        def plan(given: Sent) -> tuple[Edit, str]:
            row = {key: given.get(key) for key in ROW_KEYS}
            after = "enter-row?" + urlencode({"file": file})
            return plan_row(self._folder, file, number, row, given.get("seen")), after

        return await self._pages.take(form, sent, plan, rows=rows, file=file)

    async def row_out(self, request: Request, state: State) -> Response:
        """A row that goes again: first its lines are shown, then they are taken out."""
        from latchlore.study import plan_row_out, row_lines

        sent = await read_sent(request) if request.method == "POST" else None
        asked = request.query_params if sent is None else sent.texts
        file, number = asked.get("file", ""), _number(asked.get("number", "")) or 0
        lines = await run_in_threadpool(row_lines, self._folder, file, number)
        form = forms.row_out_form(file, number, lines.seen)
        if sent is None:
            return self._pages.show(form, lines=lines, file=file)
        seen = sent.get("seen")

        def plan(_: Sent) -> tuple[Edit, str]:
            if state.table is None:
                assert state.error is not None
                raise state.error
            return plan_row_out(self._folder, file, number, seen, state.table), "enter-row?" + urlencode({"file": file})

        # refused, the page shows the lines as they are now: what is sent next speaks of them
        return await self._pages.take(form, Sent({}, {}), plan, lines=lines, file=file)

    async def readings(self, request: Request) -> Response:
        """Readings of a meter, typed as statements."""
        from latchlore.study import plan_readings, readings_files

        def plan(sent: Sent) -> tuple[Edit, str]:
            return plan_readings(
                self._folder, sent.get("file"), sent.texts.get("readings", ""), sent.get("note")
            ), AFTER

        return await self._form(request, forms.readings_form(await self._listed(readings_files)), plan)

    async def note(self, request: Request) -> Response:
        """A note."""
        from latchlore.study import plan_note

        def plan(sent: Sent) -> tuple[Edit, str]:
            return plan_note(self._folder, sent.get("note"), sent.get("day")), AFTER

        return await self._form(request, forms.note_form(), plan)

    async def about(self, request: Request) -> Response:
        """The study's title and what it is about."""
        from latchlore.study import open_about, plan_about

        def plan(sent: Sent) -> tuple[Edit, str]:
            return plan_about(self._folder, sent.get("title"), sent.get("about"), sent.get("seen")), AFTER

        try:
            form = forms.about_form(*await run_in_threadpool(open_about, self._folder))
        except (StudyError, OSError) as error:
            return self._desk.refusal(error, None)
        return await self._form(request, form, plan)

    async def file(self, request: Request) -> Response:
        """A file that is brought from elsewhere."""
        from latchlore.study import digest_of, plan_upload, with_image

        def plan(sent: Sent) -> tuple[Edit, str]:
            own_name, content = sent.files.get("content", ("", b""))
            if not own_name:
                raise UnknownName(words.NO_FILE)
            kind, name = sent.get("kind"), sent.get("name") or own_name
            edit = plan_upload(self._folder, kind, name, content, may_replace=bool(sent.get("replace")))
            (file,) = edit.files
            if kind == "image" and sent.get("list"):
                return with_image(self._folder, edit, sent.get("load"), sent.get("cpu")), AFTER
            return edit, f"{AFTER}?" + urlencode({"kept": kind, "file": file, "sum": digest_of(content)})

        return await self._form(request, forms.file_form(request.query_params.get("kind", "")), plan)

    async def text(self, request: Request) -> Response:
        """A file changed as text, or a new one."""
        from latchlore.study import check_path, content_of, open_text, plan_text

        sent = await read_sent(request) if request.method == "POST" else None
        file = request.query_params.get("file", "") if sent is None else sent.texts.get("file", "")
        try:
            check_path(file)
            if sent is None and await run_in_threadpool(content_of, self._folder, file) is not None:
                opened = await run_in_threadpool(open_text, self._folder, file)
                return self._pages.show(forms.text_form(*opened))
        except (StudyError, OSError) as error:
            return self._desk.refusal(error, None)
        form = forms.text_form(file, "", "")
        if sent is None:
            return self._pages.show(form)

        def plan(given: Sent) -> tuple[Edit, str]:
            return plan_text(self._folder, file, given.texts.get("text", ""), given.get("seen")), AFTER

        return await self._pages.take(form, sent, plan)

    async def _form(self, request: Request, form: Form, plan: Callable[[Sent], tuple[Edit, str]]) -> Response:
        if request.method != "POST":
            return self._pages.show(form)
        return await self._pages.take(form, await read_sent(request), plan)

    async def _listed(self, files: Callable[[Path], tuple[str, ...]]) -> tuple[str, ...]:
        """Files to choose from; none where the folder cannot be listed, which the plan will say."""
        try:
            return await run_in_threadpool(partial(files, self._folder))
        except (StudyError, OSError):
            return ()


def _number(typed: str) -> int | None:
    """The number of a row, from 1; None for what is none."""
    return int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 6 else None


def _can_be_text(file: str) -> bool:
    """Whether a file is offered to be changed as text; a name that cannot be shown is mended elsewhere."""
    ending = file.rpartition(".")[2].casefold()
    return (
        file.isprintable()
        and ending in {"toml", "txt", "log", "nets", "v", "readings", "csv", "md"}
        and file != "history.txt"
    )

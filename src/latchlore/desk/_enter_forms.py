"""The forms of the room in which things are entered."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from latchlore.board import tracewording
from latchlore.desk import enterwording as words
from latchlore.desk._forms import Field, Form, Rows
from latchlore.desk._record_forms import DAY, today

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

PAPER_FIELDS = (
    Field("paper-head_dots", "dots across the head"),
    Field("paper-dot_x", "from dot to dot across, such as 0.33 mm"),
    Field("paper-dot_y", "from dot to dot along the paper, such as 0.36 mm"),
    Field("paper-columns", "characters in a line"),
    Field("paper-cell_dots", "dots across a character, the gap counted"),
    Field("paper-line_feed", "dots from line to line"),
)


@cache
def rows_field() -> Rows:
    """The rows of a table; the words of the device wing are fetched when they are first needed."""
    from latchlore.device import EFFECTS

    effects = (words.EFFECT_UNKNOWN, *((one, one) for one in EFFECTS))
    columns = (
        Field("pattern", "pattern"),
        Field("meaning", "meaning"),
        Field("does", "on the paper", "choice", choices=effects),
        Field("page", "page"),
        Field("row", "row"),
        Field("doubt", "your doubt"),
    )
    return Rows("rows", "The table's rows", columns, words.ROWS_HINT, 6)


def run_form(logs: Sequence[str]) -> Form:
    """A run that is pasted."""
    return Form(
        "enter-run",
        "Paste a run",
        words.RUN_LEAD,
        "Keep the run",
        (
            Field("into", "Put it into", "choice", choices=(("", words.NEW_LOG), *((log, log) for log in logs))),
            Field("name", "Name of the sequence, for a new log", hint="What was sent, such as power-on."),
            Field("bytes", "The bytes", "hex", words.FRESH_BYTES, needed=True, size=8),
            Field("note", "Where and how it was taken"),
            Field("numbers", "The numbers are, in a new log", "choice", choices=words.NUMBERS),
            Field("runs", "A run is, in a new log", "choice", choices=words.RUNS),
        ),
        cautions=(words.RUN_CAUTION,),
    )


def document_form() -> Form:
    """A new device table."""
    from latchlore.device import DOCUMENT_KINDS

    kinds = tuple((kind, kind) for kind in DOCUMENT_KINDS)
    return Form(
        "enter-document",
        "Enter a manual's table",
        words.DOCUMENT_LEAD,
        "Keep the table",
        (
            Field("name", "Name of the file", hint="Short, such as manual.", needed=True),
            Field("title", "Title, as printed", needed=True),
            Field("device", "The device it speaks of", needed=True),
            Field("kind", "It is a", "choice", choices=kinds),
            rows_field(),
            *PAPER_FIELDS,
        ),
        template="enter_document.html",
    )


def row_form(file: str, number: int | None, values: Mapping[str, str], seen: str) -> Form:
    """A row of a table, new or changed."""
    pattern, meaning, does, page, row, doubt = rows_field().columns
    return Form(
        "enter-row",
        f"Change row {number} of {file}" if number is not None else f"Add a row to {file}",
        words.ROW_LEAD,
        "Keep the row",
        (
            pattern._replace(label="Pattern", hint=words.ROWS_HINT, needed=True),
            meaning._replace(label="Meaning", needed=True),
            does._replace(label="What it does on the paper"),
            Field("amount", "How far, for a feed or a line step: a number, or a parameter's name"),
            page._replace(label="Page"),
            row._replace(label="Row on the page"),
            Field("quote", "The words as printed"),
            doubt._replace(label="Your doubt, in words"),
        ),
        values=values,
        kept={"file": file, "number": "" if number is None else str(number), "seen": seen},
        template="enter_row.html",
    )


def row_out_form(file: str, number: int, seen: str) -> Form:
    """A row taken out; what goes is shown beside it."""
    return Form(
        "enter-row-out",
        f"Take row {number} out of {file}",
        words.ROW_OUT_LEAD,
        "Take these lines out",
        (),
        kept={"file": file, "number": str(number), "seen": seen},
        template="enter_row_out.html",
    )


def readings_form(files: Sequence[str]) -> Form:
    """Readings of a meter."""
    return Form(
        "enter-readings",
        "Enter readings of a meter",
        words.READINGS_LEAD,
        "Keep the readings",
        (
            Field("file", "Put them into", "choice", choices=tuple((file, file) for file in files)),
            Field("readings", "The readings", "hex", needed=True),
            Field("note", "Note"),
        ),
        cautions=(f"{tracewording.BEFORE} {' '.join(tracewording.CAUTIONS)}",),
    )


def note_form() -> Form:
    """A note."""
    return Form(
        "enter-note",
        "Write a note",
        words.NOTE_LEAD,
        "Keep the note",
        (Field("note", "The note", "text", needed=True), DAY),
        values={"day": today()},
    )


def about_form(title: str, about: str, seen: str) -> Form:
    """The study's title and purpose."""
    return Form(
        "enter-about",
        "Title and purpose of the study",
        words.ABOUT_LEAD,
        "Keep it",
        (Field("title", "Title", needed=True), Field("about", "What it is about", "text")),
        values={"title": title, "about": about},
        kept={"seen": seen},
    )


def file_form(kind: str) -> Form:
    """A file that is brought."""
    return Form(
        "enter-file",
        "Bring a file",
        words.FILE_LEAD,
        "Bring it",
        (
            Field("kind", "It is", "choice", choices=tuple(words.KIND_WORDS.items())),
            Field("content", "The file", "file"),
            Field("name", "Its name in the study; empty: as it is called now"),
            Field("replace", "It may take the place of a file of that name", "tick"),
            Field("list", "An image: list it in study.toml, so that the program is followed", "tick"),
            Field("load", "Its first address, such as E000", hint=words.FOUND_HINT),
            Field("cpu", "The processor, where the study names none yet", hint=words.FOUND_HINT),
        ),
        values={"kind": kind},
    )


def text_form(file: str, text: str, seen: str) -> Form:
    """A file changed as text."""
    return Form(
        "edit",
        file,
        words.TEXT_LEAD,
        "Keep the text",
        (Field("text", "The text of the file", "hex", size=28),),
        values={"text": text},
        kept={"file": file, "seen": seen},
    )

"""Forms: what each asks for, what was sent, and the same page again with everything still in it when it is refused."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.responses import RedirectResponse

from latchlore.base import StudyError, outcome_of
from latchlore.desk import formwording as words
from latchlore.desk._desk import mistakes_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from starlette.requests import Request
    from starlette.responses import Response

    from latchlore.base import Origin
    from latchlore.desk._desk import Desk
    from latchlore.study import Edit

MORE = "more"
"""The button that asks for more empty rows."""
ROWS_MORE = 4
MAX_ROWS = 200
CONFLICT_STATUS = 409


class Field(NamedTuple):
    """One thing that is asked for.

    `kind`: ``line``, ``text``, ``hex`` (text in letters of one width), ``choice``, ``pick`` (a choice of which all is
    seen at once), ``file`` or ``tick``.  `choices`: (value, words); `notes`: the caution beside each of a pick, empty
    for none.  `known`: values that may be typed and are offered.  `size`: rows of a text.
    """

    name: str
    label: str
    kind: str = "line"
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    known: tuple[str, ...] = ()
    needed: bool = False
    size: int = 6
    notes: tuple[str, ...] = ()


class Rows(NamedTuple):
    """A table to be filled in: `columns` are named ``NAME-0``, ``NAME-1``, ... in what is sent.

    `start`: rows that are shown at first; `more`: those that its button adds, up to `most`.
    """

    name: str
    label: str
    columns: tuple[Field, ...]
    hint: str = ""
    start: int = 3
    more: int = ROWS_MORE
    most: int = MAX_ROWS

    @property
    def kind(self) -> str:
        """Tells it from a field."""
        return "rows"


class Group(NamedTuple):
    """Fields under one heading."""

    label: str
    fields: tuple[Field | Rows | Group, ...]
    hint: str = ""

    @property
    def kind(self) -> str:
        """Tells it from a field."""
        return "group"


def _iter_every(fields: Iterable[Field | Rows | Group]) -> Iterator[Field | Rows]:
    for one in fields:
        if isinstance(one, Group):
            yield from _iter_every(one.fields)
        else:
            yield one


@dataclass(frozen=True, slots=True)
class Form:
    """A form on a page of its own; `cautions` stand above it, `values` are what it holds at first.

    `field_of`: the id of the field that the place of a mistake means, empty for none.
    """

    address: str
    title: str
    lead: str
    button: str
    fields: tuple[Field | Rows | Group, ...]
    cautions: tuple[str, ...] = ()
    values: Mapping[str, str] | None = None
    kept: Mapping[str, str] | None = None
    template: str = "form.html"
    field_of: Callable[[Origin], str] | None = None

    @property
    def every(self) -> tuple[Field | Rows, ...]:
        """Everything that is asked for, without the groups."""
        return tuple(_iter_every(self.fields))

    @property
    def takes_files(self) -> bool:
        """Whether a file is among what is asked for."""
        return any(one.kind == "file" for one in self.every)

    def ids(self, counts: Mapping[str, int]) -> frozenset[str]:
        """The ids of all fields, with so many rows in each table."""
        rows = {
            f"{column.name}-{k}"
            for one in self.every
            if isinstance(one, Rows)
            for column in one.columns
            for k in range(counts[one.name])
        }
        return frozenset(rows | {one.name for one in self.every if isinstance(one, Field)})


class Sent(NamedTuple):
    """What came with a form: texts by name, and files by name (their name, their content)."""

    texts: Mapping[str, str]
    files: Mapping[str, tuple[str, bytes]]

    def get(self, name: str) -> str:
        """A text, without blanks around it; empty where it did not come."""
        return self.texts.get(name, "").strip()

    def rows(self, rows: Rows) -> list[dict[str, str]]:
        """The rows of a table in which anything was filled in."""
        typed = [column.name for column in rows.columns if column.kind != "choice"]
        return [row for row in self.all_rows(rows) if any(row[name] for name in typed)]

    def all_rows(self, rows: Rows) -> list[dict[str, str]]:
        """All rows of a table that were shown, each in its place."""
        count = num_rows(rows, self.texts)
        return [{column.name: self.get(f"{column.name}-{k}") for column in rows.columns} for k in range(count)]


def num_rows(rows: Rows, values: Mapping[str, str]) -> int:
    """How many rows of a table are shown."""
    count = values.get(f"{rows.name}-count", "")
    return min(int(count), rows.most) if count.isascii() and count.isdigit() and len(count) < 5 else rows.start


async def read_sent(request: Request) -> Sent:
    """What came with a form."""
    texts: dict[str, str] = {}
    files: dict[str, tuple[str, bytes]] = {}
    async with request.form() as form:
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                files[name] = (value.filename or "", await value.read())
            else:
                texts[name] = value.replace("\r\n", "\n").replace("\r", "\n")
    return Sent(texts, files)


class FormPages:
    """Shows forms, and takes what they bring."""

    def __init__(self, desk: Desk, room: str) -> None:
        self._desk, self._room = desk, room

    def show(
        self, form: Form, values: Mapping[str, str] | None = None, error: Exception | None = None, **names: Any
    ) -> Response:
        """The form with what it holds; `error` says why what was sent was refused."""
        from latchlore.study import Overtaken

        held = dict(form.values or {}) if values is None else dict(values)
        counts = {one.name: num_rows(one, held) for one in form.every if isinstance(one, Rows)}
        mistakes = [(str(place), text, self._id(form, place, counts)) for place, text in mistakes_of(error)]
        errors: dict[str, list[str]] = {}
        for _, text, field in mistakes:
            errors.setdefault(field, []).append(text)
        if isinstance(error, Overtaken):
            held["seen"] = error.seen  # both sides were shown: sent again, ours may take the place of theirs
        both = (error.file, error.theirs, error.ours) if isinstance(error, Overtaken) else None
        status = 200 if error is None else CONFLICT_STATUS if both else outcome_of(error).http_status
        return self._desk.page(
            form.template,
            None,
            status=status,
            room=self._room,
            form=form,
            values=held,
            counts=counts,
            mistakes=mistakes or ([("", str(error), "")] if error else []),
            errors=errors,
            both=both,
            refused=words.REFUSED if error else "",
            **names,
        )

    @staticmethod
    def _id(form: Form, place: Origin, counts: Mapping[str, int]) -> str:
        """The field beside which a mistake is told as well; empty for none."""
        found = form.field_of(place) if form.field_of is not None else ""
        return found if found in form.ids(counts) else ""

    async def take(self, form: Form, sent: Sent, plan: Callable[[Sent], tuple[Edit, str]], **names: Any) -> Response:
        """Plan what was sent, write it, and go on to the address that the plan names; or the form again."""
        from latchlore.study import write_edit

        if MORE in sent.texts:
            return self.show(form, with_more_rows(form, sent), **names)
        try:
            edit, after = await run_in_threadpool(plan, sent)
            await self._desk.change(edit.words, edit.files, lambda: write_edit(self._desk.folder, edit))
        except (StudyError, OSError) as error:
            return self.show(form, sent.texts, error, **names)
        return RedirectResponse(after or "./", 303)


def with_more_rows(form: Form, sent: Sent) -> dict[str, str]:
    """What was sent, with more rows in the table that was named, or in all where none was."""
    tables = [one for one in form.every if isinstance(one, Rows)]
    named = [one for one in tables if one.name == sent.texts.get(MORE)]
    counts = {f"{one.name}-count": str(num_rows(one, sent.texts) + one.more) for one in named or tables}
    return {**sent.texts, **counts}


def with_values(form: Form, values: Mapping[str, str]) -> Form:
    """The form, holding these at first."""
    return replace(form, values={**(form.values or {}), **values})

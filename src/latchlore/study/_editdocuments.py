"""What a document says, typed in: a new device table, and rows of its commands; checked by the table's reader first."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, UnknownName, append_table, read_toml, set_keys
from latchlore.study import _editwords as words
from latchlore.study._edit import Edit, Overtaken, content_of, digest_of
from latchlore.study._editnames import place_for
from latchlore.study._paths import StudyFolder

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

ROW_KEYS = ("pattern", "meaning", "does", "amount", "page", "row", "quote", "doubt")
HEAD_KEYS = ("title", "device", "kind", "edition", "date", "holder")
PAPER_KEYS = ("head_dots", "dot_x", "dot_y", "columns", "cell_dots", "cell_rows", "line_feed", "page")
NUMBERS = frozenset({"page", "row", "amount", *PAPER_KEYS} - {"dot_x", "dot_y"})
"""Keys that hold a number where a number was typed."""
_KEY = re.compile(r"command\[(\d+)\](?:\.(.*))?")


def plan_document(
    folder: Path,
    name: str,
    head: Mapping[str, str],
    rows: Sequence[Mapping[str, str]],
    paper: Mapping[str, str] | None = None,
) -> Edit:
    """A new device table ``documents/NAME.toml``.

    `head`: keys of `HEAD_KEYS`; `rows`: keys of `ROW_KEYS`, one a command; `paper`: keys of `PAPER_KEYS`.  Texts as
    they were typed, empty ones left out.  Refuses a table that is there, and what the table's reader refuses.
    """
    from latchlore.device import read_device

    file = place_for(folder, "documents", name, ".toml")
    text = set_keys(b"", file, (), {key: head[key] for key in HEAD_KEYS if head.get(key)})
    for row in rows:
        text = append_table(text, file, "command", _pairs(row, ROW_KEYS))
    found = _pairs(paper or {}, PAPER_KEYS)
    if found:
        text = set_keys(text + b"\n[paper]\n", file, ("paper",), found)
    try:
        read_device(text, file)
    except BadInput as error:
        raise _by_row(error) from error
    return Edit(words.document(len(rows), file), {file: text}, {file: None})


def plan_row(folder: Path, file: str, number: int | None, row: Mapping[str, str], seen: str = "") -> Edit:
    """A row of a table's commands: the `number`-th, from 1, as it is to be, or (None) one more.

    Keys of `ROW_KEYS`; an empty one takes the key out, and everything else of the row stays.  `seen`: the digest of the
    file from which the row was shown.  Refuses (`Overtaken`) a row that was changed meanwhile, a table that is not
    there, and what the table's reader refuses.
    """
    from latchlore.device import read_device

    raw = content_of(folder, check_document(file))
    if raw is None:
        raise UnknownName(words.NO_TABLE.format(file=file))
    if number is None:
        text = append_table(raw, file, "command", _pairs(row, ROW_KEYS))
        told = words.ADD_ROW.format(pattern=row.get("pattern", ""), file=file)
    else:
        rows = rows_of(raw, file)
        if not 1 <= number <= len(rows):
            raise UnknownName(words.NO_ROW.format(file=file, number=number, count=len(rows)))
        pairs = _pairs(row, ROW_KEYS)
        if seen and seen != digest_of(raw):
            raise Overtaken(file, raw, _shown(row))
        text = set_keys(raw, file, ("command", number - 1), {key: pairs.get(key) for key in ROW_KEYS})
        told = words.CHANGE_ROW.format(number=number, file=file)
    try:
        read_device(text, file)
    except BadInput as error:
        raise _by_row(error) from error
    return Edit(told, {file: text}, {file: raw})


def rows_of(raw: bytes, file: str) -> list[dict[str, str]]:
    """The command rows of a table as a form shows them: keys of `ROW_KEYS` as text, empty where there is none.

    Refuses what is not TOML; a row that breaks other rules is shown as far as it goes.
    """
    found = read_toml(raw, file).data.get("command", [])
    rows = found if isinstance(found, list) else []
    return [{key: str(row.get(key, "")) for key in ROW_KEYS} for row in rows if isinstance(row, dict)]


def check_document(file: str) -> str:
    """The path of a device table.  Refuses any other."""
    sub, _, name = file.rpartition("/")
    if sub != "documents" or not name.endswith(".toml") or name.startswith("."):
        raise UnknownName(words.NO_TABLE.format(file=file))
    return file


def document_files(folder: Path) -> tuple[str, ...]:
    """The device tables of a study, by path; also while the study cannot be read."""
    return tuple(StudyFolder(folder).list_files("documents", ".toml"))


def _pairs(typed: Mapping[str, str], keys: Sequence[str]) -> dict[str, object]:
    """What was typed, as a table holds it."""
    found: dict[str, object] = {}
    for key in keys:
        text = " ".join(typed.get(key, "").split())
        if text:
            is_number = key in NUMBERS and text.isascii() and text.isdigit() and len(text) < 10
            found[key] = int(text) if is_number else text
    return found


def _shown(row: Mapping[str, str]) -> str:
    return "\n".join(f"{key}: {row[key]}" for key in ROW_KEYS if row.get(key))


def _by_row(error: BadInput) -> BadInput:
    """The same mistakes, by the number of the row and its column; lines of a file that is not written help nobody."""

    def place(origin: Origin) -> Origin:
        match = _KEY.fullmatch(origin.detail)
        if match is None:
            return Origin(origin.file, detail=origin.detail)
        return Origin(words.ROW.format(number=match[1]), detail=match[2] or "")

    return BadInput.of_all((place(origin), text) for origin, text in error.mistakes)

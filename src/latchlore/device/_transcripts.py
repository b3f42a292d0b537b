"""A command table out of a transcription in CSV: one row a command, the first line names the columns."""

from __future__ import annotations

import csv
import io
import json
import re
from bisect import bisect_right
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin
from latchlore.device._read import read_device

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

TEXT_COLUMNS = ("pattern", "name", "meaning", "decimal", "keys", "does", "row", "quote", "doubt")
MIXED_COLUMNS = ("page", "amount")
PAIR_COLUMNS = ("when", "when_switch", "sets", "sets_from")
COLUMNS = (*TEXT_COLUMNS, *MIXED_COLUMNS, *PAIR_COLUMNS, "otherwise", "limits")
"""Columns are called as the keys of ``[[command]]`` (docs/device-table.md); `limits` holds ``n 1..144; m 0..1``."""

_LIMIT = re.compile(r"([a-z][a-z0-9_]*) (\d+)?\.\.(\d+)?")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_YES = ("", "no", "yes")


def import_table(raw: bytes, file: str, heading: Mapping[str, str | int | bool], separator: str = ",") -> str:
    """The device table, as the text of a TOML file, of a transcription in CSV (RFC 4180; UTF-8).

    `heading`: the keys at the head of the file, `title`, `device` and `kind` at least.  Empty cells say nothing.
    Refuses unknown columns and whatever `read_device` refuses, with the line of the transcription.
    """
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput(Origin.at_byte(file, error.start), "the transcription is not UTF-8") from error
    lines = [f"{key} = {_value(value)}" for key, value in heading.items()]
    starts, places = [1], [1]  # the first TOML line of each row, and its line in the transcription
    for line, row in _rows(text, file, separator):
        lines.append("")
        starts.append(len(lines) + 1)
        places.append(line)
        lines += _command(row, Origin.at_line(file, line))
    toml = "\n".join(lines) + "\n"
    try:
        read_device(toml.encode(), file)
    except BadInput as error:
        raise BadInput.of_all(
            (_moved(origin, file, starts, places), _words_moved(words, starts, places))
            for origin, words in error.mistakes
        ) from error
    return toml


def _moved(origin: Origin, file: str, starts: list[int], places: list[int]) -> Origin:
    row = bisect_right(starts, origin.number) - 1
    column = origin.detail.rsplit(".", 1)[-1] if "." in origin.detail else origin.detail if row == 0 else ""
    return Origin.at_line(file, places[row], column) if row else Origin(file, detail=column)


def _words_moved(words: str, starts: list[int], places: list[int]) -> str:
    """Lines that a message names are the transcription's as well."""
    return re.sub(r"\bin line (\d+)", lambda m: f"in line {places[bisect_right(starts, int(m[1])) - 1]}", words)


def _rows(text: str, file: str, separator: str) -> Iterator[tuple[int, dict[str, str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        titles = [title.strip() for title in next(reader, [])]
        unknown = [title for title in titles if title not in COLUMNS]
        if unknown:
            words = f"column {unknown[0]!r} is not known; known are {', '.join(COLUMNS)}"
            raise BadInput(Origin.at_line(file, 1), words)
        for needed in ("pattern", "meaning"):
            if titles.count(needed) != 1:
                raise BadInput(
                    Origin.at_line(file, 1), f"column {needed!r} stands {titles.count(needed)} times, not once"
                )
        before = reader.line_num
        for cells in reader:
            line, before = before + 1, reader.line_num
            if len(cells) > len(titles):
                raise BadInput(Origin.at_line(file, line), f"the row has {len(cells)} cells for {len(titles)} columns")
            row = {title: cell.strip() for title, cell in zip(titles, cells, strict=False) if cell.strip()}
            if row:
                yield line, row
    except csv.Error as error:
        raise BadInput(Origin.at_line(file, reader.line_num), f"this is not CSV: {error}") from error


def _command(row: Mapping[str, str], origin: Origin) -> Iterator[str]:
    yield "[[command]]"
    for name in TEXT_COLUMNS:
        if name in row:
            yield f"{name} = {_value(row[name])}"
    for name in MIXED_COLUMNS:
        if name in row:
            yield f"{name} = {_value(int(row[name]) if row[name].isascii() and row[name].isdigit() else row[name])}"
    for name in PAIR_COLUMNS:
        if name in row:
            yield f"{name} = {{ {_pairs(row[name], name, origin)} }}"
    choice = row.get("otherwise", "")
    if choice not in _YES:
        raise BadInput(origin, f"otherwise is 'yes' or 'no', not {choice!r}")
    if choice == "yes":
        yield "otherwise = true"
    if "limits" in row:
        yield f"parameters = {{ {_limits(row['limits'], origin)} }}"


def _pairs(text: str, name: str, origin: Origin) -> str:
    """``font = dots; wide = on`` as an inline table."""
    found = []
    for pair in text.split(";"):
        key, sign, value = (part.strip() for part in pair.partition("="))
        if not sign or not key or not value:
            raise BadInput(origin, f"{name} is written 'mode = value; mode = value', not {text!r}")
        found.append(f"{key if _BARE.fullmatch(key) else _value(key)} = {_value(value)}")
    return ", ".join(found)


def _limits(text: str, origin: Origin) -> str:
    found = []
    for one in text.split(";"):
        match = _LIMIT.fullmatch(one.strip())
        if match is None or (match[2] is None and match[3] is None):
            raise BadInput(origin, f"limits are written 'n 1..144; m 0..', not {text!r}")
        bounds = [f"{key} = {int(value)}" for key, value in (("least", match[2]), ("most", match[3])) if value]
        found.append(f"{match[1]} = {{ {', '.join(bounds)} }}")
    return ", ".join(found)


def _value(value: str | int | bool) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")

"""The table as text: contradictions first, each value with its witness and origin.

Two layouts hold the same lines: side by side where the width allows a column for each witness, else one under
another.  The standing shows as a word and as a small balance (two weights level, two with a break between, one, none);
colour only repeats it.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from latchlore.base import Place, Strength
from latchlore.cli import wording
from latchlore.cli._letters import harmless
from latchlore.evidence import Standing, describe_places, describe_value, fold_rows

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import Statement, Testimony, Witness
    from latchlore.cli._terminal import Terminal
    from latchlore.evidence import Line, Row, Table

SIDE_BY_SIDE = 130
"""From this width on each witness has a column of its own."""

SUBJECT_COLUMNS = 30
LABEL_COLUMNS = 11
SHOWN_BYTES = 96
SHOWN_LETTERS = 600
SHOWN_PLACES = 6
"""A value or a list of places that is longer is cut here and says so; --json holds them all."""

_BALANCE = {
    Standing.AGREED: ("●─●", "o-o"),
    Standing.CONTRADICTED: ("●╱●", "o/o"),
    Standing.SINGLE: ("●─ ", "o- "),
    Standing.SILENT: (" ─ ", " - "),
}
_TINT = {Standing.AGREED: "32", Standing.CONTRADICTED: "1;31", Standing.SINGLE: "", Standing.SILENT: "2"}
_BOLD = "1"
_FAINT = "2"


def table_text(table: Table, terminal: Terminal) -> str:
    """The whole table, ending in a line feed; no line is wider than the terminal unless a single word is."""
    page = _Page(terminal)
    lines = [*page.head(table)]
    contradicted = list(table.iter_standing(Standing.CONTRADICTED))
    others = [row for row in table.rows if row.standing is not Standing.CONTRADICTED]
    for heading, rows in ((f"Contradicted ({len(contradicted)})", contradicted), ("The other subjects", others)):
        if rows:
            lines += [*([""] if lines[-1] else []), page.tint(heading, _BOLD), *page.columns(table.heard), ""]
            for line in fold_rows(rows):
                lines += page.row(line, table.heard)
    if not table.rows and not table.not_done:
        lines += ["", *page.wrap(wording.NOBODY_YET, "", "  ")]
    if table.not_done:
        lines += [*([""] if lines[-1] else []), page.tint("Not done, which is not the same as no", _BOLD)]
        for sentence in table.not_done:
            lines += page.wrap(sentence, "  - ", "    ")
    text = "\n".join(line.rstrip() for line in lines).rstrip("\n") + "\n"
    return text if terminal.marks else plain_letters(text)


def plain_letters(text: str) -> str:
    """The text for an output that knows ASCII only."""
    for mark, plain in (
        ("µ", "u"),
        ("×", "x"),
        ("–", "-"),
        ("—", "-"),
        ("·", "."),
        ("…", "..."),
        ("←", "<-"),
        ("→", "->"),
        ("│", "|"),
        ("“", '"'),
        ("”", '"'),
    ):
        text = text.replace(mark, plain)
    return text.encode("ascii", "backslashreplace").decode("ascii")


class _Page:
    def __init__(self, terminal: Terminal) -> None:
        self._terminal = terminal
        self._wide = terminal.width >= SIDE_BY_SIDE

    def tint(self, text: str, code: str) -> str:
        return f"\x1b[{code}m{text}\x1b[0m" if code and self._terminal.tinted else text

    def balance(self, standing: Standing) -> str:
        return _BALANCE[standing][0 if self._terminal.marks else 1]

    def wrap(self, text: str, first: str, rest: str) -> list[str]:
        return wrap(text, self._terminal.width, first, rest)

    def head(self, table: Table) -> Iterator[str]:
        yield from (self.tint(line, _BOLD) for line in self.wrap(table.title, "", ""))
        if table.invented:
            yield from self.wrap(wording.INVENTED, "", "  ")
        heard = ", ".join(witness.value for witness in table.heard) or "none"
        yield from self.wrap(f"Witnesses heard: {heard}", "", "  ")
        counts = [
            f"{self.balance(standing).strip()} {table.num_standing(standing)} {standing.value}" for standing in Standing
        ]
        yield from self.wrap(f"{len(table.rows)} subject{'s' * (len(table.rows) != 1)}: {', '.join(counts)}", "", "  ")

    def columns(self, heard: tuple[Witness, ...]) -> list[str]:
        if not self._wide or not heard:
            return []
        cells = [["subject"], *([witness.value] for witness in heard)]
        return [self.tint(line.rstrip(), _FAINT) for line in self._beside(cells)]

    def row(self, line: Line, heard: tuple[Witness, ...]) -> list[str]:
        lines = self._side_by_side(line, heard) if self._wide and heard else self._one_under_another(line)
        return [*lines, *self._remarks(line.row), ""]

    def _name(self, line: Line) -> str:
        return f"{self.balance(line.row.standing)} {line.name}"

    def _one_under_another(self, line: Line) -> list[str]:
        row = line.row
        word = self.tint(row.standing.value, _TINT[row.standing])
        name = self.wrap(self._name(line), "", "      ")
        gap = self._terminal.width - len(name[-1]) - len(row.standing.value)
        lines = [*name[:-1], name[-1] + " " * gap + word] if gap >= 2 else [*name, f"    {word}"]
        for one in row.testimonies:
            label = f"    {one.witness.value:{LABEL_COLUMNS}}"
            for i, (text, code) in enumerate(_testimony_lines(one)):
                wrapped = self.wrap(text, label if i == 0 else " " * len(label), " " * (len(label) + 2))
                lines += [self.tint(line, code) for line in wrapped]
        return lines

    def _side_by_side(self, line: Line, heard: tuple[Witness, ...]) -> list[str]:
        row = line.row
        size = self._column_width(len(heard))
        cells = [[*wrap(self._name(line), SUBJECT_COLUMNS, "", "    "), f"    {row.standing.value}"]]
        for witness in heard:
            cell: list[str] = []
            for one in row.by_witness(witness):
                for i, (text, _) in enumerate(_testimony_lines(one)):
                    cell += wrap(text, size, "" if i == 0 else "  ", "  ")
            cells.append(cell)
        lines = self._beside(cells)
        at = next(i for i, line in enumerate(lines) if i == len(cells[0]) - 1 or i == len(lines) - 1)
        word = row.standing.value
        lines[at] = lines[at].replace(word, self.tint(word, _TINT[row.standing]), 1)
        return lines

    def _column_width(self, columns: int) -> int:
        return (self._terminal.width - SUBJECT_COLUMNS) // columns - 2

    def _beside(self, cells: list[list[str]]) -> list[str]:
        sizes = [SUBJECT_COLUMNS, *[self._column_width(len(cells) - 1)] * (len(cells) - 1)]
        height = max(len(cell) for cell in cells)
        return [
            "  ".join(f"{cell[i] if i < len(cell) else '':{size}}" for cell, size in zip(cells, sizes, strict=True))
            for i in range(height)
        ]

    def _remarks(self, row: Row) -> list[str]:
        indent = " " * 4
        lines = self._labelled("because", row.reason, indent) if row.reason else []
        for repair in row.repairs:
            what = "; ".join(statement_text(one) for one in repair.statements)
            also = wording.ends_also(repair.ends - 1) if repair.ends > 1 else ""
            lines += self._labelled("repair", f"withdraw {what}: {repair.advice}{also}", indent)
        for sentence in row.follows:
            lines += self._labelled("follows", sentence, indent)
        return lines

    def _labelled(self, label: str, text: str, indent: str) -> list[str]:
        head = f"{indent}{label:{LABEL_COLUMNS}}"
        return self.wrap(text, head, " " * (len(head) + 2))


def _testimony_lines(testimony: Testimony) -> Iterator[tuple[str, str]]:
    """(text, tint) of what is said, of doubts, and of the places it rests on."""
    words = describe_value(testimony.value, SHOWN_BYTES)
    if len(words) > SHOWN_LETTERS:
        words = f"{words[:SHOWN_LETTERS].rsplit(' ', 1)[0]} … (all in --json)"
    if testimony.strength is Strength.GUESSED:
        words += " (guessed)"
    yield (words, "")
    if testimony.note:
        yield (testimony.note, _FAINT)
    places = describe_places(testimony.origins)
    more = f"; and {len(places) - SHOWN_PLACES} more" if len(places) > SHOWN_PLACES else ""
    yield ("; ".join(places[:SHOWN_PLACES]) + more, _FAINT)


def statement_text(one: Statement) -> str:
    """A statement by its name, as `record strike` takes it, with the place where it stands now."""
    place = str(one.origin).removeprefix(one.origin.file).strip(": ")
    quoted = f'"{one}"'
    return (
        f"{quoted} (line {one.origin.number})" if one.origin.place is Place.LINE and place not in one.what else quoted
    )


def wrap(text: str, width: int, first: str, rest: str) -> list[str]:
    """Lines of at most `width`; only a word that is wider than a line is broken."""
    lines: list[str] = []
    for part in harmless(text).split("\n"):
        lines += textwrap.wrap(
            part, width, initial_indent=first if not lines else rest, subsequent_indent=rest, break_on_hyphens=False
        ) or [first]
    return lines

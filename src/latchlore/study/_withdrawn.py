"""Single statements of a study that the researcher has withdrawn: read, applied, and added to a file of their own.

The files that hold the statements stay as they are, comments and all.  ``withdrawn.txt`` is only ever added to: one
line a change, with the reason; of two lines about one statement the later one holds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, Place, UnknownName
from latchlore.study import _withdrawnwords as words
from latchlore.study._paths import WITHDRAWN, StudyFolder, read_text

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence
    from pathlib import Path

    from latchlore.base import Progress, Statement, Testimony
    from latchlore.board import Board
    from latchlore.evidence import Table
    from latchlore.study._cache import Cache
    from latchlore.study._study import ImagePart, Study, StudyFile
    from latchlore.wire import Log, Run

NUM_FIELDS = 5
ATTRIBUTES = ".gitattributes"


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """A statement that does not count: its name (`Statement`), what its line said then, when and why withdrawn."""

    name: str
    says: str
    day: str
    why: str
    origin: Origin

    @property
    def file(self) -> str:
        """The file that holds the statement."""
        return self.name.partition(": ")[0]

    @property
    def what(self) -> str:
        """What of the file; empty for the whole."""
        return self.name.partition(": ")[2]


@dataclass(frozen=True, slots=True)
class SetAside:
    """What a withdrawal changed: the statement, and (subject, how it stood, how it stands now), in table order."""

    statement: Statement
    changed: tuple[tuple[str, str, str], ...]


def read_withdrawn(folder: StudyFolder) -> tuple[Withdrawn, ...]:
    """The statements that do not count, in the order in which they were withdrawn.

    Refuses lines that are none, all at once, and the marks that git leaves where it could not merge.
    """
    if not folder.holds(WITHDRAWN):
        return ()
    text = read_text(folder.read(WITHDRAWN, "list of withdrawn statements")).text
    found: dict[str, Withdrawn] = {}
    mistakes: list[tuple[Origin, str]] = []
    for number, line in enumerate(text.replace("\r\n", "\n").split("\n"), 1):
        if not line.strip() or line.startswith("#"):
            continue
        origin = Origin.at_line(WITHDRAWN, number)
        fields = line.split("\t")
        if len(fields) != NUM_FIELDS or fields[2] not in (words.GONE, words.BACK):
            mistakes.append((origin, words.NO_LINE.format(count=len(fields))))
            continue
        day, name, state, says, why = fields
        found.pop(name, None)
        if state == words.GONE:
            found[name] = Withdrawn(name, says, day, why, origin)
    if mistakes:
        raise BadInput.of_all(mistakes)
    return tuple(found.values())


def names_of(study: Study) -> frozenset[str]:
    """The names of all statements that do not count."""
    return frozenset(one.name for one in study.withdrawn)


def without_statements(board: Board, study: Study) -> Board:
    """A board of the study without what was withdrawn from its net files and readings."""
    files = {one.file for one in (*study.nets, *study.readings)}
    whats = [one.what for one in study.withdrawn if one.file in files and one.what]
    if not whats:
        return board
    from latchlore.board import without

    return without(board, whats)[0]


def unread_images(images: Iterable[ImagePart], withdrawn: Sequence[Withdrawn]) -> tuple[ImagePart, ...]:
    """The images with withdrawn instructions, or all bytes of a withdrawn image, as bytes that nobody knows."""
    found = []
    for image in images:
        unknown = list(image.unknown)
        for one in withdrawn:
            if one.file != image.file.file:
                continue
            if not one.what:
                unknown.append((image.load, image.last))
            elif one.what.startswith("at ") and image.load <= int(one.what[3:], 16) <= image.last:
                unknown.append((int(one.what[3:], 16),) * 2)
        found.append(replace(image, unknown=tuple(sorted(set(unknown)))))
    return tuple(found)


def without_runs(log: Log, file: StudyFile, withdrawn: Sequence[Withdrawn]) -> Log:
    """The log without withdrawn runs; a run whose line has moved is known by its text."""
    mine = [one for one in withdrawn if one.file == log.file]
    if not mine:
        return log
    lines = file.text.split("\n")

    def counts(run: Run) -> bool:
        text = lines[run.origin().number - 1].strip()
        return not any(not one.what or (one.what.startswith("line ") and one.says == text) for one in mine)

    return replace(log, runs=tuple(run for run in log.runs if counts(run)))


def still_said(said: Iterable[Testimony], names: Collection[str]) -> list[Testimony]:
    """The testimonies that do not fall with the withdrawn statements."""
    if not names:
        return list(said)
    return [one for one in said if not any(all(str(s) in names for s in group) for group in one.falls_with)]


def set_aside(
    folder: Path, name: str, day: str, because: str, progress: Progress, cache: Cache | None = None, *, again: bool
) -> SetAside:
    """Withdraw one statement, or let it count `again`; what stood on it weakens with the next weighing.

    Refuses (`UnknownName`) a name that no testimony rests on, one that is withdrawn already, and, for `again`, one
    that is not.
    """
    from latchlore.evidence import one_line
    from latchlore.study._record import check_day
    from latchlore.study._weighing import weigh_study

    check_day(day)
    opened = StudyFolder(folder)
    gone = {one.name: one for one in read_withdrawn(opened)}
    before = weigh_study(folder, progress, cache)
    if again:
        if name not in gone:
            raise UnknownName(words.NOT_WITHDRAWN.format(name=name), list(gone))
        _add(opened, folder, [day, name, words.BACK, gone[name].says, one_line(because)])
    else:
        if name in gone:
            raise UnknownName(words.WITHDRAWN_ALREADY.format(name=name, day=gone[name].day), [])
        statement = _statement(before, folder, name)
        says = _line_of(opened, statement)
        _add(opened, folder, [day, name, words.GONE, one_line(says), one_line(because)])
    after = weigh_study(folder, progress, cache)
    return SetAside(_statement(after if again else before, folder, name), _changes(before, after))


def statement_named(table: Table, name: str) -> Statement:
    """The statement of that name among all that the testimonies of a table rest on."""
    known = _statements(table)
    if name not in known:
        raise UnknownName(words.NO_STATEMENT.format(name=name), get_close_matches(name, known, 5))
    return known[name]


def _statement(table: Table, folder: Path, name: str) -> Statement:
    """As `statement_named`, and besides everything that the board states, whether a testimony names it or not."""
    try:
        return statement_named(table, name)
    except UnknownName:
        from latchlore.board import find_statement
        from latchlore.study._load import load_study
        from latchlore.study._matings import study_board

        study = load_study(folder)
        file, _, what = name.partition(": ")
        if file not in {one.file for one in (*study.nets, *study.readings)}:
            raise
        found = find_statement(study_board(replace(study, withdrawn=())), what)
        if found is None:
            raise
        return replace(found, file=file)


def _statements(table: Table) -> dict[str, Statement]:
    from latchlore.evidence import statements_of

    return {
        str(statement): statement
        for row in table.rows
        for one in row.testimonies
        if one.falls_with
        for alternative in statements_of(one)
        for statement in alternative
    }


def _line_of(folder: StudyFolder, one: Statement) -> str:
    """The line of a statement as it is now; empty where it stands in no line."""
    if one.origin.place is not Place.LINE or not one.what:
        return ""
    lines = folder.read(one.file, "study file").raw.decode("utf-8", "replace").split("\n")
    return lines[one.origin.number - 1].strip() if one.origin.number <= len(lines) else ""


def _add(opened: StudyFolder, folder: Path, fields: Sequence[str]) -> None:
    from latchlore.study._write import write_files

    old = opened.read(WITHDRAWN, "list of withdrawn statements").raw if opened.holds(WITHDRAWN) else None
    text = words.HEAD.encode() if old is None else old
    if text and not text.endswith(b"\n"):
        text += b"\n"
    made = {WITHDRAWN: text + ("\t".join(fields) + "\n").encode()}
    expected: dict[str, bytes | None] = {WITHDRAWN: old}
    attributes = folder / ATTRIBUTES
    union = f"{WITHDRAWN} merge=union\n".encode()
    if old is None:
        kept = attributes.read_bytes() if attributes.exists() else None
        if kept is None or union not in kept:
            made[ATTRIBUTES] = (kept or b"") + union
            expected[ATTRIBUTES] = kept
    write_files(folder, made, expected)


def _changes(before: Table, after: Table) -> tuple[tuple[str, str, str], ...]:
    from latchlore.evidence import mark_of_rows

    def stands(table: Table) -> Mapping[str, tuple[str, str]]:
        return {str(row.subject): (row.standing.value, mark_of_rows([row])) for row in table.rows}

    old, new = stands(before), stands(after)
    nothing = (words.NOTHING, "")
    return tuple(
        (subject, old.get(subject, nothing)[0], new.get(subject, nothing)[0])
        for subject in dict.fromkeys([*old, *new])
        if old.get(subject) != new.get(subject)
    )

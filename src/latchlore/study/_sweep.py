"""A folder of images asked the same question: one row each, kept as they come, in the order of the files' names."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, no_progress
from latchlore.study import _sweepwords as words
from latchlore.study._cache import cache_folder, code_stamp
from latchlore.study._paths import LIMITS, reason, shown
from latchlore.study._sweepquestion import SweepQuestion, SweepRow, check_question, check_reference
from latchlore.study._sweepworkers import Task, iter_rows_here, iter_rows_on

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import Progress

STATES = ("asked", "open", "broken", "lost", "fault")
AGAIN = frozenset(("lost", "fault"))  # rows that are not kept for the next time
MOST_FILES = 100_000


@dataclass(frozen=True, slots=True)
class Sweep:
    """Every row, in the order of the files' names.  `kept`: how many were there from an earlier run."""

    question: SweepQuestion
    rows: tuple[SweepRow, ...]
    kept: int = 0

    @property
    def counts(self) -> dict[str, int]:
        """State → number of rows, in the order of `STATES`."""
        return {state: sum(row.state == state for row in self.rows) for state in STATES}


def sweep_stamp() -> str:
    """Names the code that a row depends on: SHA-256 over the packages that read and follow an image."""
    total = "".join(code_stamp(f"latchlore.{name}") for name in ("base", "program", "study"))
    return hashlib.sha256(total.encode()).hexdigest()


def sweep_folder(
    folder: Path,
    question: SweepQuestion,
    *,
    workers: int = 0,
    on: str = "",
    pattern: str = "*",
    journal: Path | None = None,
    fresh: bool = False,
    progress: Progress = no_progress,
) -> Sweep:
    """Ask every image of a folder and of the folders in it.  Nothing is written there.

    `workers`: processes, 0 for one a processor; `on`: the address of a Dask scheduler instead.  `pattern`: which file
    names are meant.  `journal`: where rows are kept as they come, else in the cache folder under a name made of the
    folder, the question and this code; a second run takes from it what is there for the same bytes, unless `fresh`.
    A broken image is a row with its error.  Refuses a folder that is not there or holds no such file, and what
    `check_question` refuses.  KeyboardInterrupt ends the workers; the rows so far are kept.
    """
    check_question(question)
    tasks, rows = _tasks(folder, pattern)
    stamp = sweep_stamp()
    book = _Journal(journal or _usual_journal(folder, question, stamp), question, stamp)
    known = {} if fresh else book.read()
    left = []
    kept = 0
    for task in tasks:
        row = known.get((task.file, task.sha256))
        if row is None:
            left.append(task)
        else:
            rows[task.file] = row
            kept += 1
    total = len(tasks) + len(rows) - kept
    if left:
        check_reference(question)
        book.open(keep=not fresh)
        try:
            number = min(workers or os.cpu_count() or 1, len(left))
            coming = iter_rows_on(on, left, question, stamp) if on else iter_rows_here(left, question, number)
            for row in coming:
                rows[row.file] = row
                book.write(row)
                progress(len(rows), total, words.asking(row.file))
        except KeyboardInterrupt as error:
            error.add_note(words.stopped(len(rows), total))
            raise
        finally:
            book.close()
    return Sweep(question, tuple(rows[file] for file in sorted(rows)), kept)


def _usual_journal(folder: Path, question: SweepQuestion, stamp: str) -> Path:
    named = json.dumps([str(folder.absolute()), question.plain(), stamp], sort_keys=True)
    return cache_folder() / "sweeps" / f"{hashlib.sha256(named.encode()).hexdigest()}.jsonl"


def _tasks(folder: Path, pattern: str) -> tuple[list[Task], dict[str, SweepRow]]:
    """What is to be asked, by name, and rows for what cannot even be read."""
    try:
        root = folder.resolve(strict=True)
    except OSError as error:
        raise BadInput(Origin(shown(str(folder))), f"there is no such folder ({reason(error)})") from error
    if not root.is_dir():
        raise BadInput(Origin(shown(str(folder))), "is a file; a sweep asks the images of a folder")
    tasks: list[Task] = []
    rows: dict[str, SweepRow] = {}
    for name, path in _iter_files(root, pattern):
        if len(tasks) + len(rows) >= MOST_FILES:
            raise BadInput(Origin(shown(str(folder))), f"holds more than {MOST_FILES} files")
        try:
            data = _read(root, path)
        except OSError as error:
            rows[name] = SweepRow(name, "", 0, "broken", words=(words.cannot_read(reason(error)),))
        except ValueError as error:
            rows[name] = SweepRow(name, "", 0, "broken", words=(str(error),))
        else:
            tasks.append(Task(name, hashlib.sha256(data).hexdigest(), len(data), path.read_bytes))
    if not tasks and not rows:
        raise BadInput(Origin(shown(str(folder))), words.no_files(pattern))
    return tasks, rows


def _iter_files(root: Path, pattern: str) -> Iterator[tuple[str, Path]]:
    from fnmatch import fnmatchcase

    for place, folders, files in os.walk(root):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for file in sorted(files):
            if not file.startswith(".") and fnmatchcase(file, pattern):
                path = Path(place) / file
                yield shown(path.relative_to(root).as_posix()), path


def _read(root: Path, path: Path) -> bytes:
    """A file's bytes.  Raises ValueError, in words, for one that leads out of the folder or is no image by its size."""
    target = path.resolve(strict=True)
    if not target.is_relative_to(root):
        raise ValueError(words.LEADS_OUT)
    if not target.is_file():
        raise ValueError("is not a plain file")
    size = target.stat().st_size
    if size > LIMITS["image"]:
        raise ValueError(words.too_large(size, LIMITS["image"]))
    return target.read_bytes()


class _Journal:
    """Rows kept as they come: a line that names the question and the code, then a line a row.

    A line that was cut off when the process was killed is left out when it is read.
    """

    def __init__(self, path: Path, question: SweepQuestion, stamp: str) -> None:
        self.path = path
        self.head = json.dumps({"question": question.plain(), "code": stamp}, sort_keys=True)
        self.stream: int | None = None

    def read(self) -> dict[tuple[str, str], SweepRow]:
        """(file, SHA-256) → row; nothing where the journal is of another question or code, or is not there."""
        try:
            lines = self.path.read_bytes().decode("utf-8", "replace").split("\n")
        except OSError:
            return {}
        if lines[0] != self.head:
            return {}
        found = {}
        for line in lines[1:-1]:
            try:
                row = SweepRow.of_plain(json.loads(line))
            except (ValueError, KeyError, TypeError):
                continue
            if row.state not in AGAIN:
                found[row.file, row.sha256] = row
        return found

    def open(self, *, keep: bool) -> None:
        """Make ready for writing; what is there stays where it is of the same question and code and `keep` is set."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        known = self.read() if keep else {}
        lines = [self.head, *(_line(row) for row in known.values())]
        part = self.path.with_name(f"{self.path.name}.{os.getpid()}.part")
        part.write_text("\n".join(lines) + "\n", "utf-8")
        os.replace(part, self.path)
        self.stream = os.open(self.path, os.O_WRONLY | os.O_APPEND | getattr(os, "O_CLOEXEC", 0))

    def write(self, row: SweepRow) -> None:
        """Keep a row: in one call, so that a process killed in between leaves whole lines."""
        assert self.stream is not None
        os.write(self.stream, f"{_line(row)}\n".encode())

    def close(self) -> None:
        """Done."""
        if self.stream is not None:
            os.close(self.stream)
            self.stream = None


def _line(row: SweepRow) -> str:
    return json.dumps(row.plain(), ensure_ascii=False, separators=(",", ":"))


def describe_sweep(sweep: Sweep) -> str:
    """How many images there were, and how many of them could be asked."""
    return words.summary(len(sweep.rows), sweep.counts, sweep.kept)

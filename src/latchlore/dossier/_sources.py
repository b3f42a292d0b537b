"""The files that a page rests on: their checksums, and every place in them that it cites."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass, replace
from itertools import takewhile
from typing import TYPE_CHECKING

from latchlore.dossier._excerpt import Excerpt, Line, find_file, read_excerpt

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from pathlib import Path

    from latchlore.base import Origin, Progress, Subject
    from latchlore.evidence import Table

    Cited = dict[Origin, tuple[Subject, ...]]

CHUNK = 1 << 20
ROW_LINES = 9
"""Lines of a cited row below its head that are shown, at most."""


@dataclass(frozen=True, slots=True)
class CitedPlace:
    """A place with its anchor on the page, and the subjects that rest on it."""

    anchor: str
    origin: Origin
    cited_by: tuple[Subject, ...]


@dataclass(frozen=True, slots=True)
class Stretch:
    """What stands at one or more places of a file: several where all lie in the same sixteen bytes or line."""

    places: tuple[CitedPlace, ...]
    lines: tuple[Line, ...]
    why_not: str


@dataclass(frozen=True, slots=True)
class Source:
    """A file; `sha256` is empty and `size` None where it is cited but not there.  `anchor`: its own on the page."""

    anchor: str
    file: str
    size: int | None
    sha256: str
    stretches: tuple[Stretch, ...]


def read_sources(folder: Path, cited: Cited, loads: Mapping[str, int], progress: Progress) -> tuple[Source, ...]:
    """Every file of the study and every file that is cited, by name."""
    anchors = anchors_of(cited)
    names = source_names(folder, cited)
    sources = []
    for done, name in enumerate(names):
        progress(done, len(names), f"checksum of {name}")
        found: list[Stretch] = []
        for origin in sorted(one for one in cited if one.file == name):
            excerpt = _whole_row(folder, origin, loads)
            one = Stretch((CitedPlace(anchors[origin], origin, cited[origin]),), excerpt.lines, excerpt.why_not)
            joined = _join(found[-1], one) if found else None
            found[-1:] = [*found[-1:], one] if joined is None else [joined]
        path = find_file(folder, name)
        size, digest = _digest(path) if path is not None else (None, "")
        sources.append(Source(f"file-{done + 1}", name, size, digest, tuple(found)))
    return tuple(sources)


def _whole_row(folder: Path, origin: Origin, loads: Mapping[str, int]) -> Excerpt:
    """The cited line; of a row that is written line by line (``[[command]]``) all lines up to the next empty one."""
    excerpt = read_excerpt(folder, origin, loads, 0)
    if len(excerpt.lines) != 1 or not excerpt.lines[0].text.startswith("[["):
        return excerpt
    around = read_excerpt(folder, origin, loads, ROW_LINES).lines
    below = around[next(k for k, line in enumerate(around) if line.cited) :]
    return Excerpt(tuple(takewhile(lambda line: line.text.strip() and (line.cited or line.text[0] != "["), below)))


def _join(before: Stretch, after: Stretch) -> Stretch | None:
    """Two stretches that show the same line as one, with the marked bytes of both; None where they do not."""
    if [line.label for line in before.lines] != [line.label for line in after.lines] or len(after.lines) != 1:
        return None
    first, second = (one.lines[0].text.split(" ") for one in (before, after))
    if len(first) != len(second) or not all(_is_same(*pair) for pair in zip(first, second, strict=True)):
        return None
    text = " ".join(max(pair, key=len) for pair in zip(first, second, strict=True))
    return Stretch((*before.places, *after.places), (replace(after.lines[0], text=text),), "")


def _is_same(one: str, two: str) -> bool:
    return one.removeprefix("[").removesuffix("]") == two.removeprefix("[").removesuffix("]")


def source_names(folder: Path, cited: Cited) -> list[str]:
    """Every file of the study and every file that is cited, by name."""
    return sorted({*iter_files(folder), *(origin.file for origin in cited)})


def cited_by(table: Table, more: Iterable[Origin] = ()) -> Cited:
    """Origin → the subjects that rest on it, in the table's order; `more` origins that no subject cites."""
    cited: dict[Origin, dict[Subject, None]] = {origin: {} for origin in more}
    for row in table.rows:
        for one in row.testimonies:
            for origin in one.origins:
                cited.setdefault(origin, {})[row.subject] = None
        for repair in row.repairs:
            for statement in repair.statements:
                for origin in (statement.origin, *(read.origin for read in statement.readings)):
                    cited.setdefault(origin, {})[row.subject] = None
    return {origin: tuple(subjects) for origin, subjects in cited.items()}


def anchors_of(cited: Cited) -> dict[Origin, str]:
    """Origin → its anchor, numbered in the order of files and places."""
    return {origin: f"place-{i}" for i, origin in enumerate(sorted(cited), 1)}


def iter_files(folder: Path) -> Iterator[str]:
    """Every file below the folder, as paths with forward slashes; hidden ones and what links lead out to are left."""
    for place, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(files):
            path = os.path.relpath(os.path.join(place, name), folder).replace(os.sep, "/")
            if find_file(folder, path) is not None:
                yield path


def image_loads(folder: Path) -> Mapping[str, int]:
    """Image file → address of its first byte, of the files whose bytes are the memory's one by one (no records, no
    merged reads, no repair); nothing where the study cannot be read just now.
    """
    from latchlore.base import StudyError
    from latchlore.study import load_study

    try:
        program = load_study(folder).program
    except (StudyError, OSError):
        return {}
    if program is None:
        return {}
    return {image.file.file: image.load for image in program.images if image.is_as_filed}


def _digest(path: Path) -> tuple[int, str]:
    digest, size = hashlib.sha256(), 0
    with path.open("rb") as stream:
        while chunk := stream.read(CHUNK):
            digest.update(chunk)
            size += len(chunk)
    return size, digest.hexdigest()

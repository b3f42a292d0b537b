"""The files that a page rests on: their checksums, and every place in them that it cites."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.dossier._excerpt import Excerpt, find_file, read_excerpt

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from pathlib import Path

    from latchlore.base import Origin, Progress, Subject
    from latchlore.evidence import Table

    Cited = dict[Origin, tuple[Subject, ...]]

CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class CitedPlace:
    """A place with its anchor on the page, what stands there, and the subjects that rest on it."""

    anchor: str
    origin: Origin
    excerpt: Excerpt
    cited_by: tuple[Subject, ...]


@dataclass(frozen=True, slots=True)
class Source:
    """A file; `sha256` is empty and `size` None where it is cited but not there."""

    file: str
    size: int | None
    sha256: str
    places: tuple[CitedPlace, ...]


def read_sources(folder: Path, cited: Cited, loads: Mapping[str, int], progress: Progress) -> tuple[Source, ...]:
    """Every file of the study and every file that is cited, by name."""
    anchors = anchors_of(cited)
    names = sorted({*iter_files(folder), *(origin.file for origin in cited)})
    sources = []
    for done, name in enumerate(names):
        progress(done, len(names), f"checksum of {name}")
        places = tuple(
            CitedPlace(anchors[origin], origin, read_excerpt(folder, origin, loads, 0), cited[origin])
            for origin in sorted(cited)
            if origin.file == name
        )
        path = find_file(folder, name)
        size, digest = _digest(path) if path is not None else (None, "")
        sources.append(Source(name, size, digest, places))
    return tuple(sources)


def cited_by(table: Table, more: Iterable[Origin] = ()) -> Cited:
    """Origin → the subjects that rest on it, in the table's order; `more` origins that no subject cites."""
    cited: dict[Origin, dict[Subject, None]] = {origin: {} for origin in more}
    for row in table.rows:
        for one in row.testimonies:
            for origin in one.origins:
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

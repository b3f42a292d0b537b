"""Changes of a study's files, ready to be written: planned in one place, carried out in another.

A plan is made from what the files held; where one of them holds something else by the time it is carried out, nothing
is written.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin
from latchlore.study import _editwords as words
from latchlore.study._paths import reason

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class Edit:
    """What is to be written.

    `words` name the change for people.  `files`: path from the study's folder → new content; empty where nothing would
    change.  `before`: what each of them held when the change was planned, None where it was not there.
    """

    words: str
    files: Mapping[str, bytes] = field(repr=False)
    before: Mapping[str, bytes | None] = field(repr=False)


class Overtaken(BadInput):
    """A file is no longer what was shown when somebody began to write; both sides are here to be put together.

    `theirs`: what the file holds now, as text (None: it is gone), and `seen` its digest; `ours`: what was to be
    written.
    """

    def __init__(self, file: str, theirs: bytes | None, ours: str) -> None:
        super().__init__(Origin(file), words.OVERTAKEN if theirs is not None else words.GONE)
        self.theirs = None if theirs is None else theirs.decode("utf-8", "replace")
        self.file, self.seen, self.ours = file, digest_of(theirs), ours


def write_edit(folder: Path, edit: Edit) -> None:
    """Carry out a planned change, whole or not at all; folders that are missing on the way are made.

    Refuses (`BadInput`) a file that holds something else than when the change was planned.
    """
    from latchlore.study._write import write_files

    if not edit.files:
        return
    root = folder.resolve()
    for file in edit.files:
        _make_folders(root, file)
    write_files(root, edit.files, edit.before)


def digest_of(content: bytes | None) -> str:
    """What tells a content from every other: its SHA-256 in hexadecimal; empty for a file that is not there."""
    return "" if content is None else hashlib.sha256(content).hexdigest()


def content_of(folder: Path, file: str) -> bytes | None:
    """What a file of the study holds; None where it is not there.

    Refuses (`BadInput`) what is no plain file, and a name or a link that leads out of the study.
    """
    root = folder.resolve()
    try:
        path = (root / file).resolve(strict=True)
    except FileNotFoundError:
        return None
    except (OSError, RuntimeError, ValueError) as error:  # a loop of links, a name that no system holds
        raise BadInput(Origin(file), words.OUTSIDE.format(file=file)) from error
    if not path.is_relative_to(root) or not path.is_file():
        raise BadInput(Origin(file), words.OUTSIDE.format(file=file))
    return path.read_bytes()


def _make_folders(root: Path, file: str) -> None:
    place = root
    for part in file.split("/")[:-1]:
        place = place / part
        if part in ("", ".", "..") or not place.resolve().is_relative_to(root):
            raise BadInput(Origin(file), words.OUTSIDE.format(file=file))
        if not place.exists():
            try:
                place.mkdir()
            except OSError as error:
                raise BadInput(Origin(file), words.NO_FOLDER.format(reason=reason(error))) from error

"""One number for everything that a study folder holds, to tell whether anything has changed."""

from __future__ import annotations

import hashlib
import os
import stat
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

MAX_STAMP_BYTES = 256 << 20
"""A folder with more than this is read anew every time rather than read twice."""


def folder_stamp(folder: Path) -> str | None:
    """The SHA-256 of every path and content, as 64 hexadecimal digits.

    None where it cannot be told cheaply and surely: the folder cannot be read, is very large, or holds a link (whose
    target may change outside of the folder).
    """
    total = hashlib.sha256()
    left = MAX_STAMP_BYTES
    try:
        for path, entry in _iter_files(folder, ""):
            state = entry.stat(follow_symlinks=False)
            left -= state.st_size
            if not stat.S_ISREG(state.st_mode) or left < 0:
                return None
            with open(entry.path, "rb") as file:
                digest = hashlib.file_digest(file, "sha256").digest()
            name = path.encode("utf-8", "surrogateescape")
            total.update(b"%d:%s%s" % (len(name), name, digest))
    except OSError:
        return None
    return total.hexdigest()


def _iter_files(folder: Path | str, prefix: str) -> Iterator[tuple[str, os.DirEntry[str]]]:
    """Every entry that is no folder, by name; hidden ones too, since they cost little and may come to matter."""
    with os.scandir(folder) as found:
        entries = sorted(found, key=lambda one: one.name)
    for entry in entries:
        if entry.is_dir(follow_symlinks=False):
            total = f"{prefix}{entry.name}/"
            yield from _iter_files(entry.path, total)
        else:
            yield f"{prefix}{entry.name}", entry

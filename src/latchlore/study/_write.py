"""Writing whole or not at all, also when the process is killed half-way.

New content goes to a file of its own beside the target, reaches the disk, and then takes the target's name in one
step of the file system.  Files left over by a killed process are removed by the next writer of the same folder;
writers of one folder wait for one another (a lock on the folder itself, which the system frees at a process's end).
"""

from __future__ import annotations

import hashlib
import os
import secrets
from contextlib import ExitStack, contextmanager, suppress
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin
from latchlore.study._journal import JOURNAL, PART, STAGED, Change, journal_text, read_changes

try:
    import fcntl
except ImportError:  # pragma: no cover - a system without folder locks: one writer at a time is up to the user
    fcntl = None  # type: ignore[assignment]

if TYPE_CHECKING:
    import re
    from collections.abc import Iterator, Mapping
    from pathlib import Path


MAX_DEPTH = 4  # folders of a study looked through for files left over by a kill


def write_whole(path: Path, data: bytes) -> None:
    """Write a file whole or not at all; at any moment the path holds the old content or the new.

    The folder must be there.  An existing file keeps its permissions; a symbolic link is followed.  OSError from the
    system (disk full, no permission) leaves the old content in place.
    """
    target = path.resolve()
    with _locked(target.parent):
        _remove_leftovers(target.parent, PART)
        _replace(target, data)


def write_files(root: Path, files: Mapping[str, bytes], before: Mapping[str, bytes | None] | None = None) -> None:
    """Write several files of a study as one change: after a kill, readers see all of them new or none.

    Keys are paths from `root` with forward slashes; their folders must be there.  A change that a killed process had
    decided on is carried out first.  `before`: what files held when they were read (None: not there); where one holds
    something else by now, nothing is written (`BadInput`), so that no other writer's work is lost.
    """
    root = root.resolve()
    for file in files:
        if not _is_inside(root, file):
            raise BadInput(Origin(file), f"a path goes down from the study's folder, not {file!r}")
    with _locked(root, *{(root / file).parent for file in files}):
        _finish(root)
        for file, content in (before or {}).items():
            if _content(root / file) != content:
                raise BadInput(Origin(file), "was changed meanwhile by another process; nothing is written, try again")
        changes: list[Change] = []
        try:
            for file in sorted(files):
                target = root / file
                staged = target.parent / f".latchlore-{secrets.token_hex(8)}.staged"
                changes.append(Change(hashlib.sha256(files[file]).hexdigest(), staged.name, file))
                _write_new(staged, files[file], target)
            for folder in {(root / file).parent for file in files}:
                _sync_folder(folder)
            _replace(root / JOURNAL, journal_text(changes))  # from here on the change is done
        except BaseException:
            if not (root / JOURNAL).exists():
                for change in changes:
                    (root / change.staged_path).unlink(missing_ok=True)
            raise
        _carry_out(root, changes)


def remove_files(root: Path, files: Mapping[str, bytes | None]) -> None:
    """Remove files of a study that still hold what is given; one that is gone already counts as removed.

    Keys as for `write_files`.  Where a file holds something else by now, none is removed (`BadInput`).
    """
    root = root.resolve()
    for file in files:
        if not _is_inside(root, file):
            raise BadInput(Origin(file), f"a path goes down from the study's folder, not {file!r}")
    with _locked(root, *{(root / file).parent for file in files if (root / file).parent.is_dir()}):
        for file, content in files.items():
            if _content(root / file) not in (content, None):
                raise BadInput(Origin(file), "was changed meanwhile by another process; nothing is removed, try again")
        for file in files:
            (root / file).unlink(missing_ok=True)
        for folder in {(root / file).parent for file in files}:
            if folder.is_dir():
                _sync_folder(folder)


def finish_changes(root: Path) -> int:
    """Carry out what a killed process had decided on, remove what it had not; the number of files moved or removed."""
    root = root.resolve()
    with _locked(root, *{(root / change.target).parent for change in read_changes(root)}):
        return _finish(root)


def _finish(root: Path) -> int:
    changes = read_changes(root)
    done = sum((root / change.staged_path).exists() for change in changes)
    if changes:
        _carry_out(root, changes)
    staged = sum(_remove_leftovers(folder, STAGED) for folder in _iter_folders(root))  # made under the root's lock only
    return done + staged + _remove_leftovers(root, PART)


def _content(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None


def _iter_folders(root: Path) -> Iterator[Path]:
    """The study's folders down to `MAX_DEPTH`, without those that symbolic links lead to."""
    for sub, names, _ in os.walk(root):
        folder = root / sub
        if len(folder.relative_to(root).parts) >= MAX_DEPTH:
            names.clear()
        yield folder


def _carry_out(root: Path, changes: list[Change]) -> None:
    for change in changes:
        with suppress(FileNotFoundError):  # moved before a kill
            os.replace(root / change.staged_path, root / change.target)
    for folder in {(root / change.target).parent for change in changes}:
        _sync_folder(folder)
    (root / JOURNAL).unlink(missing_ok=True)
    _sync_folder(root)


def _replace(target: Path, data: bytes) -> None:
    part = target.parent / f".latchlore-{secrets.token_hex(8)}.part"
    try:
        _write_new(part, data, target)
        os.replace(part, target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    _sync_folder(target.parent)


def _write_new(path: Path, data: bytes, model: Path) -> None:
    """Create `path` with the permissions of `model` (if there is one) and bring it to the disk."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_CLOEXEC", 0), 0o666)
    with os.fdopen(handle, "wb") as stream:
        with suppress(FileNotFoundError):
            os.chmod(path, model.stat().st_mode & 0o7777)
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def _sync_folder(folder: Path) -> None:
    """Bring a folder's names to the disk, where the system can."""
    if not hasattr(os, "O_DIRECTORY"):  # pragma: no cover - such systems do it on their own
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _remove_leftovers(folder: Path, name: re.Pattern[str]) -> int:
    found = [path for path in folder.iterdir() if name.fullmatch(path.name) and not path.is_dir()]
    for path in found:
        path.unlink(missing_ok=True)
    return len(found)


def _is_inside(root: Path, file: str) -> bool:
    parts = file.split("/")
    if any(part in ("", ".", "..") for part in parts) or set(file) & set("\0\t\n\\"):
        return False
    return (root / file).parent.resolve().is_relative_to(root) and not (root / file).is_symlink()


@contextmanager
def _locked(*folders: Path) -> Iterator[None]:
    """Hold the folders against other writers; in one order, so that two writers cannot block each other."""
    with ExitStack() as stack:
        for folder in sorted(set(folders)):
            if fcntl is None:  # pragma: no cover
                continue
            handle = os.open(folder, os.O_RDONLY)
            stack.callback(os.close, handle)
            with suppress(OSError):  # a file system without locks
                fcntl.flock(handle, fcntl.LOCK_EX)
        yield

"""The one door to the files of a study: names stay inside, sizes are bounded, every refusal has a place."""

from __future__ import annotations

import os
import re
import stat
from pathlib import Path
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, decode_text
from latchlore.study._journal import read_pending
from latchlore.study._study import StudyFile

if TYPE_CHECKING:
    from collections.abc import Iterator

FINDINGS = "findings.toml"
HISTORY = "history.txt"
QUESTIONS = "questions.toml"
WITHDRAWN = "withdrawn.txt"
NOTES = "notes.txt"
MAX_FILES = 10_000
LIMITS = {  # most bytes of a file, by what it is
    "study file": 4 << 20,
    "net file": 4 << 20,
    "readings file": 4 << 20,
    "Verilog file": 4 << 20,
    "device table": 4 << 20,
    "image": 16 << 20,
    "byte log": 4 << 20,
    "file of findings": 4 << 20,
    "history": 16 << 20,
    "list of withdrawn statements": 4 << 20,
}


class StudyFolder:
    """A folder opened for reading.  Refuses one that is not there, and never writes."""

    def __init__(self, folder: Path) -> None:
        self.name = shown(folder.name or str(folder))
        try:
            self.root = folder.resolve(strict=True)
            is_folder = self.root.is_dir()
        except (OSError, RuntimeError) as error:  # RuntimeError: a loop of symbolic links
            raise BadInput(Origin(shown(str(folder))), f"there is no such folder ({reason(error)})") from error
        if not is_folder:
            raise BadInput(Origin(shown(str(folder))), "is a file; a study is a folder")
        self._pending = read_pending(self.root)

    def list_files(self, sub: str, ending: str) -> list[str]:
        """Files directly in `sub` (``""``: the study's own folder) with this ending, by name."""
        return [file for file, is_folder in self._entries(sub) if not is_folder and file.lower().endswith(ending)]

    def holds(self, file: str) -> bool:
        """Whether there is such a file; one that a change has decided on counts, moved to its place or not."""
        return file in self._pending or os.path.lexists(self.root / file)

    def list_folders(self, sub: str) -> list[str]:
        """Folders directly in `sub`, by name."""
        return [file for file, is_folder in self._entries(sub) if is_folder]

    def iter_all(self, sub: str = "") -> Iterator[str]:
        """Every file, by path.  Refuses a folder with more than `MAX_FILES`."""
        count = 0
        waiting = [sub]
        while waiting:
            for file, is_folder in self._entries(waiting.pop()):
                count += 1
                if count > MAX_FILES:
                    raise BadInput(Origin(self.name), f"holds more than {MAX_FILES} files; a study is a small folder")
                if is_folder and not (self.root / file).is_symlink():
                    waiting.append(file)
                elif not is_folder:
                    yield file

    def _entries(self, sub: str) -> list[tuple[str, bool]]:
        """(path, whether it is a folder), by name; names that start with a dot are left out."""
        try:
            with os.scandir(self.root / sub) as entries:
                found = [(entry.name, _is_folder(entry)) for entry in entries if not entry.name.startswith(".")]
        except FileNotFoundError:
            return []
        except NotADirectoryError as error:
            raise BadInput(Origin(sub), "is a file; a folder is expected here") from error
        except OSError as error:
            raise BadInput(Origin(sub or self.name), f"cannot be listed ({reason(error)})") from error
        for name, _ in found:
            if shown(name) != name:
                raise BadInput(Origin(f"{sub}/{shown(name)}" if sub else shown(name)), "the name is not UTF-8 text")
        return sorted((f"{sub}/{name}" if sub else name, is_folder) for name, is_folder in found)

    def read(self, file: str, what: str, named_at: Origin | None = None) -> StudyFile:
        """A file's bytes.  `what` is a key of `LIMITS`; `named_at` is the place that names it, for refusals.

        Refuses a name that leads out of the study, what is not a plain file, and a size above the limit.
        """
        place = named_at or Origin(file)
        tail = f" {file!r}" if named_at else ""
        path = self._pending.get(file) or self._inside(file, place, f"{what}{tail}")
        try:
            handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0))
        except OSError as error:
            raise BadInput(place, f"{what}{tail} cannot be read ({reason(error)})") from error
        try:
            status = os.fstat(handle)
            if not stat.S_ISREG(status.st_mode):
                raise BadInput(place, f"{what}{tail} is not a plain file")
            limit = LIMITS[what]
            if status.st_size > limit:
                raise BadInput(place, f"{what}{tail} has {status.st_size} bytes; at most {limit} are read")
            with os.fdopen(handle, "rb", closefd=False) as stream:
                raw = stream.read(limit + 1)
        except OSError as error:
            raise BadInput(place, f"{what}{tail} cannot be read ({reason(error)})") from error
        finally:
            os.close(handle)
        if len(raw) > limit:
            raise BadInput(place, f"{what}{tail} grew above {limit} bytes while it was read")
        return StudyFile(file, raw)

    def find(self, file: str, what: str, named_at: Origin) -> Path:
        """The real path of a plain file that is read in pieces, whatever its size.  Refuses as `read` does."""
        path = self._inside(file, named_at, f"{what} {file!r}")
        if not path.is_file():
            raise BadInput(named_at, f"{what} {file!r} is not a plain file")
        return path

    def _inside(self, file: str, place: Origin, subject: str) -> Path:
        """The real path of a file named in the study.  Refuses a name that leads out of the study."""
        parts = file.split("/")
        if (
            not file
            or "\0" in file
            or "\\" in file
            or any(part in ("", ".", "..") for part in parts)
            or re.match("[A-Za-z]:", file)
        ):
            raise BadInput(place, f"a path goes down from the study's folder with forward slashes, not {file!r}")
        try:
            path = (self.root / file).resolve(strict=True)
        except FileNotFoundError as error:
            raise BadInput(place, f"{subject} is not there") from error
        except (OSError, RuntimeError) as error:
            raise BadInput(place, f"{subject} cannot be read ({reason(error)})") from error
        if not path.is_relative_to(self.root):
            raise BadInput(place, f"{subject} leads out of the study")
        return path


def _is_folder(entry: os.DirEntry[str]) -> bool:
    """Whether it is a folder, or leads to one; what leads nowhere is met again when it is read."""
    try:
        return entry.is_dir()
    except OSError:
        return False


def read_text(file: StudyFile) -> StudyFile:
    """The same file, checked to be UTF-8 text.  Refuses other bytes with line and value."""
    decode_text(file.raw, file.file)
    return file


def shown(name: str) -> str:
    """A file name that can be printed: bytes that are not UTF-8 as escapes."""
    return os.fsencode(name).decode("utf-8", "backslashreplace")


def reason(error: OSError | RuntimeError) -> str:
    """Why the system refused, in its own words without the path."""
    words = error.strerror if isinstance(error, OSError) and error.strerror else "a loop of symbolic links"
    return words[:1].lower() + words[1:]

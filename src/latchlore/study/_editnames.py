"""Names of files that are made on request: inside the study, no hidden ones, none that another system cannot hold."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, UnknownName
from latchlore.study import _editwords as words
from latchlore.study._paths import HISTORY, reason

if TYPE_CHECKING:
    from pathlib import Path

MAX_LETTERS = 80
MAX_BYTES = 200
MAX_PARTS = 4
FORBIDDEN = frozenset('<>:"/\\|?*')
RESERVED = frozenset({"con", "prn", "aux", "nul", *(f"{port}{k}" for port in ("com", "lpt") for k in range(1, 10))})
"""Names that Windows keeps for itself, whatever their ending (Microsoft, "Naming Files, Paths, and Namespaces")."""


def check_name(name: str) -> str:
    """A file's or folder's name as it may be made.  Refuses (`UnknownName`: the request) any other."""
    fits = 0 < len(name) <= MAX_LETTERS and name.isprintable() and not set(name) & FORBIDDEN
    if not fits or name[0] in ".-" or name[-1] in ". " or name != name.strip():
        raise UnknownName(words.NAME_RULE.format(name=name[: 2 * MAX_LETTERS], most=MAX_LETTERS))
    if len(name.encode("utf-8", "replace")) > MAX_BYTES:
        raise UnknownName(words.NAME_RULE.format(name=name, most=MAX_LETTERS))
    if name.partition(".")[0].casefold() in RESERVED:
        raise UnknownName(words.NAME_RESERVED.format(name=name))
    return name


def check_path(file: str) -> str:
    """A path from the study's folder as it may be made or changed.

    Refuses one that leads out of it, hidden names, more than `MAX_PARTS` folders deep, and the history, which is only
    ever added to.
    """
    parts = file.split("/")
    if len(parts) > MAX_PARTS:
        raise UnknownName(words.TOO_DEEP.format(file=file[: 2 * MAX_LETTERS], most=MAX_PARTS))
    for part in parts:
        check_name(part)
    if file == HISTORY:
        raise UnknownName(words.HISTORY_STAYS)
    return file


def place_for(folder: Path, sub: str, name: str, ending: str, *, may_replace: bool = False) -> str:
    """The path of a new file ``SUB/NAME`` with its ending, added where the name does not have it.

    Refuses a name as `check_path` does, and (`BadInput`) a file that is there already unless it may be replaced; also
    one whose name differs in capitals only, which another system would take for the same.
    """
    whole = name if not ending or name.casefold().endswith(ending) else f"{name}{ending}"
    file = check_path(f"{sub}/{whole}" if sub else whole)
    alike = _find_alike(folder, file)
    if alike is not None and (alike != file or not may_replace):
        raise BadInput(Origin(alike), words.THERE_ALREADY)
    return file


def _find_alike(folder: Path, file: str) -> str | None:
    """The file that stands where this one would stand, capitals aside."""
    sub, slash, name = file.rpartition("/")
    try:
        names = sorted(entry.name for entry in (folder / sub).iterdir())
    except FileNotFoundError:
        return None
    except OSError as error:
        raise BadInput(Origin(sub or file), words.NO_FOLDER.format(reason=reason(error))) from error
    found = [one for one in names if one.casefold() == name.casefold()]
    return f"{sub}{slash}{name if name in found else found[0]}" if found else None

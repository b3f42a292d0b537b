"""Making a study that holds nothing yet."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

from latchlore.base import BadInput, Origin
from latchlore.study._paths import reason, shown
from latchlore.study.starter import FILES


def new_study(folder: Path) -> tuple[str, ...]:
    """Make a study folder whole or not at all; the files made, as paths from it.

    Refuses (`BadInput`) a folder that holds anything, a file of that name, and a parent that is not there.
    """
    place = Origin(shown(str(folder)))
    target = folder.absolute()
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise BadInput(place, "is not a folder; a new study needs a name of its own")
    if not target.parent.is_dir():
        raise BadInput(place, f"the folder above it, {shown(str(target.parent))!r}, is not there")
    try:
        if target.exists() and any(target.iterdir()):
            raise BadInput(place, "is not empty; a new study starts in a new or an empty folder")
        made = Path(tempfile.mkdtemp(prefix=".latchlore-", suffix=".new", dir=target.parent))
        try:
            _fill(made)
            made.chmod(0o777 & ~_umask())
            os.replace(made, target)  # takes the place of an empty folder, and of no other
        except BaseException:
            shutil.rmtree(made, ignore_errors=True)
            raise
    except OSError as error:
        raise BadInput(place, f"cannot be made ({reason(error)})") from error
    return tuple(FILES)


def _fill(folder: Path) -> None:
    for file, text in FILES.items():
        path = folder / file
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(text.encode())


def _umask() -> int:
    """The permissions that new files do not get; the system tells only while it is set."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask

"""The note that makes a change of several files one change: which staged file takes the place of which.

The journal is a text file in the study's own folder, one line a file: SHA-256 of the new content, the staged file's
name, the target's path, with tabs between, and a last line ``end N`` with the number of files.  It is put in place
whole; from then on the change counts as done, and readers take the staged file where it is still there.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from pathlib import Path

JOURNAL = ".latchlore-change"
PART = re.compile(r"\.latchlore-[0-9a-f]{16}\.part")  # a single file being written
STAGED = re.compile(r"\.latchlore-[0-9a-f]{16}\.staged")  # a file that waits for its journal

_LINE = re.compile(r"([0-9a-f]{64})\t(\.latchlore-[0-9a-f]{16}\.staged)\t([^\t\n]+)")


class Change(NamedTuple):
    """One line of the journal; `target` is a path from the study's folder, `staged` lies in the target's folder."""

    digest: str
    staged: str
    target: str

    @property
    def staged_path(self) -> str:
        """The staged file's path from the study's folder."""
        sub, slash, _ = self.target.rpartition("/")
        return f"{sub}{slash}{self.staged}"


def journal_text(changes: list[Change]) -> bytes:
    """The journal's content."""
    return "".join(f"{line}\n" for line in (*map("\t".join, changes), f"end {len(changes)}")).encode()


def read_changes(root: Path) -> list[Change]:
    """The changes of a journal, none where there is no journal or it is not one of ours."""
    try:
        lines = (root / JOURNAL).read_bytes().decode("utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return []
    found = [Change(*match.groups()) for match in map(_LINE.fullmatch, lines[:-1]) if match]
    safe = all(".." not in change.target.split("/") and not change.target.startswith("/") for change in found)
    return found if safe and lines and lines[-1] == f"end {len(found)}" and len(found) == len(lines) - 1 else []


def read_pending(root: Path) -> dict[str, Path]:
    """Staged files that stand for their targets until the change is carried out, by the target's path.

    A staged file that is gone has been moved to its target already.
    """
    pending: dict[str, Path] = {}
    for change in read_changes(root):
        staged = root / change.staged_path
        if staged.is_file() and not staged.is_symlink():
            pending[change.target] = staged
    return pending

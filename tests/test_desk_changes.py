"""Changes made on the desk, and taking them back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from latchlore.base import BadInput, UnknownName
from latchlore.desk._changes import Changes
from latchlore.study import write_files

if TYPE_CHECKING:
    from pathlib import Path


def test_undo(tmp_path: Path) -> None:
    """Changes are taken back one by one, the last first; a file that a change made is gone again."""
    (tmp_path / "a.txt").write_text("one")
    changes = Changes(tmp_path)
    changes.carry_out("write a", ("a.txt",), lambda: write_files(tmp_path, {"a.txt": b"two"}))
    changes.carry_out("make b", ("a.txt", "b.txt"), lambda: write_files(tmp_path, {"b.txt": b"new"}))
    assert changes.last is not None
    assert changes.last.words == "make b"
    assert changes.undo().after == {"b.txt": b"new"}
    assert not (tmp_path / "b.txt").exists()
    assert (tmp_path / "a.txt").read_text() == "two"
    changes.undo()
    assert (tmp_path / "a.txt").read_text() == "one"
    assert changes.last is None


def test_undo_wrong(tmp_path: Path) -> None:
    """What somebody wrote since stays; the refusal names the file and the change."""
    changes = Changes(tmp_path)
    with pytest.raises(UnknownName, match=r"^no change was made on this desk that could be taken back$"):
        changes.undo()
    changes.carry_out("make b", ("b.txt",), lambda: write_files(tmp_path, {"b.txt": b"new"}))
    (tmp_path / "b.txt").write_text("by hand")
    message = r"^b\.txt: was changed again after 'make b', which is not taken back, so that nothing is lost$"
    with pytest.raises(BadInput, match=message):
        changes.undo()
    assert (tmp_path / "b.txt").read_text() == "by hand"


def test_carry_out_nothing(tmp_path: Path) -> None:
    """An act that changes nothing, or fails, leaves nothing to take back."""
    changes = Changes(tmp_path)
    assert changes.carry_out("look", ("b.txt",), lambda: 7) == 7
    with pytest.raises(ZeroDivisionError):
        changes.carry_out("divide", ("b.txt",), lambda: 1 // 0)
    assert changes.last is None

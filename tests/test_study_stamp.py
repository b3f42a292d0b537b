"""The stamp of a study folder: equal for equal content, another for every change."""

from __future__ import annotations

from pathlib import Path

import pytest

from latchlore.base import ByteSequence
from latchlore.study import Cache, weigh_study
from latchlore.study._stamp import folder_stamp


def lay(folder: Path) -> Path:
    """A small folder."""
    (folder / "wire").mkdir(parents=True)
    (folder / "wire" / "a.log").write_bytes(b"CA FE")
    (folder / "b.log").write_bytes(b"C3")
    return folder


def test_folder_stamp(tmp_path: Path) -> None:
    """The same files give the same stamp, wherever the folder is."""
    assert folder_stamp(lay(tmp_path / "one")) == folder_stamp(lay(tmp_path / "two")) is not None


def test_folder_stamp_changes(tmp_path: Path) -> None:
    """A changed byte, a new name, a moved file and an added empty file each give another stamp."""
    seen = [folder_stamp(lay(tmp_path / "s"))]
    (tmp_path / "s" / "b.log").write_bytes(b"44")
    seen.append(folder_stamp(tmp_path / "s"))
    (tmp_path / "s" / "b.log").rename(tmp_path / "s" / "c.log")
    seen.append(folder_stamp(tmp_path / "s"))
    (tmp_path / "s" / "c.log").rename(tmp_path / "s" / "wire" / "c.log")
    seen.append(folder_stamp(tmp_path / "s"))
    (tmp_path / "s" / ".hidden").touch()
    seen.append(folder_stamp(tmp_path / "s"))
    assert len(set(seen)) == 5


def test_folder_stamp_wrong(tmp_path: Path) -> None:
    """A link, or a folder that is not there, has no stamp: it is read anew every time."""
    folder = lay(tmp_path / "s")
    (folder / "link.log").symlink_to(folder / "b.log")
    assert folder_stamp(folder) is None
    assert folder_stamp(tmp_path / "nothing") is None


def test_weigh_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second weighing without a change reads no file kind anew, a change is seen at once."""
    folder, cache = lay(tmp_path / "s"), Cache(tmp_path / "cache")
    first = weigh_study(folder, cache=cache)
    with monkeypatch.context() as patched:
        patched.setattr("latchlore.study._weighing.hear", None)
        assert weigh_study(folder, cache=cache) == first
    (folder / "b.log").write_bytes(b"C3 C4")
    changed = [one.value for row in weigh_study(folder, cache=cache).rows for one in row.testimonies]
    assert [one.data for one in changed if isinstance(one, ByteSequence)] == [b"\xca\xfe", b"\xc3\xc4"]

"""Writing whole or not at all, with real kills at every step and at random moments."""

from __future__ import annotations

import os
import random
import signal
import stat
import time
from pathlib import Path

import pytest

from latchlore.base import BadInput
from latchlore.study import finish_changes, write_files, write_whole
from latchlore.study._journal import JOURNAL, read_changes
from latchlore.study._paths import StudyFolder
from tests.nursery import Nursery

OLD = {"a.txt": b"old a\n" * 100_000, "wire/b.txt": b"old b\n" * 1000, "c.txt": b"old c\n"}
NEW = {"a.txt": b"new a\n" * 50_000, "wire/b.txt": b"new b\n" * 10, "c.txt": b"new c\n" * 5000}

# A line "whole N" or "files N": write, and die at the Nth call by which anything reaches the disk (0: live).  "ever 0":
# write old and new in turn for ever.
WRITING = """
from latchlore.study import _write

def work(kind, last):
    if kind == "ever":
        while True:
            for data in (OLD, NEW):
                _write.write_whole(root / "a.txt", data["a.txt"])
    make_mortal(last)
    if kind == "whole":
        _write.write_whole(root / "a.txt", NEW["a.txt"])
    else:
        _write.write_files(root, NEW)

root = Path(sys.argv[1])
OLD, NEW = ({name: (root.parent / side / name.replace("/", "_")).read_bytes() for name in sys.argv[2:]}
            for side in ("old", "new"))
"""


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """A folder with the old content, and the new content beside it for a child to read."""
    root = tmp_path / "study"
    (root / "wire").mkdir(parents=True)
    for side, files in (("old", OLD), ("new", NEW)):
        (tmp_path / side).mkdir()
        for name, data in files.items():
            (tmp_path / side / name.replace("/", "_")).write_bytes(data)
    _put_back(root)
    return root


def _put_back(root: Path) -> None:
    for name, data in OLD.items():
        (root / name).write_bytes(data)


def _seen(root: Path) -> dict[str, bytes]:
    """What a reader of the study finds."""
    folder = StudyFolder(root)
    return {name: folder.read(name, "byte log").raw for name in OLD}


def _leftovers(root: Path) -> list[str]:
    return sorted(path.name for path in root.rglob(".latchlore-*"))


def test_write_whole(study: Path) -> None:
    """The content is there, permissions stay, nothing is left over; a new file gets the user's usual permissions."""
    (study / "a.txt").chmod(0o640)
    write_whole(study / "a.txt", b"x")
    write_whole(study / "fresh.txt", b"y")
    mask = os.umask(0o022)
    os.umask(mask)
    assert (study / "a.txt").read_bytes() == b"x"
    assert stat.S_IMODE((study / "a.txt").stat().st_mode) == 0o640
    assert stat.S_IMODE((study / "fresh.txt").stat().st_mode) == 0o666 & ~mask
    assert _leftovers(study) == []


def test_write_whole_through_a_link(study: Path) -> None:
    """A symbolic link stays one, and its target gets the content."""
    (study / "link.txt").symlink_to("a.txt")
    write_whole(study / "link.txt", b"x")
    assert (study / "link.txt").is_symlink()
    assert (study / "a.txt").read_bytes() == b"x"


def test_write_whole_wrong(study: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk leaves the old content and no leftovers."""

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match=r"^\[Errno 28\] No space left on device$"):
        write_whole(study / "a.txt", b"x")
    assert _seen(study) == OLD
    assert _leftovers(study) == []


def test_write_files(study: Path) -> None:
    """All files are new, nothing is left over."""
    write_files(study, NEW)
    assert _seen(study) == NEW
    assert _leftovers(study) == []


def test_write_files_after_a_kill(study: Path) -> None:
    """What a killed process had decided on is carried out before the next change, and what it had not is removed."""
    for name, data in (
        (f".latchlore-{'a' * 16}.staged", b"decided"),
        (f".latchlore-{'b' * 16}.staged", b"not decided"),
    ):
        (study / "wire" / name).write_bytes(data)
    (study / JOURNAL).write_text("0" * 64 + f"\t.latchlore-{'a' * 16}.staged\twire/b.txt\nend 1\n")
    write_files(study, {"c.txt": b"later"})
    assert _seen(study) == {"a.txt": OLD["a.txt"], "wire/b.txt": b"decided", "c.txt": b"later"}
    assert (study / "wire" / "b.txt").read_bytes() == b"decided"
    assert _leftovers(study) == []


def test_write_files_wrong(study: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk half-way leaves all files old; a path out of the study is refused before anything is written."""
    real, calls = os.fsync, 0

    def full(handle: int) -> None:
        nonlocal calls
        calls += 1
        if calls == 3:
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match=r"^\[Errno 28\] No space left on device$"):
        write_files(study, NEW)
    assert _seen(study) == OLD
    assert _leftovers(study) == []
    (study / "out").symlink_to(study.parent)
    for name in ("../x", "/x", "a//b", "", "out/x"):
        with pytest.raises(BadInput) as error:
            write_files(study, {"a.txt": b"x", name: b"x"})
        assert str(error.value) == f"{name}: a path goes down from the study's folder, not {name!r}"
    assert _seen(study) == OLD


@pytest.mark.parametrize("kind", ["whole", "files"])
def test_killed_at_every_step(study: Path, kind: str) -> None:
    """A process killed (SIGKILL) before any system call leaves all old or all new; the next writer tidies up."""
    wanted = NEW if kind == "files" else {**OLD, "a.txt": NEW["a.txt"]}
    outcomes: list[bool] = []
    with Nursery(WRITING, study, *OLD) as nursery:
        for step in range(1, 300):
            _put_back(study)
            nursery.start(kind, step)
            code = nursery.end()
            seen = _seen(study)
            assert seen in (OLD, wanted)
            outcomes.append(seen == wanted)
            finish_changes(study)
            assert _seen(study) == seen
            assert {name: (study / name).read_bytes() for name in OLD} == seen  # in place, without a reader's help
            assert _leftovers(study) == []
            if code == 0:
                break
            assert code == -signal.SIGKILL
        else:
            pytest.fail("the writer never came to its end")
    assert outcomes == sorted(outcomes)  # once new, always new
    assert 4 < outcomes.count(False) < len(outcomes) - 1


def test_killed_at_random(study: Path) -> None:
    """200 kills at random moments of endless writing by two at once: the file is one of the two contents, whole."""
    dice, leftovers = random.Random(1982), 0
    with Nursery(WRITING, study, *OLD) as first, Nursery(WRITING, study, *OLD) as second:
        for _ in range(100):
            running = [(nursery, nursery.start("ever", 0)) for nursery in (first, second)]
            for nursery, child in running:
                time.sleep(dice.uniform(0.001, 0.01))
                os.kill(child, signal.SIGKILL)
                assert nursery.end() == -signal.SIGKILL
                assert (study / "a.txt").read_bytes() in (OLD["a.txt"], NEW["a.txt"])
            leftovers += bool(_leftovers(study))
    assert leftovers > 10  # the kills did fall into the middle of a write
    write_whole(study / "a.txt", b"C")
    assert _leftovers(study) == []
    assert (study / "a.txt").read_bytes() == b"C"


def test_journal_wrong(study: Path) -> None:
    """A journal that is torn, foreign, or names a file outside is no journal: nothing is moved."""
    good = "0" * 64 + "\t.latchlore-" + "0" * 16 + ".staged\t"
    staged = study / f".latchlore-{'0' * 16}.staged"
    for text in (
        "",
        "hello\n",
        good + "a.txt\n",
        good + "a.txt\nend 2\n",
        good + "../x\nend 1\n",
        good + "/x\nend 1\n",
    ):
        staged.write_bytes(b"planted")
        (study / JOURNAL).write_text(text)
        assert read_changes(study) == []
        assert _seen(study) == OLD
    (study / JOURNAL).write_text(good + "a.txt\nend 1\n")
    assert _seen(study)["a.txt"] == b"planted"

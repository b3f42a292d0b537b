"""What stands at an origin: never outside the study, never more than the place."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from latchlore.base import Origin, Span
from latchlore.dossier import Line, find_file, iter_files, read_excerpt
from tests.marram import LOG, ROM, lay_study

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """The study's files, with things around them that are none of its."""
    (tmp_path / "secret.txt").write_text("secret")
    folder = lay_study(tmp_path / "study")
    (folder / ".hidden").write_text("secret")
    (folder / "link.txt").symlink_to(tmp_path / "secret.txt")
    (folder / "round").symlink_to(folder / "round")
    (folder / "again.log").symlink_to(folder / LOG)
    return folder


def test_read_excerpt_line(study: Path) -> None:
    """The cited line is marked, with its neighbours around it."""
    excerpt = read_excerpt(study, Origin.at_line(LOG, 2), {}, 1)
    assert excerpt.lines == (
        Line("1", "# the borrowed listener", False),
        Line("2", "1B 40 12 0D", True),
        Line("3", "1B 40 0D", False),
    )


def test_read_excerpt_byte(study: Path) -> None:
    """The cited byte stands in brackets in its row of sixteen; the file counts up from 00, so byte 12h is 12."""
    excerpt = read_excerpt(study, Origin.at_byte(ROM, 0x12), {}, 0)
    assert excerpt.lines == (Line("0010", "10 11 [12] 13 14 15 16 17 18 19 1A 1B 1C 1D 1E 1F", True),)


def test_read_excerpt_address(study: Path) -> None:
    """An address counts from the image's load address, also where that is no multiple of sixteen."""
    excerpt = read_excerpt(study, Origin.at_address(ROM, 0xF005), {ROM: 0xF003}, 1)
    assert excerpt.lines[0] == Line("F003", "00 01 [02] 03 04 05 06 07 08 09 0A 0B 0C", True)
    assert excerpt.lines[1].label == "F010"


@pytest.mark.parametrize(
    ("origin", "words"),
    [
        (Origin.at_line(LOG, 99), "there is no such line"),
        (Origin.at_line(LOG, 0), "there is no such line"),
        (Origin.at_byte(ROM, 1 << 40), "the file ends before this place"),
        (Origin.at_address(ROM, 0xEFFF), "the address lies before the image"),
        (Origin.at_address(LOG, 5), "the study does not say which byte of the file has this address"),
        (Origin.at_time(LOG, Span(5)), "a time in a capture"),
        (Origin.on_page(LOG, "page 2"), "the place is named in words only"),
        (Origin.at_line("nowhere.txt", 1), "the file is not in the study's folder"),
        (Origin.at_line("../secret.txt", 1), "the file is not in the study's folder"),
        (Origin.at_line("link.txt", 1), "the file is not in the study's folder"),
        (Origin.at_line("round", 1), "the file is not in the study's folder"),
        (Origin.at_line(".hidden", 1), "the file is not in the study's folder"),
        (Origin.at_line("wire", 1), "the file is not in the study's folder"),
        (Origin.at_line("", 1), "the file is not in the study's folder"),
        (Origin.at_line("a\0b", 1), "the file is not in the study's folder"),
        (Origin.at_line("x" * 5000, 1), "the file is not in the study's folder"),
        (Origin.at_line("/etc/hostname", 1), "the file is not in the study's folder"),
    ],
)
def test_read_excerpt_wrong(origin: Origin, words: str, study: Path) -> None:
    """A place that is not there, or not in the study, says why it is not shown."""
    excerpt = read_excerpt(study, origin, {ROM: 0xF000}, 2)
    assert (excerpt.lines, excerpt.why_not) == ((), words)


def test_read_excerpt_rude_text(study: Path) -> None:
    """Control characters and endless lines are tamed."""
    (study / LOG).write_bytes(b"a\x1b[2Jb\xff\t|" + b"y" * 1000)
    (line,) = read_excerpt(study, Origin.at_line(LOG, 1), {}, 0).lines
    assert line.text.isprintable()
    assert len(line.text) == 241


def test_iter_files(study: Path) -> None:
    """Files of the study in order; hidden ones and what leads out are left, a link inside is not."""
    names = list(iter_files(study))
    assert names == sorted(names, key=lambda name: (name.count("/") > 0, name))
    assert "again.log" in names
    assert not {".hidden", "link.txt", "round"} & set(names)
    assert find_file(study, "again.log") == (study / LOG).resolve()

"""The dossier's sections on the demonstration: what they say is what the study's files say, read by eye."""

from __future__ import annotations

import re
import shutil
from html import unescape
from importlib import resources
from pathlib import Path

import pytest

from latchlore.base import Origin
from latchlore.dossier import Parts, gather_parts, render_dossier
from latchlore.dossier._sources import read_sources
from latchlore.study import record_outcome, weigh_study
from tests.marram import lay_study, marram_table


@pytest.fixture(scope="module")
def sections(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Section → its words, of the demonstration with one outcome entered."""
    place = tmp_path_factory.mktemp("parts")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LATCHLORE_CACHE", str(place / "cache"))
        shutil.copytree(str(resources.files("latchlore") / "demo"), place / "study")
        record_outcome(place / "study", "meter on W2", "apart", sure=90, on="2026-11-27")
        table = weigh_study(place / "study")
        page = render_dossier(place / "study", table, gather_parts(place / "study", table))["index.html"].decode()
    return {one[1]: _words(one[2]) for one in re.finditer(r'<section id="(\w+)".*?>(.*?)</section>', page, re.DOTALL)}


def _words(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def test_commands(sections: dict[str, str]) -> None:
    """Rows with bytes, meaning, quotation, bounds and page (documents/quill-24.toml, lines 39 to 100)."""
    words = sections["commands"]
    assert "06 wide characters until the next return “06 prints the rest of the line in WIDE characters.”" in words
    assert "sets wide on documents/quill-24.toml:61 (page 11, row 4)" in words
    assert "16 'L' n line step of n dot rows n: from 7, to 36, dot rows" in words
    assert "J2 14 FEED, in, active high doubt: coffee documents/quill-24.toml:27 (page 19, row 14)" in words
    assert "strobe width at least 10 us documents/quill-24.toml:34 (page 20, row 2)" in words
    assert "what the two straps are for The two little links choose" in words


def test_variants(sections: dict[str, str]) -> None:
    """What differs between the two manuals: code 06h, set-up and width of the strobe, and one row that only one has."""
    words = sections["variants"]
    assert "command 06 differs Quill 24 06: nothing on the paper, sets wide on" in words
    assert "timing data set-up differs Quill 24 at least 2 us documents/quill-24.toml:33 (page 20, row 1)" in words
    assert re.search(r"command 16 50 only one speaks of it Quill 24 – Quill 24G 16 50", words)
    # three things differ, and of four others (a command, three pairs of events) one manual is silent: half each
    assert "Quill 24 - (5) Quill 24G; the dates agree" in words
    assert "power-on Quill 24: explains every byte Quill 24G: explains every byte" in words


def test_trees(sections: dict[str, str]) -> None:
    """Decisions with their cycles and places, named by the board's signals; a long tree says how much it leaves out."""
    words = sections["trees"]
    assert "+6 F86D write B808 ← 16 (DATA)" in words
    assert "wait until BUSY (B810 bit 6) = 1" in words
    assert re.search(r"… and [\d,]+ more rows; the whole tree stands in the twin for programs\.", words)
    assert "What all of this takes for granted, and its bounds" in words


def test_handshake(sections: dict[str, str]) -> None:
    """32 cycles of 1.25 MHz are 25.6 us; with 200 ppm either way 25.594881 to 25.605122 us."""
    words = sections["handshake"]
    assert "strobe width 32 cycles = 25.594881 us to 25.605122 us F872 F92D" in words
    assert "clock 1.25 MHz ±200 ppm" in words


def test_questions(sections: dict[str, str]) -> None:
    """Weights by Bayes' rule: W2 open 3 to 1; a meter that errs in 15 of 100 and an eye that is 90 % sure."""
    words = sections["questions"]
    # P(apart | open) = 0.85, P(apart | joined) = 0.15; sure of it with 0.9, else the other outcome was seen
    open_, joined = 0.75 * (0.9 * 0.85 + 0.1 * 0.15), 0.25 * (0.9 * 0.15 + 0.1 * 0.85)
    assert f"open at first 75.0% now {open_ / (open_ + joined):.1%}" in words
    assert "2026-11-27, meter on W2: “apart”, 90.0% sure" in words
    assert "Next: look at the strips power off Machine off, unplugged" in words
    assert "Its hammers are forty years old" not in words  # the caution of a trial that comes later stands with it then


def test_grades(sections: dict[str, str]) -> None:
    """The label's claim of a curve is disputed, and what would settle it is named; a lone row can be confirmed."""
    words = sections["grades"]
    assert "settled if documents/museum-label.toml: dot-drawn tide curve is withdrawn" in words
    assert "asked Did this recorder ever draw the tide in dots, and could this card have carried it?" in words
    code = words.partition("code 16 50")[2]
    assert "the same from another document would establish it" in code[:200]


def test_rows_in_sources(tmp_path: Path) -> None:
    """A cited row that is written line by line is shown up to the next empty line, a cited line alone."""
    (tmp_path / "a.toml").write_text('title = "x"\n\n[[command]]\npattern = "06"\npage = 11\n\n[[command]]\n[paper]\n')
    places = [Origin.at_line("a.toml", number) for number in (1, 3, 7)]
    (source,) = read_sources(tmp_path, dict.fromkeys(places, ()), {}, lambda *_: None)
    assert [[line.label for line in one.lines] for one in source.stretches] == [["1"], ["3", "4", "5"], ["7"]]


def test_bytes_in_sources(tmp_path: Path) -> None:
    """Places in the same sixteen bytes stand together, each marked, each with an anchor of its own."""
    (tmp_path / "rom.bin").write_bytes(bytes(range(64)))
    places = [Origin.at_byte("rom.bin", number) for number in (3, 5, 20)]
    (source,) = read_sources(tmp_path, dict.fromkeys(places, ()), {}, lambda *_: None)
    assert [one.lines[0].text.count("[") for one in source.stretches] == [2, 1]
    assert source.stretches[0].lines[0].text.startswith("00 01 02 [03] 04 [05] 06")
    assert [len(one.places) for one in source.stretches] == [2, 1]


def test_byline(tmp_path: Path) -> None:
    """Authors and date stand under the title where the study states them, else nothing does."""
    folder = lay_study(tmp_path / "study")
    page = render_dossier(folder, marram_table(), Parts(authors=("A. Keeper", "B. Reader"), date="1996-10"))
    assert b'<p class="byline">A. Keeper; B. Reader, 1996-10</p>' in page["index.html"]
    assert b'class="byline"' not in render_dossier(folder, marram_table())["index.html"]

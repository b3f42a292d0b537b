"""The desk's program room in-process: touches, handshake, trees and listing, each line with its origin."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from latchlore.demo import demo_folder
from tests.desks import TOKEN, client_of, iter_links

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient


def test_program(shown_desk: TestClient) -> None:
    """The strobe is low for 32 cycles of 0.8 us (two writes, MOS 6500 manual: 4 + 2 + 5 x 5 - 1 + 2, tolerance 200 ppm
    in it), and every touch leads into the listing, to the line of that very instruction.
    """
    text = shown_desk.get(f"/{TOKEN}/program").text
    assert "32 cycles = 25.594881 us to 25.605122 us" in text
    found = [link for link in iter_links(text) if link.startswith("program-listing?at=")]
    assert len(found) > 20
    for link in dict.fromkeys(found):
        page, _, anchor = link.partition("#")
        assert f'id="{anchor}"' in shown_desk.get(f"/{TOKEN}/{page}").text, link


def test_tree(shown_desk: TestClient) -> None:
    """Every entry has a tree, and what a "never" rests on stands below it."""
    for name in ("reset", "power-on", "print a character", "print a line", "print a reading"):
        text = shown_desk.get(f"/{TOKEN}/program-tree?entry={name}").text
        assert f"What it can do from “{name}”" in text
        assert "What this rests on" in text
    assert "if A masked with 7F is 0D:" in shown_desk.get(f"/{TOKEN}/program-tree?entry=print a character").text


def test_tree_wrong(shown_desk: TestClient) -> None:
    """An entry that is not there is refused with those that are."""
    answer = shown_desk.get(f"/{TOKEN}/program-tree?entry=<b>")
    assert answer.status_code == 404
    assert "there is no entry &#39;&lt;b&gt;&#39;; known are &#39;reset&#39;, &#39;power-on&#39;" in answer.text


def test_listing(shown_desk: TestClient) -> None:
    """Page after page shows every byte of the image once, in order, each address leading to the file's byte."""
    image = (demo_folder() / "program" / "marram.bin").read_bytes()
    at, shown = "", []
    while True:
        text = shown_desk.get(f"/{TOKEN}/program-listing?at={at}").text
        shown += re.findall(r'id="at-([0-9A-F]{4})"', text)
        behind = re.search(r'href="program-listing\?at=([0-9A-F]+)">what comes behind', text)
        if behind is None:
            break
        at = behind[1]
    assert shown == sorted(shown)
    assert int(shown[0], 16) == 0xF800
    first = shown_desk.get(f"/{TOKEN}/program-listing").text
    assert f'<td class="code">{image[:1].hex().upper()}</td>' in first
    place = next(link for link in iter_links(first) if link.startswith("place?"))
    assert f"[{image[0]:02X}]" in shown_desk.get(f"/{TOKEN}/{place}").text


def test_listing_found(shown_desk: TestClient) -> None:
    """A text is found further down than where one is, and the number of its lines is told."""
    text = shown_desk.get(f"/{TOKEN}/program-listing?find=JSR").text
    assert re.search(r"&#39;JSR&#39; stands in \d+ lines", text)
    assert "&#39;&lt;i&gt;&#39; stands in 0 lines" in shown_desk.get(f"/{TOKEN}/program-listing?find=<i>").text


def test_listing_wrong(shown_desk: TestClient) -> None:
    """What is no address is refused."""
    answer = shown_desk.get(f"/{TOKEN}/program-listing?at=xyz")
    assert answer.status_code == 404
    assert "&#39;xyz&#39; is no address; write hexadecimal digits" in answer.text


def test_program_wrong(tmp_path: Path) -> None:
    """A study without a program says how to begin one; without devices, what is missing for the trees."""
    (tmp_path / "none").mkdir()
    (tmp_path / "none" / "study.toml").write_text('title = "Nothing yet"\n')
    shown_desk = client_of(tmp_path / "none")
    assert "This study has no program yet." in shown_desk.get(f"/{TOKEN}/program").text
    assert shown_desk.get(f"/{TOKEN}/program-listing").status_code == 404
    lone = tmp_path / "lone"
    lone.mkdir()
    (lone / "rom.bin").write_bytes(bytes.fromhex("A9 41 60"))
    (lone / "study.toml").write_text(
        'title = "A ROM alone"\n[program]\ncpu = "6502"\n[[image]]\nfile = "rom.bin"\nload = "F000"\n'
        '[[entry]]\nname = "start"\naddress = "F000"\n'
    )
    text = client_of(lone).get(f"/{TOKEN}/program").text
    assert "No path was followed:" in text
    assert "LDA #$41" in client_of(lone).get(f"/{TOKEN}/program-listing").text

"""The desk's paper room in-process: strips, and the way from bytes to marks and back."""

from __future__ import annotations

import re
from io import BytesIO
from typing import TYPE_CHECKING
from urllib.parse import quote

import pytest
from PIL import Image

from tests.desks import TOKEN, client_of, iter_links

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient


def _frame(text: str) -> tuple[int, ...]:
    found = re.search(r'<rect class="lit" x="(-?\d+)" y="(-?\d+)" width="(\d+)" height="(\d+)"', text)
    assert found is not None
    return tuple(int(one) for one in found.groups())


def test_paper(shown_desk: TestClient) -> None:
    """Each byte of the stream stands once, each command leads to its row, and the tiles are as large as they say."""
    text = shown_desk.get(f"/{TOKEN}/paper?sequence=tide-line").text
    digits = re.findall(r'class="code" href="paper\?[^"]*byte=(\d+)#[^"]*">([0-9A-F]{2})<', text)
    assert bytes.fromhex("".join(two for _, two in digits)) == b"TIDE 04.37 M RISING \r\n"
    assert [int(offset) for offset, _ in digits] == list(range(22))
    for link in iter_links(text):
        assert shown_desk.get(f"/{TOKEN}/{link}").status_code == 200, link
    tile = re.search(r'<img src="(paper-tile[^"]+)" width="(\d+)" height="(\d+)"', text)
    assert tile is not None
    picture = Image.open(BytesIO(shown_desk.get(f"/{TOKEN}/{tile[1].replace('&amp;', '&')}").content))
    assert picture.size == (int(tile[2]), int(tile[3]))


def test_byte_and_mark(shown_desk: TestClient) -> None:
    """The frame of a byte holds a mark that leads back to that very byte, for every byte that strikes dots."""
    struck = 0
    for byte, letter in enumerate(b"TIDE 04.37 M RISING "):
        text = shown_desk.get(f"/{TOKEN}/paper?sequence=tide-line&byte={byte}").text
        if letter == 0x20:
            assert f"Byte {byte}, 20, left no mark" in text
            continue
        x, y, width, height = _frame(text)
        found = {
            shown_desk.get(
                f"/{TOKEN}/paper-mark?sequence=tide-line&tile=0&x={x + at}&y={y + height // 2}", follow_redirects=False
            ).headers.get("location", "")
            for at in range(3, width - 3, 2)
        }
        back = {re.search(r"byte=(\d+)", one)[1] for one in found if one}  # type: ignore[index]  # it holds one
        assert str(byte) in back
        struck += 1
    assert struck == 16


def test_typed(shown_desk: TestClient) -> None:
    """Bytes typed are printed as well, and what they are is escaped."""
    text = shown_desk.get(f"/{TOKEN}/paper?typed=51+55+0D+0A").text
    assert "“the bytes typed” on a Quill 24" in text


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("typed=5", "bytes are typed as pairs of hexadecimal digits, such as 1B 40; not '5'"),
        ("typed=" + "41" * 5000, "from 1 to 4096 bytes can be typed, not 5000"),
        ("sequence=none", "no sequence 'none' was logged; known are"),
        ("device=../secret.toml", "no document '../secret.toml' tells how its device prints; known are"),
        ("byte=99", "the stream has 14 bytes, counted from 0; there is no byte 99"),
        ("byte=x", "byte is a whole number, not 'x'"),
        ("tile=99", "counted from 0; there is no tile 99"),
    ],
)
def test_paper_wrong(query: str, words: str, shown_desk: TestClient) -> None:
    """What is not there is refused in words."""
    answer = shown_desk.get(f"/{TOKEN}/paper?{query}")
    assert answer.status_code == 404
    assert words.replace("'", "&#39;") in answer.text


def test_mark_wrong(shown_desk: TestClient) -> None:
    """Where nothing was struck there is no byte to lead to."""
    answer = shown_desk.get(f"/{TOKEN}/paper-mark?sequence={quote('tide-line')}&tile=0&x=1&y=1")
    assert answer.status_code == 404
    assert "no mark of the strip lies there" in answer.text


def test_paper_empty(tmp_path: Path) -> None:
    """A study without a document that tells how its device prints says what it takes."""
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "study.toml").write_text('title = "Nothing yet"\n')
    assert (
        "No document of this study tells how its device prints."
        in client_of(tmp_path / "study").get(f"/{TOKEN}/paper").text
    )

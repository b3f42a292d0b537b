"""The desk's wire room in-process: merges, captures, and stretches for the drawing."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from tests.desks import TOKEN, client_of, iter_links

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient

CAPTURE = "wire/plug.vcd"


def test_wire(shown_desk: TestClient) -> None:
    """Each sequence stands with its runs, each run leads to its line of the log, each capture to its drawing."""
    text = shown_desk.get(f"/{TOKEN}/wire").text
    for name in ("power-on", "tide-line", "reading, line by line"):
        assert f"<h2>{name}</h2>" in text
    places = [link for link in iter_links(text) if link.startswith("place?file=wire%2Fpower-on.log")]
    assert len(places) == 12
    assert "16 16 0C 06 41 52 52 4D 0A" in shown_desk.get(f"/{TOKEN}/{places[0]}").text
    assert f"wire-capture?file={CAPTURE}" in set(iter_links(text))


def test_capture(shown_desk: TestClient) -> None:
    """The 22 bytes of the reading stand with their times; tested against published figures, what is broken is told."""
    text = shown_desk.get(f"/{TOKEN}/wire-capture?file={CAPTURE}").text
    found = re.findall(r'data-at="(\d+)" title="[^"]*"><span class="code">([0-9A-F]{2})</span>', text)
    assert bytes.fromhex("".join(digits for _, digits in found)) == b"TIDE 04.37 M RISING \r\n"
    rows = re.findall(r"<option[^>]*>([^<]+)</option>", text)
    assert len(rows) > 3
    for row in rows[1:]:
        assert shown_desk.get(f"/{TOKEN}/wire-capture", params={"file": CAPTURE, "against": row}).status_code == 200


def test_place_in_capture(shown_desk: TestClient) -> None:
    """A moment that the table cites leads to the drawing at that moment."""
    table = shown_desk.get(f"/{TOKEN}/").text
    place = next(link for link in iter_links(table) if "as=time" in link)
    drawing = next(link for link in iter_links(shown_desk.get(f"/{TOKEN}/{place}").text) if "wire-capture" in link)
    assert re.search(r'data-at="\d+"', shown_desk.get(f"/{TOKEN}/{drawing}").text)


def test_stretch(shown_desk: TestClient) -> None:
    """A stretch is as the library gives it: the strobe falls at 536.8 us of the file for the first time."""
    asked = {"file": CAPTURE, "from": "500000000", "to": "600000000", "width": "800"}
    plain = shown_desk.get(f"/{TOKEN}/wire-stretch", params={**asked, "line": "strobe"}).json()
    [strobe] = plain["channels"]
    assert strobe["times"][0] + plain["start_ps"] == 536_800_000
    assert strobe["values"][0] == "0"
    assert len(shown_desk.get(f"/{TOKEN}/wire-stretch", params=asked).json()["channels"]) == 10


@pytest.mark.parametrize(
    ("query", "status", "words"),
    [
        ("file=wire/plug.vcd&from=0&to=x&width=10", 404, "a stretch is asked for by whole numbers"),
        ("file=wire/none.vcd&from=0&to=1&width=10", 404, "the study names no capture &#39;wire/none.vcd&#39;"),
        ("file=../x&from=0&to=1&width=10", 404, "the study names no capture &#39;../x&#39;"),
        ("file=wire/plug.vcd&from=5&to=5&width=10", 422, "wire/plug.vcd"),
        ("file=wire/plug.vcd&from=0&to=9&width=999999", 422, "16384"),
        ("file=wire/plug.vcd&from=0&to=9&width=9&line=nine", 404, "nine"),
    ],
)
def test_stretch_wrong(query: str, status: int, words: str, shown_desk: TestClient) -> None:
    """What is not there, or makes no stretch, is refused in words."""
    answer = shown_desk.get(f"/{TOKEN}/wire-stretch?{query}")
    assert answer.status_code == status
    assert words in answer.text


def test_capture_wrong(shown_desk: TestClient) -> None:
    """A capture that the study does not name, and a time that is none, are refused."""
    assert shown_desk.get(f"/{TOKEN}/wire-capture?file=board/card.nets").status_code == 404
    assert shown_desk.get(f"/{TOKEN}/wire-capture?file={CAPTURE}&at=<b>").status_code == 404


def test_wire_empty(tmp_path: Path) -> None:
    """A study without logs says where they go."""
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "study.toml").write_text('title = "Nothing yet"\n')
    assert "nothing from the wire yet" in client_of(tmp_path / "study").get(f"/{TOKEN}/wire").text

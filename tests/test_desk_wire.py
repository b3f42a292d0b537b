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


HEAD = '$timescale 1 ns $end $var wire 1 ! STB $end $var wire 1 " D $end $enddefinitions $end\n'


def wired(folder: Path, body: str, stated: str) -> TestClient:
    """The desk of a study with one capture."""
    (folder / "wire").mkdir(parents=True)
    (folder / "wire" / "t.vcd").write_text(HEAD + body)
    (folder / "study.toml").write_text(f'[[capture]]\nfile = "wire/t.vcd"\nsequence = "s"\n{stated}\n')
    return client_of(folder)


def test_capture_lacks(tmp_path: Path) -> None:
    """What a capture lacks stands beside its bytes: here a stretch that was not recorded and the end of the file."""
    body = '#0\n1!\n1"\n#5000\n0!\n#6000\n1!\n#9000\n$dumpoff\nx!\nx"\n$end\n#19000\n$dumpon\n1!\n0"\n$end\n#200'
    desk = wired(tmp_path, body, 'data = ["D"]\nstrobe = "STB"\nlow = ["STB"]')
    text = desk.get(f"/{TOKEN}/wire-capture?file=wire/t.vcd").text
    assert "recording was switched off once, for 10 us in all, first at 9 us; what happened then is not known" in text
    assert "the file ends in the middle of a record: &#39;#200&#39; at byte " in text
    assert "Bytes may be missing: nothing was recorded for 10 us in all; the file breaks off" in text


def test_capture_silent(tmp_path: Path) -> None:
    """A capture without a byte says why there is none."""
    desk = wired(tmp_path, '#0\n1!\n1"\n#5000\n', 'data = ["D"]\nstrobe = "STB"')
    text = desk.get(f"/{TOKEN}/wire-capture?file=wire/t.vcd").text
    assert "Whether bytes are missing cannot be told: no whole strobe is in the capture: nothing was sent" in text


def test_capture_ringing(tmp_path: Path) -> None:
    """Each byte stands with its own time, also behind strobes that are left out as ringing."""
    body, strobes = '#0\n1!\n0"\n', []
    for k in range(6):
        at = 100_000 * (k + 1)
        body += f'#{at - 50_000}\n{(k + 1) % 2}"\n#{at}\n0!\n#{at + 1_000}\n1!\n'
        strobes.append(at * 1000)
        if k == 2:
            body += f"#{at + 2_000}\n0!\n#{at + 3_000}\n1!\n"
    desk = wired(tmp_path, body + "#900000\n", 'data = ["D"]\nstrobe = "STB"\nlatch = "leading"')
    text = desk.get(f"/{TOKEN}/wire-capture?file=wire/t.vcd").text
    assert "1 strobes follow another so soon" in text
    assert [int(at) for at in re.findall(r'data-at="(\d+)" title', text)] == strobes


def test_capture_serial(tmp_path: Path) -> None:
    """The bytes of a serial line stand with their times, and what cannot be told is said."""
    body, now = "#0\n1!\n#1000\n", 5_000_000
    for byte in b"TI":
        for bit in (0, *(byte >> k & 1 for k in range(8)), 1):
            body += f"#{now}\n{bit}!\n"
            now += 100_000
    desk = wired(tmp_path, f"{body}#{now + 4_000_000}\n0!\n#{now + 4_300_000}\n", 'serial = "STB"\nframing = "8N1"')
    text = desk.get(f"/{TOKEN}/wire-capture?file=wire/t.vcd").text
    found = re.findall(r'data-at="(\d+)" title="[^"]*"><span class="code">([0-9A-F]{2})</span>', text)
    assert found == [("5000000000", "54"), ("6000000000", "49"), ("11000000000", "00")]
    assert text.count("not certain") == 1
    assert "STB carries asynchronous serial bytes, 8N1, " in text
    assert "1 of 3 bytes were not recorded whole: the capture ends or the line has no level within them" in text


def test_wire_no_run(tmp_path: Path) -> None:
    """A log that holds no byte yet, such as one of listening in vain, hinders nothing."""
    (tmp_path / "wire").mkdir()
    (tmp_path / "wire" / "a.log").write_text("numbers: hex\nruns: file\n# 0 bytes; stopped by the user\n")
    (tmp_path / "wire" / "b.log").write_text("41 42 0D\n41 42 0D\n")
    desk = client_of(tmp_path)
    text = desk.get(f"/{TOKEN}/wire").text
    assert "No run counts yet." in text
    assert "3 bytes from 2 runs" in text
    assert "it holds no byte, so it tells nothing" in desk.get(f"/{TOKEN}/").text

"""The desk's board room in-process: pictures that lead to rows, and tracing that lands in the readings file."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from latchlore.study import open_tracing
from tests.desks import OWN, TOKEN, client_of, iter_links, wait_weighed

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient


def _asked(text: str) -> str:
    found = re.search(r'name="asked" value="([^"]*)"', text)
    assert found is not None
    return found[1]


def test_board(own_desk: TestClient) -> None:
    """Every picture is there, and every link leads somewhere: cells to rows of the table, pins to nets of the page."""
    text = own_desk.get(f"/{TOKEN}/board").text
    table = own_desk.get(f"/{TOKEN}/").text
    for part in ("registers", "ribbons", "ways", "chips", "matings"):
        assert f'id="{part}"' in text
    links = set(iter_links(text))
    rows = {link.partition("#")[2] for link in links if link.startswith("./#")}
    assert len(rows) > 20
    assert all(f'id="{row}"' in table for row in rows)
    for link in links:
        assert own_desk.get(f"/{TOKEN}/{link}").status_code == 200, link
    own = set(re.findall(r'href="#([^"]+)"', text))
    assert len(own) > 40
    assert all(f'id="{one}"' in text for one in own)


def test_board_shows_cautions(own_desk: TestClient) -> None:
    """Before plugs are put together, and before a probe touches, the page says what to see to."""
    assert "Before anything is put together" in own_desk.get(f"/{TOKEN}/board").text
    text = own_desk.get(f"/{TOKEN}/board-trace").text
    assert "Before a probe touches the board:" in text
    assert "licensed practice" in text
    assert "board-answer" not in text


def test_board_wrong(tmp_path: Path) -> None:
    """A study without a board says how to begin one; tracing says which file is missing."""
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "study.toml").write_text('title = "Nothing yet"\n')
    own_desk = client_of(tmp_path / "study")
    assert "This study has no board yet." in own_desk.get(f"/{TOKEN}/board").text
    answer = own_desk.get(f"/{TOKEN}/board-trace")
    assert answer.status_code == 422
    assert "the study has no net file; write the parts list first: board/NAME.nets" in answer.text


def test_trace(own_desk: TestClient, demo_study: Path) -> None:
    """An answer is on disk at once, the guide goes on from it as the command line would, and Undo takes it back."""
    text = own_desk.get(f"/{TOKEN}/board-trace?ready").text
    first = open_tracing(demo_study).proposal
    assert first.held is not None
    assert f"Hold {first.held}, drag along {first.owner} pins {first.row_word}." in text
    beeped = str(first.row[0].pin)
    answer = own_desk.post(f"/{TOKEN}/board-answer", data={"asked": _asked(text), "pin": beeped}, headers=OWN)
    assert answer.status_code == 200
    assert (demo_study / "board" / "trace.readings").read_text() == (
        f"hold {first.held}\nsweep {first.owner} {first.row_word} {beeped}\n"
    )
    second = open_tracing(demo_study).proposal
    assert second != first
    assert f"drag along {second.owner} pins {second.row_word}." in answer.text
    own_desk.post(f"/{TOKEN}/undo", data={"back": "board"}, headers=OWN)
    assert not (demo_study / "board" / "trace.readings").exists()
    wait_weighed(own_desk)
    assert _asked(own_desk.get(f"/{TOKEN}/board-trace?ready").text) == _asked(text)


def test_trace_wrong(own_desk: TestClient, demo_study: Path) -> None:
    """An answer to an old question is not kept; one that a readings file refuses is told, and nothing is written."""
    text = own_desk.get(f"/{TOKEN}/board-trace?ready").text
    stale = own_desk.post(f"/{TOKEN}/board-answer", data={"asked": "Hold u9.9.", "pin": "1"}, headers=OWN)
    assert _asked(stale.text) == _asked(text)
    bad = own_desk.post(f"/{TOKEN}/board-answer", data={"asked": _asked(text), "typed": "77"}, headers=OWN)
    assert bad.status_code == 422
    assert "77" in bad.text
    assert not (demo_study / "board" / "trace.readings").exists()

"""The desk's board room in-process: pictures that lead to rows, and tracing that lands in the readings file."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from latchlore.study import open_tracing
from tests.desks import OWN, TOKEN, client_of, iter_links, lay_demo, wait_weighed

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """The demonstration study."""
    return lay_demo(tmp_path / "study")


@pytest.fixture
def client(study: Path) -> TestClient:
    """Its desk."""
    return client_of(study)


def _asked(text: str) -> str:
    found = re.search(r'name="asked" value="([^"]*)"', text)
    assert found is not None
    return found[1]


def test_board(client: TestClient) -> None:
    """Every picture is there, and every link leads somewhere: cells to rows of the table, pins to nets of the page."""
    text = client.get(f"/{TOKEN}/board").text
    table = client.get(f"/{TOKEN}/").text
    for part in ("registers", "ribbons", "ways", "chips", "matings"):
        assert f'id="{part}"' in text
    links = set(iter_links(text))
    rows = {link.partition("#")[2] for link in links if link.startswith("./#")}
    assert len(rows) > 20
    assert all(f'id="{row}"' in table for row in rows)
    for link in links:
        assert client.get(f"/{TOKEN}/{link}").status_code == 200, link
    own = set(re.findall(r'href="#([^"]+)"', text))
    assert len(own) > 40
    assert all(f'id="{one}"' in text for one in own)


def test_board_shows_cautions(client: TestClient) -> None:
    """Before plugs are put together, and before a probe touches, the page says what to see to."""
    assert "Before anything is put together" in client.get(f"/{TOKEN}/board").text
    text = client.get(f"/{TOKEN}/board-trace").text
    assert "Before a probe touches the board:" in text
    assert "licensed practice" in text
    assert "board-answer" not in text


def test_board_wrong(tmp_path: Path) -> None:
    """A study without a board says how to begin one; tracing says which file is missing."""
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "study.toml").write_text('title = "Nothing yet"\n')
    client = client_of(tmp_path / "study")
    assert "This study has no board yet." in client.get(f"/{TOKEN}/board").text
    answer = client.get(f"/{TOKEN}/board-trace")
    assert answer.status_code == 422
    assert "the study has no net file; write the parts list first: board/NAME.nets" in answer.text


def test_trace(client: TestClient, study: Path) -> None:
    """An answer is on disk at once, the guide goes on from it as the command line would, and Undo takes it back."""
    text = client.get(f"/{TOKEN}/board-trace?ready").text
    first = open_tracing(study).proposal
    assert first.held is not None
    assert f"Hold {first.held}, drag along {first.owner} pins {first.row_word}." in text
    beeped = str(first.row[0].pin)
    answer = client.post(f"/{TOKEN}/board-answer", data={"asked": _asked(text), "pin": beeped}, headers=OWN)
    assert answer.status_code == 200
    assert (study / "board" / "trace.readings").read_text() == (
        f"hold {first.held}\nsweep {first.owner} {first.row_word} {beeped}\n"
    )
    second = open_tracing(study).proposal
    assert second != first
    assert f"drag along {second.owner} pins {second.row_word}." in answer.text
    client.post(f"/{TOKEN}/undo", data={"back": "board"}, headers=OWN)
    assert not (study / "board" / "trace.readings").exists()
    wait_weighed(client)
    assert _asked(client.get(f"/{TOKEN}/board-trace?ready").text) == _asked(text)


def test_trace_wrong(client: TestClient, study: Path) -> None:
    """An answer to an old question is not kept; one that a readings file refuses is told, and nothing is written."""
    text = client.get(f"/{TOKEN}/board-trace?ready").text
    stale = client.post(f"/{TOKEN}/board-answer", data={"asked": "Hold u9.9.", "pin": "1"}, headers=OWN)
    assert _asked(stale.text) == _asked(text)
    bad = client.post(f"/{TOKEN}/board-answer", data={"asked": _asked(text), "typed": "77"}, headers=OWN)
    assert bad.status_code == 422
    assert "77" in bad.text
    assert not (study / "board" / "trace.readings").exists()

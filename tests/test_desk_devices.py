"""The desk's devices room in-process: comparison, tables, and the page behind a row."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.desks import TOKEN, client_of, iter_links

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient


def test_devices(shown_desk: TestClient) -> None:
    """What differs, which explain the logs, and every table stand on one page; every link leads somewhere."""
    text = shown_desk.get(f"/{TOKEN}/devices").text
    assert "What is not the same in all of them" in text
    assert "wide characters until the next return" in text
    assert "underlined characters until the next return" in text
    assert "Which of them explain what was logged" in text
    for link in dict.fromkeys(iter_links(text)):
        assert shown_desk.get(f"/{TOKEN}/{link}").status_code == 200, link


def test_find(shown_desk: TestClient) -> None:
    """Words are looked for in the scans that are there; in the demonstration none is."""
    text = shown_desk.get(f"/{TOKEN}/devices?find=<b>tide</b>").text
    assert "nowhere in the scans that are there" in text
    assert "<b>tide" not in text


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("device=none.toml&row=x", "the study has no document &#39;none.toml&#39;; known are"),
        ("device=documents/quill-24.toml&row=none", "none"),
    ],
)
def test_page_wrong(query: str, words: str, shown_desk: TestClient) -> None:
    """A document or a row that is not there is refused in words."""
    answer = shown_desk.get(f"/{TOKEN}/devices-page?{query}")
    assert answer.status_code == 404
    assert words in answer.text


def test_devices_empty(tmp_path: Path) -> None:
    """A study without documents says where they go."""
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "study.toml").write_text('title = "Nothing yet"\n')
    assert "This study has no document yet." in client_of(tmp_path / "study").get(f"/{TOKEN}/devices").text

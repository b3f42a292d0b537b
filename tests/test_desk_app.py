"""The desk in-process: the right page for the right asker, refusals for the rest, and files that change."""

from __future__ import annotations

import os
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlencode

import pytest
from starlette.testclient import TestClient

from latchlore.base import BadInput, Origin
from latchlore.desk import make_app, wording
from latchlore.evidence import Row, Standing, Table
from tests.marram import GUIDE, LABEL, LOG, ROM, lay_study, marram_table

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from latchlore.base import Progress

TOKEN = "a-secret-of-the-test"
PORT = 8111
BASE = f"http://127.0.0.1:{PORT}"


class _Weigher:
    """Stands in for weighing: gives what it was told to, and counts."""

    def __init__(self) -> None:
        self.result: Table | Exception = marram_table()
        self.calls = 0

    def __call__(self, folder: Path, progress: Progress) -> Table:
        """The table, or the error."""
        self.calls += 1
        if isinstance(self.result, Exception):
            raise self.result
        return self.result


class _Marks(HTMLParser):
    """The tags of a page with their attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep it."""
        self.tags.append((tag, dict(attrs)))


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """The study's files, and one outside of it."""
    (tmp_path / "secret.txt").write_text("secret")
    return lay_study(tmp_path / "study")


@pytest.fixture
def weigher() -> _Weigher:
    """What weighs."""
    return _Weigher()


@pytest.fixture
def client(study: Path, weigher: _Weigher) -> TestClient:
    """A browser on the desk's own address."""
    app = make_app(study, token=TOKEN, weigh=weigher, loads=lambda folder: {ROM: 0xF000}, port=PORT)
    return TestClient(app, base_url=BASE, raise_server_exceptions=False)


def _place(origin: Origin) -> str:
    asked = {"file": origin.file, "as": origin.place.value, "at": origin.number, "detail": origin.detail}
    return f"/{TOKEN}/place?{urlencode(asked)}"


def _rows(text: str) -> list[str]:
    """The standing of each row shown, in order."""
    return re.findall(r'<tbody id="[^"]+" class="row ([a-z]+)"', text)


def test_table(client: TestClient) -> None:
    """The whole table, contradictions first, every value with a link to its place."""
    answer = client.get(f"/{TOKEN}/")
    assert answer.status_code == 200
    table = marram_table()
    assert sorted(_rows(answer.text)) == sorted(row.standing.value for row in table.rows)
    assert _rows(answer.text)[:3] == ["contradicted", "contradicted", "agreed"]
    links = [named["href"] for tag, named in _Marks(answer.text).tags if named.get("class") == "place"]
    assert len(links) == sum(len(one.origins) for row in table.rows for one in row.testimonies) + sum(
        len(repair.statements) for row in table.rows for repair in row.repairs
    )
    for link in links:
        assert client.get(f"/{TOKEN}/{link}").status_code == 200, link


@pytest.mark.parametrize("standing", [one.value for one in Standing])
def test_table_filtered(standing: str, client: TestClient) -> None:
    """Only the standing asked for is shown, and its box stays ticked."""
    answer = client.get(f"/{TOKEN}/?standing={standing}")
    assert set(_rows(answer.text)) == {standing}
    ticked = [named["value"] for tag, named in _Marks(answer.text).tags if tag == "input" and "checked" in named]
    assert ticked == [standing]


def test_table_filtered_twice(client: TestClient) -> None:
    """Two boxes ticked show both; one that nobody knows shows none."""
    both = client.get(f"/{TOKEN}/?standing=silent&standing=single")
    assert set(_rows(both.text)) == {"silent", "single"}
    assert _rows(client.get(f"/{TOKEN}/?standing=%3Cscript%3E").text) == []


def test_table_is_accessible(client: TestClient) -> None:
    """The page names its language, heads its columns and rows, and labels its boxes and marks."""
    marks = _Marks(client.get(f"/{TOKEN}/").text).tags
    assert ("html", "en") in [(tag, named.get("lang")) for tag, named in marks]
    scopes = [named.get("scope") for tag, named in marks if tag == "th"]
    assert scopes.count("col") == 5
    assert scopes.count("row") == len(marram_table().rows)
    assert all("style" not in named and not any(key.startswith("on") for key in named) for _, named in marks)
    assert all(named.get("aria-hidden") == "true" for tag, named in marks if tag == "svg")


def test_place_line(client: TestClient) -> None:
    """A cited line is shown among its neighbours, with what rests on it and a way back."""
    text = client.get(_place(Origin.at_line(GUIDE, 4, "page 12, row 3"))).text
    assert 'aria-current="location"><b>4</b> meaning = &#34;draw n dot columns&#34;</pre>' in text
    assert '<a href="./#on-code-1b-4b">code 1B 4B</a>' in text


def test_place_address(client: TestClient) -> None:
    """A cited address is shown in its row of bytes (the image counts up from 00 at F000)."""
    text = client.get(_place(Origin.at_address(ROM, 0xF012))).text
    assert "<b>F010</b> 10 11 [12] 13" in text


def test_place_uncited(client: TestClient) -> None:
    """A line of the study's files can be looked at also when nothing rests on it."""
    answer = client.get(f"/{TOKEN}/place?file=wire/power-on.log&as=line&at=1")
    assert answer.status_code == 200
    assert "the borrowed listener" in answer.text
    assert "What rests on it" not in answer.text


@pytest.mark.parametrize(
    "query",
    [
        "",
        "file=wire/power-on.log",
        "file=wire/power-on.log&as=line&at=x",
        "file=wire/power-on.log&as=line&at=99",  # no such line
        "file=../secret.txt&as=line&at=1",
        "file=%2e%2e%2fsecret.txt&as=line&at=1",
        "file=/etc/hostname&as=file&at=0",
        "file=wire/power-on.log&as=moon&at=1",
    ],
)
def test_place_wrong(query: str, client: TestClient) -> None:
    """A place that the study does not have is not shown, wherever it would lead."""
    answer = client.get(f"/{TOKEN}/place?{query}")
    assert answer.status_code == 404
    assert wording.NO_PLACE in answer.text
    assert "secret" not in answer.text


@pytest.mark.parametrize("path", ["/", "/x/", f"/{TOKEN}x/", f"/{TOKEN.upper()}/", "/look.css", f"/%00{TOKEN}/"])
def test_token_wrong(path: str, client: TestClient) -> None:
    """Without the secret there is nothing, not even a hint that the desk is here."""
    answer = client.get(path)
    assert (answer.status_code, answer.text) == (404, wording.NOT_FOUND)


def test_token_alone(client: TestClient) -> None:
    """The address without its last stroke leads to the desk."""
    assert client.get(f"/{TOKEN}").url.path == f"/{TOKEN}/"


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:80", "127.0.0.1.evil.example:8111", "", "["])
def test_host_wrong(host: str, client: TestClient) -> None:
    """A name that is made to point at this machine is refused, secret or not."""
    answer = client.get(f"/{TOKEN}/", headers={"host": host})
    assert (answer.status_code, answer.text) == (421, wording.REFUSED_HOST)


def test_host_local(client: TestClient) -> None:
    """The machine's own name for itself is as good as its number."""
    assert client.get(f"/{TOKEN}/", headers={"host": f"localhost:{PORT}"}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": f"https://127.0.0.1:{PORT}"},
        {"origin": "http://127.0.0.1:1"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_origin_wrong(headers: dict[str, str], client: TestClient) -> None:
    """A page from elsewhere cannot ask through the reader's browser."""
    answer = client.get(f"/{TOKEN}/", headers=headers)
    assert (answer.status_code, answer.text) == (403, wording.REFUSED_ORIGIN)


def test_post_without_origin(client: TestClient) -> None:
    """A form that does not say where it comes from is refused: every browser says so."""
    for headers in ({}, {"origin": "null"}, {"origin": "http://example.org"}):
        answer = client.post(f"/{TOKEN}/undo", headers=headers)
        assert (answer.status_code, answer.text) == (403, wording.REFUSED_ORIGIN)


def test_post_too_large(client: TestClient) -> None:
    """What states, or brings, more than the desk takes is refused."""
    stated = client.post(f"/{TOKEN}/undo", headers={"origin": BASE, "content-length": str(5 << 30)}, content=b"x")
    assert (stated.status_code, stated.text) == (413, wording.REFUSED_SIZE)

    def pieces() -> Iterator[bytes]:
        for _ in range(33):
            yield b"x" * (1 << 20)

    brought = client.post(
        f"/{TOKEN}/undo",
        headers={"origin": BASE, "content-type": "application/x-www-form-urlencoded"},
        content=pieces(),
    )
    assert brought.status_code == 413
    assert wording.REFUSED_SIZE in brought.text


def test_undo_wrong(client: TestClient) -> None:
    """With nothing changed there is nothing to take back, and the page says so."""
    answer = client.post(f"/{TOKEN}/undo", headers={"origin": BASE})
    assert answer.status_code == 404
    assert wording.NOTHING_TO_UNDO in answer.text


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_method_wrong(method: str, client: TestClient, study: Path) -> None:
    """Where nothing is taken, nothing is changed, whatever is sent."""
    before = {path: path.read_bytes() for path in study.rglob("*") if path.is_file()}
    answer = client.request(method, f"/{TOKEN}/", headers={"origin": BASE}, content=b"x" * 1000)
    assert answer.status_code == 405
    assert wording.REFUSED_METHOD in answer.text
    assert {path: path.read_bytes() for path in study.rglob("*") if path.is_file()} == before


@pytest.mark.parametrize("path", ["", "place", "look.css", "desk.js", "version", "no-such-page"])
def test_headers(path: str, client: TestClient) -> None:
    """Every answer forbids scripts that are not the desk's own, framing, guessing of types, and telling the address."""
    answer = client.get(f"/{TOKEN}/{path}")
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert answer.headers["referrer-policy"] == "same-origin"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["cache-control"] == "no-store"


def test_refusals_carry_the_headers(client: TestClient) -> None:
    """A refusal is no way around the policy."""
    for answer in (client.get("/"), client.post(f"/{TOKEN}/"), client.get("/", headers={"host": "x"})):
        assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_text_is_escaped(client: TestClient, weigher: _Weigher, study: Path) -> None:
    """Script in every text of the table, and in a cited line, stays text."""
    rude = "<script>alert(1)</script>\"'"
    base = marram_table()
    rows = tuple(Row(row.subject, row.testimonies, row.standing, rude, row.repairs, (rude,)) for row in base.rows)
    weigher.result = Table(rude, True, rows, base.heard, (rude,))
    (study / LABEL).write_text(rude)
    for path in (f"/{TOKEN}/", _place(Origin.at_line(LABEL, 1, "museum label"))):
        text = client.get(path).text
        assert "<script>" not in text
        assert "&lt;script&gt;" in text


def test_follows_the_files(client: TestClient, weigher: _Weigher, study: Path) -> None:
    """The study is weighed once; again when a file is written, added or removed; and the version tells the page."""

    def seen() -> str:
        return str(client.get(f"/{TOKEN}/version").json()["version"])

    client.get(f"/{TOKEN}/")
    client.get(f"/{TOKEN}/?standing=single")
    assert weigher.calls == 1
    changes: list[Callable[[], object]] = [
        lambda: (study / LOG).write_text("1B 40\n"),
        lambda: (study / "new.log").write_text("1B\n"),
        (study / "new.log").unlink,
        lambda: os.utime(study / GUIDE, ns=(1, 1)),
    ]
    for number, change in enumerate(changes, 2):
        before = seen()
        change()
        assert seen() != before
        weigher.result = Table(f"State {number}", False, (), ())
        assert f"State {number}" in client.get(f"/{TOKEN}/").text
        assert weigher.calls == number
    assert f'data-version="{seen()}"' in client.get(f"/{TOKEN}/").text


def test_broken_study(client: TestClient, weigher: _Weigher, study: Path) -> None:
    """All mistakes of a study that cannot be read are shown with links to their places, and mending it helps."""
    place = Origin.at_line(LOG, 3, "run 2")
    weigher.result = BadInput(place, "'1Z' is not a byte", (Origin("gone.log"), "is empty"))
    answer = client.get(f"/{TOKEN}/")
    assert answer.status_code == 422
    assert "&#39;1Z&#39; is not a byte" in answer.text
    assert "is empty" in answer.text
    assert 'aria-current="location"><b>3</b> 1B 40 0D</pre>' in client.get(_place(place)).text
    weigher.result = marram_table()
    (study / LOG).write_text("1B\n")
    assert client.get(f"/{TOKEN}/").status_code == 200


def test_fault(client: TestClient, weigher: _Weigher, capsys: pytest.CaptureFixture[str]) -> None:
    """A fault of ours is a page that says so without a traceback, and the desk goes on working."""
    weigher.result = AssertionError("seven is odd")
    answer = client.get(f"/{TOKEN}/")
    assert answer.status_code == 500
    assert wording.FAULT_TITLE.replace("'", "&#39;") in answer.text
    assert "Traceback" not in answer.text
    assert "seven is odd" in capsys.readouterr().err
    weigher.result = marram_table()
    assert client.get(f"/{TOKEN}/").status_code == 200


def test_name_of_a_folder_here(study: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A study that cannot be weighed, opened as the folder that one stands in, has that folder's name."""
    monkeypatch.chdir(study)
    weigher = _Weigher()
    weigher.result = BadInput(Origin("study.toml"), "no study")
    app = make_app(Path(), token=TOKEN, weigh=weigher, loads=lambda folder: {}, port=PORT)
    assert ">study<" in TestClient(app, base_url=BASE).get(f"/{TOKEN}/enter").text

"""What an attacker on the same machine, or a page from elsewhere, may try: refused, and the desk goes on working."""

from __future__ import annotations

import socket
import time
import urllib.request
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote, urlsplit

import pytest
from starlette.testclient import TestClient

from latchlore.desk import make_app
from tests.demos import lay_demo
from tests.desks import OWN, TABLE_OF_TESTS, TOKEN, client_of, running_desk
from tests.marram import lay_study, marram_table

if TYPE_CHECKING:
    from collections.abc import Iterator

MANY = 1000
CHUNK = 1 << 20
TAKEN = 48 << 20  # the desk must have closed an upload by then: 32 MiB, and what lies on the way


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A desk that runs as a user would run it."""
    study = lay_study(tmp_path_factory.mktemp("attacks") / "study")
    with running_desk(study, TABLE_OF_TESTS) as address:
        yield address


def _ask(address: str) -> tuple[int, float]:
    """The status of the page, and the seconds it took."""
    start = time.monotonic()
    with urllib.request.urlopen(address, timeout=30) as answer:
        answer.read()
        return answer.status, time.monotonic() - start


def _connect(address: str) -> socket.socket:
    place = urlsplit(address)
    assert place.hostname == "127.0.0.1"
    return socket.create_connection((place.hostname, place.port or 0), timeout=30)


def test_slow_connections(address: str) -> None:
    """A thousand connections that never finish their request keep nobody waiting."""
    _ask(address)
    slow = []
    try:
        for _ in range(MANY):
            one = _connect(address)
            one.sendall(b"GET / HTTP/1.1\r\nHost: ")
            slow.append(one)
        status, seconds = _ask(address)
        assert status == 200
        assert seconds < 10  # it takes milliseconds; a server that waits for the slow ones would never answer
    finally:
        for one in slow:
            one.close()
    assert _ask(address)[0] == 200


@pytest.mark.parametrize("stated", [True, False])
def test_large_upload(stated: bool, address: str) -> None:
    """Five gigabytes are refused, stated beforehand or sent in pieces, long before they have arrived."""
    place = urlsplit(address)
    length = f"Content-Length: {5 << 30}" if stated else "Transfer-Encoding: chunked"
    head = (
        f"POST {place.path}undo HTTP/1.1\r\nHost: {place.netloc}\r\nOrigin: http://{place.netloc}\r\n"
        f"Content-Type: application/x-www-form-urlencoded\r\n{length}\r\n\r\n"
    )
    piece = b"x" * CHUNK
    sent = 0
    with _connect(address) as wire:
        wire.sendall(head.encode())
        try:
            while sent < 5 << 30:
                wire.sendall(piece if stated else b"%x\r\n%s\r\n" % (CHUNK, piece))
                sent += CHUNK
        except OSError:  # the desk has closed it
            pass
    assert sent <= TAKEN
    assert _ask(address)[0] == 200


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    """The demonstration, beside a file that is no part of it."""
    (tmp_path / "secret.txt").write_text("the secret words")
    return client_of(lay_demo(tmp_path / "study"))


CLIMBS = (
    "../secret.txt",
    "wire/../../secret.txt",
    "/etc/hostname",
    "%2e%2e/secret.txt",
    "..\\secret.txt",
    "\0",
)


@pytest.mark.parametrize("file", CLIMBS)
def test_climbing(file: str, client: TestClient) -> None:
    """No address reads a file outside the study."""
    for page in (
        f"place?file={quote(file)}&as=line&at=1",
        f"place?file={quote(file)}&as=byte&at=0",
        f"wire-capture?file={quote(file)}",
        f"wire-stretch?file={quote(file)}&from=0&to=9&width=9",
        f"paper?device={quote(file)}",
        f"devices-page?device={quote(file)}&row=x",
        quote(file),
    ):
        answer = client.get(f"/{TOKEN}/{page}")
        assert answer.status_code in {404, 405, 422}, page
        assert "the secret words" not in answer.text


def test_links_that_lead_out(client: TestClient, tmp_path: Path) -> None:
    """A symbolic link out of the study is not followed."""
    (tmp_path / "study" / "wire" / "out.log").symlink_to(tmp_path / "secret.txt")
    answer = client.get(f"/{TOKEN}/place?file=wire/out.log&as=line&at=1")
    assert answer.status_code == 404
    assert "the secret words" not in answer.text


SCRIPT = "<script>alert(1)</script><img src=x onerror=alert(2)>"


def test_script_in_every_text(tmp_path: Path) -> None:
    """Markup in the study's texts and file names is shown as it is written, on every page."""
    study = tmp_path / "study"
    (study / "wire").mkdir(parents=True)
    (study / "documents").mkdir()
    (study / "study.toml").write_text(f"title = {SCRIPT!r}\nabout = {SCRIPT!r}\n")
    name = "<img src=x onerror=alert(3)>.log"
    (study / "wire" / name).write_text(f"# {SCRIPT}\n1B 40 0D\n1B 40 0D\n")
    (study / "documents" / "<b>.toml").write_text(
        f"title = {SCRIPT!r}\ndevice = {SCRIPT!r}\nkind = 'manual'\nnote = {SCRIPT!r}\n[[command]]\npattern = '1B 40'\n"
        f"meaning = {SCRIPT!r}\nquote = {SCRIPT!r}\ndoubt = {SCRIPT!r}\npage = 1\nrow = 1\n"
    )
    client = client_of(study)
    for page in (
        "",
        "board",
        "program",
        "wire",
        "paper",
        "devices",
        "record",
        f"place?file=wire/{quote(name)}&as=line&at=1",
    ):
        text = client.get(f"/{TOKEN}/{page}").text
        assert "<script>alert" not in text, page
        assert "<img src=x" not in text, page
    for page in ("", "devices", "paper"):
        assert "&lt;script&gt;alert(1)" in client.get(f"/{TOKEN}/{page}").text, page


def test_script_in_what_is_asked(client: TestClient) -> None:
    """Markup in an address or a form comes back as it is written."""
    for page in ("program-tree?entry=", "program-listing?find=", "devices?find=", "paper?typed=", "wire-capture?file="):
        text = client.get(f"/{TOKEN}/{page}{quote(SCRIPT)}").text
        assert "<script>alert" not in text, page
    answer = client.post(f"/{TOKEN}/undo", data={"back": f"//example.org/{SCRIPT}"}, headers=OWN)
    assert "<script>alert" not in answer.text


@pytest.mark.parametrize(
    "host", ["example.org", "127.0.0.1", "127.0.0.1:1", "localhost.example.org:8111", "[::1]:8111", ""]
)
def test_other_host(host: str, client: TestClient) -> None:
    """A name that was made to point at this machine does not open the desk."""
    answer = client.get(f"/{TOKEN}/", headers={"host": host})
    assert answer.status_code == 421


POSTS = "undo board-answer record-add record-withdraw record-accept record-question record-trial enter-row-out"


@pytest.mark.parametrize("page", POSTS.split())
def test_cross_origin_post(page: str, client: TestClient, tmp_path: Path) -> None:
    """A form on a page from elsewhere, or from nowhere, changes nothing."""
    before = {path: path.read_bytes() for path in (tmp_path / "study").rglob("*") if path.is_file()}
    for origin in ("http://example.org", "null", "http://127.0.0.1:1", "https://127.0.0.1:8111"):
        assert client.post(f"/{TOKEN}/{page}", headers={"origin": origin}).status_code == 403
    assert client.post(f"/{TOKEN}/{page}").status_code == 403
    assert {path: path.read_bytes() for path in (tmp_path / "study").rglob("*") if path.is_file()} == before


def test_host_on_a_network(tmp_path: Path) -> None:
    """A desk that was told to listen on a network's address answers under that one alone."""
    app = make_app(
        lay_study(tmp_path / "study"),
        token=TOKEN,
        weigh=lambda folder, progress: marram_table(),
        loads=lambda folder: {},
        port=8111,
        hosts=("192.168.7.20", "[fd00::7]"),
    )
    client = TestClient(app, base_url="http://192.168.7.20:8111")
    for host in ("192.168.7.20:8111", "[fd00::7]:8111"):
        assert client.get(f"/{TOKEN}/version", headers={"host": host}).status_code == 200
    for host in ("127.0.0.1:8111", "localhost:8111", "fd00::7:8111", "192.168.7.20"):
        assert client.get(f"/{TOKEN}/version", headers={"host": host}).status_code == 421

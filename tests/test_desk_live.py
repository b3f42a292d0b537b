"""Listening on the desk: bytes from a socket into a run of the study, the paper growing, the plug pulled."""

from __future__ import annotations

import re
import socket
import time
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from PIL import Image

from latchlore.wire import read_log
from tests.desks import OWN, TOKEN

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from starlette.testclient import TestClient

DEADLINE = 20


@pytest.fixture
def server() -> Iterator[socket.socket]:
    """A sender on this machine."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        listener.settimeout(DEADLINE)
        yield listener


def _begin(own_desk: TestClient, server: socket.socket) -> socket.socket:
    name = f"socket://127.0.0.1:{server.getsockname()[1]}"
    asked = {"port": name, "baud": "9600", "framing": "8N1", "sequence": "heard", "device": "documents/quill-24.toml"}
    answer = own_desk.post(f"/{TOKEN}/wire-begin", data=asked, headers=OWN)
    assert answer.status_code == 200
    assert "Listening" in answer.text
    return server.accept()[0]


def _until(own_desk: TestClient, is_so: Callable[[dict[str, object]], bool]) -> dict[str, object]:
    end = time.monotonic() + DEADLINE
    while time.monotonic() < end:
        heard: dict[str, object] = own_desk.get(f"/{TOKEN}/wire-heard").json()
        if is_so(heard):
            return heard
        time.sleep(0.02)
    raise AssertionError(heard)


def test_listen(own_desk: TestClient, demo_study: Path, server: socket.socket) -> None:
    """Bytes are kept as they come, the strip is as tall as they make it, and pulling the plug keeps everything."""
    sender = _begin(own_desk, server)
    sender.sendall(b"TIDE 04.37 M\r\n")
    assert _until(own_desk, lambda heard: heard["count"] == 14)["tail"] == b"TIDE 04.37 M\r\n".hex(" ").upper()
    [log] = (demo_study / "wire" / "heard").glob("*.log")
    assert b"".join(run.data for run in read_log(log, log.name).runs) == b"TIDE 04.37 M\r\n"  # while it is being heard
    first = Image.open(BytesIO(own_desk.get(f"/{TOKEN}/wire-strip.png").content)).size
    again = own_desk.post(f"/{TOKEN}/wire-begin", data={"port": "socket://127.0.0.1:1"}, headers=OWN)
    assert again.status_code == 422
    assert "is still being listened to; end that run first" in again.text
    sender.sendall(b"RISING\r\n" * 4)
    sender.close()
    heard = _until(own_desk, lambda heard: bool(heard["ended"]))
    assert heard["count"] == 46
    assert str(heard["ended"]).startswith("46 bytes kept; ")
    assert Image.open(BytesIO(own_desk.get(f"/{TOKEN}/wire-strip.png").content)).size[1] > first[1]
    assert re.search(r"<h1>Heard</h1>", own_desk.get(f"/{TOKEN}/wire-live").text)
    assert len(b"".join(run.data for run in read_log(log, log.name).runs)) == 46


def test_stop(own_desk: TestClient, server: socket.socket) -> None:
    """The button ends a run, and a new one can begin."""
    sender = _begin(own_desk, server)
    sender.sendall(b"A")
    _until(own_desk, lambda heard: heard["count"] == 1)
    assert "1 bytes kept" in own_desk.post(f"/{TOKEN}/wire-stop", headers=OWN).text
    sender.close()
    time.sleep(1.1)  # a run is named by the second in which it begins
    _begin(own_desk, server).close()
    _until(own_desk, lambda heard: bool(heard["ended"]))


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({}, "is missing: a serial port"),
        ({"port": "/dev/no-such-port", "baud": "9600", "framing": "8N1", "sequence": "x"}, "/dev/no-such-port"),
        ({"port": "x", "baud": "fast"}, "bits a second are a whole number from 50 to 4,000,000, not &#39;fast&#39;"),
        ({"port": "x", "baud": "9600", "framing": "8Q1"}, "8Q1"),
    ],
)
def test_listen_wrong(asked: dict[str, str], words: str, own_desk: TestClient, demo_study: Path) -> None:
    """What cannot be listened to is refused in words, and no run is begun."""
    before = sorted((demo_study / "wire").iterdir())
    answer = own_desk.post(f"/{TOKEN}/wire-begin", data=asked, headers=OWN)
    assert answer.status_code == 422
    assert words in answer.text
    assert sorted((demo_study / "wire").iterdir()) == before


def test_sequence_wrong(own_desk: TestClient, demo_study: Path, server: socket.socket) -> None:
    """A name that leads out of the study's folder is refused before the port is opened."""
    asked = {"port": f"socket://127.0.0.1:{server.getsockname()[1]}", "baud": "9600", "framing": "8N1"}
    answer = own_desk.post(f"/{TOKEN}/wire-begin", data={**asked, "sequence": "../out"}, headers=OWN)
    assert answer.status_code == 422
    assert "is a name that can be a folder" in answer.text
    server.settimeout(0.2)
    with pytest.raises(TimeoutError):
        server.accept()
    assert not (demo_study.parent / "out").exists()


def test_nothing_heard(own_desk: TestClient) -> None:
    """Before anything was heard, the pages of a run say so; the form carries the caution."""
    for page in ("wire-live", "wire-heard", "wire-strip.png"):
        answer = own_desk.get(f"/{TOKEN}/{page}")
        assert answer.status_code == 404
        assert "nothing has been listened to on this desk yet" in answer.text
    assert "common ground first" in own_desk.get(f"/{TOKEN}/wire-listen").text

"""The desk as a process: it opens on this machine only, follows a signal, and refuses what it cannot do."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from latchlore.cli import run
from latchlore.desk._serve import open_browser
from tests.desks import ROOT, TABLE_OF_TESTS, running_desk
from tests.marram import lay_study

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
    """A desk in a process of its own, ended afterwards."""
    study = lay_study(tmp_path / "study")
    command = [sys.executable, "-c", TABLE_OF_TESTS, "desk", str(study), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT) as running:
        yield running
        if running.poll() is None:
            running.kill()


def _address(desk: subprocess.Popen[str]) -> str:
    assert desk.stdout is not None
    return desk.stdout.readline().split()[-1]


def test_serve(desk: subprocess.Popen[str]) -> None:
    """It prints an address with a secret, answers there, and ends cleanly with status 0 on Ctrl-C."""
    address = _address(desk)
    secret = address.split("/")[3]
    assert address.startswith("http://127.0.0.1:")
    assert len(secret) >= 32
    with urllib.request.urlopen(address, timeout=20) as answer:
        assert b"The Marram strip printer card" in answer.read()
    desk.send_signal(signal.SIGINT)
    said, errors = desk.communicate(timeout=20)
    assert said.endswith("The desk is closed.\n")
    assert secret not in said + errors
    assert errors == ""
    assert desk.returncode == 0


def test_serve_listens_here_only(desk: subprocess.Popen[str]) -> None:
    """No other address of this machine reaches it: the socket is bound to the loopback address alone."""
    port = int(_address(desk).split(":")[2].split("/")[0])
    number = f":{port:04X}"
    tables = [Path("/proc/net/tcp"), Path("/proc/net/tcp6")]
    if not tables[0].exists():
        pytest.skip("this system does not list its sockets in /proc/net/tcp")
    rows = [row.split() for table in tables if table.exists() for row in table.read_text().splitlines()[1:]]
    # Columns 1 and 3: local address, its bytes from the last to the first, and state, 0A for listening
    # (Linux kernel documentation, networking/proc_net_tcp).
    assert [row[1] for row in rows if row[1].endswith(number) and row[3] == "0A"] == [f"0100007F{number}"]


def test_serve_elsewhere(tmp_path: Path) -> None:
    """At another address it answers there and to that name only; this one is of the loopback range as well."""
    study = lay_study(tmp_path / "study")
    with running_desk(study, TABLE_OF_TESTS, "--address", "127.0.0.2") as address:
        assert address.startswith("http://127.0.0.2:")
        with urllib.request.urlopen(address, timeout=20) as answer:
            assert b"The Marram strip printer card" in answer.read()
        with pytest.raises(OSError, match="refused"):
            urllib.request.urlopen(address.replace("127.0.0.2", "127.0.0.1"), timeout=20)


@pytest.mark.parametrize("address", ["0.0.0.0", "::", "localhost", "224.0.0.1", "127.0.0.1/8", ""])
def test_serve_elsewhere_wrong(address: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Names, and addresses that stand for many, are refused."""
    study = lay_study(tmp_path / "study")
    assert run(["desk", str(study), "--no-browser", "--address", address]) == 2
    words = f"--address: is one address of this machine in digits, such as 192.168.1.20, not {address!r}"
    assert capsys.readouterr().err == f"latchlore: {words}\n"


def test_serve_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that is not there and a port that is taken are refused with one line each."""
    missing = tmp_path / "nowhere"
    assert run(["desk", str(missing), "--no-browser"]) == 2
    assert capsys.readouterr().err == f"latchlore: {missing}: there is no such folder\n"
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert run(["desk", str(tmp_path), "--no-browser", "--port", str(port)]) == 2
    assert capsys.readouterr().err == (
        f"latchlore: 127.0.0.1:{port}: the desk cannot listen here: address already in use\n"
    )


def test_open_browser_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a screen no browser is started, since one in the terminal would take the desk's place."""
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    monkeypatch.setattr("webbrowser.open", lambda address: pytest.fail("a browser was started"))
    assert not open_browser("http://127.0.0.1:1/")

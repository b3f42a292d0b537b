"""Live listening, over a pseudo terminal and a socket on this machine."""

from __future__ import annotations

import errno
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import latchlore
from latchlore.base import BadInput, Span
from latchlore.cli import run
from latchlore.study import weigh_study
from latchlore.wire import Heard, HeardPiece, LogFollower, follow_log, listen, open_port, read_log

if TYPE_CHECKING:
    from collections.abc import Callable

TEXT = b"TIDE 3.41 M\r\n"


def receive(port: str, path: Path, until: Callable[[bytes], bool]) -> tuple[Heard, bytes]:
    """Listen until the bytes so far are enough."""
    got = bytearray()
    heard = listen(open_port(port), path, "test", got.extend, lambda: until(bytes(got)))
    return heard, bytes(got)


def test_listen(tmp_path: Path) -> None:
    """All 256 values through a pseudo terminal are in the log with rising times; the log is one run."""
    master, slave = os.openpty()
    sent = bytes(range(256))

    def send() -> None:
        for at in range(0, 256, 16):
            os.write(master, sent[at : at + 16])
            time.sleep(0.003)

    sender = threading.Thread(target=send)
    name = os.ttyname(slave)
    port = open_port(name)  # opened first: a terminal begins in a mode that changes line ends
    sender.start()
    got = bytearray()
    heard = listen(port, tmp_path / "a.log", "two\nlines", got.extend, lambda: len(got) >= 256)
    sender.join()
    os.close(master)
    os.close(slave)
    assert bytes(got) == sent
    assert (heard.count, heard.ended) == (256, "stopped by the user")
    log = read_log(tmp_path / "a.log", "a.log")
    assert len(log.runs) == 1
    assert log.runs[0].data == sent
    assert log.comments[0] == (1, "two lines")
    assert log.runs[0].times is not None


def test_listen_plug_pulled(tmp_path: Path) -> None:
    """When the other side goes away the run ends cleanly with everything kept."""
    with socket.create_server(("127.0.0.1", 0)) as server:

        def send() -> None:
            with server.accept()[0] as peer:
                peer.sendall(TEXT)

        sender = threading.Thread(target=send)
        sender.start()
        heard, got = receive(f"socket://127.0.0.1:{server.getsockname()[1]}", tmp_path / "a.log", lambda _: False)
        sender.join()
    assert got == TEXT
    assert heard.count == len(TEXT)
    assert heard.ended == "the port went away: closed by the other side"
    assert read_log(tmp_path / "a.log", "a.log").runs[0].data == TEXT
    last = (tmp_path / "a.log").read_text().splitlines()[-1]
    assert last.startswith(f"# {len(TEXT)} bytes; the port went away")


def test_listen_killed(tmp_path: Path) -> None:
    """Killed without warning, the log holds every byte that was shown."""
    master, slave = os.openpty()
    (tmp_path / "card").mkdir()
    command = ("wire", "listen", os.ttyname(slave), "--study", str(tmp_path / "card"), "--sequence", "tide")
    process = subprocess.Popen(
        [sys.executable, "-c", "from latchlore.cli import main; main()", *command],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    assert b"Listening; Ctrl-C ends the run." in process.stderr.readline()
    os.write(master, TEXT * 3)
    shown = b""
    while shown.count(b"M\n") < 3:
        shown += os.read(process.stdout.fileno(), 1)
    process.send_signal(signal.SIGKILL)
    process.wait()
    process.stdout.close()
    process.stderr.close()
    os.close(master)
    os.close(slave)
    (path,) = (tmp_path / "card" / "wire" / "tide").iterdir()
    assert read_log(path, "a.log").runs[0].data == TEXT * 3
    assert any(row.subject.key == ("tide",) for row in weigh_study(tmp_path / "card").rows)


def test_listen_paper(tmp_path: Path) -> None:
    """With the study's one device table the strip grows line by line; the last one comes when the plug is pulled."""
    study = tmp_path / "card"
    (study / "documents").mkdir(parents=True)
    table = Path(latchlore.__file__).parent / "demo" / "documents" / "quill-24.toml"
    (study / "documents" / "quill-24.toml").write_bytes(table.read_bytes())
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = f"socket://127.0.0.1:{server.getsockname()[1]}"
        command = ("wire", "listen", port, "--study", str(study), "--sequence", "tide")
        process = subprocess.Popen(
            [sys.executable, "-c", "from latchlore.cli import main; main()", *command],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        assert process.stdout is not None
        with server.accept()[0] as peer:
            peer.sendall(b"TIDE 3.41 M\r\nFALL")
            assert process.stdout.readline() == b"|TIDE 3.41 M             |\n"
            peer.sendall(b"ING")
        out, err = process.communicate(timeout=60)
    assert process.returncode == 0
    assert out == b"|FALLING                 |\n"
    assert b"The paper of Quill 24, as quill-24.toml has it:\n" in err
    assert b"20 bytes kept; the port went away: closed by the other side.\n" in err
    (path,) = (study / "wire" / "tide").iterdir()
    assert read_log(path, "a.log").runs[0].data == b"TIDE 3.41 M\r\nFALLING"


class Fake:
    """A port that gives the pieces it was made with, then is pulled out."""

    def __init__(self, *pieces: bytes) -> None:
        self.pieces = list(pieces)
        self.in_waiting = 64

    def read(self, size: int = 1) -> bytes:
        """The next piece."""
        if not self.pieces:
            raise OSError(errno.EIO, "Input/output error")
        return self.pieces.pop(0)

    def close(self) -> None:
        """Nothing to give back."""


def test_listen_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk ends the run and is not taken for a pulled plug; what was kept before is whole."""
    count = 0

    def sync(_: object) -> None:
        nonlocal count
        count += 1
        if count > 2:  # the head, then the first piece
            raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("latchlore.wire._listen._sync", sync)
    ticks = iter(range(0, 10**12, 2 * 10**9))
    shown: list[bytes] = []
    heard = listen(Fake(b"A", b"B", b"C"), tmp_path / "a.log", "x", shown.append, lambda: False, lambda: next(ticks))
    assert heard.ended == "the log could not be written: [Errno 28] No space left on device"
    assert shown == [b"A"]
    assert read_log(tmp_path / "a.log", "a.log").runs[0].data == b"AB"


def test_follow_log(tmp_path: Path) -> None:
    """Looked at between any two pieces, a log gives each piece once, with its time, and at last why it ended."""
    path = tmp_path / "a.log"
    ticks = iter(range(0, 10**10, 1_500_000))
    follower: LogFollower | None = None
    seen: list[HeardPiece] = []

    def look(_: bytes) -> None:
        nonlocal follower
        follower = follower or LogFollower(path, "a.log")
        seen.extend(follower.poll())
        assert follower.ended is None

    heard = listen(Fake(b"AB", b"", b"C", b"\xff"), path, "x", look, lambda: False, lambda: next(ticks))
    assert follower is not None
    assert seen == [
        HeardPiece(Span.of(us=0), b"AB"),
        HeardPiece(Span.of(us=3000), b"C"),
        HeardPiece(Span.of(us=4500), b"\xff"),
    ]
    assert follower.poll() == ()
    assert (follower.ended, follower.count) == (heard.ended, 4)
    assert list(follow_log(path, "a.log")) == seen
    with path.open("a") as log:
        log.write("5us 41")
    assert LogFollower(path, "a.log").poll() == tuple(seen)  # the line is still being written


def test_follow_log_wrong(tmp_path: Path) -> None:
    """A log that was typed in is no run being heard."""
    path = tmp_path / "a.log"
    path.write_text("# x\nnumbers: hex\nruns: file\n41 42\n")
    with pytest.raises(BadInput, match=r"^a.log:4: '41 42' is no line of a log that latchlore wire listen writes$"):
        list(follow_log(path, "a.log"))


def test_listen_never_overwrites(tmp_path: Path) -> None:
    """A log that is there is left as it is."""
    (tmp_path / "a.log").write_text("41\n")
    master, slave = os.openpty()
    with pytest.raises(FileExistsError):
        receive(os.ttyname(slave), tmp_path / "a.log", lambda _: True)
    os.close(master)
    os.close(slave)
    assert (tmp_path / "a.log").read_text() == "41\n"


def test_open_port_wrong() -> None:
    """A port that is not there is refused with the system's reason."""
    with pytest.raises(BadInput, match=r"^socket://here: cannot be opened: a socket is socket://HOST:PORT$"):
        open_port("socket://here")
    with pytest.raises(BadInput) as caught:
        open_port("/dev/nothing-here")
    assert str(caught.value).startswith("/dev/nothing-here: cannot be opened: ")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--sequence", "a/b"], "--sequence: is a name that can be a folder's, not 'a/b'"),
        (["--sequence", "..", "--study", "."], "--sequence: is a name that can be a folder's, not '..'"),
        (
            ["--sequence", "a", "--framing", "12"],
            "--framing: is data bits, parity and stop bits, such as 8N1 or 7E2, not '12'",
        ),
        (["--sequence", "a", "--study", "nowhere"], "nowhere: there is no such folder; latchlore new makes a study"),
    ],
)
def test_listen_command_wrong(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    words: str,
) -> None:
    """What is typed wrongly is refused before a port is opened."""
    monkeypatch.chdir(tmp_path)
    assert run(["wire", "listen", "/dev/nothing-here", "--study", str(tmp_path), *arguments]) == 2
    assert capsys.readouterr().err == f"latchlore: {words}\n"

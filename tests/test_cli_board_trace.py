"""`latchlore board trace`: the conversation at the bench, and what it leaves on disk."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest

from latchlore.board import parse_board
from latchlore.board.tracing import conclude, parse_readings
from latchlore.cli import run
from latchlore.study import open_tracing

if TYPE_CHECKING:
    from pathlib import Path

PARTS = """\
board invented
part u1 7400
part u2 7404
part u3 unknown 14
plug p1 4 host
pin p1.1 gnd ground
pin p1.2 vcc power
"""


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """A study with a parts list and nothing read."""
    (tmp_path / "s" / "board").mkdir(parents=True)
    (tmp_path / "s" / "board" / "a.nets").write_text(PARTS, "utf-8")
    return tmp_path / "s"


def _type(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(text))


def test_trace(study: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The caution comes first; answers are kept in the order given, an undone one is not; a slip changes nothing."""
    _type(monkeypatch, "\n\n7\nundo\n1\nfoo\njoined u1.3 u2.2\n?\nlikely\nside solder\n3\nq\n")
    assert run(["board", "trace", str(study)]) == 0
    shown = capsys.readouterr().out
    assert shown.index("the machine is off, unplugged") < shown.index("0 read")
    assert "Took back: sweep u3 1-7 7" in shown
    assert "  'u3' has pins 1 to 14, not 'foo'" in shown
    kept = (study / "board" / "trace.readings").read_text("utf-8").splitlines()
    assert kept == [
        "hold p1.1",
        "sweep u3 1-7",
        "hold p1.2",
        "sweep u3 1-7 1",
        "joined u1.3 u2.2",
        "side solder",
        "hold u2.2",
        "sweep u1 1-7 3",
    ]
    assert len(parse_readings("\n".join(kept), "a", parse_board(PARTS, "b"))) == 4


def test_trace_list(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Sections not done, the likely culprit with its line, doubts, and the types of the sanded chip."""
    (study / "board" / "bench.readings").write_text(
        "hold p1.2\nsweep u3 1-7 7\njoined u1.3 u2.1\njoined u1.3 u2.2\nohms 30 u1.1 u2.5\n", "utf-8"
    )
    assert run(["board", "trace", str(study), "--list"]) == 0
    shown = capsys.readouterr().out
    assert "  u1 pins 4 5 6: not done 4 5 6" in shown
    assert (
        "u1.3 and u2.2 were read joined, which does not fit what they are; "
        "likeliest wrong: u1.3 to u2.2 (board/bench.readings:4)" in shown
    )
    assert "p1.2 to u3.7" in shown
    assert "Kept and not believed as a joint: 1 readings" in shown
    assert "7400" not in shown  # a 14-pin type with its supply at pin 7 is none of the usual gates


def test_trace_wrong(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A study without a parts list, and a file that is no readings file of board/, are refused."""
    assert run(["board", "trace", str(study), "--file", "x.txt"]) == 2
    assert capsys.readouterr().err == "latchlore: x.txt: a readings file is board/NAME.readings, not 'x.txt'\n"
    (study / "board" / "a.nets").unlink()
    (study / "study.toml").write_text("title = 'x'\n", "utf-8")
    assert run(["board", "trace", str(study)]) == 2
    assert capsys.readouterr().err == (
        "latchlore: board: the study has no net file; write the parts list first: board/NAME.nets (docs/net-file.md)\n"
    )


def test_not_confirmed(study: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Who does not confirm the caution reads nothing."""
    _type(monkeypatch, "q\n")
    assert run(["board", "trace", str(study)]) == 0
    assert capsys.readouterr().out.endswith("Nothing was read.\n")
    assert not (study / "board" / "trace.readings").exists()


def test_answers_survive_a_kill(study: Path) -> None:
    """What was typed before the process is killed is on disk, whole."""
    code = f"from latchlore.cli import run; run(['board', 'trace', {str(study)!r}])"
    process = subprocess.Popen([sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.DEVNULL)
    assert process.stdin is not None
    process.stdin.write(b"\n7\n\n")
    process.stdin.flush()
    file = study / "board" / "trace.readings"
    for _ in range(600):
        if file.exists() and file.read_text("utf-8").count("sweep") == 2:
            break
        time.sleep(0.1)
    os.kill(process.pid, signal.SIGKILL)
    process.wait(10)
    process.stdin.close()
    tracing = open_tracing(study)
    assert len(tracing.readings) == 2
    assert tracing.text.endswith("\n")


def test_whole_board(study: Path) -> None:
    """The guide's own questions, answered from a small board, end with its nets."""
    truth = parse_board(
        PARTS.replace("part u3 unknown 14\n", "")
        + "net a u1.3 u2.1\nnet b u2.2 u1.4 u1.5\nnet c p1.3 u1.1\nnet d p1.4 u1.2\ndone all\n",
        "t",
    )
    (study / "board" / "a.nets").write_text(PARTS.replace("part u3 unknown 14\n", ""), "utf-8")
    tracing = open_tracing(study)
    for _ in range(400):
        asked = tracing.proposal
        if asked.held is None:
            break
        holds = asked.strip or (asked.held,)
        nets = {truth.net_of(at) for at in holds} - {None}
        beeps = [at for at in asked.row if truth.net_of(at) in nets]
        tracing.answer("y" if beeps and len(asked.row) == 1 else " ".join(str(at.pin) for at in beeps))
    assert tracing.proposal.held is None
    found = {frozenset(net.pins) for net in conclude(tracing.board, tracing.readings).board.nets}
    assert found == {frozenset(net.pins) for net in truth.nets}

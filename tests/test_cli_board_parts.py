"""`latchlore board verilog`, `cases` and `word`."""

from __future__ import annotations

from pathlib import Path

import pytest

from latchlore.board import parse_board, read_board
from latchlore.cli import run
from tests.test_board_cases import STRAPPED

NETS = Path(__file__).resolve().parent.parent / "exams" / "port-list-too-long" / "study" / "board" / "card.nets"


def test_verilog(capsys: pytest.CaptureFixture[str]) -> None:
    """The printed text read back has the nets of the file."""
    assert run(["board", "verilog", str(NETS)]) == 0
    text = capsys.readouterr().out
    back, board = parse_board(text, "a.v"), read_board(NETS.read_bytes(), "a.nets")
    assert {net.name: set(net.pins) for net in back.nets} == {net.name: set(net.pins) for net in board.nets}
    assert "module t74374(" in text
    assert run(["board", "verilog", str(NETS), "--no-stubs"]) == 0
    assert "module t74374(" not in capsys.readouterr().out


def test_verilog_of_verilog(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A Verilog file is taken like a net file, and comes out the same."""
    assert run(["board", "verilog", str(NETS)]) == 0
    text = capsys.readouterr().out
    (tmp_path / "card.v").write_text(text)
    assert run(["board", "verilog", str(tmp_path / "card.v")]) == 0
    assert capsys.readouterr().out == text


def test_cases(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each case with its straps, then what holds in all and in some."""
    (tmp_path / "card.nets").write_text(STRAPPED)
    assert run(["board", "cases", str(tmp_path / "card.nets")]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "u2, port write",
        "  strap w1 open, strap w2 open: 1x00 0000",
        "  strap w1 open, strap w2 1-2: 1000 0000",
        "  strap w1 open, strap w2 2-3: 1100 0000",
        "  strap w1 joined, strap w2 open: 0x00 0000",
        "  strap w1 joined, strap w2 1-2: 0000 0000",
        "  strap w1 joined, strap w2 2-3: 0100 0000",
        "  in every case: nowhere",
        "  in some case: xx00 0000",
    ]


def test_one_case(capsys: pytest.CaptureFixture[str]) -> None:
    """Where nothing is open there is one case, and it says so."""
    assert run(["board", "cases", str(NETS)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "Nothing is open: there is one case.",
        "u4, port write",
        "  in every case: 11xx 1011",
    ]


@pytest.mark.parametrize(
    ("arguments", "lines"),
    [
        (["8255a", "control", "09"], ["09  bit of port C: bit PC4, level set"]),
        (["6850", "control", "03h"], ["03  master reset"]),
        (["8255", "port A", "12"], ["12  carries data; its bits have no meaning of their own"]),
        (
            ["6551", "control", "rate=9600 baud", "length=8 bits", "stop bits=1", "receiver clock=internal"],
            ["1E"],
        ),
    ],
)
def test_word(arguments: list[str], lines: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Words to meanings and back: published examples of the 8255, 6850 and 6551."""
    assert run(["board", "word", *arguments]) == 0
    assert capsys.readouterr().out.splitlines() == lines


def test_word_lists(capsys: pytest.CaptureFixture[str]) -> None:
    """Without words the fields, without a register the registers."""
    assert run(["board", "word", "8255"]) == 0
    text = capsys.readouterr().out
    assert "  control: A1=1 A0=1, write" in text
    assert run(["board", "word", "8255", "control"]) == 0
    text = capsys.readouterr().out
    assert "mode (bit 7 is 1)" in text
    assert "  bit 4 port A: 0 output; 1 input" in text


def test_word_wrong(capsys: pytest.CaptureFixture[str]) -> None:
    """An unknown chip, register, meaning or word is refused with what is known."""
    assert run(["board", "word", "8253"]) == 3
    assert "no programmable chip '8253' is known" in capsys.readouterr().err
    assert run(["board", "word", "8255", "port D"]) == 3
    assert "the 8255 has no register 'port D'; known are 'port A'" in capsys.readouterr().err
    assert run(["board", "word", "8255", "control", "123"]) == 2
    assert "a word is one byte in hexadecimal" in capsys.readouterr().err

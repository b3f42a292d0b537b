"""Interrupt routines stated in a study and on the command line."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from latchlore.base import BadInput
from latchlore.cli import run
from latchlore.study import load_study, weigh_study
from tests.test_program_interrupts import ORIGIN, ROUTINE, SETS, WAITS

if TYPE_CHECKING:
    from pathlib import Path

HEAD = '[program]\ncpu = "6502"\n{interrupts}[[image]]\nfile = "rom.bin"\nload = "0300"\n'
REST = """[[entry]]
name = "print"
address = "0300"
[devices]
addresses = ["C800-C803"]
[[role]]
role = "data"
signal = "DATA"
at = "C800"
[[look_for]]
name = "code 42"
code = "42"
"""


def make_study(folder: Path, interrupts: str) -> Path:
    folder.mkdir()
    data = bytes.fromhex(WAITS).ljust(ROUTINE - ORIGIN, b"\xea") + bytes.fromhex(SETS)
    (folder / "rom.bin").write_bytes(data)
    (folder / "study.toml").write_text(HEAD.format(interrupts=interrupts) + REST)
    return folder


def test_interrupts(tmp_path: Path) -> None:
    """With the routine stated the code behind the wait may be sent; without it never, and the bounds say why."""
    told = {}
    for name, text in (("with", 'interrupts = ["0340"]\n'), ("without", "")):
        table = weigh_study(make_study(tmp_path / name, text))
        row = next(one for one in table.rows if one.subject.key == ("code 42",))
        told[name] = str(row.testimonies[0].value)
    assert told["with"].startswith("sent")
    assert told["without"].startswith("never sent")
    assert "no interrupt" in told["without"]


def test_interrupts_wrong(tmp_path: Path) -> None:
    """A routine that no image holds is refused with its line."""
    folder = make_study(tmp_path / "s", 'interrupts = ["0340", "9000"]\n')
    with pytest.raises(BadInput) as caught:
        load_study(folder)
    assert str(caught.value) == ("study.toml:3 (program.interrupts[2]): an interrupt routine at 9000 lies in no image")


def test_interrupt_option(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same for bare files."""
    folder = make_study(tmp_path / "s", "")
    command = ["program", "tree", str(folder / "rom.bin"), "--cpu", "6502", "--load", "0300", "--entry", "0300"]
    command += ["--devices", "C800-C803", "--json"]
    assert run([*command, "--interrupt", "0340"]) == 0
    assert "0340 changes RAM" in json.dumps(json.loads(capsys.readouterr().out))
    assert run([*command, "--interrupt", "soon"]) == 2
    assert capsys.readouterr().err.startswith("latchlore: --interrupt: ")

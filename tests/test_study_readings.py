"""Readings as an input of a study: what a meter says gives the registers that the net file gives."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import latchlore.demo
from latchlore.base import BadInput, Strength
from latchlore.board import decode, parse_board
from latchlore.study import load_board, load_study, weigh_study
from tests.readstudies import read_study

if TYPE_CHECKING:
    from latchlore.board import RegisterMap

CARD = Path(latchlore.demo.__file__).parent / "board" / "card.nets"


def _study(folder: Path, more: str = "") -> Path:
    return read_study(folder, CARD.read_text("utf-8"), more.splitlines())


def _claims(found: RegisterMap) -> list[object]:
    """Registers as (direction, addresses, bits with what they follow); only a pin that nobody read may differ."""
    return [
        (one.direction, str(one.addresses), [(bit.number, bit.sense.kind, bit.sense.inverted) for bit in one.bits])
        for one in found.registers
        if one.direction == "write"
    ] + [(one.direction, str(one.addresses)) for one in found.registers]


def test_readings_give_the_registers(tmp_path: Path) -> None:
    """The demonstration's card from readings alone: the registers of its net file, which was written by hand."""
    stated = decode(parse_board(CARD.read_text("utf-8"), "card.nets"))
    read = decode(load_board(_study(tmp_path / "s")))
    assert _claims(read) == _claims(stated)
    assert [file.file for file in load_study(tmp_path / "s").readings] == ["board/card.readings"]


def test_doubt_reaches_the_table(tmp_path: Path) -> None:
    """A joint read against another reading stays a doubt, and what rests on it is guessed in the table."""
    folder = _study(tmp_path / "s", "apart u7.2 u12.2\n")
    said = [one for row in weigh_study(folder).rows for one in row.testimonies if "u7.2 " in one.method]
    assert said
    assert {one.strength for one in said} == {Strength.GUESSED}


def test_unread_stays_unknown(tmp_path: Path) -> None:
    """Without the readings of a select line the register is not claimed for sure."""
    folder = _study(tmp_path / "s")
    file = folder / "board" / "card.readings"
    kept = [line for line in file.read_text("utf-8").splitlines() if "u3.12" not in line]
    file.write_text("\n".join(kept) + "\n", "utf-8")
    found = decode(load_board(folder))
    assert all(one.unsure for one in found.registers)


def test_readings_give_the_registers_wrong(tmp_path: Path) -> None:
    """Readings without a net file, and readings of pins that are not there, are refused with their places."""
    folder = _study(tmp_path / "s", "joined u1.21 u2.2\n")
    lines = (folder / "board" / "card.readings").read_text("utf-8").count("\n")
    with pytest.raises(BadInput, match=rf"^board/card\.readings:{lines}: 'u1' has pins 1 to 20, not '21'$"):
        weigh_study(folder)
    (folder / "board" / "card.nets").unlink()
    wanted = (
        "board/card.readings: readings are taken against the parts of a net file; "
        "write one: board/NAME.nets (docs/net-file.md)"
    )
    with pytest.raises(BadInput, match=f"^{re.escape(wanted)}$"):
        load_study(folder)


def test_verilog_is_read(tmp_path: Path) -> None:
    """A Verilog file in board/ is one of the study's net files."""
    (tmp_path / "board").mkdir()
    (tmp_path / "board" / "a.v").write_text("module a;\nendmodule\n", "utf-8")
    assert [file.file for file in load_study(tmp_path).nets] == ["board/a.v"]

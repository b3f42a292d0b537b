"""What study.toml states of a signal's place, and codes found in logs, weighed with the rest."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from latchlore.evidence import Row, Standing
from latchlore.study import Cache, weigh_study
from tests.demos import lay_demo

EXAMS = Path(__file__).parent.parent / "exams"


def row_of(folder: Path, subject: str, cache: Cache) -> Row:
    """The row of a subject."""
    return next(row for row in weigh_study(folder, cache=cache).rows if str(row.subject) == subject)


@pytest.mark.parametrize(("inverted", "standing"), [("true", Standing.AGREED), ("false", Standing.CONTRADICTED)])
def test_sense_stated(tmp_path: Path, cache: Cache, inverted: str, standing: Standing) -> None:
    """The board of the published case has NOT BUSY at bit 7: who states it agrees, who states BUSY contradicts."""
    folder = tmp_path / "study"
    shutil.copytree(EXAMS / "polarity-agreement" / "study", folder)
    role = f'\n[[role]]\nrole = "busy"\nsignal = "BUSY"\nat = "C801 bit 7"\ninverted = {inverted}\n'
    (folder / "study.toml").write_text((folder / "study.toml").read_text() + role)
    row = row_of(folder, "C801 (read) bit 7", cache)
    assert row.standing is standing
    if row.repairs:
        assert [str(one) for one in row.repairs[0].statements] == ["study.toml: role BUSY"]


@pytest.mark.parametrize(("at", "standing"), [("CAA8", Standing.AGREED), ("C001", Standing.CONTRADICTED)])
def test_place_stated(tmp_path: Path, cache: Cache, at: str, standing: Standing) -> None:
    """The data register of the published case is at 110x 1xxx xxxx xx00: CAA8 is a mirror, C001 is none."""
    folder = tmp_path / "study"
    shutil.copytree(EXAMS / "polarity-agreement" / "study", folder)
    role = f'\n[[role]]\nrole = "data"\nsignal = "DATA"\nat = "{at}"\n'
    (folder / "study.toml").write_text((folder / "study.toml").read_text() + role)
    row = row_of(folder, "register C800 (write)", cache)
    assert row.standing is standing
    names = [{str(one) for one in repair.statements} for repair in row.repairs]
    if names:  # C001 differs from the pattern in A11 and A0: both lines must have been traced wrongly, or the row is
        assert names == [{"study.toml: role DATA"}, {"board/card.nets: u1.13", "board/card.nets: u2.1"}]


def test_code_logged(tmp_path: Path, cache: Cache) -> None:
    """A code that stands in the merged log was sent: the wire says so, and whoever denies it is contradicted."""
    folder = lay_demo(tmp_path / "study")
    text = (folder / "study.toml").read_text() + '\n[[look_for]]\nname = "line step"\ncode = "16 4C"\n'
    (folder / "study.toml").write_text(text)
    row = row_of(folder, "line step", cache)
    assert row.standing is Standing.AGREED
    assert "sent (in 'power-on', from byte 3 on)" in [str(one.value) for one in row.testimonies]
    label = '\n[[claim]]\nabout = "the line step"\nsays = "Never."\nemission = "line step"\nhappens = false\npage = 3\n'
    path = folder / "documents" / "keepers-letter.toml"
    path.write_text(path.read_text().replace("pages = 2", "pages = 3") + label)
    row = row_of(folder, "line step", cache)
    assert row.standing is Standing.CONTRADICTED
    assert [str(one) for one in row.repairs[0].statements] == ["documents/keepers-letter.toml: line step (page 3)"]

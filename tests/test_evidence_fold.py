"""Bits of one register that say the same are one line on a face; all else stays apart."""

from __future__ import annotations

from dataclasses import replace

import pytest

from latchlore.base import BitSense, BitUse, Origin, Strength, Subject, SubjectKind, Testimony, Value, Witness
from latchlore.evidence import Line, Repair, Row, Standing, fold_rows

PLACE = Origin.at_address("program/rom.bin", 0xF012)


def _row(bit: int, value: Value | None = None, *, address: str = "E200", origin: Origin = PLACE) -> Row:
    """One bit about which the program alone speaks."""
    subject = Subject(SubjectKind.BIT, ("memory", address, "read", str(bit)))
    said = Testimony(subject, value or BitUse(None, True), Witness.PROGRAM, (origin,), "paths", Strength.COMPUTED)
    return Row(subject, (said,), Standing.SINGLE, "only the program speaks about it")


def _names(rows: list[Row]) -> list[str]:
    return [line.name for line in fold_rows(rows)]


def test_fold_rows() -> None:
    """Eight bits that say the same are one line that names them all, with the places of all."""
    places = [Origin.at_address("program/rom.bin", 0xF012 + bit // 4) for bit in range(8)]
    rows = [_row(bit, origin=places[bit]) for bit in range(8)]
    (line,) = fold_rows(rows)
    assert line.name == "E200 (read) bits 0-7"
    assert line.subjects == tuple(row.subject for row in rows)
    assert line.row.testimonies == (replace(rows[0].testimonies[0], origins=(places[0], places[4])),)
    assert (line.row.standing, line.row.reason) == (Standing.SINGLE, "only the program speaks about it")


def test_fold_rows_holds_every_subject_once() -> None:
    """Whatever is folded, the lines hold the rows' subjects in their order."""
    rows = [_row(0), _row(1), _row(3), _row(0, address="E201"), _row(1, BitSense.tied(1), address="E201")]
    lines = fold_rows(rows)
    assert [subject for line in lines for subject in line.subjects] == [row.subject for row in rows]
    assert [line.name for line in lines] == [
        "E200 (read) bits 0-1",
        "E200 (read) bit 3",
        "E201 (read) bit 0",
        "E201 (read) bit 1",
    ]


def test_fold_rows_leaves_a_row_as_it_is() -> None:
    """A row alone is its own line; a register is never folded."""
    register = replace(_row(0), subject=Subject(SubjectKind.REGISTER, ("memory", "E200", "read")))
    assert fold_rows([register, _row(0)]) == (
        Line("register E200 (read)", register, (register.subject,)),
        Line("E200 (read) bit 0", _row(0), (_row(0).subject,)),
    )
    assert fold_rows([]) == ()


@pytest.mark.parametrize(
    "change",
    [
        {"standing": Standing.CONTRADICTED},
        {"standing": Standing.AGREED},
        {"reason": "another"},
        {"follows": ("so it is",)},
        {"repairs": (Repair((0,), "withdraw it"),)},
        {"testimonies": ()},
        {"testimonies": _row(1, BitUse(None, False)).testimonies},
        {"testimonies": (replace(_row(1).testimonies[0], note="in doubt"),)},
        {"testimonies": (replace(_row(1).testimonies[0], strength=Strength.GUESSED),)},
    ],
)
def test_fold_rows_wrong(change: dict[str, object]) -> None:
    """A bit that differs in anything but its places stays apart."""
    assert _names([_row(0), replace(_row(1), **change)]) == ["E200 (read) bit 0", "E200 (read) bit 1"]  # type: ignore[arg-type]


def test_fold_rows_contradicted() -> None:
    """Contradictions are never folded, even where they say the same."""
    rows = [replace(_row(bit), standing=Standing.CONTRADICTED) for bit in range(2)]
    assert _names(rows) == ["E200 (read) bit 0", "E200 (read) bit 1"]

"""What the witnesses explain of one another: data lines and commands, looks and pulses, status bytes and free bits."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from latchlore.study import Cache, weigh_study
from tests.test_study_record import edit

EXAMS = Path(__file__).parent.parent / "exams"


def follows(folder: Path, subject: str, cache: Cache) -> tuple[str, ...]:
    """The sentences at a subject."""
    return next(row.follows for row in weigh_study(folder, cache=cache).rows if str(row.subject) == subject)


def test_commands(demo_study: Path, cache: Cache) -> None:
    """Eight lines carry everything; the dots are never sent (the demonstration's own answer)."""
    assert follows(demo_study, "data width", cache) == (
        "8 data lines carry all 7 commands of the Quill 24",
        "of the Quill 24's commands the program never sends: draw one row of 144 dots (16 44)",
        "8 data lines carry all 8 commands of the Quill 24G",
        "of the Quill 24G's commands the program never sends: draw one row of 144 dots (16 44); "
        "feed n dot rows (16 50)",
    )


def test_commands_seven_lines(demo_study: Path, cache: Cache) -> None:
    """With the highest line open the dots of the highest bit are lost, and text is not."""
    edit(demo_study, "board/card.nets", ("net data8 u12.3  j2.9\n", ""))
    first = follows(demo_study, "data width", cache)[0]
    assert first.startswith("of the 7 commands of the Quill 24, 7 data lines do not carry: ")
    assert "draw one row of 144 dots: no: needs bit 7" in first
    assert "return to the left" not in first


def test_status_byte(demo_study: Path, cache: Cache) -> None:
    """The card's own byte: not busy, no fault, paper, and 1, 0 for this card (marram.s: IDENT, PAPER, READY)."""
    told = follows(demo_study, "register A810 (read)", cache)
    assert told == (
        "8 of 256 bytes read here let 'reset', 'power-on', 'print a line', 'print a reading' send for certain: "
        "those with bit 7 = 1, bit 6 = 1, bit 5 = 0, bit 4 = 0, bit 3 = 1",
        "bit 2 is driven by nobody",
    )


MANUAL = """\
title = "A manual (invented)"
device = "Printer"
kind = "manual"
invented = true
timing = [ { what = "acknowledge width", %s, page = 1 } ]
"""


@pytest.mark.parametrize(
    ("limits", "sentence"),
    [
        (
            'least = "8 us"',
            "the program looks at it every 7 us or more often, so it cannot miss a pulse of at least 8 us",
        ),
        ('most = "6 us"', "the program looks at it only every 7 us, so a pulse of at most 6 us"),
        ('least = "5 us", most = "9 us"', ""),
    ],
)
def test_looks(tmp_path: Path, cache: Cache, limits: str, sentence: str) -> None:
    """LDA and a taken BPL are 7 cycles (MCS6500 programming manual, appendix B): 7 us at 1 MHz from look to look."""
    folder = tmp_path / "study"
    shutil.copytree(EXAMS / "polarity-agreement" / "study", folder)
    for old, new in (("pin j1.11 busy in high", "pin j1.11 ack in low"), ("net busy j1.11 u6.1", "net ack j1.11 u6.1")):
        edit(folder, "board/card.nets", (old, new))
    edit(folder, "study.toml", ('cpu = "6502"', 'cpu = "6502"\nclock = "1 MHz"'))
    (folder / "documents").mkdir()
    (folder / "documents" / "manual.toml").write_text(MANUAL % limits)
    told = follows(folder, "acknowledge width", cache)
    assert len(told) == bool(sentence)
    assert "".join(told).startswith(sentence)


def test_looks_wrong(tmp_path: Path, cache: Cache) -> None:
    """A card that does not read the line: the host cannot see it."""
    folder = tmp_path / "study"
    shutil.copytree(EXAMS / "polarity-agreement" / "study", folder)
    (folder / "documents").mkdir()
    (folder / "documents" / "manual.toml").write_text(MANUAL % 'least = "8 us"')
    assert follows(folder, "acknowledge width", cache) == (
        "no status bit carries the acknowledge line: the host cannot see it at all",
    )


@pytest.mark.parametrize(
    ("service", "says"),
    [
        ("33 us", "and just the bytes that it lost: likelier than an even rate by a factor of "),
        ("20 us", "and other bytes than it lost: an even rate is likelier by a factor of 10^"),
        ("60 us", "and other bytes than it lost: an even rate is likelier by a factor of 10^"),
    ],
)
def test_losses(demo_study: Path, cache: Cache, service: str, says: str) -> None:
    """The listener of the demonstration (demo-source/listener.py: 8 us, 14 us more on average, 33 us) explains its own
    misses from the program's cycles; a faster and a slower one do not.
    """
    times = f'listener_times = {{ latency = "8 us", jitter = "14 us", service = "{service}" }}'
    edit(demo_study, "study.toml", ('runs = "line"\n', f'runs = "line"\n{times}\n'))
    [told] = follows(demo_study, "power-on: what the listener lost", cache)
    assert told.startswith("from the program's cycles the stated listener must lose ")
    assert says in told


def test_losses_wrong(demo_study: Path, cache: Cache) -> None:
    """Without figures nothing is foretold."""
    assert follows(demo_study, "power-on: what the listener lost", cache) == ()

"""Captures in a study: weighed with the other witnesses, merged with logs, refused with the line that states them."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import pytest

from latchlore.base import ActiveLevel, BadInput, ByteSequence, Span, SpanRange, Subject, SubjectKind
from latchlore.evidence import Standing
from latchlore.study import Cache, load_study, weigh_study
from tests.handshakes import NS, Host

if TYPE_CHECKING:
    from pathlib import Path

    from latchlore.evidence import Row, Table

TEXT = b"TIDE 3.41 M\r\n"
DATA = ", ".join(f'"D{k}"' for k in range(8))
LINES = f'data = [{DATA}]\nstrobe = "STROBE"\nbusy = "BUSY"\nacknowledge = "ACK"\n'
DOCUMENT = """
title = "Strip printer of the test (invented)"
device = "printer"
kind = "manual"
invented = true
timing = [
  { what = "strobe width", least = "400 ns", signal = "STROBE", page = 4, row = 1 },
  { what = "strobe to busy", most = "250 ns", signal = "BUSY", page = 4, row = 2 },
]
"""


def make_study(folder: Path, toml: str, step: int = 0, text: bytes = TEXT, **settings: object) -> Host:
    """A study with one capture, `wire/tide.csv` (rows are changes) or samples of it."""
    host = Host(junk=False, **settings)  # type: ignore[arg-type]
    host.send(text, random.Random(1))
    (folder / "wire").mkdir(parents=True)
    names = list(host.waves)
    rows = ["t," + ",".join(names)]
    moments = range(3, host.end, step) if step else sorted({time for wave in host.waves.values() for time, _ in wave})
    place = dict.fromkeys(names, 0)
    for time in moments:
        for name, wave in host.waves.items():
            while place[name] + 1 < len(wave) and wave[place[name] + 1][0] <= time:
                place[name] += 1
        rows.append(f"{time}," + ",".join(str(host.waves[name][place[name]][1]) for name in names))
    (folder / "wire" / "tide.csv").write_text("\n".join(rows) + "\n")
    columns = ", ".join(f'{name} = "{name}"' for name in names)
    head = f'[[capture]]\nfile = "wire/tide.csv"\ntime = "t"\nunit = "ps"\nchanges = {str(not step).lower()}\n'
    (folder / "study.toml").write_text(f"{head}columns = {{ {columns} }}\n{toml}")
    return host


def row(table: Table, kind: SubjectKind, name: str) -> Row:
    return next(one for one in table.rows if one.subject == Subject(kind, (name,)))


def test_weigh_capture(tmp_path: Path) -> None:
    """The sequence is certain, levels are concluded, and times meet those of a manual: one kept, one broken."""
    make_study(tmp_path / "s", LINES)
    (tmp_path / "s" / "documents").mkdir()
    (tmp_path / "s" / "documents" / "printer.toml").write_text(DOCUMENT)
    cache = Cache(tmp_path / "cache")
    table = weigh_study(tmp_path / "s", cache=cache)
    (sequence,) = row(table, SubjectKind.SEQUENCE, "tide").testimonies
    assert isinstance(sequence.value, ByteSequence)
    assert (sequence.value.data, sequence.value.confidence) == (TEXT, 1.0)
    assert row(table, SubjectKind.SIGNAL, "STROBE").testimonies[0].value == ActiveLevel(0)
    assert row(table, SubjectKind.SIGNAL, "BUSY").testimonies[0].value == ActiveLevel(1)
    width = row(table, SubjectKind.TIMING, "strobe width")
    assert width.standing is Standing.AGREED
    assert SpanRange.exactly(Span.of(ns=500)) in [one.value for one in width.testimonies]
    assert row(table, SubjectKind.TIMING, "strobe to busy").standing is Standing.CONTRADICTED
    assert weigh_study(tmp_path / "s", cache=cache) == table


def test_weigh_capture_merged(tmp_path: Path) -> None:
    """With a log of the same sequence a capture is one run among others."""
    make_study(tmp_path / "s", f'sequence = "tide"\n{LINES}')
    runs = "numbers: hex\n" + (TEXT.hex(" ") + "\n") * 2
    (tmp_path / "s" / "wire" / "tide.log").write_text(runs)
    (sequence,) = row(weigh_study(tmp_path / "s"), SubjectKind.SEQUENCE, "tide").testimonies
    assert isinstance(sequence.value, ByteSequence)
    assert (sequence.value.data, sequence.value.num_runs) == (TEXT, 3)


def test_weigh_capture_doubt(tmp_path: Path) -> None:
    """Bits that cannot be told leave alternatives; a capture that may lack bytes speaks as one run."""
    text = TEXT * 5
    make_study(tmp_path / "slow", LINES, 250 * NS, text, width=100 * NS)
    (sequence,) = row(weigh_study(tmp_path / "slow"), SubjectKind.SEQUENCE, "tide").testimonies
    assert isinstance(sequence.value, ByteSequence)
    assert len(sequence.value.items) == len(text)
    doubtful = [item for item in sequence.value.items if item.confidence < 1]
    assert doubtful
    for item, byte in zip(sequence.value.items, text, strict=True):
        assert byte in (item.value, *(value for value, _ in item.alternatives)) or item.confidence <= 1 / 32
    make_study(tmp_path / "lossy", f'data = [{DATA}]\nstrobe = "STROBE"\n', 500 * NS, width=100 * NS)
    (run,) = row(weigh_study(tmp_path / "lossy"), SubjectKind.SEQUENCE, "tide").testimonies
    assert isinstance(run.value, ByteSequence)
    assert run.value.confidence < 0.8
    assert len(run.value.items) < len(TEXT)


@pytest.mark.parametrize(
    ("toml", "words"),
    [
        (
            "",
            "study.toml:1 (capture[1]): key 'strobe' (with 'data') or 'serial' is missing; `latchlore wire "
            "lines` proposes lines",
        ),
        (
            'strobe = "S"\nserial = "T"\n',
            "study.toml:1 (capture[1]): a capture is read as a parallel handshake or as a serial line, not "
            "both: list it twice",
        ),
        (
            f'{LINES}framing = "8N1"\n',
            "study.toml:1 (capture[1]): framing, bit_time and idle belong to a serial line; key 'serial' is missing",
        ),
    ],
)
def test_load_capture_wrong(tmp_path: Path, toml: str, words: str) -> None:
    """Rows that cannot be are refused with their line."""
    make_study(tmp_path / "s", toml)
    with pytest.raises(BadInput) as caught:
        load_study(tmp_path / "s")
    assert str(caught.value) == words


@pytest.mark.parametrize(
    ("toml", "words"),
    [
        (
            'strobe = "STROBE"\n',
            "study.toml:1 (capture[1]): key 'data' is missing: name the data lines, D0 first, or the bus",
        ),
        (
            'strobe = "STB"\ndata = "D0"\n',
            "study.toml:1 (capture[1]): wire/tide.csv: no channel 'STB'; known are 'STROBE', 'BUSY', 'ACK', "
            "'D0', 'D1', 'D2', 'D3', "
            "'D4', 'D5', 'D6', 'D7'",
        ),
        (
            'serial = "D7"\n',
            "wire/tide.csv: line 'D7' has 0 edges: nothing was sent in this capture, or it is not the line",
        ),
        (
            'serial = "D1"\nframing = "8X1"\n',
            "study.toml:1 (capture[1]): key 'framing' is data bits, parity and stop bits, such as 8N1 or 7E2, "
            "not '8X1'",
        ),
        (
            f'{LINES}volts = {{ Q = "1..2" }}\n',
            "study.toml:1 (capture[1]): key 'columns' thresholds are stated for 'Q', which is no channel of the map",
        ),
    ],
)
def test_weigh_capture_wrong(tmp_path: Path, toml: str, words: str) -> None:
    """What only the capture shows to be wrong is refused as well."""
    make_study(tmp_path / "s", toml)
    with pytest.raises(BadInput) as caught:
        weigh_study(tmp_path / "s")
    assert str(caught.value) == words


def test_load_capture_missing(tmp_path: Path) -> None:
    """A file that is not there, or that leads out of the study, is refused."""
    make_study(tmp_path / "s", LINES)
    toml = (tmp_path / "s" / "study.toml").read_text()
    for name, words in (
        ("wire/no.csv", "study.toml:2 (capture[1].file): capture 'wire/no.csv' is not there"),
        (
            "../t.csv",
            "study.toml:2 (capture[1].file): a path goes down from the study's folder with forward slashes, not "
            "'../t.csv'",
        ),
        ("wire", "study.toml:2 (capture[1].file): capture 'wire' is not a plain file"),
    ):
        (tmp_path / "s" / "study.toml").write_text(toml.replace("wire/tide.csv", name))
        with pytest.raises(BadInput) as caught:
            load_study(tmp_path / "s")
        assert str(caught.value) == words

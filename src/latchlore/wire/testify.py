"""What the wire witness says: the one door to the evidence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import (
    HANDSHAKE_ORDER,
    ActiveLevel,
    EventOrder,
    Origin,
    Span,
    SpanRange,
    Statement,
    StatementKind,
    Strength,
    Subject,
    SubjectKind,
    Testimony,
    Value,
    Witness,
    Words,
    no_progress,
)
from latchlore.wire import _mergewording as words
from latchlore.wire._logwording import NO_RUN

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.base import Progress
    from latchlore.wire._bytelog import Log, Run
    from latchlore.wire._handshake import ParallelReading
    from latchlore.wire._results import Merge
    from latchlore.wire._serial import SerialReading
    from latchlore.wire._timing import Figure


RINGING = 2  # of `ParallelReading.seen`
STATED = "stated"


@dataclass(frozen=True, slots=True)
class Material:
    """What the wire has heard of one transmission: `name` is the sequence's name, `logs` hold its runs."""

    name: str
    logs: tuple[Log, ...]


def testify(
    material: Material,
    progress: Progress = no_progress,  # noqa: PT028  (not a test)
) -> tuple[Testimony, ...]:
    """What the runs say: the sequence, then notes on losses and doubts; of logs that never had a run, that it is so."""
    from latchlore.wire._merge import merge

    runs = [run for log in material.logs for run in log.runs]
    if not runs:
        return tuple(_say_readings(tuple(log for log in material.logs if log.layout_why.endswith(NO_RUN))))
    merged = merge(runs, progress)
    return (_sequence(material, runs, merged), *_notes(material, runs, merged))


def reading_log(reading: ParallelReading) -> Log:
    """The bytes of a parallel handshake as a log of one run, so that they can be merged with others."""
    from latchlore.wire._bytelog import Layout, Log, Numbers

    run = reading.as_run()
    why = words.CAPTURE_COMPLETE[reading.complete].format(why=reading.complete_why)
    return Log(reading.file, Numbers.HEX, Layout.FILE, words.CAPTURE_NUMBERS, why, (run,), ())


def serial_log(reading: SerialReading, notes: Sequence[str] = ()) -> Log:
    """The bytes of a serial line as a log of one run; `notes` on the capture."""
    from latchlore.wire._bytelog import Layout, Log, Numbers

    why = "; ".join(
        (words.CAPTURE_SERIAL.format(framing=reading.framing, rate=reading.rate_words), *notes, *reading.notes)
    )
    return Log(reading.file, Numbers.HEX, Layout.FILE, words.CAPTURE_NUMBERS, why, (reading.as_run(),), ())


def testify_reading(name: str, reading: ParallelReading) -> tuple[Testimony, ...]:
    """The sequence of one capture that shows every byte: each bit that cannot be told leaves alternatives.

    Nothing for a capture in which bytes may be missing: that is one run among others.
    """
    from latchlore.base import ByteSequence, SequenceByte

    if not reading.complete or not reading.data:
        return ()
    items: list[SequenceByte] = []
    whole = 1.0
    for k in range(len(reading.values)):
        if reading.seen[k] == RINGING:
            continue
        value, doubt = int(reading.values[k]), int(reading.doubt[k])
        count = 1 << doubt.bit_count()
        whole /= count
        others = tuple((other, 1 / count) for other in _readings(value, doubt) if other != value) if count <= 16 else ()
        items.append(SequenceByte(value, 1 / count, others))
    sequence = ByteSequence(tuple(items), whole, 1)
    origins = (reading.origin(0),)
    note = "; ".join((reading.complete_why, *reading.notes))
    return (
        _say(
            SubjectKind.SEQUENCE,
            name,
            sequence,
            origins=origins,
            method=words.METHOD_CAPTURE,
            strength=Strength.MEASURED,
            note=note,
        ),
    )


def _readings(value: int, doubt: int) -> list[int]:
    """Every byte that the bits in doubt leave possible, in order."""
    return [other for other in range(256) if other & ~doubt == value & ~doubt]


def testify_lines(
    reading: ParallelReading, figures: Mapping[str, Figure], notes: Sequence[str]
) -> tuple[Testimony, ...]:
    """What a capture says of its lines: which level means what, how long things last, how it was read.

    `notes`: what is to be known of the capture's file.
    """
    said: list[Testimony] = []
    for signal, found in (
        ("STROBE", reading.strobe_active), ("BUSY", reading.busy_active), ("ACK", reading.ack_active)
    ):  # fmt: skip
        if found is not None and found.value is not None and found.why != STATED:
            origin = (Origin(reading.file),)
            said.append(
                _say(SubjectKind.SIGNAL, signal, ActiveLevel(found.value), origins=origin, method=found.why,
                     strength=Strength.GUESSED if found.is_weak else Strength.MEASURED)
            )  # fmt: skip
    for figure in figures.values():
        shortest, longest = (figure.find_length(int(one)) for one in (figure.lengths.min(), figure.lengths.max()))
        least, most = max(figure.at(shortest).least, Span(0)), max(figure.at(longest).most, Span(0))
        origins = tuple(
            dict.fromkeys(Origin.at_time(figure.file, Span(int(figure.moments[k]))) for k in (shortest, longest))
        )
        text = words.FIGURE_NOTE if figure.slack else words.FIGURE_NOTE_EXACT
        note = text.format(count=figure.count, slack=Span(figure.slack))
        said.append(
            _say(SubjectKind.TIMING, figure.name, SpanRange(least, most), origins=origins,
                 method=words.METHOD_FIGURE, strength=Strength.MEASURED, note=note)
        )  # fmt: skip
    name = f"{reading.file}: how it was read"
    text = "; ".join(
        (words.CAPTURE_COMPLETE[reading.complete].format(why=reading.complete_why), *notes, *reading.notes)
    )
    said.append(_say(SubjectKind.NOTE, name, Words(text), origins=(Origin(reading.file),), method=words.METHOD_CAPTURE))
    return tuple(said)


def testify_order(reading: ParallelReading, order: EventOrder | None) -> tuple[Testimony, ...]:
    """In which order the lines of a capture moved, as `count_order` found it; nothing where none is told."""
    if order is None:
        return ()
    at = 0 if len(reading.leads) else None
    place = Origin(reading.file) if at is None else Origin.at_time(reading.file, Span(int(reading.leads[at])))
    num = int((reading.seen == 0).sum())
    return (
        _say(
            SubjectKind.ORDER,
            HANDSHAKE_ORDER,
            order,
            origins=(place,),
            method=words.METHOD_ORDER,
            strength=Strength.MEASURED,
            note=words.order_note(num, order),
            falls_with=_statements_of_file(reading.file),
        ),
    )


def _statements_of_file(file: str) -> tuple[tuple[Statement, ...], ...]:
    return ((Statement(file, "", StatementKind.FILE, words.WHOLE_CAPTURE, Origin(file)),),)


def _sequence(material: Material, runs: list[Run], merged: Merge) -> Testimony:
    left_out = {outlier.run for outlier in merged.outliers}
    origins = tuple(run.origin() for r, run in enumerate(runs) if r not in left_out)
    num = merged.sequence.num_runs
    method = words.METHOD_SINGLE if num == 1 else words.METHOD_MERGE.format(num=num)
    strength = Strength.MEASURED if num == 1 else Strength.COMPUTED
    return _say(
        SubjectKind.SEQUENCE,
        material.name,
        merged.sequence,
        origins=origins,
        method=method,
        strength=strength,
        note="; ".join(merged.notes),
        falls_with=_statements(origins),
    )


def _statements(runs: Sequence[Origin]) -> tuple[tuple[Statement, ...], ...]:
    """A sequence falls with its only run, or with its only file; of several files all must go."""
    files = list(dict.fromkeys(run.file for run in runs))
    whole = tuple(Statement(file, "", StatementKind.FILE, words.WHOLE_LOG, Origin(file)) for file in files)
    if len(runs) > 1:
        return (whole,)
    about = words.ONE_RUN.format(line=runs[0].number)
    return ((Statement(files[0], f"line {runs[0].number}", StatementKind.RUN, about, runs[0]),), whole)


def _say_readings(logs: tuple[Log, ...]) -> list[Testimony]:
    """How each log was read."""
    notes: list[Testimony] = []
    for log in logs:
        name, said = f"{log.file}: how it was read", log.read_as
        notes.append(_say(SubjectKind.NOTE, name, Words(said), origins=(Origin(log.file),), method=words.METHOD_READ))
    return notes


def _notes(material: Material, runs: list[Run], merged: Merge) -> list[Testimony]:
    notes: list[Testimony] = []
    origins = tuple(run.origin() for run in runs)
    if merged.sequence.num_runs > 1:
        rates = merged.rates
        said = words.LOSSES.format(loss=rates.loss, double=rates.double)
        method = words.METHOD_MERGE.format(num=merged.sequence.num_runs)
        name = f"{material.name}: what the listener lost"
        notes.append(_say(SubjectKind.NOTE, name, Words(said), origins=origins, method=method))
    for outlier in merged.outliers:
        place = (runs[outlier.run].origin(),)
        name = f"{material.name}: run {outlier.run + 1}"
        notes.append(_say(SubjectKind.NOTE, name, Words(outlier.words), origins=place, method=words.METHOD_OUTLIER))
    notes += _say_readings(material.logs)
    return notes


def _say(
    kind: SubjectKind,
    name: str,
    value: Value,
    *,
    origins: tuple[Origin, ...],
    method: str,
    strength: Strength = Strength.COMPUTED,
    note: str = "",
    falls_with: tuple[tuple[Statement, ...], ...] = (),
) -> Testimony:
    return Testimony(Subject(kind, (name,)), value, Witness.WIRE, origins, method, strength, note, falls_with)


__all__ = ["Material", "testify"]

"""What the wire witness says: the one door to the evidence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import (
    Origin,
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

if TYPE_CHECKING:
    from latchlore.base import Progress
    from latchlore.wire._bytelog import Log, Run
    from latchlore.wire._results import Merge


@dataclass(frozen=True, slots=True)
class Material:
    """What the wire has heard of one transmission: `name` is the sequence's name, `logs` hold its runs."""

    name: str
    logs: tuple[Log, ...]


def testify(
    material: Material,
    progress: Progress = no_progress,  # noqa: PT028  (not a test)
) -> tuple[Testimony, ...]:
    """What the runs say: the sequence, then notes on losses and doubts.  Nothing where the logs hold no run."""
    from latchlore.wire._merge import merge

    runs = [run for log in material.logs for run in log.runs]
    if not runs:
        return ()
    merged = merge(runs, progress)
    return (_sequence(material, runs, merged), *_notes(material, runs, merged))


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
    )


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
    for log in material.logs:
        name, said = f"{log.file}: how it was read", f"numbers {log.numbers_why}; {log.layout_why}"
        notes.append(_say(SubjectKind.NOTE, name, Words(said), origins=(Origin(log.file),), method=words.METHOD_READ))
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
) -> Testimony:
    return Testimony(Subject(kind, (name,)), value, Witness.WIRE, origins, method, strength, note)


__all__ = ["Material", "testify"]

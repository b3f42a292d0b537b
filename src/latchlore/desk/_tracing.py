"""Tracing on the desk: one guide kept while its readings file stays what it wrote, and what the page shows of it."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, NamedTuple

from latchlore.board import tracewording
from latchlore.desk import wording
from latchlore.desk._watch import folder_version

if TYPE_CHECKING:
    from pathlib import Path

    from latchlore.board import PinAt
    from latchlore.study import Tracing

MOST_TYPES = 6
WORTH_NAMING = 0.05


class PinKey(NamedTuple):
    """A pin of the row that is dragged along: its number in a readings file, and how likely it beeps (may be empty)."""

    number: str
    share: str


class Asked(NamedTuple):
    """What is asked next.  `keys` are the pins of a row; `single`: one pin only, answered by yes or no."""

    action: str
    why: str
    header: str
    keys: tuple[PinKey, ...]
    single: bool
    done: bool


class Report(NamedTuple):
    """What is not done, doubted and likely wrong, a sentence each."""

    not_done: tuple[str, ...]
    against: tuple[str, ...]
    doubted: tuple[str, ...]
    aside: str
    sanded: tuple[str, ...]


class Bench:
    """The tracing of one study's board; made anew when a file of the study has been changed by anybody else."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._kept: tuple[str, Tracing] | None = None
        self.strip: tuple[PinAt, ...] = ()

    def tracing(self) -> Tracing:
        """The tracing as the files are now.  Refuses what `open_tracing` refuses."""
        from latchlore.study import open_tracing

        with self._lock:
            version = folder_version(self._folder)
            if self._kept is None or self._kept[0] != version:
                self._kept = (version, open_tracing(self._folder))
            return self._kept[1]

    def answer(self, typed: str) -> None:
        """Take an answer; it is on disk when this returns."""
        tracing = self.tracing()
        with self._lock:
            self.strip = tracing.proposal.strip or self.strip
            tracing.answer(typed)
            self._kept = (folder_version(self._folder), tracing)


def asked_view(tracing: Tracing, strip: tuple[PinAt, ...]) -> Asked:
    """What is asked next, in words and keys."""
    asked = tracing.proposal
    likely = dict(asked.likely)
    single = len(asked.row) == 1 and asked.row_word == str(asked.row[0].pin)
    keys = tuple(
        PinKey(str(at.pin), f"{likely[at]:.0%}" if likely.get(at, 0) >= WORTH_NAMING else "") for at in asked.row
    )
    taken = len(tracing.readings)
    header = tracewording.HEADER.format(taken=taken, left=asked.left, missing=asked.missing)
    action = tracewording.describe_action(asked, strip)
    return Asked(action, asked.words, header, keys, single, asked.held is None)


def report_view(tracing: Tracing) -> Report:
    """The report of the tracing, sentence by sentence."""
    report = tracing.report()
    against = []
    for one in report.disagreements:
        places = " ".join(str(reading.origin) for reading in one.readings)
        first, second = one.suspects[0] if one.suspects else ("", "")
        words = tracewording.CULPRIT.format(
            words=one.words, first=first, second=second, places=f" ({places})" if places else ""
        )
        against.append(words if one.suspects else one.words)
    return Report(
        tuple(
            tracewording.SECTION.format(
                owner=one.owner,
                pins=" ".join(str(at.pin) for at in one.pins),
                left=" ".join(str(at.pin) for at in one.not_done),
            )
            for one in report.sections
        ),
        tuple(against),
        tuple(
            tracewording.JOINT.format(
                first=one.first,
                second=one.second,
                share=one.likelihood,
                unused="" if one.believed else tracewording.UNUSED,
            )
            for one in report.doubted
        ),
        tracewording.ASIDE.format(count=len(report.set_aside)) if report.set_aside else "",
        tuple(
            f"{name}: {', '.join(f'{one.type.name} {one.share:.0%}' for one in types[:MOST_TYPES]) or wording.NO_TYPE}"
            for name, types in report.sanded
        ),
    )

"""Reads the handshake of a long capture in stretches, so that the memory in use does not grow with it.

Each stretch is read like a capture of its own, from some strobes before it on.  Cuts lie at strobes at which busy and
acknowledge rest, so that nothing is cut in two.  What the stretches conclude must agree; where it does not, or no cut
is found, the capture is read as a whole, whatever memory that takes.
"""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Span
from latchlore.wire import _edgekernel as kernel
from latchlore.wire import _handshakewording as words
from latchlore.wire._capture import Capture, Channel
from latchlore.wire._completeness import PART, count_cut, judge_completeness, lessen
from latchlore.wire._handshake import (
    HandshakeReader,
    ParallelReading,
    Seen,
    Tally,
    keeps_to_one_end,
    note_doubts,
)
from latchlore.wire._lines import Concluded, Latch, channel_of, conclude_by_idle, conclude_by_share
from latchlore.wire._longlines import clean_long
from latchlore.wire._spool import Spool

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy.typing as npt

    from latchlore.wire._capture import Levels, Times
    from latchlore.wire._lines import ParallelLines

    Edges = tuple[Times, Levels]

STRETCH = 2_000_000
"""Strobe edges in a stretch."""
OVERLAP = 200
"""Strobe edges in front of a stretch that are read with it."""
ROUNDS_MOST = 5
TRIES = 2_000
"""So many strobe edges are looked at for a cut."""
_COLUMNS = (("values", "u1"), ("doubt", "u1"), ("since", "<i8"), ("until", "<i8"), ("seen", "u1"))
_STROBES = (("leads", "<i8"), ("trails", "<i8"))


@dataclass(frozen=True, slots=True)
class _Cut:
    """A stretch begins at `at`, and is read from `since` on; both picoseconds."""

    since: int
    at: int


@dataclass(slots=True)
class _Agreed:
    """What the stretches so far agree on; `same` and `open_latch`: some stretches tell nothing of the latching edge."""

    tally: Tally
    busy: Concluded | None
    ack: Concluded | None
    latch: Concluded
    same: bool = False
    stretches: int = 1
    counts_all: bool = True


@dataclass(slots=True)
class _Known:
    """What a first round over all stretches told, for the next one."""

    latch: Concluded | None = None
    soonest_new: int | None = None
    may_count: bool = True
    longest: int = 0
    is_level_weak: bool = False


def read_long(capture: Capture, lines: ParallelLines) -> ParallelReading | None:
    """The bytes of a long capture, its columns in files that vanish with them; None where it cannot be cut."""
    beside = channel_of(capture, lines.strobe)[0].times
    with closing(Spool(beside)) as spool:
        strobe = clean_long(capture, lines.strobe, spool)
        level = Concluded(lines.strobe_active, words.STATED)
        if level.value is None:
            level = conclude_by_share(strobe, capture.end.picoseconds)
        cuts = None if level.value is None else _find_cuts(capture, lines, strobe, level.value, spool)
    if cuts is None:
        return None
    lines = replace(lines, strobe_active=level.value)
    known = _Known(longest=_longest_period(strobe, lines.strobe_active), is_level_weak=level.is_weak)
    for _ in range(ROUNDS_MOST):  # again where a later stretch tells what an earlier one could not
        stated = lines
        if known.latch is not None and known.latch.value is not None:
            stated = replace(lines, latch=(Latch.LEADING, Latch.TRAILING)[known.latch.value])
        with closing(Spool(beside)) as spool:
            agreed = _read_all(capture, stated, cuts, known, spool)
            if agreed is None or not _holds(agreed, capture):
                return None
            if not _learns(known, agreed):
                return _joined(capture, level, agreed, spool, count_cut(strobe, level.value or 0))
    return None


def _longest_period(strobe: Edges, active: int | None) -> int:
    """The longest time from one leading edge to the next, in picoseconds."""
    longest, last = 0, None
    for begin in range(0, len(strobe[0]), PART):
        times, levels = (np.asarray(column[begin : begin + PART]) for column in strobe)
        leads = times[levels == active]
        if not len(leads):
            continue
        longest = max(longest, 0 if last is None else int(leads[0]) - last, int(np.diff(leads).max(initial=0)))
        last = int(leads[-1])
    return longest


def _learns(known: _Known, agreed: _Agreed) -> bool:
    """Whether a round told what makes another one necessary; it is put to what is known."""
    if known.latch is None and agreed.same and agreed.latch.value is not None:
        known.latch = agreed.latch
    elif agreed.tally.ringing and known.soonest_new is None:
        known.soonest_new = agreed.tally.soonest_new
    elif known.may_count and not agreed.counts_all:
        known.may_count = False
    else:
        if known.latch is not None:  # with the reason of the round that concluded it
            agreed.latch = known.latch
        return False
    return True


def _holds(agreed: _Agreed, capture: Capture) -> bool:
    """Whether the line that counts the bytes does so over all stretches together, not only in each by itself."""
    step, answers = 0 if capture.step is None else capture.step.picoseconds, agreed.tally.answers
    return not step or not agreed.counts_all or answers is None or keeps_to_one_end(answers, step)


def _find_cuts(capture: Capture, lines: ParallelLines, strobe: Edges, active: int, spool: Spool) -> list[_Cut] | None:
    """Where the capture is cut: at strobes, with the answering lines at rest."""
    times, levels = strobe
    leads, _ = kernel.find_pulses(times[: 2 * OVERLAP], levels[: 2 * OVERLAP], active)
    resting: list[tuple[Times, Levels, int]] = []
    for name, stated in ((lines.busy, lines.busy_active), (lines.ack, lines.ack_active)):
        if name is None or not len(leads):
            continue
        edges = clean_long(capture, name, spool)
        head = int(np.searchsorted(edges[0], leads[-1], "right"))
        level = conclude_by_idle((edges[0][:head], edges[1][:head]), leads).value if stated is None else stated
        if level is None:
            return None
        resting.append((*edges, 1 - level))

    def is_cut(k: int) -> bool:
        if levels[k] != active or levels[k - 1] != 1 - active:
            return False
        before = [int(np.searchsorted(at, times[k], "left")) - 1 for at, _, _ in resting]
        return all(j >= 0 and line[1][j] == line[2] for j, line in zip(before, resting, strict=True))

    cuts: list[_Cut] = []
    k = STRETCH
    while k < len(times) - STRETCH // 2:
        found = next((j for j in range(k, min(k + TRIES, len(times))) if is_cut(j)), None)
        if found is None:
            return None
        since = next((j for j in range(found - OVERLAP, max(0, found - OVERLAP - TRIES), -1) if is_cut(j)), None)
        if since is None:
            return None
        cuts.append(_Cut(int(times[since]), int(times[found])))
        k = found + STRETCH
    return cuts


def _stretches(capture: Capture, cuts: list[_Cut]) -> Iterator[tuple[Capture, int]]:
    """Each stretch as a capture of its own, with the time from which on it counts."""
    first = _Cut(-(2**62), -(2**62))
    for cut, after in zip([first, *cuts], [*cuts, None], strict=True):
        until = None if after is None else after.at
        channels = tuple(part_of(channel, cut.since, until) for channel in capture.channels)
        begin = capture.begin if cut is first else Span(cut.since)
        end = capture.end if until is None else Span(until - 1)
        yield Capture(capture.file, channels, begin, end, step=capture.step), cut.at


def part_of(channel: Channel, since: int, until: int | None) -> Channel:
    """The changes of a stretch, and the last one before it."""
    begin = max(0, int(np.searchsorted(channel.times, since, "left")) - 1)
    end = len(channel.times) if until is None else int(np.searchsorted(channel.times, until, "left"))
    end = max(begin, end)
    # a column that the kind does not have is empty, and stays so
    return Channel(
        channel.names,
        channel.kind,
        channel.width,
        channel.times[begin:end],
        channel.levels[begin:end],
        channel.value[begin:end],
        channel.unknown[begin:end],
        channel.reals[begin:end],
        channel.bits,
    )


def _read_all(capture: Capture, lines: ParallelLines, cuts: list[_Cut], known: _Known, spool: Spool) -> _Agreed | None:
    """Read every stretch into the spool; None where two of them conclude different things."""
    agreed: _Agreed | None = None
    for part, at in _stretches(capture, cuts):
        reader = HandshakeReader(part, lines, known.soonest_new, known.may_count, known.longest, known.is_level_weak)
        reading = reader.read()
        if reader.tally.unsure:
            return None
        same = reading.latch.value is None and reading.latch.why == words.LATCH_SAME
        if agreed is None:
            latch, busy, ack = reading.latch, reading.busy_active, reading.ack_active
            agreed = _Agreed(reader.tally, busy, ack, latch, same, counts_all=bool(reader.tally.cycles))
        else:
            if _value(agreed.busy) != _value(reading.busy_active) or _value(agreed.ack) != _value(reading.ack_active):
                return None
            if agreed.latch.why == words.LATCH_SAME:
                agreed.latch = reading.latch
            elif not same and agreed.latch.value != reading.latch.value:
                return None
            agreed.same |= same
            agreed.stretches += 1
            if not _add(agreed, reader.tally):
                return None
        _add_rows(spool, _COLUMNS, reading, reading.until >= at)
        _add_rows(spool, _STROBES, reading, reading.leads >= at)
    return agreed


def _value(found: Concluded | None) -> int | None:
    return None if found is None else found.value


def _add(agreed: _Agreed, tally: Tally) -> bool:
    """Put what a further stretch tells to what is known; False where they do not go together."""
    mine = agreed.tally
    known = [limit for limit in (mine.soonest_new, tally.soonest_new) if limit is not None]
    mine.soonest_new = min(known, default=None)
    if mine.ringing and tally.ringing and mine.ringing != tally.ringing:
        return False
    mine.ringing = mine.ringing or tally.ringing
    mine.shifted &= tally.shifted
    mine.level_open |= tally.level_open
    if bool(mine.cycles) != bool(tally.cycles):
        agreed.counts_all = False
    elif mine.cycles != tally.cycles:
        return False
    if mine.answers is not None and tally.answers is not None:
        (a, b, c), (d, e, f) = mine.answers, tally.answers
        mine.answers = max(a, d), max(b, e), min(c, f)
    return True


def _add_rows(
    spool: Spool, columns: tuple[tuple[str, str], ...], reading: ParallelReading, keep: npt.NDArray[np.bool_]
) -> None:
    """Put the kept rows of a reading behind those before."""
    for name, kind in columns:
        spool.add(name, kind, getattr(reading, name)[keep])


def _joined(capture: Capture, level: Concluded, agreed: _Agreed, spool: Spool, num_cut: int) -> ParallelReading:
    columns = {name: spool.column(name, kind) for name, kind in (*_COLUMNS, *_STROBES)}
    seen, tally = columns["seen"], agreed.tally
    totals = np.zeros(len(Seen), np.int64)
    for begin in range(0, len(seen), PART):
        totals += np.bincount(seen[begin : begin + PART], minlength=len(Seen))
    notes: list[str] = [words.SHIFTED] if tally.shifted else []
    if totals[Seen.RINGING]:
        notes.append(words.RINGING.format(count=totals[Seen.RINGING]) + tally.ringing)
    if totals[Seen.COUNTED]:
        notes.append(words.INFERRED.format(count=totals[Seen.COUNTED], line=tally.cycles))
    cycles = (tally.cycles, int(totals[Seen.STROBE] + totals[Seen.COUNTED])) if tally.cycles else None
    step = 0 if capture.step is None else capture.step.picoseconds
    complete, why = judge_completeness(step, columns["leads"], columns["trails"], cycles)
    complete, why = lessen(complete, why, capture, num_cut, tally.level_open)
    notes += note_doubts(columns["doubt"], seen)

    def told(found: Concluded) -> Concluded:
        if found.why in {words.STATED, words.LATCH_SAME}:
            return found
        return Concluded(found.value, words.IN_EACH.format(why=found.why, count=agreed.stretches))

    return ParallelReading(
        capture.file,
        columns["values"],
        columns["doubt"],
        columns["since"],
        columns["until"],
        columns["seen"],
        columns["leads"],
        columns["trails"],
        complete,
        why,
        level,
        None if agreed.busy is None else told(agreed.busy),
        None if agreed.ack is None else told(agreed.ack),
        told(agreed.latch),
        tuple(notes),
    )

"""Reads bytes from the lines of a parallel handshake, and says which bits, and whether all bytes, can be told.

What counts is what the samples leave open.  In a sampled capture an edge lies somewhere in the period before the
sample that shows it; a data bit that changes in that same period may have had either value at the edge, and is in
doubt.  A strobe that may be narrower than a period may be missing altogether, unless another line counts the bytes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Origin, Span, SpanRange
from latchlore.wire import _edgekernel as kernel
from latchlore.wire import _handshakewording as words
from latchlore.wire._bytelog import Run
from latchlore.wire._completeness import PART, count_cut, judge_completeness, lessen
from latchlore.wire._lines import (
    Concluded,
    Latch,
    ParallelLines,
    channel_of,
    clean_line,
    conclude_by_idle,
    conclude_by_share,
    data_names,
    get_line,
)
from latchlore.wire.timingfacts import LEAST_STILL

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy.typing as npt

    from latchlore.wire._capture import Capture, Levels, Times

    Edges = tuple[Times, Levels]
    Bytes = npt.NDArray[np.uint8]

RINGING_PART = 4
"""A repeated strobe that comes this many times sooner than any new byte ever does looks like ringing."""
STROBES_MIN = 8
"""So many strobes must be seen before another line is trusted to count those that were not."""
MOVES_MIN = 3
"""So many strobes must show data moving at one edge before the other edge is taken for the latching one."""
FAR = 2**62
LONG = 4_000_000
"""Strobe edges above which what is found does not stay in memory."""


class Seen(IntEnum):
    """How a byte is known: by its strobe; counted by the busy or acknowledge line; a strobe that looks like ringing."""

    STROBE = 0
    COUNTED = 1
    RINGING = 2


@dataclass(frozen=True, slots=True, eq=False)
class ParallelReading:
    """What a parallel port carried.

    Columns of equal length, in time order: `values` the bytes; `doubt` the bits that cannot be told (their bits of
    `values` are the likelier ones); `since` and `until` the times between which the byte was taken, in picoseconds;
    `seen` as `Seen`.  `leads` and `trails`: the edges of every strobe seen.  `complete`: whether no byte can be
    missing, None where nothing tells; `complete_why` in words.  `strobe_active`, `busy_active`, `ack_active`, `latch`:
    stated or concluded, with the reason; of `latch` the value is 0 leading, 1 trailing, None either or undecided.
    """

    file: str
    values: Bytes
    doubt: Bytes
    since: Times
    until: Times
    seen: Bytes
    leads: Times
    trails: Times
    complete: bool | None
    complete_why: str
    strobe_active: Concluded
    busy_active: Concluded | None
    ack_active: Concluded | None
    latch: Concluded
    notes: tuple[str, ...]

    @property
    def data(self) -> bytes:
        """The bytes, ringing left out, doubtful bits at their likelier value."""
        return bytes(self.values[self.seen != Seen.RINGING].tobytes())

    @property
    def certain(self) -> npt.NDArray[np.bool_]:
        """For each byte of `data`: whether all its bits can be told."""
        sure: npt.NDArray[np.bool_] = self.doubt[self.seen != Seen.RINGING] == 0
        return sure

    def iter_rows(self) -> Iterator[int]:
        """For each byte of `data` the row of its columns."""
        for begin in range(0, len(self.seen), PART):
            for row in np.flatnonzero(self.seen[begin : begin + PART] != Seen.RINGING).tolist():
                yield begin + row

    def when(self, index: int) -> SpanRange:
        """The times between which the byte of a row was taken."""
        return SpanRange(Span(int(self.since[index])), Span(int(self.until[index])))

    def origin(self, index: int) -> Origin:
        """The moment of the byte of a row."""
        return Origin.at_time(self.file, Span(int(self.until[index])))

    def as_run(self) -> Run:
        """The bytes as one run, as a byte log would hold them, each with its time."""
        kept = np.flatnonzero(self.seen != Seen.RINGING)
        times = tuple(Span(int(self.until[k])) for k in kept)
        return Run(self.data, self.file, ((0, 1),), times, "")


def read_parallel(capture: Capture, lines: ParallelLines) -> ParallelReading:
    """The bytes of a parallel handshake.  Refuses lines that the capture does not have.

    A capture of more than `LONG` strobe edges is read in stretches where it can be cut, so that memory stays bounded;
    the columns of the result then lie in files of their own, which vanish with it.
    """
    if is_long(capture, lines):
        from latchlore.wire._longhandshake import read_long

        found = read_long(capture, lines)
        if found is not None:
            return found
    return HandshakeReader(capture, lines).read()


def has_long_line(capture: Capture) -> bool:
    """Whether any line, were it the strobe, would make the capture a long one."""
    return any(channel.num_changes > LONG for channel in capture.channels)


def is_long(capture: Capture, lines: ParallelLines) -> bool:
    """Whether a capture has so many strobe edges that its columns go to files.  Refuses a strobe it does not have."""
    return channel_of(capture, lines.strobe)[0].num_changes > LONG


@dataclass(slots=True)
class Tally:
    """What a reading found on the way that two stretches of one capture must agree on, or that adds up.

    `soonest_new`: the shortest period after which a new byte came, picoseconds; `ringing`: how strobes that look like
    ringing were explained, empty without any; `cycles`: the line that counts the bytes; `answers`: of it, in
    picoseconds, the longest time from strobe to answer, from the end of an answer to the next strobe, and the shortest
    from answer to answer; `shifted`: whether the other edge gives the same bytes one place later; `unsure`: no period
    is known to tell ringing by; `level_open`: the strobe may have the other active level.
    """

    soonest_new: int | None = None
    ringing: str = ""
    cycles: str = ""
    answers: tuple[int, int, int] | None = None
    shifted: bool = False
    unsure: bool = False
    level_open: bool = False


class HandshakeReader:
    """One reading of a capture, or of a stretch of one.

    `soonest_new`, `longest`: the shortest period after which a new byte comes elsewhere, and the longest period of all,
    picoseconds.  `may_count`: whether busy
    or acknowledge may count bytes whose strobe was not seen.  `is_level_weak`: of the active level that `lines` states.
    """

    def __init__(
        self,
        capture: Capture,
        lines: ParallelLines,
        soonest_new: int | None = None,
        may_count: bool = True,
        longest: int | None = None,
        is_level_weak: bool | None = None,
    ) -> None:
        self.longest = longest
        self.capture, self.lines, self.soonest_new, self.may_count = capture, lines, soonest_new, may_count
        self.tally = Tally()
        self.step = 0 if capture.step is None else capture.step.picoseconds
        self.end = capture.end.picoseconds
        self.data = [None if name is None else get_line(capture, name) for name in data_names(capture, lines)]
        strobe = clean_line(capture, lines.strobe)
        self.strobe_active = (
            conclude_by_share(strobe, self.end)
            if lines.strobe_active is None
            else Concluded(lines.strobe_active, words.STATED)
        )
        # where neither level is rare, which of the edges leads is left to the question of the latching edge
        active = self.strobe_active.value
        if active is None:
            active = 1 - int(strobe[1][0]) if len(strobe[1]) and strobe[1][0] < 2 else 0
        self.strobe, self.active = strobe, active
        self.leads, self.trails = kernel.find_pulses(*strobe, active)
        self.busy = None if lines.busy is None else clean_line(capture, lines.busy)
        self.ack = None if lines.ack is None else clean_line(capture, lines.ack)
        self.busy_active = self._level(self.busy, lines.busy_active)
        self.ack_active = self._level(self.ack, lines.ack_active)
        self.notes: list[str] = []
        self.is_level_weak = self.strobe_active.is_weak if is_level_weak is None else is_level_weak

    def _level(self, edges: Edges | None, stated: int | None) -> Concluded | None:
        if edges is None:
            return None
        if stated is not None:
            return Concluded(stated, words.STATED)
        concluded = conclude_by_idle(edges, self.leads)
        if concluded.value is not None:
            return concluded
        return replace(conclude_by_share(edges, self.end), is_weak=True)

    def _bytes_at(self, moments: Times) -> tuple[Bytes, Bytes]:
        """The data at these moments, and which of its bits are in doubt."""
        before, at, doubt = (np.zeros(len(moments), np.uint8) for _ in range(3))
        for bit, edges in enumerate(self.data):
            if edges is not None:
                kernel.add_line(*edges, moments, bit, before, at, doubt)
        return at, doubt

    def read(self) -> ParallelReading:
        """The bytes; `tally` is filled on the way."""
        both, doubts = self._bytes_at(np.stack([self.leads, self.trails], 1).ravel())
        lead, lead_doubt, trail, trail_doubt = both[::2], doubts[::2], both[1::2], doubts[1::2]
        latch = self._conclude_latch(lead, lead_doubt, trail, trail_doubt)
        if self._is_level_open(bool(((lead != trail) | (lead_doubt != 0) | (trail_doubt != 0)).any())):
            self.tally.level_open = True
            values, doubt, moments = lead.copy(), lead_doubt | trail_doubt | (lead ^ trail), self.trails
            latch = Concluded(None, words.LEVEL_OPEN)
        elif latch.value == 0:
            values, doubt, moments = lead.copy(), lead_doubt.copy(), self.leads
        elif latch.value == 1:
            values, doubt, moments = trail.copy(), trail_doubt.copy(), self.trails
        else:
            values, doubt, moments = lead.copy(), lead_doubt | trail_doubt | (lead ^ trail), self.trails
        since = (self.leads if latch.value != 1 else moments) - self.step
        seen = np.full(len(values), Seen.STROBE, np.uint8)
        columns = (values, doubt, since, moments.copy(), seen)
        self._mark_ringing(columns)
        self.counted = self.leads[seen == Seen.STROBE]
        cycles = self._cycles()
        if cycles is not None:
            columns = self._count_missed(columns, cycles)
        counted = None if cycles is None else (cycles[0], len(cycles[1]))
        complete, why = judge_completeness(self.step, self.leads, self.trails, counted)
        num_cut = count_cut(self.strobe, self.active)
        complete, why = lessen(complete, why, self.capture, num_cut, self.tally.level_open)
        self.notes += note_doubts(columns[1], columns[4])
        return ParallelReading(
            self.capture.file,
            *columns,
            self.leads,
            self.trails,
            complete,
            why,
            self.strobe_active,
            self.busy_active,
            self.ack_active,
            latch,
            tuple(self.notes),
        )

    def _is_level_open(self, moves_inside: bool) -> bool:
        """Whether the strobe's level is told by its being rare only, and neither data nor busy bears it out."""
        if not self.is_level_weak or not moves_inside:
            return False
        is_busy_sure = self.busy_active is not None and not self.busy_active.is_weak
        # it follows the edge that takes the data, whatever that is called: so not where the other one is stated
        is_led = self.lines.latch is not Latch.TRAILING and self._num_busy_inside() == len(self.leads)
        return not (is_busy_sure and is_led)

    def _num_busy_inside(self) -> int:
        """At how many strobes busy begins before the strobe ends."""
        if self.busy is None or self.busy_active is None or self.busy_active.value is None:
            return 0
        on, _ = kernel.find_pulses(*self.busy, self.busy_active.value)
        follows = kernel.next_edge(on, self.leads, True)
        inside = np.zeros(len(self.leads), bool)
        found = follows < len(on)
        inside[found] = on[follows[found]] < self.trails[found]
        return int(inside.sum())

    def _conclude_latch(self, lead: Bytes, lead_doubt: Bytes, trail: Bytes, trail_doubt: Bytes) -> Concluded:
        if self.lines.latch is not None:
            return Concluded(0 if self.lines.latch is Latch.LEADING else 1, words.STATED)
        num = len(lead)
        if not num:
            return Concluded(None, words.NO_STROBE_TELLS)
        moves_at_lead, moves_at_trail = (int(np.count_nonzero(doubt)) for doubt in (lead_doubt, trail_doubt))
        differ = int(np.count_nonzero((lead != trail) | (lead_doubt != 0) | (trail_doubt != 0)))
        if not differ:
            return Concluded(None, words.LATCH_SAME)
        if self._num_busy_inside() == num:
            return Concluded(0, words.LATCH_BUSY.format(count=num, num=num))
        if moves_at_trail >= MOVES_MIN and not moves_at_lead and self._is_fine():
            return Concluded(0, self._why_latch("trailing", moves_at_trail))
        if moves_at_lead >= MOVES_MIN and not moves_at_trail and self._is_fine():
            return Concluded(1, self._why_latch("leading", moves_at_lead))
        if num > 1 and not moves_at_lead and not moves_at_trail and np.array_equal(lead[1:], trail[:-1]):
            self.tally.shifted = True
            self.notes.append(words.SHIFTED)
        return Concluded(None, words.LATCH_OPEN.format(count=differ, num=num))

    def _why_latch(self, edge: str, count: int) -> str:
        why = words.LATCH_MOVES.format(edge=edge, count=count, num=len(self.leads))
        return why + (words.LATCH_STILL.format(still=LEAST_STILL) if self.step else "")

    def _is_fine(self) -> bool:
        """Whether data that moves in the period of an edge moves nearer to it than any published figure lets it."""
        widths = self.trails - self.leads
        return bool(len(widths)) and self.step <= LEAST_STILL.picoseconds and self.step * 4 <= int(widths.min())

    def _mark_ringing(self, columns: tuple[Bytes, Bytes, Times, Times, Bytes]) -> None:
        _, doubt, _, _, seen = columns
        if len(doubt) < 3:
            return
        periods = np.diff(self.leads)
        longest = int(periods.max()) if self.longest is None else max(self.longest, int(periods.max()))
        first = np.flatnonzero(periods * RINGING_PART < longest)
        if not len(first):
            return
        # data that moves after a strobe, even there and back, is set anew for the next: no ringing.  What it does
        # while the strobe lasts, and so which byte each strobe reads, tells nothing
        soonest = np.full(len(first), np.iinfo(np.int64).max, np.int64)
        for edges in self.data:
            if edges is not None:
                kernel.first_change(kernel.clean_edges(*edges)[0], self.trails[first], soonest)
        ringing = np.zeros(len(periods), bool)
        ringing[first] = soonest > self.leads[first + 1]
        new = periods[~ringing]
        self.tally.soonest_new = int(new.min()) if len(new) else None
        known = [limit for limit in (self.tally.soonest_new, self.soonest_new) if limit is not None]
        if not known:
            self.tally.unsure = True
            return
        ringing &= periods * RINGING_PART < min(known)
        count = int(ringing.sum())
        if not count:
            return
        seen[1:][ringing] = Seen.RINGING
        line, once = self._answers_once(np.flatnonzero(ringing))
        if once:
            tail = words.RINGING_SURE.format(line=line)
        else:
            tail = words.RINGING_OPEN
            doubt[1:][ringing] = 0xFF
        self.tally.ringing = tail
        self.notes.append(words.RINGING.format(count=count) + tail)

    def _answers_once(self, first: npt.NDArray[np.intp]) -> tuple[str, bool]:
        """Whether busy or acknowledge has one pulse only from each of these strobes to the one after the next."""
        for name, on, _, _ in self._pulses():
            begins = np.searchsorted(on, self.leads[first])
            after = np.minimum(first + 2, len(self.leads) - 1)
            limits = np.where(first + 2 < len(self.leads), self.leads[after], self.end + 1)
            if ((np.searchsorted(on, limits) - begins) == 1).all():
                return name, True
        return "", False

    def _pulses(self) -> Iterator[tuple[str, Times, Times, Concluded]]:
        """The pulses of the lines by which the device answers, and by what level they were told."""
        for name, edges, level in (("busy", self.busy, self.busy_active), ("acknowledge", self.ack, self.ack_active)):
            if edges is not None and level is not None and level.value is not None:
                on, off = kernel.find_pulses(*edges, level.value)
                yield name, on, off, level

    def _cycles(self) -> tuple[str, Times, Times] | None:
        """A line whose every pulse is sure to be seen and that answers each strobe, with its pulses."""
        for name, on, off, level in self._pulses():
            if len(on) < 2 or not self.may_count:
                continue
            # by the wrong level its pauses would be counted, of which there is one less than bytes
            if level.is_weak:
                continue
            wide = self.step == 0 or (
                int((off - on).min()) >= 2 * self.step and int((on[1:] - off[:-1]).min()) >= 2 * self.step
            )
            if not wide or not self._answers_each(on, off):
                continue
            self.tally.cycles = name
            return name, on, off
        return None

    def _answers_each(self, on: Times, off: Times) -> bool:
        """Whether the line has one pulse for every strobe: each strobe lies in a pause of its own between two pulses.

        Where strobes may be missing, a line that answers every fifth one (when a buffer is full) could show that by
        chance; so the strobes must also all keep to one end of their pauses, which strays do not.
        """
        strobes = self.counted
        window = kernel.next_edge(on, strobes - self.step, False)
        if not len(strobes) or int(window[-1]) >= len(on) or not bool((np.diff(window) > 0).all()):
            return False
        before = np.concatenate([[np.iinfo(np.int64).min // 2], off])[window]
        if not bool((strobes + self.step > before).all()):
            return False
        if not self.step:
            return True
        inner = window > 0
        follows = int((strobes - before)[inner].max()) if inner.any() else FAR
        self.tally.answers = int((on[window] - strobes).max()), follows, int(np.diff(on).min())
        return len(strobes) >= STROBES_MIN and keeps_to_one_end(self.tally.answers, self.step)

    def _count_missed(
        self, columns: tuple[Bytes, Bytes, Times, Times, Bytes], cycles: tuple[str, Times, Times]
    ) -> tuple[Bytes, Bytes, Times, Times, Bytes]:
        """Add a byte for every cycle of the answering line without a strobe; only what stood still can be told."""
        name, on, off = cycles
        window = kernel.next_edge(on, self.counted - self.step, False)
        unseen = np.ones(len(on), bool)
        unseen[window] = False
        missed = np.flatnonzero(unseen)
        if not len(missed):
            return columns
        self.notes.append(words.INFERRED.format(count=len(missed), line=name))
        until = on[missed]
        since = np.where(missed > 0, off[np.maximum(missed - 1, 0)], self.capture.begin.picoseconds) - self.step
        values, doubt = self._bytes_at(until)
        for bit, edges in enumerate(self.data):
            if edges is None:
                continue
            latest = np.full(len(until), np.iinfo(np.int64).min, np.int64)
            kernel.last_change(kernel.clean_edges(*edges)[0], until, latest)
            doubt |= np.where(latest > since, 1 << bit, 0).astype(np.uint8)
        new = (values, doubt, since, until, np.full(len(missed), Seen.COUNTED, np.uint8))
        order = np.argsort(np.concatenate([columns[3], new[3]]), kind="stable")
        return (
            np.concatenate([columns[0], new[0]])[order],
            np.concatenate([columns[1], new[1]])[order],
            np.concatenate([columns[2], new[2]])[order],
            np.concatenate([columns[3], new[3]])[order],
            np.concatenate([columns[4], new[4]])[order],
        )


def keeps_to_one_end(answers: tuple[int, int, int], step: int) -> bool:
    """Whether strobes all come soon before their answers, or all soon after those before; see `Tally.answers`."""
    answer, follow, period = answers
    return min(answer, follow) + step < period // 4


def note_doubts(doubt: Bytes, seen: Bytes) -> list[str]:
    """A sentence on the bytes that cannot be told, where there are any."""
    num = num_doubt = 0
    for begin in range(0, len(seen), PART):
        real = seen[begin : begin + PART] != Seen.RINGING
        num += int(np.count_nonzero(real))
        num_doubt += int(np.count_nonzero(doubt[begin : begin + PART][real]))
    return [words.DOUBTFUL.format(count=num_doubt, num=num)] if num_doubt else []

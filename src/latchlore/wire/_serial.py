"""Reads asynchronous serial lines: bit time, polarity and framing estimated where they are not stated.

Which framing is right is weighed in bits of surprise: a framing pays for every data bit as an adaptive coder would
(a bit that never moves costs nearly nothing), nothing for a parity bit that is as it must be, and dearly for a parity
or stop bit that is not.  Where the best framing leads by less than `MARGIN` bits the reading says "undecided" and
names the others.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from latchlore.base import BadInput, Origin, Span
from latchlore.wire import _serialkernel as kernel
from latchlore.wire import _serialwording as words
from latchlore.wire._bytelog import Run
from latchlore.wire._lines import Concluded, clean_line

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy.typing as npt

    from latchlore.wire._capture import Capture, Levels, Times

MARGIN = 10.0
"""Bits by which a framing must lead to be decided: odds of a thousand to one."""
WRONG_COST = 14.0
"""Bits that a wrong parity or stop bit costs: one frame in some ten thousand is garbled."""
FRAMED = (2, 3)
"""So many of the stretches at the other level than the resting one are no longer than a frame."""
GLITCH_PART = 4
"""A pulse that lasts less than this part of a bit is a glitch."""
CROWD, CROWD_WRONG = 8, 3
"""A byte is not sure where of it and so many on either side so many lack their stop bit."""
SPREAD_MOST = 0.2
"""Edges may lie so far beside whole bits, as a part of a bit, on the average."""
BUSY_MIN = 12
"""So many frames with the same pause show a sender that never rests."""
IN_STEP_MOST = 20_000
"""So many edges are looked at for the place from which on all ways to read a line agree."""
LAST_PS = 2**63 - 1
OFF_PART = 20
"""A bit time that is off by more than one part in so many reads the last bits of a byte wrong."""
SAMPLES_MIN = 4
"""So many samples a bit are needed for its middle to be found."""
RATES = (50, 75, 110, 150, 300, 600, 1200, 1800, 2400, 3600, 4800, 7200, 9600, 19200, 38400, 57600, 115200)
"""Usual rates in bits a second: common practice, the list of rates of a 6551's data sheet and its multiples."""


class Parity(StrEnum):
    """What the parity bit is."""

    NONE = "none"
    EVEN = "even"
    ODD = "odd"
    MARK = "mark"
    SPACE = "space"


class Framing(NamedTuple):
    """Data bits (5 to 8), parity, stop bits (1 or 2)."""

    data_bits: int
    parity: Parity
    stop_bits: int

    def __str__(self) -> str:
        """As the trade writes it: ``8N1``."""
        return f"{self.data_bits}{self.parity[0].upper()}{self.stop_bits}"


FRAMINGS = tuple(Framing(data, parity, stop) for data in (8, 7, 6, 5) for parity in Parity for stop in (1, 2))


@dataclass(frozen=True, slots=True)
class Candidate:
    """A framing and its cost in bits."""

    framing: Framing
    cost: float


@dataclass(frozen=True, slots=True, eq=False)
class SerialReading:
    """What a serial line carried.

    `bit_time` rounded to picoseconds; `rate_words` names the nearest usual rate.  `idle`: the level of the resting
    line.  `framing`: the best one; `undecided` holds those that explain the line about as well, the best first, and
    is empty where the framing is decided or stated.  Columns: `values` the bytes, `starts` the edges of their start
    bits in picoseconds, `parity_wrong` and `stop_wrong` the frames whose bits are not as they must be, `unsure` the
    frames of which a part was not recorded, those that may be out of step since the capture begins among bytes, and
    those among many without a stop bit, and those that hold a glitch.
    """

    file: str
    line: str
    bit_time: Span
    rate_words: str
    idle: Concluded
    framing: Framing
    undecided: tuple[Candidate, ...]
    values: npt.NDArray[np.uint8]
    starts: Times
    parity_wrong: npt.NDArray[np.bool_]
    stop_wrong: npt.NDArray[np.bool_]
    unsure: npt.NDArray[np.bool_]
    notes: tuple[str, ...]

    @property
    def data(self) -> bytes:
        """The bytes."""
        return bytes(self.values.tobytes())

    @property
    def doubtful(self) -> npt.NDArray[np.bool_]:
        """Of each byte, whether anything speaks against it."""
        found: npt.NDArray[np.bool_] = self.parity_wrong | self.stop_wrong | self.unsure
        return found

    def origin(self, index: int) -> Origin:
        """The start bit of a byte."""
        return Origin.at_time(self.file, Span(int(self.starts[index])))

    def as_run(self) -> Run:
        """The bytes as one run with their times."""
        times = tuple(Span(int(time)) for time in self.starts)
        return Run(self.data, self.file, ((0, 1),), times, self.line)


def read_serial(
    capture: Capture,
    line: str,
    bit_time: Span | None = None,
    idle: int | None = None,
    framing: Framing | None = None,
) -> SerialReading:
    """The bytes of an asynchronous line; what is not stated is estimated.

    Refuses a line without edges, one whose edges keep no common bit time, and one sampled with fewer than 4 samples
    a bit, all with what would settle it.
    """
    edges = clean_line(capture, line)
    place = Origin(capture.file)
    if bit_time is not None and bit_time.picoseconds <= 0:
        raise BadInput(place, words.NO_TIME.format(bit=bit_time))
    if len(edges[0]) < 3:
        raise BadInput(place, words.NO_EDGES.format(line=line, count=max(0, len(edges[0]) - 1)))
    resting = _idle(edges, capture.end.picoseconds) if idle is None else Concluded(idle, words.STATED)
    level = int(resting.value or 0)
    bit = _bit_time(edges, level, place, line) if bit_time is None else bit_time.picoseconds * 1024
    if capture.step is not None and capture.step.picoseconds * SAMPLES_MIN * 1024 > bit:
        text = words.TOO_SLOW.format(line=line, step=capture.step, bit=Span(bit // 1024), least=SAMPLES_MIN)
        raise BadInput(place, text)
    frames = {count: _frames(edges, level, bit, count) for count in range(5, 11)}
    costs = sorted(_weigh(frames, FRAMINGS if framing is None else (framing,), bit), key=_rank)
    if not costs:
        raise BadInput(place, words.NO_FRAMES.format(line=line))
    close = tuple(sorted((c for c in costs if c.cost - costs[0].cost < MARGIN), key=_preference))
    best = close[0]
    notes = _notes(best.framing, close, frames)
    if framing is not None:
        notes += _fits_better(frames, costs[0], bit)
    if idle is not None:
        notes += _rests_otherwise(edges, capture.end.picoseconds, level)
    if bit_time is not None:
        notes += _lasts_otherwise(edges, level, bit_time, place, line)
    values, starts, parity_wrong, stop_wrong = _decode(frames, best.framing)
    unread, out_of_step = _doubts(capture, edges, frames, best.framing, bit, level)
    glitched = _glitched(edges, frames[_num_bits(best.framing)], bit)
    crowded = _crowded(stop_wrong)
    for count, text in (
        (int(crowded.sum()), words.CROWDED),
        (int(glitched.sum()), words.GLITCHED),
        (int(unread.sum()), words.UNREAD),
        (int(out_of_step.sum()), words.OUT_OF_STEP),
    ):
        if count:
            notes.append(text.format(count=count, num=len(values)))
    span = Span(round(bit / 1024))
    return SerialReading(
        *(capture.file, line, span, _rate_words(bit), resting, best.framing, close if len(close) > 1 else ()),
        *(values, starts, parity_wrong, stop_wrong, unread | out_of_step | crowded | glitched, tuple(notes)),
    )


def _fits_better(frames: _Frames, stated: Candidate, bit: int) -> list[str]:
    """A sentence where the line speaks against the stated framing."""
    best = min(_weigh(frames, FRAMINGS, bit), key=_rank)
    lead = stated.cost - best.cost
    return [words.FITS_BETTER.format(stated=stated.framing, best=best.framing, lead=lead)] if lead >= MARGIN else []


def _rests_otherwise(edges: tuple[Times, Levels], end: int, stated: int) -> list[str]:
    """A sentence where the line speaks against the stated resting level."""
    found = _idle(edges, end)
    return [] if found.value == stated else [words.RESTS_OTHERWISE.format(why=found.why)]


def _lasts_otherwise(edges: tuple[Times, Levels], idle: int, stated: Span, place: Origin, line: str) -> list[str]:
    """A sentence where the line speaks against the stated bit time."""
    try:
        found = Span(round(_bit_time(edges, idle, place, line) / 1024))
    except BadInput as error:
        return [error.mistakes[0][1]]
    if abs(found.picoseconds - stated.picoseconds) * OFF_PART <= stated.picoseconds:
        return []
    return [words.LASTS_OTHERWISE.format(found=found, stated=stated)]


def _rank(candidate: Candidate) -> tuple[float, int, int, int]:
    """Cheapest first; the rest makes the order total."""
    return round(candidate.cost, 6), *_preference(candidate)


def _preference(candidate: Candidate) -> tuple[int, int, int]:
    """Which of several undecided framings is shown: more data bits, for nothing is thrown away; no parity; one stop."""
    framing = candidate.framing
    return -framing.data_bits, list(Parity).index(framing.parity), framing.stop_bits


def _idle(edges: tuple[Times, Levels], end: int) -> Concluded:
    """The resting level: that of the longest stretch; frames are too short to hold one level as long."""
    times, levels = edges
    spans = np.diff(times, append=max(end, int(times[-1])))
    longest = {level: int(spans[levels == level].max(initial=0)) for level in (0, 1)}
    level = 1 if longest[1] >= longest[0] else 0
    text = words.IDLE.format(
        level="high" if level else "low", most=Span(longest[level]), other=Span(longest[1 - level])
    )
    return Concluded(level, text)


def _bit_time(edges: tuple[Times, Levels], idle: int, place: Origin, line: str) -> int:
    """The longest bit time of which all stretches inside frames are whole multiples, in 1/1024 ps.

    No such stretch is longer than a frame, so a time by which most would be is that of glitches, and a longer one is
    looked for.
    """
    times, levels = edges
    lengths = np.diff(times)
    # at the resting level a stretch may hold a pause of any length; at the other it is a start bit and zeros
    inside = lengths[levels[:-1] != idle]
    ordered = np.sort(inside)
    fits: list[list[tuple[float, float]]] = []
    for share in (50, 20, 10, 5, 3):  # glitches are shorter
        shortest = int(ordered[len(ordered) // share])
        found = [kernel.fit_bit(inside, max(1, shortest // part), 11) for part in (1, 2, 3, 4)]
        framed = [(bit, spread) for bit, spread, used in found if used * FRAMED[1] >= len(inside) * FRAMED[0]]
        if framed:
            fits.append(framed)
    if not fits:
        raise BadInput(place, words.NO_FRAME_LENGTH.format(line=line))
    best = _longest_fit(fits)
    if best[1] > SPREAD_MOST:
        raise BadInput(place, words.NO_BIT_TIME.format(line=line, spread=best[1]))
    return round(best[0] * 1024)


def _longest_fit(fits: list[list[tuple[float, float]]]) -> tuple[float, float]:
    """The bit time to take, of pairs of one and its spread; those from one guess together, the longest first."""
    good = sorted(one for some in fits for one in some if one[1] <= SPREAD_MOST / 2)
    if good:
        best = good[-1]
        # a few stretches of one bit among many of two hardly spoil a bit of twice the length
        finer = [one for one in good if best[1] > SPREAD_MOST / 4 and one[1] < best[1] / 4]
        return finer[-1] if finer else best
    # half a bit time always fits twice as well as one in bits of its own; so a shorter one must do better than that
    best = fits[0][0]
    for bit, spread in fits[0][1:]:
        if best[1] > SPREAD_MOST / 2 and spread < best[1] / 2:
            best = (bit, spread)
    return best


def _frames(
    edges: tuple[Times, Levels], idle: int, bit: int, count: int
) -> tuple[Times, npt.NDArray[np.uint16], Times]:
    num = len(edges[0])
    starts, frames, ends = np.zeros(num, np.int64), np.zeros(num, np.uint16), np.zeros(num, np.int64)
    n, _, _ = kernel.read_frames(*edges, idle, bit, count, starts, frames, ends)
    return starts[:n], frames[:n], ends[:n]


_Frames = dict[int, tuple["Times", "npt.NDArray[np.uint16]", "Times"]]


def _split(frames: _Frames, framing: Framing) -> tuple[npt.NDArray[np.uint16], npt.NDArray[np.uint16], Times]:
    """The data bits of each frame, its parity and stop bits (parity lowest, all as sent), and its start."""
    starts, raw, _ = frames[_num_bits(framing)]
    data = raw & np.uint16((1 << framing.data_bits) - 1)
    return data, raw >> np.uint16(framing.data_bits), starts


def _expected(data: npt.NDArray[np.uint16], parity: Parity) -> npt.NDArray[np.uint16]:
    ones = np.bitwise_count(data).astype(np.uint16) & np.uint16(1)
    match parity:
        case Parity.EVEN:
            return ones
        case Parity.ODD:
            return ones ^ np.uint16(1)
        case Parity.MARK:
            return np.ones_like(ones)
        case _:
            return np.zeros_like(ones)


def _errors(
    data: npt.NDArray[np.uint16], rest: npt.NDArray[np.uint16], framing: Framing
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Which frames have a wrong parity bit, and which lack a stop bit."""
    wrong = np.zeros(len(data), bool)
    if framing.parity is not Parity.NONE:
        wrong = (rest & np.uint16(1)) != _expected(data, framing.parity)
        rest = rest >> np.uint16(1)
    full = np.uint16((1 << framing.stop_bits) - 1)
    return wrong, (rest & full) != full


def _weigh(frames: _Frames, framings: tuple[Framing, ...], bit: int) -> Iterator[Candidate]:
    """The cost of every framing over the whole line, in bits.

    All framings must explain the same line, so stretches count: a framing that makes fewer, longer frames pays for
    fewer bits only where the bits it takes in are no news.
    """
    for framing in framings:
        data, rest, starts = _split(frames, framing)
        if not len(data):
            continue
        parity_wrong, stop_wrong = _errors(data, rest, framing)
        cost = WRONG_COST * float(parity_wrong.sum() + stop_wrong.sum())
        for place in range(framing.data_bits):
            ones = int(((data >> np.uint16(place)) & np.uint16(1)).sum())
            cost += _adaptive_cost(ones, len(data) - ones)
        if framing.stop_bits == 1 and _pauses_one_bit(starts, framing, bit):
            cost += MARGIN
        yield Candidate(framing, cost)


def _pauses_one_bit(starts: Times, framing: Framing, bit: int) -> bool:
    """Whether nearly every frame is followed by a pause of just one bit: that is a second stop bit of a busy sender."""
    if len(starts) < BUSY_MIN:
        return False
    length = 2 + framing.data_bits + (framing.parity is not Parity.NONE)
    pauses = np.diff(starts) * 1024 / bit - length
    return bool((np.abs(pauses - 1) < 0.1).mean() > 0.9)


def _adaptive_cost(ones: int, zeros: int) -> float:
    """Bits that an adaptive coder (Krichevsky and Trofimov, 1981) spends on so many ones and zeros in any order."""
    log = math.lgamma(ones + 0.5) + math.lgamma(zeros + 0.5) - 2 * math.lgamma(0.5) - math.lgamma(ones + zeros + 1)
    return -log / math.log(2)


def _decode(
    frames: _Frames, framing: Framing
) -> tuple[npt.NDArray[np.uint8], Times, npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    data, rest, starts = _split(frames, framing)
    return data.astype(np.uint8), starts, *_errors(data, rest, framing)


def _doubts(
    capture: Capture, edges: tuple[Times, Levels], frames: _Frames, framing: Framing, bit: int, idle: int
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Frames of which a part was not recorded or had no level, and those that may be out of step.

    A capture that begins among bytes shows some edge first, which need not be a start bit's.
    """
    starts, _, ends = frames[_num_bits(framing)]
    unread = ends > capture.end.picoseconds
    times, levels = edges
    odd = np.concatenate([[0], np.cumsum(levels > 1)])
    unread |= odd[np.searchsorted(times, ends, "right")] > odd[np.searchsorted(times, starts, "left")]
    for gap in capture.gaps:
        until = capture.end if gap.until is None else gap.until
        unread |= (ends > gap.since.picoseconds) & (starts < until.picoseconds)
    return unread, starts < _in_step_from(edges, idle, bit, _num_bits(framing))


def _glitched(
    edges: tuple[Times, Levels], frames: tuple[Times, npt.NDArray[np.uint16], Times], bit: int
) -> npt.NDArray[np.bool_]:
    """Frames that hold a pulse far shorter than a bit, which a receiver may or may not see."""
    times, _ = edges
    starts, _, ends = frames
    short = np.concatenate([[0], np.cumsum(np.diff(times) * 1024 * GLITCH_PART < bit)])  # pulses before each edge
    first, last = np.searchsorted(times, starts, "left"), np.searchsorted(times, ends, "right") - 1
    glitched: npt.NDArray[np.bool_] = short[last] > short[first]
    return glitched


def _crowded(stop_wrong: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Frames among so many without a stop bit that the line is another one there than it is taken for."""
    total = np.concatenate([[0], np.cumsum(stop_wrong)])
    index = np.arange(len(stop_wrong))
    first, last = np.maximum(index - CROWD, 0), np.minimum(index + CROWD + 1, len(stop_wrong))
    crowded: npt.NDArray[np.bool_] = total[last] - total[first] >= CROWD_WRONG
    return crowded


def _in_step_from(edges: tuple[Times, Levels], idle: int, bit: int, count: int) -> int:
    """The first start bit on which reading from any edge that may be the first one's agrees; picoseconds.

    Where the line rests for a byte's length first, that is the first edge of all.
    """
    times, levels = edges[0][:IN_STEP_MOST], edges[1][:IN_STEP_MOST]
    length = (count + 2) * bit >> 10
    falls = np.flatnonzero((levels[1:] == 1 - idle) & (levels[:-1] == idle)) + 1
    known = int(times[np.argmax(levels < 2)])  # from here on the line was looked at
    num = int(np.count_nonzero(times[falls] < known + length))
    if not num:
        return known
    common: set[int] | None = None
    for k in falls[: num + 1].tolist():  # one more: the byte under way may hold all those before it
        starts = set(_frames((times[k - 1 :], levels[k - 1 :]), idle, bit, count)[0].tolist())
        common = starts if common is None else common & starts
    return min(common or (), default=LAST_PS)


def _num_bits(framing: Framing) -> int:
    """Bits of a frame between its start bit and its last stop bit."""
    return framing.data_bits + (framing.parity is not Parity.NONE) + framing.stop_bits - 1


def _notes(best: Framing, close: tuple[Candidate, ...], frames: _Frames) -> list[str]:
    notes: list[str] = []
    values, _, parity_wrong, stop_wrong = _decode(frames, best)
    if len(close) > 1:
        others = [c.framing for c in close[1:]]
        same = [f for f in others if np.array_equal(_decode(frames, f)[0], values)]
        names = ", ".join(str(f) for f in others)
        text = words.UNDECIDED_SAME if len(same) == len(others) else words.UNDECIDED
        notes.append(text.format(best=best, others=names))
    if parity_wrong.any():
        notes.append(words.PARITY_WRONG.format(count=int(parity_wrong.sum()), num=len(values)))
    if stop_wrong.any():
        notes.append(words.STOP_WRONG.format(count=int(stop_wrong.sum()), num=len(values)))
    return notes


def _rate_words(bit: int) -> str:
    rate = 1024e12 / bit
    nearest = min(RATES, key=lambda usual: abs(math.log(usual / rate)))
    off = round(rate / nearest - 1, 3) + 0.0  # no minus before a zero
    if abs(off) > 0.06:
        return words.RATE_ODD.format(rate=rate, nearest=nearest)
    return words.RATE.format(rate=rate, nearest=nearest, off=off)

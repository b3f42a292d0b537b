"""Where an image lies and whose code it is, inferred from calls, vectors, headers and the opcodes that follow."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from latchlore.base import BadInput, Origin
from latchlore.program import _loadwords as words
from latchlore.program._loadcode import get_landmarks, run_holds, word_at
from latchlore.program._loadfacts import LANDMARKS

if TYPE_CHECKING:
    import numpy.typing as npt

    Array = npt.NDArray[Any]

SPACE = 0x10000
MARGIN_BITS = 8.0  # by which the best place must lead, and the best processor
LEAST_BITS = 12.0  # below it nothing is said of a place
LEAST_CPU_BITS = 24.0  # below it no processor is named
PAGE = 0x100  # images that state no address lie at multiples of this (common practice)
ODD_PLACE_BITS = 6.0  # what any other place costs
LANDS = 0.35  # share of calls whose target follows a return or jump, at least, in code
HOLDS = 0.97  # share of call targets that read on as documented instructions
BLANK = (0x0000, 0xFFFF)  # vectors that say nothing
MOST_RUNS = 400  # targets and places tried per processor


@dataclass(frozen=True, slots=True)
class Place:
    """One load address with the evidence for it, in bits and in words.

    `skip`: bytes of a header in front of the code, 0 or 2; `load` is the address of the byte behind them.
    """

    load: int
    skip: int
    bits: float
    reasons: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.load:04X} ({self.bits:.0f} bits: {'; '.join(self.reasons) or 'nothing speaks for it'})"


@dataclass(frozen=True, slots=True)
class LoadReport:
    """The likeliest places of an image for one processor, best first; `is_decided` where the first may be taken."""

    file: str
    cpu: str
    places: tuple[Place, ...]
    is_decided: bool

    def __str__(self) -> str:
        lines = [f"{self.file}: read as {self.cpu} code"]
        if not self.is_decided:
            lines.append(words.OPEN_PLACE)
        lines += [f"load at {place}" for place in self.places[:3]]
        return "\n".join(lines)


def rank_place(place: Place) -> tuple[float, int, int]:
    """Best first: most evidence, then no header, then the lower address, so that the order is total."""
    return (-round(place.bits, 6), place.skip, place.load)


def infer_load(data: bytes, cpu: str, file: str = "image") -> LoadReport:
    """Find where an image lies for a stated processor.  Refuses an unknown processor and an empty image.

    Tried are all addresses that the calls speak for, the end at the top of the space (vectors), the processor's
    start, and what a two-byte header states.  A place that is no multiple of 100h and that no header states is shown
    but never decided.
    """
    get_landmarks(cpu)
    if not data:
        raise BadInput(Origin(file), "an image holds at least one byte; the file is empty")
    if len(data) > SPACE:
        raise BadInput(Origin(file), f"{len(data)} bytes are more than the {SPACE} of the address space")
    places = [*_places(data, cpu, 0), *_header_places(data, cpu)]
    best = sorted(
        {place.load - place.skip: place for place in sorted(places, key=rank_place)[::-1]}.values(), key=rank_place
    )
    lead = best[0].bits - (best[1].bits if len(best) > 1 else 0.0)
    is_usual = best[0].load % PAGE == 0 or best[0].skip > 0
    return LoadReport(file, cpu, tuple(best[:8]), best[0].bits >= LEAST_BITS and lead >= MARGIN_BITS and is_usual)


def _places(data: bytes, cpu: str, skip: int) -> list[Place]:
    marks = get_landmarks(cpu)
    targets = call_targets(data, cpu)
    follows = follows_end(data, cpu)
    bits, hits, inside = _landing_table(targets, follows, len(data))
    loads = set(np.argsort(-bits, kind="stable")[:12].tolist()) | {SPACE - len(data)}
    if marks.start is not None:
        loads.add(marks.start)
    found = []
    for load in sorted(loads):
        if load + len(data) > SPACE:
            continue
        reasons = [words.by_calls(int(hits[load]), int(inside[load]))] if hits[load] else []
        total = float(bits[load]) - (ODD_PLACE_BITS if load % PAGE and load + len(data) != SPACE else 0.0)
        if load + len(data) == SPACE and marks.vectors:
            vector_bits, names = _vector_bits(data, cpu)
            total += vector_bits
            reasons += [words.by_vectors(names)] if vector_bits > 0 else []
        if load == marks.start and data[0] in marks.starts:
            total += 3.0
            reasons.append(words.BY_START)
        found.append(Place(load, skip, total, tuple(reasons)))
    return found


def _header_places(data: bytes, cpu: str) -> list[Place]:
    """The place that a two-byte header states, if code lies there: the same evidence and four bits for the header."""
    if len(data) < 16:
        return []
    load = word_at(get_landmarks(cpu), data, 0)
    rest = data[2:]
    if load + len(rest) > SPACE:
        return []
    bits, hits, inside = _landing_table(call_targets(rest, cpu), follows_end(rest, cpu), len(rest))
    if bits[load] < LEAST_BITS:
        return []
    reasons = (words.by_header(load), words.by_calls(int(hits[load]), int(inside[load])))
    return [Place(load, 2, float(bits[load]) + 4.0, reasons)]


def call_targets(data: bytes, cpu: str) -> Array:
    """int64[k], rising: every address that a call, or a jump that is always taken, would go to; each once."""
    marks = get_landmarks(cpu)
    array = np.frombuffer(data, np.uint8).astype(np.int64)
    at = (
        np.nonzero(np.isin(array[:-2], list(marks.calls + marks.always)))[0]
        if len(array) > 2
        else np.zeros(0, np.int64)
    )
    first, second = array[at + 1], array[at + 2]
    return np.unique(first << 8 | second if marks.is_big_endian else second << 8 | first)


def follows_end(data: bytes, cpu: str) -> Array:
    """bool[len]: whether each offset follows a return or a jump that is always taken."""
    marks = get_landmarks(cpu)
    array = np.frombuffer(data, np.uint8)
    result = np.zeros(len(array), bool)
    result[1:] = np.isin(array[:-1], list(marks.ends))
    result[2:] |= np.isin(array[:-2], list(marks.short))
    result[3:] |= np.isin(array[:-3], list(marks.always))
    return result


def _landing_table(targets: Array, follows: Array, size: int) -> tuple[Array, Array, Array]:
    """For every load address: bits of evidence, targets that land behind an end, targets inside."""
    loads = SPACE - size + 1
    hits, inside = np.zeros(SPACE + 1, np.int64), np.zeros(SPACE + 1, np.int64)
    ends = np.nonzero(follows)[0]
    for target in targets.tolist():
        loads_hit = target - ends
        hits[loads_hit[(loads_hit >= 0) & (loads_hit < loads)]] += 1
        inside[max(target - size + 1, 0)] += 1
        inside[min(target + 1, SPACE)] -= 1
    inside = np.cumsum(inside)
    rate = (len(ends) + 0.5) / (size + 1)
    won, lost = math.log2((LANDS + (1 - LANDS) * rate) / rate), math.log2(1 - LANDS)
    bits = hits * won + (inside - hits) * lost
    bits[loads:] = -np.inf
    return bits, hits, inside


def _vector_bits(data: bytes, cpu: str) -> tuple[float, str]:
    marks = get_landmarks(cpu)
    names, bits, load = [], 0.0, SPACE - len(data)
    chance = max(len(data) / SPACE, 1 / 256)
    for vector, name in marks.vectors.items():
        if vector < load:
            continue
        target = word_at(marks, data, vector - load)
        if target in BLANK:
            continue  # cells that nobody programmed, or that a missing chip gives, lead nowhere
        if target >= load:
            bits += math.log2(0.8 / chance) if chance < 0.8 else 0.0
            names.append(f"{name} {target:04X}")
            if name == "reset":
                bits += 3.0 if data[target - load] in marks.starts else -1.0
        else:
            bits -= 3.0
    return bits, ", ".join(names)


@dataclass(frozen=True, slots=True)
class CpuGuess:
    """One processor with the bits that speak for it, and where the image then lies."""

    cpu: str
    bits: float
    reasons: tuple[str, ...]
    load: LoadReport

    def __str__(self) -> str:
        return f"{self.cpu} ({self.bits:.0f} bits: {'; '.join(self.reasons)})"


@dataclass(frozen=True, slots=True)
class CpuReport:
    """Whose code an image is; `cpu` None means none of these, or undecided: `why` says which."""

    file: str
    cpu: str | None
    why: str
    guesses: tuple[CpuGuess, ...]

    def __str__(self) -> str:
        lines = [f"{self.file}: {self.cpu or 'processor not named'}" + (f": {self.why}" if self.why else "")]
        return "\n".join([*lines, *(f"  {guess}" for guess in self.guesses[:3])])


def infer_cpu(data: bytes, file: str = "image") -> CpuReport:
    """Find whose code an image is, among the processors whose landmarks are known.

    For each, at the place its calls speak for best: bits for calls that land behind returns, and bits for reading on
    from their targets in documented opcodes, both against what the same bytes give at other places.  A processor
    whose opcodes include another's gains less by the latter, so plain 8080 code is called 8080 and not Z80.
    Refuses an empty image.
    """
    if len(set(data)) == 1:
        return CpuReport(file, None, words.NO_CPU, ())
    guesses = sorted(
        (_guess(data, cpu, file) for cpu in LANDMARKS), key=lambda guess: (-round(guess.bits, 6), guess.cpu)
    )
    best, second = guesses[0], guesses[1]
    if best.bits < LEAST_CPU_BITS:
        return CpuReport(file, None, words.NO_CPU, tuple(guesses))
    lead = best.bits - second.bits
    if lead < MARGIN_BITS:
        why = words.not_decided(best.cpu, second.cpu, round(lead), round(MARGIN_BITS))
        return CpuReport(file, None, why, tuple(guesses))
    return CpuReport(file, best.cpu, "", tuple(guesses))


def _guess(data: bytes, cpu: str, file: str) -> CpuGuess:
    report = infer_load(data, cpu, file)
    place = report.places[0]
    body = data[place.skip :]
    offsets = [t - place.load for t in call_targets(body, cpu).tolist() if 0 <= t - place.load < len(body) - 12]
    offsets = offsets[:: max(1, len(offsets) // MOST_RUNS)]
    holds = sum(run_holds(cpu, body, offset) for offset in offsets)
    spread = range(0, max(len(body) - 12, 1), max(1, len(body) // MOST_RUNS))
    chance = (sum(run_holds(cpu, body, offset) for offset in spread) + 1) / (len(spread) + 2)
    bits = holds * math.log2(max(HOLDS / chance, 1e-9)) + (len(offsets) - holds) * math.log2((1 - HOLDS) / (1 - chance))
    reasons = (*place.reasons, words.by_runs(holds, len(offsets)))
    return CpuGuess(cpu, max(place.bits, 0.0) + bits, reasons, report)

"""The search for the wiring of address and data lines that makes the dump read best."""

from __future__ import annotations

import itertools
import random
from dataclasses import dataclass
from functools import cache, partial
from typing import TYPE_CHECKING, Any

import numpy as np

from latchlore.base import no_progress
from latchlore.program._repairevidence import own_frequencies, prior_bits
from latchlore.program._repairwiring import Wiring, num_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    import numpy.typing as npt

    from latchlore.base import Progress
    from latchlore.program._repairevidence import Evidence

    Array = npt.NDArray[Any]

WINDOW = 32  # bytes: about the length over which code stays code
HANDICAP = 2.0  # bits a byte given to the model: without it code that the tables know little of counts nothing
MOST_WINDOWS = 512  # windows that the exhaustive search looks at; more add time and no certainty
BEAM = 48  # address wirings kept while lines are placed one after another
KEPT = 256  # wirings of the data lines that are scored in full
INVERTED_STARTS = 1024  # climbs for data lines that may be inverted
CLIMBS = 4  # wirings that are improved line by line
CLIP_LOW, CLIP_HIGH = -6.0, 9.0  # bits: no single neighbour may decide for many


@dataclass(frozen=True, slots=True)
class Candidate:
    """One wiring, the image it gives, and its score in bits less what the wiring itself costs."""

    wiring: Wiring
    image: bytes
    bits: float


def rank(candidate: Candidate) -> tuple[float, float, tuple[int, ...], int, tuple[int, ...], int]:
    """Best first: most bits, then the wiring that displaces least, then its numbers.

    Bits already hold the wiring's cost; among equals the plainer fault is the likelier one, and the numbers are
    there to make the order total.
    """
    w = candidate.wiring
    return (-round(candidate.bits, 6), prior_bits(w), w.address, w.address_inverted, w.data, w.data_inverted)


def judge(dump: bytes, wiring: Wiring, evidence: Evidence, *, ahead: bool = True) -> Candidate:
    """Score one wiring in full; `ahead` as in `Evidence.score`."""
    image = wiring.undo(dump)
    return Candidate(wiring, image, evidence.score(image, ahead=ahead) - prior_bits(wiring))


def best_candidates(
    dump: bytes, wirings: Iterable[Wiring], evidence: Evidence, *, ahead: bool = True
) -> list[Candidate]:
    """The wirings scored and ranked; of those that give the same image only the first."""
    return merged([judge(dump, wiring, evidence, ahead=ahead) for wiring in dict.fromkeys(wirings)])


def merged(candidates: list[Candidate]) -> list[Candidate]:
    """Ranked, and of those that give the same image only the first."""
    ranked = sorted(candidates, key=rank)
    return list({candidate.image: candidate for candidate in reversed(ranked)}.values())[::-1]


# --- data lines


@cache
def _data_tables() -> tuple[Array, Array]:
    """All permutations of eight lines: int64[40320, 8], and their byte tables, uint8[40320, 256]."""
    orders = np.array(list(itertools.permutations(range(8))), np.int64)
    values = np.arange(256)
    tables = np.zeros((len(orders), 256), np.uint8)
    for line in range(8):
        tables |= ((values[None, :] >> orders[:, line : line + 1] & 1) << line).astype(np.uint8)
    return orders, tables


def _useful_windows(array: Array) -> Array:
    """The dump without windows of a single value, thinned evenly to `MOST_WINDOWS` windows."""
    whole = array[: len(array) // WINDOW * WINDOW].reshape(-1, WINDOW) if len(array) >= WINDOW else array[None, :]
    windows = whole[(whole != whole[:, :1]).any(axis=1)]
    if len(windows) > MOST_WINDOWS:
        windows = windows[np.linspace(0, len(windows) - 1, MOST_WINDOWS).astype(np.int64)]
    return np.ascontiguousarray(windows.reshape(-1))


def search_data(
    dump: bytes, start: Wiring, evidence: Evidence, *, inverted: bool, report: Progress = no_progress
) -> list[Wiring]:
    """Wirings of the data lines, likeliest first by pairs in windows; the address lines stay as in `start`."""
    from latchlore.program._repairkernels import window_gains

    array = np.frombuffer(Wiring(start.address, start.address_inverted).undo(dump), np.uint8)
    windows, base = _useful_windows(array), own_frequencies(array) - np.float32(HANDICAP)
    if len(windows) == 0:
        return []
    orders, tables = _data_tables()
    found: list[tuple[float, tuple[int, ...], int]] = []
    for chunk in range(0, len(orders), 4032):
        report(chunk, len(orders), "data lines")
        part = slice(chunk, chunk + 4032)
        gains = window_gains(windows, evidence.gain, base, WINDOW, 0.0, tables[part])
        for index in np.argsort(-gains, kind="stable")[:KEPT]:
            found.append((float(gains[index]), tuple(orders[chunk + index].tolist()), 0))
    if inverted:
        found += _inverted_data(windows, base, evidence)
    found.sort(key=lambda item: (-item[0], item[2].bit_count(), item[1], item[2]))
    return [Wiring(start.address, start.address_inverted, lines, mask) for _, lines, mask in found[:KEPT]]


def _inverted_data(windows: Array, base: Array, evidence: Evidence) -> list[tuple[float, tuple[int, ...], int]]:
    """Permutations with inversions: climbs from every inversion under several orders."""
    none = (np.zeros((0, 2), np.uint8), np.zeros(0, np.float32))
    return _climbs(*none, windows, base, evidence.gain, flips=True, starts=INVERTED_STARTS)


def climb_pairs(counts: Array, gain: Array, *, flips: bool, starts: int) -> list[tuple[float, tuple[int, ...], int]]:
    """Data wirings that no swap or inversion improves, best sum over the counted pairs first."""
    first, second = np.nonzero(counts)
    pairs = np.stack([first, second], axis=1).astype(np.uint8)
    none = (np.zeros(0, np.uint8), np.zeros(256, np.float32))
    return _climbs(pairs, counts[first, second], *none, gain, flips=flips, starts=starts)


def _climbs(
    pairs: Array, numbers: Array, windows: Array, base: Array, gain: Array, *, flips: bool, starts: int
) -> list[tuple[float, tuple[int, ...], int]]:
    from latchlore.program._repairkernels import climb_data

    chooser = random.Random(f"{len(pairs)} {len(windows)} {starts}")
    found: dict[tuple[tuple[int, ...], int], float] = {}
    for index in range(starts):
        order = list(range(8))
        if index >= 256 or not flips:
            chooser.shuffle(order)
        lines = np.array([*order, index % 256 if flips else 0], np.int64)
        total = climb_data(pairs, numbers, windows, base, WINDOW, gain, lines, flips)
        found[tuple(lines[:8].tolist()), int(lines[8])] = float(total)
    ranked = sorted((-total, lines, mask) for (lines, mask), total in found.items())
    return [(-total, lines, mask) for total, lines, mask in ranked]


# --- address lines


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    """The lowest lines placed: of each block so built, the first and the last byte, indexed by the dump's address."""

    lines: tuple[int, ...]
    inverted: int
    first: Array
    last: Array
    total: float


def search_address(array: Array, gain: Array, *, inverted: bool) -> list[tuple[tuple[int, ...], int]]:
    """Orders (and inversions) of the address lines, likeliest first: lines are placed from A0 upwards.

    The line whose step makes the likeliest neighbours comes next; `BEAM` beginnings are kept.
    """
    lines = num_lines(len(array))
    clipped = np.clip(gain - own_frequencies(array)[None, :], CLIP_LOW, CLIP_HIGH)
    beam = [_Placed((), 0, array, array, 0.0)]
    for level in range(lines):
        grown = []
        for placed in beam:
            left = [line for line in range(lines) if line not in placed.lines]
            free = _free_addresses(left)
            for line in left:
                low = free[(free >> line & 1) == 0]
                for flip in (0, 1) if inverted else (0,):
                    grown.append(
                        _place(placed, line, low | flip << line, low | (1 - flip) << line, clipped, level, flip)
                    )
        grown.sort(key=lambda p: (-round(p.total, 4), p.inverted.bit_count(), p.lines, p.inverted))
        beam = grown[:BEAM]
    return [(placed.lines, placed.inverted) for placed in beam]


def _free_addresses(lines: list[int]) -> Array:
    """Every address that is 0 on all lines but these."""
    addresses = np.zeros(1, np.int64)
    for line in lines:
        addresses = np.concatenate([addresses, addresses | 1 << line])
    return addresses


def _place(placed: _Placed, line: int, front: Array, back: Array, clipped: Array, level: int, flip: int) -> _Placed:
    total = float(clipped[placed.last[front], placed.first[back]].sum())
    first, last = placed.first.copy(), placed.last.copy()
    low = np.minimum(front, back)
    first[low], last[low] = placed.first[front], placed.last[back]
    return _Placed((*placed.lines, line), placed.inverted | flip << level, first, last, placed.total + total)


def address_neighbours(wiring: Wiring, *, inverted: bool) -> list[Wiring]:
    """Wirings that differ by one inversion, one swap or one line moved past others, in a fixed order."""
    lines, mask = wiring.address, wiring.address_inverted
    found = [(lines, mask ^ 1 << k) for k in range(len(lines))] if inverted else []
    for i, j in itertools.combinations(range(len(lines)), 2):
        order = list(range(len(lines)))
        order[i], order[j] = order[j], order[i]
        found.append(_reordered(lines, mask, order))
        if j - i > 1:
            for a, b in ((i, j), (j, i)):
                order = list(range(len(lines)))
                order.insert(b, order.pop(a))
                found.append(_reordered(lines, mask, order))
    return [Wiring(order, flips, wiring.data, wiring.data_inverted) for order, flips in found]


def changed_lines(one: Wiring, other: Wiring) -> tuple[int, ...]:
    """Numbers of the lines, address or data, that two wirings treat differently."""
    flips = (one.address_inverted ^ other.address_inverted) | (one.data_inverted ^ other.data_inverted)
    lines = {k for k, (a, b) in enumerate(zip(one.address, other.address, strict=True)) if a != b}
    lines |= {k for k, (a, b) in enumerate(zip(one.data, other.data, strict=True)) if a != b}
    return tuple(sorted(lines | {k for k in range(flips.bit_length()) if flips >> k & 1}))


def data_neighbours(wiring: Wiring, *, inverted: bool) -> list[Wiring]:
    """Wirings that differ by one inversion or one swap of data lines, in a fixed order."""
    lines, mask = wiring.data, wiring.data_inverted
    found = [(lines, mask ^ 1 << k) for k in range(8)] if inverted else []
    for i, j in itertools.combinations(range(8), 2):
        order = list(range(8))
        order[i], order[j] = order[j], order[i]
        found.append(_reordered(lines, mask, order))
    return [Wiring(wiring.address, wiring.address_inverted, order, flips) for order, flips in found]


def climb(
    dump: bytes, start: Candidate, evidence: Evidence, neighbours: Callable[[Wiring], list[Wiring]], *, ahead: bool
) -> Candidate:
    """Improve a wiring in full score, the best neighbour each time, until no neighbour is better."""
    best = start
    while True:
        found = best
        for wiring in neighbours(best.wiring):
            candidate = judge(dump, wiring, evidence, ahead=ahead)
            if candidate.bits > found.bits + 1e-6:
                found = candidate
        if found is best:
            return best
        best = found


def _reordered(lines: tuple[int, ...], mask: int, order: list[int]) -> tuple[tuple[int, ...], int]:
    """Lines taken in another order, each with its own inversion."""
    flips = sum((mask >> source & 1) << target for target, source in enumerate(order))
    return tuple(lines[source] for source in order), flips


# --- both


def solve_address(dump: bytes, starts: list[Wiring], evidence: Evidence, *, inverted: bool) -> list[Candidate]:
    """Address lines searched under the data lines of each start; ranked candidates."""
    wirings = list(starts)
    for start in starts:
        bytes_right = Wiring(Wiring.straight(len(start.address)).address, 0, start.data, start.data_inverted).undo(dump)
        orders = search_address(np.frombuffer(bytes_right, np.uint8), evidence.gain, inverted=inverted)
        wirings += [Wiring(lines, mask, start.data, start.data_inverted) for lines, mask in orders]
    ranked = best_candidates(dump, wirings, evidence)
    step = partial(address_neighbours, inverted=inverted)
    return merged([climb(dump, candidate, evidence, step, ahead=True) for candidate in ranked[:CLIMBS]] + ranked)


def solve_data(
    dump: bytes, start: Wiring, evidence: Evidence, *, inverted: bool, report: Progress = no_progress
) -> list[Candidate]:
    """Data lines searched under the address lines of a start; ranked candidates."""
    wirings = [start, *search_data(dump, start, evidence, inverted=inverted, report=report)]
    ranked = best_candidates(dump, wirings, evidence, ahead=False)
    step = partial(data_neighbours, inverted=inverted)
    return merged([climb(dump, candidate, evidence, step, ahead=False) for candidate in ranked[:CLIMBS]] + ranked)


def solve_both(dump: bytes, evidence: Evidence, *, inverted: bool, report: Progress = no_progress) -> list[Candidate]:
    """Address and data lines searched together; ranked candidates.

    Each line in turn is taken for A0: the pairs of bytes that then stand side by side settle the data lines, these
    settle the address lines, and these the data lines anew.
    """
    lines = num_lines(len(dump))
    starts = _starts_by_pairs(dump, lines, evidence, inverted=inverted)
    report(1, 4, "address and data lines")
    ranked = solve_address(dump, starts, evidence, inverted=inverted)
    for step in (2, 3):
        report(step, 4, "address and data lines")
        better = solve_data(dump, ranked[0].wiring, evidence, inverted=inverted)[0].wiring
        if better == ranked[0].wiring:
            return ranked
        ranked = merged(solve_address(dump, [better], evidence, inverted=inverted) + ranked)
    return ranked


def _starts_by_pairs(dump: bytes, lines: int, evidence: Evidence, *, inverted: bool) -> list[Wiring]:
    """The likeliest data wirings, each under the line that served as A0 when it was found."""
    from latchlore.program._repairkernels import count_pairs

    array = np.frombuffer(dump, np.uint8)
    clipped = np.maximum(evidence.gain, np.float32(-11.0))
    found: list[tuple[float, tuple[int, ...], int]] = []
    for line in range(lines):
        low = _free_addresses([k for k in range(lines) if k != line])
        for front, back in ((low, low | 1 << line), (low | 1 << line, low))[: 2 if inverted else 1]:
            counts = count_pairs(array[front], array[back])
            base = float(own_frequencies(array)[array[back]].sum())
            climbs = climb_pairs(counts, clipped, flips=inverted, starts=96)[:2]
            found += [(total - base, order, mask) for total, order, mask in climbs]
    found.sort(key=lambda item: (-item[0], item[1:]))
    straight = tuple(range(lines))
    return list(dict.fromkeys(Wiring(straight, 0, order, mask) for _, order, mask in found[:6]))

"""The repair's inner loops in plain Python: slow, easy to read, and tested to give what the compiled ones give."""

from __future__ import annotations

import itertools
import math
from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any

from latchlore.program._repairkernels import EXPERTS, RUN, SWITCH

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    Array = npt.NDArray[Any]


class _Seen:
    """What the image, or its part so far, has shown."""

    def __init__(self, first: int) -> None:
        self.counts: Counter[int] = Counter([first])
        self.steps: Counter[int] = Counter()
        self.follow: Counter[tuple[int, int]] = Counter()
        self.after: Counter[int] = Counter()

    def learn(self, last: int, here: int, times: int) -> None:
        self.counts[here] += times
        self.steps[(here - last) % 256] += times
        self.follow[last, here] += times
        self.after[last] += times


def description_bits(image: bytes, code: Array, text: Array, ahead: bool) -> float:
    """See the compiled one."""
    if len(image) < 2:
        return 8.0 * len(image)
    seen = _Seen(image[0])
    pairs = list(itertools.pairwise(image))
    if ahead:
        for last, here in pairs:
            seen.learn(last, here, 1)
    weights = [1 / EXPERTS] * EXPERTS
    bits = 8.0
    for index, (last, here) in enumerate(pairs, 1):
        if ahead:
            seen.learn(last, here, -1)
        known = len(image) - 1 if ahead else index
        own = (seen.counts[here] + 0.25) / (known + 64)
        chances = [
            1 / 256,
            float(code[last, here]),
            float(text[last, here]),
            RUN if here == last else (1 - RUN) / 255,
            own,
            (seen.steps[(here - last) % 256] + 0.05) / (known + 11.8),
            (seen.follow[last, here] + 2 * own) / (seen.after[last] + 2),
        ]
        total = sum(weight * chance for weight, chance in zip(weights, chances, strict=True))
        bits -= math.log2(total)
        weights = [(1 - SWITCH) * w * c / total + SWITCH / EXPERTS for w, c in zip(weights, chances, strict=True)]
        seen.learn(last, here, 1)
    return bits


def window_gains(
    image: bytes, gain: Array, base: Array, width: int, least: float, tables: Sequence[Sequence[int]]
) -> list[float]:
    """See the compiled one."""
    result = []
    for table in tables:
        total = 0.0
        for start in range(0, len(image) - 1, width):
            window = image[start : start + width]
            won = sum(float(gain[table[a], table[b]] - base[b]) for a, b in itertools.pairwise(window))
            total += max(0.0, won - least)
        result.append(total)
    return result


def landing_bits(image: bytes, kinds: Sequence[int], is_big_endian: bool, share: float) -> float:
    """See the compiled one."""
    size = len(image)
    if size < 8:
        return 0.0

    def follows_end(at: int) -> bool:
        return bool(at >= 1 and kinds[image[at - 1]] & 4) or bool(at >= 3 and kinds[image[at - 3]] & 2)

    rate = (sum(follows_end(at) for at in range(size)) + 0.5) / (size + 1)
    won, lost = math.log2((share + (1 - share) * rate) / rate), math.log2(1 - share)
    bases = max(65536 // size, 1)
    order = "big" if is_big_endian else "little"
    targets = {
        int.from_bytes(image[at + 1 : at + 3], "big" if order == "big" else "little")
        for at in range(size - 2)
        if kinds[image[at]] & 1
    }
    sums: defaultdict[int, float] = defaultdict(float)
    for target in sorted(targets):
        sums[target // size % bases] += won if follows_end(target % size) else lost
    best = max(sums.values(), default=0.0)
    return max(0.0, (best if len(sums) == bases else max(best, 0.0)) - math.log2(bases))


def count_pairs(first: bytes, second: bytes) -> Counter[tuple[int, int]]:
    """See the compiled one."""
    return Counter(zip(first, second, strict=True))

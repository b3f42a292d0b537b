"""How likely one byte is to follow another in code and in text, from the shipped tables of counts."""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import UnknownName

if TYPE_CHECKING:
    import numpy.typing as npt

    Counts = npt.NDArray[np.float64]  # [256, 256]: how often the second byte follows the first
    Chances = npt.NDArray[np.float64]  # [256, 256]: chance of the second byte after the first; rows add up to 1

# Processors whose pairs were counted, and the table that serves each.  8080 code is not counted: Z80 programs use
# relative branches and prefixes all over, so their table would not fit it.
TABLE_OF = {"6502": "6502", "65C02": "6502", "Z80": "z80"}

# A byte's row is trusted as if it had been seen this many times with the general frequencies.  Few programs were
# counted, so a strong lean serves programs that were not: measured best from 250 to 600 (scripts/bench repair).
BACK_OFF = 250.0


@cache
def pair_counts(name: str) -> dict[str, Counts]:
    """The counts of one table (``6502``, ``z80``, ``text``), source by source."""
    text = (resources.files("latchlore.program") / f"_pairs_{name}.txt").read_text(encoding="utf-8")
    sources: dict[str, Counts] = {}
    counts = np.zeros((256, 256))
    for line in text.splitlines():
        if line.startswith("source "):
            counts = sources[line.removeprefix("source ")] = np.zeros((256, 256))
        elif not line.startswith("#"):
            first, *cells = line.split()
            for cell in cells:
                second, _, number = cell.partition(":")
                counts[int(first, 16), int(second, 16)] = int(number)
    return sources


def chances_of(counts: Counts) -> Chances:
    """Chances from counts: a row that was seen seldom leans on how often the second byte occurs at all."""
    general = counts.sum(axis=0) + 0.5
    general /= general.sum()
    seen = counts.sum(axis=1, keepdims=True)
    chances: Chances = (counts + BACK_OFF * general) / (seen + BACK_OFF)
    return chances


@cache
def code_chances(cpu: str, without: str = "") -> Chances:
    """Chances in code for a processor; every source weighs the same.

    `without` leaves out the sources whose name holds that word, so that a measurement can judge programs that the
    table has not seen.  Refuses a processor whose pairs were not counted.
    """
    if cpu not in TABLE_OF:
        raise UnknownName(f"no pairs of bytes are counted for processor {cpu!r}", sorted(TABLE_OF))
    sources = pair_counts(TABLE_OF[cpu])
    kept = [counts for source, counts in sources.items() if not without or without not in source]
    return chances_of(sum((counts * (50_000 / counts.sum()) for counts in kept), np.zeros((256, 256))))


@cache
def text_chances() -> Chances:
    """Chances in English text."""
    return chances_of(sum(pair_counts("text").values(), np.zeros((256, 256))))

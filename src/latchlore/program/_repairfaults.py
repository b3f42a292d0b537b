"""Faults that a dump shows by itself: constant and coupled data lines, dead and joined address lines, silent chips."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any

import numpy as np

from latchlore.program import _repairwords as words

if TYPE_CHECKING:
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]

LEAST_TELLING = 16  # bytes (or pairs) that must have had the chance to differ before a fault is named


class FaultKind(StrEnum):
    """What is wrong; the comment gives `lines` and `level`."""

    NOT_SELECTED = "not selected"  # no lines; level: the one byte that is read everywhere
    ADDRESS_ECHO = "address echo"  # no lines: every byte equals the low byte of its address
    DATA_CONSTANT = "constant data line"  # one data line; its level
    DATA_JOINED = "equal data lines"  # two data lines that always agree
    DATA_OPPOSED = "opposite data lines"  # two data lines that never agree
    ADDRESS_DEAD = "dead address line"  # one address line that changes nothing
    ADDRESS_JOINED = "joined address lines"  # two address lines that act as one; level 0: a low wins, 1: a high wins


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault with what it rests on: `telling` bytes or pairs had the chance to show otherwise, none did."""

    kind: FaultKind
    lines: tuple[int, ...]
    level: int
    telling: int

    @property
    def loses_content(self) -> bool:
        """Whether bytes of the chip are missing from the dump for good."""
        return self.kind not in (FaultKind.DATA_CONSTANT, FaultKind.DATA_OPPOSED)

    def __str__(self) -> str:
        return words.fault(self.kind.value, self.lines, self.level, self.telling)


def find_faults(dump: bytes) -> tuple[Fault, ...]:
    """The faults that a dump shows: silent chip first, then data lines, then address lines, lowest line first.

    An address fault is only looked for where the size is a power of two.  A line counts as constant, joined or dead
    only where at least `LEAST_TELLING` different chances to differ were seen.  Whether a constant top data line is a
    fault or a table of seven bits, and a dead top address line a fault or a smaller chip, no dump can tell.
    """
    array = np.frombuffer(dump, np.uint8)
    if len(array) == 0:
        return ()
    if (array == array[0]).all():
        return (Fault(FaultKind.NOT_SELECTED, (), int(array[0]), len(array)),)
    if len(array) >= LEAST_TELLING and (array == (np.arange(len(array)) & 0xFF)).all():
        return (Fault(FaultKind.ADDRESS_ECHO, (), 0, len(array)),)
    found = [*_data_faults(array)]
    if len(array) & (len(array) - 1) == 0:
        found += _address_faults(array)
    return tuple(found)


def _data_faults(array: Bytes) -> list[Fault]:
    # Fill between programs repeats one byte and is no evidence; every different value counts once.
    values = np.unique(array)
    if len(values) < LEAST_TELLING:
        return []
    bits = values[:, None] >> np.arange(8) & 1
    found, constant = [], set()
    for line in range(8):
        if (bits[:, line] == bits[0, line]).all():
            constant.add(line)
            found.append(Fault(FaultKind.DATA_CONSTANT, (line,), int(bits[0, line]), len(values)))
    for low in range(8):
        for high in range(low + 1, 8):
            if {low, high} & constant:
                continue
            differ = bits[:, low] != bits[:, high]
            if not differ.any():
                found.append(Fault(FaultKind.DATA_JOINED, (low, high), 0, len(values)))
            elif differ.all():
                found.append(Fault(FaultKind.DATA_OPPOSED, (low, high), 0, len(values)))
    return found


def _address_faults(array: Bytes) -> list[Fault]:
    lines = len(array).bit_length() - 1
    found, dead = [], set()
    for line in range(lines):
        cut = array.reshape(-1, 2, 1 << line)
        telling = _telling(cut[:, 0].reshape(-1))
        if (cut[:, 0] == cut[:, 1]).all() and telling >= LEAST_TELLING:
            dead.add(line)
            found.append(Fault(FaultKind.ADDRESS_DEAD, (line,), 0, telling))
    for low in range(lines):
        for high in range(low + 1, lines):
            if {low, high} & dead:
                continue
            cut4 = array.reshape(-1, 2, 1 << (high - low - 1), 2, 1 << low)
            both_low, both_high = cut4[:, 0, :, 0], cut4[:, 1, :, 1]
            only_low, only_high = cut4[:, 0, :, 1], cut4[:, 1, :, 0]
            if not (only_low == only_high).all():
                continue
            telling = int((both_low != both_high).sum())
            for level, winner in ((0, both_low), (1, both_high)):
                # three quarters of one fill are equal without any fault
                if (only_low == winner).all() and min(telling, _telling(winner)) >= LEAST_TELLING:
                    found.append(Fault(FaultKind.ADDRESS_JOINED, (low, high), level, telling))
    return found


def _telling(part: npt.NDArray[np.generic]) -> int:
    """How many bytes of a part differ from its commonest one: fill says nothing."""
    if len(part) == 0 or part.size == 0:
        return 0
    _, counts = np.unique(part, return_counts=True)
    return int(part.size - counts.max()) if len(counts) > 1 else 0


@dataclass(frozen=True, slots=True)
class LineFault:
    """How one data line of what was read comes from what was stored.

    `readings`: every simple explanation that fits, plainest first, in words; `telling`: how many bytes would have
    shown it otherwise for the first.  Empty `readings`: no single line explains it.
    """

    line: int
    readings: tuple[str, ...]
    telling: int

    @property
    def is_sound(self) -> bool:
        """Whether "as stored" fits."""
        return bool(self.readings) and self.readings[0] == words.AS_STORED

    def __str__(self) -> str:
        return words.line_fault(self.line, self.readings, self.telling)


def compare_known(stored: bytes, read: bytes) -> tuple[LineFault, ...]:
    """What happened to each data line, from bytes whose true values are known; lines 0 to 7.

    Tried in this order: as stored, always 0, always 1, inverted, another line, another line inverted, two lines
    joined with low or high winning.  All that fit are listed, for few bytes cannot tell them apart.  Refuses
    sequences of different lengths and empty ones.
    """
    if len(stored) != len(read) or not stored:
        raise ValueError(f"{len(stored)} stored and {len(read)} read bytes cannot be compared one by one")
    want = np.frombuffer(stored, np.uint8)[:, None] >> np.arange(8) & 1
    got = np.frombuffer(read, np.uint8)[:, None] >> np.arange(8) & 1
    return tuple(_explain_line(line, want, got[:, line]) for line in range(8))


def _explain_line(line: int, want: npt.NDArray[Any], got: npt.NDArray[Any]) -> LineFault:
    own = want[:, line]
    tried = [(words.AS_STORED, own, int(own.any()) + int((own == 0).any()))]
    tried += [(words.always(level), np.full_like(got, level), int((own != level).sum())) for level in (0, 1)]
    tried.append((words.INVERTED, 1 - own, len(own)))
    others = [other for other in range(8) if other != line]
    tried += [(words.carries(other), want[:, other], int((own != want[:, other]).sum())) for other in others]
    tried += [(words.carries(other, inverted=True), 1 - want[:, other], len(own)) for other in others]
    for level, join in ((0, np.bitwise_and), (1, np.bitwise_or)):
        for other in others:
            tried.append(
                (words.joined_with(other, level), join(own, want[:, other]), int((own != want[:, other]).sum()))
            )
    fits = [(text, telling) for text, values, telling in tried if (values == got).all()]
    return LineFault(line, tuple(text for text, _ in fits), fits[0][1] if fits else 0)

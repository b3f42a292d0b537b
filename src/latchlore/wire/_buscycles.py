"""Reads a processor's bus cycles from a capture: which address was read or written, with which byte, when.

Two manners.  *Clocked* (6502, 6800 and their kin): address and R/W stand while the clock's second half is high; the
byte is taken when it falls.  *Strobed* (Z80, 8080 and their kin): a read or write strobe tells the direction and its
end takes the byte; MREQ and IORQ tell memory from ports.
Source: R650X data sheet (timing figures), Z80 CPU user manual UM0080 (timing diagrams); from memory, both.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Span, UnknownName, describe_place
from latchlore.wire import _buswording as words
from latchlore.wire import _edgekernel as kernel
from latchlore.wire._capture import ChannelKind
from latchlore.wire._lines import clean_line, get_line

if TYPE_CHECKING:
    import numpy.typing as npt

    from latchlore.wire._capture import Capture, Times

    Words = npt.NDArray[np.int64]

ADDRESS_LINES, DATA_LINES = 24, 8


@dataclass(frozen=True, slots=True)
class BusLines:
    """The lines of a bus by name: `address` and `data` lowest first, or one vector each.

    Clocked: `clock` (high in the half that takes data) and `read_high` (R/W: high reads).  Strobed: `read`, `write`
    (active low), with `memory` and `ports` (MREQ, IORQ, active low) where the capture has them.
    """

    address: tuple[str, ...]
    data: tuple[str, ...]
    clock: str | None = None
    read_high: str | None = None
    read: str | None = None
    write: str | None = None
    memory: str | None = None
    ports: str | None = None

    def __post_init__(self) -> None:
        clocked = self.clock is not None and self.read_high is not None
        strobed = self.read is not None or self.write is not None
        if clocked == strobed:
            raise ValueError(words.MANNER)
        if not 1 <= len(self.address) <= ADDRESS_LINES or not 1 <= len(self.data) <= DATA_LINES:
            raise ValueError(words.WIDTHS.format(address=len(self.address), data=len(self.data)))


@dataclass(frozen=True, slots=True, eq=False)
class BusReading:
    """Bus cycles in time order, as columns: `when` picoseconds, `address`, `value`, `writes`, `ports`.

    `address_doubt` and `value_doubt`: the bits that cannot be told, because the line moves within a sampling period
    of the moment it is taken, or floats.
    """

    file: str
    when: Times
    address: Words
    address_doubt: Words
    value: npt.NDArray[np.uint8]
    value_doubt: npt.NDArray[np.uint8]
    writes: npt.NDArray[np.bool_]
    ports: npt.NDArray[np.bool_]
    notes: tuple[str, ...]

    @property
    def count(self) -> int:
        """How many cycles there are."""
        return len(self.when)

    def describe(self, index: int) -> str:
        """A cycle in words: ``12.5 us: writes 41 to C800``."""
        place = describe_place("port" if self.ports[index] else "memory", int(self.address[index]))
        turn = "writes {value} to" if self.writes[index] else "reads {value} from"
        value = f"{self.value[index]:02X}" + ("?" if self.value_doubt[index] else "")
        doubt = "?" if self.address_doubt[index] else ""
        return f"{Span(int(self.when[index]))}: {turn.format(value=value)} {place}{doubt}"


def read_bus(capture: Capture, lines: BusLines) -> BusReading:
    """Every bus cycle of a capture.  Refuses lines that it does not have, and buses that are too wide."""
    for names, most in ((lines.address, ADDRESS_LINES), (lines.data, DATA_LINES)):
        if len(_bits(capture, names)) > most:
            width = len(_bits(capture, names))
            raise UnknownName(words.TOO_WIDE.format(file=capture.file, name=names[0], width=width, most=most))
    if lines.clock is not None and lines.read_high is not None:
        _, falls = kernel.find_pulses(*clean_line(capture, lines.clock), 1)
        level, doubt = _sample(capture, (lines.read_high,), falls)
        return _reading(capture, lines, falls, level == 0, np.zeros(len(falls), bool), doubt)
    moments: list[Times] = []
    kinds: list[npt.NDArray[np.bool_]] = []
    for name, writes in ((lines.read, False), (lines.write, True)):
        if name is not None:
            _, ends = kernel.find_pulses(*clean_line(capture, name), 0)
            moments.append(ends)
            kinds.append(np.full(len(ends), writes))
    when = np.concatenate(moments)
    order = np.argsort(when, kind="stable")
    when, writes_at = when[order], np.concatenate(kinds)[order]
    ports = np.zeros(len(when), bool)
    unsure = np.zeros(len(when), np.int64)
    if lines.ports is not None:
        level, unsure = _sample(capture, (lines.ports,), when)
        ports = level == 0
    elif lines.memory is not None:
        level, unsure = _sample(capture, (lines.memory,), when)
        ports = level == 1
    return _reading(capture, lines, when, writes_at, ports, unsure)


def _bits(capture: Capture, names: tuple[str, ...]) -> tuple[str, ...]:
    if len(names) == 1:
        with suppress(UnknownName):  # a bit such as A[3], or nothing that the capture has; said where it is read
            channel = capture.get_channel(names[0])
            if channel.kind is ChannelKind.VECTOR:
                return channel.bit_names
    return names


def _sample(capture: Capture, names: tuple[str, ...], moments: Times) -> tuple[Words, Words]:
    """Levels just before the moments as a number, and the bits in doubt.

    The end of a strobe takes what stood before it; a line that moves in the same sampling period, or at the very
    time, is in doubt.
    """
    value, doubt = np.zeros(len(moments), np.int64), np.zeros(len(moments), np.int64)
    for bit, name in enumerate(_bits(capture, names)):
        before, at, unsure = (np.zeros(len(moments), np.uint8) for _ in range(3))
        kernel.add_line(*get_line(capture, name), moments, 0, before, at, unsure)
        value |= before.astype(np.int64) << bit
        doubt |= unsure.astype(np.int64) << bit
    if capture.step is None:  # every change is recorded: what moves at the very time of the edge moves after it
        doubt &= 0 if not len(moments) else _floating(capture, names, moments)
    return value, doubt


def _floating(capture: Capture, names: tuple[str, ...], moments: Times) -> Words:
    """The bits that had no level just before the moments."""
    found = np.zeros(len(moments), np.int64)
    for bit, name in enumerate(_bits(capture, names)):
        times, levels = get_line(capture, name)
        at = kernel.next_edge(times, moments, False) - 1
        level = np.where(at >= 0, levels[np.maximum(at, 0)], 2) if len(levels) else np.full(len(moments), 2)
        found |= (level > 1).astype(np.int64) << bit
    return found


def _reading(
    capture: Capture,
    lines: BusLines,
    when: Times,
    writes: npt.NDArray[np.bool_],
    ports: npt.NDArray[np.bool_],
    unsure: Words,
) -> BusReading:
    address, address_doubt = _sample(capture, lines.address, when)
    value, value_doubt = _sample(capture, lines.data, when)
    notes: list[str] = []
    for count, text in (
        (int(np.count_nonzero(unsure)), words.DIRECTION),
        (int(np.count_nonzero(address_doubt)), words.ADDRESS),
        (int(np.count_nonzero(value_doubt)), words.VALUE),
    ):
        if count:
            notes.append(text.format(count=count, num=len(when)))
    if not len(when):
        notes.append(words.NO_CYCLES)
    if capture.step is not None and len(when) > 1:
        period = int(np.diff(when).min())
        if period < 4 * capture.step.picoseconds:
            notes.append(words.TOO_SLOW.format(step=capture.step, period=Span(period)))
    return BusReading(
        *(capture.file, when, address, address_doubt, value.astype(np.uint8), value_doubt.astype(np.uint8)),
        *(writes, ports, tuple(notes)),
    )

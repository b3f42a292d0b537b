"""Bus logs: accesses of a processor to its devices, one a line; and the bytes that went to one register.

A line is ``[time] [R or W] address value``, address and value in hexadecimal; without a letter it is a write.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, Span
from latchlore.wire import _logwording as words
from latchlore.wire._bytelog import Run, decode_log, split_lines

if TYPE_CHECKING:
    from latchlore.base import AddressSet

_ACCESS = re.compile(
    r"\s*(?:([+-]?\d+(?:\.\d+)?\s*(?:ps|ns|us|µs|ms|s))\s*[:,;]?\s+)?(?:([RrWw])[\s,]+)?"
    r"(?:0[xX]|\$)?([0-9A-Fa-f]{1,8})[hH]?[\s,;:=]+(?:0[xX]|\$)?([0-9A-Fa-f]{1,2})[hH]?\s*"
)


@dataclass(frozen=True, slots=True)
class Access:
    """One access: `address`, `value` 0 to 255, the line, and the time if the log has one."""

    is_write: bool
    address: int
    value: int
    line: int
    time: Span | None = None


@dataclass(frozen=True, slots=True)
class BusLog:
    """All accesses of a bus log, in file order."""

    file: str
    accesses: tuple[Access, ...]

    def origin(self, access: Access) -> Origin:
        """The line of an access."""
        return Origin.at_line(self.file, access.line)


def parse_bus_log(raw: bytes, file: str) -> BusLog:
    """The accesses of a bus log.  Refuses what `parse_log` refuses of a text, and every line that is no access."""
    accesses: list[Access] = []
    mistakes: list[tuple[Origin, str]] = []
    for number, text in enumerate(split_lines(decode_log(raw, file)), 1):
        body = text.partition("#")[0]
        if not body.strip():
            continue
        match = _ACCESS.fullmatch(body)
        if match is None:
            mistakes.append((Origin.at_line(file, number), words.NO_ACCESS.format(this=body.strip())))
            continue
        try:
            time = Span.parse(match[1]) if match[1] else None
        except ValueError as error:
            mistakes.append((Origin.at_line(file, number), str(error)))
            continue
        is_write = (match[2] or "W").upper() == "W"
        accesses.append(Access(is_write, int(match[3], 16), int(match[4], 16), number, time))
    if mistakes:
        raise BadInput.of_all(mistakes)
    if not accesses:
        raise BadInput(Origin(file), words.NO_ACCESSES)
    return BusLog(file, tuple(accesses))


def written_bytes(log: BusLog, registers: AddressSet) -> Run:
    """The bytes written to any of these addresses, in order, as one run with the line of each.

    Which register takes the data comes from outside (a board's decode, a document): a log cannot tell a data write
    from a write that only makes a strobe.
    """
    taken = [a for a in log.accesses if a.is_write and a.address in registers]
    times = tuple(a.time for a in taken)
    places = tuple((k, a.line) for k, a in enumerate(taken)) or ((0, 1),)
    data = bytes(a.value for a in taken)
    return Run(data, log.file, places, times if any(t is not None for t in times) else None)

"""A stand-in of the model: it answers reads and takes bytes as specified, and notes every change of every line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import InputKind, SubjectKind
from latchlore.evidence import vectorwording as words
from latchlore.evidence._standin import Feed
from latchlore.evidence._standinlines import data_bits, strobe_level

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.evidence._standin import Basis, StandIn, StatusLine

MAX_READS = 2_000
MAX_BYTES = 256
DATA_LINES = 8


class ModelStopped(Exception):
    """The run has shown what it can; the text says why."""


class Line(NamedTuple):
    """A line: its name, whether the host drives it (else the stand-in), and its level before anything happens.

    `idle` None: not known before the first write; the strobe is taken to be at rest.  `data_bit`: 0 to 7 of a data
    line, else None.
    """

    name: str
    host: bool
    idle: int | None
    data_bit: int | None = None


class Change(NamedTuple):
    """A line takes a level at a cycle of the host's clock, counted from the entry."""

    cycle: int
    line: str
    level: int


@dataclass(frozen=True, slots=True)
class Answer:
    """A line of the stand-in takes `level` so many cycles behind each strobe's first edge, and rests at the other one.

    `is_pulse`: it tells the host to go on, as an acknowledge does; else it holds the host off while it lasts.
    """

    line: str
    level: int
    after: int
    lasts: int
    is_pulse: bool = False

    def level_at(self, cycle: int, edge: int | None) -> int:
        """The line's level, the last strobe having been at `edge`."""
        begins = None if edge is None else edge + self.after
        return self.level if begins is not None and begins <= cycle < begins + self.lasts else 1 - self.level

    def ready_at(self, edge: int) -> int:
        """From when on the next strobe is welcome."""
        return edge + self.after + (0 if self.is_pulse else self.lasts)


class Model:
    """What a stand-in does.  `reads`: (space, address) → answers of other devices, in turn; the last one stays."""

    def __init__(
        self,
        basis: Basis,
        stand_in: StandIn,
        answers: Sequence[Answer],
        reads: Mapping[tuple[InputKind, int], Sequence[int]],
    ) -> None:
        self.roles, self.status = basis.roles, stand_in.status
        self.answers = {one.line: one for one in answers}
        self.reads_of, self.turns = reads, dict.fromkeys(reads, 0)
        self.active = strobe_level(basis)
        self.writes = [role for role in basis.roles if role.direction == "write" and role.bit is not None]
        self.data = [role for role in basis.roles if role.direction == "write" and role.signal == "DATA"]
        self.bits = data_bits(basis)
        self.lines = tuple(self._iter_lines(basis))
        self.levels: dict[str, int] = {line.name: line.idle for line in self.lines if line.idle is not None}
        self.changes: list[Change] = []
        self.taken: list[int] = []
        self.overrun: list[int] = []
        self.byte = 0
        self.edge: int | None = None
        self.quiet = 0
        self.settled = -1

    def _iter_lines(self, basis: Basis) -> list[Line]:
        names = data_names(basis)
        at_rest = None if self.active is None else 1 - self.active
        found = [Line(role.signal, True, at_rest if role.signal == "STROBE" else None) for role in self.writes]
        found.sort(key=lambda line: line.name != "STROBE")
        found += [Line(names[bit], True, None, bit) for bit in self.bits]
        for status in self.status:
            for line in status.bits:
                if line.feed is Feed.STAND_IN:
                    answer = self.answers.get(line.signal)
                    pin = 1 if line.pin is None else line.pin
                    found.append(Line(line.signal, False, pin if answer is None else 1 - answer.level))
        return list(dict.fromkeys(found))

    def read(self, kind: InputKind, address: int, cycle: int) -> int:
        """The byte that a read gives."""
        self.quiet += 1
        if self.quiet > MAX_READS:
            raise ModelStopped(words.MANY_READS)
        for status in self.status:
            if kind is status.kind and address in status.addresses:
                return self._status(status.value or 0, status.bits, cycle)
        answers = self.reads_of.get((kind, address), (0,))
        turn = self.turns.get((kind, address), 0)
        self.turns[kind, address] = turn + 1
        return answers[min(turn, len(answers) - 1)]

    def _status(self, value: int, bits: Sequence[StatusLine], cycle: int) -> int:
        for line in bits:
            answer = self.answers.get(line.signal) if line.feed is Feed.STAND_IN else None
            if answer is not None:
                role = next(role for role in self.roles if role.signal == line.signal and role.direction == "read")
                bit = answer.level_at(cycle, self.edge) ^ int(role.inverted)
                value = value & ~(1 << line.bit) | bit << line.bit
        return value

    def write(self, kind: InputKind, address: int, value: int, cycle: int) -> None:
        """The host writes a register."""
        self.quiet = 0
        self._settle(cycle)
        for role in self.data:
            if role.kind is kind and address in role.addresses:
                self.byte = sum(value & 1 << bit for bit in self.bits)
                for line in self.lines:
                    if line.data_bit is not None:
                        self._take(cycle, line.name, value >> line.data_bit & 1)
        strobed = False
        for role in self.writes:
            if role.kind is kind and address in role.addresses and role.bit is not None:
                level = (value >> role.bit & 1) ^ int(role.inverted)
                before = self.levels.get(role.signal)
                self._take(cycle, role.signal, level)
                strobed |= role.signal == "STROBE" and level == self.active and before != level
        if strobed:
            self._strobe(cycle)

    def _strobe(self, cycle: int) -> None:
        """The strobe's first edge: the byte is taken."""
        if self.edge is not None and any(cycle < one.ready_at(self.edge) for one in self.answers.values()):
            self.overrun.append(cycle)
        self.taken.append(self.byte)
        self.edge = cycle
        if len(self.taken) >= MAX_BYTES:
            raise ModelStopped(words.MANY_BYTES)

    def finish(self) -> None:
        """Put down what the stand-in still does behind the host's last write."""
        if self.edge is not None and self.answers:
            self._settle(max(self.edge + one.after + one.lasts for one in self.answers.values()))

    def _settle(self, cycle: int) -> None:
        """Put down the changes of the stand-in's own lines up to a cycle, each once."""
        if self.edge is None:
            return
        due = []
        for one in self.answers.values():
            begins = self.edge + one.after
            due += [(begins, one.line, one.level), (begins + one.lasts, one.line, 1 - one.level)]
        for at, line, level in sorted(due):
            if self.settled < at <= cycle:
                self._take(at, line, level)
        self.settled = max(self.settled, cycle)

    def _take(self, cycle: int, line: str, level: int) -> None:
        if self.levels.get(line) != level:
            self.levels[line] = level
            self.changes.append(Change(cycle, line, level))


def data_names(basis: Basis) -> tuple[str, ...]:
    """The names of the eight data lines: the board's, or DATA0 to DATA7 by the bit."""
    names = [f"DATA{bit}" for bit in range(DATA_LINES)]
    data = [role for role in basis.roles if role.direction == "write" and role.signal == "DATA"]
    for row in basis.table.rows:
        if row.subject.kind is SubjectKind.BIT and row.subject.key[2] == "write":
            space, address, _, bit = row.subject.key
            is_data = any(role.kind.value == space and int(address, 16) in role.addresses for role in data)
            source = next((str(one.value) for one in row.testimonies), "")
            if is_data and source and "(" not in source and " " not in source:
                names[int(bit)] = source.upper()
    return tuple(names)


def made_up_changes(
    lines: Sequence[Line], data: Sequence[int], level: int, set_up: int, width: int, every: int
) -> tuple[Change, ...]:
    """The host's lines for some bytes, `set_up` before a pulse of `width`, one byte every so many cycles."""
    levels: dict[str, int] = {"STROBE": 1 - level}
    found: list[Change] = [Change(0, "STROBE", 1 - level)]
    for number, byte in enumerate(data):
        start = number * max(every, set_up + width + 1)
        for line in lines:
            if line.data_bit is not None and levels.get(line.name) != byte >> line.data_bit & 1:
                levels[line.name] = byte >> line.data_bit & 1
                found.append(Change(start, line.name, levels[line.name]))
        found.append(Change(start + set_up, "STROBE", level))
        found.append(Change(start + set_up + width, "STROBE", 1 - level))
    return tuple(found)

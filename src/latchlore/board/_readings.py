"""Continuity readings as they are taken at the bench: the values, and the text file they are typed into."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, decode_text
from latchlore.board import tracefacts as facts
from latchlore.board._board import PinAt
from latchlore.board._parts import plain_name

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from latchlore.board._board import Board


_NOWHERE = Origin("")


@dataclass(frozen=True, slots=True)
class MeterReading:
    """One action with the meter: `held` against the pins `touched`.

    `joined` are those that beeped, `ohms` (pin, ohms) those that showed a resistance instead, `diodes` those that
    showed a junction; the rest showed nothing.  `pressed`: the touched pins were pressed together, so a beep
    means one of them at least.  `strip`: pins that a conducting strip held together, the held one among them; a
    beep then means one of these at least, and silence none.  `lifted` names the parts out of their sockets, `side`
    the side of the board the probes stood on (may be empty).
    """

    held: PinAt
    touched: tuple[PinAt, ...]
    joined: tuple[PinAt, ...] = ()
    ohms: tuple[tuple[PinAt, float], ...] = ()
    diodes: tuple[PinAt, ...] = ()
    pressed: bool = False
    strip: tuple[PinAt, ...] = ()
    lifted: tuple[str, ...] = ()
    side: str = ""
    words: str = ""
    origin: Origin = _NOWHERE

    @property
    def beeped(self) -> tuple[PinAt, ...]:
        """Pins believed to be joined: beeps, and resistances that copper has."""
        if self.strip or (self.pressed and len(self.touched) > 1):
            return ()
        copper = tuple(at for at, ohms in self.ohms if ohms <= facts.JOINT_OHMS)
        return (*self.joined, *copper)

    @property
    def silent(self) -> tuple[PinAt, ...]:
        """Pins seen not to be joined to the held one."""
        if self.pressed and len(self.touched) > 1 and (self.joined or self.ohms or self.diodes):
            return ()
        heard = set(self.joined) | {at for at, ohms in self.ohms if ohms <= facts.JOINT_OHMS}
        return tuple(at for at in self.touched if at not in heard)

    @property
    def clues(self) -> tuple[tuple[PinAt, tuple[PinAt, ...]], ...]:
        """Pins that are joined to one at least of several: (pin, the several)."""
        if self.strip:
            return tuple((at, self.strip) for at in self.joined)
        return ((self.held, self.touched),) if self.pressed and len(self.touched) > 1 and self.joined else ()


class _Mistake(Exception):
    """One mistake of one line; collected, never shown as it is."""


def row_of(board: Board, owner: str, row: str) -> tuple[PinAt, ...] | None:
    """Pins of a row in number order: ``1-8``, ``odd``, ``even``, ``all``; None where it is no row of that part."""
    size = _size(board, owner)
    if size is None:
        return None
    if row in ("odd", "even", "all"):
        first, step = {"odd": (1, 2), "even": (2, 2), "all": (1, 1)}[row]
        return tuple(PinAt(owner, k) for k in range(first, size + 1, step))
    found = re.fullmatch(r"(\d{1,3})-(\d{1,3})", row)
    if found is None or not 1 <= int(found[1]) <= int(found[2]) <= size:
        return None
    return tuple(PinAt(owner, k) for k in range(int(found[1]), int(found[2]) + 1))


def _size(board: Board, owner: str) -> int | None:
    for part in board.parts:
        if part.name == owner:
            return len(part.type.pins)
    for plug in board.connectors:
        if plug.name == owner:
            return plug.size
    return next((strap.size for strap in board.straps if strap.name == owner), None)


def parse_readings(text: str, file: str, board: Board) -> tuple[MeterReading, ...]:
    """The readings of one file (docs/readings.md), in file order.  Refuses all mistakes at once, in line order."""
    return parse_all_readings([(text, file)], board)


def parse_all_readings(files: Sequence[tuple[str, str]], board: Board) -> tuple[MeterReading, ...]:
    """The readings of several files (text, file), in order.  Refuses all mistakes of all files at once."""
    readings: list[MeterReading] = []
    mistakes: list[tuple[Origin, str]] = []
    for text, file in files:
        reader = _Reader(board)
        for number, line in enumerate(text.split("\n"), 1):
            words = line.split("#", 1)[0].lower().split()
            if words:
                reader.take(Origin.at_line(file, number), words, mistakes)
        readings += reader.readings
    if mistakes:
        raise BadInput.of_all(mistakes)
    return tuple(readings)


def read_readings(raw: bytes, file: str, board: Board) -> tuple[MeterReading, ...]:
    """`parse_readings` of a file's bytes.  Refuses text that is not UTF-8."""
    return parse_readings(decode_text(raw, file), file, board)


class _Reader:
    """Reads the statements of one file."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.readings: list[MeterReading] = []
        self.held: PinAt | None = None
        self.strip: tuple[PinAt, ...] = ()
        self.lifted: tuple[str, ...] = ()
        self.side = ""
        self.origin = Origin("")
        self.statements: dict[str, tuple[int, Callable[[list[str]], None], str]] = {
            "hold": (1, self._hold, "hold PIN"),
            "press": (2, self._press, "press PART ROW"),
            "sweep": (2, self._sweep, "sweep PART ROW [PIN...] [ohms PIN VALUE]... [diode PIN]..."),
            "joined": (2, self._joined, "joined PIN PIN..."),
            "apart": (2, self._apart, "apart PIN PIN..."),
            "ohms": (3, self._ohms, "ohms VALUE PIN PIN"),
            "diode": (2, self._diode, "diode PIN PIN"),
            "lifted": (1, self._lifted, "lifted PART...|none"),
            "side": (1, self._side, "side parts|solder"),
        }

    def take(self, origin: Origin, words: list[str], mistakes: list[tuple[Origin, str]]) -> None:
        """Read one line."""
        self.origin = origin
        known = self.statements.get(words[0])
        if known is None:
            mistakes.append((origin, f"statement {words[0]!r} is not known; known are {', '.join(self.statements)}"))
            return
        fewest, read, form = known
        if len(words) - 1 < fewest:
            mistakes.append((origin, f"too few words in {' '.join(words)!r}; the form is: {form}"))
            return
        try:
            read(words[1:])
        except _Mistake as mistake:
            mistakes.append((origin, str(mistake)))

    def _add(self, held: PinAt, touched: Sequence[PinAt], **more: object) -> None:
        if held in touched and len(touched) == 1:
            raise _Mistake(f"pin {held} is read against itself")
        rest = tuple(at for at in touched if at != held)
        base = MeterReading(held, rest, lifted=self.lifted, side=self.side, origin=self.origin)
        self.readings.append(_with(base, more))

    def _hold(self, words: list[str]) -> None:
        self.held, self.strip = self._pin(words[0]), ()

    def _press(self, words: list[str]) -> None:
        self.strip = self._row(words[0], words[1])
        self.held = self.strip[0]

    def _row(self, owner: str, row: str) -> tuple[PinAt, ...]:
        if _size(self.board, owner) is None:
            raise _Mistake(f"{owner!r} is no part, connector or strap of this board")
        pins = row_of(self.board, owner, row)
        if pins is None:
            raise _Mistake(
                f"a row of {owner!r} is odd, even, all or two pins such as 1-{_size(self.board, owner)}, not {row!r}"
            )
        return pins

    def _sweep(self, words: list[str]) -> None:
        if self.held is None:
            raise _Mistake("a sweep needs a pin that is held: write 'hold' and the pin above it")
        owner = words[0]
        pins = self._row(owner, words[1])
        if set(pins) & set(self.strip):
            raise _Mistake(f"the strip lies on pins of the row of {owner!r} that was swept")
        joined, ohms, diodes = self._heard(owner, pins, words[2:])
        self._add(
            self.held,
            pins,
            joined=tuple(at for at in joined if at != self.held),
            ohms=tuple(ohms),
            diodes=tuple(diodes),
            strip=self.strip,
        )

    def _heard(
        self, owner: str, pins: tuple[PinAt, ...], words: list[str]
    ) -> tuple[list[PinAt], list[tuple[PinAt, float]], list[PinAt]]:
        joined: list[PinAt] = []
        ohms: list[tuple[PinAt, float]] = []
        diodes: list[PinAt] = []
        k = 0
        while k < len(words):
            if words[k] == "ohms":
                if k + 2 >= len(words):
                    raise _Mistake("'ohms' in a sweep is followed by a pin and a value")
                ohms.append((self._in_row(owner, pins, words[k + 1]), _value(words[k + 2])))
                k += 3
            elif words[k] == "diode":
                if k + 1 >= len(words):
                    raise _Mistake("'diode' in a sweep is followed by a pin")
                diodes.append(self._in_row(owner, pins, words[k + 1]))
                k += 2
            else:
                joined.append(self._in_row(owner, pins, words[k]))
                k += 1
        return joined, ohms, diodes

    def _in_row(self, owner: str, pins: tuple[PinAt, ...], word: str) -> PinAt:
        at = self._pin(f"{owner}.{word}")
        if at not in pins:
            raise _Mistake(f"pin {at} does not lie in the row {pins[0].pin} to {pins[-1].pin} that was swept")
        return at

    def _joined(self, words: list[str]) -> None:
        held, *rest = [self._pin(word) for word in words]
        self._add(held, rest, joined=tuple(rest), pressed=len(rest) > 1)

    def _apart(self, words: list[str]) -> None:
        held, *rest = [self._pin(word) for word in words]
        self._add(held, rest, pressed=len(rest) > 1)

    def _ohms(self, words: list[str]) -> None:
        value = _value(words[0])
        held, *rest = [self._pin(word) for word in words[1:]]
        self._add(held, rest, ohms=tuple((at, value) for at in rest), pressed=len(rest) > 1)

    def _diode(self, words: list[str]) -> None:
        held, *rest = [self._pin(word) for word in words]
        self._add(held, rest, diodes=tuple(rest), pressed=len(rest) > 1)

    def _lifted(self, words: list[str]) -> None:
        if words == ["none"]:
            self.lifted = ()
            return
        for word in words:
            if not any(part.name == word for part in self.board.parts):
                raise _Mistake(f"{word!r} is no part of this board")
        self.lifted = tuple(sorted(set(words)))

    def _side(self, words: list[str]) -> None:
        if words[0] not in ("parts", "solder"):
            raise _Mistake(f"a side is parts or solder, not {words[0]!r}")
        self.side = words[0]

    def _pin(self, word: str) -> PinAt:
        owner, dot, pin = word.partition(".")
        if not dot or not pin:
            raise _Mistake(f"a pin is written as part, dot, pin such as u1.4, not {word!r}")
        size = _size(self.board, owner)
        if size is None:
            raise _Mistake(f"{word!r}: the board has no part, connector or strap {owner!r}")
        if pin.isascii() and pin.isdigit() and 1 <= int(pin[:9]) <= size:
            return PinAt(owner, int(pin))
        part = next((p for p in self.board.parts if p.name == owner), None)
        named = [p.number for p in part.type.pins if plain_name(p.name) == pin] if part and not pin.isdigit() else []
        if len(named) != 1:
            raise _Mistake(f"{owner!r} has pins 1 to {size}, not {pin!r}")
        return PinAt(owner, named[0])


def _with(base: MeterReading, more: dict[str, object]) -> MeterReading:
    from dataclasses import replace

    return replace(base, **more)  # type: ignore[arg-type]  # fields of MeterReading, by name


_VALUE = re.compile(r"(\d{1,6})(?:\.(\d{1,3}))?([rkm]?)(\d{0,3})")


def _value(word: str) -> float:
    """Ohms of ``30``, ``0.3``, ``4k7``, ``2r2``, ``1m``."""
    found = _VALUE.fullmatch(word)
    if found is None or (found[2] and found[4]) or (found[4] and not found[3]):
        raise _Mistake(f"a resistance is a number of ohms such as 30, 0.3 or 4k7, not {word!r}")
    digits = float(f"{found[1]}.{found[2] or found[4] or '0'}")
    return digits * {"": 1.0, "r": 1.0, "k": 1e3, "m": 1e6}[found[3]]


def text_of(readings: Sequence[MeterReading]) -> str:
    """The readings as a file that `parse_readings` reads back to the same readings (origins aside)."""
    lines: list[str] = []
    lifted: tuple[str, ...] = ()
    side = ""
    held: tuple[PinAt, tuple[PinAt, ...]] | None = None
    for reading in readings:
        if reading.lifted != lifted:
            lifted = reading.lifted
            lines.append("lifted " + (" ".join(lifted) or "none"))
        if reading.side != side and reading.side:
            side = reading.side
            lines.append(f"side {side}")
        sweep = _sweep_text(reading)
        if sweep is not None:
            if held != (reading.held, reading.strip):
                held = (reading.held, reading.strip)
                lines.append(f"press {_row_text(reading.strip)}" if reading.strip else f"hold {reading.held}")
            lines.append(sweep)
        else:
            lines.append(_plain_text(reading))
    return "".join(line + "\n" for line in lines)


def _sweep_text(reading: MeterReading) -> str | None:
    pins = sorted({*reading.touched} | ({reading.held} if not reading.strip else set()))
    owners = {at.owner for at in reading.touched}
    if not reading.strip and (reading.pressed or len(reading.touched) < 2 or len(owners) != 1):
        return None
    owner = owners.pop()
    pins = [at for at in pins if at.owner == owner]
    words = ["sweep", _row_text(pins), *(str(at.pin) for at in reading.joined)]
    for at, ohms in reading.ohms:
        words += ["ohms", str(at.pin), f"{ohms:g}"]
    for at in reading.diodes:
        words += ["diode", str(at.pin)]
    return " ".join(words)


def _row_text(pins: Sequence[PinAt]) -> str:
    """A row as it is typed: the part, and its odd or even pins or those from one to another."""
    numbers = [at.pin for at in pins]
    steps = {b - a for a, b in pairwise(numbers)}
    side = "odd" if numbers[0] % 2 else "even"
    return f"{pins[0].owner} " + (side if steps == {2} else f"{numbers[0]}-{numbers[-1]}")


def _plain_text(reading: MeterReading) -> str:
    pins = [str(at) for at in (reading.held, *reading.touched)]
    if reading.ohms:
        return " ".join(["ohms", f"{reading.ohms[0][1]:g}", *pins])
    return " ".join(["diode" if reading.diodes else "joined" if reading.joined else "apart", *pins])

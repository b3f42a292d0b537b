"""Reading a net file: text to `Board`, every mistake of the file at once."""

from __future__ import annotations

import dataclasses
from functools import partial
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, decode_text
from latchlore.board._benchwords import FORMS, BenchMistake, BenchReader
from latchlore.board._board import (
    EDGE_LETTERS,
    Board,
    Card,
    Connector,
    ConnectorPin,
    Cycle,
    Direction,
    Doubt,
    Net,
    Part,
    PinAt,
    Pull,
    Strap,
)
from latchlore.board._cards import CardMistake, read_card
from latchlore.board._catalogue import find_type
from latchlore.board._hosts import DOWN, HIGH, HOSTS, LEVEL_WORDS, LOW, UP
from latchlore.board._logic import LogicMistake, read_logic
from latchlore.board._marked import MarkedMistake, first_type, settle_parts
from latchlore.board._markings import house_type
from latchlore.board._parts import PartType, Pin, Role, plain_name
from latchlore.board._primitives import primitive_type

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

MAX_PINS = 256
"""Most pins of a connector or unknown chip."""

VERILOG = ".v"
"""Ending of a file of structural Verilog."""

_TWO_LEGS = ("resistor", "capacitor", "diode", "led", "crystal", "inductor", "fuse")
_THREE_LEGS = ("transistor", "trimmer")
_STRAP_3 = {"1-2": (1, 2), "2-3": (2, 3)}


class _Mistake(Exception):
    """One mistake of one line; collected, never shown as it is."""


def passive_type(name: str) -> PartType | None:
    """The row of a part with legs only, such as ``resistor``; None where the word names none."""
    legs = 2 if name in _TWO_LEGS else 3 if name in _THREE_LEGS else 0
    if not legs:
        return None
    pins = tuple(Pin(k, str(k), Role.ANALOG) for k in range(1, legs + 1))
    return PartType(name, name, pins, (), "common practice")


def unknown_type(size: int) -> PartType:
    """A chip of which only the number of pins is known."""
    pins = tuple(Pin(k, str(k), Role.UNKNOWN) for k in range(1, size + 1))
    return PartType(f"unknown {size}", "not known", pins, (), "not known")


def read_board(raw: bytes, file: str) -> Board:
    """Read a net file.  Refuses text that is not UTF-8, and every mistake of `parse_board`."""
    return parse_board(decode_text(raw, file), file)


def parse_board(text: str, file: str) -> Board:
    """The board of one net file (docs/net-file.md).  Refuses all mistakes of the file at once, in line order."""
    return parse_netlist([(text, file)])


def parse_netlist(files: Sequence[tuple[str, str]]) -> Board:
    """The board of several files (text, file), read as one; a file that ends in .v is structural Verilog.

    Refuses all mistakes at once, by file and line.
    """
    reader = _Reader([file for _, file in files])
    said = [(file, _statements(text, file, reader)) for text, file in files]
    for wanted in (0, 1):  # names first, so that a net may stand before its parts
        for file, lines in said:
            for number, words in lines:
                reader.take(file, number, words, wanted)
    return reader.finish()


def _statements(text: str, file: str, reader: _Reader) -> list[tuple[int, list[str]]]:
    """The statements of one file with their lines; a file that ends in .v is Verilog."""
    if file.lower().endswith(VERILOG):
        from latchlore.board._verilog_read import read_verilog

        statements, wrong = read_verilog(text)
        reader.mistakes += [(Origin.at_line(file, bad.line), bad.words) for bad in wrong]
        return [(one.line, list(one.words)) for one in statements]
    lines = ((number, line.split("#", 1)[0].split()) for number, line in enumerate(text.split("\n"), 1))
    return [(number, words) for number, words in lines if words]


class _Reader:
    """Collects the statements of one file and its mistakes."""

    def __init__(self, files: Sequence[str]) -> None:
        self.files = list(files)
        self.file = self.files[0]
        self.mistakes: list[tuple[Origin, str]] = []
        self.title = ""
        self.parts: dict[str, Part] = {}
        self.plugs: dict[str, Connector] = {}
        self.plug_pins: dict[str, dict[int, ConnectorPin]] = {}
        self.letters: dict[str, tuple[int, Origin]] = {}
        self.straps: dict[str, Strap] = {}
        self.cycles: list[Cycle] = []
        self.holds: dict[str, int] = {}
        self.nets: dict[str, list[PinAt]] = {}
        self.net_origin: dict[str, Origin] = {}
        self.seen: dict[PinAt, Origin] = {}
        self.spoilt: set[str] = set()
        self.ties: list[tuple[int, str, Origin]] = []
        self.pulls: list[tuple[int, str, str, Origin]] = []
        self.open_pins: dict[PinAt, Origin] = {}
        self.done: set[str] = set()
        self.doubts: list[Doubt] = []
        self.cards: list[Card] = []
        self.marked: dict[str, list[str]] = {}
        self.years: tuple[int, int] | None = None
        self.origin = Origin.at_line(self.file, 1)
        self.bench = BenchReader(lambda: {name: plug.size for name, plug in self.plugs.items()}, self._pin_at)
        self.statements: dict[str, tuple[int, int, Callable[[list[str]], None], str]] = {
            # word: (pass, fewest words, reader, form)
            "board": (0, 1, self._board, "board WORDS"),
            "host": (0, 1, self._host, "host KIND [PORT-LINES]"),
            "cycle": (0, 5, self._cycle, "cycle SPACE DIRECTION LINES [at BASE] SIGNAL LEVEL..."),
            "card": (1, 4, self._card, "card NAME SPACE read|write|both ADDRESS..."),
            "made": (0, 2, self._made, "made FIRST-YEAR LAST-YEAR"),
            "hold": (0, 2, self._hold, "hold SIGNAL high|low"),
            "part": (0, 2, self._part, "part NAME TYPE [PLACE]"),
            "plug": (0, 2, self._plug, "plug NAME PINS [host] [WORDS]"),
            "letters": (0, 2, self._letters, "letters CONNECTOR FIRST-PIN"),
            "strap": (0, 2, self._strap, "strap NAME open|joined|1-2|2-3|unknown"),
            "logic": (1, 5, self._logic, "logic PART in PIN... out PIN..."),
            "pin": (1, 2, self._pin, "pin CONNECTOR.PIN SIGNAL in|out|both [high|low]"),
            "net": (1, 2, self._net, "net NAME PIN..."),
            "more": (1, 2, self._more, "more NET PIN..."),
            "tie": (1, 2, self._tie, "tie low|high PIN..."),
            "pull": (1, 2, self._pull, "pull up|down NET-OR-PIN [VALUE]"),
            "open": (1, 1, self._open, "open PIN..."),
            "done": (1, 1, self._done, "done PART...|all"),
            "doubt": (1, 2, self._doubt, "doubt PLACE WORDS"),
            **{word: (1, least, partial(self._bench, word), form) for word, (least, form) in FORMS.items()},
        }

    def take(self, file: str, number: int, words: list[str], wanted: int) -> None:
        """Read one line if it belongs to this pass."""
        self.origin = Origin.at_line(file, number)
        word = words[0].lower()
        known = self.statements.get(word)
        if known is None:
            if wanted == 0:
                self._wrong(f"statement {words[0]!r} is not known; known are {', '.join(self.statements)}")
            return
        when, fewest, read, form = known
        if when != wanted:
            return
        if len(words) - 1 < fewest:
            self._wrong(f"too few words in {' '.join(words)!r}; the form is: {form}")
            return
        try:
            read(words[1:])
        except _Mistake as mistake:
            self._wrong(str(mistake))

    def _wrong(self, words: str, origin: Origin | None = None) -> None:
        self.mistakes.append((origin or self.origin, words))

    # --- statements ---

    def _board(self, words: list[str]) -> None:
        self.title = " ".join(words)

    def _host(self, words: list[str]) -> None:
        kind = words[0].lower()
        host = HOSTS.get(kind)
        if host is None:
            raise _Mistake(f"host {words[0]!r} is not known; known are {', '.join(HOSTS)}")
        ports = host.port_lines
        if len(words) > 1:
            ports = self._number(words[1], "number of port lines", 1, 24)
        for row in host.cycles:
            lines = host.memory_lines if row.space == "memory" else ports
            controls = tuple(_control(signal, level) for signal, level in row.lines)
            self.cycles.append(Cycle(row.space, row.direction, lines, lines, 0, controls, self.origin))

    def _cycle(self, words: list[str]) -> None:
        space, direction = words[0].lower(), words[1].lower()
        if space not in ("memory", "port"):
            raise _Mistake(f"a cycle's space is memory or port, not {words[0]!r}")
        if direction not in ("read", "write"):
            raise _Mistake(f"a cycle's direction is read or write, not {words[1]!r}")
        lines = self._number(words[2], "number of address lines", 1, 24)
        rest, base, width = words[3:], 0, lines
        if rest[0].lower() == "at":
            if len(rest) < 2 or set(rest[1].lower()) - set("0123456789abcdef"):
                raise _Mistake(f"a base address is a hexadecimal number, not {' '.join(rest[1:2])!r}")
            base, rest = int(rest[1], 16), rest[2:]
            width = max(16, lines)
            if base >> width or base & ((1 << lines) - 1):
                raise _Mistake(f"base {base:X}h does not lie above {lines} address lines of {width}")
        if not rest or len(rest) % 2:
            raise _Mistake("a cycle's control lines come in pairs of signal and level")
        controls = []
        for signal, level in zip(rest[::2], rest[1::2], strict=True):
            if level.lower() not in LEVEL_WORDS:
                raise _Mistake(f"a control line is high, low, up or down, not {level!r}")
            controls.append(_control(signal.lower(), level.lower()))
        self.cycles.append(Cycle(space, direction, lines, width, base, tuple(controls), self.origin))

    def _card(self, words: list[str]) -> None:
        try:
            card = read_card(words, self.cards, self.cycles, self.origin)
        except CardMistake as mistake:
            raise _Mistake(str(mistake)) from mistake
        self.cards.append(card)

    def _made(self, words: list[str]) -> None:
        first, last = (self._number(word, "year", 1960, 2099) for word in words[:2])
        if first > last:
            raise _Mistake(f"the first year comes before the last, not {first} {last}")
        self.years = (first, last)

    def _logic(self, words: list[str]) -> None:
        try:
            part = read_logic(words, self.parts)
        except LogicMistake as mistake:
            raise _Mistake(str(mistake)) from mistake
        self.parts[part.name] = part

    def _hold(self, words: list[str]) -> None:
        level = words[1].lower()
        if level not in (HIGH, LOW):
            raise _Mistake(f"a line is held high or low, not {words[1]!r}")
        self.holds[words[0].lower()] = int(level == HIGH)

    def _part(self, words: list[str]) -> None:
        name, marking, rest = words[0].lower(), words[1].lower(), words[2:]
        self._new_name(name)
        if marking == "unknown":
            if not rest:
                raise _Mistake(
                    f"part {name!r}: an unknown chip needs its number of pins, as in: part {name} unknown 16"
                )
            size = self._number(rest[0], "number of pins", 2, MAX_PINS)
            self.parts[name] = Part(name, unknown_type(size), "unknown", " ".join(rest[1:]), self.origin)
            return
        if marking == "marked":
            try:
                printed = first_type(name, rest)
            except MarkedMistake as mistake:
                self.parts[name] = Part(name, unknown_type(MAX_PINS), marking, " ".join(rest), self.origin)
                raise _Mistake(str(mistake)) from mistake
            self.parts[name] = Part(name, printed, marking, " ".join(rest), self.origin)
            self.marked[name] = rest
            return
        kind = passive_type(marking) or primitive_type(marking) or find_type(marking) or house_type(marking)
        if kind is None:
            # Its pins are accepted in nets, so that one wrong type is one mistake.
            self.parts[name] = Part(name, unknown_type(MAX_PINS), marking, " ".join(rest), self.origin)
            raise _Mistake(
                f"part {name!r} has type {words[1]!r}, which the catalogue does not know;"
                f" write its number of pins as in: part {name} unknown 16"
            )
        self.parts[name] = Part(name, kind, marking, " ".join(rest), self.origin)

    def _plug(self, words: list[str]) -> None:
        name = words[0].lower()
        self._new_name(name)
        rest = [w.lower() for w in words[2:]]
        self.plugs[name] = Connector(name, MAX_PINS, False, "", (), self.origin)
        self.plug_pins[name] = {}
        size = self._number(words[1], "number of pins", 1, MAX_PINS)
        is_host = rest[:1] == ["host"]
        self.plugs[name] = Connector(name, size, is_host, " ".join(words[3 if is_host else 2 :]), (), self.origin)

    def _letters(self, words: list[str]) -> None:
        name = words[0].lower()
        if name in self.letters:
            raise _Mistake(f"the letters of {name!r} stand here and at {self.letters[name][1]}")
        self.letters[name] = (self._number(words[1], "pin that is called A", 1, MAX_PINS), self.origin)

    def _strap(self, words: list[str]) -> None:
        name, state = words[0].lower(), words[1].lower()
        self._new_name(name)
        self.straps[name] = Strap(name, 3, None, self.origin)
        if state in _STRAP_3:
            self.straps[name] = Strap(name, 3, _STRAP_3[state], self.origin)
        elif state in ("open", "joined", "unknown"):
            joined = {"open": (), "joined": (1, 2), "unknown": None}[state]
            size = 3 if words[2:3] == ["3"] else 2
            self.straps[name] = Strap(name, size, joined, self.origin)
        else:
            raise _Mistake(f"strap {name!r} is open, joined, 1-2, 2-3 or unknown, not {words[1]!r}")

    def _pin(self, words: list[str]) -> None:
        at = self._pin_at(words[0])
        if at.owner not in self.plugs:
            raise _Mistake(f"{words[0]!r} is no connector pin; connectors are {_listed(self.plugs)}")
        had = self.plug_pins[at.owner].get(at.pin)
        if had is not None:
            raise _Mistake(f"pin {at} is described twice: here and at {had.origin}")
        signal = words[1].lower()
        if signal in ("gnd", "ground"):
            described = ConnectorPin(at.pin, "gnd", Direction.GROUND, None, self.origin)
        elif signal in ("vcc", "power"):
            described = ConnectorPin(at.pin, "vcc", Direction.POWER, None, self.origin)
        else:
            described = self._signal_pin(at, signal, [w.lower() for w in words[2:]])
        self.plug_pins[at.owner][at.pin] = described

    def _signal_pin(self, at: PinAt, signal: str, rest: list[str]) -> ConnectorPin:
        if not rest or rest[0] not in set(Direction):
            shown = rest[0] if rest else ""
            raise _Mistake(f"pin {at}: a direction is {', '.join(Direction)}, not {shown!r}")
        active = None
        if len(rest) > 1:
            if rest[1] not in (HIGH, "low"):
                raise _Mistake(f"pin {at}: the level that makes {signal!r} true is high or low, not {rest[1]!r}")
            active = 1 if rest[1] == HIGH else 0
        return ConnectorPin(at.pin, signal, Direction(rest[0]), active, self.origin)

    def _net(self, words: list[str]) -> None:
        name = words[0].lower()
        if "." in name:
            raise _Mistake(f"a net needs a name before its pins, not {words[0]!r}")
        if name in self.nets:
            self._wrong(f"net {name!r} stands here and at {self.net_origin[name]}; write 'more' for further pins")
        self.nets.setdefault(name, [])
        self.net_origin.setdefault(name, self.origin)
        self._join(name, words[1:])

    def _more(self, words: list[str]) -> None:
        name = words[0].lower()
        if name not in self.nets:
            raise _Mistake(f"net {words[0]!r} has not been named above; write 'net' for its first pins")
        self._join(name, words[1:])

    def _tie(self, words: list[str]) -> None:
        level = words[0].lower()
        if level not in ("low", "high"):
            raise _Mistake(f"a tie is low or high, not {words[0]!r}")
        for word in words[1:]:
            if "." in word:
                self._join("gnd" if level == "low" else "vcc", [word])
            else:
                self.ties.append((int(level == "high"), word.lower(), self.origin))

    def _pull(self, words: list[str]) -> None:
        way = words[0].lower()
        if way not in ("up", "down"):
            raise _Mistake(f"a pull is up or down, not {words[0]!r}")
        self.pulls.append((int(way == "up"), words[1].lower(), " ".join(words[2:]), self.origin))

    def _open(self, words: list[str]) -> None:
        for word in words:
            try:
                at = self._pin_at(word)
            except _Mistake as mistake:
                self._wrong(str(mistake))
                continue
            self._once(at)
            self.open_pins[at] = self.origin

    def _done(self, words: list[str]) -> None:
        for word in (w.lower() for w in words):
            if word != "all" and word not in self.parts and word not in self.plugs and word not in self.straps:
                self._wrong(f"{word!r} is no part, connector or strap of this board")
            self.done.add(word)

    def _doubt(self, words: list[str]) -> None:
        self.doubts.append(Doubt(words[0].lower(), " ".join(words[1:]), self.origin))

    def _bench(self, statement: str, words: list[str]) -> None:
        try:
            self.bench.read(statement, [word.lower() for word in words], self.origin)
        except BenchMistake as mistake:
            raise _Mistake(str(mistake)) from mistake

    # --- pieces ---

    def _number(self, word: str, what: str, least: int, most: int) -> int:
        if not (word.isascii() and word.isdigit() and least <= int(word[:9]) <= most):
            raise _Mistake(f"a {what} is {least} to {most}, not {word!r}")
        return int(word)

    def _new_name(self, name: str) -> None:
        for kind in (self.parts, self.plugs, self.straps):
            if name in kind:
                raise _Mistake(f"name {name!r} is taken at {kind[name].origin}")
        if not all(c.isalnum() or c == "-" for c in name):
            raise _Mistake(f"a name consists of letters, digits and minus, not {name!r}")

    def _pin_at(self, word: str) -> PinAt:
        owner, dot, pin = word.lower().partition(".")
        if not dot or not pin:
            raise _Mistake(f"a pin is written as part, dot, pin such as u1.4, not {word!r}")
        if owner in self.parts:
            return PinAt(owner, self._part_pin(self.parts[owner], pin))
        if owner in self.plugs:
            return PinAt(owner, self._counted(owner, pin, self.plugs[owner].size))
        if owner in self.straps:
            return PinAt(owner, self._counted(owner, pin, self.straps[owner].size))
        raise _Mistake(f"{word!r}: the board has no part, connector or strap {owner!r}")

    def _counted(self, owner: str, pin: str, size: int) -> int:
        number = pin
        if owner in self.letters and len(pin) == 1 and pin in EDGE_LETTERS:
            number = str(self.letters[owner][0] + EDGE_LETTERS.index(pin))
        if not (number.isascii() and number.isdigit() and 1 <= int(number[:9]) <= size):
            raise _Mistake(f"{owner!r} has pins 1 to {size}, not {pin!r}")
        return int(number)

    def _part_pin(self, part: Part, pin: str) -> int:
        named = [p.number for p in part.type.pins if plain_name(p.name) == pin and not pin.isdigit()]
        if len(named) == 1:
            return named[0]
        if len(named) > 1:
            raise _Mistake(f"{part.name!r} has {len(named)} pins {pin!r}: write the number")
        if pin.isascii() and pin.isdigit() and 1 <= int(pin[:9]) <= len(part.type.pins):
            return int(pin)
        raise _Mistake(f"part {part.name!r} ({part.marking}) has pins 1 to {len(part.type.pins)}, no pin {pin!r}")

    def _once(self, at: PinAt) -> bool:
        if at in self.seen:
            self._wrong(f"pin {at} stands here and at {self.seen[at]}")
            return False
        self.seen[at] = self.origin
        return True

    def _join(self, net: str, words: list[str]) -> None:
        self.nets.setdefault(net, [])
        self.net_origin.setdefault(net, self.origin)
        for word in words:
            try:
                at = self._pin_at(word)
            except _Mistake as mistake:
                self._wrong(str(mistake))
                self.spoilt.add(net)
                continue
            if not self._once(at):
                self.spoilt.add(net)
            if at not in self.nets[net]:
                self.nets[net].append(at)

    # --- the whole ---

    def finish(self) -> Board:
        """The board, or all mistakes."""
        if not self.parts and not self.plugs and not self.mistakes:
            self.mistakes.append((Origin.at_line(self.file, 1), "the file names no part"))
        self._add_host_pins()
        self._merge_ties()
        pulls = self._settle_pulls()
        self._check_sizes(pulls)
        for doubt in self.doubts:
            self._check_place(doubt)
        for name, (first, origin) in self.letters.items():
            if name not in self.plugs or first > self.plugs[name].size:
                self._wrong(f"letters are stated for a connector and one of its pins, not for {name}.{first}", origin)
        self.mistakes += self.bench.iter_loose_ends(
            {name: {number: pin.origin for number, pin in pins.items()} for name, pins in self.plug_pins.items()}
        )
        if self.mistakes:
            order = {file: k for k, file in enumerate(self.files)}
            raise BadInput.of_all(sorted(set(self.mistakes), key=lambda m: (order[m[0].file], m[0].number, m[1])))
        return settle_parts(self._build(pulls), self.marked, self.years)

    def _add_host_pins(self) -> None:
        """A net with the name of a host signal is that host line."""
        for plug in self.plugs.values():
            if not plug.is_host:
                continue
            for number, pin in sorted(self.plug_pins[plug.name].items()):
                at = PinAt(plug.name, number)
                if at in self.seen:
                    inside = next((n for n, pins in self.nets.items() if at in pins), "")
                    if pin.signal in self.nets and inside != pin.signal and pin.direction is not Direction.NONE:
                        self._wrong(
                            f"net {pin.signal!r} has the name of host signal {at}, which stands in net {inside!r}",
                            self.net_origin[pin.signal],
                        )
                elif pin.signal in self.nets:
                    self.nets[pin.signal].append(at)

    def _merge_ties(self) -> None:
        for level, name, origin in self.ties:
            if name not in self.nets:
                self._wrong(f"the board has no net {name!r} to tie", origin)
                continue
            rail = "vcc" if level else "gnd"
            pins = self.nets.pop(name)
            self.net_origin.setdefault(rail, origin)
            self.nets.setdefault(rail, []).extend(pins)

    def _settle_pulls(self) -> list[Pull]:
        pulls = []
        for level, place, words, origin in self.pulls:
            net = place
            if "." in place:
                self.origin = origin
                try:
                    at = self._pin_at(place)
                except _Mistake as mistake:
                    self._wrong(str(mistake))
                    continue
                found = next((n for n, pins in self.nets.items() if at in pins), None)
                net = found or f"{at.owner}-{at.pin}"
                if found is None:
                    self._once(at)
                    self.nets[net], self.net_origin[net] = [at], origin
            elif place not in self.nets:
                self._wrong(f"the board has no net {place!r} to pull", origin)
                continue
            pulls.append(Pull(net, level, words, origin))
        return pulls

    def _check_sizes(self, pulls: list[Pull]) -> None:
        pulled = {pull.net for pull in pulls} | self.spoilt
        host = {f"a{k}" for c in self.cycles for k in range(c.lines)} | {
            s for c in self.cycles for s, _, _ in c.controls
        }
        host |= {f"d{k}" for k in range(16)} if self.cycles else set()
        for name, pins in self.nets.items():
            if len(pins) == 1 and name not in ("gnd", "vcc") and name not in pulled and name not in host:
                self._wrong(f"net {name!r} has one pin only, {pins[0]}", self.net_origin[name])

    def _check_place(self, doubt: Doubt) -> None:
        if doubt.place in self.nets or doubt.place in self.parts or doubt.place in self.plugs:
            return
        if doubt.place in self.straps:
            return
        try:
            self._pin_at(doubt.place)
        except _Mistake:
            self._wrong(f"a doubt's place is a pin, net or part of this board, not {doubt.place!r}", doubt.origin)

    def _all_pins(self) -> list[PinAt]:
        pins = [PinAt(p.name, pin.number) for p in self.parts.values() for pin in p.type.pins]
        pins += [PinAt(c.name, k) for c in self.plugs.values() for k in range(1, c.size + 1)]
        return pins + [PinAt(s.name, k) for s in self.straps.values() for k in range(1, s.size + 1)]

    def _build(self, pulls: list[Pull]) -> Board:
        everything = "all" in self.done
        opened = set(self.open_pins)
        untold: set[PinAt] = set()
        for at in self._all_pins():
            if at not in self.seen and not self._is_supply(at):
                whole = everything or at.owner in self.done
                joined = any(at in pins for pins in self.nets.values()) if at.owner in self.plugs else False
                if not joined:
                    (opened if whole else untold).add(at)
        return Board(
            file=self.file,
            title=self.title,
            cycles=tuple(self._with_holds(cycle) for cycle in self.cycles),
            parts=tuple(self.parts.values()),
            connectors=tuple(
                Connector(
                    c.name,
                    c.size,
                    c.is_host,
                    c.words,
                    tuple(pin for _, pin in sorted(self.plug_pins[c.name].items())),
                    c.origin,
                    self.letters.get(c.name, (0, c.origin))[0],
                )
                for c in self.plugs.values()
            ),
            straps=tuple(self.straps.values()),
            nets=tuple(Net(name, tuple(pins), self.net_origin[name]) for name, pins in self.nets.items()),
            pulls=tuple(pulls),
            doubts=tuple(self.doubts),
            open_pins=frozenset(opened),
            not_traced=frozenset(untold),
            origin=Origin.at_line(self.file, 1),
            cards=tuple(self.cards),
            bench=self.bench.finish(),
        )

    def _with_holds(self, cycle: Cycle) -> Cycle:
        own = {signal for signal, _, _ in cycle.controls}
        held = tuple((signal, level, level) for signal, level in self.holds.items() if signal not in own)
        return dataclasses.replace(cycle, controls=(*cycle.controls, *held))

    def _is_supply(self, at: PinAt) -> bool:
        if at.owner not in self.parts:
            return False
        return self.parts[at.owner].type.pin(at.pin).role in (Role.POWER, Role.GROUND, Role.NONE)


def _control(signal: str, level: str) -> tuple[str, int, int]:
    during = int(level in (HIGH, UP))
    return (signal, 1 - during if level in (UP, DOWN) else during, during)


def _listed(names: dict[str, Connector]) -> str:
    return ", ".join(repr(name) for name in names) or "none"

"""What the wings foresee of a trial under each rival: the board decoded anew, bytes read, a listener followed.

Every table is mixed with the trial's doubt: the chance that what was computed does not hold at the bench, in which
case each outcome is as likely as any other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import BadInput, BitKind, InputKind, UnknownName, describe_place
from latchlore.study import _questionwords as words
from latchlore.study import _sheetwords as sheetwords
from latchlore.study._withdrawn import without_statements

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from latchlore.base import Origin
    from latchlore.board import Board, PinAt
    from latchlore.study._questionlayout import RampTable, ReadTable, RivalTable
    from latchlore.study._study import Study, StudyFile

Rows = list[tuple[float, ...]]
Foretold = tuple[tuple[str, ...], Rows, list[str], tuple[str, ...]]
"""Outcomes, a row of chances a rival, in words what each rival makes of it, and what is connected and done."""

SAMPLES = 1_000_000
"""Of the example that says how long a record is."""

EVEN = 0.5


def in_doubt(rows: Rows, doubt: float) -> tuple[tuple[float, ...], ...]:
    """The chances when with this chance everything is as likely as anything."""
    return tuple(tuple((1 - doubt) * one + doubt / len(row) for one in row) for row in rows)


def changed_text(text: str, statements: Sequence[str]) -> tuple[str, list[str]]:
    """A net file with statements put in the place of those about the same thing; and those that found no place.

    The same thing: the same first two words (three behind `pull`); a net goes with its `more` lines.  ``drop`` before
    the words takes the statement out.  Lines keep their numbers.
    """
    lines = text.split("\n")
    left = []
    for statement in statements:
        new = statement.lower().split()
        dropped = new[0] == "drop"
        about = new[1:] if dropped else new[: 3 if new[0] == "pull" else 2]
        heads = [about, ["more", about[1]]] if about[0] == "net" else [about]
        places = [
            k
            for k, line in enumerate(lines)
            if any(line.split("#", 1)[0].lower().split()[: len(head)] == head for head in heads)
        ]
        for k in places:
            lines[k] = ""
        if places:
            lines[places[0]] = "" if dropped else statement
        else:
            left.append(statement)
    return "\n".join(lines), left


class Boards:
    """The study's board as each rival has it; read once a rival."""

    def __init__(self, study: Study, trial: str, rivals: Sequence[RivalTable], at: Callable[..., Origin]) -> None:
        self._study, self._rivals, self._at = study, rivals, at
        if not any(one.file.endswith(".nets") for one in study.nets):
            raise BadInput(at(), words.NO_BOARD.format(trial=trial))

    def board(self, k: int) -> Board:
        """The board of a rival, by its number.  Refuses changes that the net file's reader refuses."""
        from latchlore.board import parse_netlist

        files = [(one.text, one.file) for one in self._study.nets]
        left = list(self._rivals[k].board)
        for number, statement in enumerate(left):
            if len(statement.split()) < (3 if statement.lower().startswith("drop ") else 2):
                raise BadInput(self._at("rival", k, "board", number), words.NO_CHANGE.format(text=statement))
        for number, (text, file) in enumerate(files):
            if file.endswith(".nets"):
                changed, left = changed_text(text, left)
                files[number] = (changed, file)
        for statement in left:
            if statement.lower().split()[0] == "drop":
                gone = " ".join(statement.lower().split()[1:])
                raise BadInput(self._at("rival", k, "board"), words.NOTHING_DROPPED.format(text=gone))
        first = next(number for number, (_, file) in enumerate(files) if file.endswith(".nets"))
        if left:
            files[first] = ("\n".join((files[first][0].rstrip("\n"), *left, "")), files[first][1])
        try:
            board = parse_netlist(files)
            if self._study.readings:
                from latchlore.board.tracing import conclude, parse_all_readings

                readings = parse_all_readings([(one.text, one.file) for one in self._study.readings], board)
                board = conclude(board, readings).board
            board = without_statements(board, self._study)
        except BadInput as error:
            name = self._rivals[k].name
            raise BadInput.of_all(
                (self._at("rival", k, "board"), words.BROKEN_BOARD.format(rival=name, words=told, place=place))
                for place, told in error.mistakes
            ) from error
        return board

    def _boards(self) -> list[Board]:
        """The board of every rival.  Refuses what `board` refuses, of all rivals at once."""
        found: list[Board] = []
        mistakes: list[tuple[Origin, str]] = []
        for k in range(len(self._rivals)):
            try:
                found.append(self.board(k))
            except BadInput as error:
                mistakes += error.mistakes
        if mistakes:
            raise BadInput.of_all(mistakes)
        return found

    def joined(self, pins: Sequence[str], at: Origin) -> Foretold:
        """Whether a meter finds two pins joined by copper or by a strap."""
        rows: Rows = []
        told = []
        for rival, board in zip(self._rivals, self._boards(), strict=True):
            first, second = (_pin(board, pin, rival.name, at) for pin in pins)
            chance = _joined(board, first, second)
            form = {1.0: words.SAME_NET, 0.0: words.OTHER_NET}.get(chance, words.NET_UNKNOWN)
            told.append(form.format(first=first, second=second))
            rows.append((chance, 1 - chance))
        probes = sheetwords.PROBES.format(first=pins[0].lower(), second=pins[1].lower())
        return (words.JOINED, words.APART), rows, told, (probes,)

    def read(self, asked: ReadTable) -> Foretold:
        """What a register bit reads, with a signal held at a level."""
        rows: Rows = []
        told = []
        for board in self._boards():
            level, sentence = _bit_level(board, asked)
            told.append(sentence)
            rows.append((EVEN, EVEN) if level is None else (1.0 - level, float(level)))
        return ("0", "1"), rows, told, tuple(self._channels(asked))

    def _channels(self, asked: ReadTable) -> Iterator[str]:
        """Which pins of the connectors a read is watched at, by the board of the first rival."""
        board = self.board(0)
        bit, place = asked.bit.bits[0], asked.bit
        yield sheetwords.GROUND.format(pins=_pins(board, "gnd"))
        yield sheetwords.DATA.format(bit=bit, pins=_pins(board, f"d{bit}"))
        space = "port" if place.kind is InputKind.PORT else "memory"
        cycle = next((one for one in board.cycles if (one.space, one.direction) == (space, "read")), None)
        controls = cycle.controls if cycle else ()
        for number, (signal, idle, active) in enumerate(controls, 2):
            del idle
            level = sheetwords.LEVELS[active]
            yield sheetwords.CONTROL.format(number=number, signal=signal, pins=_pins(board, signal), level=level)
        yield from _address_channels(board, place.address, 2 + len(controls))
        if asked.signal is not None and asked.level is not None:
            level = sheetwords.LEVELS[asked.level]
            yield sheetwords.HELD.format(signal=asked.signal, level=level, pins=_pins(board, asked.signal))
        clock = self._study.program.clock if self._study.program else None
        if clock is None:
            yield sheetwords.RATE_UNKNOWN
            yield sheetwords.LENGTH_UNKNOWN
        else:
            yield sheetwords.RATE.format(rate=f"{float(clock.hertz) / 1e5:g} MHz")
            yield sheetwords.LENGTH.format(length=f"{float(SAMPLES / 10 / clock.hertz * 1000):g} ms")
        yield sheetwords.LOOK.format(bit=bit, place=describe_place(place.kind, place.address))


def _address_channels(board: Board, address: int, first: int) -> Iterator[str]:
    """The channels that tell one address from the others: the address lines that the board's connectors carry."""
    names = {pin.signal.lower() for plug in board.connectors for pin in plug.pins}
    lines = sorted(int(name[1:]) for name in names if name[:1] == "a" and name[1:].isdigit())
    if not lines:
        return
    told = ", ".join(
        sheetwords.ADDRESS_LINE.format(
            signal=f"a{line}", level=sheetwords.LEVELS[address >> line & 1], pins=_pins(board, f"a{line}")
        )
        for line in lines
    )
    last = first + len(lines) - 1
    yield sheetwords.ADDRESS.format(first=first, last=last, lines=told, place=f"{address:04X}")


def _pins(board: Board, signal: str) -> str:
    """The connector pins of a signal, or that none is known."""
    found = [
        f"{plug.name}.{plug.pin_text(pin.number)}"
        for plug in board.connectors
        for pin in plug.pins
        if pin.signal.lower() == signal.lower()
    ]
    return " and ".join(found) or sheetwords.NO_PIN


def _pin(board: Board, text: str, rival: str, at: Origin) -> PinAt:
    """A pin by number or name, as a net file writes it."""
    from latchlore.board import PinAt

    owner, _, pin = text.lower().partition(".")
    sizes = {plug.name: plug.size for plug in board.connectors} | {strap.name: strap.size for strap in board.straps}
    for part in board.parts:
        if part.name == owner:
            for one in part.type.pins:
                if pin in (str(one.number), one.name.lower()):
                    return PinAt(owner, one.number)
    if pin.isascii() and pin.isdigit() and 1 <= int(pin[:9]) <= sizes.get(owner, 0):
        return PinAt(owner, int(pin))
    raise BadInput(at, words.NO_PIN.format(rival=rival, pin=text))


def _joined(board: Board, first: PinAt, second: PinAt) -> float:
    """1 or 0, and `EVEN` where something on the way is not known."""
    if _reached(board, first, second, unknown=False):
        return 1.0
    if _reached(board, first, second, unknown=True) or {first, second} & board.not_traced:
        return EVEN
    return 0.0


def _reached(board: Board, first: PinAt, second: PinAt, *, unknown: bool) -> bool:
    """Whether copper and fitted straps lead from one to the other; `unknown`: straps of unknown position as fitted."""
    from latchlore.board import PinAt

    groups = [set(net.pins) for net in board.nets]
    for strap in board.straps:
        pairs = [strap.joined] if strap.joined else []
        if strap.joined is None and unknown:
            pairs = [(k, k + 1) for k in range(1, strap.size)]
        groups += [{PinAt(strap.name, k) for k in pair} for pair in pairs]
    reached, waiting = {first}, [first]
    while waiting:
        at = waiting.pop()
        for group in groups:
            if at in group:
                waiting += group - reached
                reached |= group
    return second in reached


def _bit_level(board: Board, asked: ReadTable) -> tuple[int | None, str]:
    """The level a bit reads, None where it may be either, and the sentence."""
    from latchlore.board import decode
    from latchlore.board.testify import strap_level

    place = asked.bit
    space = "port" if place.kind is InputKind.PORT else "memory"
    try:
        register = decode(board).register(place.address, "read", space)
        bit = register.bit(place.bits[0])
    except UnknownName:
        return None, words.NO_REGISTER.format(place=place)
    sense = bit.sense
    if bit.strap:
        strap = next(one for one in board.straps if one.name == bit.strap)
        level = strap_level(board, strap)
    elif sense.kind is BitKind.FOLLOWS and asked.signal and sense.source.lower() == asked.signal.lower():
        level = asked.level
    else:
        level = sense.level if sense.kind is BitKind.TIED else None
    if level is not None and sense.kind is BitKind.FOLLOWS:
        level ^= sense.inverted
    verb = "is" if sense.kind is BitKind.TIED else "follows" if sense.kind is BitKind.FOLLOWS else "is"
    return level, words.BIT_IS.format(place=place, sense=f"{verb} {sense}")


def sent(study: Study, data: bytes, rivals: Sequence[RivalTable], trial: str, at: Callable[..., Origin]) -> Foretold:
    """What bytes do on paper, by the document of each rival; an outcome for each different reading, and any other."""
    told: list[str] = []
    readings: dict[str, list[str]] = {}
    mistakes: list[tuple[Origin, str]] = []
    for k, rival in enumerate(rivals):
        if rival.document is None:
            mistakes.append((at("rival", k), words.NO_TABLE.format(rival=rival.name, trial=trial)))
            continue
        file = next((one for one in study.documents if one.stem == rival.document), None)
        if file is None:
            known = words.listed([one.stem for one in study.documents])
            unknown = words.NO_DOCUMENT.format(document=rival.document, known=known)
            mistakes.append((at("rival", k, "document"), unknown))
            continue
        told.append(_effects(file, data))
        readings.setdefault(told[-1], [])
        if rival.document not in readings[told[-1]]:
            readings[told[-1]].append(rival.document)
    if mistakes:
        raise BadInput.of_all(mistakes)
    outcomes = [words.AS_DOCUMENT.format(documents=" or ".join(documents)) for documents in readings.values()]
    rows: Rows = [(*(float(one == effects) for one in readings), 0.0) for effects in told]
    sentences = [
        words.READS_AS.format(document=rival.document, effects=effects)
        for rival, effects in zip(rivals, told, strict=True)
    ]
    return (*outcomes, words.OTHERWISE), rows, sentences, (sheetwords.SEND.format(data=data.hex(" ").upper()),)


def _effects(file: StudyFile, data: bytes) -> str:
    """What bytes do, span by span: by effect and mode where the table knows them: wording makes no difference."""
    from latchlore.device import byte_name, read_device, read_stream

    effects = []
    for span in read_stream(read_device(file.raw, file.file), data, compiled=False):
        values = f" ({', '.join(f'{name} = {value}' for name, value in span.values.items())})" if span.values else ""
        if span.command is None:
            effects.append(words.NOT_EXPLAINED.format(raw=span.raw.hex(" ").upper()))
        elif span.command.effect == "print":
            effects.append(f"print {''.join(byte_name(byte) for byte in span.raw)!r}")
        elif span.command.effect or not span.changes:
            effects.append((span.command.effect or span.command.meaning) + values)
        effects += [f"{name}: {value}" for name, value in span.changes.items()]
    return "; ".join(effects)


def listened(ramp: RampTable, rivals: Sequence[RivalTable], trial: str, at: Callable[..., Origin]) -> Foretold:
    """Whether one byte of a ramp is heard, by each rival's listener.

    The byte that is stated, or the one that tells most between the rivals as they were weighed before any outcome
    (of equals the first), so that outcomes do not change what the trial is.
    """
    from latchlore.evidence import information, share_out
    from latchlore.study._cache import set_kernel_cache
    from latchlore.wire import HostTimes, Listener, predict_misses

    set_kernel_cache()
    host = HostTimes.regular(ramp.count, ramp.period, ramp.setup, ramp.strobe)
    missed: list[tuple[float, ...]] = []
    mistakes: list[tuple[Origin, str]] = []
    for k, rival in enumerate(rivals):
        stated = rival.listener
        if stated is None:
            mistakes.append((at("rival", k), words.NO_LISTENER.format(rival=rival.name, trial=trial)))
            continue
        try:
            listener = Listener(
                stated.latency,
                stated.service,
                stated.jitter,
                reads=stated.reads,
                depth=stated.depth,
                shortest=stated.shortest,
            )
        except ValueError as error:
            told_of = words.LISTENER.format(rival=rival.name, words=str(error))
            mistakes.append((at("rival", k, "listener"), told_of))
            continue
        missed.append(predict_misses(host, listener).missed)
    if mistakes:
        raise BadInput.of_all(mistakes)
    weights = share_out([rival.weight for rival in rivals])

    def told_by(byte: int) -> float:
        return round(information(weights, tuple((1 - one[byte], one[byte]) for one in missed)), 12)

    byte = max(range(ramp.count), key=told_by) if ramp.byte is None else ramp.byte
    rows: Rows = [(1 - one[byte], one[byte]) for one in missed]
    told = [words.MISSES.format(byte=byte, chance=one[byte]) for one in missed]
    sending = sheetwords.RAMP.format(
        last=ramp.count - 1, period=ramp.period, strobe=ramp.strobe, length=ramp.period * ramp.count
    )
    wires = (sending, sheetwords.LOG.format(byte=byte))
    return (words.HEARD.format(byte=byte), words.MISSED.format(byte=byte)), rows, told, wires

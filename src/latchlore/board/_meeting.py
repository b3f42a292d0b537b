"""What happens pin by pin when two connectors meet: supplies, grounds, outputs that fight, inputs left alone."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from latchlore.board import matingwording as wording
from latchlore.board._bench import DriveKind, Flow
from latchlore.board._matinglevels import Joined, LevelFigures, Said, Severity, level_findings
from latchlore.board._side import Rail
from latchlore.board.matingwording import volts_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from latchlore.base import Origin
    from latchlore.board._side import Contact, Driver, Line, Load, Side, Unknown

Pair = tuple[int | None, int | None]

MAX_BLANK = 4
"""Pins of which nothing is known are told one by one up to this many."""


@dataclass(frozen=True, slots=True)
class Finding:
    """A sentence about one or more pins that meet; `pins` are (pin of the one, pin of the other), None for no pin.

    `reading`: what to read or measure next, may be empty.
    """

    severity: Severity
    pins: tuple[Pair, ...]
    words: str
    reading: str
    origins: tuple[Origin, ...]


class _Tied(NamedTuple):
    """A rail of one side that a line of the other side is joined to."""

    contact: Contact
    side: Side


def judge(
    one: Side, other: Side, pairs: tuple[tuple[int, int], ...]
) -> tuple[list[Finding], list[tuple[tuple[Pair, ...], LevelFigures]]]:
    """Every finding of one way, and the levels computed line by line.

    `pairs` are the pins that meet; all other pins meet nothing.
    """
    return _Judge(one, other, pairs).judge()


class _Judge:
    def __init__(self, one: Side, other: Side, pairs: tuple[tuple[int, int], ...]) -> None:
        self.sides = (one, other)
        self.pairs = [(a, b) for a, b in pairs if a in one.contacts and b in other.contacts]
        self.findings: list[Finding] = []
        self.figures: list[tuple[tuple[Pair, ...], LevelFigures]] = []
        self.blank: dict[str, tuple[Unknown, list[Pair], list[Contact]]] = {}

    def judge(self) -> tuple[list[Finding], list[tuple[tuple[Pair, ...], LevelFigures]]]:
        if not self.pairs:
            self.say(Severity.UNSURE, (), wording.NO_CONTACT, wording.READ_NO_CONTACT)
            return self.findings, self.figures
        grounds = False
        for a, b in self.pairs:
            left, right = self.sides[0].contacts[a], self.sides[1].contacts[b]
            rails = (left.line.rail, right.line.rail)
            grounds |= rails == (Rail.GROUND, Rail.GROUND)
            if all(rails):
                self.rails(left, right, (a, b))
            elif rails[0]:
                self.rail_on_line(left, self.sides[0], right, self.sides[1], (a, b))
            elif rails[1]:
                self.rail_on_line(right, self.sides[1], left, self.sides[0], (a, b))
        if not grounds and any(not c.is_open for side in self.sides for c in side.contacts.values()):
            self.say(Severity.DANGER, (), wording.NO_GROUND)
        for group in self.groups():
            self.line(group)
        self.tell_blank()
        return self.findings, self.figures

    def say(self, severity: Severity, pins: Iterable[Pair], words: str, reading: str = "", *contacts: Contact) -> None:
        origins = tuple(dict.fromkeys(one.origin for one in contacts))
        found = Finding(severity, tuple(pins), words, reading, origins)
        if found not in self.findings:
            self.findings.append(found)

    def name(self, contact: Contact, side: Side) -> str:
        """``j2.3 strobe``: the connector's pin and its signal."""
        return f"{side.pin(contact.number)} {contact.signal}".rstrip()

    # --- rails ---

    def rails(self, left: Contact, right: Contact, pair: Pair) -> None:
        """Two pins that are both joined to a supply or to ground."""
        kinds = {left.line.rail, right.line.rail}
        if kinds == {Rail.GROUND}:
            return
        if kinds == {Rail.GROUND, Rail.SUPPLY}:
            first = left.line.rail is Rail.SUPPLY
            supply, ground = (left, right) if first else (right, left)
            sides = self.sides if first else self.sides[::-1]
            words = wording.SUPPLY_GROUND.format(
                supply=self.name(supply, sides[0]), volts=_volts(supply), ground=self.name(ground, sides[1])
            )
            self.say(Severity.DANGER, [pair], words, "", left, right)
            return
        self.supplies(left, right, pair)

    def supplies(self, left: Contact, right: Contact, pair: Pair) -> None:
        for contact, side in ((left, self.sides[0]), (right, self.sides[1])):
            if contact.line.millivolts is None:
                at = f"{side.name}.{contact.number}"
                words = wording.SUPPLY_VOLTS.format(at=side.pin(contact.number))
                reading = wording.READ_VOLTS.format(at=at)
                self.say(Severity.UNSURE, [pair], words, reading, contact)
        one, other = left.line.millivolts, right.line.millivolts
        if one is None or other is None:
            return
        if one != other:
            words = wording.SUPPLIES_DIFFER.format(first=volts_words(one), second=volts_words(other))
            self.say(Severity.DANGER, [pair], words, "", left, right)
            return
        flows = [left.line.flow, right.line.flow]
        if sorted(flows) == [Flow.FEEDS, Flow.TAKES]:
            return
        if flows == [Flow.FEEDS, Flow.FEEDS]:
            words = wording.SUPPLIES_BOTH_FEED.format(volts=volts_words(one))
            self.say(Severity.DANGER, [pair], words, "", left, right)
        elif flows == [Flow.TAKES, Flow.TAKES]:
            self.say(Severity.FAULT, [pair], wording.SUPPLIES_BOTH_TAKE, "", left, right)
        else:
            reading = wording.READ_FLOW.format(
                volts=volts_words(one), at=f"{self.sides[0].name}.{left.number}", number=float(one) / 1000
            )
            words = wording.SUPPLY_FLOW.format(volts=volts_words(one))
            self.say(Severity.UNSURE, [pair], words, reading, left, right)

    def rail_on_line(self, rail: Contact, rail_side: Side, line: Contact, line_side: Side, pair: Pair) -> None:
        """A supply or ground of one side on a line of the other."""
        if line.is_open:
            return
        where, signal = self.name(rail, rail_side), self.name(line, line_side)
        if line.line.unknown:
            self.unknown(line, [pair])
            if rail.line.rail is Rail.SUPPLY:
                return
        if rail.line.rail is Rail.SUPPLY and (rail.is_supply or rail.line.millivolts is None):
            what = ", ".join(dict.fromkeys(p.at for p in line.line.ends)) or "a pull"
            words = wording.SUPPLY_SIGNAL.format(supply=where, volts=_volts(rail), signal=signal, what=what)
            self.say(Severity.DANGER, [pair], words, "", rail, line)
            return
        for driver in line.line.drivers:
            if rail.line.rail is Rail.GROUND:
                self.driver_on_ground(driver, where, rail, line, line_side, pair)
            elif not _is_weak(driver, rail.line.millivolts or 0, low=True):
                words = wording.TIED_FIGHTS.format(driver=driver.at, tie=where)
                self.say(Severity.DANGER, [pair], words, "", rail, line)
        self.held(rail, where, line, line_side, pair)

    def driver_on_ground(
        self, driver: Driver, where: str, rail: Contact, line: Contact, side: Side, pair: Pair
    ) -> None:
        if driver.kind is DriveKind.COLLECTOR or _is_weak(driver, side.supply_mv, low=False):
            words = wording.HELD_COLLECTOR.format(driver=driver.at, ground=where)
            self.say(Severity.EFFECT, [pair], words, "", rail, line)
            return
        when = {
            DriveKind.FIRM: wording.WHEN_HIGH,
            DriveKind.THREE_STATE: wording.WHEN_ENABLED,
            DriveKind.UNKNOWN: wording.UNLESS_COLLECTOR,
        }[driver.kind]
        words = wording.GROUND_FIGHTS.format(driver=driver.at, ground=where, when=when)
        self.say(Severity.DANGER, [pair], words, "", rail, line)

    def held(self, rail: Contact, where: str, line: Contact, side: Side, pair: Pair) -> None:
        """An input that a rail of the other side holds at one level."""
        if not line.line.loads:
            return
        level = int(rail.line.rail is Rail.SUPPLY)
        volts = rail.line.millivolts or 0
        for load in line.line.loads:
            known = load.electrical.supply if load.electrical is not None else None
            most = known[1] if known else side.supply_mv
            if volts > most:
                words = wording.OVER_VOLTS.format(at=load.at, most=volts_words(most), volts=volts_words(volts))
                self.say(Severity.DANGER, [pair], words, "", rail, line)
        meaning = ""
        if line.active is not None:
            meaning = wording.HELD_TRUE if line.active == level else wording.HELD_FALSE
        words = wording.HELD.format(
            signal=self.name(line, side), level="high" if level else "low", tie=where, meaning=meaning
        )
        self.say(Severity.EFFECT, [pair], words, "", rail, line)

    def unknown(self, contact: Contact, pins: list[Pair]) -> None:
        for one in contact.line.unknown:
            self.say_unknown(one, pins, [contact])

    def say_unknown(self, one: Unknown, pins: list[Pair], contacts: list[Contact]) -> None:
        """Say it now, or keep it where it is one of the pins of which nothing is known."""
        if one.pin:
            self.blank.setdefault(one.pin, (one, [], []))
            self.blank[one.pin][1].extend(pins)
            self.blank[one.pin][2].extend(contacts)
        else:
            self.say(Severity.UNSURE, pins, one.words, one.reading, *contacts)

    def tell_blank(self) -> None:
        """The pins of which nothing is known, one by one or all together."""
        if len(self.blank) <= MAX_BLANK:
            for one, pins, contacts in self.blank.values():
                self.say(Severity.UNSURE, dict.fromkeys(pins), one.words, one.reading, *contacts)
            return
        names = list(self.blank)
        told = f"{', '.join(names[:MAX_BLANK])} and {len(names) - MAX_BLANK} more pins"
        every = dict.fromkeys(pair for _, pins, _ in self.blank.values() for pair in pins)
        contacts = [contact for _, _, found in self.blank.values() for contact in found]
        owners = " or ".join(dict.fromkeys(f"'done {side.name}'" for side in self.sides))
        reading = wording.READ_PINS.format(done=owners)
        self.say(Severity.UNSURE, every, wording.NOT_TRACED.format(at=told), reading, *contacts)

    # --- lines ---

    def groups(self) -> list[_Group]:
        """Lines of both sides that meet, and lines that meet nothing; those on a rail are left out."""
        groups: dict[int, _Group] = {}
        at: dict[int, _Group] = {}
        for k, side in enumerate(self.sides):
            for contact in side.contacts.values():
                key = id(contact.line)
                if not contact.line.rail and key not in at:
                    at[key] = groups[key] = _Group([[], []], [], [])
                    at[key].lines[k].append(contact.line)
        met: set[tuple[int, int]] = set()
        for a, b in self.pairs:
            left, right = self.sides[0].contacts[a], self.sides[1].contacts[b]
            met |= {(0, a), (1, b)}
            one, other = at.get(id(left.line)), at.get(id(right.line))
            for group in (one, other):
                if group is not None:
                    group.pins.append((a, b))
            if one is None or other is None:
                tied = one if one is not None else other
                if tied is not None:
                    tied.tied.append(_Tied(left if one is None else right, self.sides[0 if one is None else 1]))
                continue
            if one is not other:
                one.take(other)
                for key, group in list(at.items()):
                    if group is other:
                        at[key] = one
                groups = {key: group for key, group in groups.items() if group is not other}
        for k, side in enumerate(self.sides):
            for contact in side.contacts.values():
                if (k, contact.number) not in met and id(contact.line) in at:
                    pair: Pair = (contact.number, None) if k == 0 else (None, contact.number)
                    at[id(contact.line)].pins.append(pair)
        return list(groups.values())

    def line(self, group: _Group) -> None:
        """One joined line: fights, what is not known, levels."""
        pins = list(dict.fromkeys(group.pins))
        contacts = [c for k, side in enumerate(self.sides) for c in side.contacts.values() if c.line in group.lines[k]]
        live = [[line for line in lines if not line.is_bare] for lines in group.lines]
        if not group.tied and not (live[0] and live[1]) and sum(map(len, live)) < 2:
            self.alone(live, pins, contacts)
            return
        mixed = [(line, k) for k, lines in enumerate(live) for line in lines]
        if not group.tied:
            for one in [one for line, _ in mixed for one in line.unknown]:
                self.say_unknown(one, pins, contacts)
        before = len(self.findings)
        self.fights(mixed, pins, contacts)
        if group.tied:
            return  # the rest was said at the pin that meets the rail
        fought = any(f.severity is Severity.DANGER for f in self.findings[before:])
        strange = self.families(mixed, pins, contacts)
        if fought or strange or any(line.unknown for line, _ in mixed):
            return
        self.levels(mixed, pins, contacts)

    def alone(self, live: list[list[Line]], pins: list[Pair], contacts: list[Contact]) -> None:
        """A line that meets nothing: what it was by itself, with its inputs perhaps left alone now."""
        for k, lines in enumerate(live):
            for line in lines:
                families = all(load.electrical is not None for load in line.loads)
                if line.drivers or line.unknown or not line.loads:
                    continue
                if line.pulls and not families:
                    self.say(
                        Severity.OPEN,
                        pins,
                        wording.FAMILY.format(at=line.loads[0].at),
                        self.read_family(line, k, line.loads[0].at),
                        *contacts,
                    )
                    continue
                said, _ = level_findings(_joined([(line, k)], self.sides))
                for one in said:
                    self.say(one.severity, pins, one.words, one.reading, *contacts)

    def fights(self, mixed: list[tuple[Line, int]], pins: list[Pair], contacts: list[Contact]) -> None:
        """Outputs of different lines that now share one."""
        for n, (first_line, _) in enumerate(mixed):
            for second_line, _ in mixed[n + 1 :]:
                for first in first_line.drivers:
                    for second in second_line.drivers:
                        found = _fight(first, second)
                        if found is not None:
                            self.say(found.severity, pins, found.words, found.reading, *contacts)

    def families(self, mixed: list[tuple[Line, int]], pins: list[Pair], contacts: list[Contact]) -> bool:
        """Whether some family is not known; says so."""
        strange = False
        for line, k in mixed:
            for part in line.ends:
                if part.electrical is None:
                    strange = True
                    reading = self.read_family(line, k, part.at)
                    self.say(Severity.UNSURE, pins, wording.FAMILY.format(at=part.at), reading, *contacts)
        return strange

    def read_family(self, line: Line, k: int, at: str) -> str:
        pin = next((c.number for c in self.sides[k].contacts.values() if c.line is line), 0)
        return wording.READ_FAMILY.format(at=at, pin=f"{self.sides[k].name}.{pin}")

    def levels(self, mixed: list[tuple[Line, int]], pins: list[Pair], contacts: list[Contact]) -> None:
        said, figures = level_findings(_joined(mixed, self.sides))
        for one in said:
            self.say(one.severity, pins, one.words, one.reading, *contacts)
        self.figures += [(tuple(pins), figure) for figure in figures]


@dataclass(slots=True)
class _Group:
    """Lines of the two sides that are one line now; `pins` where they meet, `tied` the rails on it."""

    lines: list[list[Line]]
    pins: list[Pair]
    tied: list[_Tied]

    def take(self, other: _Group) -> None:
        for mine, theirs in zip(self.lines, other.lines, strict=True):
            mine.extend(theirs)
        self.pins += other.pins
        self.tied += other.tied


def _joined(mixed: list[tuple[Line, int]], sides: tuple[Side, Side]) -> Joined:
    drivers: list[tuple[Driver, int]] = []
    loads: list[tuple[Load, int]] = []
    pulls = []
    for line, k in mixed:
        drivers += [(driver, sides[k].supply_mv) for driver in line.drivers]
        loads += [(load, sides[k].supply_mv) for load in line.loads]
        pulls += line.pulls
    return Joined(tuple(drivers), tuple(loads), tuple(pulls))


def _fight(first: Driver, second: Driver) -> Said | None:
    """What comes of two outputs on one line."""
    kinds = {first.kind, second.kind}
    if kinds == {DriveKind.COLLECTOR}:
        return None
    if DriveKind.THREE_STATE in kinds and DriveKind.FIRM not in kinds:
        return Said(
            Severity.UNSURE,
            wording.MAY_FIGHT.format(first=first.at, second=second.at),
            wording.READ_ENABLE.format(first=first.at, second=second.at),
        )
    when = ""
    if DriveKind.THREE_STATE in kinds:
        which = first if first.kind is DriveKind.THREE_STATE else second
        when = wording.FIGHT_ENABLED.format(which=which.at)
    elif kinds <= {DriveKind.UNKNOWN, DriveKind.COLLECTOR}:
        when = wording.FIGHT_UNLESS
    return Said(Severity.DANGER, wording.FIGHT.format(first=first.at, second=second.at, when=when))


def _is_weak(driver: Driver, millivolts: int, *, low: bool) -> bool:
    """Whether a resistor in series keeps the current of a short within what the output is guaranteed for."""
    if not driver.ohms or driver.electrical is None:
        return False
    points = driver.electrical.low if low else driver.electrical.high
    return bool(points) and Fraction(millivolts * 1000) / driver.ohms <= points[-1].microamps


def _volts(contact: Contact) -> str:
    return "voltage not known" if contact.line.millivolts is None else volts_words(contact.line.millivolts)

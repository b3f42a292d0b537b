"""Two connectors put together in every way: which pins meet, what that does, and whether it is safe.

*Safe* is said only where every pin that meets something is computed.  Whether it works is a second question.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from latchlore.board import matingwording as wording
from latchlore.board._electrical import Technology
from latchlore.board._face import PinMap, SeenFrom, WayKind, pin_maps
from latchlore.board._matinglevels import LevelFigures, Severity
from latchlore.board._meeting import Finding, judge
from latchlore.board._side import Contact, Rail, Side, look_at, names_of
from latchlore.board.matingwording import volts_words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.base import Origin
    from latchlore.board._board import Board
    from latchlore.board._electrical import Technology
from latchlore.board._face import Face


class Harm(StrEnum):
    """Whether putting two connectors together so can destroy something."""

    UNSAFE = "unsafe"
    UNKNOWN = "cannot be told"
    SAFE = "safe"


class Works(StrEnum):
    """Whether the levels are understood."""

    NO = "no"  # it is not asked where it is unsafe
    FAULT = "not for sure"
    UNKNOWN = "cannot be told"
    CONDITION = "on conditions"
    YES = "works"


class Meeting(NamedTuple):
    """One pin of the one with one pin of the other, either None where it meets nothing; `worst` of its findings."""

    one: int | None
    other: int | None
    worst: Severity | None


@dataclass(frozen=True, slots=True)
class Way:
    """One way of putting them together.  `findings` danger first, then by pin; `figures` by line."""

    kind: WayKind
    names: tuple[str, ...]
    harm: Harm
    works: Works
    meetings: tuple[Meeting, ...]
    findings: tuple[Finding, ...]
    figures: tuple[tuple[tuple[tuple[int | None, int | None], ...], LevelFigures], ...]

    @property
    def name(self) -> str:
        """Its plainest name."""
        return self.names[0]

    @property
    def dangers(self) -> tuple[Finding, ...]:
        """What can destroy something."""
        return tuple(one for one in self.findings if one.severity is Severity.DANGER)


@dataclass(frozen=True, slots=True)
class Mating:
    """Two connectors in every way that can be computed, the right one first (or the numbers as they stand).

    `right_known`: whether it is known which way is the right one.  `missing`: what could not be computed and what
    would help.  `bounds`: what "safe" rests on.
    """

    name: str
    one: Side
    other: Side
    cable: bool
    ways: tuple[Way, ...]
    right_known: bool
    missing: tuple[str, ...]
    bounds: tuple[str, ...]
    origins: tuple[Origin, ...]

    @property
    def right(self) -> Way:
        """The right way, or the numbers as they stand where that is not known."""
        return self.ways[0]

    @property
    def harm(self) -> Harm:
        """What can be said before anything is put together: the right way, or all that may be it."""
        if self.right_known:
            return self.right.harm
        likely = [way for way in self.ways if way.kind in (WayKind.RIGHT, WayKind.MIRRORED)]
        if all(way.harm is Harm.SAFE for way in likely) and len(likely) > 1:
            return Harm.SAFE
        return Harm.UNSAFE if all(way.harm is Harm.UNSAFE for way in likely) else Harm.UNKNOWN


def mate(
    board: Board,
    connector: str,
    other: Board,
    other_connector: str,
    cable: Mapping[int, tuple[int, ...]] | None = None,
    origins: tuple[Origin, ...] = (),
) -> Mating:
    """Put a connector of `board` to one of `other`, directly or through a cable (pin → pins), in every way.

    Refuses connectors that the boards do not have (`UnknownName`).
    """
    prefix = wording.FAR if names_of(board) & names_of(other) else ""
    one, second = look_at(board, connector), look_at(other, other_connector, prefix)
    sizes = (one.connector.size, second.connector.size)
    maps, unknown = pin_maps(one.face, second.face, sizes, cable, (one.label, second.label))
    return Mating(
        name=f"{one.label} of {one.title} to {second.label} of {second.title}",
        one=one,
        other=second,
        cable=cable is not None,
        ways=tuple(_way(one, second, pins) for pins in maps),
        right_known="seen" not in unknown,
        missing=tuple(_missing(one, second, unknown)),
        bounds=tuple(_bounds(one, second)),
        origins=origins or (one.connector.origin, second.connector.origin),
    )


def mate_all(board: Board, others: tuple[Board, ...]) -> tuple[Mating, ...]:
    """Every mating that the other boards state with this one, in their order.

    Refuses a mating stated in the board's own files, and one with a connector that the board does not have, with all
    mistakes at once.
    """
    from latchlore.base import BadInput, UnknownName

    mistakes = [(one.origin, wording.OWN_MATE) for one in board.bench.mates]
    found: list[Mating] = []
    for other in others:
        if not other.bench.mates:
            mistakes.append((other.origin, wording.NO_MATE))
        for one in other.bench.mates:
            try:
                plug = board.connector(one.other)
                cable = None
                if one.cable is not None:
                    cable = _turned(one.cable)
                    beyond = next((b for _, b in one.cable if b > plug.size), None)
                    if beyond is not None and one.cable != tuple((k, k) for k, _ in one.cable):
                        mistakes.append((one.origin, wording.NO_PIN.format(name=plug.name, size=plug.size, pin=beyond)))
                found.append(mate(board, one.other, other, one.own, cable, (one.origin, plug.origin)))
            except UnknownName as error:
                mistakes.append((one.origin, str(error)))
    if mistakes:
        raise BadInput.of_all(mistakes)
    return tuple(found)


def _turned(cable: tuple[tuple[int, int], ...]) -> dict[int, tuple[int, ...]]:
    found: dict[int, tuple[int, ...]] = {}
    for own, theirs in cable:
        found[theirs] = (*found.get(theirs, ()), own)
    return found


def _way(one: Side, other: Side, pins: PinMap) -> Way:
    findings, figures = judge(one, other, pins.pairs)
    shown = sorted(findings, key=rank)
    return Way(
        pins.kind,
        pins.names,
        _harm(shown),
        _works(shown),
        tuple(_meetings(one, other, pins.pairs, shown)),
        tuple(shown),
        tuple(figures),
    )


def rank(finding: Finding) -> tuple[int, bool, tuple[tuple[int, int], ...], str]:
    """Order of findings: danger first, then by pins, since a pin can be acted on; those without one last.

    Words make it total.
    """
    pins = tuple((a if a is not None else 1 << 16, b if b is not None else 1 << 16) for a, b in finding.pins)
    return (list(Severity).index(finding.severity), not pins, pins, finding.words)


def _harm(findings: list[Finding]) -> Harm:
    severities = {one.severity for one in findings}
    if Severity.DANGER in severities:
        return Harm.UNSAFE
    return Harm.UNKNOWN if Severity.UNSURE in severities else Harm.SAFE


def _works(findings: list[Finding]) -> Works:
    severities = {one.severity for one in findings}
    if Severity.DANGER in severities:
        return Works.NO
    if Severity.FAULT in severities:
        return Works.FAULT
    if severities & {Severity.UNSURE, Severity.OPEN}:
        return Works.UNKNOWN
    return Works.CONDITION if Severity.CONDITION in severities else Works.YES


def _meetings(one: Side, other: Side, pairs: tuple[tuple[int, int], ...], findings: list[Finding]) -> list[Meeting]:
    met_one, met_other = {a for a, _ in pairs}, {b for _, b in pairs}
    every: list[tuple[int | None, int | None]] = [(a, b) for a, b in pairs]
    every += [(a, None) for a in one.contacts if a not in met_one]
    every += [(None, b) for b in other.contacts if b not in met_other]
    worst: dict[tuple[int | None, int | None], Severity] = {}
    for finding in findings:
        for pair in finding.pins:
            worst.setdefault(pair, finding.severity)
    every.sort(key=lambda pair: (pair[0] is None, pair[0] or 0, pair[1] is None, pair[1] or 0))
    return [Meeting(a, b, worst.get((a, b))) for a, b in every]


def _missing(one: Side, other: Side, unknown: tuple[str, ...]) -> list[str]:
    found = []
    for which, side in (("first", one), ("second", other)):
        if which in unknown or (which == "second" and side.face is None and "first" in unknown):
            found.append(wording.MISSING_FACE.format(name=side.name))
    if "seen" in unknown:
        loose = [side for side in (one, other) if side.face is None or not side.face.is_placed]
        names = " and ".join(f"{side.label} ({side.title})" for side in loose)
        readings = [_read_seen(side) for side in loose]
        found.append(wording.MISSING_SEEN.format(names=names, reading="; ".join(readings)))
    return found


def _read_seen(side: Side) -> str:
    """The reading that tells from which end the numbers run: a ground or supply whose mirrored place is neither."""
    face = side.face
    if face is None or face.seen is not SeenFrom.UNKNOWN:
        return wording.READ_SEEN_BY_EYE.format(name=side.name)
    for wanted, what in ((Rail.GROUND, "ground"), (Rail.SUPPLY, "the supply")):
        for r, row in enumerate(face.rows):
            for number in row:
                twin = _twin(face, number)
                if twin is None or side.contacts[number].line.rail is not wanted:
                    continue
                if side.contacts[twin].line.rail is not wanted and not side.contacts[twin].line.unknown:
                    place = [n for n in row if n].index(number) + 1
                    return wording.READ_SEEN.format(
                        name=side.name, which=_ordinal(place), row=r + 1, what=what, number=row[0]
                    )
    return wording.READ_SEEN_BY_EYE.format(name=side.name)


def _twin(face: Face, number: int) -> int | None:
    return face.num_like(number) if number else None


def _ordinal(number: int) -> str:
    ends = {1: "st", 2: "nd", 3: "rd"}
    return f"{number}{'th' if number % 100 in (11, 12, 13) else ends.get(number % 10, 'th')}"


def _is_mos_input(contact: Contact) -> bool:
    return any(
        load.electrical is not None and load.electrical.technology is Technology.MOS for load in contact.line.loads
    )


def _bounds(one: Side, other: Side) -> list[str]:
    found = [wording.BOUNDS, wording.BOUND_LOADS]
    names: dict[str, None] = {}
    for side in (one, other):
        if not side.supply_stated:
            found.append(wording.BOUND_SUPPLY.format(title=side.title, volts=volts_words(side.supply_mv)))
        far = other if side is one else one
        if any(_is_mos_input(contact) for contact in side.contacts.values()) and any(
            contact.line.drivers for contact in far.contacts.values()
        ):
            found.append(wording.BOUND_OFF.format(title=side.title))
        if side.not_traced:
            found.append(wording.BOUND_TRACED.format(title=side.title, count=side.not_traced))
        for contact in side.contacts.values():
            for part in contact.line.ends:
                if part.electrical is not None and any(words == "from memory" for _, words in part.electrical.sources):
                    names[part.electrical.name] = None
    if one.face is not None and other.face is not None:
        found.append(wording.BOUND_VIEW)
    if names:
        found.append(wording.BOUND_MEMORY.format(names=", ".join(sorted(names))))
    return found

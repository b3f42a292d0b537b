"""How two testimonies about one subject stand to each other, by the kinds of their values.

A `Relation` is AGREE (they speak of the same thing and it is the same), CLASH (they cannot both be true) or APART (they
speak of different sides of the subject, or what one says leaves the other open).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum

from latchlore.base import (
    ActiveLevel,
    AddressSet,
    BitKind,
    BitLevel,
    BitSense,
    BitUse,
    ByteSequence,
    Emission,
    EventOrder,
    SpanLimit,
    SpanRange,
    SubjectKind,
    Testimony,
    Value,
    Witness,
    Words,
)
from latchlore.evidence import orderwording, wording
from latchlore.evidence._orders import differences, shared
from latchlore.evidence._signals import signal_name


class Side(Enum):
    """Whether two values can stand together."""

    AGREE = "agree"
    CLASH = "clash"
    APART = "apart"


@dataclass(frozen=True, slots=True)
class Relation:
    """A side and the sentence that says why; `is_weak`: the sentence is of no interest where others agree."""

    side: Side
    words: str
    is_weak: bool = False


APART = Relation(Side.APART, "")


def _addresses(first: AddressSet, second: AddressSet) -> Relation:
    """Two lists of addresses of which neither is complete: what they share agrees, what one adds is no contradiction.

    A board alone knows all mirrors; a program or a document names those that somebody used.
    """
    if first.width != second.width:
        width = max(first.width, second.width)
        first, second = (AddressSet.of_cubes(one.cubes, width) for one in (first, second))
    if first == second:
        return Relation(Side.AGREE, wording.SAME_ADDRESSES)
    if first <= second or second <= first:
        return Relation(Side.AGREE, wording.ADDRESSES_SHARED)
    if first.is_disjoint(second):
        return Relation(Side.APART, wording.OTHER_ADDRESSES)
    return Relation(Side.APART, wording.addresses_shared(first & second))


def _relate_addresses(first: Testimony, second: Testimony) -> Relation:
    """The board's decode is complete: what the others name must lie within it."""
    if first.witness is second.witness or Witness.BOARD not in (first.witness, second.witness):
        return _relate_values(first.value, second.value)
    board, other = (first, second) if first.witness is Witness.BOARD else (second, first)
    whole, named = board.value, other.value
    if not isinstance(whole, AddressSet) or not isinstance(named, AddressSet):
        return _relate_values(first.value, second.value)
    if named.width > whole.width:  # a board that looks at fewer lines answers whatever the others are
        whole = AddressSet.of_cubes(whole.cubes, named.width)
    elif named.width < whole.width:  # nobody says how the further lines stand
        wide = AddressSet.of_cubes(named.cubes, whole.width)
        if not wide.is_disjoint(whole):
            return Relation(Side.APART, wording.lines_not_told(named.width, whole.width))
        named = wide
    if whole == named:
        return Relation(Side.AGREE, wording.SAME_ADDRESSES)
    if named <= whole:
        return Relation(Side.AGREE, wording.ADDRESSES_WITHIN)
    if named.is_disjoint(whole):
        return Relation(Side.CLASH, wording.none_answered(other, named))
    return Relation(Side.CLASH, wording.not_answered(other, named - whole))


def _sense_and_use(sense: BitSense, use: BitUse) -> Relation:
    """What a bit is wired to, and how the program looks at it.

    A program that looks at a bit does not tell which signal it carries, nor in which sense, and one that never looks
    does not tell that it is free: neither confirms the board.  Only what it waits for can contradict it.
    """
    looked_at = use.goes_on_at is not None or use.branches
    if use.pulsed_at is not None:
        ends = sense.kind in (BitKind.UNCONNECTED, BitKind.TIED)
        return Relation(Side.APART, wording.PULSES_NOTHING) if ends else APART
    match sense.kind:
        case BitKind.UNKNOWN:
            return APART
        case BitKind.UNCONNECTED if use.goes_on_at is not None:
            return Relation(Side.CLASH, wording.WAITS_ON_NOTHING)
        case BitKind.TIED if use.goes_on_at is not None and use.goes_on_at != sense.level:
            return Relation(Side.CLASH, wording.waits_on_tied(sense.level, use.goes_on_at))
        case BitKind.UNCONNECTED if looked_at:
            return Relation(Side.APART, wording.BRANCHES_ON_NOTHING)
        case BitKind.UNCONNECTED | BitKind.TIED:
            return APART if looked_at else Relation(Side.APART, wording.NEITHER_USES_IT)
        case _:
            return Relation(Side.APART, wording.wired_and_used(sense.source), is_weak=True) if looked_at else APART


def _senses(first: BitSense, second: BitSense) -> Relation:
    if BitKind.UNKNOWN in (first.kind, second.kind):
        return APART
    if first == replace(second, source=first.source) and signal_name(first.source) == signal_name(second.source):
        return Relation(Side.AGREE, wording.SAME_SENSE)
    return Relation(Side.CLASH, wording.senses_differ(first, second))


def _relate_names(one: Value, other: Value) -> Relation:
    """A document that only names the signal of a bit, and not the sense, against another or against what is traced."""
    if isinstance(other, Words):
        one, other = other, one
    if not isinstance(one, Words):
        return APART
    match other:
        case Words():
            named, words = other.text, wording.words_differ(one.text, other.text)
        case BitSense() if other.kind is not BitKind.UNKNOWN:
            named = other.source if other.kind is BitKind.FOLLOWS else ""
            words = wording.bit_names_differ(str(other), one.text)
        case _:
            return APART
    if signal_name(named) == signal_name(one.text):
        return Relation(Side.AGREE, wording.SAME_SIGNAL)
    return Relation(Side.CLASH, words)


def _sense_and_level(sense: BitSense, found: BitLevel) -> Relation:
    """A tied bit against the level found; a bit that follows a signal may have either."""
    if sense.kind is not BitKind.TIED:
        return APART
    if sense.level == found.level:
        return Relation(Side.AGREE, wording.same_bit_level(found.level))
    return Relation(Side.CLASH, wording.bit_levels_differ(str(sense), str(found)))


def _ranges(actual: SpanRange, limit: SpanLimit) -> Relation:
    match limit.judge(actual):
        case "met":
            return Relation(Side.AGREE, wording.limit_met(actual, limit))
        case "broken":
            return Relation(Side.CLASH, wording.limit_broken(actual, limit))
        case _:
            return Relation(Side.APART, wording.limit_open(actual, limit))


def _spans(first: SpanRange, second: SpanRange) -> Relation:
    if first.overlaps(second):
        return Relation(Side.AGREE, wording.times_overlap(first, second))
    return Relation(Side.CLASH, wording.times_differ(first, second))


def _limits(first: SpanLimit, second: SpanLimit) -> Relation:
    """Two documents' demands on one time agree when equal; a stricter one does not refute a milder one."""
    return Relation(Side.AGREE, wording.SAME_LIMIT) if first == second else APART


def _words(first: Words, second: Words) -> Relation:
    """By their effects where both are known, since one thing can be said in many ways; else by what is said."""
    if first.effect and second.effect:
        if first.effect != second.effect:
            return Relation(Side.CLASH, wording.effects_differ(first, second))
        same = first.meaning == second.meaning
        return Relation(Side.AGREE, wording.SAME_WORDS if same else wording.SAME_EFFECT)
    if first.meaning == second.meaning:
        return Relation(Side.AGREE, wording.SAME_WORDS)
    return Relation(Side.CLASH, wording.words_differ(first.text, second.text))


def _emissions(first: Emission, second: Emission) -> Relation:
    if first.happens is None or second.happens is None:
        return APART
    if first.happens == second.happens:
        return Relation(Side.AGREE, wording.SAME_EMISSION)
    return Relation(Side.CLASH, wording.EMISSION_DENIED)


def _relate_emissions(first: Testimony, second: Testimony) -> Relation:
    """A program that may send something does not contradict who says that it never was sent."""
    for one, other in ((first, second), (second, first)):
        if not isinstance(one.value, Emission) or not isinstance(other.value, Emission):
            return APART
        if one.witness is Witness.PROGRAM and one.value.happens and other.value.happens is False:
            return Relation(Side.APART, wording.MAY_BE_SENT)
    return _relate_values(first.value, second.value)


def _levels(first: ActiveLevel, second: ActiveLevel) -> Relation:
    if first == second:
        return Relation(Side.AGREE, wording.SAME_LEVEL)
    return Relation(Side.CLASH, wording.LEVELS_DIFFER)


def _sequences(first: ByteSequence, second: ByteSequence) -> Relation:
    if first.data == second.data:
        return Relation(Side.AGREE, wording.SAME_SEQUENCE)
    return Relation(Side.CLASH, wording.sequences_differ(first.data, second.data))


_PAIRS: dict[tuple[type, type], Callable[..., Relation]] = {
    (AddressSet, AddressSet): _addresses,
    (BitSense, BitUse): _sense_and_use,
    (BitSense, BitSense): _senses,
    (SpanRange, SpanLimit): _ranges,
    (SpanRange, SpanRange): _spans,
    (SpanLimit, SpanLimit): _limits,
    (Words, Words): _words,
    (Emission, Emission): _emissions,
    (ActiveLevel, ActiveLevel): _levels,
    (BitSense, BitLevel): _sense_and_level,
    (ByteSequence, ByteSequence): _sequences,
}


def relate(first: Testimony, second: Testimony) -> Relation:
    """How two testimonies about one subject stand to each other; the order of the two does not matter."""
    if first.subject.kind is SubjectKind.NOTE:
        return APART
    both = (first.value, second.value)
    if first.subject.kind is SubjectKind.BIT and all(isinstance(value, ActiveLevel) for value in both):
        return APART  # they are weighed under the signal; here they only meet what the bit is wired to
    if first.subject.kind is SubjectKind.BIT and any(isinstance(value, Words) for value in both):
        return _relate_names(first.value, second.value)
    if isinstance(first.value, BitLevel) and isinstance(second.value, BitLevel):
        return _relate_levels(first.witness, first.value, second.witness, second.value)
    if first.subject.kind is SubjectKind.REGISTER:
        return _relate_addresses(first, second)
    if first.subject.kind is SubjectKind.TIMING and SpanLimit in (type(first.value), type(second.value)):
        return _relate_times(first, second)
    if first.subject.kind is SubjectKind.EMISSION:
        return _relate_emissions(first, second)
    if first.subject.kind is SubjectKind.WIDTH:
        return _relate_widths(first, second)
    if first.subject.kind is SubjectKind.PIN:
        return _relate_pins(first, second)
    if first.subject.kind is SubjectKind.ORDER:
        return _relate_orders(first, second)
    return _relate_values(first.value, second.value)


def _relate_values(one: Value, other: Value) -> Relation:
    forwards = _PAIRS.get((type(one), type(other)))
    if forwards is not None:
        return forwards(one, other)
    backwards = _PAIRS.get((type(other), type(one)))
    return APART if backwards is None else backwards(other, one)


def _relate_times(first: Testimony, second: Testimony) -> Relation:
    """A time that a program or wire takes against a document's demand; a program's may have no most (a wait)."""
    if Witness.DOCUMENTS not in (first.witness, second.witness) or first.witness is second.witness:
        return _relate_values(first.value, second.value)
    document, other = (first, second) if first.witness is Witness.DOCUMENTS else (second, first)
    demand, taken = document.value, other.value
    if not isinstance(demand, SpanLimit) or not isinstance(taken, SpanLimit) or taken.least is None:
        return _relate_values(first.value, second.value)
    if demand.most is not None and taken.least > demand.most:
        return Relation(Side.CLASH, wording.limit_broken(taken, demand))
    if demand.most is None and demand.least is not None and taken.least >= demand.least:
        return Relation(Side.AGREE, wording.limit_met(taken, demand))
    return Relation(Side.APART, wording.limit_open(taken, demand))


def _relate_levels(one: Witness, first: BitLevel, other: Witness, second: BitLevel) -> Relation:
    """Levels of one strap: two logs may have found it set differently, but what lies on the bench must fit a log."""
    if one is other:
        return APART
    if first.level == second.level:
        return Relation(Side.AGREE, wording.same_bit_level(first.level))
    return Relation(Side.CLASH, wording.bit_levels_differ(str(first), str(second)))


def _relate_widths(first: Testimony, second: Testimony) -> Relation:
    """A card's number of data lines against the number a device needs; two devices' needs do not clash."""
    if first.witness is second.witness:
        same = str(first.value) == str(second.value)
        return Relation(Side.AGREE, wording.SAME_WIDTH) if same else APART
    document, other = (first, second) if first.witness is Witness.DOCUMENTS else (second, first)
    needed, carried = _number(document.value), _number(other.value)
    if document.witness is not Witness.DOCUMENTS or needed is None or carried is None:
        return APART
    if needed <= carried:
        return Relation(Side.AGREE, wording.width_enough(carried, needed))
    if str(other.value).endswith(wording.OR_MORE):
        return Relation(Side.APART, wording.width_open(carried, needed))
    return Relation(Side.CLASH, wording.width_short(carried, needed))


def _number(value: Value) -> int | None:
    match = re.match(r"\d+", str(value))
    return int(match[0]) if match else None


def _relate_orders(first: Testimony, second: Testimony) -> Relation:
    """Orders agree in the pairs that both tell; what one of them adds or leaves open is no contradiction."""
    one, other = first.value, second.value
    if not isinstance(one, EventOrder) or not isinstance(other, EventOrder):
        return APART
    clashes, notes = differences(first, second)
    if clashes:
        return Relation(Side.CLASH, "; ".join(clashes))
    if first.witness is second.witness and notes:
        return Relation(Side.APART, "; ".join(notes))
    common = shared(one, other)
    if not common:
        return Relation(Side.APART, "; ".join(notes) or orderwording.OTHER_EVENTS, is_weak=not notes)
    told = EventOrder.of(common)
    is_same = common == one.told() == other.told()
    words = orderwording.same_order(told) if is_same else orderwording.compatible_order(told)
    return Relation(Side.AGREE, "; ".join((words, *notes)))


_PIN_NOISE = re.compile(r"[/~*#\s_-]|^n(?=[A-Z])")


def pin_signal(value: Value) -> str:
    """The signal named by a pin's words, without direction and without the marks that only tell its active level."""
    return _PIN_NOISE.sub("", str(value).split(",")[0].strip()).upper()


def _relate_pins(first: Testimony, second: Testimony) -> Relation:
    """Pins agree when they carry the same signal; directions are each device's own and are not compared here."""
    one, other = pin_signal(first.value), pin_signal(second.value)
    if not one or not other:
        return APART
    if one == other:
        return Relation(Side.AGREE, wording.SAME_PIN)
    return Relation(Side.CLASH, wording.pins_differ(str(first.value), str(second.value)))

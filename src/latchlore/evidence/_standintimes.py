"""What a stand-in must keep in time: the latch edge, how soon the host must be held off, how long answers must last."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from latchlore.base import (
    CycleRange,
    Span,
    SpanLimit,
    SpanRange,
    Subject,
    SubjectKind,
    Witness,
)
from latchlore.evidence import standinfacts as facts
from latchlore.evidence import standinwording as words
from latchlore.evidence._signals import signal_name
from latchlore.evidence._standin import Answering, Demand, weakest_standing
from latchlore.evidence._standinlines import (
    go_on_pin,
    handshake_cycles,
    iter_waits,
    looks_at,
    poll_period,
    read_roles,
    soonest_look,
    strobe_level,
)
from latchlore.evidence._table import Standing

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.base import SignalRole, Value
    from latchlore.evidence._standin import Basis
    from latchlore.evidence._table import Row

HOLD_OFF = "hold off by"
SHOWN_REPAIRS = 3
"""Ways out of a contradiction that a demand names; the table has them all."""


def iter_demands(basis: Basis) -> Iterator[Demand]:
    """First how a byte is taken, then how the host is held off and let go, line by line."""
    yield from _latch(basis)
    for role in _polled(basis):
        if signal_name(role.signal) in facts.PULSE_NAMES:
            yield from _pulse(basis, role)
        else:
            yield from _hold_off(basis, role)
            yield from _ready(basis, role)
            yield from _patience(basis, role)
    if not any(signal_name(role.signal) in facts.PULSE_NAMES for role in _polled(basis)):
        yield _unseen_pulse(basis)


def answering(demands: Sequence[Demand]) -> tuple[Answering, ...]:
    """What is quick enough for the demand that leaves least time; empty where none is one of time to answer."""
    spans = [
        one.limit.most
        for one in demands
        if one.key == HOLD_OFF and isinstance(one.limit, SpanLimit) and one.limit.most is not None
    ]
    if not spans:
        return ()
    budget = min(spans)
    found = []
    for what, least, most in facts.REACTIONS:
        verdict = "suffices" if most <= budget else ("measure" if least <= budget else "too slow")
        found.append(Answering(what, SpanRange(least, most), verdict))
    return tuple(found)


def controller_cycles(span: Span) -> tuple[tuple[int, int], ...]:
    """(Clock in MHz, whole cycles of it that fit into a span) for common clocks."""
    return tuple((mhz, int(Fraction(span.picoseconds * mhz, 10**6))) for mhz in facts.CONTROLLER_MHZ)


def _row(basis: Basis, kind: SubjectKind, name: str) -> Row | None:
    return basis.rows.get(Subject(kind, (name,)))


def _said_by_program(row: Row | None) -> Value | None:
    return next((one.value for one in row.by_witness(Witness.PROGRAM)), None) if row is not None else None


def _found(
    basis: Basis,
    key: str,
    what: str,
    says: str,
    rows: Sequence[Row | None],
    *,
    standing: Standing | None = None,
    limit: SpanLimit | SpanRange | None = None,
    cycles: CycleRange | None = None,
    places: Sequence[int] = (),
) -> Demand:
    """A demand that stands as the weakest of its rows unless it is said how it stands."""
    there = [row for row in rows if row is not None]
    stands = weakest_standing([row.standing for row in there]) if standing is None else standing
    settle = list(words.settle(key, stands))
    for row in there:
        if row.standing is Standing.CONTRADICTED:
            settle += [words.repair(str(row.subject), one.advice) for one in row.repairs[:SHOWN_REPAIRS]]
            if len(row.repairs) > SHOWN_REPAIRS:
                settle.append(words.more_repairs(str(row.subject), len(row.repairs) - SHOWN_REPAIRS))
    origins = [*basis.origins(places), *(origin for row in there for one in row.testimonies for origin in one.origins)]
    return Demand(
        key,
        what,
        says,
        stands,
        tuple(row.subject for row in there),
        tuple(dict.fromkeys(origins)),
        tuple(settle),
        limit,
        cycles,
    )


# -- the byte ---------------------------------------------------------------------------------------------------------


def _latch(basis: Basis) -> Iterator[Demand]:
    set_up, width, hold, period = (
        _row(basis, SubjectKind.TIMING, what)
        for what in (facts.SET_UP, facts.STROBE_WIDTH, facts.HOLD, facts.BYTE_PERIOD)
    )
    strobe = _row(basis, SubjectKind.SIGNAL, "STROBE")
    level = strobe_level(basis)
    value = _said_by_program(width)
    counted = handshake_cycles(basis)
    if isinstance(value, SpanRange | SpanLimit):
        says = words.take_strobe(level, str(value))
        yield _found(basis, "strobe", "strobe", says, [width, strobe], limit=value, cycles=counted.width)
    elif counted.width is not None:
        says = words.take_strobe(level, str(counted.width))
        yield _found(basis, "strobe", "strobe", says, [strobe], standing=Standing.SINGLE, cycles=counted.width)
    else:
        yield _found(basis, "strobe", "strobe", words.NO_STROBE, [width], standing=Standing.SILENT)
    before, after = _said_by_program(set_up), _said_by_program(hold)
    least = [one.least if isinstance(one, SpanRange | SpanLimit) else None for one in (before, value, after)]
    stands = None if least[0] is not None else Standing.SINGLE
    rows = [set_up, width, hold]
    limit = None if least[0] is None else SpanLimit(least[0])
    if least[0] is not None and least[1] is not None:
        says = _latch_words(*least)
    elif counted.set_up is not None and counted.width is not None:
        says = _latch_words(
            *(None if one is None else one.least for one in (counted.set_up, counted.width, counted.hold))
        )
    else:
        says, stands, rows = words.NO_LATCH, Standing.SILENT, [set_up, hold]
    yield _found(basis, "latch", "data at the edge", says, rows, standing=stands, limit=limit, cycles=counted.set_up)
    rate = _said_by_program(period)
    if isinstance(rate, SpanRange | SpanLimit) and rate.least is not None:
        yield _found(basis, "rate", "bytes follow", words.rate(rate.least), [period], limit=SpanLimit(rate.least))


def _latch_words(set_up: Span | int | None, width: Span | int | None, hold: Span | int | None) -> str:
    """How the data stand around both edges, in times or in cycles of the host's clock."""

    def told(*parts: Span | int | None) -> str:
        if all(isinstance(one, Span) for one in parts):
            return str(Span(sum(one.picoseconds for one in parts if isinstance(one, Span))))
        return str(CycleRange.exactly(sum(one for one in parts if isinstance(one, int))))

    if hold is None:
        return words.latch_open(told(set_up), told(set_up, width))
    return words.latch(told(set_up), told(width, hold), told(set_up, width), told(hold))


# -- holding the host off ---------------------------------------------------------------------------------------------


def _polled(basis: Basis) -> tuple[SignalRole, ...]:
    """Lines that some polling loop waits for."""
    return tuple(role for role in read_roles(basis) if any(True for _ in iter_waits(basis, role)))


def least_time(basis: Basis, cycles: int) -> Span | None:
    """The least time that so many cycles may take."""
    return None if basis.clock is None else basis.clock.span(CycleRange.exactly(cycles)).least


def most_time(basis: Basis, cycles: int) -> Span | None:
    """The most time that so many cycles may take."""
    return None if basis.clock is None else basis.clock.span(CycleRange.exactly(cycles)).most


def _hold_off(basis: Basis, role: SignalRole) -> Iterator[Demand]:
    looks = looks_at(basis, role)
    soonest = soonest_look(looks)
    signal = _row(basis, SubjectKind.SIGNAL, role.signal)
    stated = _row(basis, SubjectKind.TIMING, facts.STROBE_TO_BUSY) if signal_name(role.signal) == "BUSY" else None
    pin = go_on_pin(basis, role)
    if soonest is None or pin is None:
        says = words.never_looks(role.signal)
        yield _found(basis, "no look", f"{role.signal} after a byte", says, [signal], standing=Standing.SILENT)
        return
    by = least_time(basis, soonest)
    says = words.hold_off(role.signal, 1 - pin, soonest, by)
    if looks.first is None or soonest < looks.first.least:
        says += words.ENTERED_ANEW
    limits = [
        one.value.most
        for one in (stated.testimonies if stated is not None else ())
        if isinstance(one.value, SpanLimit) and one.value.most is not None
    ]
    measured = [
        one.value.most
        for one in (stated.testimonies if stated is not None else ())
        if isinstance(one.value, SpanRange) and one.witness is Witness.WIRE
    ]
    stands = Standing.SINGLE
    if by is not None:
        says += words.stated_limit(min(limits), by) if limits else ""
        says += words.measured_answer(max(measured)) if measured else ""
        stands = Standing.AGREED if limits + measured and max(limits + measured) <= by else Standing.SINGLE
    rows = [signal, stated]
    stands = weakest_standing([stands, *(row.standing for row in rows if row is not None)])
    limit = None if by is None else SpanLimit(most=by)
    yield _found(
        basis,
        HOLD_OFF,
        f"{role.signal} after a byte",
        says,
        rows,
        standing=stands,
        limit=limit,
        cycles=CycleRange(soonest, None if looks.first is None else looks.first.most),
        places=looks.places,
    )
    if looks.blind is not None:
        blind = looks.blind
        says = words.blind(role.signal, blind.least, least_time(basis, blind.least))
        yield _found(basis, "blind", "bytes without a look", says, [signal], standing=Standing.SINGLE, cycles=blind)


def _ready(basis: Basis, role: SignalRole) -> Iterator[Demand]:
    period, pin = poll_period(basis, role), go_on_pin(basis, role)
    if period is None or period.most is None or pin is None:
        return
    signal = _row(basis, SubjectKind.SIGNAL, role.signal)
    least = most_time(basis, period.most)
    says = words.stay_ready(role.signal, pin, period.most, least)
    stands = weakest_standing([Standing.SINGLE, *([signal.standing] if signal is not None else [])])
    places = sorted({wait.program_address for wait in iter_waits(basis, role)})
    limit = None if least is None else SpanLimit(least)
    yield _found(
        basis,
        "ready",
        f"{role.signal} when ready",
        says,
        [signal],
        standing=stands,
        limit=limit,
        cycles=period,
        places=places,
    )


def _patience(basis: Basis, role: SignalRole) -> Iterator[Demand]:
    bounded = [wait for wait in iter_waits(basis, role) if wait.polls is not None]
    if not bounded:
        return
    least = min(wait.period.least * ((wait.polls or 1) - 1) for wait in bounded)
    signal = _row(basis, SubjectKind.SIGNAL, role.signal)
    time = least_time(basis, least)
    says = words.patience(role.signal, least, time)
    places = sorted({wait.program_address for wait in bounded})
    limit = None if time is None else SpanLimit(most=time)
    cycles = CycleRange.exactly(least)
    yield _found(
        basis,
        "patience",
        f"{role.signal} at most",
        says,
        [signal],
        standing=Standing.SINGLE,
        limit=limit,
        cycles=cycles,
        places=places,
    )


# -- a pulse ----------------------------------------------------------------------------------------------------------


def _pulse(basis: Basis, role: SignalRole) -> Iterator[Demand]:
    """A line that comes as a pulse: it must begin when the host looks already, and last from one look to the next."""
    period, pin = poll_period(basis, role), go_on_pin(basis, role)
    looks = looks_at(basis, role)
    first, places = looks.first, looks.places
    signal = _row(basis, SubjectKind.SIGNAL, role.signal)
    stated = _row(basis, SubjectKind.TIMING, facts.ACK_WIDTH)
    if period is None or period.most is None or pin is None:
        yield _found(basis, "pulse", f"{role.signal} pulse", words.NO_PERIOD, [signal], standing=Standing.SILENT)
        return
    least = most_time(basis, period.most)
    says = words.pulse(role.signal, pin, period.most, least)
    if first is not None:
        begins = None if first.most is None else most_time(basis, first.most)
        says += words.pulse_begins(first.most, begins)
    if stated is not None and least is not None:
        fast = least_time(basis, period.least) or least
        for one in stated.testimonies:
            if isinstance(one.value, SpanLimit | SpanRange):
                says += words.seen(one.value, _seen(one.value, fast, least))
    stands = weakest_standing([Standing.SINGLE, *(row.standing for row in (signal, stated) if row is not None)])
    limit = None if least is None else SpanLimit(least)
    yield _found(
        basis,
        "pulse",
        f"{role.signal} pulse",
        says,
        [signal, stated],
        standing=stands,
        limit=limit,
        cycles=period,
        places=places,
    )


def _seen(stated: SpanLimit | SpanRange, fast: Span, slow: Span) -> str:
    """Whether a host that looks every `fast` to `slow` sees a pulse of a stated width: ``always``, ``by chance``.

    A pulse as long as the time from look to look holds at least one; a shorter one falls between two looks in some
    positions, in the share 1 - width/period of them.
    """
    del fast
    return "always" if stated.least is not None and stated.least >= slow else "by chance"


def _unseen_pulse(basis: Basis) -> Demand:
    """What there is to say about an acknowledge that no loop waits for."""
    names = sorted(
        row.subject.key[0]
        for row in basis.table.rows
        if row.subject.kind is SubjectKind.SIGNAL and signal_name(row.subject.key[0]) in facts.PULSE_NAMES
    )
    rows = [_row(basis, SubjectKind.SIGNAL, name) for name in names]
    wired = [role.signal for role in read_roles(basis) if signal_name(role.signal) in facts.PULSE_NAMES]
    stated = _row(basis, SubjectKind.TIMING, facts.ACK_WIDTH)
    if not basis.trees:
        return _found(basis, "pulse", "acknowledge", words.NO_PULSE_ASKED, [*rows, stated], standing=Standing.SILENT)
    is_done = all(tree.is_exhausted for tree in basis.trees.values())
    says = words.no_pulse(names, is_wired=bool(wired), is_done=is_done)
    standing = Standing.SINGLE if is_done else Standing.SILENT
    if stated is not None:
        says += words.pulse_stated(
            [one.value for one in stated.testimonies if isinstance(one.value, SpanLimit | SpanRange)]
        )
    return _found(basis, "pulse", "acknowledge", says, [*rows, stated], standing=standing)

"""The levels and currents of one joined line: what each output guarantees, what each input needs, with all pulls."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from latchlore.board import matingwording as wording
from latchlore.board._bench import DriveKind
from latchlore.board._electrical import Technology, high_point
from latchlore.board.matingwording import amps_words, ohms_words, volts_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.board._electrical import Electrical
    from latchlore.board._side import Driver, Load, Pulled


class Severity(StrEnum):
    """What a finding means, worst first."""

    DANGER = "danger"  # can destroy something
    UNSURE = "unsure"  # whether it can is not known
    FAULT = "fault"  # harms nothing and does not work for sure
    OPEN = "open"  # harms nothing; whether it works is not known
    CONDITION = "condition"  # works as long as what is named holds
    EFFECT = "effect"  # works, and something is not as the names say
    NOTE = "note"


class Said(NamedTuple):
    """A sentence about a line, and the reading that would tell more, may be empty."""

    severity: Severity
    words: str
    reading: str = ""


@dataclass(frozen=True, slots=True)
class Joined:
    """A line of both sides: outputs, inputs and pulls, each with the supply of its side in millivolts."""

    drivers: tuple[tuple[Driver, int], ...]
    loads: tuple[tuple[Load, int], ...]
    pulls: tuple[Pulled, ...]


class LevelFigures(NamedTuple):
    """What was computed for one output on a line: levels in millivolts at the line, currents in microamperes.

    `low_margin` and `high_margin` are against the most demanding input.  `high_by_pull`: the pull-up lifts the line
    there.  None where a figure is not known.
    """

    driver: str
    low: Fraction | None
    low_current: Fraction | None
    low_margin: Fraction | None
    high: Fraction | None
    high_current: Fraction | None
    high_margin: Fraction | None
    high_by_pull: bool


class _Pull(NamedTuple):
    """All pulls of a line as one source behind one resistor."""

    millivolts: Fraction
    ohms: Fraction


def level_findings(line: Joined) -> tuple[list[Said], list[LevelFigures]]:
    """What the levels and currents of a joined line come to, and the figures behind it."""
    said: list[Said] = []
    loads = [(load, supply) for load, supply in line.loads if load.electrical is not None]
    said += _ranges(line)
    pull = _one_pull(line.pulls)
    if pull is None and line.pulls:
        at = next(one.at for one in line.pulls if one.ohms is None or one.millivolts is None)
        return [*said, Said(Severity.OPEN, wording.PULL_UNKNOWN, wording.READ_PULL.format(at=at))], []
    if not line.drivers:
        return [*said, *_undriven(line, pull)], []
    said += _over_voltage(line)
    figures = []
    told: dict[Said, None] = {}
    for driver, supply in line.drivers:
        found, figure = _one_driver(line, driver, supply, loads, pull)
        told.update(dict.fromkeys(found))
        figures.append(figure)
    told.update(dict.fromkeys(_unknown_currents(line, loads, pull)))
    if line.loads and pull is None and all(driver.kind is DriveKind.THREE_STATE for driver, _ in line.drivers):
        drivers = dict.fromkeys(driver.at for driver, _ in line.drivers)
        form = wording.NONE_ENABLED if len(drivers) > 1 else wording.NOT_ENABLED
        words = wording.FLOATS_OFF.format(drivers=form.format(drivers=", ".join(drivers)))
        told[Said(Severity.EFFECT, words)] = None
    return [*said, *told], figures


def _ranges(line: Joined) -> Iterator[Said]:
    told = set()
    ends: list[tuple[Driver | Load, int]] = [*line.drivers, *line.loads]
    for one, supply in ends:
        electrical = one.electrical
        if electrical is None or electrical.supply is None or one.at in told:
            continue
        told.add(one.at)
        least, most = electrical.supply
        if not least <= supply <= most:
            words = wording.OUT_OF_RANGE.format(
                at=one.at, least=volts_words(least), most=volts_words(most), volts=volts_words(supply)
            )
            yield Said(Severity.DANGER if supply > most else Severity.FAULT, words)


def _one_pull(pulls: tuple[Pulled, ...]) -> _Pull | None:
    """The pulls as one; None where there are none or one is not known."""
    conductance = current = Fraction(0)
    for pull in pulls:
        if pull.ohms is None or pull.millivolts is None:
            return None
        conductance += 1 / pull.ohms
        current += pull.millivolts / pull.ohms
    return _Pull(current / conductance, 1 / conductance) if conductance else None


def _over_voltage(line: Joined) -> Iterator[Said]:
    """An input or an open collector that the line may lift above what it stands."""
    tops = [Fraction(pull.millivolts) for pull in line.pulls if pull.millivolts is not None]
    tops += [Fraction(supply) for driver, supply in line.drivers if driver.kind is not DriveKind.COLLECTOR]
    if not tops:
        return
    top = max(tops)
    for load, supply in line.loads:
        # What nobody states stands its own supply, not more.
        most = load.electrical.supply[1] if load.electrical is not None and load.electrical.supply else supply
        if top > most:
            yield _too_high(load.at, most, top)
    for driver, supply in line.drivers:
        if driver.electrical is None:
            continue
        limit = driver.electrical.off_most if driver.kind is DriveKind.COLLECTOR else None
        if limit is None and driver.electrical.supply is not None:
            limit = max(driver.electrical.supply[1], supply)
        if limit is not None and top > limit:
            yield _too_high(driver.at, limit, top)


def _too_high(at: str, most: int, top: Fraction) -> Said:
    return Said(Severity.DANGER, wording.OVER_VOLTS.format(at=at, most=volts_words(most), volts=volts_words(top)))


def _undriven(line: Joined, pull: _Pull | None) -> Iterator[Said]:
    """Inputs that no output drives."""
    if not line.loads:
        return
    names = " and ".join(dict.fromkeys(load.at for load, _ in line.loads))
    if pull is None:
        kinds = {load.electrical.technology for load, _ in line.loads if load.electrical is not None}
        what = wording.FLOATS_MOS if Technology.MOS in kinds else wording.FLOATS_BIPOLAR if kinds - {None} else ""
        yield Said(Severity.FAULT, wording.FLOATS.format(loads=names, what=what))
        return
    drawn, given = _sum(line, "iih"), _sum(line, "iil")
    high, low = pull.millivolts - pull.ohms * drawn / 1000, pull.millivolts + pull.ohms * given / 1000
    if all(
        _needs(load, supply, "vih") is not None and high >= _needed(load, supply, "vih") for load, supply in line.loads
    ):
        yield Said(Severity.EFFECT, wording.RESTS.format(loads=names, level="high"))
    elif all(
        _needs(load, supply, "vil") is not None and low <= _needed(load, supply, "vil") for load, supply in line.loads
    ):
        yield Said(Severity.EFFECT, wording.RESTS.format(loads=names, level="low"))
    else:
        yield Said(Severity.FAULT, wording.FLOATS.format(loads=names, what=""))


def _needs(load: Load, supply: int, field: str) -> Fraction | None:
    """The threshold of an input seen from the line, a resistor between counted; None where it is not known."""
    electrical = load.electrical
    if electrical is None or load.ohms is None:
        return None
    level = electrical.vil if field == "vil" else electrical.vih
    if level is None:
        return None
    current = (electrical.iil if field == "vil" else electrical.iih) or 0
    drop = load.ohms * current / 1000
    return level.at(supply) - drop if field == "vil" else level.at(supply) + drop


def _needed(load: Load, supply: int, field: str) -> Fraction:
    found = _needs(load, supply, field)
    assert found is not None
    return found


def _sum(line: Joined, field: str) -> Fraction:
    """The known input currents of a line, added."""
    return Fraction(sum(getattr(load.electrical, field) or 0 for load, _ in line.loads if load.electrical is not None))


def _leaks(line: Joined, without: Driver | None = None) -> Fraction:
    return Fraction(
        sum(d.electrical.leak or 0 for d, _ in line.drivers if d is not without and d.electrical is not None)
    )


def _pull_current(line: Joined, level: Fraction, *, up: bool) -> Fraction:
    """What the pull-ups put into a line at that level (or the pull-downs draw), in microamperes."""
    total = Fraction(0)
    for pull in line.pulls:
        assert pull.ohms is not None
        assert pull.millivolts is not None
        across = (pull.millivolts - level) if up else (level - pull.millivolts)
        total += max(Fraction(0), across) * 1000 / pull.ohms
    return total


def _one_driver(
    line: Joined, driver: Driver, supply: int, loads: list[tuple[Load, int]], pull: _Pull | None
) -> tuple[list[Said], LevelFigures]:
    electrical = driver.electrical
    assert electrical is not None
    said: list[Said] = []
    low, low_current = _low(line, driver, electrical, supply, said)
    low_margin = None
    if low is not None:
        said += _compare(driver, low, loads, "vil")
        low_margin = min((w - low for w in _wanted(loads, "vil")), default=None)
    if driver.kind is DriveKind.COLLECTOR:
        high, current, by_pull = _released(line, driver, loads, pull, said)
    else:
        high, current, by_pull = _high(line, driver, electrical, supply, loads, pull, said)
    high_margin = None if high is None else min((high - w for w in _wanted(loads, "vih")), default=None)
    return said, LevelFigures(driver.at, low, low_current, low_margin, high, current, high_margin, by_pull)


def _wanted(loads: list[tuple[Load, int]], field: str) -> list[Fraction]:
    return [need for load, supply in loads if (need := _needs(load, supply, field)) is not None]


def _low(
    line: Joined, driver: Driver, electrical: Electrical, supply: int, said: list[Said]
) -> tuple[Fraction | None, Fraction | None]:
    """The low level at the line and the current that the output sinks for it."""
    if not electrical.low or driver.ohms is None:
        said.append(Said(Severity.OPEN, wording.NO_POINT.format(at=driver.at, what="low"), _read_part(driver)))
        return None, None
    need = Fraction(0)
    for point in electrical.low:
        level = point.level.at(supply)
        need = _sum(line, "iil") + _pull_current(line, level, up=True)
        if need <= point.microamps:
            return level + need * driver.ohms / 1000, need
    most = amps_words(electrical.low[-1].microamps)
    said.append(Said(Severity.DANGER, wording.OVERLOAD.format(driver=driver.at, need=amps_words(need), most=most)))
    return None, need


def _read_part(driver: Driver) -> str:
    return wording.READ_PART.format(at=driver.at)


def _high(
    line: Joined,
    driver: Driver,
    electrical: Electrical,
    supply: int,
    loads: list[tuple[Load, int]],
    pull: _Pull | None,
    said: list[Said],
) -> tuple[Fraction | None, Fraction | None, bool]:
    """The high level of an output that drives it itself; a pull-up above it may lift the line further."""
    if not electrical.high or driver.ohms is None:
        said.append(Said(Severity.OPEN, wording.NO_POINT.format(at=driver.at, what="high"), _read_part(driver)))
        return None, None, False
    need = _sum(line, "iih") + _leaks(line, driver)
    need += _pull_current(line, electrical.high[-1].level.at(supply), up=False)
    point = high_point(electrical, need)
    if point is None:
        most = amps_words(electrical.high[-1].microamps)
        said.append(Said(Severity.FAULT, wording.WEAK_HIGH.format(driver=driver.at, need=amps_words(need), most=most)))
        return None, need, False
    own = point.level.at(supply) - need * driver.ohms / 1000
    failing = [(load, want) for load, rail in loads if (want := _needs(load, rail, "vih")) is not None and own < want]
    if not failing:
        return own, need, False
    load, want = max(failing, key=lambda pair: pair[1])
    if pull is not None:
        lifted = pull.millivolts - pull.ohms * need / 1000
        if lifted >= want:
            said.append(
                Said(Severity.CONDITION, _relies(line, driver, electrical, supply, load, own, want, lifted, pull))
            )
            return lifted, need, True
    words = wording.HIGH_FAILS.format(driver=driver.at, level=volts_words(own), load=load.at, wanted=volts_words(want))
    said.append(Said(Severity.FAULT, words))
    return own, need, False


def _relies(
    line: Joined,
    driver: Driver,
    electrical: Electrical,
    supply: int,
    load: Load,
    own: Fraction,
    want: Fraction,
    lifted: Fraction,
    pull: _Pull,
) -> str:
    extra = _pull_current(line, electrical.low[0].level.at(supply), up=True) if electrical.low else Fraction(0)
    words = wording.RELIES.format(
        ohms=ohms_words(pull.ohms),
        driver=driver.at,
        level=volts_words(own),
        load=load.at,
        wanted=volts_words(want),
        lifted=volts_words(lifted),
    )
    return f"{words}; {wording.RELIES_LOAD.format(extra=amps_words(extra))}"


def _released(
    line: Joined, driver: Driver, loads: list[tuple[Load, int]], pull: _Pull | None, said: list[Said]
) -> tuple[Fraction | None, Fraction | None, bool]:
    """The high level of a line that open collectors let go of."""
    if pull is None:
        said.append(Said(Severity.FAULT, wording.NO_PULL_UP.format(driver=driver.at)))
        return None, None, True
    drawn = _sum(line, "iih") + _leaks(line)
    level = pull.millivolts - pull.ohms * drawn / 1000
    failing = [(load, w) for load, rail in loads if (w := _needs(load, rail, "vih")) is not None and level < w]
    if failing:
        load, want = max(failing, key=lambda pair: pair[1])
        words = wording.PULL_UP_FAILS.format(
            ohms=ohms_words(pull.ohms), level=volts_words(level), load=load.at, wanted=volts_words(want)
        )
        said.append(Said(Severity.FAULT, words))
    return level, drawn, True


def _compare(driver: Driver, level: Fraction, loads: list[tuple[Load, int]], field: str) -> Iterator[Said]:
    failing = [(load, w) for load, rail in loads if (w := _needs(load, rail, field)) is not None and level > w]
    if failing:
        load, want = min(failing, key=lambda pair: pair[1])
        yield Said(
            Severity.FAULT,
            wording.LOW_FAILS.format(
                driver=driver.at, level=volts_words(level), load=load.at, wanted=volts_words(want)
            ),
        )


def _unknown_currents(line: Joined, loads: list[tuple[Load, int]], pull: _Pull | None) -> Iterator[Said]:
    """Inputs whose current is not stated: how much is left for them."""
    for load, rail in loads:
        assert load.electrical is not None
        if load.electrical.iil is not None and load.electrical.iih is not None:
            continue
        lows, highs = [], []
        for driver, supply in line.drivers:
            assert driver.electrical is not None
            for point in driver.electrical.low[-1:]:
                used = _sum(line, "iil") + _pull_current(line, point.level.at(supply), up=True)
                lows.append(point.microamps - used)
            want = _needs(load, rail, "vih")
            drawn = _sum(line, "iih") + _leaks(line, driver)
            own = [
                point.microamps - drawn
                for point in driver.electrical.high
                if driver.kind is not DriveKind.COLLECTOR and (want is None or point.level.at(supply) >= want)
            ]
            if pull is not None and want is not None:
                own.append((pull.millivolts - want) * 1000 / pull.ohms - drawn)
            highs.append(max(own, default=Fraction(0)))
        words = wording.CURRENT_UNKNOWN.format(
            load=load.at,
            low=amps_words(max(Fraction(0), min(lows, default=Fraction(0)))),
            high=amps_words(max(Fraction(0), min(highs, default=Fraction(0)))),
        )
        yield Said(Severity.CONDITION, words, wording.READ_CURRENT.format(load=load.at))

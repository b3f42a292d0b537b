"""The specification of a stand-in as plain data (docs/stand-in.md)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from latchlore.base import Span
from latchlore.evidence import standinwording as words
from latchlore.evidence._standintimes import controller_cycles

if TYPE_CHECKING:
    from latchlore.evidence._standin import Demand, StandIn, StatusByte

FORMAT = "latchlore-stand-in"
VERSION = 1


def stand_in_to_plain(stand_in: StandIn) -> dict[str, Any]:
    """Everything in the order of the page; keys may be added, so readers ignore those that they do not know."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "title": stand_in.title,
        "invented": stand_in.invented,
        "status": [_status(one) for one in stand_in.status],
        "demands": [_demand(one) for one in stand_in.demands],
        "answering": [
            {
                "what": one.what,
                "usual_least_ps": one.usual.least.picoseconds,
                "usual_most_ps": one.usual.most.picoseconds,
                "verdict": one.verdict,
            }
            for one in stand_in.answering
        ],
        "never_exercised": list(stand_in.never),
        "not_known": list(stand_in.unsaid),
        "cautions": [{"before": before, "words": text} for before, text in words.CAUTIONS],
    }


def _status(one: StatusByte) -> dict[str, Any]:
    return {
        "register": one.register,
        "space": one.kind.value,
        "addresses": str(one.addresses),
        "value": one.value,
        "care_mask": one.care,
        "taken_by_all": sorted(one.lets_all),
        "drivers": [
            {
                "name": driver.name,
                "takes": sorted(driver.lets),
                "depends": driver.depends,
                "exhausted": driver.is_exhausted,
            }
            for driver in one.drivers
        ],
        "bits": [
            {
                "bit": line.bit,
                "fed_by": line.feed.value,
                "signal": line.signal or None,
                "level": line.level,
                "pin_level": line.pin,
                "tested_by": list(line.tested_by),
                "probably_undriven": line.probably_undriven,
                "standing": line.standing.value,
                "subject": None if line.subject is None else str(line.subject),
            }
            for line in one.bits
        ],
    }


def _demand(one: Demand) -> dict[str, Any]:
    limit = one.limit
    least = None if limit is None or limit.least is None else limit.least
    most = None if limit is None or limit.most is None else limit.most
    return {
        "key": one.key,
        "what": one.what,
        "words": one.says,
        "standing": one.standing.value,
        "subjects": [str(subject) for subject in one.subjects],
        "origins": [str(origin) for origin in one.origins],
        "settle": list(one.settle),
        "least_ps": None if least is None else least.picoseconds,
        "most_ps": None if most is None else most.picoseconds,
        "cycles": None if one.cycles is None else {"least": one.cycles.least, "most": one.cycles.most},
        "most_in_controller_cycles": {f"{mhz} MHz": count for mhz, count in _in_cycles(most)},
    }


def _in_cycles(most: Span | None) -> tuple[tuple[int, int], ...]:
    return () if most is None else controller_cycles(most)

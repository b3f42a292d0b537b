"""What the page shows of a stand-in: the idle byte bit by bit, the demands, who is quick enough, the cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.dossier import wording
from latchlore.evidence import stand_in_cautions
from latchlore.program import value_set

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.base import Subject
    from latchlore.evidence import StandIn, StatusByte

LEVELS = ("low", "high")


class LinkView(NamedTuple):
    """Words that lead to a row of the page."""

    text: str
    href: str


class BitView(NamedTuple):
    """One bit of the idle byte; texts may be empty."""

    bit: int
    reads: str
    fed_by: str
    pin: str
    tested_by: str
    standing: str
    link: LinkView | None


class StatusView(NamedTuple):
    """The idle byte of a register; `drivers`: (name, what it takes)."""

    register: str
    value: str
    drivers: tuple[tuple[str, str], ...]
    bits: tuple[BitView, ...]


class DemandView(NamedTuple):
    """One demand with what it rests on and what would settle it."""

    what: str
    says: str
    standing: str
    links: tuple[LinkView, ...]
    settle: tuple[str, ...]


class StandInView(NamedTuple):
    """The whole section; `answering`: (verdict, what, usual times)."""

    cautions: tuple[tuple[str, str], ...]
    status: tuple[StatusView, ...]
    demands: tuple[DemandView, ...]
    answering: tuple[tuple[str, str, str], ...]
    never: tuple[str, ...]
    unsaid: tuple[str, ...]


def view_stand_in(stand_in: StandIn, rows: Mapping[Subject, str]) -> StandInView:
    """The specification for the page; `rows` holds the page's anchors."""
    return StandInView(
        stand_in_cautions(),
        tuple(_view_status(one, rows) for one in stand_in.status),
        tuple(
            DemandView(
                one.what,
                one.says,
                one.standing.value,
                tuple(link for subject in one.subjects if (link := _link(subject, rows)) is not None),
                one.settle,
            )
            for one in stand_in.demands
        ),
        tuple((wording.STAND_IN_VERDICTS[one.verdict], one.what, str(one.usual)) for one in stand_in.answering),
        stand_in.never,
        stand_in.unsaid,
    )


def _link(subject: Subject | None, rows: Mapping[Subject, str]) -> LinkView | None:
    return None if subject is None or subject not in rows else LinkView(str(subject), f"#{rows[subject]}")


def _view_status(status: StatusByte, rows: Mapping[Subject, str]) -> StatusView:
    return StatusView(
        status.register,
        wording.NO_IDLE_BYTE
        if status.value is None
        else f"{status.pattern}, such as {status.value:02X}"
        if "x" in status.pattern
        else f"{status.value:02X}",
        tuple(
            (driver.name, value_set(set(driver.lets), exhausted=driver.is_exhausted) if driver.lets else "no byte")
            for driver in status.drivers
        ),
        tuple(
            BitView(
                line.bit,
                "either" if line.level is None else str(line.level),
                wording.STAND_IN_FEEDS[line.feed.value],
                line.signal if line.pin is None else f"{line.signal} {LEVELS[line.pin]}",
                ", ".join(line.tested_by) + (wording.PROBABLY_UNDRIVEN if line.probably_undriven else "")
                or "no driver",
                line.standing.value,
                _link(line.subject, rows),
            )
            for line in status.bits
        ),
    )

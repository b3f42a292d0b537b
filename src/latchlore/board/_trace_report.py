"""What of a tracing is done, not done, doubted, and likely wrong, for people."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from latchlore.board import tracewording as wording
from latchlore.board._parts import Role
from latchlore.board._sanded import PossibleType, possible_types
from latchlore.board._trace_nets import Disagreement, Joint, conclude

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.board._board import Board, PinAt
    from latchlore.board._readings import MeterReading
    from latchlore.board._trace_guide import Proposal


@dataclass(frozen=True, slots=True)
class OpenSection:
    """A section of a part (one gate, one flip-flop) or a connector of which pins are not done, by pin."""

    owner: str
    pins: tuple[PinAt, ...]
    not_done: tuple[PinAt, ...]


@dataclass(frozen=True, slots=True)
class TraceReport:
    """A tracing at one moment.

    `taken` readings are there, about `left` are still needed, about `missing` joints are not found yet.  `doubted`
    joints hang on one number, are not likely enough, or are not believed; `sanded` are the types each unknown chip can
    still be.
    """

    board: Board
    taken: int
    left: int
    missing: float
    sections: tuple[OpenSection, ...]
    doubted: tuple[Joint, ...]
    disagreements: tuple[Disagreement, ...]
    set_aside: tuple[MeterReading, ...]
    sanded: tuple[tuple[str, tuple[PossibleType, ...]], ...]


class ReportWords(NamedTuple):
    """A tracing's report in words, a sentence each; `header` and `aside` are single ones, `aside` may be empty."""

    header: str
    not_done: tuple[str, ...]
    against: tuple[str, ...]
    doubted: tuple[str, ...]
    aside: str
    sanded: tuple[str, ...]


def describe_report(report: TraceReport) -> ReportWords:
    """The report for people: sections not done, readings against each other, joints doubted, types still possible."""
    return ReportWords(
        wording.describe_progress(report.taken, report.left, report.missing),
        tuple(_section(one) for one in report.sections),
        tuple(_against(one) for one in report.disagreements),
        tuple(_joint(one) for one in report.doubted),
        wording.ASIDE.format(count=len(report.set_aside)) if report.set_aside else "",
        tuple(_types(name, types) for name, types in report.sanded),
    )


def _section(one: OpenSection) -> str:
    pins, left = (" ".join(str(at.pin) for at in pins) for pins in (one.pins, one.not_done))
    return wording.SECTION.format(owner=one.owner, pins=pins, left=left)


def _against(one: Disagreement) -> str:
    if not one.suspects:
        return one.words
    first, second = one.suspects[0]
    places = " ".join(str(reading.origin) for reading in one.readings)
    return wording.CULPRIT.format(words=one.words, first=first, second=second, places=f" ({places})" if places else "")


def _joint(one: Joint) -> str:
    unused = "" if one.believed else wording.UNUSED
    return wording.JOINT.format(first=one.first, second=one.second, share=one.likelihood, unused=unused)


def _types(name: str, types: tuple[PossibleType, ...]) -> str:
    words = ", ".join(f"{one.type.name} {one.share:.0%}" for one in types[: wording.MOST_TYPES])
    return wording.TYPES.format(name=name, types=words or wording.NO_TYPE)


def report_on(board: Board, readings: Sequence[MeterReading], proposal: Proposal) -> TraceReport:
    """Report on a tracing; `proposal` is the guide's next action after all the readings."""
    traced = conclude(board, readings)
    unknown = [part.name for part in board.parts if any(pin.role is Role.UNKNOWN for pin in part.type.pins)]
    return TraceReport(
        traced.board,
        len(readings),
        proposal.left,
        traced.missing,
        _sections(board, frozenset(proposal.not_done)),
        tuple(joint for joint in traced.joints if joint.is_doubted),
        traced.disagreements,
        traced.set_aside,
        tuple((name, possible_types(traced.board, name)) for name in unknown),
    )


def _sections(board: Board, left: frozenset[PinAt]) -> tuple[OpenSection, ...]:
    """Sections with pins not done, parts in file order; pins in no section stand in one of their own."""
    from latchlore.board._board import PinAt

    found: list[OpenSection] = []
    for part in board.parts:
        rest = {at for at in left if at.owner == part.name}
        for block in part.type.blocks:
            pins = tuple(sorted(PinAt(part.name, k) for k in {*block.inputs, *block.outputs}))
            own = tuple(at for at in pins if at in rest)
            if own:
                found.append(OpenSection(part.name, pins, own))
                rest -= set(own)
        if rest:
            found.append(OpenSection(part.name, tuple(sorted(rest)), tuple(sorted(rest))))
    for name in [plug.name for plug in board.connectors] + [strap.name for strap in board.straps]:
        own = tuple(sorted(at for at in left if at.owner == name))
        if own:
            found.append(OpenSection(name, own, own))
    return tuple(found)

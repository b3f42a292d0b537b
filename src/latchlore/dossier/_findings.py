"""The record as the templates see it: findings with grade, grounds and errata, each with its links."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.dossier import wording
from latchlore.dossier._view import PlaceLink
from latchlore.evidence import FINDING, errata, one_line

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from latchlore.base import Origin, Subject
    from latchlore.evidence import Change, Judged, Past


@dataclass(frozen=True, slots=True)
class Findings:
    """The record to publish: every finding as it is graded now, and the history."""

    judged: tuple[Judged, ...]
    history: tuple[Past, ...]


@dataclass(frozen=True, slots=True)
class ErratumView:
    """One correction in words."""

    day: str
    what: str
    old: str
    new: str
    why: str
    evidence: str


@dataclass(frozen=True, slots=True)
class PastView:
    """One correction in the list of all: the finding and its link, what, and the line of the history."""

    day: str
    name: str
    href: str
    what: str
    old: str
    new: str
    why: str
    evidence: str
    place: PlaceLink


@dataclass(frozen=True, slots=True)
class FindingView:
    """One finding; `grounds` are (link, grade), an empty link where the subject is no longer on the page."""

    anchor: str
    name: str
    sentence: str
    grade: str
    reason: str
    grounds: tuple[tuple[PlaceLink, str], ...]
    errata: tuple[ErratumView, ...]
    is_open: bool


def view_findings(findings: Findings, rows: Mapping[Subject, str]) -> tuple[FindingView, ...]:
    """Every finding in the order of the file, with the anchors of its subjects' rows."""
    anchors: dict[str, str] = {}
    for subject, anchor in rows.items():
        anchors.setdefault(one_line(str(subject)), f"#{anchor}")
    anchors |= {f"{FINDING}{one.name}": f"#{_anchor(one.name)}" for one in findings.judged}
    return tuple(_view(one, anchors, findings.history) for one in findings.judged)


def view_errata(findings: Findings, link: Callable[[Origin], str]) -> tuple[PastView, ...]:
    """Every correction by day, those of one day in the order of the file."""
    names = {one.name for one in findings.judged}
    return tuple(
        PastView(
            past.change.day,
            past.change.finding,
            f"#{_anchor(past.change.finding)}" if past.change.finding in names else link(past.origin),
            past.change.what,
            past.change.old,
            past.change.new,
            past.change.why,
            past.change.evidence,
            PlaceLink(str(past.origin), link(past.origin)),
        )
        for past in iter_errata(findings)
    )


def iter_errata(findings: Findings) -> Iterator[Past]:
    """The lines of the history that correct something, by day."""
    yield from sorted((past for past in findings.history if not past.change.is_entry), key=lambda past: past.change.day)


def _view(one: Judged, anchors: Mapping[str, str], history: Sequence[Past]) -> FindingView:
    return FindingView(
        anchor=_anchor(one.name),
        name=one.name,
        sentence=wording.FINDING_STRUCK if one.finding is None else one.finding.sentence,
        grade=one.grade.value,
        reason=one.reason,
        grounds=tuple((PlaceLink(ground.on, anchors.get(ground.on, "")), ground.grade.value) for ground in one.grounds),
        errata=tuple(_erratum(past.change) for past in errata(history, one.name)),
        is_open=bool(one.changes),
    )


def _erratum(change: Change) -> ErratumView:
    return ErratumView(change.day, change.what, change.old, change.new, change.why, change.evidence)


def _anchor(name: str) -> str:
    return f"finding-{name}"

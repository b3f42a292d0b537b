"""The record as plain data for programs; the schema is published in docs/record.md."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from latchlore.evidence._history import errata

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.evidence._findings import Judged
    from latchlore.evidence._history import Change, Past

FORMAT = "latchlore-record"
VERSION = 1


def record_to_plain(judged: Sequence[Judged], history: Sequence[Past]) -> dict[str, Any]:
    """Every finding with grade, grounds, open changes and errata, in one fixed order of keys."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "findings": [_finding(one, history) for one in judged],
        "changed": [one.name for one in judged if one.is_changed],
        "new": [one.name for one in judged if one.is_new],
    }


def changes_to_plain(changes: Sequence[Change]) -> dict[str, Any]:
    """Changes as they were written."""
    written = [{"finding": change.finding, **_change(change)} for change in changes]
    return {"format": f"{FORMAT}-changes", "version": VERSION, "changes": written}


def _finding(one: Judged, history: Sequence[Past]) -> dict[str, Any]:
    return {
        "name": one.name,
        "sentence": None if one.finding is None else one.finding.sentence,
        "place": None if one.finding is None else str(one.finding.origin),
        "grade": one.grade.value,
        "reason": one.reason,
        "rests_on": [
            {
                "on": ground.on,
                "grade": ground.grade.value,
                "text": ground.text,
                "reason": ground.reason,
                "evidence": list(ground.evidence),
            }
            for ground in one.grounds
        ],
        "changes": [_change(change) for change in one.changes],
        "errata": [{"line": past.origin.number, **_change(past.change)} for past in errata(history, one.name)],
    }


def _change(change: Change) -> dict[str, Any]:
    """One change; the day is null where it is not accepted yet."""
    return {
        "day": change.day or None,
        "what": change.what,
        "old": change.old,
        "new": change.new,
        "why": change.why,
        "evidence": change.evidence,
    }

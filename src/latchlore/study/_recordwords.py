"""The sentences of reading and writing the record."""

from __future__ import annotations

NAME_RULE = "a name is up to 60 small letters, digits and hyphens in quotes, such as 'busy-line'"
TEXT_RULE = "a text in quotes is expected, with at least one letter"
HEAD = """\
# The history of the findings of this study (docs/record.md).  Lines are only ever added, one a change:
# date, finding, what changed, old, new, why, evidence, with tabs between; - stands for nothing.
"""
FINDINGS_HEAD = "# Findings: sentences, and what they rest on (docs/record.md).\n"


def no_such_finding(name: str) -> str:
    """A finding that is asked for and not there."""
    return f"the study has no finding {name!r}"


def withdrawn_already(name: str) -> str:
    """A finding that was withdrawn before."""
    return f"finding {name!r} is withdrawn already; it stays in the history"


def used_before(name: str) -> str:
    """A name that the history knows."""
    return f"the history knows a finding {name!r} already; a new finding has a name of its own"


def not_a_day(text: str) -> str:
    """What is no date."""
    return f"a date is year-month-day, such as 2026-11-26, not {text!r}"

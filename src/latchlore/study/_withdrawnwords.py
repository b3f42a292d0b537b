"""The sentences of withdrawing statements."""

from __future__ import annotations

GONE = "withdrawn"
BACK = "counts again"
NOTHING = "nothing said"
HEAD = """\
# Statements of this study that were withdrawn one by one (docs/record.md).  Lines are only ever added, one a change:
# date, statement, withdrawn or counts again, what its line said then, why, with tabs between.
"""
NO_LINE = (
    "a line holds date, statement, 'withdrawn' or 'counts again', what its line said, and why, with tabs between;"
    " this one has {count} fields or another third field"
)
NO_STATEMENT = "nothing in the table rests on a statement {name!r}"
NOT_WITHDRAWN = "the statement {name!r} is not withdrawn"
WITHDRAWN_ALREADY = "the statement {name!r} is withdrawn already, since {day}"
SET_ASIDE = "withdrawn on {day}: {name} ({why})"

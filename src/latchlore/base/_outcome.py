"""What each error means to the caller of a command and to the reader of a page."""

from __future__ import annotations

from typing import NamedTuple

from latchlore.base._errors import BadInput, Contradiction, StudyError, UnknownName, Unsupported


class Outcome(NamedTuple):
    """`exit_code` of a command, `http_status` of a page, and `words`: what the reader must do."""

    exit_code: int
    http_status: int
    words: str


FAULT = Outcome(1, 500, "a fault of Latchlore's own")
OUTCOME: dict[type[Exception], Outcome] = {
    BadInput: Outcome(2, 422, "a file, or the command itself, has to be mended"),
    UnknownName: Outcome(3, 404, "the request names something that is not there"),
    Contradiction: Outcome(4, 409, "witnesses contradict one another"),
    Unsupported: Outcome(5, 501, "something that is not modelled yet is needed"),
    OSError: Outcome(6, 503, "the system refused to read or write a file"),
    StudyError: Outcome(2, 422, "the study cannot be used"),
}
"""Error class → outcome; the first class in this order that fits decides."""

INTERRUPTED = Outcome(130, 503, "stopped by the user")
READER_GONE = Outcome(141, 499, "the reader of the output went away")


def outcome_of(error: BaseException) -> Outcome:
    """The outcome of an error; `FAULT` for one that no row names."""
    if isinstance(error, KeyboardInterrupt):
        return INTERRUPTED
    return next((outcome for kind, outcome in OUTCOME.items() if isinstance(error, kind)), FAULT)

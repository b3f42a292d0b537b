"""Sentences about questions.toml and what was computed for it."""

from __future__ import annotations

from latchlore.evidence.trialwording import HAZARDS

SURE_PERCENT = 95.0
"""How sure an outcome is that does not say so."""
DOUBT_PERCENT = 2.0
"""The doubt of a computed trial that does not state one."""

WAYS = ("chances", "joined", "read", "send", "listener")
HAZARD_RULE = f"a hazard is {', '.join(map(repr, list(HAZARDS)[:-1]))} or {list(HAZARDS)[-1]!r}"
DATE = "a date is year, month and day, such as '2026-11-26', not {text!r}"
ONE_BIT = "what is read is one bit of a register, such as 'C801 bit 7', not {text!r}"
PERIOD = "a period is longer than nothing, not {period}"
BYTE = "bytes are counted from 0 to {last}, not {byte}"
SIGNAL_LEVEL = "a signal is held at a level: `signal` and `level` belong together"
TWO_OUTCOMES = "a trial with chances has two outcomes or more"
OWN_OUTCOMES = "the outcomes of a trial with `{way}` are computed; key 'outcomes' belongs to `chances`"
NO_DOUBT = "doubt belongs to a computed trial; stated chances hold it already"
SAME_OUTCOME = "the outcomes of a trial have names of their own"
POWER_OFF = "a meter joins pins with the power off: the hazard is 'power-off', not {hazard!r}"
POWERED = "a trial with `{way}` is done under power: the hazard is 'reading', 'writing' or 'precious', not 'power-off'"
ONE_VALUE = "what is sent is bytes of one value each, such as '1B 4B 41', not {text!r}"
TWO_PINS = "a meter joins two pins, not {count}"

TWO_RIVALS = "a question has two rivals or more to be decided between, not {count}"
NO_CHANCES = "there are no chances for rival {rival!r}"
NO_RIVAL = "question {question!r} has no rival {rival!r}; its rivals are {known}"
COUNT = "rival {rival!r} needs {outcomes} chances, one an outcome, not {count}"
SUM = "the chances of rival {rival!r} add up to 1 or to 100, not to {total:g}"
TWICE = "{what} {name!r} is there twice; first at {first}"
NO_TRIAL = "there is no trial {name!r}; there are {known}"
NO_OUTCOME = "trial {trial!r} has no outcome {saw!r}; its outcomes are {known}"
TOO_OFTEN = "trial {trial!r} may be done {times} times (`times`), and this is one more"
NO_LISTENER = "rival {rival!r} has no `listener`, from which trial {trial!r} is computed"
LISTENER = "the listener of rival {rival!r}: {words}"
NO_TABLE = "rival {rival!r} has no `document`, from which trial {trial!r} is computed"
NO_DOCUMENT = "there is no document {document!r} in documents/; there are {known}"
NO_BOARD = "trial {trial!r} is computed from the board, and the study has no net file in board/"
NO_CHANGE = (
    "a change of the board is a statement of a net file, such as 'strap w1 joined', or 'drop net sel', not {text!r}"
)
NOTHING_DROPPED = "the board has no statement {text!r} that could be dropped"
BROKEN_BOARD = "the board of rival {rival!r}: {words} ({place})"
NO_PIN = "the board of rival {rival!r} has no pin {pin!r}"
IMPOSSIBLE = (
    "no rival allows that {trial!r} showed {saw!r}, with what was seen before: a rival is missing, or chances of 0 are "
    "too bold"
)
NO_FILE = "the study has no questions.toml; write one (docs/questions.md)"

JOINED, APART = "joined", "apart"
SAME_NET = "{first} and {second} are joined"
OTHER_NET = "{first} and {second} are apart"
NET_UNKNOWN = "not known whether {first} and {second} are joined: not traced, or a strap of unknown position"
BIT_IS = "{place} {sense}"
NO_REGISTER = "{place} is answered by nothing: it may be 0 or 1"
AS_DOCUMENT, OTHERWISE = "as {documents}", "otherwise"
NOT_EXPLAINED = "{raw} not explained"
READS_AS = "{document}: {effects}"
HEARD, MISSED = "byte {byte} heard", "byte {byte} missed"
MISSES = "misses byte {byte} with {chance:.1%}"

COMPUTED_JOINED = "computed from the nets"
COMPUTED_READ = "computed by decoding the board"
COMPUTED_SEND = "computed by reading the bytes with each rival's table"
COMPUTED_LISTENER = "computed by the listener model, for the byte that tells most"


def check_hazard(text: str) -> str:
    """The key of a hazard.  Refuses any other word."""
    if text not in HAZARDS:
        raise ValueError(f"{HAZARD_RULE}, not {text!r}")
    return text


def one_way(ways: list[str]) -> str:
    """How the outcomes of a trial are known."""
    keys = f"{', '.join(WAYS[:-1])} or {WAYS[-1]}"
    return f"a trial has one of {keys}, not {' and '.join(ways) or 'none of them'}"


def listed(names: list[str]) -> str:
    """Names that would have been understood."""
    return ", ".join(map(repr, names)) or "none"

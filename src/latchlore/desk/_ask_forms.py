"""The forms of a new question and of a new trial, and which of their fields a mistake means."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from latchlore.desk import askwording as words
from latchlore.desk._forms import Field, Form, Group, Rows, num_rows
from latchlore.evidence import trialwording

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.base import Origin
    from latchlore.study import Asked

MOST = 20
"""Rivals and outcomes on one form."""
PREFIXES = {"the question": "", "rival": "rival-", "the trial": "trial-", "outcome": "outcome-"}
"""Part of a question → what the names of its fields begin with."""

_PLACE = re.compile(r"(the question|the trial|rival|outcome)(?: (\d{1,6}))?")
_LEVELS = (("", "not held"), ("0", "low"), ("1", "high"))


def rival_rows(documents: Sequence[str]) -> Rows:
    """The rivals; `documents`: the names that may stand for one."""
    choices = (words.NO_DOCUMENT, *((one, one) for one in documents))
    columns = (
        Field("rival-name", "rival"),
        Field("rival-says", "what it says"),
        Field("rival-weight", "weight"),
        Field("rival-document", "document", "choice", choices=choices),
        Field("rival-board", "the board differs in", "hex", size=2),
    )
    return Rows("rivals", words.RIVALS, columns, words.RIVALS_HINT, more=2, most=MOST)


def outcome_rows(rivals: Sequence[str]) -> Rows:
    """Outcomes, and their chances under each rival; `rivals`: what each is called."""
    chances = (Field(f"outcome-if-rival-{k}", f"if {name}") for k, name in enumerate(rivals, 1))
    return Rows("outcomes", words.OUTCOMES, (Field("outcome-name", "outcome"), *chances), words.STATED_HINT, 2, 2, MOST)


def question_form(documents: Sequence[str], values: Mapping[str, str]) -> Form:
    """A new question, holding what was typed so far: from it come the numbers and names of the rivals."""
    rivals = rival_rows(documents)
    names = [
        " ".join(values.get(f"rival-name-{k}", "").split()) or f"rival {k + 1}" for k in range(num_rows(rivals, values))
    ]
    return Form(
        "record-question",
        "Ask a question",
        words.QUESTION_LEAD,
        "Keep the question",
        (
            Field("text", "The question: one sentence", needed=True),
            Field("name", "Its name", hint=words.NAME_HINT, needed=True),
            rivals,
            Field("enough", "What decides it", hint=words.ENOUGH_HINT),
            Field("unit", "What the costs of its trials count", hint=words.UNIT_HINT),
            *_trial_fields(names, words.TRIAL_OPTIONAL, is_needed=False),
        ),
        values=values,
        field_of=field_of,
    )


def trial_form(asked: Asked) -> Form:
    """A new trial of a question that is there."""
    return Form(
        "record-trial",
        f"Add a trial: {asked.text}",
        words.TRIAL_LEAD,
        "Keep the trial",
        tuple(_trial_fields(asked.rivals, "", is_needed=True)),
        kept={"question": asked.name},
        field_of=field_of,
    )


def _trial_fields(rivals: Sequence[str], hint: str, *, is_needed: bool) -> list[Field | Rows | Group]:
    """Everything that is asked of a trial."""
    hazards = tuple(trialwording.HAZARDS.items())
    cautions = tuple(trialwording.CAUTIONS[key] for key, _ in hazards)
    none = () if is_needed else (("", words.NO_TRIAL),)
    first = (
        Field("trial-name", "Name of the trial", needed=is_needed),
        Field("trial-how", "What is done", "text", size=3),
        Field(
            "trial-hazard",
            words.HAZARD,
            "pick",
            choices=(*none, *hazards),
            needed=is_needed,
            notes=(*("" for _ in none), *cautions),
        ),
        Field("trial-caution", words.OWN_CAUTION),
        Field("trial-cost", "Cost", hint=words.COST_HINT),
        Field("trial-times", "How often it may count", hint=words.TIMES_HINT),
    )
    read = (
        Field("trial-bit", "Bit", hint=words.BIT_HINT),
        Field("trial-signal", "Signal", hint=words.SIGNAL_HINT),
        Field("trial-level", "Level of the signal", "choice", choices=_LEVELS),
    )
    ramp = (
        Field("trial-period", "Period", hint=words.PERIOD_HINT),
        Field("trial-count", "Bytes", hint=words.COUNT_HINT),
        Field("trial-byte", "Byte that is looked for", hint=words.BYTE_HINT),
    )
    pins = (
        Field("trial-first-pin", "First pin", hint=words.PIN_HINT),
        Field("trial-second-pin", "Second pin"),
    )
    ways = [
        Group(words.STATED, (outcome_rows(rivals),)),
        Group(words.JOINED, pins),
        Group(words.READ, read),
        Group(words.SEND, (Field("trial-send", "Bytes that are sent", hint=words.SEND_HINT),)),
    ]
    if is_needed:  # the rivals of a new question have no listener yet
        ways.append(Group(words.LISTENER, ramp))
    doubt = Field("trial-doubt", words.DOUBT, hint=words.DOUBT_HINT)
    return [Group(words.TRIAL, first, hint), Group(words.WAY, (*ways, doubt))]


def field_of(place: Origin) -> str:
    """The id of the field that a place in what was typed means; empty for none."""
    match = _PLACE.fullmatch(place.file)
    if match is None:
        return ""
    row = f"-{int(match[2]) - 1}" if match[2] else ""
    if place.file == "the trial" and not place.detail:
        return "outcome-name-0"
    return f"{PREFIXES[match[1]]}{place.detail.replace(' ', '-')}{row}"


def typed_parts(row: Mapping[str, str], part: str) -> dict[str, str]:
    """What a part's fields hold, by the keys of the study's library."""
    prefix = PREFIXES[part]
    return {name.removeprefix(prefix).replace("-", " "): text for name, text in row.items() if name.startswith(prefix)}

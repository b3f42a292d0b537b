"""Open questions typed in: a question with its rivals, and trials that could tell them apart; for questions.toml.

Everything is checked by the rules of that file and foretold before it is written; the mistakes are named by the parts
of what was typed, since its lines are in no file yet.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, NamedTuple

from latchlore.base import BadInput, Origin, TomlText, UnknownName, append_tables, check_toml, read_toml
from latchlore.study import _editquestionwords as words
from latchlore.study import _questionwords as rules
from latchlore.study._edit import Edit, content_of
from latchlore.study._load import load_study
from latchlore.study._paths import LIMITS, QUESTIONS
from latchlore.study._questions import Reader
from latchlore.study._typedquestion import (
    OUTCOME_KEY,
    QUESTION_KEYS,
    RIVAL_KEYS,
    TRIAL_KEYS,
    Typed,
    foreseen_evenly,
    foreseen_surely,
    order_of,
    outcome_place,
    rival_place,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from latchlore.study._questionlayout import QuestionsTable
    from latchlore.study._study import Study

    Texts = Mapping[str, str]

_READABLE = {("listener", "period"): "1 us", ("read", "bit"): "0000 bit 0"}
"""What stands in the place of what cannot be read, so that the rest of the trial can be looked at."""
_KEY = re.compile(r"question\[1\](?:\.(rival|trial)\[(\d+)\])?\.?(.*)", re.DOTALL)


class Asked(NamedTuple):
    """A question that is there, as a form names it; `unit`: of the costs."""

    name: str
    text: str
    unit: str
    rivals: tuple[str, ...]


def open_questions(folder: Path) -> tuple[Asked, ...]:
    """The questions of questions.toml in the order of the file.  Refuses a file that breaks its rules."""
    table = _table(content_of(folder, QUESTIONS) or b"")[1]
    return tuple(Asked(one.name, one.text, one.unit, tuple(each.name for each in one.rival)) for one in table.question)


def plan_question(
    folder: Path, question: Texts, rivals: Sequence[Texts], trial: Texts, outcomes: Sequence[Texts]
) -> tuple[Edit, int]:
    """One more question behind those of questions.toml, which is made where it is not there; and its number, from 1.

    `question`: keys of `QUESTION_KEYS`; `rivals`: keys of `RIVAL_KEYS`, one a row, empty rows left out; `trial`: keys
    of `TRIAL_KEYS`, all of them empty for a question without one; `outcomes`: one a row, its ``name`` and its chance
    ``if rival 1``, ``if rival 2``, ... by the numbers of the rows.  Texts as they were typed.  Refuses what the rules
    of questions.toml refuse, all mistakes at once, each with its place in what was typed.
    """
    study = load_study(folder)
    raw = content_of(folder, QUESTIONS)
    known = _table(raw or b"")[1]
    typed = Typed([one.name for row in known.question for one in row.trial])
    data = typed.question(question, [one.name for one in known.question])
    found = typed.rivals(rivals)
    data["rival"] = [row for _, row in found]
    told = typed.trial(trial, outcomes, [(number, row["name"]) for number, row in found])
    data["trial"] = [told] if told else []
    _check(study, data, typed, [number for number, _ in found], is_new=True)
    content = append_tables(raw or b"", QUESTIONS, ("question",), {key: one for key, one in data.items() if one != []})
    return _edit(words.ADD_QUESTION.format(name=data["name"]), raw, content), len(known.question) + 1


def plan_trial(folder: Path, name: str, trial: Texts, outcomes: Sequence[Texts]) -> tuple[Edit, int]:
    """One more trial behind those of a question; and the question's number, from 1.

    `trial` and `outcomes` as in `plan_question`; the rivals are numbered from 1 in the order of the file.  Refuses a
    question that is not there, and what `plan_question` refuses.
    """
    study = load_study(folder)
    raw = content_of(folder, QUESTIONS)
    toml, known = _table(raw or b"")
    k = next((k for k, one in enumerate(known.question) if one.name == name), None)
    if k is None or raw is None:
        raise UnknownName(words.NO_QUESTION.format(name=name), [one.name for one in known.question])
    names = [one.name for one in known.question[k].rival]
    typed = Typed([one.name for row in known.question for one in row.trial])
    told = typed.trial(trial, outcomes, list(enumerate(names, 1)), is_needed=True)
    if len(names) < 2:
        typed.mistakes.setdefault((Origin(words.THE_QUESTION), rules.TWO_RIVALS.format(count=len(names))))
    data = {"rival": [], **toml.data["question"][k], "trial": [told]}
    _check(study, data, typed, list(range(1, len(names) + 1)), is_new=False)
    content = append_tables(raw, QUESTIONS, ("question", k, "trial"), told)
    return _edit(words.ADD_TRIAL.format(trial=told["name"], name=name), raw, content), k + 1


def _table(raw: bytes) -> tuple[TomlText, QuestionsTable]:
    from latchlore.study._questionlayout import QuestionsTable

    toml = read_toml(raw, QUESTIONS)
    return toml, check_toml(QuestionsTable, toml)


def _edit(told: str, raw: bytes | None, content: bytes) -> Edit:
    if len(content) > LIMITS["study file"]:
        raise BadInput(Origin(QUESTIONS), words.FILE_SIZE.format(size=len(content), most=LIMITS["study file"]))
    return Edit(told, {QUESTIONS: content}, {QUESTIONS: raw})


def _check(study: Study, data: dict[str, Any], typed: Typed, numbers: Sequence[int], *, is_new: bool) -> None:
    """Refuse a question with every mistake that it has.

    A rule that is broken hides the rules behind it: so what is wrong is put aside and the rest is looked at again, for
    as long as there is something new to be told.
    """
    tried = {**data, "rival": [dict(one) for one in data["rival"]], "trial": [dict(one) for one in data["trial"]]}
    typed.put_aside(tried)
    names = [" ".join(one["name"].split()) for one in tried["rival"]]
    while tried["trial"] or is_new:
        mistakes, is_foretold = _mistakes(study, tried)
        before = len(typed.mistakes)
        for place, text in mistakes:
            match = _KEY.fullmatch(place.detail)
            if match is None:  # of a net file or the like
                typed.mistakes.setdefault((place, text))
                continue
            path = (match[1] or "", int(match[2] or 0), match[3])
            at = _typed_place(path, text, data, names, numbers, typed.rows, is_foretold=is_foretold)
            if path[0] == "rival" and not is_new:  # of a question that is there: the trial cannot be foretold by it
                at = Origin(words.THE_TRIAL, detail=_way_key(data))
            typed.mistakes.setdefault((at, text))
            _put_aside(tried, path, names)
        if len(typed.mistakes) == before:
            break
    if typed.mistakes:
        raise BadInput.of_all(sorted(typed.mistakes, key=lambda pair: order_of(pair[0])))


def _mistakes(study: Study, data: Mapping[str, Any]) -> tuple[Sequence[tuple[Origin, str]], bool]:
    """What is wrong with a question alone, and whether it could be foretold at all."""
    alone = append_tables(b"", QUESTIONS, ("question",), {key: one for key, one in data.items() if one != []})
    try:
        reader = Reader(study, alone)
    except BadInput as error:
        return error.mistakes, False
    try:
        reader.finish()
    except BadInput as error:
        return error.mistakes, True
    return (), True


def _typed_place(
    path: tuple[str, int, str],
    text: str,
    data: Mapping[str, Any],
    names: Sequence[str],
    numbers: Sequence[int],
    rows: Sequence[int],
    *,
    is_foretold: bool,
) -> Origin:
    """Where in what was typed a key of the question stands."""
    kind, number, rest = path
    key = rest.partition("[")[0].partition(".")[0]
    if kind == "":
        return Origin(words.THE_QUESTION, detail=key)
    if kind == "rival":
        return rival_place(numbers[number - 1], key or "document")
    if key in ("outcomes", "chances"):
        _, chances, inner = rest.partition("chances.")
        rival, item = _rival_of(inner, names) if chances else (None, None)
        row = rows[int(item) - 1 if item else 0]
        return outcome_place(row, OUTCOME_KEY.format(number=numbers[rival]) if rival is not None else "name")
    if key == "joined":
        pins = data["trial"][0].get("joined", ["", ""])
        return Origin(words.THE_TRIAL, detail="second pin" if text.endswith(f"no pin {pins[1]!r}") else "first pin")
    inner = rest.partition(".")[2]
    if key == "read":
        return Origin(words.THE_TRIAL, detail=inner or "signal")
    if key == "listener":
        is_period = text.startswith(rules.PERIOD.partition("{")[0])
        return Origin(words.THE_TRIAL, detail=inner or ("period" if is_period else "byte"))
    return Origin(words.THE_TRIAL, detail=key or (_way_key(data) if is_foretold else "hazard"))


def _rival_of(text: str, names: Sequence[str]) -> tuple[int | None, str | None]:
    """The rival that a key of chances names, by its index, and the number of the chance, from 1."""
    for k, name in enumerate(names):
        if text == name:
            return k, None
        if text.startswith(f"{name}[") and text[len(name) + 1 : -1].isdigit():
            return k, text[len(name) + 1 : -1]
    return None, None


def _way_key(data: Mapping[str, Any]) -> str:
    """The first field of the way in which a trial is foretold."""
    return next((key for way, key in words.WAY_FIELDS.items() if data["trial"] and way in data["trial"][0]), "")


def _put_aside(tried: dict[str, Any], path: tuple[str, int, str], names: Sequence[str]) -> None:
    """Take out what breaks a rule, so that the rules behind it can be looked at."""
    kind, number, rest = path
    key = rest.partition("[")[0].partition(".")[0]
    if kind == "" and key in QUESTION_KEYS[2:]:
        tried.pop(key, None)
        return
    if kind == "rival" and key in RIVAL_KEYS[1:]:
        tried["rival"][number - 1].pop(key, None)
        if key == "weight":
            return
    for trial in tried["trial"]:
        if kind == "trial":
            _put_trial_aside(trial, rest, names)
        else:
            foreseen_evenly(trial, names)


def _put_trial_aside(trial: dict[str, Any], rest: str, names: Sequence[str]) -> None:
    key, _, inner = rest.partition(".")
    rival = _rival_of(inner, names)[0] if key == "chances" else None
    if key == "hazard":
        trial["hazard"] = "reading"
    elif rival is not None:
        foreseen_surely(trial, names[rival])
    elif key in ("read", "listener"):
        least = {one: value for one, value in trial[key].items() if (key, one) in _READABLE}
        others = {one: value for one, value in trial[key].items() if one != inner}
        readable = {one: value for (way, one), value in _READABLE.items() if (way, one) == (key, inner)}
        trial[key] = {**others, **readable} if inner else least
    elif key in TRIAL_KEYS and key != "send":
        trial.pop(key, None)
    else:
        foreseen_evenly(trial, names)

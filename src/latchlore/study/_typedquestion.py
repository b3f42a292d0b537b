"""What was typed of a question, as questions.toml holds it, with the mistakes that only the typing can have."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from latchlore.base import Origin
from latchlore.evidence.trialwording import HAZARDS
from latchlore.study import _editquestionwords as words
from latchlore.study import _questionwords as rules

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    Texts = Mapping[str, str]

QUESTION_KEYS = ("name", "text", "enough", "unit")
RIVAL_KEYS = ("name", "says", "weight", "document", "board")
PIN_KEYS, READ_KEYS, RAMP_KEYS = ("first pin", "second pin"), ("bit", "signal", "level"), ("period", "count", "byte")
TRIAL_KEYS = (
    *("name", "how", "hazard", "caution", "cost", "times"),
    *(*PIN_KEYS, *READ_KEYS, "send", *RAMP_KEYS, "doubt"),
)
OUTCOME_KEY = "if rival {number}"
"""The chance of an outcome, by the number of the rival's row."""
MAX_LETTERS = 4000
"""Of one field; longer texts are for an editor."""
MAX_ROWS = 20
"""Rivals, and outcomes, that are typed in at once."""

_LINES = frozenset({"how", "board"})
_NUMBERS = frozenset({"enough", "weight", "cost", "times", "doubt", "level", "count", "byte"})
_NUMBER = re.compile(r"-?\d{1,9}(?:\.\d{1,9})?", re.ASCII)
_WAYS = {"joined": PIN_KEYS, "read": READ_KEYS, "send": ("send",), "listener": RAMP_KEYS}


def rival_place(number: int, key: str) -> Origin:
    """A field of a rival's row, from 1."""
    return Origin(words.THE_RIVAL.format(number=number), detail=key)


def outcome_place(number: int, key: str) -> Origin:
    """A field of an outcome's row, from 1."""
    return Origin(words.THE_OUTCOME.format(number=number), detail=key)


def order_of(place: Origin) -> tuple[int, int, int, str]:
    """Places in the order in which they are typed: the question, its rivals, the trial, its outcomes; others first."""
    head, _, number = place.file.rpartition(" ")
    part = {"rival": 2, "outcome": 4}.get(head, {words.THE_QUESTION: 1, words.THE_TRIAL: 3}.get(place.file, 0))
    keys = {1: QUESTION_KEYS, 2: RIVAL_KEYS, 3: TRIAL_KEYS}.get(part, ())
    column = keys.index(place.detail) if place.detail in keys else -1
    if part == 4:
        column = int(place.detail.rpartition(" ")[2]) if place.detail.startswith("if rival ") else 0
    return part, int(number) if part in (2, 4) and number.isdigit() else place.number, column, str(place)


def foreseen_evenly(trial: dict[str, Any], names: Sequence[str]) -> None:
    """Put chances that break no rule in the place of what a trial says of its outcomes."""
    for key in (*words.WAY_FIELDS, "doubt"):
        trial.pop(key, None)
    trial["outcomes"] = ["1", "2"]
    trial["chances"] = {name: [50, 50] for name in names}


def foreseen_surely(trial: dict[str, Any], name: str) -> None:
    """Put chances that break no rule in the place of one rival's."""
    trial["chances"] = {**trial["chances"], name: [1, *[0] * (len(trial["outcomes"]) - 1)]}


def unnamed(number: int, taken: Iterable[str]) -> str:
    """What a row without a name of its own is called until it has one; none of the names that are taken."""
    name = words.UNNAMED.format(number=number)
    while name in taken:
        name += "'"
    return name


class Typed:
    """Reads what was typed, and goes on behind a mistake with something in its place.

    `mistakes`: those found so far; `rows`: the numbers of the outcomes that are filled in, in their order.
    """

    def __init__(self, trials: Sequence[str]) -> None:
        self.mistakes: dict[tuple[Origin, str], None] = {}
        self.rows: list[int] = []
        self._trials = trials
        self._is_told = True  # whether what the trial will show could be read
        self._unread: set[str] = set()  # rivals with a chance that could not be read
        self._has_hazard = True

    def _tell(self, place: Origin, text: str) -> None:
        self.mistakes.setdefault((place, text))

    def _clean(self, place: Origin, text: str) -> str:
        """A text of one line, or of several where its key has them.  Tells of one that is too long or is no text."""
        text = text.encode("utf-8", "replace").decode()
        if len(text) > MAX_LETTERS:
            self._tell(place, words.LETTERS.format(count=len(text), most=MAX_LETTERS))
            return "-"
        for sign in text:
            if (ord(sign) < 32 and sign not in "\t\n\r") or sign == "\x7f":
                self._tell(place, words.SIGN.format(code=ord(sign)))
                return "-"
        if place.detail in _LINES:
            return "\n".join(line.rstrip() for line in text.strip().splitlines())
        return " ".join(text.split())

    def _number(self, place: Origin, text: str) -> int | float | None:
        """A number; None for an empty text, and for one that is told of."""
        if not text or any(at == place for at, _ in self.mistakes):
            return None
        bare = text.removesuffix("%").strip()
        if not _NUMBER.fullmatch(bare):
            self._tell(place, words.NUMBER.format(text=text))
            return None
        return float(bare) if "." in bare else int(bare)

    def _pairs(self, row: Texts, keys: Sequence[str], place: Origin) -> dict[str, Any]:
        """The keys that are filled in, numbers as numbers."""
        found: dict[str, Any] = {}
        for key in keys:
            at = Origin(place.file, detail=key)
            text = self._clean(at, row.get(key, ""))
            value: object = self._number(at, text) if key in _NUMBERS else text
            if value is not None and value != "":
                found[key] = value
        return found

    def question(self, row: Texts, names: Sequence[str]) -> dict[str, Any]:
        """The question's own keys; `names`: those that are taken."""
        place = Origin(words.THE_QUESTION)
        found = self._pairs(row, QUESTION_KEYS, place)
        for key in ("name", "text"):
            if key not in found:
                self._tell(Origin(words.THE_QUESTION, detail=key), words.NEEDED)
        if found.get("name") in names:
            told = words.TAKEN.format(what="question", name=found["name"])
            self._tell(Origin(words.THE_QUESTION, detail="name"), told)
        return {"name": "-", "text": "-", **found}

    def rivals(self, rows: Sequence[Texts]) -> list[tuple[int, dict[str, Any]]]:
        """The rivals that are filled in, each with the number of its row, from 1; their names differ."""
        found: list[tuple[int, dict[str, Any]]] = []
        first: dict[str, int] = {}
        typed = {" ".join(row.get("name", "").split()) for row in rows}
        filled = [number for number, row in enumerate(rows, 1) if any(text.strip() for text in row.values())]
        if len(filled) > MAX_ROWS:
            self._tell(rival_place(filled[MAX_ROWS], "name"), words.ROWS.format(most=MAX_ROWS))
        for number in filled[:MAX_ROWS]:
            row = self._pairs(rows[number - 1], RIVAL_KEYS, rival_place(number, ""))
            at = rival_place(number, "name")
            name = row.get("name", "")
            if not name:
                self._tell(at, words.NEEDED)
            elif first.setdefault(name, number) != number:
                self._tell(at, words.TWICE.format(name=name, first=first[name]))
            if not name or first[name] != number:
                row["name"] = unnamed(number, typed)
            if "board" in row:
                row["board"] = [" ".join(line.split()) for line in row["board"].split("\n") if line.strip()]
            found.append((number, {key: row[key] for key in RIVAL_KEYS if key in row}))
        if len(found) < 2:
            number = next((k for k in range(1, len(rows) + 2) if k not in filled), 1)
            self._tell(rival_place(number, "name"), rules.TWO_RIVALS.format(count=len(found)))
        return found

    def trial(
        self, row: Texts, outcomes: Sequence[Texts], rivals: Sequence[tuple[int, str]], *, is_needed: bool = False
    ) -> dict[str, Any]:
        """The trial; empty where nothing is filled in and none is needed.  `rivals`: row and name of each."""
        place = Origin(words.THE_TRIAL)
        filled = [number for number, one in enumerate(outcomes, 1) if any(text.strip() for text in one.values())]
        pairs = self._pairs(row, TRIAL_KEYS, place)
        if not filled and not is_needed and not any(text.strip() for text in row.values()):
            return {}
        for key, rule in (("name", words.NEEDED), ("hazard", f"{rules.HAZARD_RULE}, not ''")):
            if key not in pairs:
                self._tell(Origin(words.THE_TRIAL, detail=key), rule)
        self._has_hazard = "hazard" in pairs
        if pairs.get("name") in self._trials:
            told = words.TAKEN.format(what="trial", name=pairs["name"])
            self._tell(Origin(words.THE_TRIAL, detail="name"), told)
        own = {"name": "-", "hazard": "reading", **pairs}
        found: dict[str, Any] = {key: own[key] for key in TRIAL_KEYS[:6] if key in own}
        ways = [way for way, keys in _WAYS.items() if any(row.get(key, "").strip() for key in keys)]
        ways = ["chances", *ways] if filled else ways
        if len(ways) != 1:
            self._tell(place, words.one_way(ways))
            self._is_told = False
        elif self._has_hazard:
            self._fits_its_hazard(ways[0], pairs["hazard"])
        for way in ways:
            if way == "chances":
                found |= self._outcomes(outcomes, filled, rivals)
            else:
                found |= self._computed(way, pairs)
        if "doubt" in pairs:
            if ways == ["chances"]:
                self._tell(Origin(words.THE_TRIAL, detail="doubt"), rules.NO_DOUBT)
            else:
                found["doubt"] = pairs["doubt"]
        return found

    def _fits_its_hazard(self, way: str, hazard: str) -> None:
        """Told here as well: the rule of the file is not reached while the way itself cannot be read."""
        told = ""
        if way == "joined" and hazard != "power-off" and hazard in HAZARDS:
            told = rules.POWER_OFF.format(hazard=hazard)
        if way not in ("chances", "joined") and hazard == "power-off":
            told = rules.POWERED.format(way=way)
        if told:
            self._tell(Origin(words.THE_TRIAL, detail="hazard"), told)
            self._has_hazard = False

    def put_aside(self, tried: dict[str, Any]) -> None:
        """Put something in the place of what was told already, so that the rest can be looked at."""
        names = [" ".join(one["name"].split()) for one in tried["rival"]]
        while len(tried["rival"]) < 2:
            tried["rival"].append({"name": unnamed(len(tried["rival"]) + 1, names)})
            self._is_told = False
        names = [" ".join(one["name"].split()) for one in tried["rival"]]
        for trial in tried["trial"]:
            if not self._has_hazard:
                trial["hazard"] = "power-off" if "joined" in trial else "reading"
            if not self._is_told:
                foreseen_evenly(trial, names)
            for name in self._unread if "chances" in trial else ():
                foreseen_surely(trial, name)

    def _computed(self, way: str, pairs: Mapping[str, Any]) -> dict[str, Any]:
        keys = _WAYS[way]
        needed = keys if way == "joined" else keys[:1]
        for key in needed:
            if key not in pairs:
                self._tell(Origin(words.THE_TRIAL, detail=key), words.NEEDED)
                self._is_told = False
        if way == "joined":
            return {"joined": [pairs.get(key, "-") for key in keys]}
        if way == "send":
            return {"send": pairs["send"]}
        return {way: {key: pairs[key] for key in keys if key in pairs}}

    def _outcomes(
        self, rows: Sequence[Texts], filled: Sequence[int], rivals: Sequence[tuple[int, str]]
    ) -> dict[str, Any]:
        """Outcomes and their chances, as stated."""
        if len(filled) > MAX_ROWS:
            self._tell(outcome_place(filled[MAX_ROWS], "name"), words.ROWS.format(most=MAX_ROWS))
            filled = filled[:MAX_ROWS]
        self.rows = list(filled)
        names: list[str] = []
        typed = {" ".join(row.get("name", "").split()) for row in rows}
        chances: dict[str, list[int | float]] = {name: [] for _, name in rivals}
        for number in filled:
            row = rows[number - 1]
            at = outcome_place(number, "name")
            name = self._clean(at, row.get("name", ""))
            if not name:
                self._tell(at, words.NEEDED)
            elif name in names:
                self._tell(at, rules.SAME_OUTCOME)
            names.append(name if name and name not in names else unnamed(number, typed))
            for rival, key in rivals:
                place = outcome_place(number, OUTCOME_KEY.format(number=rival))
                text = self._clean(place, row.get(place.detail, ""))
                chance = self._number(place, text)
                if not text:
                    self._tell(place, words.NEEDED)
                elif chance is not None and not 0 <= chance <= 100:
                    self._tell(place, words.CHANCE.format(text=text))
                    chance = None
                if chance is None:
                    self._unread.add(key)
                chances[key].append(0 if chance is None else chance)
            self._no_rival(number, row, {rival for rival, _ in rivals})
        if len(names) < 2:
            number = next(k for k in range(1, len(rows) + 2) if k not in filled)
            self._tell(outcome_place(number, "name"), rules.TWO_OUTCOMES)
            self._is_told = False
        return {"outcomes": names, "chances": chances}

    def _no_rival(self, number: int, row: Texts, rivals: set[int]) -> None:
        """Tell of chances under rivals that are not filled in."""
        for key, text in row.items():
            _, is_chance, rival = key.partition("if rival ")
            if is_chance and rival.isdigit() and int(rival) not in rivals and text.strip():
                told = words.NO_SUCH_RIVAL.format(number=rival, text=text.strip()[:MAX_LETTERS])
                self._tell(outcome_place(number, key), told)

"""Findings: the researcher's sentences, the subjects and findings they rest on, and what changed under them."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

from latchlore.base import BadInput, Origin
from latchlore.evidence import _recordwords as wording
from latchlore.evidence._describe import describe_value
from latchlore.evidence._grades import Grade, grade_of_row, tells, voice_of, weakest
from latchlore.evidence._history import (
    FINDING,
    GRADE,
    NOTHING,
    ON,
    RESTS_ON,
    SENTENCE,
    Change,
    accepted,
    one_line,
)
from latchlore.evidence._plain import value_to_plain
from latchlore.evidence._table import Standing

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.base import Testimony
    from latchlore.evidence._history import Past
    from latchlore.evidence._table import Row, Table

SHOWN_BYTES = 16  # of a sequence, in a line of the history; the mark tells longer ones apart
SHOWN_LETTERS = 120
MARK_DIGITS = 12


@dataclass(frozen=True, slots=True)
class Finding:
    """A sentence of the researcher's.

    `rests_on`: subjects as the table prints them, and ``finding NAME``; at least one.  `says`: (subject, words) where
    the sentence is only right while somebody says these words about the subject.  `places`: where each of `rests_on`
    stands in the file.
    """

    name: str
    sentence: str
    rests_on: tuple[str, ...]
    says: tuple[tuple[str, str], ...]
    origin: Origin
    places: tuple[Origin, ...]

    @property
    def grounds(self) -> str:
        """What it rests on, and what is expected of it, in one line."""
        expected = dict(self.says)
        return "; ".join(f"{on} (says {expected[on]!r})" if on in expected else on for on in self.rests_on)


@dataclass(frozen=True, slots=True)
class Ground:
    """One thing that a finding rests on, as it stands now.

    `text` begins with how it stands and, for a subject, the mark of everything said about it.  `reason` says why its
    grade is what it is; `evidence`: the places it rests on.
    """

    on: str
    text: str
    grade: Grade
    reason: str
    evidence: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Judged:
    """A finding with its grade, and what changed since it was last accepted.

    `finding` is None where the file no longer has it.  `changes` have no day yet; none: all is as it was accepted.
    `is_new`: the history has no line about it.
    """

    name: str
    finding: Finding | None
    grade: Grade
    reason: str
    grounds: tuple[Ground, ...]
    changes: tuple[Change, ...]
    is_new: bool

    @property
    def is_changed(self) -> bool:
        """Whether it is no longer as it was accepted; a finding not yet accepted is new, not changed."""
        return bool(self.changes) and not self.is_new


def judge(findings: Sequence[Finding], table: Table, history: Sequence[Past]) -> tuple[Judged, ...]:
    """Every finding with its grade and its changes, in the order of the file; those struck from it come last, by name.

    Refuses, all mistakes at once: a name that stands twice, a subject or finding that never was there, findings that
    rest on themselves.  A subject that the history knows and the table no longer has is no mistake: what rested on it
    is unfounded now.
    """
    judging = _Judging(findings, table, accepted(history))
    judging.check()
    made = [judging.judged(finding) for finding in findings]
    names = {finding.name for finding in findings}
    gone = sorted(name for name in judging.before if name not in names)
    return (*made, *map(judging.struck, gone))


class _Judging:
    """One judging of all findings against one table."""

    def __init__(self, findings: Sequence[Finding], table: Table, before: Mapping[str, Mapping[str, str]]) -> None:
        self.findings = findings
        self.before = before
        self.by_name = {finding.name: finding for finding in reversed(findings)}
        self.rows: dict[str, list[Row]] = {}
        for row in table.rows:
            self.rows.setdefault(one_line(str(row.subject)), []).append(row)
        self.known: dict[str, tuple[Grade, str, tuple[Ground, ...]]] = {}

    def check(self) -> None:
        """Refuse what `judge` refuses."""
        mistakes: list[tuple[Origin, str]] = []
        first: dict[str, Finding] = {}
        for finding in self.findings:
            if first.setdefault(finding.name, finding) is not finding:
                mistakes.append((finding.origin, wording.named_twice(finding.name, str(first[finding.name].origin))))
            for on, place in zip(finding.rests_on, finding.places, strict=True):
                mistakes += ((place, words) for words in self.mistakes_of(finding, on))
            for subject, _ in finding.says:
                if subject not in finding.rests_on or subject.startswith(FINDING):
                    mistakes.append((finding.origin, wording.says_elsewhere(subject)))
        mistakes += ((self.by_name[names[0]].origin, wording.circle(names)) for names in self.circles())
        if mistakes:
            raise BadInput.of_all(sorted(mistakes, key=lambda pair: pair[0].number))

    def mistakes_of(self, finding: Finding, on: str) -> list[str]:
        """What is wrong with one thing that a finding rests on."""
        name = on.removeprefix(FINDING)
        if on.startswith(FINDING):
            if name in self.by_name or name in self.before:
                return []
            return [wording.no_finding(name, [one for one in self.by_name if one != finding.name])]
        if on in self.rows or ON + on in self.before.get(finding.name, {}):
            return []
        return [wording.no_subject(on, get_close_matches(on, self.rows, 3))]

    def circles(self) -> list[list[str]]:
        """Names from a finding back to itself, one for each way back that is met."""
        done: set[str] = set()
        found: list[list[str]] = []
        for start in dict.fromkeys(finding.name for finding in self.findings):
            way, waiting = [start], [iter(self.below(start))]
            while waiting and start not in done:
                name = next(waiting[-1], None)
                if name is None:
                    waiting.pop()
                    done.add(way.pop())
                elif name in way:
                    found.append([*way[way.index(name) :], name])
                elif name not in done:
                    way.append(name)
                    waiting.append(iter(self.below(name)))
        return found

    def below(self, name: str) -> list[str]:
        """The findings of the file that a finding rests on."""
        named = [on.removeprefix(FINDING) for on in self.by_name[name].rests_on if on.startswith(FINDING)]
        return [one for one in dict.fromkeys(named) if one in self.by_name]

    def graded(self, name: str) -> tuple[Grade, str, tuple[Ground, ...]]:
        """Grade, reason and grounds of a finding of the file; those below it are graded first, without recursion."""
        waiting = [name]
        while waiting:
            top = waiting[-1]
            open_below = [one for one in self.below(top) if one not in self.known]
            if open_below:
                waiting += open_below
                continue
            self.known[waiting.pop()] = self.grade(self.by_name[top])
        return self.known[name]

    def grade(self, finding: Finding) -> tuple[Grade, str, tuple[Ground, ...]]:
        """As `graded`, of a finding below which all are graded."""
        grounds = tuple(self.ground(finding, on) for on in finding.rests_on)
        if self.before.get(finding.name, {}).get(GRADE) == Grade.WITHDRAWN:
            return Grade.WITHDRAWN, "", grounds
        grade = weakest(ground.grade for ground in grounds)
        worst = [ground for ground in grounds if weakest([ground.grade]) is grade]
        return grade, "; ".join(dict.fromkeys(ground.reason for ground in worst)), grounds

    def ground(self, finding: Finding, on: str) -> Ground:
        """One thing that a finding rests on, as it stands now."""
        if on.startswith(FINDING):
            return self.ground_of_finding(on)
        rows = self.rows.get(on)
        if rows is None:
            return Ground(on, wording.GONE, Grade.UNFOUNDED, wording.gone(on), ())
        grade = weakest(map(grade_of_row, rows))
        worst = next(row for row in rows if grade_of_row(row) is grade)
        reason = wording.stands(on, worst.standing.value, worst.reason)
        words = dict(finding.says).get(on, "")
        said = [one_line(describe_value(one.value)) for row in rows for one in row.testimonies if tells(one)]
        if words and not any(_folded(words) in _folded(text) for text in said):
            grade, reason = Grade.UNFOUNDED, wording.nobody_says(on, words, [_cut(text) for text in said])
        origins = dict.fromkeys(str(one.origins[0]) for row in rows for one in row.testimonies)
        return Ground(on, _text_of_rows(rows), grade, reason, tuple(origins))

    def ground_of_finding(self, on: str) -> Ground:
        """Another finding, graded already."""
        name = on.removeprefix(FINDING)
        if name not in self.by_name:  # struck from the file, and known to the history
            reason = wording.finding_is(name, Grade.WITHDRAWN)
            return Ground(on, Grade.WITHDRAWN.value, Grade.WITHDRAWN, reason, ())
        grade, _, grounds = self.known[name]
        evidence = _places(grounds)
        text = f"{grade}: {self.by_name[name].sentence}"
        return Ground(on, text, grade, wording.finding_is(name, grade), evidence)

    def judged(self, finding: Finding) -> Judged:
        """A finding of the file, and what changed."""
        grade, reason, grounds = self.graded(finding.name)
        before = self.before.get(finding.name, {})
        if grade is Grade.WITHDRAWN:
            return Judged(finding.name, finding, grade, reason, grounds, (), False)
        now = [
            (SENTENCE, finding.sentence, wording.SENTENCE_CHANGED, str(finding.origin)),
            (RESTS_ON, finding.grounds, wording.GROUNDS_CHANGED, str(finding.origin)),
            *((ON + one.on, one.text, one.reason, "; ".join(one.evidence)) for one in grounds),
            (GRADE, grade.value, reason, "; ".join(_places(grounds))),
        ]
        changes = [
            Change("", finding.name, what, before.get(what, NOTHING), text, why if before else wording.ENTERED, places)
            for what, text, why, places in now
            if not _is_same(what, before.get(what, NOTHING), text)
        ]
        kept = {what for what, *_ in now}
        changes += [
            Change("", finding.name, what, old, NOTHING, wording.NOT_RESTED_ON, str(finding.origin))
            for what, old in before.items()
            if what not in kept
        ]
        return Judged(finding.name, finding, grade, reason, grounds, tuple(changes), not before)

    def struck(self, name: str) -> Judged:
        """A finding that only the history knows."""
        old = self.before[name].get(GRADE, NOTHING)
        changes = () if old == Grade.WITHDRAWN else (withdrawal(name, old, wording.STRUCK),)
        return Judged(name, None, Grade.WITHDRAWN, wording.STRUCK, (), changes, False)


def withdrawal(name: str, old: str, why: str) -> Change:
    """The change by which a finding is withdrawn, without its day."""
    return Change("", name, GRADE, old, Grade.WITHDRAWN.value, why, "")


def dated(changes: Sequence[Change], day: str, because: str) -> tuple[Change, ...]:
    """The changes of a judging as lines to add: with their day, and the researcher's own words behind ours."""
    made = []
    for one in changes:
        why = f"{one.why}; {because}" if because and one.why != because else one.why
        texts = map(one_line, (one.old, one.new, why, one.evidence))
        made.append(Change(day, one.finding, one_line(one.what), *texts))
    return tuple(made)


def _places(grounds: Sequence[Ground]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(place for ground in grounds for place in ground.evidence))


def _text_of_rows(rows: Sequence[Row]) -> str:
    """Standing, mark and words: ``agreed 0123456789ab: board NOT BUSY; program waits until it is 1``."""
    standing = next(one for one in Standing if any(row.standing is one for row in rows))
    said = [
        f"{_who(one)} {_cut(one_line(describe_value(one.value, SHOWN_BYTES)))}"
        for row in rows
        for one in row.testimonies
    ]
    return f"{standing.value} {mark_of_rows(rows)}: {'; '.join(said) or wording.NOBODY}"


def mark_of_rows(rows: Sequence[Row]) -> str:
    """The first 12 digits of the SHA-256 of how the rows stand and what is said, by whom, how strongly.

    Neither lines nor words of reasons count, so that a remark put into a file changes nothing.  Shares of a whole
    count to four digits, so that another computer finds the same mark.
    """
    said = [
        [row.standing.value, sorted(_canonical([*voice_of(one), one.strength, _value(one)]) for one in row.testimonies)]
        for row in rows
    ]
    return hashlib.sha256(_canonical(said).encode()).hexdigest()[:MARK_DIGITS]


def _value(one: Testimony) -> list[Any]:
    plain = value_to_plain(one.value)
    return [plain["type"], _rounded(plain["fields"])]


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return f"{value:.4f}"
    if isinstance(value, dict):
        return {key: _rounded(part) for key, part in value.items()}
    return [_rounded(part) for part in value] if isinstance(value, list) else value


def _canonical(value: Any) -> str:
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=True)


def _who(one: Testimony) -> str:
    _, file = voice_of(one)
    return file or one.witness.value


def _is_same(what: str, old: str, new: str) -> bool:
    """Whether nothing changed; of a subject's text only standing and mark count, of all others all words."""
    if what.startswith(ON) and not what.startswith(ON + FINDING):
        return old.partition(":")[0] == new.partition(":")[0]
    return old == one_line(new)


def _folded(text: str) -> str:
    return " ".join(text.casefold().split())


def _cut(text: str) -> str:
    return text if len(text) <= SHOWN_LETTERS else f"{text[: SHOWN_LETTERS - 2].rstrip()} …"

"""Findings: grades by standing and strength, the weakest link, circles, and what counts as a change."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

import pytest

from latchlore.base import (
    ActiveLevel,
    BadInput,
    BitSense,
    Emission,
    Origin,
    Strength,
    Subject,
    SubjectKind,
    Testimony,
    Witness,
    Words,
)
from latchlore.evidence import (
    Finding,
    Grade,
    Judged,
    Past,
    Table,
    dated,
    grade_of_row,
    history_lines,
    judge,
    mark_of_rows,
    parse_history,
    weakest,
    weigh,
)

LEVEL = Subject(SubjectKind.SIGNAL, ("ACK",))


def said(
    value: int | str | None,
    witness: Witness = Witness.DOCUMENTS,
    strength: Strength = Strength.STATED,
    file: str = "documents/a.toml",
    line: int = 1,
) -> Testimony:
    """A level of ACK, or words about it, or an emission that cannot be told."""
    spoken: ActiveLevel | Words | Emission = (
        Emission(None) if value is None else Words(value) if isinstance(value, str) else ActiveLevel(value)
    )
    return Testimony(LEVEL, spoken, witness, (Origin.at_line(file, line),), "read", strength)


def table(*testimonies: Testimony, asked: tuple[Subject, ...] = (LEVEL,)) -> Table:
    """These testimonies, weighed."""
    return weigh(testimonies, title="t", invented=True, asked=asked)


def finding(name: str, *rests_on: str, says: tuple[tuple[str, str], ...] = (), line: int = 1) -> Finding:
    """A finding with the name as its sentence."""
    places = tuple(Origin.at_line("findings.toml", line + k) for k in range(len(rests_on)))
    return Finding(name, name.upper(), rests_on, says, Origin.at_line("findings.toml", line), places)


def accept(judged: tuple[Judged, ...], history: tuple[Past, ...] = ()) -> tuple[Past, ...]:
    """The history with every change written, as text and back."""
    text = history_lines([past.change for past in history])
    text += history_lines(dated([change for one in judged for change in one.changes], "2026-11-26", ""))
    return parse_history(text, "history.txt")


STATED, COMPUTED, MEASURED, GUESSED = Strength.STATED, Strength.COMPUTED, Strength.MEASURED, Strength.GUESSED
BOARD, B = Witness.BOARD, "documents/b.toml"


@pytest.mark.parametrize(
    ("testimonies", "grade"),
    [
        ((said(1), said(1, BOARD, COMPUTED, "board/a.nets")), Grade.ESTABLISHED),
        ((said(1, file=B), said(1, Witness.WIRE, MEASURED, "wire/a.log")), Grade.ESTABLISHED),
        ((said(1), said(1, file=B)), Grade.ATTESTED),
        ((said(1), said(1, BOARD, STATED, "board/a.nets")), Grade.ATTESTED),
        ((said(1, BOARD, COMPUTED, "board/a.nets"),), Grade.ONE_WITNESS),
        ((said(1, BOARD, COMPUTED, "board/a.nets"), said(1, strength=GUESSED)), Grade.ONE_WITNESS),
        ((said(1),), Grade.ONE_STATEMENT),
        ((said(1), said(1, strength=GUESSED, file=B)), Grade.ONE_STATEMENT),
        ((said(1), said(1, line=2)), Grade.ONE_STATEMENT),
        ((said(1, strength=GUESSED),), Grade.GUESSED),
        ((said(1, strength=GUESSED), said(1, strength=GUESSED, file=B)), Grade.GUESSED),
        ((said(1, BOARD, COMPUTED, "board/a.nets"), said(0)), Grade.DISPUTED),
        ((said(1, strength=GUESSED), said(0, file=B)), Grade.DISPUTED),
        ((), Grade.UNFOUNDED),
        ((said(None),), Grade.UNFOUNDED),
    ],
)
def test_grade_of_row(testimonies: tuple[Testimony, ...], grade: Grade) -> None:
    """The grades as docs/record.md defines them, by standing, number of voices and strength."""
    [row] = table(*testimonies).rows
    assert grade_of_row(row) is grade
    for order in itertools.permutations(testimonies):
        assert grade_of_row(table(*order).rows[0]) is grade


def test_grade_untraced() -> None:
    """A bit that was not traced to its end says nothing."""
    subject = Subject(SubjectKind.BIT, ("memory", "C801", "read", "7"))
    one = Testimony(subject, BitSense.unknown(), BOARD, (Origin("board/a.nets"),), "traced", COMPUTED)
    [row] = table(one, asked=()).rows
    assert grade_of_row(row) is Grade.UNFOUNDED


def test_weakest() -> None:
    """The weakest link decides; what rests on something withdrawn is unfounded, and so is what rests on nothing."""
    grades = list(Grade)
    for first, second in itertools.product(grades, repeat=2):
        worse = grades[max(grades.index(first), grades.index(second))]
        assert weakest([first, second]) is (Grade.UNFOUNDED if worse is Grade.WITHDRAWN else worse)
    assert weakest([]) is Grade.UNFOUNDED


def test_judge_several() -> None:
    """A finding on several subjects and findings has the grade of the weakest, through any number of steps."""
    other = Subject(SubjectKind.NOTE, ("a note",))
    note = Testimony(other, Words("seen"), Witness.DOCUMENTS, (Origin(B),), "read", GUESSED)
    weighed = table(said(1), said(1, BOARD, COMPUTED, "board/a.nets"), note)
    chain = [finding(f"c{k}", f"finding c{k + 1}") for k in range(3000)]
    base = [finding("c3000", "signal ACK"), finding("both", "signal ACK", "a note"), finding("top", "finding both")]
    grades = {one.name: one.grade for one in judge([*chain, *base], weighed, ())}
    assert {grades[f"c{k}"] for k in range(3001)} == {Grade.ESTABLISHED}
    assert grades["both"] is grades["top"] is Grade.GUESSED


def test_judge_wrong() -> None:
    """Every mistake at once, each with its line: no such subject, no such finding, a name twice, foreign words."""
    findings = [
        finding("a", "signal ACT", line=1),
        finding("b", "finding c", "signal ACK", line=5),
        finding("a", "signal ACK", line=9),
        finding("d", "signal ACK", says=(("signal BUSY", "x"),), line=12),
    ]
    with pytest.raises(BadInput) as error:
        judge(findings, table(said(1)), ())
    assert str(error.value).split("\n") == [
        "findings.toml:1: the table has no subject 'signal ACT'; near it: 'signal ACK'",
        "findings.toml:5: there is no finding 'c'; there are 'd', 'a'",
        "findings.toml:9: finding 'a' is there twice; first at findings.toml:1",
        "findings.toml:12: the finding does not rest on 'signal BUSY', so nothing can be expected of it",
    ]


def test_judge_circle_wrong() -> None:
    """Findings that rest on one another are refused, with the way round; so is one that rests on itself."""
    findings = [
        finding("x", "finding a", line=1),
        finding("a", "signal ACK", "finding b", line=3),
        finding("b", "finding c", line=6),
        finding("c", "finding a", line=8),
        finding("self", "finding self", line=10),
    ]
    with pytest.raises(BadInput) as error:
        judge(findings, table(said(1)), ())
    assert str(error.value).split("\n") == [
        "findings.toml:3: finding 'a' rests on itself: 'a' on 'b' on 'c' on 'a'",
        "findings.toml:10: finding 'self' rests on itself: 'self' on 'self'",
    ]


def test_says() -> None:
    """Words that nobody says any more leave a finding unfounded, whatever the subject's standing."""
    one = finding("low", "signal ACK", says=(("signal ACK", "TRUE  when low"),))
    voices = (said(0), said(0, BOARD, COMPUTED, "board/a.nets"))
    [judged] = judge([one], table(*voices), ())
    assert judged.grade is Grade.ESTABLISHED
    history = accept((judged,))
    [judged] = judge([one], table(*(replace(voice, value=ActiveLevel(1)) for voice in voices)), history)
    assert judged.grade is Grade.UNFOUNDED
    assert judged.reason == (
        "nobody says 'TRUE  when low' about signal ACK; said is 'true when high' and 'true when high'"
    )
    assert [change.what for change in judged.changes] == ["on signal ACK", "grade"]


def test_mark_keeps() -> None:
    """Lines, notes and methods do not count: a remark put into a file changes no finding."""
    before = table(said(1), said(1, BOARD, COMPUTED, "board/a.nets"))
    history = accept(judge([finding("a", "signal ACK")], before, ()))
    moved = table(
        replace(said(1, line=77), note="a note", method="otherwise"), said(1, BOARD, COMPUTED, "board/z.nets")
    )
    [judged] = judge([finding("a", "signal ACK")], moved, history)
    assert judged.changes == ()
    assert not judged.is_changed


def test_mark_keeps_wrong() -> None:
    """Value, strength, who speaks, and how it stands do count, each alone."""
    one, other = said(1), said(1, BOARD, COMPUTED, "board/a.nets")
    marks = [
        mark_of_rows(table(*voices).rows)
        for voices in (
            (one, other),
            (one,),
            (other,),
            (one, replace(other, strength=STATED)),
            (replace(one, value=ActiveLevel(0)), other),
            (replace(one, value=ActiveLevel(0)), replace(other, value=ActiveLevel(0))),
            (replace(one, origins=(Origin(B),)), other),
            (one, replace(one, origins=(Origin(B),)), other),
            (),
        )
    ]
    assert len(set(marks)) == len(marks)


def test_withdrawn_evidence() -> None:
    """200 random tables: evidence taken away is always told of, and no grade rises unless a contradiction ended."""
    dice = random.Random(7)
    files = ("documents/a.toml", B, "documents/c.toml")
    grades = list(Grade)
    for _ in range(200):
        voices = [said(dice.choice((1, 1, 1, 0)), strength=dice.choice((STATED, GUESSED)), file=f) for f in files]
        voices += [said(1, BOARD, dice.choice((COMPUTED, STATED)), "board/a.nets")]
        [before] = judge([finding("a", "signal ACK")], table(*voices), ())
        history = accept((before,))
        left = dice.sample(voices, dice.randrange(len(voices)))
        findings = [finding("a", "signal ACK"), finding("b", "finding a")]
        after, _ = judge(findings, table(*left), history)
        assert after.is_changed
        if before.grade is not Grade.DISPUTED:
            assert grades.index(after.grade) >= grades.index(before.grade)


def test_subject_gone() -> None:
    """A subject that was accepted once and is gone is evidence withdrawn, not a mistake; told once, then accepted."""
    findings = [finding("a", "signal ACK"), finding("b", "finding a"), finding("c", "a note")]
    note = Testimony(Subject(SubjectKind.NOTE, ("a note",)), Words("x"), Witness.WIRE, (Origin("l"),), "m", COMPUTED)
    history = accept(judge(findings, table(said(1), note), ()))
    judged = judge(findings, table(note, asked=()), history)
    assert {one.name: (one.grade, one.is_changed) for one in judged} == {
        "a": (Grade.UNFOUNDED, True),
        "b": (Grade.UNFOUNDED, True),
        "c": (Grade.ONE_WITNESS, False),
    }
    assert judged[0].changes[0].new == "gone: nobody speaks about it any more"
    assert judged[0].reason == "nobody speaks about signal ACK any more"
    later = accept(judged, history)
    assert not any(one.is_changed for one in judge(findings, table(note, asked=()), later))


def test_reworded_and_struck() -> None:
    """A new sentence, other grounds, and a finding taken out of the file are changes, for what rests on them too."""
    findings = [finding("a", "signal ACK"), finding("b", "finding a"), finding("c", "signal ACK")]
    history = accept(judge(findings, table(said(1)), ()))
    reworded = [replace(findings[0], sentence="OTHER"), findings[1], replace(findings[2], rests_on=("finding a",))]
    told = {
        (one.name, change.what, change.old.partition(" ")[0], change.new.partition(" ")[0])
        for one in judge(reworded, table(said(1)), history)
        for change in one.changes
    }
    assert told == {
        ("a", "sentence", "A", "OTHER"),
        ("b", "on finding a", "one", "one"),
        ("c", "rests on", "signal", "finding"),
        ("c", "on finding a", "-", "one"),
        ("c", "on signal ACK", "single", "-"),
    }
    struck = judge(findings[1:], table(said(1)), history)
    assert [(one.name, one.grade.value, len(one.changes)) for one in struck] == [
        ("b", "unfounded", 2),
        ("c", "one statement", 0),
        ("a", "withdrawn", 1),
    ]
    later = judge(findings[1:], table(said(1)), accept(struck, history))
    assert [one.is_changed for one in later] == [False, False, False]

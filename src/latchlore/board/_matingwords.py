"""A mating in words and as plain data: what a page, a terminal and a program are told of it."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Any

from latchlore.base import Strength, Subject, SubjectKind, Testimony, Witness, Words
from latchlore.board import matingwording as wording
from latchlore.board._mating import Harm, Mating, Way
from latchlore.board._matinglevels import Severity

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import Origin
    from latchlore.board._matinglevels import LevelFigures
    from latchlore.board._meeting import Finding

TOLD = (
    Severity.DANGER,
    Severity.UNSURE,
    Severity.FAULT,
    Severity.OPEN,
    Severity.CONDITION,
    Severity.EFFECT,
)
"""What of the right way is told pin by pin, worst first."""


def describe_pins(mating: Mating, pins: tuple[tuple[int | None, int | None], ...], most: int = 4) -> str:
    """Where a finding lies: ``j1.14 on j2.14``; a pin that meets nothing alone; empty for the connectors as a whole."""
    words = []
    for a, b in pins[:most]:
        one = mating.one.pin(a) if a is not None else ""
        other = mating.other.pin(b) if b is not None else ""
        words.append(f"{one} on {other}" if one and other else one or other)
    more = f" and {len(pins) - most} more" if len(pins) > most else ""
    return ", ".join(words) + more


def describe_way(mating: Mating, way: Way) -> str:
    """A way's verdict in a sentence: unsafe with the first pin and reason, or what is not known and what would tell."""
    worst = next((one for one in way.findings if one.severity in (Severity.DANGER, Severity.UNSURE)), None)
    if worst is None:
        return f"{wording.HARM_WORDS[way.harm.value]}, {wording.WORKS_WORDS[way.works.value]}"
    alike = sum(one.severity is worst.severity for one in way.findings) - 1
    where = describe_pins(mating, worst.pins)
    words = f"{wording.HARM_WORDS[way.harm.value]}: {f'{where}: ' if where else ''}{worst.words}"
    if worst.reading:
        words += f"; {worst.reading}"
    return f"{words} (and {alike} more)" if alike else words


def describe_wrong_ways(mating: Mating) -> str:
    """How many of the wrong ways are unsafe, cannot be told, are safe, each with its names."""
    wrong = mating.ways[1:]
    parts = []
    for harm in Harm:
        names = [way.name for way in wrong if way.harm is harm]
        if names:
            parts.append(f"{wording.HARM_WORDS[harm.value]} {', '.join(names)}")
    return "; ".join(parts) if parts else wording.NO_WRONG_WAYS


def describe_figures(figures: LevelFigures) -> str:
    """The levels of an output on its line in a line of text."""
    parts = []
    for word, level, current, margin in (
        ("low", figures.low, figures.low_current, figures.low_margin),
        ("high", figures.high, figures.high_current, figures.high_margin),
    ):
        if level is None:
            continue
        sign = "at most" if word == "low" else "at least"
        text = f"{word} {sign} {wording.volts_words(level)}"
        if current is not None:
            text += f" at {wording.amps_words(current)}"
        if margin is not None:
            text += f", margin {wording.volts_words(margin)}"
        parts.append(text)
    by_pull = wording.BY_PULL if figures.high_by_pull else ""
    return f"{figures.driver}: {'; '.join(parts)}{by_pull}"


def mating_testimonies(matings: tuple[Mating, ...]) -> tuple[Testimony, ...]:
    """What the board's mating with another connector comes to, as notes: the ways, then the right way's findings."""
    said: list[Testimony] = []
    for mating in matings:
        said += _mating(mating)
    return tuple(said)


def _mating(mating: Mating) -> Iterator[Testimony]:
    names = f"{mating.one.label} and {mating.other.label} ({mating.other.title})"
    known = "" if mating.right_known else wording.SUMMARY_UNKNOWN_RIGHT
    note = "; ".join(text for text in (known, *mating.missing) if text)
    strength = Strength.COMPUTED if mating.right_known and mating.right.harm is not Harm.UNKNOWN else Strength.GUESSED
    yield _note(f"putting together {names}", describe_way(mating, mating.right), mating.origins, strength, note)
    if len(mating.ways) > 1:
        words = describe_wrong_ways(mating)
        yield _note(f"putting together {names} wrongly", words, mating.origins, Strength.COMPUTED, "")
    told: dict[str, list[Finding]] = {}
    for finding in mating.right.findings:
        if finding.severity in TOLD and finding.pins:
            told.setdefault(describe_pins(mating, finding.pins), []).append(finding)
    for where, findings in told.items():
        words = "; ".join(f"{one.severity.value}: {one.words}" for one in findings)
        reading = "; ".join(one.reading for one in findings if one.reading)
        origins = tuple(dict.fromkeys(origin for one in findings for origin in one.origins))
        unsure = any(one.severity in (Severity.UNSURE, Severity.OPEN) for one in findings)
        strength = Strength.GUESSED if unsure else Strength.COMPUTED
        yield _note(f"{where} ({mating.other.title})", words, origins or mating.origins, strength, reading)


def _note(what: str, words: str, origins: tuple[Origin, ...], strength: Strength, note: str) -> Testimony:
    subject = Subject(SubjectKind.NOTE, (what,))
    return Testimony(subject, Words(words), Witness.BOARD, origins, wording.METHOD, strength, note)


def mating_to_plain(mating: Mating) -> dict[str, Any]:
    """The mating as plain data: ways in order, each with verdicts, findings (danger first), meetings and levels.

    Voltages are in volts and currents in milliamperes, as decimal text.
    """
    return {
        "name": mating.name,
        "one": {"connector": mating.one.name, "board": mating.one.title},
        "other": {"connector": mating.other.name, "board": mating.other.title},
        "cable": mating.cable,
        "right_way_known": mating.right_known,
        "verdict": mating.harm.value,
        "ways": [_way_to_plain(way) for way in mating.ways],
        "missing": list(mating.missing),
        "bounds": list(mating.bounds),
        "cautions": list(wording.CAUTIONS),
        "origins": [str(origin) for origin in mating.origins],
    }


def _way_to_plain(way: Way) -> dict[str, Any]:
    return {
        "kind": way.kind.value,
        "names": list(way.names),
        "verdict": way.harm.value,
        "works": None if way.harm is Harm.UNSAFE else way.works.value,
        "findings": [
            {
                "severity": one.severity.value,
                "pins": [list(pair) for pair in one.pins],
                "words": one.words,
                "reading": one.reading or None,
                "origins": [str(origin) for origin in one.origins],
            }
            for one in way.findings
        ],
        "pins": [
            {"one": one, "other": other, "worst": worst.value if worst is not None else None}
            for one, other, worst in way.meetings
        ],
        "levels": [
            {
                "pins": [list(pair) for pair in pins],
                "driver": levels.driver,
                "low_volts": _thousandth(levels.low),
                "low_milliamperes": _thousandth(levels.low_current),
                "low_margin_volts": _thousandth(levels.low_margin),
                "high_volts": _thousandth(levels.high),
                "high_milliamperes": _thousandth(levels.high_current),
                "high_margin_volts": _thousandth(levels.high_margin),
                "high_by_pull_up": levels.high_by_pull,
            }
            for pins, levels in way.figures
        ],
    }


def _thousandth(value: Fraction | None) -> str | None:
    """A thousandth of the value as decimal text with three digits."""
    if value is None:
        return None
    whole = round(value)
    return f"{'-' if whole < 0 else ''}{abs(whole) // 1000}.{abs(whole) % 1000:03d}"

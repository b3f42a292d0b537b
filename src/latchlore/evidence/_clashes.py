"""What in a row cannot be true together, and which statements, withdrawn, would end it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import product
from typing import TYPE_CHECKING

from latchlore.base import (
    ActiveLevel,
    AddressSet,
    BitKind,
    BitLevel,
    BitSense,
    Statement,
    StatementKind,
    Strength,
    SubjectKind,
    Testimony,
    Witness,
)
from latchlore.evidence import wording
from latchlore.evidence._signals import signal_name

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from latchlore.base import Subject

Choice = frozenset[str]
"""Statements by their names; withdrawn together they end what they are listed for."""

MAX_WITHDRAWN = 4
"""Contradictions that need more withdrawals than this show no repairs: the study is wrong as a whole."""

MAX_CHOICES = 4000
"""So many sets are looked at for one row; beyond, the later ones in the order of the statements are left out."""


class About(StrEnum):
    """What a contradiction is about: it says what a wrong statement would mean."""

    SENSE = "sense"
    END = "end"
    ADDRESSES = "addresses"
    LEVEL = "level"
    ORDER = "order"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Clash:
    """Testimonies of a row, by index, that cannot be true together, and the sentence that says why."""

    members: frozenset[int]
    words: str
    about: About


def about_of(subject: Subject, first: Testimony, second: Testimony) -> About:
    """What a contradiction of two testimonies is about."""
    values = (first.value, second.value)
    if subject.kind is SubjectKind.REGISTER:
        return About.ADDRESSES
    if subject.kind is SubjectKind.ORDER:
        return About.ORDER
    ends = [value for value in values if isinstance(value, BitSense)]
    if len(ends) == 2 and _opposite(*ends):
        return About.SENSE
    if len(ends) == 1 and ends[0].kind in (BitKind.TIED, BitKind.UNCONNECTED):
        return About.END
    if all(isinstance(value, BitLevel | ActiveLevel) for value in values):
        return About.LEVEL
    return About.OTHER


def _opposite(first: BitSense, second: BitSense) -> bool:
    """Whether two follow a bit to one signal, the one straight and the other inverted."""
    both_follow = first.kind is second.kind is BitKind.FOLLOWS
    return (
        both_follow
        and signal_name(first.source) == signal_name(second.source)
        and first.inverted is not second.inverted
    )


def statements_of(one: Testimony) -> tuple[tuple[Statement, ...], ...]:
    """The sets of statements with which a testimony falls; its first origin alone where it names none."""
    if one.falls_with:
        return one.falls_with
    origin = one.origins[0]
    what = str(origin).removeprefix(origin.file).strip(": ")
    kind = StatementKind.ROW if one.witness is Witness.DOCUMENTS else StatementKind.FILE
    doubted = one.strength is Strength.GUESSED
    return ((Statement(origin.file, what, kind, wording.source_words(one), origin, "", doubted),),)


def choices_of(clash: Clash, said: Sequence[Testimony]) -> list[Choice]:
    """The least sets of statements that end one contradiction."""
    if clash.about is About.ADDRESSES:
        board, other = sorted(clash.members, key=lambda k: said[k].witness is not Witness.BOARD)
        if said[board].witness is Witness.BOARD and _one_width(said[board], said[other]):
            return least([*_reaching(said[board], said[other]), *_not_named(said[board], said[other])])
    return least(
        frozenset(map(str, alternative)) for k in sorted(clash.members) for alternative in statements_of(said[k])
    )


def _one_width(board: Testimony, other: Testimony) -> bool:
    """Whether both speak of as many address lines."""
    return (
        isinstance(board.value, AddressSet)
        and isinstance(other.value, AddressSet)
        and board.value.width == other.value.width
    )


def _surplus(board: Testimony, other: Testimony) -> list[int]:
    """The addresses that are named and not answered, at most so many as can be told apart."""
    assert isinstance(board.value, AddressSet)
    assert isinstance(other.value, AddressSet)
    return sorted((other.value - board.value).iter_addresses())[:MAX_CHOICES]


def _reaching(board: Testimony, other: Testimony) -> list[Choice]:
    """Address lines that, if they were not where they were traced, could bring every surplus address to the register.

    Every way is kept in which each of the addresses comes to one of the patterns.
    """
    assert isinstance(board.value, AddressSet)
    by_tag = {one[0].tag: str(one[0]) for one in statements_of(board) if len(one) == 1 and one[0].tag}
    if not by_tag:
        return [frozenset(map(str, one)) for one in statements_of(board)]
    ways: set[frozenset[int]] = {frozenset()}
    for address in _surplus(board, other):
        differing = {
            frozenset(k for k in range(board.value.width) if (address ^ value) & care & 1 << k)
            for care, value in board.value.cubes
        }
        ways = {way | more for way in ways for more in differing if len(way | more) <= MAX_WITHDRAWN}
        if len(ways) > MAX_CHOICES:
            return []
    return [
        frozenset(by_tag[f"a{k}"] for k in way)
        for way in sorted(ways, key=sorted)
        if way and all(f"a{k}" in by_tag for k in way)
    ]


def _not_named(board: Testimony, other: Testimony) -> list[Choice]:
    """What must go so that no surplus address is named any more."""
    alternatives = statements_of(other)
    if not any(one[0].tag for one in alternatives):
        return [frozenset(map(str, one)) for one in alternatives]
    found: list[Choice] = [frozenset()]
    assert isinstance(other.value, AddressSet)
    for address in _surplus(board, other):
        own = [frozenset(map(str, one)) for one in alternatives if int(one[0].tag, 16) == address]
        found = least(one | more for one, more in product(found, own))[:MAX_CHOICES]
    return [one for one in found if one]


def least(choices: Iterable[Choice]) -> list[Choice]:
    """Those that hold no other, each once, smaller ones first, else in their order."""
    kept: list[Choice] = []
    for one in sorted(dict.fromkeys(choices), key=len):
        if not any(other <= one for other in kept):
            kept.append(one)
    return kept


def together(each: Sequence[Sequence[Choice]], most: int = MAX_WITHDRAWN) -> list[Choice]:
    """The least sets that end every contradiction, given the sets that end each; at most `most` statements."""
    found: list[Choice] = [frozenset()]
    for choices in each:
        joined = (one | more for one in found for more in choices)
        found = least(one for one in joined if len(one) <= most)[:MAX_CHOICES]
    return [one for one in found if one]

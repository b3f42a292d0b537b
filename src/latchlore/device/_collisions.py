"""Two rows that fit the same bytes: which look-alike digit would part them, and what speaks for it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from latchlore.device._lookalikes import looks_alike
from latchlore.device._patterns import Pattern, parse_pattern

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from latchlore.device._device import Command

HEX = "0123456789ABCDEF"
MAX_SHOWN = 3


class Parting(NamedTuple):
    """One hexadecimal digit of a row read as its double, after which the row collides with none.

    `agrees`: the row's code in decimal numbers or key names says the same.
    """

    command: Command
    text: str
    old: str
    new: str
    agrees: bool

    def __str__(self) -> str:
        why = f"{self.new} for {self.old}" + (", as its code in the other notations says" if self.agrees else "")
        return f"{self.text!r} in line {self.command.citation.origin.number} ({why})"


def find_partings(
    pair: tuple[Command, Command], rows: Sequence[Command], collide: Callable[[Command, Pattern, Command], bool]
) -> tuple[Parting, ...]:
    """Edits of one look-alike digit of either row that end its collisions, those with other evidence first.

    `collide` says whether a row with another pattern collides with a further row.
    """
    found = [
        Parting(row, text, old, new, _says_so(row, pattern))
        for row in pair
        for text, old, new, pattern in _readings(row.pattern)
        if not any(collide(row, pattern, other) for other in rows if other is not row)
    ]
    return tuple(sorted(found, key=lambda one: (not one.agrees, one.command.index, one.text)))


def _readings(pattern: Pattern) -> Iterator[tuple[str, str, str, Pattern]]:
    """The pattern with one digit of a plain byte read as another: text, old digit, new digit, pattern."""
    words = pattern.text.split()
    for index, word in enumerate(words):
        if re.fullmatch(r"[0-9A-F]{2}", word) is None:
            continue
        for place in (0, 1):
            for new in HEX:
                if looks_alike(word[place], new):
                    changed = word[:place] + new + word[place + 1 :]
                    text = " ".join([*words[:index], changed, *words[index + 1 :]])
                    yield text, word[place], new, parse_pattern(text)


def _says_so(row: Command, pattern: Pattern) -> bool:
    """Whether the row's code in another notation is the pattern's."""
    from latchlore.device._redundancy import code_notations

    told = [values for values in code_notations(row) if values]
    return any(values == pattern.fixed[: len(values)] and len(values) == len(pattern.fixed) for values in told)


def describe_partings(partings: Sequence[Parting]) -> str:
    """Words behind a collision's; empty where no one digit parts the rows."""
    if not partings:
        return ""
    shown = " or ".join(str(one) for one in partings[:MAX_SHOWN])
    more = len(partings) - MAX_SHOWN
    return f"; {shown}{f' or {more} more' if more > 0 else ''} would not"

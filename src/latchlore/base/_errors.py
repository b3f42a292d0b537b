"""The few errors of the house, told apart by what the reader must do."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from latchlore.base._origin import Origin


class StudyError(Exception):
    """Something about the study stops the work; the root of every error shown to the user."""


class BadInput(StudyError, ValueError):
    """A file does not follow its rules; someone must mend the file.

    `mistakes` holds a pair (origin, words) for every mistake found, in file order.  The text is one line a
    mistake: ``place: words``.
    """

    def __init__(self, origin: Origin, words: str, *more: tuple[Origin, str]) -> None:
        self.mistakes: tuple[tuple[Origin, str], ...] = ((origin, words), *more)
        super().__init__("\n".join(f"{place}: {text}" for place, text in self.mistakes))

    @classmethod
    def of_all(cls, mistakes: Iterable[tuple[Origin, str]]) -> BadInput:
        """One error for several mistakes.  Refuses an empty list."""
        first, *rest = mistakes
        return cls(first[0], first[1], *rest)


class UnknownName(StudyError, LookupError):
    """The request names something that is not there; someone must mend the request.

    `known` are the names that would have been understood.
    """

    def __init__(self, words: str, known: Iterable[str] = ()) -> None:
        self.known = tuple(known)
        hint = f"; known are {', '.join(repr(name) for name in self.known)}" if self.known else ""
        super().__init__(f"{words}{hint}")


class Contradiction(StudyError):
    """Two pieces of evidence cannot both be true; someone must look at both."""

    def __init__(self, claim: str, first: Origin, second: Origin) -> None:
        super().__init__(f"{first}: {claim}; but see {second}")
        self.claim, self.first, self.second = claim, first, second


class Unsupported(StudyError, NotImplementedError):
    """Real hardware or a real case that is not modelled; the text says what would settle it."""

    def __init__(self, origin: Origin, words: str) -> None:
        super().__init__(f"{origin}: {words}")
        self.origin, self.words = origin, words

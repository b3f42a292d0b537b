"""Subjects, and what a witness says about one."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

from latchlore.base._addresses import AddressSet
from latchlore.base._bytetree import ByteTree
from latchlore.base._orders import EventOrder
from latchlore.base._origin import Origin
from latchlore.base._senses import ActiveLevel, BitLevel, BitSense, BitUse
from latchlore.base._sequences import ByteSequence
from latchlore.base._spans import SpanLimit, SpanRange
from latchlore.base._statement import Statement


class Witness(StrEnum):
    """The four kinds of witness, in the order of the table's columns."""

    BOARD = "board"
    PROGRAM = "program"
    WIRE = "wire"
    DOCUMENTS = "documents"


class Strength(StrEnum):
    """How well a testimony is founded, strongest first."""

    MEASURED = "measured"
    COMPUTED = "computed"
    STATED = "stated"
    GUESSED = "guessed"


class SubjectKind(StrEnum):
    """What a subject is about.  The comment gives the key and the values that speak about it."""

    REGISTER = "register"  # (space, address "C800", "read" or "write"): AddressSet
    BIT = "bit"  # (space, address, "read" or "write", bit "7"): BitSense, BitUse, BitLevel, Words (a signal)
    SIGNAL = "signal"  # (name,): ActiveLevel
    PIN = "pin"  # (connector, pin): Words (the signal and its direction)
    WIDTH = "width"  # (what,): Words such as "8 bits"
    STRAP = "strap"  # (name,): Words, BitSense, BitUse, BitLevel
    SEQUENCE = "sequence"  # (name,): ByteSequence, ByteTree
    TIMING = "timing"  # (what,): SpanRange, SpanLimit
    ORDER = "order"  # (what,): EventOrder
    COMMAND = "command"  # (code in hex "1B 4B",): Words
    EMISSION = "emission"  # (what,): Emission
    NOTE = "note"  # (what,): Words


@dataclass(frozen=True, slots=True)
class Subject:
    """One thing that witnesses can speak about; equal subjects are weighed together."""

    kind: SubjectKind
    key: tuple[str, ...]

    def __str__(self) -> str:
        match self.kind, self.key:
            case SubjectKind.REGISTER, (space, address, direction):
                return f"{'port' if space == 'port' else 'register'} {address} ({direction})"
            case SubjectKind.BIT, (space, address, direction, bit):
                return f"{'port ' if space == 'port' else ''}{address} ({direction}) bit {bit}"
            case SubjectKind.PIN, (connector, pin):
                return f"{connector} pin {pin}"
            case SubjectKind.COMMAND, (code,):
                return f"code {code}"
            case (
                SubjectKind.WIDTH | SubjectKind.TIMING | SubjectKind.ORDER | SubjectKind.EMISSION | SubjectKind.NOTE,
                (what,),
            ):
                return what
            case _:
                return f"{self.kind.value} {' '.join(self.key)}"


@dataclass(frozen=True, slots=True)
class Words:
    """A value that is a statement in words; `text` is shown, `meaning` (lower case, folded) is compared.

    `effect`: the same in words that are one for one effect, where it is known; two that have one are compared by it.
    """

    text: str
    effect: str = ""

    @property
    def meaning(self) -> str:
        """What is compared: case and spacing do not matter."""
        return " ".join(self.text.casefold().split())

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True)
class Emission:
    """Whether something is ever sent.

    `happens` True: it may be sent (a program) or was sent (a wire, a document).  False: never, which a program may
    only say after an exhausted search; `bounds` then says what the search covered.  None: cannot be told, and
    `bounds` says why.
    """

    happens: bool | None
    bounds: tuple[str, ...] = ()

    def __str__(self) -> str:
        text = {True: "sent", False: "never sent", None: "cannot be told"}[self.happens]
        return f"{text} ({'; '.join(self.bounds)})" if self.bounds else text


Value: TypeAlias = (
    AddressSet
    | BitSense
    | BitUse
    | BitLevel
    | ActiveLevel
    | SpanRange
    | SpanLimit
    | ByteSequence
    | ByteTree
    | Words
    | Emission
    | EventOrder
)


@dataclass(frozen=True, slots=True)
class Testimony:
    """What one witness says about one subject.

    `origins`: the places it rests on, at least one, the most telling first.  `method`: how it was computed, a
    sentence.  `note`: further words for the reader, may be empty.  `falls_with`: sets of statements of the study; where
    all of one set are withdrawn, this is no longer said.  Empty where it falls with its first origin alone.  Refuses
    an empty `origins` or `method`.
    """

    __test__ = False  # the test runner takes the name for a test class

    subject: Subject
    value: Value
    witness: Witness
    origins: tuple[Origin, ...]
    method: str
    strength: Strength
    note: str = ""
    falls_with: tuple[tuple[Statement, ...], ...] = ()

    def __post_init__(self) -> None:
        if not self.origins:
            raise ValueError(f"testimony about {self.subject} needs an origin")
        if not self.method:
            raise ValueError(f"testimony about {self.subject} needs a method")

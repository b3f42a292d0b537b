"""What a net file says about connectors as things to be joined: faces, voltages, levels, matings."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fractions import Fraction

    from latchlore.base import Origin
    from latchlore.board._board import PinAt
    from latchlore.board._electrical import Electrical
    from latchlore.board._face import Face


class DriveKind(StrEnum):
    """How an output drives its line."""

    FIRM = "firm"  # always on, high or low
    THREE_STATE = "three-state"
    COLLECTOR = "collector"  # pulls low or lets go
    UNKNOWN = "unknown"


class Flow(StrEnum):
    """Whether a supply pin gives or takes."""

    FEEDS = "feeds"
    TAKES = "takes"
    UNKNOWN = ""


@dataclass(frozen=True, slots=True)
class Volts:
    """The voltage of a supply pin, or of the board's rail ``vcc`` (`place` None), in millivolts."""

    place: PinAt | None
    millivolts: int
    flow: Flow
    origin: Origin


@dataclass(frozen=True, slots=True)
class StatedLevels:
    """What stands behind a pin (or behind every pin of a connector, `pin` 0) where no part has been traced."""

    connector: str
    pin: int
    electrical: Electrical
    kind: DriveKind
    origin: Origin


@dataclass(frozen=True, slots=True)
class Mate:
    """Connector `own` of this file goes to connector `other` of the study's board.

    `cable`: None where they meet directly, else pairs (own pin, other's pin).
    """

    own: str
    other: str
    cable: tuple[tuple[int, int], ...] | None
    origin: Origin


@dataclass(frozen=True, slots=True)
class PinsFrom:
    """The pins of a connector stand in a document of the study, by its name."""

    connector: str
    document: str
    origin: Origin


@dataclass(frozen=True, slots=True)
class Bench:
    """All of it, in file order."""

    faces: tuple[Face, ...] = ()
    volts: tuple[Volts, ...] = ()
    levels: tuple[StatedLevels, ...] = ()
    mates: tuple[Mate, ...] = ()
    pins_from: tuple[PinsFrom, ...] = ()

    def face(self, connector: str) -> Face | None:
        """The layout of a connector, or None where it is not stated."""
        return next((face for face in self.faces if face.connector == connector), None)


def ohms_of(text: str) -> Fraction | None:
    """The value of a resistor as typed: ``4k7``, ``3.3k``, ``470``, ``470r``, ``1m``; None where it is no number.

    A decimal comma is read as a point; further words are left alone.
    """
    import re
    from fractions import Fraction

    words = text.lower().split()
    found = re.fullmatch(r"(\d+)(?:[.,](\d+))?([rkm]?)(\d*)(?:ohms?)?", words[0]) if words else None
    if found is None or (found[2] and found[4]):
        return None
    tail = found[2] or found[4]
    value = Fraction(int(found[1])) + (Fraction(int(tail), 10 ** len(tail)) if tail else 0)
    if found[4] and not found[3]:
        return None
    value *= {"": 1, "r": 1, "k": 1000, "m": 1_000_000}[found[3]]
    return value or None

"""The least that a file states: what can be doubted, and withdrawn, alone."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.base._origin import Origin


class StatementKind(StrEnum):
    """What is stated, in the order in which it is suspected first when statements contradict one another.

    The order is *common practice* at the bench: joints traced by hand are wrong more often than tables that were
    printed and proofread, those more often than single bits of a chip that was read by machine or than the type of a
    part; a joint on a bus is checked by everything else on the bus (and no plain gate can stand there unseen), and what
    is stated of a whole file by everything that rests on it.
    """

    JOINT = "joint"  # two pins were found joined
    OPEN = "open"  # a pin was found joined to nothing
    LEVEL = "level"  # the level of a pin that makes its name true
    POSITION = "position"  # of a strap
    ROW = "row"  # of a document
    NAME = "name"  # the signal of a connector pin
    RUN = "run"  # of a log
    INSTRUCTION = "instruction"  # of an image
    PART = "part"  # the type of a part
    BUS_JOINT = "bus joint"  # a joint on a net that several parts drive in turn
    LINE = "address line"  # an address line reaches the decode
    FILE = "file"  # a whole image, document or log


@dataclass(frozen=True, slots=True)
class PinsRead:
    """One reading of a meter where it was written down; `words`: its pins, such as ``u10.4 to u9.15``."""

    origin: Origin
    words: str

    def __str__(self) -> str:
        return f"{self.origin} ({self.words})"


@dataclass(frozen=True, slots=True)
class Statement:
    """One thing that a file states.

    `file` and `what` together name it in the study for good (`str`), wherever its line moves to; `what` is empty for
    the whole file.  `about` is what it tells in words, such as ``U9 pin 15 and U10 pin 4``.  `tag` is what it bears
    on, where a value has parts (an address, or an address line); empty where it bears on the whole.  `is_doubted`:
    somebody doubts it already.  `readings`: where it was concluded from readings of a meter, those that conclude it, in
    the order of their places; `origin` is the first of them then.
    """

    file: str
    what: str
    kind: StatementKind
    about: str
    origin: Origin
    tag: str = ""
    is_doubted: bool = False
    readings: tuple[PinsRead, ...] = ()

    def __str__(self) -> str:
        return f"{self.file}: {self.what}" if self.what else self.file

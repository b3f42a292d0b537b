"""Whether board, program, wire and documents tell the same story about the level of a status signal or a pulse.

Three statements meet on a SIGNAL subject: the board says whether the register bit is the pin or its opposite
(`BitSense`), the program at which value of the bit its polling loop goes on (`BitUse`), and a document or the connector
table which level of the pin makes the name true (`ActiveLevel`).  Any two fix the third.  Of a
bit that is written, the program says at which value it is pulsed; the signal is true during the pulse.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

from latchlore.base import ActiveLevel, BitKind, BitSense, BitUse
from latchlore.evidence import facts, wording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import Testimony


@dataclass(frozen=True, slots=True)
class Story:
    """Three testimonies by their index, and whether they fit."""

    board: int
    program: int
    level: int
    fits: bool
    words: str


def holds_back(signal: str) -> bool | None:
    """Whether a host waits while the signal is true (True) or until it is (False); None for a name not known."""
    bare = signal_name(signal).replace("-", " ")
    if bare in facts.HOLDS_WHILE_TRUE:
        return True
    return False if bare in facts.LETS_GO_WHEN_TRUE else None


def go_on_pin_level(sense: BitSense, use: BitUse) -> int | None:
    """The level of the pin at which the program goes on; None where the two do not say."""
    if sense.kind is not BitKind.FOLLOWS or use.goes_on_at is None:
        return None
    return use.goes_on_at ^ int(sense.inverted)


def iter_stories(testimonies: Sequence[Testimony]) -> list[Story]:
    """Every triple of board, program and stated level under one signal or one bit, in the order of the testimonies."""
    senses = [(k, one.value) for k, one in enumerate(testimonies) if isinstance(one.value, BitSense)]
    uses = [(k, one.value) for k, one in enumerate(testimonies) if isinstance(one.value, BitUse)]
    levels = [(k, one.value) for k, one in enumerate(testimonies) if isinstance(one.value, ActiveLevel)]
    stories = []
    for (b, sense), (p, use), (a, active) in product(senses, uses, levels):
        told = _waiting(sense, use, active) if use.pulsed_at is None else _pulsing(sense, use.pulsed_at, active)
        if told is not None:
            stories.append(Story(b, p, a, *told))
    return stories


def _waiting(sense: BitSense, use: BitUse, active: ActiveLevel) -> tuple[bool, str] | None:
    """Whether the level at which a polling loop goes on fits the level that is stated."""
    blocks, pin = holds_back(sense.source), go_on_pin_level(sense, use)
    if blocks is None or pin is None:
        return None
    fits = pin == (1 - active.level if blocks else active.level)
    name = signal_name(sense.source)
    return fits, wording.signal_story(name, str(sense), use.goes_on_at or 0, pin, active.level, fits=fits)


def _pulsing(sense: BitSense, pulsed_at: int, active: ActiveLevel) -> tuple[bool, str] | None:
    """Whether the level of the pin during the program's pulse is the one that makes the signal true."""
    if sense.kind is not BitKind.FOLLOWS:
        return None
    pin = pulsed_at ^ int(sense.inverted)
    fits = pin == active.level
    name = signal_name(sense.source)
    return fits, wording.pulse_story(name, str(sense), pulsed_at, pin, active.level, fits=fits)


def signal_name(name: str) -> str:
    """The name in upper case, without the marks that only tell the active level: ``-ACK`` and ``ack*`` are ``ACK``."""
    return " ".join(name.upper().replace("_", " ").split()).strip("/~*#- ")

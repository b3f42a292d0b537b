"""How the switches of the device under study stand, and which rows of a document hold under that."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import Statement, StatementKind
from latchlore.device._wording import describe_condition, switch_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.base import Origin
    from latchlore.device._device import Device


@dataclass(frozen=True, slots=True)
class StatedSwitch:
    """How a switch of the device under study was found set, and where that is written."""

    name: str
    value: str
    origin: Origin


@dataclass(frozen=True, slots=True)
class Condition:
    """Whether a row holds, in `words` why, and on which `statements` that rests.

    A row without a condition holds, and there are no words and no statements.
    """

    holds: bool
    words: str
    statements: tuple[Statement, ...] = ()


def condition_of(device: Device, when_switch: Mapping[str, str], stated: Sequence[StatedSwitch]) -> Condition:
    """Whether a row that needs these settings holds: by what is stated, else as the factory set the switch.

    Where neither is told, it does not count as holding.
    """
    found: list[Statement] = []
    holds = True
    words = []
    for name, value in when_switch.items():
        own = next((one for one in stated if one.name == name), None)
        switch = device.get_switch(name)
        if own is not None:
            found.append(_statement(own.origin.file, name, own.origin))
        else:
            found.append(_statement(device.file, name, switch.citation.origin))
        stands = switch.factory if own is None else own.value
        holds = holds and stands == value
        words.append(describe_condition(name, value, stands, "" if own is None else str(own.origin)))
    return Condition(holds, "; ".join(words), tuple(found))


def _statement(file: str, name: str, origin: Origin) -> Statement:
    about = switch_text(name)
    return Statement(file, about, StatementKind.POSITION, about, origin)

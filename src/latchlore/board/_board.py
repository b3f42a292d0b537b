"""What a net file says, as frozen values with their origins."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import UnknownName
from latchlore.board._bench import Bench

if TYPE_CHECKING:
    from latchlore.base import AddressSet, Origin, PinsRead
    from latchlore.board._markings import Marking
    from latchlore.board._parts import PartType
    from latchlore.board._readings import MeterReading


class PinAt(NamedTuple):
    """A pin of a part, connector or strap, by number from 1."""

    owner: str
    pin: int

    def __str__(self) -> str:
        return f"{self.owner}.{self.pin}"


EDGE_LETTERS = "abcdefhjklmnprstuvwxyz"
"""Letters of edge connectors: G, I, O and Q are left out (common practice)."""


class Direction(StrEnum):
    """Which way a connector pin works, seen from the board."""

    IN = "in"
    OUT = "out"
    BOTH = "both"
    GROUND = "ground"
    POWER = "power"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Part:
    """A part on the board: `marking` is its type as typed, `words` its place or value."""

    name: str
    type: PartType
    marking: str
    words: str
    origin: Origin


@dataclass(frozen=True, slots=True)
class ConnectorPin:
    """A connector pin with its signal; `active` is the level that makes the name true, None where not known."""

    number: int
    signal: str
    direction: Direction
    active: int | None
    origin: Origin


@dataclass(frozen=True, slots=True)
class Connector:
    """A connector of so many pins; `is_host`: the computer's side.  `pins` by number, only those described.

    `lettered`: the pin that is called A, where one side of an edge carries letters; 0 where none does.
    """

    name: str
    size: int
    is_host: bool
    words: str
    pins: tuple[ConnectorPin, ...]
    origin: Origin
    lettered: int = 0

    def pin_text(self, number: int) -> str:
        """How a pin is called: its letter where it has one, else its number."""
        index = number - self.lettered
        return EDGE_LETTERS[index].upper() if self.lettered and 0 <= index < len(EDGE_LETTERS) else str(number)


@dataclass(frozen=True, slots=True)
class Strap:
    """A strap or switch of 2 or 3 pins; `joined` is the pair of pins joined, () where open, None where not known."""

    name: str
    size: int
    joined: tuple[int, ...] | None
    origin: Origin


@dataclass(frozen=True, slots=True)
class Net:
    """Pins joined together."""

    name: str
    pins: tuple[PinAt, ...]
    origin: Origin


@dataclass(frozen=True, slots=True)
class FoundJoint:
    """Two pins of one net, where that first stands, and the readings that join them: none where a file states it."""

    first: PinAt
    second: PinAt
    origin: Origin
    readings: tuple[PinsRead, ...] = ()


@dataclass(frozen=True, slots=True)
class Pull:
    """A resistor to a supply on a net; `level` 1 up, 0 down; `words` its value as typed, may be empty."""

    net: str
    level: int
    words: str
    origin: Origin


@dataclass(frozen=True, slots=True)
class Doubt:
    """A note of doubt about a place."""

    place: str
    words: str
    origin: Origin


@dataclass(frozen=True, slots=True)
class Card:
    """Another card that the file states: where it answers, by space and directions (read, write).

    `drives`: the host's lines that it drives as well, such as an interrupt request.
    """

    name: str
    space: str
    directions: tuple[str, ...]
    addresses: AddressSet
    origin: Origin
    drives: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Cycle:
    """One kind of bus access.

    `lines` address lines count; addresses have `width` lines, those above `lines` fixed by `base`.  `controls`:
    (signal, level at rest, level during the access).
    """

    space: str
    direction: str
    lines: int
    width: int
    base: int
    controls: tuple[tuple[str, int, int], ...]
    origin: Origin


@dataclass(frozen=True, slots=True)
class Board:
    """A board as traced.  `nets` in file order, ties and host lines merged in; `not_traced` holds the pins of
    which nothing is said, `open_pins` those seen to be connected to nothing.  `bench`: what is said of connectors as
    things to be joined.  `readings`: those that completed the nets, and `joints` what they and the net file join, both
    empty where the net file alone made the board.
    """

    file: str
    title: str
    cycles: tuple[Cycle, ...]
    parts: tuple[Part, ...]
    connectors: tuple[Connector, ...]
    straps: tuple[Strap, ...]
    nets: tuple[Net, ...]
    pulls: tuple[Pull, ...]
    doubts: tuple[Doubt, ...]
    open_pins: frozenset[PinAt]
    not_traced: frozenset[PinAt]
    origin: Origin
    bench: Bench = field(default_factory=Bench)
    cards: tuple[Card, ...] = ()
    markings: tuple[tuple[str, Marking], ...] = ()
    readings: tuple[MeterReading, ...] = ()
    joints: tuple[FoundJoint, ...] = ()
    _net_at: dict[PinAt, str] = field(default_factory=dict, compare=False, repr=False)

    def part(self, name: str) -> Part:
        """The part of that name."""
        for part in self.parts:
            if part.name == name:
                return part
        raise UnknownName(f"the board has no part {name!r}", [part.name for part in self.parts])

    def connector(self, name: str) -> Connector:
        """The connector of that name."""
        for plug in self.connectors:
            if plug.name == name:
                return plug
        raise UnknownName(f"the board has no connector {name!r}", [plug.name for plug in self.connectors])

    def net(self, name: str) -> Net:
        """The net of that name."""
        for net in self.nets:
            if net.name == name:
                return net
        raise UnknownName(f"the board has no net {name!r}")

    def net_of(self, pin: PinAt) -> str | None:
        """The name of the net a pin stands in, or None."""
        if not self._net_at:
            self._net_at.update((at, net.name) for net in self.nets for at in net.pins)
        return self._net_at.get(pin)

    def host_signals(self) -> frozenset[str]:
        """Signals on the host's connectors and of the stated cycles."""
        named = {pin.signal for plug in self.connectors if plug.is_host for pin in plug.pins}
        for cycle in self.cycles:
            named |= {signal for signal, _, _ in cycle.controls}
            named |= {f"a{k}" for k in range(cycle.lines)}
        if self.cycles:
            named |= {f"d{k}" for k in range(8)}
        return frozenset(named)

"""One side of a mating: what stands behind every pin of a connector, from the traced parts or from what is stated."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import Origin
from latchlore.board import matingwording as wording
from latchlore.board._bench import DriveKind, Flow, ohms_of
from latchlore.board._board import Direction, PinAt
from latchlore.board._electrical import electrical_of
from latchlore.board._levels import Levels
from latchlore.board._network import build_network
from latchlore.board._parts import Role
from latchlore.board.levelfacts import TTL_RAIL

if TYPE_CHECKING:
    from latchlore.board._board import Board, Connector, ConnectorPin, Part
    from latchlore.board._electrical import Electrical
    from latchlore.board._face import Face
    from latchlore.board._network import NetNode, Network


@dataclass(frozen=True, slots=True)
class Driver:
    """An output on a line; `ohms` of a resistor between, None where its value is not known."""

    at: str
    kind: DriveKind
    electrical: Electrical | None
    ohms: Fraction | None = Fraction(0)


@dataclass(frozen=True, slots=True)
class Load:
    """An input on a line."""

    at: str
    electrical: Electrical | None
    ohms: Fraction | None = Fraction(0)


@dataclass(frozen=True, slots=True)
class Pulled:
    """A resistor from a line to a voltage; `ohms` or `millivolts` None where not known."""

    at: str
    ohms: Fraction | None
    millivolts: int | None


class Rail(StrEnum):
    """What a line is joined to without anything between."""

    NONE = ""
    GROUND = "ground"
    SUPPLY = "supply"


class Unknown(NamedTuple):
    """Something of a line that is not known, and the reading that would tell.

    `pin`: the pin in words where nothing at all is known of it; such pins are told together.
    """

    words: str
    reading: str
    pin: str = ""


@dataclass(slots=True, eq=False)
class Line:
    """One net of one side."""

    key: str
    rail: Rail = Rail.NONE
    millivolts: int | None = None
    flow: Flow = Flow.UNKNOWN
    drivers: list[Driver] = field(default_factory=list)
    loads: list[Load] = field(default_factory=list)
    pulls: list[Pulled] = field(default_factory=list)
    unknown: list[Unknown] = field(default_factory=list)

    @property
    def ends(self) -> tuple[Driver | Load, ...]:
        """Its outputs, then its inputs."""
        return (*self.drivers, *self.loads)

    @property
    def is_bare(self) -> bool:
        """Whether nothing at all stands on it."""
        return not (self.rail or self.drivers or self.loads or self.pulls or self.unknown)


@dataclass(frozen=True, slots=True)
class Contact:
    """A pin of the connector.  `is_supply`: described as a supply pin, not only tied to the rail."""

    number: int
    signal: str
    direction: Direction | None
    active: int | None
    line: Line
    is_supply: bool
    origin: Origin

    @property
    def is_open(self) -> bool:
        """Whether nothing is behind it for sure."""
        return self.line.is_bare


@dataclass(frozen=True, slots=True)
class Side:
    """A connector with the contacts of all its pins, by number; `supply_mv` is the board's logic supply.

    `label`: how it is called in sentences, its name unless the other side has one like it.
    """

    title: str
    name: str
    label: str
    connector: Connector
    face: Face | None
    supply_mv: int
    supply_stated: bool
    contacts: dict[int, Contact]
    not_traced: int

    def pin(self, number: int) -> str:
        """A pin in sentences: ``j2.14``, ``far j1.C``."""
        return f"{self.label}.{self.connector.pin_text(number)}"


def look_at(board: Board, connector: str, prefix: str = "") -> Side:
    """What stands behind the pins of a connector.  Refuses a name the board does not have (`UnknownName`).

    `prefix` goes before the names of parts and connectors in sentences.
    """
    return _Looker(board, board.connector(connector), prefix).look()


def names_of(board: Board) -> frozenset[str]:
    """The names of everything that has pins."""
    parts, plugs = {part.name for part in board.parts}, {plug.name for plug in board.connectors}
    return frozenset(parts | plugs | {strap.name for strap in board.straps})


class _Looker:
    def __init__(self, board: Board, plug: Connector, prefix: str) -> None:
        self.board, self.plug, self.prefix = board, plug, prefix
        self.network: Network = build_network(board)
        self.parts: dict[str, Part] = {part.name: part for part in board.parts}
        self.lines: dict[int, Line] = {}
        self.volts = {one.place: one for one in board.bench.volts}
        rail = self.volts.get(None)
        self.supply_mv = rail.millivolts if rail is not None else TTL_RAIL
        self.levels = {one.pin: one for one in board.bench.levels if one.connector == plug.name}
        self.described = {pin.number: pin for pin in plug.pins}

    def look(self) -> Side:
        face = self.board.bench.face(self.plug.name)
        numbers = sorted(face.numbers) if face is not None else range(1, self.plug.size + 1)
        return Side(
            title=self.board.title or self.board.file,
            name=self.plug.name,
            label=f"{self.prefix}{self.plug.name}",
            connector=self.plug,
            face=face,
            supply_mv=self.supply_mv,
            supply_stated=None in self.volts,
            contacts={number: self._contact(number) for number in numbers},
            not_traced=sum(at.owner in self.parts for at in self.board.not_traced),
        )

    def _contact(self, number: int) -> Contact:
        pin = self.described.get(number)
        at = PinAt(self.plug.name, number)
        line = self._line(at, pin)
        is_supply = pin is not None and pin.direction is Direction.POWER
        if is_supply and not line.rail:
            line.rail, line.millivolts = Rail.SUPPLY, self._rail_volts(pin)
        if pin is not None and pin.direction is Direction.GROUND:
            line.rail, line.millivolts = Rail.GROUND, 0
        stated = self.volts.get(at)
        if stated is not None and line.rail is not Rail.GROUND:
            line.rail, line.millivolts, line.flow, is_supply = Rail.SUPPLY, stated.millivolts, stated.flow, True
        elif is_supply and None in self.volts and line.rail is Rail.SUPPLY:
            line.flow = self.volts[None].flow
        return Contact(
            number,
            pin.signal if pin is not None else "",
            pin.direction if pin is not None else None,
            pin.active if pin is not None else None,
            line,
            is_supply,
            pin.origin if pin is not None else self.plug.origin,
        )

    def _rail_volts(self, pin: ConnectorPin | None) -> int | None:
        """The board's supply for a pin called after it; other supplies are not known by themselves."""
        return self.supply_mv if pin is not None and pin.signal == "vcc" else None

    def _line(self, at: PinAt, pin: ConnectorPin | None) -> Line:
        index = self.network.index.get(at)
        if index is None or not self.network.nets[index].pins:
            line = Line(str(at))
        else:
            if index not in self.lines:
                self.lines[index] = self._net_line(index)
            line = self.lines[index]
        self._add_stated(at, pin, line)
        return line

    def _add_stated(self, at: PinAt, pin: ConnectorPin | None, line: Line) -> None:
        """What the pin's description adds where no part behind it has been traced."""
        if line.rail or (pin is not None and pin.direction in (Direction.GROUND, Direction.POWER, Direction.NONE)):
            return
        if at in self.board.open_pins:
            return
        if pin is None:
            if at in self.board.not_traced:
                told = self._told(at)
                line.unknown.append(Unknown(wording.NOT_TRACED.format(at=told), wording.READ_PIN.format(at=told), told))
            return
        known = self.levels.get(at.pin) or self.levels.get(0)
        electrical = known.electrical if known is not None else None
        if self._is_traced(at):
            return
        if pin.direction in (Direction.OUT, Direction.BOTH) and not line.drivers and not line.unknown:
            kind = known.kind if known is not None else DriveKind.UNKNOWN
            if pin.direction is Direction.BOTH and kind is DriveKind.FIRM:
                kind = DriveKind.THREE_STATE
            line.drivers.append(Driver(self._told(at), kind, electrical))
        if pin.direction in (Direction.IN, Direction.BOTH) and not line.loads and not line.unknown:
            line.loads.append(Load(self._told(at), electrical))

    def _is_traced(self, at: PinAt) -> bool:
        """Whether everything on the pin's net is known: all part pins of the board are, and some stand on it."""
        index = self.network.index.get(at)
        if not self.parts or index is None or any(one.owner in self.parts for one in self.board.not_traced):
            return False
        return any(one.owner in self.parts for one in self.network.nets[index].pins)

    def _told(self, at: PinAt) -> str:
        plug = next((one for one in self.board.connectors if one.name == at.owner), None)
        return f"{self.prefix}{at if plug is None else f'{at.owner}.{plug.pin_text(at.pin)}'}"

    # --- traced nets ---

    def _net_line(self, index: int) -> Line:
        node = self.network.nets[index]
        line = Line(node.name)
        if node.rail is not None:
            self._set_rail(line, node)
            return line
        for strap, rail in node.straps:
            if strap.joined is None:
                told = f"{self.prefix}{strap.name}"
                line.unknown.append(Unknown(wording.STRAP.format(at=told), wording.READ_STRAP.format(at=told)))
            elif strap.joined and self._leads_to_rail(index, strap.name, strap.joined, rail):
                line.rail = Rail.SUPPLY if rail else Rail.GROUND
                line.millivolts = self.supply_mv if rail else 0
        for at in sorted(set(node.pins), key=lambda one: (one.owner, one.pin)):
            self._add_pin(line, index, at)
        for pull in node.pulls:
            line.pulls.append(Pulled(pull.words or "a pull", ohms_of(pull.words), self.supply_mv if pull.level else 0))
        self._add_other_plugs(line, node)
        return line

    def _set_rail(self, line: Line, node: NetNode) -> None:
        line.rail = Rail.SUPPLY if node.rail else Rail.GROUND
        line.millivolts = 0
        if node.rail:
            named = node.name == "vcc" or any(
                pin.signal == "vcc" for plug in self.board.connectors for pin in plug.pins
                if PinAt(plug.name, pin.number) in node.pins
            )  # fmt: skip
            line.millivolts = self.supply_mv if named else None
            for at in node.pins:
                if at in self.volts:
                    line.millivolts = self.volts[at].millivolts

    def _leads_to_rail(self, index: int, strap: str, joined: tuple[int, ...], rail: int) -> bool:
        """Whether a strap in its position joins the net to that rail; a strap of three pins may have both at hand."""
        ends = [self.network.index[PinAt(strap, k)] for k in joined]
        return index in ends and any(self.network.nets[end].rail == rail for end in ends)

    def _add_pin(self, line: Line, index: int, at: PinAt) -> None:
        part = self.parts.get(at.owner)
        if part is None:
            return
        role = part.type.pin(at.pin).role
        what = f"{self._told(at)} ({part.marking})"
        if role is Role.ANALOG and part.type.name in ("resistor", "inductor", "fuse"):
            self._add_through(line, index, part, at)
            return
        if role is Role.ANALOG and part.type.name == "capacitor":
            return  # it shapes edges, not levels
        electrical = electrical_of(part.marking, part.type, part.type.pin(at.pin).name)
        if role in (Role.UNKNOWN, Role.ANALOG):
            line.unknown.append(Unknown(wording.BEHIND.format(at=what), wording.READ_PART.format(at=part.name)))
        if role in (Role.INPUT, Role.BOTH):
            line.loads.append(Load(what, electrical))
        kind = self._drive_kind(index, at, role)
        if kind is not None:
            line.drivers.append(Driver(what, kind, electrical))

    def _drive_kind(self, index: int, at: PinAt, role: Role) -> DriveKind | None:
        """How the pin drives; None where it never does."""
        if role is Role.OUTPUT:
            return DriveKind.FIRM
        if role is Role.OPEN_COLLECTOR:
            return DriveKind.COLLECTOR
        if role not in (Role.THREE_STATE, Role.BOTH):
            return None
        found = set()
        for number, output in self.network.nets[index].drivers:
            node = self.network.blocks[number]
            if node.out_pin(output) != at or node.block.enable is None:
                continue
            levels = [self._tied(net) for net in node.inputs]
            on = node.block.enable(*levels)
            found.add(DriveKind.FIRM if on.sure1 else None if on.sure0 else DriveKind.THREE_STATE)
        if len(found) == 1:
            return found.pop()
        return DriveKind.THREE_STATE

    def _tied(self, net: int) -> Levels:
        rail = self.network.nets[net].rail
        return Levels(1, 1) if rail is None else Levels(0, 1) if rail else Levels(1, 0)

    def _add_through(self, line: Line, index: int, part: Part, at: PinAt) -> None:
        """What stands beyond a resistor that does not end at a rail."""
        beyond = self.network.index.get(PinAt(part.name, 3 - at.pin))
        if beyond is None or beyond == index:
            if PinAt(part.name, 3 - at.pin) in self.board.not_traced:
                line.unknown.append(
                    Unknown(wording.BEHIND.format(at=self._told(at)), wording.READ_PART.format(at=part.name))
                )
            return
        node = self.network.nets[beyond]
        if node.rail is not None:
            return  # a pull: the network keeps it
        ohms = ohms_of(part.words) if part.type.name == "resistor" else Fraction(0)
        far = Line(node.name)
        for pin in sorted(set(node.pins), key=lambda one: (one.owner, one.pin)):
            if pin.owner in self.parts and self.parts[pin.owner].type.name not in ("resistor", "inductor", "fuse"):
                self._add_pin(far, beyond, pin)
        line.drivers += [Driver(f"{d.at} through {part.name}", d.kind, d.electrical, ohms) for d in far.drivers]
        line.loads += [Load(f"{load.at} through {part.name}", load.electrical, ohms) for load in far.loads]
        line.unknown += far.unknown

    def _add_other_plugs(self, line: Line, node: NetNode) -> None:
        """Another connector on the same net may bring a driver or inputs of which this board knows nothing."""
        for plug, pin in node.plugs:
            if plug.name == self.plug.name or pin.direction is Direction.NONE:
                continue
            at = PinAt(plug.name, pin.number)
            stated = {one.pin: one for one in self.board.bench.levels if one.connector == plug.name}
            known = stated.get(at.pin) or stated.get(0)
            if pin.direction in (Direction.IN, Direction.BOTH) and not line.drivers:
                kind = known.kind if known is not None else DriveKind.UNKNOWN
                line.drivers.append(
                    Driver(f"{self._told(at)} ({pin.signal})", kind, known.electrical if known else None)
                )

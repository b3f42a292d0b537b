"""What each pin of a board is to its net, before anything is read: kinds, ports, rows, and likely heads."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from latchlore.board import tracefacts as facts
from latchlore.board._board import Direction, PinAt
from latchlore.board._parts import Role, plain_name
from latchlore.board.tracefacts import Kind

if TYPE_CHECKING:
    import numpy.typing as npt

    from latchlore.board._board import Board, Connector
    from latchlore.board._parts import PartType

    Matrix = npt.NDArray[np.float32]

KINDS = list(Kind)
_RANK = {kind: k for k, kind in enumerate(KINDS)}
RAILS = (Kind.GROUND, Kind.SUPPLY)
_HARD = (Kind.DECODED, Kind.GATED, Kind.STORED)
"""Outputs that head their net and are never joined to another of their like."""

_INDEXED = re.compile(r"^(\d?)([a-z]*)(\d+)$|^(\d)([a-z]+)$|^(q|)([a-h])$")


@lru_cache(maxsize=512)
def kinds_of_type(row: PartType) -> tuple[Kind, ...]:
    """The kind of every pin of a type, in pin order."""
    return tuple(_kind_of_pin(row, pin.number) for pin in row.pins)


_FIXED = {
    Role.POWER: Kind.SUPPLY,
    Role.GROUND: Kind.GROUND,
    Role.NONE: Kind.IDLE,
    Role.ANALOG: Kind.LEGS,
    Role.UNKNOWN: Kind.UNKNOWN,
    Role.BOTH: Kind.BOTH_WAYS,
    Role.THREE_STATE: Kind.DRIVER,
    Role.OPEN_COLLECTOR: Kind.OPEN_COLLECTOR,
}


def _kind_of_pin(row: PartType, number: int) -> Kind:
    pin = row.pin(number)
    if pin.role in _FIXED:
        return _FIXED[pin.role]
    if pin.role is Role.OUTPUT:
        if any(block.states for block in row.blocks if number in block.outputs):
            return Kind.STORED
        return Kind.DECODED if "decoder" in row.title else Kind.GATED
    return _kind_of_input(row, number, plain_name(pin.name))


def _kind_of_input(row: PartType, number: int, name: str) -> Kind:
    readers = [block for block in row.blocks if number in block.inputs]
    takes = [(b, c) for b in readers for c in b.captures]
    if any(number == b.inputs[c.clock] for b, c in takes) or "clk" in name or name in ("cp", "clka", "clkb"):
        return Kind.CLOCK
    if any(number == b.inputs[c.data] for b, c in takes):
        return Kind.DATA_IN
    if re.search(r"clr|pre|load|reset", name):
        return Kind.CLEAR
    if "comparator" in row.title and not re.fullmatch(r"g|.*in", name):
        return Kind.COMPARED
    if re.fullmatch(r"\d?g\d?[ab]?|g[a-z]*|oc|oe|ei|\d?c|en[pt]|cten|e", name) and (
        len(readers) > 1 or "decoder" in row.title or any(b.enable for b in readers) or "multiplexer" in row.title
    ):
        return Kind.ENABLE
    if any(word in row.title for word in ("decoder", "multiplexer")):
        return Kind.SELECT if re.fullmatch(r"\d?[abcd]|ab|s\d?", name) and "2 to 1" not in row.title else Kind.DATA_IN
    if any(block.drive is Role.THREE_STATE for block in readers):
        return Kind.DRIVER_IN
    return Kind.GATE_IN


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What is known of a board before tracing; arrays by pin index.

    `pins` in order of heads (kinds first); `rows` are the sides to sweep along, as (owner, row word, pin indices),
    `beside` the pins next to each in its row.
    `port` is a number for pins that form a bus (-1: none) with `place` their index in it; `in_port` the same as 0
    and 1 for every port.  `hard` are outputs that bear no second one, `anchor` the first pin of each rail, `spends`
    outputs that usually drive few pins, `wants` inputs that want a driver, `learns` pins that show what such pins are
    joined to on this board.
    `kind_table[k, h]` is the share of nets of a pin of kind k headed by kind h, `table` the same for each pin,
    `alone` the share of nets that the pin heads itself.  `pull[x, y]` is how much likelier y heads x by its place.
    """

    pins: tuple[PinAt, ...]
    index: dict[PinAt, int]
    kinds: tuple[Kind, ...]
    kind_index: npt.NDArray[np.int64]
    hard: npt.NDArray[np.bool_]
    is_rail: npt.NDArray[np.bool_]
    anchor: npt.NDArray[np.bool_]
    spends: npt.NDArray[np.bool_]
    wants: npt.NDArray[np.bool_]
    learns: Matrix
    port: npt.NDArray[np.int64]
    place: npt.NDArray[np.int64]
    in_port: Matrix
    same_kind: Matrix
    rows: tuple[tuple[str, str, tuple[int, ...]], ...]
    beside: tuple[frozenset[int], ...]
    kind_table: Matrix
    table: Matrix
    alone: Matrix
    pull: Matrix


def survey(board: Board) -> Ground:
    """Kinds, ports, rows and shares of heads of a board's pins."""
    told = _kinds_of_board(board)
    pins = tuple(sorted(told, key=lambda at: (_RANK[told[at]], _natural(at.owner), at.pin)))
    kinds = tuple(told[at] for at in pins)
    index = {at: k for k, at in enumerate(pins)}
    port, place = _ports(board, pins)
    in_port = np.zeros((len(pins), max(int(port.max(initial=-1)) + 1, 1)), dtype=np.float32)
    in_port[np.flatnonzero(port >= 0), port[port >= 0]] = 1
    kind_index = np.array([_RANK[kind] for kind in kinds], dtype=np.int64)
    same_kind = np.zeros((len(pins), len(KINDS)), dtype=np.float32)
    same_kind[np.arange(len(pins)), kind_index] = 1
    kind_table, alone = _tables()
    rows = _rows(board, index)
    anchors = [[k for k, kind in enumerate(kinds) if kind is rail][:1] for rail in RAILS]
    anchor = np.zeros(len(pins), dtype=np.bool_)
    anchor[[k for own in anchors for k in own]] = True
    return Ground(
        pins,
        index,
        kinds,
        kind_index,
        np.array([kind in _HARD for kind in kinds], dtype=np.bool_),
        np.array([kind in RAILS for kind in kinds], dtype=np.bool_),
        anchor,
        np.array([kind in facts.SPENDS for kind in kinds], dtype=np.bool_),
        np.array([kind in facts.INPUTS for kind in kinds], dtype=np.bool_),
        np.array([kind not in _HARD and kind not in RAILS for kind in kinds], dtype=np.float32),
        port,
        place,
        in_port,
        same_kind,
        rows,
        _beside(rows, len(pins)),
        kind_table,
        kind_table[kind_index],
        alone[kind_index][:, None],
        _pull(board, pins, kinds, port, place),
    )


def _tables() -> tuple[Matrix, Matrix]:
    """`facts.COMPANY` as an array with a floor for every pair that a trade's board may show, and the shares alone."""
    table = np.zeros((len(KINDS), len(KINDS)), dtype=np.float32)
    alone = np.zeros(len(KINDS), dtype=np.float32)
    for kind in KINDS:
        row = facts.COMPANY.get(kind, {})
        is_input = kind in facts.INPUTS
        if kind not in _HARD and kind not in RAILS:
            for head in KINDS[: _RANK[kind] + 1]:
                table[_RANK[kind], _RANK[head]] = facts.SELDOM if head in facts.DRIVES and is_input else facts.STRAY
        for head, share in row.items():
            table[_RANK[kind], _RANK[head]] = max(share, table[_RANK[kind], _RANK[head]])
        alone[_RANK[kind]] = facts.UNDRIVEN if is_input else max(1 - sum(row.values()), facts.UNDRIVEN)
    return table, alone


def _natural(name: str) -> tuple[str, int, str]:
    head = name.rstrip("0123456789")
    return (head, int(name[len(head) :] or 0), name)


def _kinds_of_board(board: Board) -> dict[PinAt, Kind]:
    told: dict[PinAt, Kind] = {}
    for part in board.parts:
        for pin, kind in zip(part.type.pins, kinds_of_type(part.type), strict=True):
            told[PinAt(part.name, pin.number)] = kind
    for plug in board.connectors:
        told.update(_kinds_of_plug(plug))
    for strap in board.straps:
        told.update({PinAt(strap.name, k): Kind.STRAP for k in range(1, strap.size + 1)})
    return told


def _kinds_of_plug(plug: Connector) -> dict[PinAt, Kind]:
    described = {pin.number: pin for pin in plug.pins}
    told: dict[PinAt, Kind] = {}
    for number in range(1, plug.size + 1):
        pin = described.get(number)
        kind = Kind.PLUG
        if pin is not None:
            if pin.direction is Direction.GROUND:
                kind = Kind.GROUND
            elif pin.direction is Direction.POWER:
                kind = Kind.SUPPLY if pin.signal == "vcc" else Kind.PLUG
            elif plug.is_host:
                kind = Kind.HOST_CONTROL
                if re.fullmatch(r"d\d+", pin.signal):
                    kind = Kind.HOST_DATA
                elif re.fullmatch(r"a\d+", pin.signal):
                    kind = Kind.HOST_ADDRESS
        elif plug.is_host:
            kind = Kind.IDLE if plug.pins else Kind.HOST_CONTROL
        told[PinAt(plug.name, number)] = kind
    return told


def _ports(board: Board, pins: tuple[PinAt, ...]) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Pins of one owner whose names differ in a number only, such as 1D to 8D or d0 to d7."""
    names: dict[PinAt, str] = {
        PinAt(p.name, pin.number): plain_name(pin.name) for p in board.parts for pin in p.type.pins
    }
    names |= {PinAt(c.name, pin.number): pin.signal for c in board.connectors for pin in c.pins}
    stems: dict[tuple[str, str], list[tuple[PinAt, int]]] = {}
    for at in pins:
        found = _INDEXED.match(names.get(at, ""))
        if found is None:
            continue
        if found[3] is not None:
            stem, place = f"{found[1]}{found[2]}", int(found[3])
        elif found[4] is not None:
            stem, place = f"#{found[5]}", int(found[4])
        else:
            stem, place = f"{found[6]}@", ord(found[7]) - ord("a")
        stems.setdefault((at.owner, stem), []).append((at, place))
    port = np.full(len(pins), -1, dtype=np.int64)
    places = np.zeros(len(pins), dtype=np.int64)
    index = {at: k for k, at in enumerate(pins)}
    for number, members in enumerate(m for m in stems.values() if len(m) > 1):
        for at, place in members:
            port[index[at]], places[index[at]] = number, place
    return port, places


def _rows(board: Board, index: dict[PinAt, int]) -> tuple[tuple[str, str, tuple[int, ...]], ...]:
    rows: list[tuple[str, str, tuple[int, ...]]] = []

    def add(owner: str, word: str, numbers: range) -> None:
        rows.append((owner, word, tuple(index[PinAt(owner, k)] for k in numbers)))

    for part in sorted(board.parts, key=lambda p: _natural(p.name)):
        size = len(part.type.pins)
        if size <= 4:
            add(part.name, f"1-{size}", range(1, size + 1))
        else:
            half = size // 2
            add(part.name, f"1-{half}", range(1, half + 1))
            add(part.name, f"{half + 1}-{size}", range(half + 1, size + 1))
    for plug in sorted(board.connectors, key=lambda p: _natural(p.name)):
        if plug.size <= 10:
            add(plug.name, "all", range(1, plug.size + 1))
        else:
            add(plug.name, "odd", range(1, plug.size + 1, 2))
            add(plug.name, "even", range(2, plug.size + 1, 2))
    for strap in sorted(board.straps, key=lambda p: _natural(p.name)):
        add(strap.name, "all", range(1, strap.size + 1))
    return tuple(rows)


_SPOT = re.compile(r"^([a-z])(\d{1,2})$")
_NO_BUS = frozenset(
    {
        Kind.GATED,
        Kind.DECODED,
        Kind.STORED,
        Kind.GATE_IN,
        Kind.CLOCK,
        Kind.CLEAR,
        Kind.ENABLE,
        Kind.SELECT,
        Kind.DATA_IN,
    }
)


def _distances(board: Board, pins: tuple[PinAt, ...]) -> npt.NDArray[np.float64]:
    """Steps on the board between the pins' parts where both have a place such as d3; NaN elsewhere."""
    spots: dict[str, tuple[int, int]] = {}
    for part in board.parts:
        found = _SPOT.match(part.words.split(" ")[0].lower())
        if found is not None:
            spots[part.name] = (ord(found[1]), int(found[2]))
    xy = np.array([spots.get(at.owner, (np.nan, np.nan)) for at in pins], dtype=np.float64).reshape(len(pins), 2)
    return np.asarray(np.abs(xy[:, None, :] - xy[None, :, :]).sum(axis=2), dtype=np.float64)


def _own_section(board: Board, pins: tuple[PinAt, ...]) -> npt.NDArray[np.float64]:
    """An output seldom feeds an input of its own section."""
    factor = np.ones((len(pins), len(pins)))
    index = {at: k for k, at in enumerate(pins)}
    for part in board.parts:
        for block in part.type.blocks:
            ends = (
                [index[PinAt(part.name, k)] for k in block.inputs],
                [index[PinAt(part.name, k)] for k in block.outputs],
            )
            factor[np.ix_(*ends)] = facts.OWN_SECTION
    return factor


def _in_order(
    pins: tuple[PinAt, ...],
    kinds: tuple[Kind, ...],
    port: npt.NDArray[np.int64],
    place: npt.NDArray[np.int64],
) -> npt.NDArray[np.float64]:
    """The host's lines mostly go to a port's pins in their order, line 0 to the first."""
    rank = np.array([place[k] - place[port == port[k]].min() if port[k] >= 0 else -1 for k in range(len(pins))])
    host = np.array([kind in (Kind.HOST_DATA, Kind.HOST_ADDRESS) for kind in kinds])
    same = (rank[:, None] % 8 == rank[None, :] % 8) & (rank >= 0)[:, None] & host[None, :] & ~host[:, None]
    return np.where(same, facts.IN_ORDER, 1.0)


def _pull(
    board: Board,
    pins: tuple[PinAt, ...],
    kinds: tuple[Kind, ...],
    port: npt.NDArray[np.int64],
    place: npt.NDArray[np.int64],
) -> Matrix:
    """How much likelier a pin (column) heads another's net (row) by its place; 0 where it cannot."""
    count = len(pins)
    far = _distances(board, pins)
    loose = np.array([kind in _NO_BUS for kind in kinds])
    with np.errstate(invalid="ignore"):
        pull = facts.NEAR ** np.clip(1.0 - far / 2.0, -1.0, 1.0)
    pull = np.where(np.isnan(pull) | ~(loose[:, None] & loose[None, :]), 1.0, pull)
    pull = pull * _own_section(board, pins)
    pull = pull * _in_order(pins, kinds, port, place)
    return np.tril(pull, -1).astype(np.float32).reshape(count, count)  # a head stands before the pins it heads


def _beside(rows: tuple[tuple[str, str, tuple[int, ...]], ...], count: int) -> tuple[frozenset[int], ...]:
    found: list[set[int]] = [set() for _ in range(count)]
    for _, _, pins in rows:
        for one, other in pairwise(pins):
            found[one].add(other)
            found[other].add(one)
    return tuple(frozenset(own) for own in found)

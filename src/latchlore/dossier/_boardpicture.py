"""The board as chips with their pins, where choosing a net lights all of it.

Without a script: every pin leads to its net, and the net's part of the picture shows while it is the page's target.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.board import Direction, PinAt
from latchlore.dossier._svg import Drawing, fold

if TYPE_CHECKING:
    from latchlore.board import Board, Connector, Net, Part

WIDTH = 960
COLUMNS = 3
COLUMN = WIDTH / COLUMNS
PITCH = 17
BODY = 104
WIDE_BODY = 148
"""Width of a chip, and of a connector, whose names are words."""

STUB = 12
TOP = 30
MIDDLE = 26
"""Room above a chip for its name, and between two rows of chips."""

RAILS = ("gnd", "vcc")
MAX_LINES = 40
"""A net of more pins, and the supplies, light their pins without lines between."""


class Corner(NamedTuple):
    """Where a pin is drawn: the point at the end of its stub, and whether it stands on the left side."""

    x: float
    y: float
    is_left: bool


class _Thing(NamedTuple):
    """A part, connector or strap: its two columns of pins from the top, and the words inside."""

    name: str
    words: str
    left: tuple[int, ...]
    right: tuple[int, ...]
    pin_names: dict[int, str]
    kind: str
    supplies: frozenset[int] = frozenset()
    plug: Connector | None = None

    def is_supply(self, number: int) -> bool:
        """Whether the pin is stated to be ground or a supply."""
        return number in self.supplies

    def pin_text(self, number: int) -> str:
        """The pin's letter where it has one, else its number."""
        return str(number) if self.plug is None else self.plug.pin_text(number)

    @property
    def rows(self) -> int:
        return max(len(self.left), len(self.right))

    @property
    def body(self) -> int:
        return WIDE_BODY if self.kind == "plug" else BODY


def net_anchors(board: Board, prefix: str = "net") -> dict[str, str]:
    """Net → its anchor: its name where it is made of plain letters and digits only once, else its number."""
    anchors: dict[str, str] = {}
    taken: set[str] = set()
    for k, net in enumerate(board.nets, 1):
        plain = "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in net.name)
        anchor = f"{prefix}-{plain}" if plain.strip("-") else f"{prefix}-{k}"
        if anchor in taken:
            anchor = f"{anchor}-{k}"
        taken.add(anchor)
        anchors[net.name] = anchor
    return anchors


def draw_board(board: Board, prefix: str = "net") -> str:
    """Every part, connector and strap with its pins and the nets they stand in; empty where there is no part.

    Chips stand with pin 1 at the upper left as seen from above, whatever way they lie on the board.  `prefix` begins
    the anchors of the nets.
    """
    if not board.parts:
        return ""
    things = _things(board)
    drawing = Drawing(WIDTH, "The board: chips with their pins; choose a pin to light its net")
    anchors = net_anchors(board, prefix)
    corners: dict[PinAt, Corner] = {}
    y = float(TOP)
    for start in range(0, len(things), COLUMNS):
        row = things[start : start + COLUMNS]
        for k, thing in enumerate(row):
            _draw_thing(drawing, board, thing, COLUMN * k, y, anchors, corners)
        y += max(thing.rows for thing in row) * PITCH + MIDDLE + TOP
    for net in board.nets:
        _draw_net(drawing, net, anchors[net.name], corners, y)
    return str(drawing)


def _things(board: Board) -> list[_Thing]:
    things = [_connector(board, plug) for plug in board.connectors]
    things += [_part(part) for part in board.parts if len(part.type.pins) > 3]
    small = [_part(part) for part in board.parts if len(part.type.pins) <= 3]
    straps = [_Thing(strap.name, "strap", (1,), tuple(range(2, strap.size + 1)), {}, "strap") for strap in board.straps]
    return [*things, *small, *straps]


def _part(part: Part) -> _Thing:
    size = len(part.type.pins)
    above = (size + 1) // 2
    names = {pin.number: pin.name for pin in part.type.pins if pin.name != str(pin.number)}
    words = " ".join(text for text in (part.marking, part.words) if text)
    return _Thing(
        part.name, words, tuple(range(1, above + 1)), tuple(reversed(range(above + 1, size + 1))), names, "chip"
    )


def _connector(board: Board, plug: Connector) -> _Thing:
    """A connector: its rows where the layout is stated, else one half beside the other; pins not used are left out."""
    names = {pin.number: pin.signal for pin in plug.pins}
    used = set(names) | {at.pin for net in board.nets for at in net.pins if at.owner == plug.name}
    face = board.bench.face(plug.name)
    if face is not None and len(face.rows) == 2:
        left, right = ([n for n in row if n in used] for row in face.rows)
    else:
        numbers = sorted(used)
        half = (len(numbers) + 1) // 2
        left, right = numbers[:half], numbers[half:]
    kind = "to the computer" if plug.is_host else "connector"
    words = f"{kind}, {plug.size} pins {plug.words}".rstrip()
    supplies = frozenset(p.number for p in plug.pins if p.direction in (Direction.GROUND, Direction.POWER))
    return _Thing(plug.name, words, tuple(left), tuple(right), names, "plug", supplies, plug)


def _draw_thing(
    drawing: Drawing,
    board: Board,
    thing: _Thing,
    x: float,
    y: float,
    anchors: dict[str, str],
    corners: dict[PinAt, Corner],
) -> None:
    left = x + (COLUMN - thing.body) / 2
    drawing.text(left, y - 7, thing.name, "small strong")
    (words, *_) = fold(thing.words, 32, 1)
    drawing.text(left + 8 * len(thing.name) + 4, y - 7, words, "tiny faint")
    drawing.box(left, y, thing.body, max(1, thing.rows) * PITCH + 6, f"chip {thing.kind}")
    for is_left, numbers in ((True, thing.left), (False, thing.right)):
        for k, number in enumerate(numbers):
            at = PinAt(thing.name, number)
            middle = y + 3 + PITCH * (k + 0.5)
            edge = left if is_left else left + thing.body
            outer = edge - STUB if is_left else edge + STUB
            corners[at] = Corner(outer, middle, is_left)
            _draw_pin(drawing, board, thing, at, edge, middle, is_left, anchors)


def _draw_pin(
    drawing: Drawing,
    board: Board,
    thing: _Thing,
    at: PinAt,
    edge: float,
    middle: float,
    is_left: bool,
    anchors: dict[str, str],
) -> None:
    net = board.net_of(at)
    # A supply pin of a chip, of which nothing needs to be said, is neither open nor untraced.
    state = "" if net is not None else " untraced" if at in board.not_traced else " loose"
    outer = edge - STUB if is_left else edge + STUB
    side = "start" if is_left else "end"
    inner = edge + 4 if is_left else edge - 4
    if net is not None:
        drawing.open_link(f"#{anchors[net]}", by_tab=False)
    drawing.box(min(edge, outer), middle - 5, STUB, 10, f"pin{state}", _pin_words(board, thing, at, net, state))
    drawing.text(inner, middle + 4, thing.pin_text(at.pin), "tiny code", side)
    name = thing.pin_names.get(at.pin, "")
    if name:
        (short, *_) = fold(name, 10 if thing.kind == "plug" else 7, 1)
        drawing.text(edge + 24 if is_left else edge - 24, middle + 4, short, "tiny faint", side)
    label = net if net is not None else {" untraced": "?", " loose": ""}[state]
    if label:
        (short, *_) = fold(label, 11 if thing.kind == "plug" else 13, 1)
        far = outer - 4 if is_left else outer + 4
        drawing.text(far, middle + 4, short, "tiny code", "end" if is_left else "start")
    if net is not None:
        drawing.close_link()


def _pin_words(board: Board, thing: _Thing, at: PinAt, net: str | None, state: str) -> str:
    name = thing.pin_names.get(at.pin, "")
    what = f"{at} {name}".rstrip()
    if net is not None:
        others = ", ".join(str(one) for one in board.net(net).pins if one != at)
        return f"{what}: net {net}{f', with {others}' if others else ''}"
    if state == " untraced":
        return f"{what}: not traced"
    return f"{what}: connected to nothing" if at in board.open_pins and not thing.is_supply(at.pin) else what


def _draw_net(drawing: Drawing, net: Net, anchor: str, corners: dict[PinAt, Corner], bottom: float) -> None:
    """The lit form of a net: lines between its pins, the pins themselves, and its name below the board."""
    points = [(at, corners[at]) for at in net.pins if at in corners]
    pins = ", ".join(str(at) for at in net.pins)
    drawing.open_group("net", anchor, f"net {net.name}: {pins}")
    if 1 < len(points) <= MAX_LINES and net.name not in RAILS:
        for (_, one), (_, other) in _spanning(points):
            drawing.line(one.x, one.y, other.x, other.y, "net-line")
    for _, corner in points:
        x = corner.x if corner.is_left else corner.x - STUB
        drawing.box(x - 1, corner.y - 6, STUB + 2, 12, "net-pin")
        drawing.dot(corner.x, corner.y, 3, "net-end")
    (words, *_) = fold(f"net {net.name}: {pins}", 150, 1)
    drawing.text(0, bottom - 8, words, "small strong")
    drawing.close_group()


def _spanning(points: list[tuple[PinAt, Corner]]) -> list[tuple[tuple[PinAt, Corner], tuple[PinAt, Corner]]]:
    """The shortest lines that join all points, from the first one outwards."""
    joined, left = [points[0]], points[1:]
    lines = []
    while left:
        one, other = min(
            ((a, b) for a in joined for b in left),
            key=lambda pair: ((pair[0][1].x - pair[1][1].x) ** 2 + (pair[0][1].y - pair[1][1].y) ** 2, pair[1][0]),
        )
        lines.append((one, other))
        joined.append(other)
        left.remove(other)
    return lines

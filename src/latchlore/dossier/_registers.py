"""Two pictures of where the registers lie: what each bit is, and which addresses reach which register."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import AddressSet, BitKind, BitSense, BitUse, SubjectKind, Witness
from latchlore.dossier._svg import Drawing, fold
from latchlore.evidence import Standing, address_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from latchlore.base import Subject
    from latchlore.evidence import Row, Table

    LinkTo = Callable[[Subject], str]

WIDTH = 960
NAME_COLUMN = 128
CELL_HEIGHT = 62
LANE_HEIGHT = 22
BINS = 512
"""The ribbon's resolution: a power of two, so that each bin is a whole block of addresses."""

BLOCK = 16
"""Addresses in the closest of the ribbon's views, at least."""

CLUSTER = 64
"""Registers whose lowest addresses share a block of this size are drawn close up together."""

View = tuple[int, int]  # first address, number of addresses (a power of two that divides the first)

KEY = (
    (BitKind.FOLLOWS.value, "follows a signal"),
    (BitKind.TIED.value, "always the same"),
    (BitKind.UNCONNECTED.value, "wired to nothing"),
    (BitKind.UNKNOWN.value, "not known yet"),
    ("absent", "nobody speaks of its wiring"),
)

Register = tuple[str, str, str]  # space, address, direction


class _Lane(NamedTuple):
    row: Row
    reached: AddressSet


def draw_registers(table: Table, link_to: LinkTo) -> str:
    """The register map: a row of eight bits for each register, with what drives each bit and what the code does.

    Empty text where no row of the table speaks of registers or bits.
    """
    bits = {row.subject.key: row for row in table.rows if row.subject.kind is SubjectKind.BIT}
    registers: dict[Register, Row | None] = {}
    for one in table.rows:
        if one.subject.kind is SubjectKind.REGISTER:
            registers[_register(one.subject)] = one
    for one in bits.values():
        registers.setdefault(_register(one.subject), None)
    if not registers:
        return ""
    drawing = Drawing(WIDTH, "Register map: what each bit of each register is")
    cell = (WIDTH - NAME_COLUMN) / 8
    for place in range(8):
        drawing.text(NAME_COLUMN + cell * (place + 0.5), 14, str(7 - place), "small faint", "middle")
    y = 22.0
    for register, row in sorted(registers.items()):
        _draw_name(drawing, y, register, row, link_to)
        for place in range(8):
            x = NAME_COLUMN + cell * place
            _draw_bit(drawing, x, y, cell, bits.get((*register, str(7 - place))), link_to)
        y += CELL_HEIGHT + 8
    _draw_key(drawing, y + 6)
    return str(drawing)


def _draw_key(drawing: Drawing, y: float) -> None:
    x = float(NAME_COLUMN)
    for classes, words in KEY:
        drawing.box(x, y, 26, 14, f"cell {classes}")
        drawing.text(x + 32, y + 11, words, "tiny faint")
        x += 60 + 5.6 * len(words)


def _register(subject: Subject) -> Register:
    space, address, direction = subject.key[:3]
    return space, address, direction


def _draw_name(drawing: Drawing, y: float, register: Register, row: Row | None, link_to: LinkTo) -> None:
    space, address, direction = register
    if row is not None:
        drawing.open_link(link_to(row.subject))
        drawing.use(0, y + 8, f"s-{row.standing.value}")
    drawing.text(22, y + 22, f"{'port ' if space == 'port' else ''}{address}", "code strong")
    if row is not None:
        drawing.close_link()
    drawing.text(22, y + 40, direction, "small faint")


def _draw_bit(drawing: Drawing, x: float, y: float, cell: float, row: Row | None, link_to: LinkTo) -> None:
    if row is None:
        drawing.box(x, y, cell - 2, CELL_HEIGHT, "cell absent", "nobody speaks about this bit")
        return
    senses = [one.value for one in row.testimonies if isinstance(one.value, BitSense)]
    uses = [one.value for one in row.testimonies if isinstance(one.value, BitUse)]
    kind = senses[0].kind.value if senses else "absent"
    broken = " broken" if row.standing is Standing.CONTRADICTED else ""
    drawing.open_link(link_to(row.subject))
    drawing.box(x, y, cell - 2, CELL_HEIGHT, f"cell {kind}{broken}", f"{row.subject}: {row.reason}")
    lines = fold(" / ".join(dict.fromkeys(str(sense) for sense in senses)), 14, 2)
    for i, line in enumerate(lines):
        drawing.text(x + 6, y + 17 + 14 * i, line, "small strong")
    for i, line in enumerate(fold(_use_words(uses), 16, 2)):
        drawing.text(x + 6, y + 44 + 12 * i, line, "tiny faint")
    if broken:
        drawing.use(x + cell - 20, y + 2, f"s-{row.standing.value}", 14)
    drawing.close_link()


def _use_words(uses: list[BitUse]) -> str:
    words = []
    for use in uses:
        if use.goes_on_at is not None:
            words.append(f"waits for {use.goes_on_at}")
        if use.branches:
            words.append("chooses")
        if use.pulsed_at is not None:
            words.append(f"pulses it at {use.pulsed_at}")
        elif use.goes_on_at is None and not use.branches:
            words.append("not looked at")
    return ", ".join(dict.fromkeys(words))


def draw_ribbons(table: Table, link_to: LinkTo) -> tuple[str, ...]:
    """For each address space that registers lie in: strips from the whole space down to the registers themselves.

    A bar is as high as the share of its addresses that reach the register, so a register with mirrors at every
    fourth address shows low in the wide view and as single full bars in the close one.
    """
    spaces: dict[tuple[str, int], list[_Lane]] = {}
    for row in table.rows:
        if row.subject.kind is SubjectKind.REGISTER:
            reached = _reached(row)
            if reached:
                spaces.setdefault((row.subject.key[0], reached.width), []).append(_Lane(row, reached))
    return tuple(_draw_ribbon(space, width, lanes, link_to) for (space, width), lanes in sorted(spaces.items()))


def _reached(row: Row) -> AddressSet | None:
    """What the board says reaches it, else the first who speaks."""
    said = [one for one in row.testimonies if isinstance(one.value, AddressSet) and one.value]
    said.sort(key=lambda one: one.witness is not Witness.BOARD)
    return said[0].value if said and isinstance(said[0].value, AddressSet) else None


def _draw_ribbon(space: str, width: int, lanes: list[_Lane], link_to: LinkTo) -> str:
    drawing = Drawing(WIDTH, f"Which addresses of the {space} space reach which register")
    y = 16.0
    wide = _wide_views(width, [lane.reached for lane in lanes])
    close = _close_views(width, [lane.reached.lowest for lane in lanes])
    views = [(view, lanes) for view in wide]
    views += [(view, [lane for lane in lanes if lane.reached.lowest in range(view[0], sum(view))]) for view in close]
    for i, (view, shown) in enumerate(views):
        words = f"{address_text(view[0], width)} to {address_text(sum(view) - 1, width)}: {view[1]:,} addresses"
        drawing.text(0, y, words, "small faint")
        y += 8
        for lane in shown:
            _draw_lane(drawing, y, lane, view, link_to)
            y += LANE_HEIGHT
        _draw_scale(drawing, y, view, width)
        if i + 1 < len(wide) or (i + 1 == len(wide) and len(close) == 1):
            _draw_zoom(drawing, y + 16, view, views[i + 1][0])
            y += 30
        y += 34
    return str(drawing)


def _wide_views(width: int, sets: list[AddressSet]) -> list[View]:
    """The whole space, and the smallest block around all sets where that is at most a quarter of it."""
    everything = sets[0]
    for one in sets[1:]:
        everything |= one
    highest = max(value | ~care & ((1 << width) - 1) for care, value in everything.cubes)
    size = max(BLOCK, 1 << (everything.lowest ^ highest).bit_length())
    around = [(everything.lowest & -size, size)] if size <= 1 << width >> 2 else []
    return [(0, 1 << width), *around]


def _close_views(width: int, lowest: list[int]) -> list[View]:
    """For each cluster of registers, the smallest block of at least 16 around their lowest addresses."""
    clusters: dict[int, list[int]] = {}
    for address in sorted(lowest):
        clusters.setdefault(address // CLUSTER, []).append(address)
    views = []
    for addresses in clusters.values():
        size = min(1 << width, max(BLOCK, 1 << (addresses[0] ^ addresses[-1]).bit_length()))
        views.append((addresses[0] & -size, size))
    return views


def _draw_lane(drawing: Drawing, y: float, lane: _Lane, view: View, link_to: LinkTo) -> None:
    first, size = view
    bins = min(BINS, size)
    per_bin = size // bins
    unit = (WIDTH - NAME_COLUMN) / bins
    drawing.open_link(link_to(lane.row.subject))
    space, address, direction = _register(lane.row.subject)
    drawing.text(0, y + 14, f"{'port ' if space == 'port' else ''}{address} {direction}", "small code")
    drawing.close_link()
    drawing.box(NAME_COLUMN, y, WIDTH - NAME_COLUMN, LANE_HEIGHT - 4, "lane")
    start = 0
    shares = [_share(lane.reached, first + i * per_bin, per_bin) for i in range(bins)]
    alone = bins <= CLUSTER  # close enough for one bar an address
    for i in range(1, bins + 1):
        if i < bins and shares[i] == shares[start] and not alone:
            continue
        if shares[start]:
            height = max(2.0, (LANE_HEIGHT - 4) * shares[start] / per_bin)
            bottom = y + LANE_HEIGHT - 4
            x = NAME_COLUMN + start * unit
            wide = max(1.5, (i - start) * unit - (1 if alone else 0))
            drawing.box(x, bottom - height, wide, height, f"reach {direction}")
        start = i


def _share(reached: AddressSet, first: int, size: int) -> int:
    """How many addresses of an aligned block of `size` lie in the set."""
    inside = size - 1
    total = 0
    for care, value in reached.cubes:
        if not (first ^ value) & care & ~inside:
            total += size >> (care & inside).bit_count()
    return total


def _draw_scale(drawing: Drawing, y: float, view: View, width: int) -> None:
    first, size = view
    steps = 16 if size <= CLUSTER else 8
    for i in range(steps):
        x = NAME_COLUMN + (WIDTH - NAME_COLUMN) * i / steps
        drawing.line(x, y - 4, x, y + 1, "axis")
        drawing.text(
            x + (2 if size > CLUSTER else 4), y + 12, address_text(first + size * i // steps, width), "tiny code"
        )


def _draw_zoom(drawing: Drawing, y: float, outer: View, inner: View) -> None:
    """Two lines from the part of one view to the whole of the next."""
    space = WIDTH - NAME_COLUMN
    for end, at in ((inner[0], 0), (inner[0] + inner[1], 1)):
        x = NAME_COLUMN + space * (end - outer[0]) / outer[1]
        drawing.line(x, y, NAME_COLUMN + space * at, y + 22, "guide")

"""Tables of numbers checked by their own redundancy: the same number twice, sorted columns, values on a line."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, product
from typing import TYPE_CHECKING

from latchlore.device._lookalikes import distance, near_readings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import Origin
    from latchlore.device._device import Figures

HEX = "0123456789ABCDEF"


@dataclass(frozen=True, slots=True)
class Edit:
    """A change of one cell or key that would restore consistency; nothing is ever applied by itself.

    `digits`: characters changed; `unlike`: those of them that do not look alike.  `reason`: why this one.
    """

    origin: Origin
    key: str
    old: str
    new: str
    digits: int
    unlike: int
    reason: str


@dataclass(frozen=True, slots=True)
class Inconsistency:
    """A place where a document contradicts itself: what, the evidence, and the smallest edits, best first."""

    origin: Origin
    words: str
    evidence: tuple[str, ...] = ()
    edits: tuple[Edit, ...] = ()


@dataclass(frozen=True, slots=True)
class FittedRow:
    """One row on the line: the value taken, the value the line predicts, and their difference (exact)."""

    index: int
    value: int
    predicted: Fraction
    off: Fraction


@dataclass(frozen=True, slots=True)
class FittedLine:
    """by = slope × value + offset, exact; `rows` in table order.  For an inverse rule "by" is clock / column."""

    slope: Fraction
    offset: Fraction
    rows: tuple[FittedRow, ...]

    @property
    def worst(self) -> FittedRow:
        """The row that fits worst, the first of equals."""
        return max(self.rows, key=lambda row: (abs(row.off), -row.index))


def parse_cell(text: str, kind: str) -> int | None:
    """The number in a cell; None where it is empty or no number of its kind."""
    text = text.strip()
    try:
        return int(text, 16 if kind == "hex" else 10) if text else None
    except ValueError:
        return None


def fit_line(table: Figures) -> FittedLine | None:
    """The line on which most of a table's rows lie, a row's several readings competing.

    Among the lines through two rows, the one that leaves most rows within half a unit (a printed whole number is
    rounded), then the one with the least total error: so a misprint does not pull it.  Its two numbers are then settled
    by least squares over the rows near it.  None where fewer than three rows have numbers.
    """
    points = _points(table)
    if len(points) < 3:
        return None
    lines = _lines_through_two(points)
    if not lines:
        return None
    rise, start = min(lines, key=lambda line: _line_rank(points, *line))
    taken = [(index, x, min(values, key=lambda n: abs(n - rise * x - start))) for index, x, values in points]
    offs = sorted(abs(n - rise * x - start) for _, x, n in taken)
    near = max(Fraction(1, 2), 4 * offs[len(offs) // 2])
    kept = [(n, x) for _, x, n in taken if abs(n - rise * x - start) <= near]
    if len({n for n, _ in kept}) < 2:
        return None
    slope, offset = _least_squares(kept)
    if slope == 0:
        return None
    rows = [FittedRow(index, n, (x - offset) / slope, n - (x - offset) / slope) for index, x, n in taken]
    return FittedLine(slope, offset, tuple(rows))


_Point = tuple[int, Fraction, tuple[int, ...]]


def _lines_through_two(points: list[_Point]) -> list[tuple[Fraction, Fraction]]:
    lines = []
    for (_, x1, values1), (_, x2, values2) in combinations(points, 2):
        for n1, n2 in product(values1, values2):
            if x1 != x2 and n1 != n2:
                rise = Fraction(n2 - n1) / (x2 - x1)
                lines.append((rise, n1 - rise * x1))
    return lines


def _line_rank(points: list[_Point], rise: Fraction, start: Fraction) -> tuple[int, Fraction, Fraction, Fraction]:
    """Most rows within half a unit, then the least total error; the line's own numbers make the order total."""
    offs = [min(abs(n - rise * x - start) for n in values) for _, x, values in points]
    return (-sum(off <= Fraction(1, 2) for off in offs), sum(offs, Fraction(0)), abs(rise), start)


def _points(table: Figures) -> list[_Point]:
    """(row, x, readings of the value) of every row that has both."""
    assert table.line is not None
    value, by, rule = table.line
    twins = next((group for group in table.same if value in group), (value,))
    points = []
    for index, row in enumerate(table.rows):
        numbers = _numbers(table, row)
        readings = tuple(dict.fromkeys(n for name in twins if (n := numbers.get(name)) is not None))
        x = numbers.get(by)
        if x is None or not readings or (rule == "inverse" and x == 0):
            continue
        points.append((index, Fraction(x) if rule == "straight" else (table.clock or 1) / Fraction(x), readings))
    return points


def _numbers(table: Figures, row: tuple[str, ...]) -> dict[str, int | None]:
    return {name: parse_cell(cell, kind) for name, kind, cell in zip(table.columns, table.kinds, row, strict=True)}


def _least_squares(points: list[tuple[int, Fraction]]) -> tuple[Fraction, Fraction]:
    count = len(points)
    mean_n = Fraction(sum(n for n, _ in points), count)
    mean_x = sum((x for _, x in points), Fraction(0)) / count
    slope = sum(((n - mean_n) * (x - mean_x) for n, x in points), Fraction(0))
    slope /= sum(((n - mean_n) ** 2 for n, _ in points), Fraction(0))
    return slope, mean_x - slope * mean_n


def check_figures(table: Figures) -> Iterator[Inconsistency]:
    """Every place where the table contradicts itself, in table order."""
    fitted = fit_line(table) if table.line is not None else None
    for index, row in enumerate(table.rows):
        yield from _unreadable(table, index, row)
        for group in table.same:
            yield from _twins(table, index, row, group, fitted)
    for name in (*table.rising, *table.falling):
        yield from _sorted_column(table, name)
    if fitted is not None:
        yield from _off_the_line(table, fitted)


def _unreadable(table: Figures, index: int, row: tuple[str, ...]) -> Iterator[Inconsistency]:
    for name, kind, cell in zip(table.columns, table.kinds, row, strict=True):
        if kind == "text" or not cell.strip() or parse_cell(cell, kind) is not None:
            continue
        alphabet = HEX if kind == "hex" else HEX[:10]
        found = [new for new in near_readings(cell, alphabet) if parse_cell(new, kind) is not None]
        edits = [_edit(table, index, name, cell, new, "it is a number then") for new in found if _is_alike(cell, new)]
        yield Inconsistency(table.origins[index], f"{name}: {cell!r} is no {kind} number", (), tuple(edits))


def _is_alike(old: str, new: str) -> bool:
    apart = distance(old, new)
    return apart is not None and apart[1] == 0


def _edit(table: Figures, index: int, column: str, old: str, new: str, reason: str) -> Edit:
    digits, unlike = distance(old, new) or (max(len(old), len(new)), max(len(old), len(new)))
    return Edit(table.origins[index], column, old, new, digits, unlike, reason)


def _twins(
    table: Figures, index: int, row: tuple[str, ...], group: tuple[str, ...], fitted: FittedLine | None
) -> Iterator[Inconsistency]:
    """One number given twice in a row: which of the readings the line supports, and what the others would mean."""
    cells = {name: (cell, kind) for name, kind, cell in zip(table.columns, table.kinds, row, strict=True)}
    numbers = {name: n for name in group if (n := parse_cell(*cells[name])) is not None}
    if len(set(numbers.values())) < 2:
        return
    words = f"row {index + 1}: " + ", ".join(f"{name} {cells[name][0]} = {n}" for name, n in numbers.items())
    evidence, fit_off = _line_evidence(table, index, set(numbers.values()), fitted)
    edits = []
    for kept in dict.fromkeys(numbers.values()):
        reason = f"agrees with the other {'columns' if len(group) > 2 else 'column'}"
        if kept in fit_off:
            reason += f"; {_number(fit_off[kept])} off the line"
        for name, n in numbers.items():
            if n != kept:
                new = f"{kept:0{len(cells[name][0])}X}" if cells[name][1] == "hex" else str(kept)
                edits.append(_edit(table, index, name, cells[name][0], new, reason))

    def rank(edit: Edit) -> tuple[Fraction, int, int, str]:
        """What the line supports first, then the fewest digits that do not look alike, then the fewest digits."""
        kept = parse_cell(edit.new, cells[edit.key][1])
        return (abs(fit_off.get(kept or 0, Fraction(0))), edit.unlike, edit.digits, edit.key)

    yield Inconsistency(table.origins[index], words, evidence, tuple(sorted(edits, key=rank)))


def _line_evidence(
    table: Figures, index: int, numbers: set[int], fitted: FittedLine | None
) -> tuple[tuple[str, ...], dict[int, Fraction]]:
    row = next((r for r in fitted.rows if r.index == index), None) if fitted else None
    if row is None or fitted is None or table.line is None:
        return (), {}
    evidence = [f"the other rows predict {_number(row.predicted)}"]
    off = {n: n - row.predicted for n in numbers}
    _, by, rule = table.line
    for n in sorted(numbers, key=lambda n: (abs(off[n]), n)):
        at = fitted.slope * n + fitted.offset
        if rule == "inverse" and at > 0 and table.clock:
            evidence.append(f"{n} would give {by} {_number(table.clock / at)}")
        else:
            evidence.append(f"{n} would stand at {by} {_number(at)}")
    return tuple(evidence), off


def _number(value: Fraction) -> str:
    """One decimal place, for the reader."""
    tenths = round(value * 10)
    return f"{'-' if tenths < 0 else ''}{abs(tenths) // 10}.{abs(tenths) % 10}"


def _off_the_line(table: Figures, fitted: FittedLine) -> Iterator[Inconsistency]:
    """Rows that lie further off the line than rounding and the other rows' scatter explain."""
    assert table.line is not None
    value, _, _ = table.line
    offs = sorted(abs(row.off) for row in fitted.rows)
    usual = max(Fraction(1), 4 * offs[len(offs) // 2])
    column = table.columns.index(value)
    for row in fitted.rows:
        if abs(row.off) <= usual:
            continue
        cell, kind = table.rows[row.index][column], table.kinds[column]
        alphabet = HEX if kind == "hex" else HEX[:10]
        edits = []
        for new in near_readings(cell, alphabet):
            number = parse_cell(new, kind)
            if number is not None and abs(number - row.predicted) <= max(Fraction(1), usual / 4):
                edits.append(_edit(table, row.index, value, cell, new, f"the line predicts {_number(row.predicted)}"))
        words = f"row {row.index + 1}: {value} {cell} lies {_number(abs(row.off))} off the line of the other rows"
        yield Inconsistency(
            table.origins[row.index],
            words,
            (f"the other rows predict {_number(row.predicted)}",),
            tuple(sorted(edits, key=lambda edit: (edit.unlike, edit.digits, edit.new))),
        )


def _sorted_column(table: Figures, name: str) -> Iterator[Inconsistency]:
    """Cells one of which must be wrong for a column to be unsorted, with the edits that would sort it.

    A cell is above suspicion when every longest sorted choice of cells holds it.
    """
    column, falls = table.columns.index(name), name in table.falling
    kind = table.kinds[column]
    numbers = [(i, n) for i, row in enumerate(table.rows) if (n := parse_cell(row[column], kind)) is not None]
    signed = [(i, -n if falls else n) for i, n in numbers]
    sure = _in_every_rising([n for _, n in signed])
    for run in _suspects(len(signed), sure):
        below = signed[run[0] - 1][1] if run[0] else None
        above = signed[run[-1] + 1][1] if run[-1] + 1 < len(signed) else None
        edits = [edit for place in run for edit in _sorting_edits(table, name, signed, place, (below, above))]
        rows = ", ".join(str(signed[place][0] + 1) for place in run)
        cells = ", ".join(table.rows[signed[place][0]][column] for place in run)
        order = "falling" if falls else "rising"
        many = len(run) > 1
        words = f"row{'s' if many else ''} {rows}: {name} {cells} break{'' if many else 's'} the {order} order"
        edits.sort(key=lambda edit: (edit.unlike, edit.digits, edit.origin, edit.new))
        yield Inconsistency(table.origins[signed[run[0]][0]], words, (), tuple(edits))


def _suspects(count: int, sure: set[int]) -> Iterator[list[int]]:
    run: list[int] = []
    for place in range(count + 1):
        if place < count and place not in sure:
            run.append(place)
        elif run:
            yield run
            run = []


def _sorting_edits(
    table: Figures, name: str, signed: list[tuple[int, int]], place: int, bounds: tuple[int | None, int | None]
) -> Iterator[Edit]:
    """One-character edits of a cell that make it fit between its neighbours."""
    column, falls = table.columns.index(name), name in table.falling
    kind, index = table.kinds[column], signed[place][0]
    before = signed[place - 1][1] if place else bounds[0]
    after = signed[place + 1][1] if place + 1 < len(signed) else bounds[1]
    for new in near_readings(table.rows[index][column], HEX if kind == "hex" else HEX[:10]):
        value = parse_cell(new, kind)
        if value is None:
            continue
        value = -value if falls else value
        if (before is None or value > before) and (after is None or value < after):
            yield _edit(table, index, name, table.rows[index][column], new, "the column is sorted then")


def _in_every_rising(numbers: list[int]) -> set[int]:
    """Places that every longest strictly rising subsequence holds."""
    count = len(numbers)
    ends, starts = [1] * count, [1] * count
    for i in range(count):
        ends[i] = 1 + max((ends[j] for j in range(i) if numbers[j] < numbers[i]), default=0)
    for i in reversed(range(count)):
        starts[i] = 1 + max((starts[j] for j in range(i + 1, count) if numbers[j] > numbers[i]), default=0)
    longest = max(ends, default=0)
    ranks: dict[int, list[int]] = {}
    for i in range(count):
        if ends[i] + starts[i] - 1 == longest:
            ranks.setdefault(ends[i], []).append(i)
    return {places[0] for places in ranks.values() if len(places) == 1}

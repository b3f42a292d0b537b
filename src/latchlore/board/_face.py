"""Where the pins of a connector lie, from where the drawing was seen, and which pin meets which, put together how.

A *place* is (row, x): rows count from 0 at the top, x from the middle of the row in half places, positive to the
right, so that rows of different lengths (13 over 12) share one scale.  Places are those that one sees looking at the
*mating face*, the side that the other connector comes from.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from latchlore.base import Origin

Place = tuple[int, int]


class SeenFrom(StrEnum):
    """From where the pins were numbered."""

    PRINTED = "printed"  # the numbers stand on the connector, or are its standard's
    MATING = "mating"  # counted while looking at the mating face
    REAR = "rear"  # counted while looking at the wires or the solder side
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Face:
    """The layout of a connector: `rows` of pin numbers from left to right as seen, top row first, 0 for a gap.

    `from_right`: the first number of each row is at the right; None where not stated (left is then meant for numbers
    that were counted).  `layout`: how the rows were stated, in words.
    """

    connector: str
    rows: tuple[tuple[int, ...], ...]
    seen: SeenFrom
    from_right: bool | None
    layout: str
    origin: Origin

    @property
    def numbers(self) -> tuple[int, ...]:
        """Every pin number, row by row."""
        return tuple(number for row in self.rows for number in row if number)

    @property
    def is_placed(self) -> bool:
        """Whether it is known where each number lies on the mating face."""
        return self.seen in (SeenFrom.MATING, SeenFrom.REAR) or (
            self.seen is SeenFrom.PRINTED and self.from_right is not None
        )

    def places(self) -> dict[int, Place]:
        """Number → place on the mating face; as if counted from the left there where `is_placed` is false."""
        flip = bool(self.from_right) ^ (self.seen is SeenFrom.REAR)
        found: dict[int, Place] = {}
        for r, row in enumerate(self.rows):
            for c, number in enumerate(row):
                x = 2 * c - (len(row) - 1)
                if number:
                    found[number] = (r, -x if flip else x)
        return found

    def num_like(self, number: int) -> int | None:
        """The number at the mirrored place of the same row, or None."""
        places = self.places()
        r, x = places[number]
        return {place: n for n, place in places.items()}.get((r, -x))


def layout_rows(layout: str, size: int) -> tuple[tuple[int, ...], ...] | None:
    """The rows of a named layout for so many pins: ``single``, ``rows``, ``pairs``, ``round``; None for other words.

    ``rows``: 1 to n above, n + 1 and on below, both from the left (13 above 12 for 25).  ``pairs``: odd above even.
    ``round``: back along the lower row, as on a chip.
    """
    above = (size + 1) // 2
    numbers = range(1, size + 1)
    match layout:
        case "single":
            return (tuple(numbers),)
        case "rows":
            return (tuple(numbers[:above]), tuple(numbers[above:]))
        case "pairs":
            return (tuple(numbers[::2]), tuple(numbers[1::2]))
        case "round":
            return (tuple(numbers[:above]), tuple(reversed(numbers[above:])))
        case _:
            return None


class WayKind(StrEnum):
    """In which way two connectors are put together."""

    RIGHT = "right"
    MIRRORED = "mirrored"
    UPSIDE_DOWN = "upside down"
    SHIFTED = "shifted"
    OTHER_NUMBERING = "other numbering"


class PinMap(NamedTuple):
    """One way: which pin of the one meets which pins of the other; `names` says what it is, the plainest first."""

    kind: WayKind
    names: tuple[str, ...]
    pairs: tuple[tuple[int, int], ...]


def iter_slips(face: Face) -> Iterator[tuple[WayKind, str, dict[int, int]]]:
    """Every wrong way on one layout: kind, words, and number → number at whose place it arrives."""
    places = face.places()
    at = {place: number for number, place in places.items()}
    last = len(face.rows) - 1

    def moved(change: Callable[[Place], Place]) -> dict[int, int]:
        return {n: at[change(place)] for n, place in places.items() if change(place) in at}

    yield WayKind.MIRRORED, "mirrored left to right", moved(lambda p: (p[0], -p[1]))
    if last:
        yield WayKind.MIRRORED, "mirrored top to bottom", moved(lambda p: (last - p[0], p[1]))
    yield WayKind.UPSIDE_DOWN, "upside down", moved(lambda p: (last - p[0], -p[1]))
    yield WayKind.SHIFTED, "shifted one place to the right", moved(lambda p: (p[0], p[1] + 2))
    yield WayKind.SHIFTED, "shifted one place to the left", moved(lambda p: (p[0], p[1] - 2))
    yield from _numberings(face)


def _numberings(face: Face) -> Iterator[tuple[WayKind, str, dict[int, int]]]:
    """The other usual numberings of the same places: who counts so takes a pin for another."""
    contacts = [[number for number in row if number] for row in face.rows]
    size = sum(len(row) for row in contacts)
    names = {"rows": "row by row", "pairs": "in pairs, odd over even", "round": "round, as on a chip"}
    told = set(face.numbers)
    for layout, words in names.items():
        rows = layout_rows(layout, size)
        if rows is None or [len(row) for row in rows] != [len(row) for row in contacts]:
            continue
        taken = {
            mine: other
            for row, others in zip(contacts, rows, strict=True)
            for mine, other in zip(row, others, strict=True)
        }
        if any(mine != other for mine, other in taken.items()):
            yield (
                WayKind.OTHER_NUMBERING,
                f"numbered {words}",
                {mine: other for mine, other in taken.items() if other in told},
            )


def pin_maps(
    one: Face | None,
    other: Face | None,
    sizes: tuple[int, int],
    cable: Mapping[int, tuple[int, ...]] | None,
    labels: tuple[str, str] = ("the one", "the other"),
) -> tuple[tuple[PinMap, ...], tuple[str, ...]]:
    """Every way that can be computed, the right one first, and sentences on what cannot.

    With a `cable` (pin of the one → pins of the other) the slips are made at either end.  The right way is not known
    where a drawing does not say from where it was seen: then the numbers as they stand come first, and a sentence
    says so.  Ways that join the same pins are one with several names.  `labels` name the two ends.
    """
    right, why = right_pairs(one, other, sizes, cable)
    found: dict[tuple[tuple[int, int], ...], tuple[WayKind, list[str]]] = {}
    found[right] = (WayKind.RIGHT, ["the right way" if not why else "number on number"])
    missing = list(why)
    ends: list[tuple[Face | None, bool]] = [(one, True)]
    if cable is not None:
        ends.append((other, False))
    for face, is_one in ends:
        if face is None:
            missing.append("first" if is_one else "second")
            continue
        end = "" if cable is None else f" at {labels[0 if is_one else 1]}"
        for kind, words, slip in iter_slips(face):
            pairs = _slipped(right, slip, at_one=is_one)
            name = f"{words}{end}"
            if pairs in found:
                if name not in found[pairs][1] and found[pairs][0] is not WayKind.RIGHT:
                    found[pairs][1].append(name)
            else:
                found[pairs] = (kind, [name])
    return tuple(PinMap(kind, tuple(names), pairs) for pairs, (kind, names) in found.items()), tuple(missing)


def _slipped(right: tuple[tuple[int, int], ...], slip: dict[int, int], *, at_one: bool) -> tuple[tuple[int, int], ...]:
    """The pairs after a slip at one end: what should have met a pin meets the one at whose place it arrives."""
    if at_one:
        arrives = {place: number for number, place in slip.items()}
        return tuple(sorted((arrives[a], b) for a, b in right if a in arrives))
    return tuple(sorted((a, slip[b]) for a, b in right if b in slip))


def right_pairs(
    one: Face | None, other: Face | None, sizes: tuple[int, int], cable: Mapping[int, tuple[int, ...]] | None
) -> tuple[tuple[tuple[int, int], ...], tuple[str, ...]]:
    """The pairs of the right way, and why it is not known for sure (words ``seen``), empty where it is."""
    ours = one.numbers if one is not None else tuple(range(1, sizes[0] + 1))
    theirs = other.numbers if other is not None else tuple(range(1, sizes[1] + 1))
    if cable is not None:
        told = set(theirs)
        return tuple(sorted((a, b) for a in ours for b in cable.get(a, ()) if b in told)), ()
    alike = tuple((a, a) for a in sorted(ours) if a in set(theirs))
    if one is not None and other is not None:
        if one.seen is SeenFrom.PRINTED and other.seen is SeenFrom.PRINTED:
            return alike, ()
        same_shape = [len(row) for row in one.rows] == [len(row) for row in other.rows]
        if one.is_placed and other.is_placed and same_shape:
            # The faces look at each other: what is left on the one is right on the other.
            at = {(r, -x): number for number, (r, x) in other.places().items()}
            return tuple(sorted((a, at[place]) for a, place in one.places().items() if place in at)), ()
    return alike, ("seen",)

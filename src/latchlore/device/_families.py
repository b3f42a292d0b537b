"""A family of devices put in the order of fewest changes.  The order is an inference from the documents, no record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import Origin, Unsupported
from latchlore.device._comparing import TraitStanding
from latchlore.device._wording import describe_family

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.device._comparing import DeviceComparison, Trait

MAX_DEVICES = 12
MAX_ORDERS = 200


@dataclass(frozen=True, slots=True)
class Family:
    """The orders that need the fewest changes from each device to the next.

    `orders`: each a row of device indices, all of equal cost; an order and its reverse count once, as changes have no
    direction.  `is_all`: every such order is listed.  `cost`: changes in all.  `distances[i][j]`: changes between two.
    `next_cost`: the cost of the next best order, None where every order costs the same.
    """

    comparison: DeviceComparison
    orders: tuple[tuple[int, ...], ...]
    is_all: bool
    cost: int
    next_cost: int | None
    distances: tuple[tuple[int, ...], ...]

    @property
    def is_dated(self) -> bool:
        """Whether every document has a date, and so the direction can be compared with them."""
        return all(device.date for device in self.comparison.devices)

    def agrees_with_dates(self, order: tuple[int, ...]) -> bool | None:
        """Whether the dates rise (or fall) along an order; None where a date is lacking."""
        if not self.is_dated:
            return None
        dates = [self.comparison.devices[index].date for index in order]
        return dates == sorted(dates) or dates == sorted(dates, reverse=True)

    def __str__(self) -> str:
        return describe_family(self)


def order_family(comparison: DeviceComparison) -> Family:
    """Put devices in the order of fewest changes.  What only some documents speak of counts as half a change.

    Distances are counted in half changes.  Refuses more than twelve devices.
    """
    count = len(comparison.devices)
    if count > MAX_DEVICES:
        words = f"an order is sought among up to {MAX_DEVICES} devices, not {count}"
        raise Unsupported(Origin(comparison.devices[0].file), words)
    distances = tuple(tuple(_distance(comparison, i, j) for j in range(count)) for i in range(count))
    best = _cheapest(distances)
    full = (1 << count) - 1
    cost = min(best[full])
    orders: list[tuple[int, ...]] = []
    is_all = True
    for order in _orders(distances, best, cost):
        if order[0] < order[-1]:
            if len(orders) == MAX_ORDERS:
                is_all = False
                break
            orders.append(order)
    return Family(comparison, tuple(sorted(orders)), is_all, cost, _next_cost(distances, cost), distances)


def _distance(comparison: DeviceComparison, one: int, two: int) -> int:
    return sum(_weight(trait, one, two) for trait in comparison.traits)


def _weight(trait: Trait, one: int, two: int) -> int:
    a, b = trait.values[one], trait.values[two]
    if a == b or trait.standing is TraitStanding.OPEN:
        return 0
    return 1 if a is None or b is None else 2


def _cheapest(distances: tuple[tuple[int, ...], ...]) -> list[list[int]]:
    """best[devices as bits][last]: the cheapest order of those devices that ends with the last."""
    count = len(distances)
    far = 1 << 60
    best = [[far] * count for _ in range(1 << count)]
    for last in range(count):
        best[1 << last][last] = 0
    for members in range(1 << count):
        for last in range(count):
            if best[members][last] == far:
                continue
            for new in range(count):
                if not members >> new & 1:
                    total = best[members][last] + distances[last][new]
                    after = best[members | 1 << new]
                    after[new] = min(after[new], total)
    return best


def _orders(distances: tuple[tuple[int, ...], ...], best: list[list[int]], cost: int) -> Iterator[tuple[int, ...]]:
    """Every order of that cost, in a fixed order."""
    count = len(distances)

    def back(members: int, last: int) -> Iterator[tuple[int, ...]]:
        rest = members & ~(1 << last)
        if not rest:
            yield (last,)
            return
        for before in range(count):
            if rest >> before & 1 and best[rest][before] + distances[before][last] == best[members][last]:
                for front in back(rest, before):
                    yield (*front, last)

    full = (1 << count) - 1
    for last in range(count):
        if best[full][last] == cost:
            yield from back(full, last)


def _next_cost(distances: tuple[tuple[int, ...], ...], cost: int) -> int | None:
    """The cost of the cheapest order that is dearer: kept as the two least costs of each state."""
    count = len(distances)
    least: list[list[tuple[int, ...]]] = [[()] * count for _ in range(1 << count)]
    for last in range(count):
        least[1 << last][last] = (0,)
    for members in range(1 << count):
        for last in range(count):
            for new in range(count):
                if least[members][last] and not members >> new & 1:
                    after = least[members | 1 << new]
                    sums = {total + distances[last][new] for total in least[members][last]}
                    after[new] = tuple(sorted({*after[new], *sums})[:2])
    dearer = [total for totals in least[-1] for total in totals if total > cost]
    return min(dearer, default=None)

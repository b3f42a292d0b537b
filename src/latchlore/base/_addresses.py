"""Sets of addresses as ternary cubes, the form in which decoders think.

A *cube* of width w is a pair (care, value): bit k of `care` is 1 where address line k must equal bit k of `value`,
0 where it does not matter; `value` is 0 wherever `care` is 0.  An `AddressSet` keeps its cubes disjoint and in one
canonical order (found by halving from the highest line down), so equal sets have equal cubes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

Cube = tuple[int, int]  # (care, value), see the module's docstring

MAX_WIDTH = 32


def _normalize(
    cubes: frozenset[Cube], line: int, memo: dict[tuple[frozenset[Cube], int], tuple[Cube, ...]]
) -> tuple[Cube, ...]:
    """Disjoint cubes of the union, lines `line` and below deciding.  The cubes care for no line above `line`."""
    if not cubes:
        return ()
    if (0, 0) in cubes:
        return ((0, 0),)
    key = (cubes, line)
    if key in memo:
        return memo[key]
    here = 1 << line
    low = frozenset((c & ~here, v & ~here) for c, v in cubes if not c & here or not v & here)
    high = frozenset((c & ~here, v & ~here) for c, v in cubes if not c & here or v & here)
    below, above = _normalize(low, line - 1, memo), _normalize(high, line - 1, memo)
    memo[key] = result = _join(below, above, here)
    return result


def _join(below: tuple[Cube, ...], above: tuple[Cube, ...], here: int) -> tuple[Cube, ...]:
    """Put two halves together: what stands in both does not care for the line between them."""
    if below == above:
        return below
    both = set(below) & set(above)
    joined = [*both]
    joined += [(c | here, v) for c, v in below if (c, v) not in both]
    joined += [(c | here, v | here) for c, v in above if (c, v) not in both]
    return tuple(sorted(joined, key=lambda cube: (cube[1], cube[0])))


def _from_table(table: int, line: int, memo: dict[tuple[int, int], tuple[Cube, ...]]) -> tuple[Cube, ...]:
    """Cubes of a truth table of 2**(line+1) bits."""
    size = 1 << (line + 1)
    if table == 0:
        return ()
    if table == (1 << size) - 1:
        return ((0, 0),)
    key = (table, line)
    if key in memo:
        return memo[key]
    half = size >> 1
    below = _from_table(table & ((1 << half) - 1), line - 1, memo)
    above = _from_table(table >> half, line - 1, memo)
    memo[key] = result = _join(below, above, 1 << line)
    return result


@dataclass(frozen=True, slots=True)
class AddressSet:
    """A set of addresses of `width` lines (1 to 32), as disjoint cubes in canonical order.

    Build it with the class methods; the constructor trusts its caller.
    """

    width: int
    cubes: tuple[Cube, ...]

    @classmethod
    def of_cubes(cls, cubes: Iterable[Cube], width: int) -> AddressSet:
        """The union of cubes, which may overlap.  Refuses a cube that reaches past the width."""
        if not 1 <= width <= MAX_WIDTH:
            raise ValueError(f"an address has 1 to {MAX_WIDTH} lines, not {width!r}")
        wanted = frozenset((care, value & care) for care, value in cubes)
        for care, value in wanted:
            if care >> width or value >> width:
                raise ValueError(f"cube ({care:X}h, {value:X}h) reaches past {width} lines")
        return cls(width, _normalize(wanted, width - 1, {}))

    @classmethod
    def of(cls, addresses: Iterable[int], width: int = 16) -> AddressSet:
        """The set of the addresses given one by one.  Refuses one that needs more than `width` lines."""
        full = (1 << width) - 1
        return cls.of_cubes(((full | address, address) for address in addresses), width)

    @classmethod
    def of_range(cls, first: int, last: int, width: int = 16) -> AddressSet:
        """All addresses from `first` to `last`, both included."""
        if not 0 <= first <= last < 1 << width:
            raise ValueError(f"an address range lies within 0 to {(1 << width) - 1:X}h, not {first:X}h to {last:X}h")
        cubes: list[Cube] = []
        full = (1 << width) - 1
        while first <= last:
            size = first & -first if first else 1 << width
            while first + size - 1 > last:
                size >>= 1
            cubes.append((full & ~(size - 1), first))
            first += size
        return cls.of_cubes(cubes, width)

    @classmethod
    def from_table(cls, table: int, width: int) -> AddressSet:
        """The set whose member k is bit k of `table` (an integer of 2**width bits)."""
        if table < 0 or table >> (1 << width):
            raise ValueError(f"a table for {width} lines has {1 << width} bits")
        return cls(width, _from_table(table, width - 1, {}))

    @classmethod
    def parse(cls, text: str) -> AddressSet:
        """Read ``1011 01xx xxxx xx01``, several joined by ``|``; ``none of 16`` is the empty set."""
        if text.startswith("none of "):
            return cls.of_cubes((), int(text.removeprefix("none of ")))
        cubes: list[Cube] = []
        widths = set()
        for part in text.split("|"):
            digits = "".join(part.split()).lower()
            if not digits or set(digits) - set("01x"):
                raise ValueError(f"an address pattern consists of 0, 1 and x, not {part.strip()!r}")
            widths.add(len(digits))
            care = int("".join("0" if d == "x" else "1" for d in digits), 2)
            cubes.append((care, int(digits.replace("x", "0"), 2)))
        if len(widths) != 1:
            raise ValueError(f"address patterns of one set have one width, not {sorted(widths)!r}")
        return cls.of_cubes(cubes, widths.pop())

    def _same_width(self, other: AddressSet) -> None:
        if self.width != other.width:
            raise ValueError(f"address sets of {self.width} and {other.width} lines cannot be combined")

    def __or__(self, other: AddressSet) -> AddressSet:
        self._same_width(other)
        return AddressSet.of_cubes((*self.cubes, *other.cubes), self.width)

    def __and__(self, other: AddressSet) -> AddressSet:
        self._same_width(other)
        met = ((c1 | c2, v1 | v2) for c1, v1 in self.cubes for c2, v2 in other.cubes if not (v1 ^ v2) & c1 & c2)
        return AddressSet.of_cubes(met, self.width)

    def __invert__(self) -> AddressSet:
        rest: list[Cube] = [(0, 0)]
        for care, value in self.cubes:
            rest = [piece for cube in rest for piece in _without(cube, care, value)]
        return AddressSet.of_cubes(rest, self.width)

    def __sub__(self, other: AddressSet) -> AddressSet:
        self._same_width(other)
        rest = list(self.cubes)
        for care, value in other.cubes:
            rest = [piece for cube in rest for piece in _without(cube, care, value)]
        return AddressSet.of_cubes(rest, self.width)

    def __contains__(self, address: object) -> bool:
        return isinstance(address, int) and any(address & care == value for care, value in self.cubes)

    def __bool__(self) -> bool:
        return bool(self.cubes)

    def __le__(self, other: AddressSet) -> bool:
        return not self - other

    def is_disjoint(self, other: AddressSet) -> bool:
        """Whether no address lies in both."""
        return not self & other

    @property
    def count(self) -> int:
        """How many addresses the set holds."""
        return sum(1 << (self.width - care.bit_count()) for care, _ in self.cubes)

    @property
    def lowest(self) -> int:
        """The lowest address.  Refuses the empty set."""
        if not self.cubes:
            raise ValueError("an empty set has no lowest address")
        return min(value for _, value in self.cubes)

    @property
    def free_lines(self) -> tuple[int, ...]:
        """Address lines that no cube looks at, lowest first: each doubles the mirrors."""
        cared = 0
        for care, _ in self.cubes:
            cared |= care
        return tuple(k for k in range(self.width) if not cared >> k & 1)

    def iter_addresses(self) -> Iterator[int]:
        """Every address, cube by cube, rising within a cube."""
        for care, value in self.cubes:
            free = ((1 << self.width) - 1) & ~care
            part = 0
            while True:
                yield value | part
                part = (part - free) & free
                if part == 0:
                    break

    def __str__(self) -> str:
        if not self.cubes:
            return f"none of {self.width}"
        return " | ".join(_cube_text(care, value, self.width) for care, value in self.cubes)


def _without(cube: Cube, care: int, value: int) -> list[Cube]:
    """`cube` less another cube, as disjoint pieces."""
    own_care, own_value = cube
    if (own_value ^ value) & own_care & care:
        return [cube]
    pieces: list[Cube] = []
    fixed_care, fixed_value = own_care, own_value
    for k in range(care.bit_length()):
        here = 1 << k
        if care & here and not own_care & here:
            pieces.append((fixed_care | here, fixed_value | (~value & here)))
            fixed_care |= here
            fixed_value |= value & here
    return pieces


def _cube_text(care: int, value: int, width: int) -> str:
    digits = "".join("x" if not care >> k & 1 else str(value >> k & 1) for k in reversed(range(width)))
    head = width % 4
    groups = ([digits[:head]] if head else []) + [digits[i : i + 4] for i in range(head, width, 4)]
    return " ".join(groups)

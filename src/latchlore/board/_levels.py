"""Levels of a net in many situations at once, three-valued.

A `Levels` holds one bit per situation (an address, a vector) in two *planes*, plain integers: bit k of `can0` is 1
where the net can be low in situation k, bit k of `can1` where it can be high.  Both: not known.  Exactly one:
known.  Neither does not occur.  The operators work on all situations at once.
"""

from __future__ import annotations

from typing import Protocol, Self, TypeVar


class Logic(Protocol):
    """What a part's function needs of its values: and, or, exclusive or, not."""

    def __and__(self, other: Self, /) -> Self: ...
    def __or__(self, other: Self, /) -> Self: ...
    def __xor__(self, other: Self, /) -> Self: ...
    def __invert__(self) -> Self: ...


L = TypeVar("L", bound=Logic)


class Levels:
    """Three-valued levels in as many situations as the planes have bits; immutable by convention."""

    __slots__ = ("can0", "can1")

    def __init__(self, can0: int, can1: int) -> None:
        self.can0, self.can1 = can0, can1

    def __and__(self, other: Levels) -> Levels:
        return Levels(self.can0 | other.can0, self.can1 & other.can1)

    def __or__(self, other: Levels) -> Levels:
        return Levels(self.can0 & other.can0, self.can1 | other.can1)

    def __xor__(self, other: Levels) -> Levels:
        return Levels(
            (self.can0 & other.can0) | (self.can1 & other.can1), (self.can0 & other.can1) | (self.can1 & other.can0)
        )

    def __invert__(self) -> Levels:
        return Levels(self.can1, self.can0)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Levels) and self.can0 == other.can0 and self.can1 == other.can1

    def __hash__(self) -> int:
        return hash((self.can0, self.can1))

    def __repr__(self) -> str:
        if (self.can0 | self.can1) < 1 << 16:
            return f"Levels(can0={self.can0:b}, can1={self.can1:b})"
        return f"Levels({(self.can0 & self.can1).bit_count()} unknown)"

    @property
    def sure0(self) -> int:
        """Plane of the situations in which the net is known to be low."""
        return self.can0 & ~self.can1

    @property
    def sure1(self) -> int:
        """Plane of the situations in which the net is known to be high."""
        return self.can1 & ~self.can0

    @property
    def unknown(self) -> int:
        """Plane of the situations in which the level is not known."""
        return self.can0 & self.can1


def known(plane: int, full: int) -> Levels:
    """Levels that are high exactly where `plane` has a 1; `full` is the plane of all situations."""
    return Levels(full & ~plane, plane)


def line_plane(line: int, lines: int) -> int:
    """The plane of variable `line` (0 is the lowest) among 2**lines situations: bit k is bit `line` of k."""
    block = ((1 << (1 << line)) - 1) << (1 << line)
    size = 2 << line
    while size < 1 << lines:
        block |= block << size
        size <<= 1
    return block


def mux(select: L, low: L, high: L) -> L:
    """`low` where select is 0, `high` where it is 1; where both agree, an unknown select does not matter."""
    return (~select & low) | (select & high) | (low & high)


def rise(before: L, now: L) -> L:
    """Whether a level has gone from 0 to 1."""
    return ~before & now


def fall(before: L, now: L) -> L:
    """Whether a level has gone from 1 to 0."""
    return before & ~now

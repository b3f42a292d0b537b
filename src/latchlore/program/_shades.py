"""Values of which only one thing is asked: do they depend on what a device answered?

Beside plain numbers and tables over the bits of the answer (`Sym`) there are two shades.  A *low* value is the same
for every answer, though not known here (a counter); a *high* one may differ.  Both keep the bits that are known all the
same, so that the number of a port survives beside a counter in the upper half of its address.
"""

from __future__ import annotations

import numpy as np

from latchlore.program._values import Sym, Value

_NONE = np.zeros(0, dtype=np.int32)


class Shade(Sym):
    """A low or a high value; bits of `known` have the level in `bits` (as in two's complement, without end).

    `origin`: the register whose content at the start of the turn it is, -1 for all others.
    """

    __slots__ = ("bits", "is_high", "known", "origin")

    def __init__(self, known: int, bits: int, *, is_high: bool, origin: int = -1) -> None:
        super().__init__((), _NONE)
        self.known, self.bits, self.is_high, self.origin = known, bits, is_high, origin

    @property
    def shade(self) -> tuple[bool, int, int, int]:
        """What tells it apart."""
        return self.is_high, self.known, self.bits, self.origin

    def _logic(self, other: Value, known: int, bits: int) -> Value:
        return _shade(known, bits, is_high=self.is_high or is_high(other))

    def __and__(self, other: Value) -> Value:
        known, bits = _known(other)
        both = (self.known & ~self.bits) | (known & ~bits) | (self.known & known)
        return self._logic(other, both, self.bits & bits & both)

    def __or__(self, other: Value) -> Value:
        known, bits = _known(other)
        both = (self.known & self.bits) | (known & bits) | (self.known & known)
        return self._logic(other, both, (self.bits | bits) & both)

    def __xor__(self, other: Value) -> Value:
        known, bits = _known(other)
        both = self.known & known
        return self._logic(other, both, (self.bits ^ bits) & both)

    def __lshift__(self, other: Value) -> Value:
        if isinstance(other, int):
            return _shade(self.known << other | ((1 << other) - 1), self.bits << other, is_high=self.is_high)
        return self._logic(other, 0, 0)

    def __rshift__(self, other: Value) -> Value:
        if isinstance(other, int):
            return _shade(self.known >> other, self.bits >> other, is_high=self.is_high)
        return self._logic(other, 0, 0)

    def __invert__(self) -> Value:
        return _shade(self.known, ~self.bits & self.known, is_high=self.is_high)

    def _blind(self, other: Value) -> Value:
        return self._logic(other, 0, 0)

    def __neg__(self) -> Value:
        return self._logic(0, 0, 0)

    @property
    def as_truth(self) -> Value:
        """Whether something about it holds: a bit of the same shade."""
        return _shade(~1, 0, is_high=self.is_high)

    __rand__, __ror__, __rxor__ = __and__, __or__, __xor__
    __add__ = __radd__ = __sub__ = __rsub__ = __mul__ = __rmul__ = __rrshift__ = __rlshift__ = _blind


def _shade(known: int, bits: int, *, is_high: bool, origin: int = -1) -> Value:
    """The value; a plain number where every bit is known."""
    if known == -1:
        return bits
    shade = Shade(known, bits, is_high=is_high, origin=origin)
    truth: Value = shade if known == ~1 and not bits else shade.as_truth
    shade.memo["zero"] = 0 if bits else truth
    shade.memo["above"] = truth
    return shade


def low(width: int) -> Value:
    """A value of so many bits that is the same for every answer."""
    return _shade(~((1 << width) - 1), 0, is_high=False)


def high(width: int, origin: int = -1) -> Value:
    """A value of so many bits that may depend on the answer, or that the register `origin` held before."""
    return _shade(~((1 << width) - 1), 0, is_high=True, origin=origin)


def is_high(value: Value) -> bool:
    """Whether it may depend on the answer."""
    return value.is_high if isinstance(value, Shade) else isinstance(value, Sym)


def _known(value: Value) -> tuple[int, int]:
    if isinstance(value, int):
        return -1, value
    if isinstance(value, Shade):
        return value.known, value.bits
    ones, zeros = int(np.bitwise_and.reduce(value.tab)), ~int(np.bitwise_or.reduce(value.tab))
    return ones | zeros, ones


def key_of(value: Value) -> object:
    """Equal for values that need not be told apart."""
    if isinstance(value, int):
        return value
    return value.shade if isinstance(value, Shade) else value.key


def join(first: Value, second: Value) -> Value:
    """A value that covers both."""
    if key_of(first) == key_of(second):
        return first
    (known, bits), (other, others) = _known(first), _known(second)
    same = known & other & ~(bits ^ others)
    return _shade(same, bits & same, is_high=is_high(first) or is_high(second))

"""Values that depend on unknown bits: truth tables over the few bits that matter.

A `Sym` of n variables (numbers of unknown bits, rising) holds 2**n whole numbers: entry k is its value when variable
`vars[i]` equals bit i of k.  A value that depends on nothing is a plain int, never a `Sym`: the two types keep
"known" and "unknown" apart.  The constraints under which a path runs are a tuple of 0/1 `Sym`s with disjoint
variables.
"""

from __future__ import annotations

from functools import cache
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

MAX_VARS = 16
MANY_VARS = 9  # from more on, tables are looked at piece by piece
Table: TypeAlias = npt.NDArray[np.int32]


class TooWideError(Exception):
    """A table would need more than `MAX_VARS` variables; the path must split on one of them."""

    def __init__(self, variables: tuple[int, ...]) -> None:
        super().__init__(f"{len(variables)} variables")
        self.variables = variables


class Sym:
    """See the module's docstring.  Built by `make`, which drops variables that do not matter."""

    __slots__ = ("_key", "memo", "tab", "vars")

    def __init__(self, variables: tuple[int, ...], tab: Table) -> None:
        self.vars, self.tab = variables, tab
        self._key: tuple[tuple[int, ...], bytes] | None = None
        self.memo: dict[object, Value] = {}  # results of operations with plain numbers: the same ones come again

    @property
    def key(self) -> tuple[tuple[int, ...], bytes]:
        """What tells it apart from other values."""
        if self._key is None:
            self._key = (self.vars, self.tab.tobytes())
        return self._key

    def __add__(self, other: Value) -> Value:
        return _join(np.add, self, other)

    __radd__ = __add__

    def __sub__(self, other: Value) -> Value:
        return _join(np.subtract, self, other)

    def __rsub__(self, other: Value) -> Value:
        return _join(np.subtract, other, self)

    def __mul__(self, other: Value) -> Value:
        return _join(np.multiply, self, other)

    __rmul__ = __mul__

    def __and__(self, other: Value) -> Value:
        return _join(np.bitwise_and, self, other)

    __rand__ = __and__

    def __or__(self, other: Value) -> Value:
        return _join(np.bitwise_or, self, other)

    __ror__ = __or__

    def __xor__(self, other: Value) -> Value:
        return _join(np.bitwise_xor, self, other)

    __rxor__ = __xor__

    def __lshift__(self, other: Value) -> Value:
        return _join(np.left_shift, self, other)

    def __rshift__(self, other: Value) -> Value:
        return _join(np.right_shift, self, other)

    def __rrshift__(self, other: Value) -> Value:
        return _join(np.right_shift, other, self)

    def __invert__(self) -> Value:
        return make(self.vars, ~self.tab)

    def __neg__(self) -> Value:
        return make(self.vars, -self.tab)

    def __repr__(self) -> str:
        shown = self.tab.tolist() if len(self.vars) < 4 else f"{len(set(self.tab.tolist()))} values"
        return f"Sym({self.vars}, {shown})"


Value: TypeAlias = int | Sym
Constraints: TypeAlias = tuple[Sym, ...]


@cache
def _halves(num_vars: int, index: int) -> int:
    """A mask of the entries (32 bits each) in which variable `index` is 0."""
    mask = (1 << (32 << index)) - 1
    for k in range(index + 1, num_vars):
        mask |= mask << (32 << k)
    return mask


def make(variables: tuple[int, ...], tab: Table) -> Value:
    """The value of a table, without the variables it does not depend on."""
    if len(variables) > MANY_VARS:
        return _make_large(variables, tab)
    if variables:
        whole = int.from_bytes(tab.tobytes(), "little")
        for k in range(len(variables) - 1, -1, -1):
            if not ((whole >> (32 << k)) ^ whole) & _halves(len(variables), k):
                tab = np.ascontiguousarray(tab.reshape(-1, 2, 1 << k)[:, 0]).ravel()
                variables = variables[:k] + variables[k + 1 :]
                whole = int.from_bytes(tab.tobytes(), "little")
    return Sym(variables, tab) if variables else int(tab[0])


def _make_large(variables: tuple[int, ...], tab: Table) -> Value:
    """The same for large tables: most variables are seen to matter by a few entries."""
    for k in range(len(variables) - 1, -1, -1):
        pairs = tab.reshape(-1, 2, 1 << k)
        few = pairs[:: max(len(pairs) // 8, 1), :, :64]
        if (few[:, 0] == few[:, 1]).all() and (pairs[:, 0] == pairs[:, 1]).all():
            tab = np.ascontiguousarray(pairs[:, 0]).ravel()
            variables = variables[:k] + variables[k + 1 :]
    return Sym(variables, tab) if variables else int(tab[0])


def variable(number: int) -> Sym:
    """The unknown bit itself."""
    return Sym((number,), np.array([0, 1], dtype=np.int32))


def byte_of(numbers: list[int]) -> Sym:
    """The byte whose bit i is variable `numbers[i]`.  The numbers rise."""
    assert numbers == sorted(numbers)
    return Sym(tuple(numbers), np.arange(1 << len(numbers), dtype=np.int32))


def spread(value: Sym, variables: tuple[int, ...]) -> Table:
    """Its table over more variables, as an array with one axis a variable (the first variable last)."""
    shape = tuple(2 if v in value.vars else 1 for v in reversed(variables))
    return value.tab.reshape(shape)


def union(*values: Sym) -> tuple[int, ...]:
    """All variables of some values, rising.  Raises TooWideError above `MAX_VARS`."""
    variables = tuple(sorted({v for value in values for v in value.vars}))
    if len(variables) > MAX_VARS:
        raise TooWideError(variables)
    return variables


def over(value: Value, variables: tuple[int, ...]) -> Table:
    """Its table over exactly these variables, which include its own."""
    if isinstance(value, int):
        return np.full(1 << len(variables), value, dtype=np.int32)
    if value.vars == variables:
        return value.tab
    return np.ascontiguousarray(np.broadcast_to(spread(value, variables), (2,) * len(variables))).ravel()


def _join(function: np.ufunc, a: Value, b: Value) -> Value:
    if isinstance(a, int):
        assert isinstance(b, Sym)
        key: tuple[object, ...] = (function, a, 0)
        if key not in b.memo:
            b.memo[key] = make(b.vars, function(np.int32(a), b.tab))
        return b.memo[key]
    if isinstance(b, int):
        key = (function, b)
        if key not in a.memo:
            a.memo[key] = make(a.vars, function(a.tab, np.int32(b)))
        return a.memo[key]
    if a.vars == b.vars:
        return make(a.vars, function(a.tab, b.tab))
    variables = union(a, b)
    return make(variables, np.ascontiguousarray(function(spread(a, variables), spread(b, variables))).ravel())


def bit(value: Value, number: int) -> Value:
    """One bit of a value."""
    return (value >> number) & 1


def zero(value: Value) -> Value:
    """1 where it is 0."""
    if isinstance(value, int):
        return int(value == 0)
    if "zero" not in value.memo:
        value.memo["zero"] = make(value.vars, (value.tab == 0).astype(np.int32))
    return value.memo["zero"]


def among(value: Value, numbers: tuple[int, ...]) -> Value:
    """1 where it is one of some numbers."""
    if isinstance(value, int):
        return int(value in numbers)
    return make(value.vars, np.isin(value.tab, numbers).astype(np.int32))


def gt(a: Value, b: Value) -> Value:
    """1 where a is above b."""
    if isinstance(a, int) and isinstance(b, int):
        return int(a > b)
    difference = a - b
    if isinstance(difference, int):
        return int(difference > 0)
    if "above" not in difference.memo:
        difference.memo["above"] = make(difference.vars, (difference.tab > 0).astype(np.int32))
    return difference.memo["above"]


def parity(value: Value) -> Value:
    """1 where a byte has an even number of ones."""
    folded = value ^ (value >> 4)
    folded = folded ^ (folded >> 2)
    return ((folded ^ (folded >> 1)) & 1) ^ 1


def choose(condition: Sym, yes: Value, no: Value) -> Value:
    """`yes` where the condition is 1, `no` where it is 0."""
    if isinstance(yes, int) and isinstance(no, int):
        return make(condition.vars, np.where(condition.tab != 0, yes, no).astype(np.int32))
    variables = union(*(v for v in (condition, yes, no) if isinstance(v, Sym)))
    picked = np.where(over(condition, variables) != 0, over(yes, variables), over(no, variables))
    return make(variables, picked.astype(np.int32))


def substitute(value: Value, forced: dict[int, int]) -> Value:
    """The value where some variables are known."""
    if isinstance(value, int):
        return value
    rest = tuple([v for v in value.vars if v not in forced])
    if len(rest) == len(value.vars):
        return value
    if not rest:
        return int(value.tab[sum([forced[v] << k for k, v in enumerate(value.vars)])])
    index = tuple([forced.get(v, slice(None)) for v in reversed(value.vars)])
    return make(rest, np.ascontiguousarray(value.tab.reshape((2,) * len(value.vars))[index]).ravel())


def joined(constraints: Constraints, variables: tuple[int, ...]) -> tuple[Sym | None, Constraints]:
    """The constraints that share one of the variables as one, and the others."""
    wanted = set(variables)
    mine = [c for c in constraints if wanted.intersection(c.vars)]
    if not mine:
        return None, constraints
    rest = tuple(c for c in constraints if not wanted.intersection(c.vars))
    one: Value = mine[0]
    for other in mine[1:]:
        one = one & other
    assert isinstance(one, Sym)  # disjoint satisfiable constraints
    return one, rest


def allowed(constraints: Constraints, value: Sym) -> tuple[tuple[int, ...], Table, npt.NDArray[np.bool_]]:
    """The value's table over its own and the constraints' variables, and where the constraints hold."""
    one, _ = joined(constraints, value.vars)
    if one is None:
        return value.vars, value.tab, np.ones(len(value.tab), dtype=np.bool_)
    variables = union(value, one)
    return variables, over(value, variables), over(one, variables) != 0


def possible(constraints: Constraints, value: Value) -> list[int]:
    """Every number the value can be, rising."""
    if isinstance(value, int):
        return [value]
    _, tab, mask = allowed(constraints, value)
    return _distinct(tab[mask])


def _distinct(numbers: Table) -> list[int]:
    """The different numbers of a table, rising."""
    if not len(numbers):
        return []
    least, most = int(numbers.min()), int(numbers.max())
    if most - least > 1 << 20:
        far: list[int] = np.unique(numbers).tolist()
        return far
    seen = np.zeros(most - least + 1, dtype=np.bool_)
    seen[numbers - least] = True
    found: list[int] = (seen.nonzero()[0] + least).tolist()
    return found


def constrain(constraints: Constraints, condition: Value) -> tuple[Constraints, dict[int, int]] | None:
    """Add a condition: the new constraints and the variables it forces; None where it cannot hold."""
    if isinstance(condition, int):
        return (constraints, {}) if condition else None
    one, rest = joined(constraints, condition.vars)
    both = condition if one is None else one & condition
    if isinstance(both, int):
        return (rest, {}) if both else None
    forced: dict[int, int] = {}
    cube = both.tab.reshape((2,) * len(both.vars))
    for axis, v in enumerate(reversed(both.vars)):
        if not cube.take(0, axis).any():
            forced[v] = 1
        elif not cube.take(1, axis).any():
            forced[v] = 0
    left = substitute(both, forced)
    return ((*rest, left) if isinstance(left, Sym) else rest), forced


def project(constraints: Constraints, live: set[int]) -> Constraints:
    """The constraints on the live variables alone: the others may be anything that fits."""
    kept: list[Sym] = []
    for one in constraints:
        dead = [v for v in one.vars if v not in live]
        if not dead:
            kept.append(one)
            continue
        if len(dead) == len(one.vars):
            continue
        axes = tuple(axis for axis, v in enumerate(reversed(one.vars)) if v in dead)
        tab = one.tab.reshape((2,) * len(one.vars)).max(axis=axes)
        left = make(tuple(v for v in one.vars if v in live), np.ascontiguousarray(tab).ravel())
        if isinstance(left, Sym):
            kept.append(left)
    return tuple(sorted(kept, key=lambda c: c.key))

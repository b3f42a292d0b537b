"""Counts in patterns: small integer expressions over the parameters that stand before them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Mapping

Step: TypeAlias = int | str  # a number, a parameter's name, or one of + - * /

_TOKEN = re.compile(r"\d+|[a-z][a-z0-9_]*|[-+*/()]")
_RANK = {"+": 1, "-": 1, "*": 2, "/": 2}
MAX_COUNT = 1 << 24


@dataclass(frozen=True, slots=True)
class Count:
    """A count as written and as steps in postfix order; ``/`` drops the remainder."""

    text: str
    steps: tuple[Step, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The parameters it uses, in the order of their first use."""
        return tuple(dict.fromkeys(s for s in self.steps if isinstance(s, str) and s not in _RANK))

    def value(self, values: Mapping[str, int]) -> int:
        """The count under these parameters; a result below zero is given as it is."""
        stack: list[int] = []
        for step in self.steps:
            if isinstance(step, int):
                stack.append(step)
            elif step in _RANK:
                right = stack.pop()
                left = stack.pop()
                stack.append(_apply(step, left, right))
            else:
                stack.append(values[step])
        return stack[0]

    def __str__(self) -> str:
        return self.text


def _apply(sign: str, left: int, right: int) -> int:
    if sign == "+":
        return left + right
    if sign == "-":
        return left - right
    return left * right if sign == "*" else left // right


def parse_count(text: str) -> Count:
    """Read ``8``, ``n`` or ``(2*n+1)``.  Refuses other signs, missing operands, division by anything but a number."""
    tokens = _TOKEN.findall(text)
    if not tokens or "".join(tokens) != text:
        raise ValueError(f"count {text!r} is not a number, a parameter or an expression of + - * / in brackets")
    steps: list[Step] = []
    signs: list[str] = []
    wants_operand = True
    for token in tokens:
        if token == "(" or token[0].isalnum():
            if not wants_operand:
                raise ValueError(f"count {text!r} lacks a sign before {token!r}")
            if token == "(":
                signs.append(token)
            else:
                steps.append(int(token) if token.isdigit() else token)
                wants_operand = False
            continue
        if wants_operand:
            raise ValueError(f"count {text!r} lacks an operand before {token!r}")
        _place_sign(token, steps, signs, text)
        wants_operand = token != ")"
    if wants_operand:
        raise ValueError(f"count {text!r} ends where an operand is due")
    while signs:
        if signs[-1] == "(":
            raise ValueError(f"count {text!r} has a bracket that is not closed")
        steps.append(signs.pop())
    count = Count(text, tuple(steps))
    _refuse_bad_values(count)
    return count


def _place_sign(token: str, steps: list[Step], signs: list[str], text: str) -> None:
    if token == ")":
        while signs and signs[-1] != "(":
            steps.append(signs.pop())
        if not signs:
            raise ValueError(f"count {text!r} has a bracket that was not opened")
        signs.pop()
        return
    while signs and signs[-1] != "(" and _RANK[signs[-1]] >= _RANK[token]:
        steps.append(signs.pop())
    signs.append(token)


def _refuse_bad_values(count: Count) -> None:
    for before, step in zip(count.steps, count.steps[1:], strict=False):
        if step == "/" and (not isinstance(before, int) or before == 0):
            raise ValueError(f"count {count.text!r} may divide by a number above zero only")
    if any(isinstance(step, int) and step > MAX_COUNT for step in count.steps):
        raise ValueError(f"count {count.text!r} holds a number above {MAX_COUNT}")

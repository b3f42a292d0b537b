"""The notation of byte patterns (docs/device-table.md) and what a pattern consists of."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass
from typing import TypeAlias

from latchlore.device._counts import Count, parse_count

MAX_SLOTS = 24
"""Bytes of a pattern, counted and terminated data apart; the compiled reader keeps one number for each."""

MAX_READINGS = 64
ANY = frozenset(range(256))
DIGIT_BYTES = frozenset(range(0x30, 0x3A))

_DOUBT = re.compile(r"\{([^{}]{2,8})\}")
_NAME = re.compile(r"[a-z][a-z0-9_]*")
_ATOM = re.compile(r"'(?P<char>[ -~])'|(?P<byte>[0-9A-F]{2})")
_BITS = re.compile(r"%([01a-z-]{8})")
_SET = re.compile(r"(?:'[ -~]'|[0-9A-F]{2})(?:(?:\.\.|\|)(?:'[ -~]'|[0-9A-F]{2}))*")


@dataclass(frozen=True, slots=True)
class Field:
    """Bits of one byte that make up (a part of) a parameter.

    `bits`: the bit numbers, most significant first.  `weight`: place of the lowest of them in the parameter (0, or 8
    for the high byte of a two-byte number).
    """

    name: str
    bits: tuple[int, ...]
    weight: int = 0

    def value(self, byte: int) -> int:
        """The byte's share of the parameter."""
        number = 0
        for bit in self.bits:
            number = number << 1 | (byte >> bit & 1)
        return number << self.weight


_WHOLE = (7, 6, 5, 4, 3, 2, 1, 0)


@dataclass(frozen=True, slots=True)
class OneByte:
    """One byte out of a set, which may carry parameters."""

    values: frozenset[int]
    fields: tuple[Field, ...] = ()


@dataclass(frozen=True, slots=True)
class Digits:
    """A number written in decimal digits."""

    name: str


@dataclass(frozen=True, slots=True)
class Counted:
    """As many bytes as the count says."""

    name: str
    count: Count


@dataclass(frozen=True, slots=True)
class Until:
    """Bytes up to and including the first one out of a set."""

    name: str
    stops: frozenset[int]


Part: TypeAlias = OneByte | Digits | Counted | Until


@dataclass(frozen=True, slots=True)
class Pattern:
    """A pattern as written and as parts; `others` are the further readings that the transcriber's doubt leaves."""

    text: str
    parts: tuple[Part, ...]
    others: tuple[Pattern, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the parameters that are numbers, in order."""
        found: dict[str, None] = {}
        for part in self.parts:
            if isinstance(part, OneByte):
                found.update((field.name, None) for field in part.fields)
            elif isinstance(part, Digits):
                found[part.name] = None
        return tuple(found)

    @property
    def data_names(self) -> tuple[str, ...]:
        """Names of the data, in order."""
        return tuple(part.name for part in self.parts if isinstance(part, Counted | Until))

    @property
    def fixed(self) -> bytes:
        """The leading bytes that never change."""
        lead = itertools.takewhile(lambda part: isinstance(part, OneByte) and len(part.values) == 1, self.parts)
        return bytes(min(part.values) for part in lead if isinstance(part, OneByte))

    @property
    def head(self) -> tuple[frozenset[int], ...]:
        """The sets of the leading bytes whose number is known."""
        lead = itertools.takewhile(lambda part: isinstance(part, OneByte), self.parts)
        return tuple(part.values for part in lead if isinstance(part, OneByte))

    @property
    def code(self) -> str:
        """The name of the command among its like: the fixed bytes, or the first part where nothing is fixed."""
        fixed = self.fixed
        if fixed:
            return " ".join(f"{byte:02X}" for byte in fixed)
        first = self.parts[0]
        return set_text(first.values) if isinstance(first, OneByte) else self.text

    def __str__(self) -> str:
        return self.text


def set_text(values: frozenset[int]) -> str:
    """``20..7E|80`` for a set of bytes."""
    runs: list[list[int]] = []
    for value in sorted(values):
        if runs and runs[-1][1] == value - 1:
            runs[-1][1] = value
        else:
            runs.append([value, value])
    return "|".join(f"{a:02X}" if a == b else f"{a:02X}..{b:02X}" for a, b in runs)


def readings(text: str) -> tuple[str, ...]:
    """Every reading of a text with doubtful digits ``{8B}``, the transcriber's own first.  Refuses over 64."""
    pieces = _DOUBT.split(text)
    if "{" in "".join(pieces[::2]) or "}" in "".join(pieces[::2]):
        raise ValueError(f"a doubtful digit is written {{8B}} with two to eight readings, not {text!r}")
    total = 1
    for choices in pieces[1::2]:
        total *= len(choices)
    if total > MAX_READINGS:
        raise ValueError(f"{total} readings are more than {MAX_READINGS} in {text!r}")
    options = [[piece] if i % 2 == 0 else list(piece) for i, piece in enumerate(pieces)]
    return tuple("".join(combination) for combination in itertools.product(*options))


def parse_pattern(text: str) -> Pattern:
    """Read a pattern.  Refuses an unknown part, a name used twice, a count of what does not stand before it."""
    first, *rest = readings(text)
    parts = _parse_parts(first)
    others = []
    for other in rest:
        try:
            others.append(Pattern(other, _parse_parts(other)))
        except ValueError:
            continue  # a reading that is no pattern is no reading
    return Pattern(first, parts, tuple(others))


def _parse_parts(text: str) -> tuple[Part, ...]:
    parts = tuple(_parse_part(word) for word in _split(text))
    if not parts:
        raise ValueError("a pattern has at least one part")
    slots = sum(isinstance(part, OneByte | Digits) for part in parts)
    if slots > MAX_SLOTS:
        raise ValueError(f"a pattern has at most {MAX_SLOTS} parts outside its data; here are {slots}")
    if not isinstance(parts[0], OneByte):
        raise ValueError("a pattern begins with one byte, not with a number in digits or with data")
    _check_names(parts)
    _check_digits(parts)
    return parts


def _split(text: str) -> list[str]:
    """The parts; a space between quotes does not split."""
    return re.findall(r"(?:'[ -~]'|\S)+", text)


def _parse_part(word: str) -> Part:
    if bits := _BITS.fullmatch(word):
        return _bit_byte(bits[1])
    if _SET.fullmatch(word):
        return OneByte(parse_set(word))
    name_match = _NAME.match(word)
    if name_match is None:
        raise ValueError(f"part {word!r} is not understood; a byte is two upper-case hexadecimal digits")
    name, rest = name_match[0], word[name_match.end() :]
    if not rest:
        return OneByte(ANY, (Field(name, _WHOLE),))
    if rest in (".lo", ".hi"):
        return OneByte(ANY, (Field(name, _WHOLE, 8 if rest == ".hi" else 0),))
    if rest == "#":
        return Digits(name)
    if rest.startswith("="):
        return OneByte(parse_set(rest[1:]), (Field(name, _WHOLE),))
    if rest.startswith("*"):
        return Counted(name, parse_count(rest[1:]))
    if rest.startswith("->"):
        return Until(name, parse_set(rest[2:]))
    raise ValueError(f"part {word!r} is not understood; after a name come =, *, ->, #, .lo or .hi")


def parse_set(text: str) -> frozenset[int]:
    """Read ``00|30|'A'..'F'``.  Refuses an empty range and anything else."""
    if not _SET.fullmatch(text):
        raise ValueError(f"{text!r} is not a set of bytes such as 00..3F|80 or 'A'..'F'")
    values: set[int] = set()
    tokens = re.findall(r"'[ -~]'|[0-9A-F]{2}|\.\.|\|", text)
    position = 0
    while position < len(tokens):
        first = last = _atom(tokens[position])
        position += 1
        if position < len(tokens) and tokens[position] == "..":
            last = _atom(tokens[position + 1])
            position += 2
        if last < first:
            raise ValueError(f"range {first:02X}..{last:02X} is empty")
        values.update(range(first, last + 1))
        if position < len(tokens) and tokens[position] == "..":
            raise ValueError(f"{text!r} is not a set of bytes such as 00..3F|80 or 'A'..'F'")
        position += 1
    return frozenset(values)


def _atom(token: str) -> int:
    match = _ATOM.fullmatch(token)
    assert match is not None
    return ord(match["char"]) if match["char"] is not None else int(match["byte"], 16)


def _bit_byte(bits: str) -> OneByte:
    care = sum(1 << (7 - i) for i, sign in enumerate(bits) if sign in "01")
    fixed = sum(1 << (7 - i) for i, sign in enumerate(bits) if sign == "1")
    names = dict.fromkeys(sign for sign in bits if sign.isalpha())
    fields = tuple(Field(name, tuple(7 - i for i, sign in enumerate(bits) if sign == name)) for name in names)
    return OneByte(frozenset(value for value in range(256) if value & care == fixed), fields)


def _check_names(parts: tuple[Part, ...]) -> None:
    seen: set[tuple[str, int]] = set()
    complete_at: dict[str, int] = {}
    for index, part in enumerate(parts):
        for key in _keys(part):
            if key in seen:
                raise ValueError(f"name {key[0]!r} is used twice")
            seen.add(key)
            complete_at[key[0]] = index
    for name, weight in sorted(seen):
        if weight == 8 and (name, 0) not in seen:
            raise ValueError(f"{name}.hi has no {name}.lo beside it")
    for index, part in enumerate(parts):
        if not isinstance(part, Counted):
            continue
        for name in part.count.names:
            if name == part.name:
                raise ValueError(f"count of {name!r} refers to itself")
            if complete_at.get(name, index) >= index or name in _data_names(parts):
                raise ValueError(f"count of {part.name!r} uses {name!r}, which is no number that stands before it")


def _check_digits(parts: tuple[Part, ...]) -> None:
    """The end of a number in digits must be seen from the byte behind it."""
    for part, after in zip(parts, (*parts[1:], None), strict=True):
        if isinstance(part, Digits) and not (isinstance(after, OneByte) and not after.values & DIGIT_BYTES):
            raise ValueError(f"behind the digits of {part.name!r} comes one byte that is no digit")


def _data_names(parts: tuple[Part, ...]) -> frozenset[str]:
    return frozenset(part.name for part in parts if isinstance(part, Counted | Until))


def _keys(part: Part) -> tuple[tuple[str, int], ...]:
    if isinstance(part, OneByte):
        return tuple((field.name, field.weight) for field in part.fields)
    return ((part.name, 0),)

"""The shared values as text and back, without executing anything: for the cache.

JSON, in which numbers, text, truth values and null stand for themselves and everything else is a list that begins
with its kind: ``["tuple", ...]``, ``["list", ...]``, ``["set", ...]`` (a frozenset, sorted by its text), ``["dict",
key, value, ...]``, ``["bytes", "1b4b"]``, ``["fraction", "1/3"]``, ``["enum", class, value]`` and ``["record", class,
field, ...]`` for the frozen records of `latchlore.base` and those made known with `register_records`.
"""

from __future__ import annotations

import dataclasses
import json
from enum import Enum
from fractions import Fraction
from typing import Any

import latchlore.base

_RECORDS: dict[str, type] = {}
_ENUMS: dict[str, type[Enum]] = {}


def register_records(*classes: type) -> None:
    """Make further frozen records and enumerations known.  Refuses others, and a name that is taken."""
    for cls in classes:
        table: dict[str, Any] = _ENUMS if issubclass(cls, Enum) else _RECORDS
        if table is _RECORDS and not dataclasses.is_dataclass(cls):
            raise TypeError(f"a record is a data class, not {cls!r}")
        if table.setdefault(cls.__name__, cls) is not cls:
            raise ValueError(f"the name {cls.__name__!r} is taken by {table[cls.__name__]!r}")


def encode(value: object) -> str:
    """One line of text for a value.  Refuses (TypeError) a kind it does not know."""
    return json.dumps(_pack(value), separators=(",", ":"), ensure_ascii=False)


def decode(text: str) -> object:
    """The value of a text.  Refuses (ValueError) what `encode` does not write."""
    try:
        return _unpack(json.loads(text))
    except (LookupError, TypeError) as error:
        raise ValueError(f"not a kept value: {error!r}") from error


def _pack(value: object) -> Any:
    if value is None or type(value) in (bool, int, float, str):
        return value
    if isinstance(value, Enum):
        return ["enum", _known(_ENUMS, type(value)), value.value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = (getattr(value, field.name) for field in dataclasses.fields(value))
        return ["record", _known(_RECORDS, type(value)), *map(_pack, fields)]
    match value:
        case bytes():
            return ["bytes", value.hex()]
        case Fraction():
            return ["fraction", str(value)]
        case tuple():
            return ["tuple", *map(_pack, value)]
        case list():
            return ["list", *map(_pack, value)]
        case frozenset():
            return ["set", *sorted(map(_pack, value), key=json.dumps)]
        case dict():
            return ["dict", *(_pack(part) for pair in value.items() for part in pair)]
    raise TypeError(f"a value of {type(value).__name__} cannot be kept")


def _known(table: dict[str, Any], cls: type) -> str:
    if table.get(cls.__name__) is not cls:
        raise TypeError(f"a value of {cls.__name__} cannot be kept")
    return str(cls.__name__)


def _unpack(packed: Any) -> Any:
    if not isinstance(packed, list):
        if isinstance(packed, dict):
            raise ValueError("not a kept value: an object")
        return packed
    kind, *rest = packed
    match kind:
        case "tuple":
            return tuple(map(_unpack, rest))
        case "record":
            name, *fields = rest
            cls = _RECORDS[name]
            return cls(**dict(zip((f.name for f in dataclasses.fields(cls)), map(_unpack, fields), strict=True)))
        case "enum":
            name, value = rest
            return _ENUMS[name](value)
        case "list":
            return list(map(_unpack, rest))
        case "set":
            return frozenset(map(_unpack, rest))
        case "dict":
            parts = list(map(_unpack, rest))
            return dict(zip(parts[::2], parts[1::2], strict=True))
        case "bytes":
            return bytes.fromhex(*rest)
        case "fraction":
            return Fraction(*rest)
    raise ValueError(f"not a kept value: kind {kind!r}")


register_records(
    *(
        value
        for value in (getattr(latchlore.base, name) for name in latchlore.base.__all__)
        if isinstance(value, type) and (dataclasses.is_dataclass(value) or issubclass(value, Enum))
    )
)

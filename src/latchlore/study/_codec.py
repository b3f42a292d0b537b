"""The shared values as text and back, without executing anything: for the cache.

The text is one JSON list of rows and, last, the value itself.  A row is a value that is no plain one: its kind and its
parts.  A part (and the last element) is null, a truth value, a number or text, standing for itself, or ``[n]``, which
stands for row n of those before.  Kinds: ``tuple``, ``list``, ``set`` (a frozenset, parts sorted by their text),
``dict`` (key, value, key, value, ...), ``bytes`` (hexadecimal), ``fraction`` (``1/3``), and the class names of the
frozen records and enumerations of `latchlore.base` and of those made known with `register_records`.  Equal values share
one row, so that a graph with many equal conditions stays small, and is
read back as one object each; lists and dicts do not.
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
_FIELDS: dict[type, tuple[str, ...]] = {}
_PLAIN = frozenset({type(None), bool, int, float, str})


def register_records(*classes: type) -> None:
    """Make further frozen records and enumerations known.  Refuses others, and a name that is taken."""
    for cls in classes:
        is_enum = issubclass(cls, Enum)
        if not is_enum and not dataclasses.is_dataclass(cls):
            raise TypeError(f"a record is a data class, not {cls!r}")
        taken = _RECORDS.get(cls.__name__) or _ENUMS.get(cls.__name__)
        if taken not in (None, cls):
            raise ValueError(f"the name {cls.__name__!r} is taken by {taken!r}")
        if is_enum:
            _ENUMS[cls.__name__] = cls
        else:
            _RECORDS[cls.__name__] = cls
            _FIELDS[cls] = tuple(field.name for field in dataclasses.fields(cls))


def encode(value: object) -> str:
    """One line of text for a value.  Refuses (TypeError) a kind it does not know."""
    packer = _Packer()
    last = packer.pack(value)
    return f"[{','.join([*packer.rows, _text(last)])}]"


def decode(text: str) -> Any:
    """The value of a text.  Refuses (ValueError) what is none."""
    try:
        *rows, last = json.loads(text)
        built: list[Any] = []
        for kind, *parts in rows:
            built.append(_unpack(kind, [built[part[0]] if type(part) is list else part for part in parts]))
        return built[last[0]] if isinstance(last, list) else last
    except (LookupError, TypeError, ArithmeticError, RecursionError) as error:
        raise ValueError(f"not a kept value: {error!r}") from error


_text = json.JSONEncoder(separators=(",", ":"), ensure_ascii=False).encode


class _Packer:
    """The rows of one text; every value is packed once."""

    def __init__(self) -> None:
        self.rows: list[str] = []
        self._row_of_text: dict[str, int] = {}
        self._row_of_object: dict[int, tuple[int, object]] = {}  # the object is kept, so that its id stays its own

    def pack(self, value: object) -> Any:
        """What stands for the value: itself, or the list with its row's number."""
        if type(value) in _PLAIN:
            return value
        known = self._row_of_object.get(id(value))
        if known is not None:
            return [known[0]]
        text = _text(self._row(value))
        row = len(self.rows)
        if not isinstance(value, list | dict):  # those may be changed by their owner, so each stays its own
            row = self._row_of_text.setdefault(text, row)
        if row == len(self.rows):
            self.rows.append(text)
        self._row_of_object[id(value)] = (row, value)
        return [row]

    def _row(self, value: object) -> list[Any]:
        cls = type(value)
        if cls in _FIELDS:
            return [cls.__name__, *(self.pack(getattr(value, name)) for name in _FIELDS[cls])]
        match value:
            case Enum() if _ENUMS.get(cls.__name__) is cls:
                return [cls.__name__, value.value]
            case tuple() | list() if cls in (tuple, list):
                return [cls.__name__, *map(self.pack, value)]
            case frozenset():
                return ["set", *sorted(map(self.pack, value), key=_text)]
            case dict():
                return ["dict", *(self.pack(part) for pair in value.items() for part in pair)]
            case bytes():
                return ["bytes", value.hex()]
            case Fraction():
                return ["fraction", str(value)]
        raise TypeError(f"a value of {cls.__name__} cannot be kept")


def _unpack(kind: str, parts: list[Any]) -> Any:
    if kind in _RECORDS:
        cls = _RECORDS[kind]
        if len(parts) != len(_FIELDS[cls]):
            raise TypeError(f"{kind} has {len(_FIELDS[cls])} fields, not {len(parts)}")
        return cls(*parts)
    match kind:
        case "tuple":
            return tuple(parts)
        case "list":
            return parts
        case "set":
            return frozenset(parts)
        case "dict":
            return dict(zip(parts[::2], parts[1::2], strict=True))
        case "bytes":
            return bytes.fromhex(*parts)
        case "fraction":
            return Fraction(*parts)
    return _ENUMS[kind](*parts)


register_records(
    *(
        value
        for value in (getattr(latchlore.base, name) for name in latchlore.base.__all__)
        if isinstance(value, type) and (dataclasses.is_dataclass(value) or issubclass(value, Enum))
    )
)

"""The declarations at the head of a VCD file: time scale and variables (IEEE 1364-2005, clause 18.2)."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, Unsupported
from latchlore.wire import _capturewording as words
from latchlore.wire._capture import ChannelKind
from latchlore.wire._places import count_line_ends

if TYPE_CHECKING:
    from collections.abc import Iterator

HEAD_MOST = 64 * 2**20
"""The declarations may take so many bytes."""
END_OF_HEAD = b"$enddefinitions"
SAME_MOST = 8
"""So many names that several variables have are noted one by one."""
WIDTH_MOST = 1 << 16
_FEMTOSECONDS = {"fs": 1, "ps": 10**3, "ns": 10**6, "us": 10**9, "ms": 10**12, "s": 10**15}
_SCALE = re.compile(r"(1|10|100)\s*(fs|ps|ns|us|ms|s)")
_REALS = {"real", "realtime"}
_LINES = {
    *("event", "integer", "parameter", "reg", "supply0", "supply1", "time", "tri", "triand", "trior", "trireg"),
    *("tri0", "tri1", "wand", "wire", "wor"),
}
_SKIPPED = {"$comment", "$date", "$version"}


@dataclass(slots=True)
class Variable:
    """A channel as the head declares it: `code` is the identifier by which changes name it."""

    code: bytes
    names: list[str]
    kind: ChannelKind
    width: int
    bits: str


@dataclass(frozen=True, slots=True)
class Head:
    """Declarations: a tick is `scale` / `divisor` picoseconds, one of the two is 1."""

    scale: int
    divisor: int
    variables: tuple[Variable, ...]
    notes: tuple[str, ...]


def parse_head(raw: bytes, file: str) -> Head:
    """The declarations, up to and without `$enddefinitions`.  Refuses what clause 18.2 does not know."""
    scale: tuple[int, int] | None = None
    scopes: list[str] = []
    by_code: dict[bytes, Variable] = {}
    notes: list[str] = []
    for keyword, body, line in _sections(raw, file):
        place = Origin.at_line(file, line)
        if keyword == "$timescale":
            scale = _scale(" ".join(body), place)
        elif keyword == "$scope":
            if len(body) != 2:
                raise BadInput(place, words.SCOPE.format(body=" ".join(body)))
            scopes.append(body[1])
        elif keyword == "$upscope":
            if not scopes:
                raise BadInput(place, words.UPSCOPE)
            scopes.pop()
        elif keyword == "$var":
            _declare(body, scopes, by_code, place)
        elif keyword not in _SKIPPED:
            raise BadInput(place, words.KEYWORD_IN_HEAD.format(keyword=keyword))
    if scale is None:
        scale = (1000, 1)
        notes.append(words.NO_TIMESCALE)
    if not by_code:
        raise BadInput(Origin(file), words.NO_VARIABLES)
    notes += _part_names(by_code)
    return Head(*scale, tuple(by_code.values()), tuple(notes))


def _part_names(by_code: dict[bytes, Variable]) -> list[str]:
    """Number the variables of one name from the second on, so that each can be named; a sentence on each name."""
    count: dict[str, int] = {}
    for variable in by_code.values():
        for k, name in enumerate(variable.names):
            count[name] = count.get(name, 0) + 1
            if count[name] > 1:
                variable.names[k] = f"{name}#{count[name]}"
    twice = [(name, num) for name, num in count.items() if num > 1]
    said = [words.SAME_NAME.format(count=num, name=name, last=f"{name}#{num}") for name, num in twice[:SAME_MOST]]
    return [*said, *([words.SAME_MORE.format(count=len(twice) - SAME_MOST)] if len(twice) > SAME_MOST else [])]


def _sections(raw: bytes, file: str) -> Iterator[tuple[str, list[str], int]]:
    """Each declaration: keyword, the words up to its `$end`, the line of its keyword."""
    tokens = re.finditer(rb"\S+", raw)
    at = counted = 0
    line = 1
    for token in tokens:
        at = token.start()
        line += count_line_ends(raw[counted:at])
        counted = at
        keyword = token[0].decode("utf-8", "replace")
        if not keyword.startswith("$"):
            raise BadInput(Origin.at_line(file, line), words.NO_KEYWORD.format(text=keyword[:40]))
        body: list[str] = []
        for part in tokens:
            if part[0] == b"$end":
                break
            body.append(part[0].decode("utf-8", "replace"))
        else:
            raise BadInput(Origin.at_line(file, line), words.NO_END.format(keyword=keyword))
        yield keyword, body, line


def _scale(text: str, place: Origin) -> tuple[int, int]:
    match = _SCALE.fullmatch(text.strip())
    if match is None:
        raise BadInput(place, words.TIMESCALE.format(text=text))
    femtoseconds = int(match[1]) * _FEMTOSECONDS[match[2]]
    return (femtoseconds // 1000, 1) if femtoseconds >= 1000 else (1, 1000 // femtoseconds)


def _declare(body: list[str], scopes: list[str], by_code: dict[bytes, Variable], place: Origin) -> None:
    if len(body) < 4:
        raise BadInput(place, words.VARIABLE.format(body=" ".join(body)))
    form, size, code, reference = body[:4]
    bits = "".join(body[4:])
    if "[" in reference and not bits:  # written without the blank: d[7:0]
        reference, _, rest = reference.partition("[")
        bits = f"[{rest}"
    if form == "port":
        raise Unsupported(place, words.EXTENDED.format(what="$var port"))
    if form not in _REALS and form not in _LINES:
        raise Unsupported(place, words.VARIABLE_KIND.format(kind=form))
    if not size.isdecimal() or not 1 <= int(size) <= WIDTH_MOST:
        raise BadInput(place, words.VARIABLE_WIDTH.format(name=reference, width=size, most=WIDTH_MOST))
    width = int(size)
    lines = ChannelKind.LOGIC if width == 1 else ChannelKind.VECTOR
    kind = ChannelKind.REAL if form in _REALS else lines
    name = ".".join([*scopes, reference]) + (bits if kind is ChannelKind.LOGIC else "")
    key = code.encode()
    known = by_code.get(key)
    if known is None:
        by_code[key] = Variable(key, [name], kind, width, "" if kind is ChannelKind.LOGIC else bits)
    elif (known.kind, known.width) != (kind, width):
        raise BadInput(place, words.SAME_CODE.format(code=code, first=known.names[0], second=name))
    elif name not in known.names:
        known.names.append(name)

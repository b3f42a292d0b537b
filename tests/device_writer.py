"""Random command tables, without modes and with, and a writer of their streams that keeps book of the modes itself."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, NamedTuple

from hypothesis import assume
from hypothesis import strategies as st

from latchlore.base import BadInput
from latchlore.device import Command, Device, read_device
from latchlore.device._patterns import Counted, Digits, OneByte, Pattern, Until

if TYPE_CHECKING:
    from collections.abc import Mapping

HEAD = 'title = "t"\ndevice = "d"\nkind = "manual"\n'
MODES = '[[mode]]\nname = "font"\nvalues = ["text", "dots", "tune"]\nstart = "text"\n'
WHEN = ("", "", 'when = { font = "text" }\n', 'when = { font = "dots" }\n')
SETS = ("", "", "", 'sets = { font = "dots" }\n', 'sets = { font = "text", wide = "on" }\n', 'does = "reset"\n')
TAILS = (
    *("", "", "n", "n d*n", "n d*(n/16+1)", "%aaaabbbb d*(a+b)", "d->FF", "n# 'm'", "d*3 e", "n d*(n/32) e->00"),
    *("n.lo n.hi d*(n/4096)", "n=00..07 d*(2*n+1) '!'", "n m d*(n/64) e*(m/64)", "d->00|0D"),
)


class Written(NamedTuple):
    """One row as it was written: where it begins, which row, and the modes in force at its beginning."""

    start: int
    row: int
    modes: dict[str, str]


def _byte(draw: st.DrawFn, small: bool) -> str:
    kind = draw(st.integers(0, 3))
    low = draw(st.integers(0, 15))
    if small or kind < 2:
        return f"{low:02X}"
    return f"{low:02X}..{low + draw(st.integers(0, 8)):02X}" if kind == 2 else f"%0000a0{low & 1}b"


@st.composite
def tables(draw: st.DrawFn) -> Device:
    """A random table without overlaps, with parameters, bit fields, counted and terminated data."""
    rows: list[str] = []
    for _ in range(draw(st.integers(2, 7))):
        words = [_byte(draw, small=draw(st.booleans()))]
        words += [_byte(draw, small=True) for _ in range(draw(st.integers(0, 2)))]
        tail = draw(
            st.sampled_from(["", "n", "n d*n", "n d*(n/16+1)", "%aaaabbbb d*(a+b)", "d->FF", "n# 'm'", "d*3 e"])
        )
        pattern = " ".join([*words, tail]).strip()
        rows.append(f'[[command]]\npattern = "{pattern}"\nmeaning = "m{len(rows)}"\n')
    return _without_overlaps(HEAD + "".join(rows))


@st.composite
def moded_tables(draw: st.DrawFn) -> Device:
    """Tables in which rows depend on a mode, set it, or set it by a parameter; printed text in one of the modes."""
    rows = ['[[command]]\npattern = "20..7E"\nmeaning = "print"\ndoes = "print"\nwhen = { font = "text" }\n']
    if draw(st.booleans()):
        rows.append('[[command]]\npattern = "40..FE"\nmeaning = "dot"\nwhen = { font = "dots" }\n')
    if draw(st.booleans()):
        rows.append(
            '[[command]]\npattern = "1B 7F n"\nmeaning = "font"\nsets_from = { font = "n" }\n'
            '[command.parameters]\nn = { values = { 0 = "text", 1 = "dots", 48 = "tune" } }\n'
        )
    for index in range(draw(st.integers(2, 8))):
        lead = draw(
            st.sampled_from([f"{index + 1:02X}", f"1B {index + 0x10:02X}", f"1B {index + 0x41:02X}", "1C 10..1F"])
        )
        pattern = f"{lead} {draw(st.sampled_from(TAILS))}".strip()
        more = draw(st.sampled_from(WHEN)) + draw(st.sampled_from(SETS))
        rows.append(f'[[command]]\npattern = "{pattern}"\nmeaning = "m{index}"\n{more}')
    return _without_overlaps(HEAD + MODES + "".join(rows))


def _without_overlaps(text: str) -> Device:
    """The document; another is drawn where its rows overlap."""
    try:
        return read_device(text.encode(), "documents/t.toml")
    except BadInput:
        assume(False)
        raise


def write_row(pattern: Pattern, rng: random.Random) -> tuple[bytes, dict[str, int]]:
    """Bytes that fit a pattern, and the values of its parameters."""
    made = bytearray()
    values: dict[str, int] = {}
    for part in pattern.parts:
        if isinstance(part, OneByte):
            byte = rng.choice(sorted(part.values))
            made.append(byte)
            for field in part.fields:
                values[field.name] = values.get(field.name, 0) + field.value(byte)
        elif isinstance(part, Digits):
            values[part.name] = rng.randrange(1000)
            made += str(values[part.name]).encode()
        elif isinstance(part, Counted):
            made += rng.randbytes(max(0, part.count.value(values)))
        elif isinstance(part, Until):
            body = [byte for byte in rng.randbytes(rng.randrange(6)) if byte not in part.stops]
            made += bytes([*body, min(part.stops)])
    return bytes(made), values


def write_stream(device: Device, rng: random.Random, num_rows: int) -> tuple[bytes, list[Written]]:
    """Rows that hold in the modes in force, one behind the other."""
    start = {mode.name: mode.start for mode in device.modes}
    modes, data = dict(start), b""
    written = []
    for _ in range(num_rows):
        valid = [row for row in device.commands if all(modes[name] == value for name, value in row.when.items())]
        if not valid:
            break
        row = rng.choice(valid)
        made, values = write_row(row.pattern, rng)
        written.append(Written(len(data), row.index, dict(modes)))
        data += made
        modes = _modes_after(row, values, modes, start)
    return data, written


def _modes_after(
    row: Command, values: Mapping[str, int], modes: dict[str, str], start: dict[str, str]
) -> dict[str, str]:
    after = dict(start) if row.effect == "reset" else {**modes, **row.sets}
    if row.effect == "reset":
        after.update(row.sets)
    for name, parameter in row.sets_from.items():
        after[name] = row.parameters[parameter].values.get(values[parameter], after[name])
    return after

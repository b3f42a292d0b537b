"""Test vectors as files: JSON and CSV of our own, and one VCD (IEEE 1364-2005, clause 18) for each vector."""

from __future__ import annotations

import json
import re
from fractions import Fraction
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import Clock
    from latchlore.evidence._standin import StandIn
    from latchlore.evidence._vectormodel import Line
    from latchlore.evidence._vectors import Vector, Vectors

FORMAT = "latchlore-stand-in-vectors"
VERSION = 1
JSON_FILE = "vectors.json"
CSV_FILE = "vectors.csv"
CSV_HEAD = "vector,cycle,time_ps,line,driven_by,level"


def time_of(cycle: int, clock: Clock | None) -> int | None:
    """The time of a cycle in whole picoseconds at the nominal clock, to the nearest; None without a clock."""
    if clock is None:
        return None
    exact = Fraction(cycle * 10**12) / clock.hertz
    return int(exact + Fraction(1, 2))


def vector_files(stand_in: StandIn, vectors: Vectors, clock: Clock | None) -> dict[str, bytes]:
    """Name → bytes of all files; VCDs only where a clock is stated.  The same vectors give the same bytes."""
    plain = vectors_to_plain(stand_in, vectors, clock)
    files = {
        JSON_FILE: f"{json.dumps(plain, indent=1, ensure_ascii=False)}\n".encode(),
        CSV_FILE: "".join(f"{line}\n" for line in _csv(vectors, clock)).encode(),
    }
    if clock is not None:
        for name, vector in zip(vcd_names(vectors), vectors.vectors, strict=True):
            files[name] = vector_vcd(vectors.lines, vector, clock).encode()
    return files


def vcd_names(vectors: Vectors) -> tuple[str, ...]:
    """The file of each vector: its number and name in small letters, digits and hyphens."""
    return tuple(
        f"{number:02}-{re.sub('[^a-z0-9]+', '-', vector.name.lower()).strip('-')}.vcd"
        for number, vector in enumerate(vectors.vectors, 1)
    )


def vectors_to_plain(stand_in: StandIn, vectors: Vectors, clock: Clock | None) -> dict[str, Any]:
    """The vectors for programs (docs/stand-in.md)."""
    names: tuple[str | None, ...] = vcd_names(vectors) if clock is not None else (None,) * len(vectors.vectors)
    return {
        "format": FORMAT,
        "version": VERSION,
        "title": stand_in.title,
        "invented": stand_in.invented,
        "clock": None if clock is None else {"hertz": str(clock.hertz), "tolerance_ppm": clock.tolerance_ppm},
        "lines": [
            {"name": line.name, "driven_by": _driver(line), "idle": line.idle, "data_bit": line.data_bit}
            for line in vectors.lines
        ],
        "vectors": [_vector_plain(vector, file, clock) for vector, file in zip(vectors.vectors, names, strict=True)],
        "left_out": list(vectors.left_out),
    }


def _driver(line: Line) -> str:
    return "host" if line.host else "stand-in"


def _vector_plain(vector: Vector, file: str | None, clock: Clock | None) -> dict[str, Any]:
    return {
        "name": vector.name,
        "entry": vector.entry or None,
        "words": vector.words,
        "vcd": file,
        "bytes": vector.data.hex(" ").upper(),
        "answers": [
            {
                "line": one.line,
                "level": one.level,
                "after_cycles": one.after,
                "lasts_cycles": one.lasts,
                "after_ps": time_of(one.after, clock),
                "lasts_ps": time_of(one.lasts, clock),
                "is_pulse": one.is_pulse,
            }
            for one in vector.answers
        ],
        "inputs": list(vector.inputs),
        "ends": vector.ends,
        "changes": [
            {"cycle": one.cycle, "time_ps": time_of(one.cycle, clock), "line": one.line, "level": one.level}
            for one in vector.changes
        ],
    }


def _csv(vectors: Vectors, clock: Clock | None) -> Iterator[str]:
    drivers = {line.name: _driver(line) for line in vectors.lines}
    yield CSV_HEAD
    for vector in vectors.vectors:
        for one in vector.changes:
            time = time_of(one.cycle, clock)
            quoted = '"' + vector.name.replace('"', '""') + '"'
            yield f"{quoted},{one.cycle},{'' if time is None else time},{one.line},{drivers[one.line]},{one.level}"


def vector_vcd(lines: tuple[Line, ...], vector: Vector, clock: Clock) -> str:
    """One vector as a value change dump: one wire a line, times in picoseconds, levels not known yet as x."""
    codes = {line.name: chr(33 + number) for number, line in enumerate(lines)}
    text = [
        f"$comment {' '.join(vector.words.split())} $end",
        "$timescale 1 ps $end",
        "$scope module stand_in $end",
        *(f"$var wire 1 {codes[line.name]} {_identifier(line.name)} $end" for line in lines),
        "$upscope $end",
        "$enddefinitions $end",
        "#0",
        "$dumpvars",
    ]
    at_start = {one.line: one.level for one in vector.changes if one.cycle == 0}
    for line in lines:
        level = at_start.get(line.name, line.idle)
        text.append(f"{'x' if level is None else level}{codes[line.name]}")
    text.append("$end")
    now = 0
    for one in vector.changes:
        if one.cycle == 0:
            continue
        time = time_of(one.cycle, clock)
        assert time is not None
        if time != now:
            text.append(f"#{time}")
            now = time
        text.append(f"{one.level}{codes[one.line]}")
    return "\n".join(text) + "\n"


def _identifier(name: str) -> str:
    """The name as a Verilog identifier: other signs become an underline, and it begins with a letter."""
    plain = re.sub(r"[^A-Za-z0-9_]", "_", name)
    return plain if re.match(r"[A-Za-z_]", plain) else f"n_{plain}"

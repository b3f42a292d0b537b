"""What the paper room shows: a strip in tiles, the spans of its stream, and the marks of the byte that was chosen."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import UnknownName
from latchlore.desk import wording
from latchlore.desk._places import origin_address

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.base import Origin
    from latchlore.device import Device, Marks, StreamSpan, Strip
    from latchlore.evidence import Table

TILES_SHOWN = 12
SPANS_SHOWN = 200
MOST_TYPED = 4096
PX_PER_MM = 8
CLICK_REACH = 4
"""Pixels by which a click may miss a dot."""


class Sheet:
    """A strip that the page shows, and where its stream and its device come from; asked by one thread at a time."""

    def __init__(self, title: str, strip: Strip, data: bytes, origins: Sequence[Origin]) -> None:
        self.title, self.strip, self.data, self.origins = title, strip, data, tuple(origins)
        self.lock = threading.Lock()


class Choice(NamedTuple):
    """What can be chosen: sequences that were logged, devices whose document tells how they print, their switches."""

    sequences: tuple[str, ...]
    devices: tuple[tuple[str, str], ...]
    switches: tuple[tuple[str, tuple[str, ...]], ...]


class Asked(NamedTuple):
    """What is chosen; `typed` are bytes in hexadecimal instead of a sequence."""

    sequence: str
    device: str
    switches: tuple[tuple[str, str], ...]
    typed: str

    @property
    def query(self) -> str:
        """The choice as the part of an address behind the question mark."""
        from urllib.parse import urlencode

        named = [("sequence", self.sequence), ("device", self.device), ("typed", self.typed)]
        settings = [(f"set-{name}", setting) for name, setting in self.switches]
        return urlencode([pair for pair in [*named, *settings] if pair[1]])


class TileShown(NamedTuple):
    """A tile: its number, its size in pixels, and the frame of the chosen byte's marks in it (empty without)."""

    number: int
    width: int
    height: int
    lit: tuple[int, int, int, int] | tuple[()]


class SpanShown(NamedTuple):
    """A span: its bytes as (offset, digits, is the chosen one), and what they mean."""

    bytes: tuple[tuple[int, str, bool], ...]
    words: str
    place: str
    is_explained: bool


class StripPage(NamedTuple):
    """A stretch of the strip with the spans around what is chosen."""

    title: str
    tiles: tuple[TileShown, ...]
    above: str
    below: str
    words: str
    chosen: str
    spans: tuple[SpanShown, ...]
    spans_before: int
    spans_behind: int
    places: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]


def choice_of(table: Table, devices: Sequence[Device], device: str) -> Choice:
    """What can be chosen in this study; the switches are those of `device`."""
    drawing = [one for one in devices if one.paper is not None]
    chosen = next((one for one in drawing if one.file == device), drawing[0] if drawing else None)
    settings = () if chosen is None else tuple((one.name, one.values) for one in chosen.switches)
    return Choice(tuple(_logged(table)), tuple((one.file, one.name) for one in drawing), settings)


def _logged(table: Table) -> Mapping[str, tuple[bytes, tuple[Origin, ...]]]:
    """Sequence → its bytes as the wire has them, and where they were logged."""
    return {one.name: (one.sequence.data, one.origins) for one in table.iter_logged()}


def asked_of(query: Mapping[str, str], choice: Choice) -> Asked:
    """What the address chooses; what it leaves open is the first that there is."""
    switches = tuple((name, query[f"set-{name}"]) for name, _ in choice.switches if query.get(f"set-{name}"))
    typed = query.get("typed", "").strip()
    sequence = query.get("sequence", "") or (choice.sequences[0] if choice.sequences and not typed else "")
    device = query.get("device", "") or (choice.devices[0][0] if choice.devices else "")
    return Asked("" if typed else sequence, device, switches, typed)


def open_sheet(table: Table, devices: Sequence[Device], asked: Asked) -> Sheet:
    """The strip that is asked for.

    Refuses a sequence or a device that is not there, digits that are no bytes, and what `open_paper` refuses.
    """
    from latchlore.device import Strip, open_paper

    by_file = {one.file: one for one in devices if one.paper is not None}
    if asked.device not in by_file:
        raise UnknownName(f"no document {asked.device!r} tells how its device prints", by_file)
    device = by_file[asked.device]
    data, origins = _typed(asked.typed) if asked.typed else _sequence(table, asked.sequence)
    paper = open_paper(device, data, dict(asked.switches))
    name = asked.sequence or wording.TYPED
    return Sheet(wording.STRIP_OF.format(name=name, device=device.name), Strip(paper, PX_PER_MM), data, origins)


def _sequence(table: Table, name: str) -> tuple[bytes, tuple[Origin, ...]]:
    logged = _logged(table)
    if name not in logged:
        raise UnknownName(f"no sequence {name!r} was logged", logged)
    return logged[name]


def _typed(text: str) -> tuple[bytes, tuple[Origin, ...]]:
    try:
        data = bytes.fromhex(text)
    except ValueError:
        raise UnknownName(wording.NO_HEX.format(text=text[:60])) from None
    if not 0 < len(data) <= MOST_TYPED:
        raise UnknownName(wording.TOO_MANY.format(most=MOST_TYPED, count=len(data)))
    return data, ()


def strip_page(sheet: Sheet, asked: Asked, byte: int | None, first_tile: int | None) -> StripPage:
    """The stretch of the strip around the chosen byte, or from a tile on.  Refuses what the strip does not have."""
    with sheet.lock:
        strip = sheet.strip
        if byte is not None and not 0 <= byte < len(sheet.data):
            raise UnknownName(wording.NO_BYTE.format(byte=byte, count=len(sheet.data)))
        marks = strip.marks_of(byte) if byte is not None else None
        start = first_tile if first_tile is not None else max(0, strip.tile_of(byte) - 1) if byte is not None else 0
        if start >= strip.num_tiles or start < 0:
            raise UnknownName(f"the strip has {strip.num_tiles} tiles, counted from 0; there is no tile {start}")
        stop = min(strip.num_tiles, start + TILES_SHOWN)
        tiles = tuple(_tile(strip, k, marks) for k in range(start, stop))
        near = strip.bytes_of_tile(start) if byte is None and start else ()
        spans, before, behind = _spans(sheet, byte if byte is not None else near[0][0] if near else 0, byte)
        height_mm = strip.height_px // strip.px_per_mm
        return StripPage(
            sheet.title,
            tiles,
            f"paper?{asked.query}&tile={max(0, start - TILES_SHOWN)}" if start else "",
            f"paper?{asked.query}&tile={stop}" if stop < strip.num_tiles else "",
            wording.STRIP_SIZE.format(
                count=len(sheet.data), height=height_mm, rest=strip.paper.reading.num_unexplained
            ),
            _chosen_words(sheet, marks),
            spans,
            before,
            behind,
            tuple((str(origin), origin_address(origin)) for origin in sheet.origins[:4]),
            _notes(sheet),
        )


def _notes(sheet: Sheet) -> tuple[str, ...]:
    """What the drawing leaves out or adds, in words."""
    paper = sheet.strip.paper
    notes = list(paper.auto_reasons)
    notes += [
        wording.NOT_DRAWN.format(count=count, code=command.code, meaning=command.meaning)
        for command, count in paper.not_drawn
        if command is not None
    ]
    if paper.num_fed_twice:
        notes.append(wording.FED_TWICE.format(count=paper.num_fed_twice))
    return tuple(notes)


def _tile(strip: Strip, index: int, marks: Marks | None) -> TileShown:
    top = index * strip.tile_rows
    height = min(strip.tile_rows, strip.height_px - top)
    lit: tuple[int, int, int, int] | tuple[()] = ()
    if marks is not None:
        box = marks.box
        left, upper, right, lower = (
            box if box is not None else (0, marks.stands[1] - 1, strip.width_px, marks.stands[1] + 1)
        )
        if upper < top + height and lower > top:
            lit = (left - 2, upper - top - 2, right - left + 4, lower - upper + 4)
    return TileShown(index, strip.width_px, height, lit)


def _chosen_words(sheet: Sheet, marks: Marks | None) -> str:
    if marks is None:
        return ""
    value = sheet.data[marks.byte]
    form = wording.BYTE_MARKS if marks.dots else wording.BYTE_NO_MARKS
    return form.format(byte=marks.byte, value=value, count=len(marks.dots))


def _spans(sheet: Sheet, near: int, chosen: int | None) -> tuple[tuple[SpanShown, ...], int, int]:
    """At most `SPANS_SHOWN` spans around a byte, and how many stand before and behind them."""
    reading = sheet.strip.paper.reading
    middle = reading.find_span(near) if len(reading) else 0
    first = max(0, middle - SPANS_SHOWN // 2)
    stop = min(len(reading), first + SPANS_SHOWN)
    shown = tuple(_span(reading[k], chosen) for k in range(first, stop))
    return shown, first, len(reading) - stop


def _span(span: StreamSpan, chosen: int | None) -> SpanShown:
    bytes_shown = tuple((span.start + k, f"{value:02X}", span.start + k == chosen) for k, value in enumerate(span.raw))
    place = origin_address(span.command.citation.origin) if span.command is not None else ""
    return SpanShown(bytes_shown, str(span), place, span.command is not None)


def tile_png(sheet: Sheet, index: int) -> bytes:
    """A tile as a PNG file.  Refuses a tile that the strip does not have."""
    with sheet.lock:
        return sheet.strip.tile_png(index)


def byte_at(sheet: Sheet, tile: int, x: int, y: int) -> int | None:
    """The byte whose mark lies at a point of a tile (pixels); None where there is none."""
    with sheet.lock:
        return sheet.strip.byte_at(x, tile * sheet.strip.tile_rows + y, CLICK_REACH)

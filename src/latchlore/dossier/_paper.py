"""The strips: what the logged sequences leave on the paper of each device whose document tells enough to draw it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import Origin, StudyError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from latchlore.device import Device
    from latchlore.evidence import Logged, Table

MAX_BYTES = 4096
MAX_PIXELS = 4000  # along the strip; what would be longer is not drawn here
MAX_PICTURES = 12


class Picture(NamedTuple):
    """A picture made elsewhere: `png` is the file's bytes, `words` what it shows and for whom it cannot be seen."""

    title: str
    words: str
    png: bytes
    origins: tuple[Origin, ...]


def draw_papers(folder: Path, table: Table) -> tuple[Picture, ...]:
    """One strip for each logged sequence and each document with a paper section, by sequence, then by document.

    At most 12; sequences of more than 4,096 bytes and strips of more than half a metre are left out.
    """
    from itertools import islice

    from latchlore.device import read_device
    from latchlore.study import load_study

    logged = [one for one in table.iter_logged() if len(one.sequence.items) <= MAX_BYTES]
    if not logged:
        return ()
    devices = [read_device(file.raw, file.file) for file in load_study(folder).documents]
    return tuple(islice(_iter_strips(logged, devices), MAX_PICTURES))


def _iter_strips(logged: list[Logged], devices: list[Device]) -> Iterator[Picture]:
    for one in logged:
        for device in devices:
            if device.paper is not None:
                picture = _draw(one.name, one.sequence.data, device, one.origins)
                if picture is not None:
                    yield picture


def _draw(name: str, data: bytes, device: Device, origins: tuple[Origin, ...]) -> Picture | None:
    from latchlore.device import open_paper, png_pieces, size_px

    try:
        paper = open_paper(device, data)
        if size_px(paper)[1] > MAX_PIXELS:
            return None
        png = b"".join(png_pieces(paper))
    except StudyError:  # the document does not tell enough to draw this stream
        return None
    rest = paper.reading.num_unexplained
    explained = "each explained by a row of its table" if not rest else f"{rest} of them explained by no row"
    words = f"the {len(data)} bytes of “{name}” on a {device.name}, {explained}; at true proportions"
    return Picture(f"{name} by {device.title}", words, png, (*origins[:1], Origin.at_line(device.file, 1)))

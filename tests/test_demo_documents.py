"""The demonstration's manuals: what each makes of the bytes that the program sends."""

from __future__ import annotations

import pytest

from latchlore.demo import demo_folder
from latchlore.device import Device, open_paper, read_device, read_stream

BURST = bytes.fromhex("16 5A 16 4C 0C 06 4D 41 52 52 41 4D 0D 0A")
READING = b"TIDE 04.37 M RISING \r\n"
CELL_DOTS, STEP = 6, 12  # of both manuals; the burst sets a line step of 0Ch
MANUALS = ["quill-24", "quill-24g"]


def manual(name: str) -> Device:
    """One manual."""
    file = f"documents/{name}.toml"
    return read_device((demo_folder() / file).read_bytes(), file)


@pytest.mark.parametrize("name", MANUALS)
def test_explained(name: str) -> None:
    """Both explain every byte of the burst, of a reading, and of what the sieve lets pass."""
    sieved = bytes(sorted(set(range(0x20, 0x7F)) - set(range(ord("a"), ord("z") + 1))))
    for data in (BURST, READING, sieved + b"\r\n"):
        spans = list(read_stream(manual(name), data))
        assert spans[0].start == 0
        assert spans[-1].end == len(data)
        assert all(span.command is not None for span in spans)


@pytest.mark.parametrize("name", MANUALS)
def test_explained_wrong(name: str) -> None:
    """A control code that the program never sends is in neither manual."""
    assert [span.command for span in read_stream(manual(name), b"\x07")] == [None]


@pytest.mark.parametrize(("name", "cell"), [("quill-24", 2 * CELL_DOTS), ("quill-24g", CELL_DOTS)])
def test_name_on_the_strip(name: str, cell: int) -> None:
    """MARRAM is twice as wide by the one manual as by the other; the line below it is plain by both."""
    points = open_paper(manual(name), BURST + READING).points()
    title = [x for x, y in points if y < STEP]
    below = [x for x, y in points if STEP <= y < 2 * STEP]
    assert 5 * cell <= max(title) < 6 * cell
    assert 18 * CELL_DOTS <= max(below) < 19 * CELL_DOTS


@pytest.mark.parametrize("name", MANUALS)
def test_curve(name: str) -> None:
    """The code that this program never sends would have drawn: eighteen bytes, one row of 144 dots."""
    dots = bytes([0x80]) + bytes(16) + bytes([0x01])
    assert open_paper(manual(name), b"\x16D" + dots).points() == [(0, 0), (143, 0)]

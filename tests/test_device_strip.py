"""A strip in tiles: from a mark to its byte, from a byte to its marks; where line feeds come from; a whole page."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from latchlore.base import UnknownName
from latchlore.device import (
    Box,
    Device,
    Paper,
    Stretch,
    Strip,
    draw_tile,
    open_paper,
    png_pieces,
    read_device,
    size_px,
    svg_text,
)

HEAD = 'title = "Guide"\ndevice = "Quill"\nkind = "manual"\n'


def table(paper: str, *rows: str) -> Device:
    """A device of a paper section and rows of pattern, effect and further keys parted by semicolons."""
    text = HEAD + paper
    for row in rows:
        pattern, does, *more = [part.strip() for part in row.split(";")]
        text += f'[[command]]\npattern = "{pattern}"\nmeaning = "{pattern}"\n'
        text += (f'does = "{does}"\n' if does else "") + "".join(f"{line}\n" for line in more)
    return read_device(text.encode(), "documents/quill.toml")


# An impact printer with the figures that the manuals of nine-pin printers of the 1980s print (from memory: 1/72 inch
# from pin to pin, 1/6 inch from line to line, ten characters to the inch on 8 inches, 60 dots to the inch in single
# density and 120 in double, a form of 66 lines).  A cell is six dots of 1/60 inch, so that ten make an inch.
NINE_PINS = """
[paper]
head_dots = 480
dot_x = "1/60 in"
dot_y = "1/72 in"
columns = 80
cell_dots = 6
line_feed = 12
form_lines = 66
width = "8.5 in"
margin = "0.25 in"
look = "impact"
auto_line_feed = [{ switch = "line end", is = "CR LF" }, { pin = "14", is = "low" }]
[[pin]]
number = "14"
signal = "AUTO FEED"
[[switch]]
name = "line end"
levers = ["1"]
factory = "CR"
settings = [{ levers = "off", is = "CR" }, { levers = "on", is = "CR LF" }]
"""
ROWS = (
    "20..7E;print",
    "0A;line feed",
    "0C;form feed",
    "0D;carriage return",
    "0E;;sets = { wide = 'on' }",
    "12;;sets = { inverse = 'on' }",
    "14;;sets = { wide = 'off', inverse = 'off' }",
    "1B 35 31;;sets = { 'auto line feed' = 'on' }",
    "1B 35 30;;sets = { 'auto line feed' = 'off' }",
    "1B 41 n;line step;amount = 'n'",
    "1B 43 n;form length;amount = 'n'",
    "1B 4A n;feed;amount = 'n'",
    "1B 4B n.lo n.hi data*n;columns;[command.graphics];data = 'data';top = 'high'",
    "1B 4C n.lo n.hi data*n;columns;[command.graphics];data = 'data';top = 'high';pitch_x = '1/120 in'",
    "1B 40;reset",
)
INCH = Fraction(254, 10)


@pytest.fixture(name="device", scope="module")
def _device() -> Device:
    return table(NINE_PINS, *ROWS)


def inches(paper: Paper) -> set[tuple[Fraction, Fraction]]:
    """The corners of all dots in inches from the first dot of the first line."""
    return {(dot.x * paper.grid_x / INCH, dot.y * paper.grid_y / INCH) for dot in paper.iter_dots()}


PAGE = (
    b"_" * 2  # line 1
    + b"\r\n\x0e_\x14_\r\n"  # line 2: wide, then narrow
    + b"\x1bK\x03\x00\x81\x00\xff"  # line 3: three columns
    + b"\x1bL\x02\x00\x40\x01\r\n"  # and two of double density
    + b"\x12 \x14\x1bA\x08\r\n_"  # line 4: an inverse space; from here on 8/72 inch from line to line
    + b"\r\x1bJ\x05_\x0c_"  # 5/72 inch further; the next form
)


def page_by_hand() -> set[tuple[Fraction, Fraction]]:
    """Where the dots of `PAGE` are, from the printed figures alone: x in 60ths, y in 72nds of an inch.

    Underscores are five dots in row 6 of a cell; line k begins at 12 k; a wide dot is two dots.
    """
    places = [(x, 6) for x in (0, 1, 2, 3, 4, 6, 7, 8, 9, 10)]
    places += [(x, 12 + 6) for x in (*range(10), *range(12, 17))]
    places += [(0, 24), (0, 24 + 7), *((2, 24 + y) for y in range(8))]
    fine = [(Fraction(3), 24 + 1), (Fraction(7, 2), 24 + 7)]
    places += [(x, 36 + y) for x in range(6) for y in range(7)]
    places += [(x, 36 + 8 + 6) for x in range(5)]
    places += [(x, 36 + 8 + 5 + 6) for x in range(5)]
    places += [(5 + x + 1, 66 * 12 + 6) for x in range(5)]
    whole = {(Fraction(x, 60), Fraction(y, 72)) for x, y in places}
    return whole | {(x / 60, Fraction(y, 72)) for x, y in fine}


def test_page_by_hand(device: Device) -> None:
    """A page of known dots, worked out by hand from printed figures, equals the simulated dots exactly."""
    assert inches(open_paper(device, PAGE)) == page_by_hand()


def test_page_drawn_by_hand(device: Device) -> None:
    """In the drawn picture ink stands at exactly those places of the finest grid where the hand puts a dot."""
    paper = open_paper(device, PAGE)
    strip = Strip(paper, 24, 300)
    ink = np.concatenate([strip.tile(k) for k in range(strip.num_tiles)])
    half = paper.form.dot / INCH / 2
    seen = set()
    for x in range(2 * 30):
        for y in range(66 * 12 + 12):
            at = Fraction(x, 120), Fraction(y, 72)
            px = [int((axis + Fraction(1, 4) + half) * INCH * 24) for axis in at]
            if ink[px[1], px[0]] == 255:
                seen.add(at)
    wanted = page_by_hand()
    # Between two neighbouring dots of 1/60 inch the ink of both meets, so halves count only where no two meet.
    between = {(x + Fraction(1, 120), y) for x, y in wanted if (x + Fraction(1, 60), y) in wanted}
    assert seen - between == wanted - between


@pytest.mark.parametrize(
    ("switches", "pins", "sent", "reasons", "row"),
    [
        ({}, {}, b"", (), 0),
        ({"line end": "CR LF"}, {}, b"", ("switch line end = CR LF",), 12),
        ({}, {"14": "low"}, b"", ("pin 14 = low",), 12),
        ({"line end": "CR LF"}, {"14": "low"}, b"", ("switch line end = CR LF", "pin 14 = low"), 12),
        ({}, {}, b"\x1b51", (), 12),
        ({}, {}, b"\x1b51\x1b50", (), 0),
        ({}, {}, b"\x1b51\x1b@", (), 0),
    ],
)
def test_auto_line_feed_from_three_places(
    device: Device, switches: dict[str, str], pins: dict[str, str], sent: bytes, reasons: tuple[str, ...], row: int
) -> None:
    """The switch, the cable's pin or the host's command: each is enough, and two feed no more than one."""
    paper = open_paper(device, sent + b"\r_", switches, pins=pins)
    assert paper.auto_reasons == reasons
    assert {dot.y for dot in paper.iter_dots()} == {row + 6}


def test_double_spacing(device: Device) -> None:
    """A grounded pin 14 and a host that sends CR LF: every line is spaced twice; with the wire cut it is not.

    The cure is the one published for a home computer's printer port whose cable grounds that pin ("Controlling the
    Printer", a guide to the Amstrad CPC: the wire to pin 14 is cut).
    """
    grounded = open_paper(device, b"A\r\nB\r\nC", pins={"14": "low"})
    cut = open_paper(device, b"A\r\nB\r\nC")
    assert (grounded.num_fed_twice, cut.num_fed_twice) == (2, 0)
    assert [max(dot.y for dot in paper.iter_dots()) for paper in (grounded, cut)] == [4 * 12 + 6, 2 * 12 + 6]


def test_form_length(device: Device) -> None:
    """A form of 3 lines begins where it is set; the next form feed goes to its end, and a reset brings 66 lines."""
    paper = open_paper(device, b"\n\x1bC\x03\n_\x0c_\x0c_\x1b@\n\x0c_")
    assert sorted({dot.y // 12 for dot in paper.iter_dots()}) == [2, 4, 7, 73]


# -- tiles, marks and bytes


def test_first_tiles_need_only_the_beginning(device: Device) -> None:
    """A tile is the part of the picture it should be, whether the strip is worked out or not."""
    data = b"LEVEL 3.41\r\n" * 3000
    fresh, whole = Strip(open_paper(device, data)), open_paper(device, data)
    for index in (0, 3, 1):
        assert np.array_equal(fresh.tile(index), draw_tile(whole, 512 * index, 512))
    assert fresh.paper._walked.span < 1000
    assert (fresh.width_px, fresh.height_px) == size_px(whole)
    last = fresh.num_tiles - 1
    assert len(fresh.tile(last)) == fresh.height_px - 512 * last


def test_tile_png(device: Device) -> None:
    """A general imaging library (Pillow) reads a tile: the ink, in the look's colours, at the paper's resolution."""
    strip = Strip(open_paper(device, b"A\r\n" * 40), 10)
    image = Image.open(io.BytesIO(strip.tile_png(1)))
    assert (image.size, round(image.info["dpi"][0] / 25.4)) == ((strip.width_px, 512), 10)
    assert np.array_equal(np.array(image), strip.tile(1))
    assert image.convert("RGB").getpixel((0, 0)) == (0xFC, 0xFB, 0xF7)


def test_end_png(device: Device) -> None:
    """The last tiles stand below one another as they do alone; a strip with fewer gives all of it."""
    strip = Strip(open_paper(device, b"A\r\n" * 40), 10)
    alone = [np.asarray(Image.open(io.BytesIO(strip.tile_png(k)))) for k in range(strip.num_tiles)]
    assert len(alone) > 1
    end = np.asarray(Image.open(io.BytesIO(strip.end_png(2))))
    assert (end == np.concatenate(alone[-2:])).all()
    assert np.asarray(Image.open(io.BytesIO(strip.end_png(999)))).shape[0] == strip.height_px


@pytest.mark.parametrize("index", [-1, 1, 7])
def test_tile_wrong(device: Device, index: int) -> None:
    """A tile that the strip does not have is refused."""
    words = rf"^the strip has 1 tiles, counted from 0; there is no tile {index}$"
    with pytest.raises(UnknownName, match=words):
        Strip(open_paper(device, b"A")).tile(index)


def test_marks_of_a_byte(device: Device) -> None:
    """A byte's marks with their box by hand; one without marks has the place where the head stood."""
    strip = Strip(open_paper(device, b"A\r\n_"), 72)
    marks = strip.marks_of(3)
    px = INCH * 72
    radius = strip.paper.form.dot / INCH / 2 * px
    x, y = Fraction(1, 4) * px, (Fraction(1, 4) + Fraction(18, 72)) * px
    assert len(marks.dots) == 5
    assert marks.box == (
        int(x),
        int(y),
        -int(-(x + Fraction(4, 60) * px + 2 * radius) // 1),
        -int(-(y + 2 * radius) // 1),
    )
    returned = strip.marks_of(1)
    assert (returned.dots, returned.box, returned.span) == ((), None, (1, 2))
    assert returned.stands == (int(x + Fraction(6, 60) * px + radius), int(x + radius))
    assert strip.tile_of(3) == int(y) // 512


def test_marks_of_wrong(device: Device) -> None:
    """A byte that the stream does not have is refused."""
    with pytest.raises(IndexError, match=r"^the stream has 1 bytes; there is no byte 1$"):
        Strip(open_paper(device, b"A")).marks_of(1)


def test_marks_at_a_point(device: Device) -> None:
    """The nearest mark first; two bytes that struck one place are both named; beside all dots there is none."""
    strip = Strip(open_paper(device, b"_\r_X"), 40)
    x, y = strip.marks_of(0).box[:2]  # type: ignore[index]  # an underscore has a box
    radius = float(strip.paper.form.dot * 20)
    hit = strip.marks_at(x + radius, y + radius)
    assert [mark.byte for mark in hit] == [0, 2]
    assert all(mark.away < 2 for mark in hit)
    assert strip.byte_at(x + radius, y + radius + 3 * radius) is None
    assert strip.byte_at(x + radius, y + radius + 3 * radius, reach=3 * radius) == 0


@settings(deadline=None, max_examples=15)
@given(
    st.lists(
        st.sampled_from([b"abc", b"Wide", b"\r\n", b"\x0e", b"\x12", b"\x14", b"\x1bJ\x30", b"\x1bK\x02\x00\xa5\x81"]),
        max_size=8,
    ),
    st.integers(5, 30),
)
def test_bytes_and_marks_agree(pieces: list[bytes], scale: int) -> None:
    """There and back: each dot of each byte leads to that byte, and a tile's bytes are those whose dots lie on it."""
    data = b"".join(pieces * 2)
    strip = Strip(open_paper(table(NINE_PINS, *ROWS), data), scale, 100)
    on_tiles: dict[int, set[int]] = {}
    for byte in range(len(data)):
        marks = strip.marks_of(byte)
        for dot in marks.dots:
            x, y = (float(axis * scale) for axis in strip.paper.position_mm(dot))
            assert byte in [mark.byte for mark in strip.marks_at(x, y)]
            assert marks.box is not None
            assert marks.box.left <= x < marks.box.right
            assert marks.box.top <= y < marks.box.bottom
            on_tiles.setdefault(int(strip.paper.position_mm(dot)[1] * scale) // 100, set()).add(byte)
        if marks.dots:
            assert [first for first, end in strip.bytes_within(Box(*marks.box)) if first <= byte < end]  # type: ignore[misc]
    for index in range(strip.num_tiles):
        found = {byte for first, end in strip.bytes_of_tile(index) for byte in range(first, end)}
        assert found == on_tiles.get(index, set())


def test_every_inked_pixel_has_its_byte(device: Device) -> None:
    """Whatever pixel of a tile holds ink, a byte is found there, and every byte that prints is found somewhere."""
    data = b"Wave \x0e9\x14\r\n\x1bK\x06\x00\x81\x42\x24\x18\xff\x01 end"
    strip = Strip(open_paper(device, data), 12)
    ink = strip.tile(0)
    found = set()
    for y, x in zip(*np.nonzero(ink > 127), strict=True):
        byte = strip.byte_at(x + 0.5, y + 0.5, reach=0.75)
        assert byte is not None
        found.add(byte)
    assert found == {byte for byte in range(len(data)) if strip.marks_of(byte).dots}


# -- a stretch


def test_stretch_of_the_picture(device: Device) -> None:
    """A stretch as PNG is those rows of the whole; only the stream in front of its end is worked out."""
    data = b"LEVEL 3.41\r\n" * 2000
    fresh, whole = open_paper(device, data), open_paper(device, data)
    stretch = Stretch(Fraction(50), Fraction(165, 2))
    image = Image.open(io.BytesIO(b"".join(png_pieces(fresh, 10, stretch=stretch))))
    assert np.array_equal(np.array(image), draw_tile(whole, 500, 325, 10))
    assert fresh._walked.span < 2000


def test_stretch_as_vectors(device: Device) -> None:
    """A stretch as SVG has the dots that lie on it, each at its place on the strip."""
    paper = open_paper(device, b"_\r\n" * 100)
    root = ET.fromstring(svg_text(paper, Stretch(Fraction(30), Fraction(60))))
    assert root.attrib["viewBox"] == "0 30 215.9 30"
    shown = {int(path.attrib["data-byte"]) for path in root.findall(".//{http://www.w3.org/2000/svg}path")}
    on_it = {dot.byte for dot in paper.iter_dots() if 30 <= paper.position_mm(dot)[1] < 60}
    assert on_it
    assert on_it <= shown <= {byte + near for byte in on_it for near in (-9, -6, -3, 0, 3, 6, 9)}


def test_stretch_wrong(device: Device) -> None:
    """A stretch behind the strip's end is refused."""
    paper = open_paper(device, b"A")
    words = rf"^the strip ends at {float(paper.size_mm[1]):.4f} mm, or the stretch does; none begins at 50 mm$"
    with pytest.raises(UnknownName, match=words):
        svg_text(paper, Stretch(Fraction(50)))

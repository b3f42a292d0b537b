"""The paper in dots, and its pictures."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from latchlore.base import Unsupported
from latchlore.device import (
    Device,
    Paper,
    draw_tile,
    get_set,
    iter_tiles,
    open_paper,
    png_pieces,
    read_device,
    set_names,
    size_px,
    svg_text,
    write_png,
)
from latchlore.device._font import find_glyph, known_characters

HEAD = 'title = "Guide"\ndevice = "Quill"\nkind = "manual"\n'

# A strip printer whose figures are published (a calculator's thermal printer, HP 82240A, as described at
# hpmuseum.org, thread 11746, and wiki.calcverse.net): 24 characters, cell 5 dots wide and 2 spaces, 24 x 7 - 2 = 166
# dots, 7 rows and 1 row between lines.  The pitch is an estimate from the paper's 58 mm; the codes are ours.
STRIP = (
    HEAD
    + """
[paper]
head_dots = 166
dot_x = "0.28 mm"
dot_y = "0.3 mm"
columns = 24
cell_dots = 7
cell_rows = 7
line_feed = 8
at_edge = "AT_EDGE"
width = "58 mm"
tab_columns = 8
form_lines = 5
auto_line_feed = { switch = "line end", is = "CR LF" }
[[switch]]
name = "line end"
levers = ["1"]
factory = "CR"
settings = [{ levers = "off", is = "CR" }, { levers = "on", is = "CR LF" }]
"""
    + "".join(
        f'[[command]]\npattern = "{code}"\nmeaning = "{meaning}"\n{more}\n'
        for code, meaning, more in [
            ("20..7E", "print", 'does = "print"'),
            ("0A", "line feed", 'does = "line feed"'),
            ("0C", "form feed", 'does = "form feed"'),
            ("09", "tab", 'does = "tab"'),
            ("08", "backspace", 'does = "backspace"'),
            ("0D", "carriage return", 'does = "carriage return"'),
            ("0E", "wide", 'sets = { wide = "on" }'),
            ("0F", "narrow", 'sets = { wide = "off" }'),
            ("10", "tall", 'sets = { tall = "on" }'),
            ("11", "inverse", 'sets = { inverse = "on" }'),
            ("12", "underline", 'sets = { underlined = "on" }'),
            ("13", "German", 'sets = { "character set" = "ISO646-DE" }'),
            ("18", "reset", 'does = "reset"'),
            ("07", "bell", ""),
            ("1B 4A n", "feed", 'does = "feed"\namount = "n"'),
            ("1B 41 n", "line step", 'does = "line step"\namount = "n"'),
            (
                "1B 4B n data*n",
                "dot columns",
                'does = "columns"\n[command.graphics]\ndata = "data"\ntop = "high"\n',
            ),
            (
                "1B 4D n data*n",
                "fine dot columns",
                'does = "columns"\n[command.graphics]\ndata = "data"\ntop = "low"\npitch_x = "0.14 mm"\nfeed = 2\n',
            ),
            (
                "1B 52 n data*(3*n)",
                "dot rows",
                'does = "rows"\n[command.graphics]\ndata = "data"\nleft = "high"\nbytes = 3\ndots = 20\n',
            ),
        ]
    )
)


def _device(at_edge: str = "wrap") -> Device:
    return read_device(STRIP.replace("AT_EDGE", at_edge).encode(), "documents/strip.toml")


def _positions(paper: Paper) -> set[tuple[Fraction, Fraction]]:
    """Corners of all dots in millimetres from the head's first dot and the first row."""
    return {(dot.x * paper.grid_x, dot.y * paper.grid_y) for dot in paper.iter_dots()}


def _dots(*places: tuple[int, int]) -> set[tuple[Fraction, Fraction]]:
    """Dots by column and row of the strip, at its published pitches."""
    return {(x * Fraction(28, 100), y * Fraction(3, 10)) for x, y in places}


def test_geometry_exam() -> None:
    """Underscores (the lowest row of a cell, five dots) stand where the published figures put them.

    Worked out by hand: cell k begins at dot 7 k, its lowest row is row 6; the next line is 8 rows further; the last
    cell begins at dot 161 and ends with dot 165, the head's last.
    """
    paper = open_paper(_device(), b"_" + b" " * 22 + b"_\r\n _\r\n")
    first = [(x, 6) for x in (0, 1, 2, 3, 4, 161, 162, 163, 164, 165)]
    second = [(x, 14) for x in (7, 8, 9, 10, 11)]
    assert _positions(paper) == _dots(*first, *second)


def test_geometry_columns_by_hand() -> None:
    """Dot columns, high bit uppermost: 81h is rows 0 and 7 of a column, the next byte is the next dot to the right."""
    paper = open_paper(_device(), b" \x1bK\x02\x81\x40")
    assert _positions(paper) == _dots((7, 0), (7, 7), (8, 1))


def test_geometry_fine_columns_by_hand() -> None:
    """Columns at half the pitch with the low bit uppermost, and a feed of two steps afterwards."""
    paper = open_paper(_device(), b"\x1bM\x03\x01\x00\x02\x1bK\x01\x80")
    half = Fraction(14, 100)
    assert _positions(paper) == {(0, 0), (2 * half, Fraction(3, 10)), (3 * half, Fraction(6, 10))}


def test_geometry_rows_by_hand() -> None:
    """Dot rows of three bytes, high bit leftmost, 20 dots used: the last four bits of a row leave nothing."""
    paper = open_paper(_device(), b"\x1bR\x02\x80\x00\x1f\x00\x01\x00")
    assert _positions(paper) == _dots((0, 0), (19, 0), (15, 1))


def test_wide_and_tall_by_hand() -> None:
    """A wide character takes two cells and each of its dots twice; a tall one twice as many rows."""
    paper = open_paper(_device(), b"\x0e_\x10_")
    wide = [(x, 6) for x in range(10)]
    tall = [(14 + x, y) for x in range(10) for y in (12, 13)]
    assert _positions(paper) == _dots(*wide, *tall)


def test_inverse_and_underlined_by_hand() -> None:
    """An inverse space is a full cell; an underlined one a row below the seventh, over the whole cell."""
    assert _positions(open_paper(_device(), b"\x11 ")) == _dots(*[(x, y) for x in range(7) for y in range(7)])
    assert _positions(open_paper(_device(), b"\x12 ")) == _dots(*[(x, 7) for x in range(7)])


def test_feeds_by_hand() -> None:
    """Line step, feed, form feed (5 lines of 8 steps), tab (8 columns), backspace and reset move as the table says."""
    paper = open_paper(_device(), b"\x1bA\x03\n\x1bJ\x02\t_\x08\x08_\x0c_\x18_")
    corners = [(56, 5), (49, 5), (56, 40), (0, 40)]
    expected = {(x + i, y + 6) for x, y in corners for i in range(5)}
    assert _positions(paper) == _dots(*expected)


@pytest.mark.parametrize(
    ("at_edge", "last"), [("wrap", (0, 14, 24)), ("drop", None), ("overprint", (161, 6, 24))], ids=str
)
def test_edge(at_edge: str, last: tuple[int, int, int] | None) -> None:
    """The 25th character wraps, is dropped, or strikes over the 24th."""
    paper = open_paper(_device(at_edge), b" " * 24 + b"_")
    dots = list(paper.iter_dots())
    if last is None:
        assert dots == []
    else:
        x, y, byte = last
        scale = int(paper.form.dot_x / paper.grid_x)
        assert [(dot.x, dot.y, dot.byte) for dot in dots] == [((x + i) * scale, y, byte) for i in range(5)]


@pytest.mark.parametrize(
    ("switches", "forced", "row"), [({}, None, 6), ({"line end": "CR LF"}, None, 14), ({"line end": "CR LF"}, False, 6)]
)
def test_auto_line_feed(switches: dict[str, str], forced: bool | None, row: int) -> None:
    """A carriage return feeds a line where the switch says so, unless told otherwise."""
    paper = open_paper(_device(), b"\r_", switches, auto_line_feed=forced)
    assert {dot.y for dot in paper.iter_dots()} == {row}


def test_auto_line_feed_by_pin() -> None:
    """The cable can make it feed too."""
    text = STRIP.replace('{ switch = "line end", is = "CR LF" }', '{ pin = "14", is = "low" }').replace(
        "AT_EDGE", "wrap"
    ) + ('[[pin]]\nnumber = "14"\nsignal = "AUTO FEED"\n')
    device = read_device(text.encode(), "documents/strip.toml")
    assert open_paper(device, b"\r_").auto_line_feed is False
    assert open_paper(device, b"\r_", pins={"14": "low"}).auto_line_feed is True


def test_character_set_on_paper() -> None:
    """After the set is changed the same byte prints another character."""
    paper = open_paper(_device(), b"[\x13[")
    glyphs = [find_glyph("["), find_glyph("Ä")]
    scale = int(paper.form.dot_x / paper.grid_x)
    for k, glyph in enumerate(glyphs):
        assert glyph is not None
        wanted = {(7 * k + x, y) for y in range(7) for x in range(5) if glyph[y] >> (4 - x) & 1}
        assert {(dot.x // scale, dot.y) for dot in paper.iter_dots() if dot.byte == 2 * k} == wanted


def test_marks_lead_back() -> None:
    """Every dot leads to its byte and every byte to its dots; two bytes may share a dot."""
    data = b"AB\r\n" * 400 + b"_\r_\x08\x1bK\x03\xff\x00\x81" + b"x" * 100
    paper = open_paper(_device(), data)
    by_byte: dict[int, list[tuple[int, int]]] = {}
    for dot in paper.iter_dots():
        by_byte.setdefault(dot.byte, []).append((dot.x, dot.y))
    fresh = open_paper(_device(), data)
    for byte in (0, 1, 2, 400, 801, 1597, 1600, 1602, 1608, len(data) - 60, len(data) - 1):
        assert [(dot.x, dot.y) for dot in fresh.dots_of(byte)] == by_byte.get(byte, [])
    x, y = by_byte[1600][0]
    assert paper.bytes_at(x, y) == (1600, 1602, 1607)  # two underscores and a column of eight dots
    assert paper.bytes_at(x, y + 1000) == ()


def test_not_drawn() -> None:
    """Rows without an effect and bytes that no row explains are counted, not forgotten."""
    paper = open_paper(_device(), b"A\x07B\x07\x80\x81")
    assert [(c.meaning if c else None, num) for c, num in paper.not_drawn] == [(None, 1), ("bell", 2)]


def test_open_paper_wrong() -> None:
    """Without a paper section nothing can be drawn, and the message says what would settle it."""
    device = read_device(HEAD.encode(), "documents/strip.toml")
    with pytest.raises(
        Unsupported,
        match=r"^documents/strip\.toml:1: no paper can be drawn without a \[paper\] section: "
        r"head, pitches, cell and line feed$",
    ):
        open_paper(device, b"A")


def test_endless_feed_wrong() -> None:
    """A stream that feeds more than a hundred kilometres of paper is refused."""
    text = STRIP.replace("AT_EDGE", "wrap").replace('dot_y = "0.3 mm"', 'dot_y = "0.3 mm"\nstep = "9999999 mm"')
    paper = open_paper(read_device(text.encode(), "documents/strip.toml"), b"\n\n\n")
    with pytest.raises(
        Unsupported, match=r"^documents/strip\.toml:\d+ \(command\[2\]\): the stream feeds more than 100 km of paper$"
    ):
        paper.work_out()


@settings(deadline=None, max_examples=12)
@given(st.lists(st.sampled_from([b"abc", b"_" * 30, b"\r\n", b"\x0e", b"\x0f", b"\x1bJ\x30", b"\x1bK\x02\xa5\x81"])))
def test_rows_of_the_strip_are_the_whole(pieces: list[bytes]) -> None:
    """The strip asked for in slices, in any order, has the dots of the strip asked for at once."""
    data = b"".join(pieces * 8)
    whole = sorted(open_paper(_device(), data).iter_dots())
    paper = open_paper(_device(), data)
    height = open_paper(_device(), data).height
    slices = [list(paper.iter_dots(top, top + 90)) for top in reversed(range(0, height + 90, 90))]
    assert sorted(dot for part in slices for dot in part) == whole


# -- pictures


def test_png() -> None:
    """A general imaging library (Pillow) opens the file; size and resolution are the paper's own."""
    paper = open_paper(_device(), b"_" * 24 + b"\r\n" * 9 + b"A")
    image = Image.open(io.BytesIO(b"".join(png_pieces(paper, 10))))
    image.load()
    assert image.size == size_px(paper, 10) == (580, round(float(paper.size_mm[1]) * 10 + 0.499999))
    assert [round(dpi / 25.4) for dpi in image.info["dpi"]] == [10, 10]


def test_png_dots_at_true_places() -> None:
    """The blackest pixels lie where the dots' centres are: margin + pitch x column, for each axis."""
    paper = open_paper(_device(), b"_\r\n\n\n" + b" " * 10 + b"_")
    picture = np.array(Image.open(io.BytesIO(b"".join(png_pieces(paper, 20)))))
    for dot in paper.iter_dots():
        x, y = paper.position_mm(dot)
        assert picture[int(y * 20), int(x * 20)] > 200
    rows, columns = np.nonzero(picture > 200)
    assert abs((rows.max() - rows.min()) / 20 - (24 * 0.3 + 0.28)) < 0.11
    assert abs((columns.max() - columns.min()) / 20 - (74 * 0.28 + 0.28)) < 0.11


def test_tiles_make_the_whole() -> None:
    """Tiles of any height put together are the same picture."""
    data = b"The strip 0123\r\n" * 20 + b"\x1bK\x05\x81\x42\x24\x18\xff"
    paper = open_paper(_device(), data)
    small = np.concatenate(list(iter_tiles(paper, 8, 37)))
    large = np.concatenate(list(iter_tiles(open_paper(_device(), data), 8, 1000)))
    assert np.array_equal(small, large)
    assert np.array_equal(draw_tile(paper, 100, 50), large[100:150])


def test_write_png_whole_or_not(tmp_path: Path) -> None:
    """A picture that is broken off leaves the file as it was and nothing beside it."""
    path = tmp_path / "strip.png"
    path.write_bytes(b"before")

    def stop(done: int, total: int, words: str) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_png(open_paper(_device(), b"A"), path, progress=stop)
    assert path.read_bytes() == b"before"
    assert list(tmp_path.iterdir()) == [path]
    write_png(open_paper(_device(), b"A"), path)
    assert path.read_bytes()[:4] == b"\x89PNG"


def test_svg() -> None:
    """The vector picture is well-formed, measured in millimetres, and each byte's dots carry its offset."""
    paper = open_paper(_device(), b"A<\x1bK\x01\xff")
    root = ET.fromstring(svg_text(paper))
    assert root.attrib["width"] == "58mm"
    paths = root.findall(".//{http://www.w3.org/2000/svg}path")
    assert [path.attrib["data-byte"] for path in paths] == ["0", "1", "5"]
    assert [path.attrib["d"].count("M") for path in paths] == [len(paper.dots_of(byte)) for byte in (0, 1, 5)]


def test_svg_wrong() -> None:
    """A strip with too many dots is refused as a vector picture."""
    paper = open_paper(_device(), b"#" * 20_000)
    with pytest.raises(Unsupported, match=r"^documents/strip\.toml:1: the strip has more than 200000 dots; draw it as"):
        svg_text(paper)


def test_looks_differ() -> None:
    """Thermal and impact print look different; the dots are the same."""
    impact = read_device(
        STRIP.replace("AT_EDGE", "wrap").replace("tab_columns", 'look = "impact"\ntab_columns').encode(), "d.toml"
    )
    pictures = [b"".join(png_pieces(open_paper(device, b"A"))) for device in (_device(), impact)]
    assert pictures[0] != pictures[1]


# -- the font


def test_font_has_every_character() -> None:
    """Every character of every national version has a picture, and no two characters of a version look the same."""
    for name in set_names():
        glyphs: dict[tuple[int, ...], list[str]] = {}
        for character in get_set(name).characters.values():
            glyph = find_glyph(character)
            assert glyph is not None, (name, character)
            glyphs.setdefault(glyph, []).append(character)
        assert all(len(same) == 1 for same in glyphs.values()), (name, glyphs)


def test_font_fits_the_cell() -> None:
    """Seven rows of five dots, and only the space is empty."""
    for character in known_characters():
        glyph = find_glyph(character)
        assert glyph is not None
        assert len(glyph) == 7
        assert all(0 <= row < 32 for row in glyph)
        assert any(glyph) == (character != " ")


@pytest.mark.parametrize("character", "AHIMOTUVWXY8-=+_|!*^vowx")
def test_font_symmetry(character: str) -> None:
    """Characters that are their own mirror image in any upright type are so here."""
    glyph = find_glyph(character)
    assert glyph is not None
    assert all(row == int(f"{row:05b}"[::-1], 2) for row in glyph)

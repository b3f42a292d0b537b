"""Graphics whose layout is unknown."""

from __future__ import annotations

import math
import random

import pytest

from latchlore.base import Unsupported
from latchlore.device import Layout, data_blocks, draw_layout, rank_layouts, read_device, read_stream
from latchlore.device._font import find_glyph

Picture = list[list[int]]


def curve(width: int, height: int, text: str = "") -> Picture:
    """A filled tide curve over a frame, with a lettering in it."""
    picture = [[0] * width for _ in range(height)]
    for x in range(width):
        level = height / 2 + height / 3 * math.sin(x / 9) + height / 9 * math.sin(x / 3.7)
        for y in range(height):
            picture[y][x] = int(y > level or x == 0)
    for index, char in enumerate(text):
        for y, row in enumerate(find_glyph(char) or ()):
            for x in range(5):
                picture[2 + y][4 + 6 * index + x] = row >> (4 - x) & 1
    return picture


def pack(dots: list[int], high_first: bool) -> int:
    """Eight dots as one byte."""
    return sum(dot << (7 - k if high_first else k) for k, dot in enumerate(dots))


def write(picture: Picture, layout: Layout) -> list[bytes]:
    """The blocks that draw a picture under a layout; written apart from the code that reads them."""
    blocks = []
    if layout.by_column:
        for top in range(0, len(picture), layout.step):
            block = []
            for x in range(len(picture[0])):
                for byte in range(layout.unit_bytes):
                    rows = range(top + 8 * byte, top + 8 * byte + 8)
                    dots = [picture[y][x] if y < min(len(picture), top + layout.step) else 0 for y in rows]
                    block.append(pack(dots, layout.high_first))
            blocks.append(bytes(block))
        return blocks
    flat = [pack(row[x : x + 8], layout.high_first) for row in picture for x in range(0, len(row), 8)]
    return [bytes(flat)]


LAYOUTS = [
    Layout(True, True, 1, 8),
    Layout(True, False, 1, 8),
    Layout(True, True, 2, 16),
    Layout(True, False, 3, 24),
    Layout(True, True, 1, 7),
    Layout(False, True, 12, 1),
    Layout(False, False, 12, 1),
]


@pytest.mark.parametrize("layout", LAYOUTS, ids=str)
def test_rank_layouts(layout: Layout) -> None:
    """A picture with slanting stripes over its joins is found under its own layout alone."""
    picture = [[dot ^ (x + y) // 5 % 5 // 4 for x, dot in enumerate(row)] for y, row in enumerate(curve(96, 144))]
    ranking = rank_layouts(write(picture, layout))
    assert ranking.guesses[0].layout == layout
    assert ranking.is_decided, str(ranking)
    assert str(ranking).startswith(f"{layout}; the next is ")


def test_draw_layout() -> None:
    """Two columns of one byte by hand: the highest bit uppermost."""
    drawn = draw_layout([b"\x80\x01", b"\xff\x00"], Layout(True, True, 1, 8))
    assert drawn.tolist() == [[1, 0], *[[0, 0]] * 6, [0, 1], *[[1, 0]] * 8]
    assert draw_layout([b"\x80\x03"], Layout(False, False, 2, 1)).tolist() == [[0] * 7 + [1, 1, 1] + [0] * 6]


def test_draw_layout_there_and_back() -> None:
    """What is written under a layout is drawn as it was."""
    for layout in LAYOUTS:
        if layout.step != 7:
            picture = curve(96, 48, "TIDE")
            assert draw_layout(write(picture, layout), layout).tolist() == picture


def test_one_pass_is_not_decided() -> None:
    """One pass of the head has no joins: the mirror image hangs together as well, and it is said."""
    block = write(curve(96, 8), Layout(True, True, 1, 8))
    ranking = rank_layouts(block, steps=[8])
    assert not ranking.is_decided
    upright, turned = Layout(True, True, 1, 8), Layout(True, False, 1, 8)
    assert {upright, turned} <= set(ranking.tied)
    assert turned in ranking.mirrored or upright in ranking.mirrored
    assert "(the mirror image; only known text tells them apart)" in str(ranking)


def test_text_decides() -> None:
    """Known lettering tells a picture of one pass from its mirror image."""
    picture = curve(96, 40, "LEVEL")[1:9]
    blocks = write(picture, Layout(True, False, 1, 8))
    assert not rank_layouts(blocks, steps=[8]).is_decided
    ranking = rank_layouts(blocks, steps=[8], text="LEVEL")
    assert ranking.guesses[0].layout == Layout(True, False, 1, 8)
    assert ranking.is_decided
    assert ranking.guesses[0].text_share == pytest.approx(1.0)


def test_symmetric_content() -> None:
    """Columns that read the same from both ends make the same picture either way."""
    rng = random.Random(1)
    blocks = []
    for _ in range(4):
        thick, block = 2, bytearray()
        for _ in range(90):
            thick = min(4, max(0, thick + rng.choice((0, 0, 0, 0, 1, -1))))
            block.append((0x00, 0x18, 0x3C, 0x7E, 0xFF)[thick])
        blocks.append(bytes(block))
    ranking = rank_layouts(blocks, steps=[8])
    assert not ranking.is_decided
    assert set(ranking.tied) == {ranking.tied[0], *ranking.same_picture}
    assert set(ranking.tied) == {Layout(True, True, 1, 8), Layout(True, False, 1, 8)}
    assert "(the same picture: the content is symmetric)" in str(ranking)


def test_noise_is_not_decided() -> None:
    """Random bytes belong to no layout: many stand together."""
    rng = random.Random(3)
    ranking = rank_layouts([rng.randbytes(96) for _ in range(4)])
    assert len(ranking.tied) > 3


def test_data_blocks() -> None:
    """The data of a command in a stream."""
    table = (
        'title = "t"\ndevice = "d"\nkind = "note"\n[[command]]\npattern = "1B 4B n data*n"\nname = "dots"\n'
        'meaning = "dots"\n[[command]]\npattern = "0A"\nname = "feed"\nmeaning = "feed"\n'
    )
    reading = read_stream(read_device(table.encode(), "documents/t.toml"), b"\x1bK\x02ab\n\x1bK\x01c\n")
    assert data_blocks(reading, "dots") == (b"ab", b"c")
    with pytest.raises(Unsupported, match=r"^documents/t\.toml:8 \(command\[2\]\): 'feed' carries no data$"):
        data_blocks(reading, "feed")


def test_rank_layouts_wrong() -> None:
    """Nothing to draw is refused."""
    with pytest.raises(
        Unsupported, match=r"^the graphics: a layout is sought for 1 to 1048576 bytes of graphics, not 0$"
    ):
        rank_layouts([b""])

"""The strip in letters as it grows, against the printed pages' rules and against the whole strip."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import latchlore
from latchlore.base import Unsupported
from latchlore.device import Device, GrowingStrip, open_paper, read_device, text_lines

DEMO = Path(latchlore.__file__).parent / "demo" / "documents"


def table(name: str) -> Device:
    """A table of the invented demonstration."""
    return read_device((DEMO / name).read_bytes(), name)


def grown(device: Device, pieces: list[bytes]) -> list[str]:
    """All lines, the stream given piece by piece."""
    strip = GrowingStrip(device)
    lines = [line for piece in pieces for line in strip.add(piece)]
    return lines + list(strip.finish())


def test_growing_strip() -> None:
    """A line comes once the paper has moved past it; lines without letters are kept as room."""
    strip = GrowingStrip(table("quill-24.toml"))
    assert strip.add(b"TIDE 3.4") == ()
    assert strip.add(b"1 M\r") == ()
    assert strip.add(b"\n") == ("TIDE 3.41 M",)
    assert strip.add(b"\r\n\r\nFALLING") == ()
    assert strip.finish() == ("", "", "FALLING")
    assert strip.finish() == ()


def test_growing_strip_edge() -> None:
    """More than 24 characters go on in the next line or over the edge as the document has it; all lines fit."""
    device = table("quill-24.toml")
    assert device.paper is not None
    lines = grown(device, [bytes(range(0x41, 0x41 + 26)) + b"\r\n"])
    assert lines[0] == "ABCDEFGHIJKLMNOPQRSTUVWX"
    assert all(len(line) <= device.paper.columns for line in lines)


@settings(deadline=None, max_examples=60)
@given(
    st.lists(
        st.one_of(
            st.sampled_from([b"\r\n", b"\n", b"\r", b"\x06", b"\x16", b"\x16Z", b"\x16L\x03", b"\x16L\x20"]),
            st.binary(min_size=18, max_size=18).map(lambda dots: b"\x16D" + dots),
            st.just(b"\x16D" + b"\r\nA" * 6),
            st.binary(max_size=4),
            st.text(alphabet=[chr(k) for k in range(0x20, 0x7F)], max_size=30).map(lambda text: text.encode("ascii")),
        ),
        max_size=40,
    ),
    st.lists(st.integers(0, 400), max_size=12),
    st.sampled_from(["quill-24.toml", "quill-24g.toml"]),
)
def test_growing_strip_pieces(parts: list[bytes], cuts: list[int], name: str) -> None:
    """Cut anywhere, the stream gives the lines that the whole of it gives, each in its order."""
    device = table(name)
    data = b"".join(parts)
    places = sorted({0, len(data), *(cut for cut in cuts if cut < len(data))})
    whole = [line.text for line in text_lines(open_paper(device, data))]
    assert [line for line in grown(device, [data[a:b] for a, b in pairwise(places)]) if line] == [
        line for line in whole if line
    ]


def test_growing_strip_wrong() -> None:
    """A document without paper cannot show any."""
    with pytest.raises(Unsupported, match=r"no paper can be drawn without a \[paper\] section"):
        GrowingStrip(read_device(b'title = "Note"\ndevice = "Quill"\nkind = "letter"\n', "note.toml"))

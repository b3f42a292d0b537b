"""What meets the eye in an image; the bytes are made up for each test."""

from __future__ import annotations

from latchlore.program._glance import find_fills, find_texts


def test_fills() -> None:
    """Stretches of one byte count from 32 on; the longest is named."""
    data = bytes(31) + b"\x01" + b"\xff" * 40 + b"\x02" + b"\xff" * 32 + bytes(33)
    assert [(one.value, one.count, one.longest) for one in find_fills(data)] == [
        (0xFF, 72, (32, 71)),
        (0x00, 33, (105, 137)),
    ]
    assert str(find_fills(data)[0]) == "FFh fills 72 bytes, the longest stretch at 0020-0047"


def test_texts() -> None:
    """Six characters with a word in them are a text, also with the last one marked; digits and short ones are not."""
    data = b"\x00PRINTER NOT READ\xd9\x01ABCDE\x02123456789\x03ready."
    assert [(one.offset, one.text, one.is_marked) for one in find_texts(data)] == [
        (1, "PRINTER NOT READY", True),
        (35, "ready.", False),
    ]

"""Bytes read as UTF-8 text (RFC 3629)."""

from __future__ import annotations

import pytest

from latchlore.base import BadInput, decode_text


def test_decode_text() -> None:
    """The two bytes C3 A9 are e with acute (RFC 3629, section 3)."""
    assert decode_text(b"caf\xc3\xa9\n", "a.txt") == "caf\u00e9\n"


def test_decode_text_wrong() -> None:
    """FFh never stands in UTF-8 (RFC 3629, section 1); the line is counted from 1, the byte from 0."""
    with pytest.raises(BadInput) as caught:
        decode_text(b"one\ntwo \xff\n", "a.txt")
    assert str(caught.value) == "a.txt:2: byte 8 is FFh; the file must be UTF-8 text"

"""ROM files: what is read, what is refused and where; compared with two libraries that were not used to read."""

from __future__ import annotations

import io
import re

import bincopy
import pytest
from hypothesis import given
from hypothesis import strategies as st
from intelhex import IntelHex

from latchlore.base import BadInput
from latchlore.program._formats import Stretch, guess_kind, parse_rom

GOOD = ":0300300002337A1E\n:00000001FF\n"  # the example of the Intel Hexadecimal Object File Format Specification


def refused(text: str) -> str:
    """The whole message of a refusal."""
    with pytest.raises(BadInput) as caught:
        parse_rom(text.encode(), "rom.hex")
    return str(caught.value)


def test_parse_intel() -> None:
    """The published example is read; lower case, carriage returns and blank lines change nothing."""
    wanted = (Stretch(0x30, bytes.fromhex("02337A")),)
    assert parse_rom(GOOD.encode(), "a").stretches == wanted
    assert parse_rom(GOOD.lower().replace("\n", "\r\n\r\n").encode(), "a").stretches == wanted
    assert parse_rom(GOOD.encode(), "a").notes == ()


def test_parse_motorola() -> None:
    """The example in the srec(5) manual page (S1 line, header HDR) is read with its header and start."""
    text = "S00600004844521B\nS1130000285F245F2212226A000424290008237C2A\nS5030001FB\nS9030000FC\n"
    rom = parse_rom(text.encode(), "a")
    assert (rom.kind, rom.header, rom.entry) == ("S-records", "HDR", None)
    assert rom.stretches == (Stretch(0, bytes.fromhex("285F245F2212226A000424290008237C")),)


@given(st.binary(min_size=1, max_size=300), st.sampled_from([0, 0xF000, 0xFFF8, 0x12F000]))
def test_parse_written_by_others(data: bytes, address: int) -> None:
    """What intelhex and bincopy write is read back, in Intel HEX and S-records of every address width."""
    stream = io.StringIO()
    other = IntelHex()
    other.frombytes(data, address)
    other.write_hex_file(stream)
    texts = [stream.getvalue()]
    binary = bincopy.BinFile()
    binary.add_binary(data, address)
    texts += [binary.as_ihex(), binary.as_srec(32, 32), binary.as_srec(16, 24)]
    for text in texts:
        assert parse_rom(text.encode(), "a").stretches == (Stretch(address, data),)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (GOOD.replace("7A1E", "7A1F"), "rom.hex:1: the checksum is 1Fh; the record's bytes give 1Eh"),
        (
            ":0300300002331E\n",
            "rom.hex:1: the record is cut off: it states 7 bytes behind its count and has 6",
        ),
        (
            ":0300300002337A00\n:0300300002337A1E\nhello\n:00000001FF\n",
            "rom.hex:1: the checksum is 00h; the record's bytes give 1Eh\n"
            "rom.hex:3: a record of Intel HEX starts with ':', not 'HELLO'",
        ),
        (
            ":0300300002337A1E\n:0300300002337A1E\n:00000001FF\n",
            "rom.hex:2: address 0030 is given again; it was given in line 1",
        ),
        (f"{GOOD}:0300400002337A0E\n", "rom.hex:3: a record stands behind the end record in line 2"),
        (
            ":0300300002337A1\n:00000001FF\n",
            "rom.hex:1: a record consists of pairs of hexadecimal digits, not ':0300300002337A1'",
        ),
        (":00000009F7\n:00000001FF\n", "rom.hex:1: Intel HEX has no record type '09'"),
        (":00000001FF\n", "rom.hex:1: no record holds data"),
        (":0100000400FB\n:00000001FF\n", "rom.hex:1: a record of type 04 holds 2 data bytes, not 1"),
        ("S1050000AABB95\nS5030002FA\nS9030000FC\n", "rom.hex:2: the count record states 2 data records; 1 were read"),
        ("S1050000AABB94\n", "rom.hex:1: the checksum is 94h; the record's bytes give 95h"),
        ("S4050000AABB95\nS1050000AABB95\n", "rom.hex:1: S-records has no record type 'S4'"),
    ],
)
def test_parse_wrong(text: str, words: str) -> None:
    """Every mistake is refused with its line, all of a file at once."""
    assert re.fullmatch(re.escape(words), refused(text))


def test_parse_no_end() -> None:
    """A missing end record is read, with a note."""
    rom = parse_rom(b":0300300002337A1E\n", "a")
    assert rom.stretches == (Stretch(0x30, bytes.fromhex("02337A")),)
    assert rom.notes == (
        "there is no end record (type 01), so the file may have been cut off; it was read as far as it goes",
    )


def test_both_libraries_refuse_what_is_refused() -> None:
    """A bad checksum and the same record twice are refused by both libraries too; so nothing is invented here."""
    for text in (GOOD.replace("1E", "1F"), GOOD.replace(":00", ":0300300002337A1E\n:00", 1)):
        with pytest.raises(Exception, match=r"."):
            bincopy.BinFile().add_ihex(text)
        with pytest.raises(Exception, match=r"."):
            IntelHex(io.StringIO(text))


def test_guess_kind() -> None:
    """Only what can be a record's beginning is taken for one; the rest is raw."""
    assert [guess_kind(raw) for raw in (GOOD.encode(), b"S1050000AABB95", b":hello world", b"SEI", b"\x00")] == [
        "Intel HEX", "S-records", "raw", "raw", "raw",
    ]  # fmt: skip


def test_parse_empty_wrong() -> None:
    """An empty file is refused."""
    with pytest.raises(BadInput, match=r"^a: the file is empty$"):
        parse_rom(b"", "a")


def test_filled() -> None:
    """Gaps are filled; the first address stays."""
    rom = parse_rom(b":0100000011EE\n:0100030022DA\n:00000001FF\n", "a")
    assert rom.filled(0xEE) == Stretch(0, bytes.fromhex("11EEEE22"))
    assert str(rom) == "a: Intel HEX, 0000-0000 (1 bytes), 0003-0003 (1 bytes)"

"""Listings: every byte has a kind, code reads as capstone has it, and what is not explained is shown."""

from __future__ import annotations

import importlib.resources
import random

import capstone
import pytest

from latchlore.base import AddressSet, BadInput, InputKind
from latchlore.program import Image, Listing, NamedRegister, Part, PartKind, find_drivers, make_listing, map_code
from tests.test_program_random import ORIGIN, make_program

ENGINE = capstone.Cs(capstone.CS_ARCH_MOS65XX, capstone.CS_MODE_MOS65XX_6502)
STROBE = NamedRegister("STROBE", InputKind.MEMORY, AddressSet.of((0xC802,)), "write")


def listed(data: bytes, load: int = 0xE000, cpu: str = "6502", **entries: int) -> Listing:
    """The listing of some bytes; the first one is the entry where none is named."""
    image = Image.from_bytes(data, load, "rom.bin")
    code = map_code([image], {at: name for name, at in entries.items()} or {load: ""}, cpu=cpu)
    return make_listing(code, find_drivers(code, [STROBE]))


def parts_of(listing: Listing) -> tuple[Part, ...]:
    """The parts of the only image."""
    ((_, parts),) = listing.images
    return parts


def kinds(listing: Listing) -> list[tuple[PartKind, int, int]]:
    """(kind, first, last) of every part."""
    return [(part.kind, part.address, part.last) for part in parts_of(listing)]


def test_kinds_and_shares() -> None:
    """Code, a text with bit 7 on its last letter, a byte read, a table in reach, a filling, and the rest."""
    # LDA E00B; LDX 02; LDA E02F,X; RTS
    code = bytes.fromhex("AD0BE0 A602 BD2FE0 60")
    text = b"NOT READ" + bytes([ord("Y") | 0x80])
    data = code + b"\x01\x02" + b"\x55" + b"\x03" + text + b"\xff" * 20 + b"\x10\x20\x30"
    listing = listed(data)
    assert kinds(listing) == [
        (PartKind.CODE, 0xE000, 0xE002),
        (PartKind.CODE, 0xE003, 0xE004),
        (PartKind.CODE, 0xE005, 0xE007),
        (PartKind.CODE, 0xE008, 0xE008),
        (PartKind.REST, 0xE009, 0xE00A),
        (PartKind.DATA, 0xE00B, 0xE00B),
        (PartKind.REST, 0xE00C, 0xE00C),
        (PartKind.TEXT, 0xE00D, 0xE015),
        (PartKind.FILL, 0xE016, 0xE029),
        (PartKind.REST, 0xE02A, 0xE02C),
    ]
    assert parts_of(listing)[7].text == "NOT READY"
    assert parts_of(listing)[5].read_by == (0xE000,)
    assert listing.shares == {
        PartKind.CODE: 9,
        PartKind.TEXT: 9,
        PartKind.DATA: 1,
        PartKind.REACH: 0,
        PartKind.FILL: 20,
        PartKind.UNKNOWN: 0,
        PartKind.REST: 6,
    }
    assert listing.size == len(data)
    near = listed(bytes.fromhex("A602 BD08E0 60 EAEA 0102"))
    assert kinds(near)[-1] == (PartKind.REACH, 0xE008, 0xE009)


def test_cross_references_and_touches() -> None:
    """Each line knows who calls it and who jumps to it, and names the registers that it touches."""
    # E000: JSR E006; JMP E000 | E006: STA C802; BNE E006; RTS
    parts = parts_of(listed(bytes.fromhex("2006E0 4C00E0 8D02C8 D0FB 60"), start=0xE000))
    assert (parts[0].entry, parts[0].jumped_from) == ("start", (0xE003,))
    assert (parts[2].called_from, parts[2].jumped_from) == ((0xE000,), (0xE009,))
    assert parts[2].notes == ("writes C802 (STROBE)",)


def test_undocumented_is_named() -> None:
    """An undocumented opcode is named by its byte and length; what follows it is not explained."""
    listing = listed(bytes.fromhex("EA 04 10 60"))
    assert [part.instruction.text for part in parts_of(listing) if part.instruction] == ["NOP", "undocumented 04"]
    assert [one.address for one in listing.undocumented] == [0xE001]
    assert kinds(listing)[-1] == (PartKind.REST, 0xE003, 0xE003)
    spelled = parts_of(listed(bytes.fromhex("DDCB0530 C9"), 0x8000, "Z80"))[0].instruction
    assert spelled is not None
    assert spelled.text == "undocumented DD CB d 30"


def test_overlap_is_said() -> None:
    """A jump into an operand is listed behind the instruction that it lies in, and its bytes count once."""
    # E000: BIT 01A9 hides LDA #1; BEQ E001
    listing = listed(bytes.fromhex("2CA901 F0FC 60"))
    inner = next(part for part in parts_of(listing) if part.address == 0xE001)
    assert inner.notes == ("begins inside of the instruction above",)
    assert listing.shares[PartKind.CODE] == listing.size == 6


def test_vectors() -> None:
    """The vectors of the processor are data, each with where it leads."""
    data = b"\x60" + bytes(0xF9) + bytes.fromhex("00FF 03FF 06FF")
    parts = parts_of(listed(data, 0xFF00))
    assert [part.notes for part in parts[-3:]] == [
        ("vector NMI: FF00",),
        ("vector reset: FF03",),
        ("vector IRQ: FF06",),
    ]


@pytest.mark.parametrize("seed", [1, 7, 23])
def test_every_byte_once(seed: int) -> None:
    """Every byte of a random program is in a part; the shares add up."""
    code, start = make_program(seed)
    listing = listed(code, ORIGIN, entry=ORIGIN + start)
    covered = {at for part in parts_of(listing) for at in range(part.address, part.last + 1)}
    assert covered == set(range(ORIGIN, ORIGIN + len(code)))
    assert listing.size == len(code)


def test_demo_reads_as_capstone_has_it() -> None:
    """Every instruction of the demonstration: mnemonic and length as capstone 5 has them."""
    data = (importlib.resources.files("latchlore.demo") / "program" / "marram.bin").read_bytes()
    code = map_code([Image.from_bytes(data, 0xF800, "marram.bin")], {0xF800: "reset", 0xF89C: "print"}, cpu="6502")
    assert len(code.instructions) > 200
    for at, one in code.instructions.items():
        theirs = next(ENGINE.disasm(data[at - 0xF800 :], at))
        assert (one.text.split()[0].lower(), len(one.data)) == (theirs.mnemonic, theirs.size)


def test_random_bytes_are_no_text() -> None:
    """Of 4,096 random bytes hardly any count as text; a long sentence does as a whole."""
    data = bytearray(random.Random(5).randbytes(4096))
    data[0] = 0x60
    data[100:126] = b"\x00PRINTER OUT OF PAPER 123\x00"
    listing = listed(bytes(data))
    texts = [part.text for part in parts_of(listing) if part.kind is PartKind.TEXT]
    assert "PRINTER OUT OF PAPER 123" in texts
    assert sum(len(text) for text in texts) < 150


def test_texts_with_bit_7() -> None:
    """A text with bit 7 on every letter is one; behind it a plain one begins anew."""
    marked = bytes(ord(letter) | 0x80 for letter in "TIDE RECORDER")
    parts = parts_of(listed(b"\x60" + marked + b"PAPER OUT" + b"\x00"))
    assert [part.text for part in parts if part.kind is PartKind.TEXT] == ["TIDE RECORDER", "PAPER OUT"]


def test_only() -> None:
    """A range shows the parts that reach into it, and the shares of the whole."""
    listing = listed(bytes.fromhex("EA AD00C8 EA 60"))
    part = listing.only([(0xE002, 0xE002)])
    assert kinds(part) == [(PartKind.CODE, 0xE001, 0xE003)]
    assert part.size == 6


def test_listing_wrong() -> None:
    """An entry outside of the image is refused with the image's range."""
    with pytest.raises(BadInput, match=r"^rom\.bin: an entry lies within the images \(E000 to E000\), not at E001$"):
        listed(b"\x60", far=0xE001)

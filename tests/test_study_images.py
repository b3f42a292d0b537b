"""Images of a study: records, several reads, lines put back, windows and banks, places and processors found.

The programs are ours, a few bytes each.  Records are written by the `intelhex` and `bincopy` libraries, which the
reader under test does not share its rules with (it has `bincopy` unpack single records only).
"""

from __future__ import annotations

import hashlib
import io
import random
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

import bincopy
import pytest
from intelhex import IntelHex

from latchlore.base import Emission, SubjectKind, Words, Write
from latchlore.evidence import Standing
from latchlore.study import hear, load_study, weigh_study

if TYPE_CHECKING:
    from latchlore.study import Hearing, ProgramPart

# LDA #0, STA C802, LDX #5, DEX, BNE, LDA #1, STA C802, RTS: the bench case "strobe width from code"
STROBE = bytes.fromhex("A9 00 8D 02 C8 A2 05 CA D0 FD A9 01 8D 02 C8 60")
HEAD = '[program]\ncpu = "6502"\n[devices]\naddresses = ["C800-C803"]\n'
ENTRY = '[[entry]]\nname = "go"\naddress = "0300"\n'


def build(folder: Path, text: str, **files: bytes) -> Path:
    """A study of these files; two underscores stand for a dot."""
    folder.mkdir(exist_ok=True)
    (folder / "study.toml").write_text(text)
    for name, data in files.items():
        (folder / name.replace("__", ".")).write_bytes(data)
    return folder


def program_of(folder: Path) -> ProgramPart:
    """The program part of a study that has one."""
    program = load_study(folder).program
    assert program is not None
    return program


def hearing_of(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Hearing:
    """What the witnesses of a study say, with a cache of its own."""
    monkeypatch.setenv("LATCHLORE_CACHE", str(folder.parent / "cache"))
    return hear(load_study(folder))


def notes_of(hearing: Hearing) -> dict[str, tuple[str, str]]:
    """Subject → what is said, and why."""
    return {
        one.subject.key[0]: (str(one.value), one.note)
        for one in hearing.testimonies
        if one.subject.kind is SubjectKind.NOTE and isinstance(one.value, Words)
    }


def intel(data: bytes, at: int) -> bytes:
    """Intel HEX by the `intelhex` library."""
    book = IntelHex()
    book.puts(at, data)
    out = io.StringIO()
    book.write_hex_file(out)
    return out.getvalue().encode()


def motorola(data: bytes, at: int) -> bytes:
    """S-records by the `bincopy` library."""
    book = bincopy.BinFile()
    book.add_binary(data, at)
    return str(book.as_srec(address_length_bits=16)).encode()


@pytest.mark.parametrize("form", [intel, motorola])
def test_records(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, form: object) -> None:
    """A study of records says what the study of the raw bytes says: 32 cycles between the two writes."""
    assert callable(form)
    raw = build(tmp_path / "raw", f'{HEAD}[[image]]\nfile = "a.bin"\nload = "0300"\n{ENTRY}', a__bin=STROBE)
    text = build(tmp_path / "text", f'{HEAD}[[image]]\nfile = "a.txt"\n{ENTRY}', a__txt=form(STROBE, 0x300))
    moved = build(
        tmp_path / "moved", f'{HEAD}[[image]]\nfile = "a.txt"\nload = "0300"\n{ENTRY}', a__txt=form(STROBE, 0)
    )
    trees = []
    for folder in (raw, text, moved):
        hearing = hearing_of(folder, monkeypatch)
        assert hearing.program is not None
        trees.append(hearing.program.entries[0].tree)
    assert trees[0] == trees[1] == trees[2]
    writes = [event for event in trees[0].iter_events() if isinstance(event, Write)]
    assert [(write.address, str(write.value)) for write in writes] == [(0xC802, "00"), (0xC802, "01")]
    assert (writes[1].cycles.least, writes[1].cycles.most) == (32, 32)
    assert [part.is_as_filed for folder in (raw, text) for part in program_of(folder).images] == [True, False]


def test_records_with_a_gap(tmp_path: Path) -> None:
    """Each stretch of a file of records is an image of its own, and nothing fills the gap."""
    book = IntelHex()
    book.puts(0x300, STROBE)
    book.puts(0x400, b"\x60\x60")
    out = io.StringIO()
    book.write_hex_file(out)
    folder = build(tmp_path / "s", f'{HEAD}[[image]]\nfile = "a.hex"\n{ENTRY}', a__hex=out.getvalue().encode())
    assert [(part.load, part.data) for part in program_of(folder).images] == [(0x300, STROBE), (0x400, b"\x60\x60")]


def test_records_without_an_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file without its end record is read; that it may be cut off stays an open question of the table."""
    cut = b"\n".join(intel(STROBE, 0x300).splitlines()[:-1])
    folder = build(tmp_path / "s", f'{HEAD}[[image]]\nfile = "a.hex"\n{ENTRY}', a__hex=cut)
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path / "cache"))
    table = weigh_study(folder)
    words = "there is no end record (type 01), so the file may have been cut off; it was read as far as it goes"
    assert f"end of a.hex: {words}" in table.not_done
    (row,) = [row for row in table.rows if str(row.subject) == "end of a.hex"]
    assert row.standing is Standing.SILENT


def scrambled(data: bytes) -> bytes:
    """A chip of 16 bytes read with A2 inverted, and D0 and D7 crossed."""
    swap = [byte & 0x7E | byte << 7 & 0x80 | byte >> 7 for byte in data]
    return bytes(swap[address ^ 4] for address in range(len(data)))


def test_repair(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stated lines are put back for the program; the file stays as it is, and the table says what was done."""
    dump = scrambled(STROBE)
    text = (
        f'{HEAD}[[image]]\nfile = "a.bin"\nload = "0300"\nrepair = ["A2 inverted", "D0 and D7 swapped"]\n'
        f'repair_from = "the card, chip u5"\n{ENTRY}'
    )
    folder = build(tmp_path / "s", text, a__bin=dump)
    (part,) = program_of(folder).images
    assert (part.data, part.file.raw, part.is_as_filed) == (STROBE, dump, False)
    hearing = hearing_of(folder, monkeypatch)
    assert notes_of(hearing)["lines of a.bin"] == (
        "A2 inverted; D0 and D7 swapped",
        "stated; known from the card, chip u5; the bytes of a.bin stay as they are, the program is read with its "
        "lines put back",
    )
    assert (folder / "a.bin").read_bytes() == dump


def faded(data: bytes, seed: int) -> bytes:
    """A read of a fading EPROM: the zeros of D3 read as one, a quarter of the time."""
    chooser = random.Random(seed)
    bits = []
    for place in range(8 * len(data)):
        bit = data[place // 8] >> place % 8 & 1
        bits.append(1 if not bit and place % 8 == 3 and chooser.random() < 0.25 else bit)
    return bytes(sum(bits[8 * k + line] << line for line in range(8)) for k in range(len(data)))


def noisy(data: bytes, seed: int) -> bytes:
    """A read with five bits flipped anywhere."""
    chooser, read = random.Random(seed), bytearray(data)
    for _ in range(5):
        read[chooser.randrange(len(data))] ^= 1 << chooser.randrange(8)
    return bytes(read)


@pytest.mark.parametrize(("spoil", "rule"), [(faded, "AND of 6 reads"), (noisy, "majority of 6 reads")])
def test_reads(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, spoil: object, rule: str) -> None:
    """Reads of a fading EPROM are merged by AND, noisy ones by majority; the table says which and why."""
    assert callable(spoil)
    chip = STROBE + random.Random(1).randbytes(496)
    names = [f"r{k}" for k in range(6)]
    reads = {name: spoil(chip, k) for k, name in enumerate(names)}
    text = f'{HEAD}[[image]]\nreads = {names!r}\nload = "0300"\n{ENTRY}'.replace("'", '"')
    folder = build(tmp_path / "s", text, **reads)
    (part,) = program_of(folder).images
    assert part.data == chip
    words, why = notes_of(hearing_of(folder, monkeypatch))["reads merged with r0"]
    assert words == rule
    assert "weak: " in why
    assert " bit " in why


def test_bad_read_dropped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One read of five whose D3 had no contact is dropped and named."""
    chip = STROBE + random.Random(1).randbytes(496)
    reads = {f"r{k}": noisy(chip, k) for k in range(4)} | {"r4": bytes(byte | 8 for byte in chip)}
    text = f'{HEAD}[[image]]\nreads = ["r4", "r0", "r1", "r2", "r3"]\nload = "0300"\n{ENTRY}'
    folder = build(tmp_path / "s", text, **reads)
    (part,) = program_of(folder).images
    assert (part.data, part.file.file) == (chip, "r0")
    words, why = notes_of(hearing_of(folder, monkeypatch))["reads merged with r4"]
    assert words == "majority of 4 reads, 1 dropped"
    assert "r4 dropped: bad contact: D3 reads 1 where the others read 0" in why


def test_reads_stated_rule(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stated rule is taken as stated."""
    text = f'{HEAD}[[image]]\nreads = ["a", "b"]\nmerge = "AND"\nload = "0300"\n{ENTRY}'
    folder = build(tmp_path / "s", text, a=STROBE[:-1] + b"\x61", b=STROBE)
    (part,) = program_of(folder).images
    assert (part.data, part.unknown) == (STROBE, ())
    words, why = notes_of(hearing_of(folder, monkeypatch))["reads merged with a"]
    assert (words, why) == (
        "AND of 2 reads",
        "AND as stated; 1 bit differs between the reads; weak: 000F bit 0: 1 in 1 of 2 reads",
    )


def test_reads_open(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A byte on which two reads disagree is unknown to the program, and asked in the table; it is not guessed."""
    other = bytearray(STROBE)
    other[11] ^= 2  # the operand of the second LDA
    folder = build(
        tmp_path / "s", f'{HEAD}[[image]]\nreads = ["a", "b"]\nload = "0300"\n{ENTRY}', a=STROBE, b=bytes(other)
    )
    (part,) = program_of(folder).images
    assert part.unknown == ((0x30B, 0x30B),)
    hearing = hearing_of(folder, monkeypatch)
    assert hearing.program is not None
    assert any(line.startswith("open bytes of the reads merged with a: 1 bit differs") for line in hearing.not_done)
    assert (
        "from 'go' the program runs into code that is not known at 030A: the content of 030B is not known"
    ) in hearing.not_done


# LDA (bank's table), STA C800, RTS at 0300; the table byte lies in a window at 8000
ACROSS = bytes.fromhex("AD 00 80 8D 00 C8 60")
WINDOW = (
    '[[image]]\nfile = "main"\nload = "0300"\n'
    '[[image]]\nfile = "zero"\nload = "8000"\nwindow = "upper"\nbank = "0"\n'
    '[[image]]\nfile = "one"\nload = "8000"\nwindow = "upper"\nbank = "1"\n'
)
BANKS = {"main": ACROSS, "zero": b"\x11" * 16, "one": b"\x22" * 8}


def written(hearing: Hearing, name: str) -> set[int]:
    """Every byte that an entry may write."""
    assert hearing.program is not None
    (tree,) = [entry.tree for entry in hearing.program.entries if entry.name == name]
    return set(tree.possible_bytes(lambda kind, address: True))


def test_banks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the bank stated the program reads that bank; with none stated its bytes are unknown, and it is said."""
    entries = "".join(
        f'[[entry]]\nname = "{name}"\naddress = "0300"\n{banks}'
        for name, banks in (
            ("first", 'banks = ["upper = 0"]\n'),
            ("second", 'banks = ["upper = 1"]\n'),
            ("nobody knows", ""),
        )
    )
    hearing = hearing_of(build(tmp_path / "s", HEAD + WINDOW + entries, **BANKS), monkeypatch)
    assert written(hearing, "first") == {0x11}
    assert written(hearing, "second") == {0x22}
    assert written(hearing, "nobody knows") == set(range(256))
    assert (
        "from 'nobody knows': nobody says which bank of 'upper' is there ('0', '1'), so its bytes are unknown; "
        "state it with banks"
    ) in hearing.not_done
    assert hearing.program is not None
    assumed = [entry.tree.assumptions[-1] for entry in hearing.program.entries]
    assert assumed == [
        "window 'upper' shows bank '0' all along",
        "window 'upper' shows bank '1' all along",
        "window 'upper' shows some bank, the same all along, and nobody says which",
    ]


def test_banks_are_read_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A write into a window of unknown bank has no effect: what is read back is still unknown."""
    code = bytes.fromhex("A9 55 8D 00 80 AD 00 80 8D 00 C8 60")
    hearing = hearing_of(build(tmp_path / "s", HEAD + WINDOW + ENTRY, **{**BANKS, "main": code}), monkeypatch)
    assert written(hearing, "go") == set(range(256))


def test_entry_in_unknown_bank(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An entry whose own bytes nobody knows is not followed, and what is to be stated is said."""
    entry = '[[entry]]\nname = "in"\naddress = "8000"\n'
    hearing = hearing_of(build(tmp_path / "s", HEAD + WINDOW + entry, **BANKS), monkeypatch)
    assert hearing.program is not None
    assert hearing.program.entries == ()
    assert (
        "'in' was not followed: it lies at 8000 in 'upper', and nobody says which bank is there ('0', '1'); "
        "state it with banks"
    ) in hearing.not_done


def test_never_needs_the_bank(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A "never" is said of a stated bank, and not where the bank is unknown."""
    ask = '[[role]]\nrole = "data"\nsignal = "DATA"\nat = "C800"\n[[look_for]]\nname = "bell"\ncode = "07"\n'
    for banks, happens in (('banks = ["upper = 0"]\n', False), ("", True)):
        folder = build(tmp_path / "s", HEAD + WINDOW + ENTRY + banks + ask, **BANKS)
        hearing = hearing_of(folder, monkeypatch)
        (said,) = [one.value for one in hearing.testimonies if isinstance(one.value, Emission)]
        assert said.happens is happens


def marram() -> bytes:
    """The demonstration's image: 2 KB of invented 6502 code for F800, with vectors."""
    return resources.files("latchlore.demo").joinpath("program/marram.bin").read_bytes()


def test_place_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Calls and vectors say where the image lies; the table says so too."""
    folder = build(tmp_path / "s", f'{HEAD}[[image]]\nfile = "a"\nload = "infer"\n', a=marram())
    assert [part.load for part in program_of(folder).images] == [0xF800]
    words, why = notes_of(hearing_of(folder, monkeypatch))["load address of a"]
    assert words == "F800"
    assert "vectors at the top lead into it" in why


def test_header_is_skipped(tmp_path: Path) -> None:
    """A two-byte header that states the place is no part of the program."""
    folder = build(tmp_path / "s", f'{HEAD}[[image]]\nfile = "a"\nload = "infer"\n', a=b"\x00\xf8" + marram()[:-2])
    (part,) = program_of(folder).images
    assert (part.load, part.data) == (0xF800, marram()[:-2])


def test_place_stays_open(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Bytes that show no place are left out, their entry is not followed, and the place is an open question."""
    text = f'{HEAD}[[image]]\nfile = "a"\nload = "infer"\n{ENTRY}'
    folder = build(tmp_path / "s", text, a=random.Random(3).randbytes(256))
    assert program_of(folder).images == ()
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path / "cache"))
    table = weigh_study(folder)
    (row,) = [row for row in table.rows if str(row.subject) == "load address of a"]
    assert row.standing is Standing.SILENT
    assert any(
        line.startswith("load address of a: undecided, so the image is left out; state it; likeliest: ")
        for line in table.not_done
    )


def test_processor_none_of_these(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Random bytes are nobody's code: the processor is an open question and nothing is followed."""
    text = f'{HEAD}[[image]]\nfile = "a"\nload = "0300"\n{ENTRY}'.replace("6502", "infer")
    folder = build(tmp_path / "s", text, a=random.Random(3).randbytes(256))
    assert program_of(folder).cpu == ""
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path / "cache"))
    table = weigh_study(folder)
    (row,) = [row for row in table.rows if str(row.subject) == "processor of the program"]
    assert row.standing is Standing.SILENT
    assert "the program was not followed: its processor is not known; state it as cpu" in table.not_done


CBIOS = Path("/usr/share/cbios/cbios_sub.rom")


@pytest.mark.skipif(not CBIOS.exists(), reason="Debian package cbios is not installed")
def test_processor_is_found(tmp_path: Path) -> None:
    """Debian's `cbios` sub ROM is Z80 code (its package says so) for 0000."""
    data = CBIOS.read_bytes()
    text = f'{HEAD}[[image]]\nfile = "a"\nload = "infer"\n'.replace("6502", "infer")
    program = program_of(build(tmp_path / "s", text, a=data))
    assert (program.cpu, [part.load for part in program.images]) == ("Z80", [0])


def test_files_stay(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of all this writes into the study."""
    folder = build(
        tmp_path / "s",
        f'{HEAD}[[image]]\nreads = ["a", "b"]\nload = "infer"\nrepair = ["A2 inverted"]\n',
        a=scrambled(STROBE),
        b=scrambled(STROBE),
    )
    before = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}
    hearing_of(folder, monkeypatch)
    assert {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()} == before


@pytest.mark.parametrize(("writable", "sent"), [("true", 0x55), ("false", 0x11)])
def test_overlay_in_ram(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, writable: str, sent: int) -> None:
    """An overlay that was loaded into RAM takes a write; a ROM in the same place does not."""
    code = bytes.fromhex("A9 55 8D 00 80 AD 00 80 8D 00 C8 60")
    text = (
        f'{HEAD}[[image]]\nfile = "main"\nload = "0300"\n'
        f'[[image]]\nfile = "one"\nload = "8000"\nwindow = "overlay"\nbank = "1"\nwritable = {writable}\n'
        f'{ENTRY}banks = ["overlay = 1"]\n'
    )
    hearing = hearing_of(build(tmp_path / "s", text, main=code, one=b"\x11" * 8), monkeypatch)
    assert written(hearing, "go") == {sent}

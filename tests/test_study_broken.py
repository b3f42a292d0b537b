"""Broken studies: each gives one clear message and a status of its own, never a traceback, and nothing is written."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from latchlore.base import OUTCOME, BadInput
from latchlore.cli import run
from latchlore.study import load_study

Files = dict[str, bytes]

LOG: Files = {"strip.log": b"41 42\n"}
IMAGE: Files = {"program/rom.bin": bytes(2048)}


class Broken(NamedTuple):
    """One broken study: a name, its files or a function that makes it, and every line of the message."""

    name: str
    make: Files | Callable[[Path], None]
    lines: tuple[str, ...]


def _toml(text: str, **more: bytes) -> Files:
    return {"study.toml": text.encode(), **LOG, **{name.replace("__", "/"): data for name, data in more.items()}}


def _program(text: str, image: bytes = bytes(2048)) -> Files:
    """A study.toml with a good [program] and [[image]] (E000-E7FF) on lines 1 to 5, and `text` from line 6 on."""
    head = '[program]\ncpu = "6502"\n[[image]]\nfile = "program/rom.bin"\nload = "E000"\n'
    return {"study.toml": (head + text).encode(), "program/rom.bin": image}


def _images(text: str, **files: bytes) -> Files:
    """A [program] on lines 1 and 2, and ``[[image]]`` with `text` from line 3 on."""
    return {"study.toml": ('[program]\ncpu = "6502"\n[[image]]\n' + text).encode(), **files}


_BANK = 'file = "a"\nload = "8000"\nwindow = "w"\nbank = "0"\n'
_ENTRY = '[[entry]]\nname = "e"\naddress = "8000"\n'


def _link_out(folder: Path) -> None:
    (folder.parent / "secret.log").write_bytes(b"41\n")
    (folder / "wire").mkdir()
    (folder / "wire" / "a.log").symlink_to("../../secret.log")


def _folder_out(folder: Path) -> None:
    (folder.parent / "elsewhere").mkdir()
    (folder.parent / "elsewhere" / "a.log").write_bytes(b"41\n")
    (folder / "wire").symlink_to("../elsewhere")


def _link_in_circles(folder: Path) -> None:
    (folder / "a.log").symlink_to("b.log")
    (folder / "b.log").symlink_to("a.log")


def _dangling(folder: Path) -> None:
    (folder / "a.log").symlink_to("gone.log")


def _pipe(folder: Path) -> None:
    os.mkfifo(folder / "a.log")


def _huge_log(folder: Path) -> None:
    with (folder / "a.log").open("wb") as stream:
        stream.truncate(200 << 20)


def _log_is_a_folder(folder: Path) -> None:
    (folder / "wire").mkdir()
    (folder / "study.toml").write_text('[[log]]\nfile = "wire"\n')


def _board_is_a_file(folder: Path) -> None:
    (folder / "board").write_text("nets")
    (folder / "a.log").write_text("41\n")


def _name_not_utf8(folder: Path) -> None:
    (Path(os.fsdecode(os.fsencode(folder) + b"/caf\xe9.log"))).write_bytes(b"41\n")


NAME = "a name is text in quotes"
WANTED = (
    "a study holds at least one byte log (*.log), net file (board/*.nets), Verilog file (board/*.v), device table"
    " (documents/*.toml) or a"
)

TABLE = [
    # The folder
    Broken("empty folder", {}, (f"card: is empty; {WANTED} study.toml",)),
    Broken("nothing of use", {"x.txt": b"x"}, (f"card: holds nothing that a study is made of; {WANTED} study.toml",)),
    Broken("only hidden files", {".a.log": b"41"}, (f"card: is empty; {WANTED} study.toml",)),
    Broken("board is a file", _board_is_a_file, ("board: is a file; a folder is expected here",)),
    Broken("name not UTF-8", _name_not_utf8, ("caf\\xe9.log: the name is not UTF-8 text",)),
    Broken("link out of the study", _link_out, ("wire/a.log: byte log leads out of the study",)),
    Broken("folder out of the study", _folder_out, ("wire/a.log: byte log leads out of the study",)),
    Broken("links in a circle", _link_in_circles, (
        "a.log: byte log cannot be read (a loop of symbolic links)",
        "b.log: byte log cannot be read (a loop of symbolic links)",
    )),
    Broken("link to nothing", _dangling, ("a.log: byte log is not there",)),
    Broken("a pipe", _pipe, ("a.log: byte log is not a plain file",)),
    Broken("a log of 200 MB", _huge_log, ("a.log: byte log has 209715200 bytes; at most 4194304 are read",)),
    # study.toml as text
    Broken("not UTF-8", _toml("", **{"study.toml": b"title = '\xe9'\n"}), (
        "study.toml:1: byte 9 is E9h; the file must be UTF-8 text",
    )),
    Broken("not TOML", _toml("title = x\n"), ("study.toml:1: not TOML: invalid value",)),
    Broken("key twice", _toml('title = "a"\n\ntitle = "b"\n'), ("study.toml:3: not TOML: cannot overwrite a value",)),
    Broken("table twice", _toml('[program]\ncpu = "6502"\n[program]\ncpu = "6502"\n'), (
        "study.toml:3: not TOML: cannot declare ('program',) twice",
    )),
    Broken("nested too deeply", _toml("a = " + "[" * 200 + "]" * 200), (
        "study.toml:1: not a table for people: nested deeper than 64",
    )),
    # Keys and types
    Broken("unknown key", _toml('title = "a"\ncolour = "red"\n'), (
        "study.toml:2 (colour): key 'colour' is not known here",
    )),
    Broken("unknown table", _toml('[[images]]\nfile = "x"\n'), (
        "study.toml:1 (images): key 'images' is not known here",
    )),
    Broken("wrong types", _toml('title = 7\ninvented = "yes"\nrole = "busy"\n'), (
        f"study.toml:1 (title): {NAME}, not 7",
        "study.toml:2 (invented): input should be a valid boolean, not 'yes'",
        "study.toml:3 (role): input should be a valid list, not 'busy'",
    )),
    Broken("title of two lines", _toml('title = "a\\nb"\n'), (
        "study.toml:1 (title): a name is one line of text, not 'a\\nb'",
    )),
    Broken("missing keys", _toml('[program]\nclock = "1 MHz"\n\n[[image]]\nload = "E000"\n'), (
        "study.toml:1 (program): key 'cpu' is missing",
        "study.toml:4 (image[1]): key 'file' (or 'reads') is missing",
    )),
    # Addresses, bits, codes, clocks
    Broken("bad hex", _program('[[entry]]\nname = "a"\naddress = "E0G0"\n'), (
        "study.toml:8 (entry[1].address): an address is hexadecimal digits, such as 'C800', not 'E0G0'",
    )),
    Broken("address without quotes", _program('[[entry]]\nname = "a"\naddress = 0xE000\n'), (
        "study.toml:8 (entry[1].address): an address is text in quotes, such as 'C800', not 57344",
    )),
    Broken("address too long", _program('[[entry]]\nname = "a"\naddress = "1E000"\n'), (
        "study.toml:8 (entry[1].address): an address of 16 lines is at most FFFF, not '1E000'",
    )),
    Broken("bad clock", _toml('[program]\ncpu = "6502"\nclock = "1 MegaHertz"\n'), (
        "study.toml:3 (program.clock): a clock rate is a number and one of Hz, kHz, MHz, not '1 MegaHertz'",
    )),
    Broken("clock as a number", _toml('[program]\ncpu = "6502"\nclock = 1.0\n'), (
        "study.toml:3 (program.clock): a clock rate is text in quotes, such as '1.0 MHz', not 1.0",
    )),
    Broken("clock that stands still", _toml('[program]\ncpu = "6502"\nclock = "0 Hz"\n'), (
        "study.toml:3 (program.clock): a clock rate is above zero, not 0 Hz",
    )),
    Broken("tolerance without clock", _toml('[program]\ncpu = "6502"\ntolerance_ppm = 50\n'), (
        "study.toml:1 (program): a tolerance_ppm belongs to a clock; key 'clock' is missing",
    )),
    Broken("bad bits", _toml('[program]\ncpu = "6502"\nheld = ["C801 bit 8", "C801"]\n'), (
        "study.toml:3 (program.held[1]): a register has bits 0 to 7, not 'C801 bit 8'",
        "study.toml:3 (program.held[2]): held bits name the bits, such as 'C801 bits 0-1', not 'C801'",
    )),
    Broken("range upside down", _toml('[program]\ncpu = "6502"\nram = ["07FF-0000"]\n'), (
        "study.toml:3 (program.ram[1]): a range goes from the lower to the higher address, not '07FF-0000'",
    )),
    Broken("bad given", _program('[[entry]]\nname = "a"\naddress = "E000"\ngiven = ["A is 41"]\n'), (
        "study.toml:9 (entry[1].given[1]): what is given is 'A = 41' or '0200 = 1B 40', not 'A is 41'",
    )),
    Broken("short pattern", _toml('[devices]\naddresses = [\n  "C800",\n  "1100 1xxx",\n]\n'), (
        "study.toml:4 (devices.addresses[2]): an address pattern has 16 digits, not '1100 1xxx'",
    )),
    Broken("no device address", _toml("[devices]\naddresses = []\n"), (
        "study.toml:2 (devices.addresses): the devices have at least one address, not []",
    )),
    Broken("bad code", _toml('[[look_for]]\nname = "x"\ncode = "1B K"\n'), (
        "study.toml:3 (look_for[1].code): a code is bytes of two hexadecimal digits, ranges 00..7F, choices 0A|0D, "
        "'K' or any, not '1B K'",
    )),
    Broken("code and command", _toml('[[look_for]]\nname = "x"\ncode = "1B"\ndocument = "a"\n'), (
        "study.toml:1 (look_for[1]): what to look for is either a code, or a document and a command in it",
    )),
    # Images and entries
    Broken("image missing", _toml('[program]\ncpu = "6502"\n[[image]]\nfile = "program/rom.bin"\nload = "E000"\n'), (
        "study.toml:4 (image[1].file): image 'program/rom.bin' is not there",
    )),
    Broken("image out of the study", _program("").copy() | _toml(
        '[program]\ncpu = "6502"\n[[image]]\nfile = "../rom.bin"\nload = "E000"\n'), (
        "study.toml:4 (image[1].file): a path goes down from the study's folder with forward slashes, not '../rom.bin'",
    )),
    Broken("image at the root", _toml('[program]\ncpu = "6502"\n[[image]]\nfile = "/rom.bin"\nload = "E000"\n'), (
        "study.toml:4 (image[1].file): a path goes down from the study's folder with forward slashes, not '/rom.bin'",
    )),
    Broken("truncated image", _program("size = 4096\n"), (
        "study.toml:6 (image[1].size): image 'program/rom.bin' is truncated: it has 2048 bytes, and size says 4096",
    )),
    Broken("image too long", _program('size = "1 KB"\n'), (
        "study.toml:6 (image[1].size): image 'program/rom.bin' is too long: it has 2048 bytes, and size says 1024",
    )),
    Broken("empty image", _program("", image=b""), (
        "study.toml:4 (image[1].file): image 'program/rom.bin' is empty",
    )),
    Broken("image past the end", _program("", image=bytes(8193)), (
        "study.toml:5 (image[1].load): image 'program/rom.bin' of 8193 bytes reaches 10000h; the last address is FFFF",
    )),
    Broken("Intel HEX with a wrong checksum", _program("", image=b":10E00000A9008D02C8A205CAD0FDA9018D02C860FF\n"), (
        "program/rom.bin:1: the checksum is FFh; the record's bytes give 71h",
    )),
    Broken("S-records cut off in a record", _program(
        "", image=b"S1137AF00A0A0D00000000000000000000\r\nS9030000FC\r\n"), (
        "program/rom.bin:1: the record is cut off: it states 19 bytes behind its count and has 15",
    )),
    Broken("Intel HEX and S-records in one file", _program("", image=b":0100000011EE\nS1050000AABB95\n:00000001FF\n"), (
        "program/rom.bin:2: a record of Intel HEX starts with ':', not 'S1050000AABB95'",
    )),
    Broken("an address twice", _program("", image=b":0100000011EE\n:0100000011EE\n:00000001FF\n"), (
        "program/rom.bin:2: address 0000 is given again; it was given in line 1",
    )),
    Broken("records elsewhere than load says", _program("", image=b":0100100011DE\n:00000001FF\n"), (
        "study.toml:5 (image[1].load): image 'program/rom.bin' is Intel HEX and begins at 0010, and load says E000; "
        "leave 'load' out, or give it for records that begin at 0000",
    )),
    Broken("records beyond the space", _images('file = "a"\n', a=b":020000040001F9\n:0100000011EE\n:00000001FF\n"), (
        "study.toml:4 (image[1].file): image 'a' of 1 bytes reaches 10000h; the last address is FFFF",
    )),
    Broken("records whose place is to be found", _images('file = "a"\nload = "infer"\n', a=b"S1050000AABB95\n"), (
        "study.toml:5 (image[1].load): image 'a' is S-records and states its addresses from 0000 on; "
        "leave 'load' out",
    )),
    Broken("raw bytes without a place", _images('file = "a"\n', a=b"\1\2"), (
        "study.toml:3 (image[1]): image 'a' is raw bytes; key 'load' is missing: its address, or 'infer'",
    )),
    Broken("load that is a word", _images('file = "a"\nload = "top"\n', a=b"\1\2"), (
        "study.toml:5 (image[1].load): a load address is hexadecimal digits, such as 'C800', or 'infer', not 'top'",
    )),
    Broken("raw bytes called records", _images('file = "a"\nformat = "S-records"\n', a=b"\1\2"), (
        "a:1: a record of S-records starts with 'S', not '\\x01\\x02'",
    )),
    Broken("file and reads", _images('file = "a"\nreads = ["a", "a"]\nload = "0"\n', a=b"\1"), (
        "study.toml:3 (image[1]): an image is one file or several reads of one chip; 'file' and 'reads' are both "
        "there",
    )),
    Broken("one read", _images('reads = ["a"]\nload = "0"\n', a=b"\1"), (
        "study.toml:3 (image[1]): reads of one chip are two or more; one read is a 'file'",
    )),
    Broken("a rule without reads", _images('file = "a"\nmerge = "AND"\nload = "0"\n', a=b"\1"), (
        "study.toml:3 (image[1]): merge belongs to reads; key 'reads' is missing",
    )),
    Broken("reads of different sizes", _images('reads = ["a", "b"]\nload = "0"\n', a=b"\1", b=b"\1\2"), (
        "study.toml:4 (image[1].reads[2]): read 'b' holds 2 bytes from 0000 on, and read 'a' 1 bytes from 0000 on; "
        "reads of one chip cover the same addresses",
    )),
    Broken("reads in different forms", _images('reads = ["a", "b"]\nload = "0"\n', a=b"\1", b=b"S1050300AABB92\n"), (
        "study.toml:4 (image[1].reads[2]): read 'b' holds 2 bytes from 0300 on, and read 'a' 1 bytes from 0000 on; "
        "reads of one chip cover the same addresses",
    )),
    Broken("a read that is not there", _images('reads = ["a", "b"]\nload = "0"\n', a=b"\1"), (
        "study.toml:4 (image[1].reads[2]): image 'b' is not there",
    )),
    Broken("a line that the chip lacks", _images('file = "a"\nload = "0"\nrepair = ["A3 inverted"]\n', a=bytes(8)), (
        "study.toml:6 (image[1].repair): there is no A3: the lines of this chip are A0 to A2",
    )),
    Broken("words that state no line", _images('file = "a"\nload = "0"\nrepair = ["A1 broken"]\n', a=bytes(8)), (
        "study.toml:6 (image[1].repair): a line's repair is 'A6 inverted', 'A0 and A1 swapped' or 'D3 is read at D4, "
        "D4 at D3', not 'A1 broken'",
    )),
    Broken("two lines at one", _images('file = "a"\nload = "0"\nrepair = ["D0 is read at D1"]\n', a=bytes(8)), (
        "study.toml:6 (image[1].repair): D0 and D1 would both be read at D1; each line is read at one of its own",
    )),
    Broken("address lines of an odd size", _images('file = "a"\nload = "0"\nrepair = ["A0 inverted"]\n', a=bytes(9)), (
        "study.toml:6 (image[1].repair): there is no A0: address lines are told apart only where the size is a power "
        "of two",
    )),
    Broken("a source without a repair", _images('file = "a"\nload = "0"\nrepair_from = "x"\n', a=bytes(8)), (
        "study.toml:3 (image[1]): repair_from belongs to repair; key 'repair' is missing",
    )),
    Broken("a window without a bank", _images('file = "a"\nload = "0"\nwindow = "w"\n', a=bytes(8)), (
        "study.toml:3 (image[1]): window belongs to bank; key 'bank' is missing",
    )),
    Broken("two images of one bank", _images(f"{_BANK}[[image]]\n{_BANK}", a=bytes(8)), (
        "study.toml:8 (image[2]): image 'a' overlaps image 'a' at 8000-8007, listed at study.toml:3 (image[1])",
    )),
    Broken("unknown bank and window", _images(
        _BANK + _ENTRY + 'banks = ["w = 1", "v = 0", "w = 0", "w = 0"]\n', a=bytes(8)), (
        "study.toml:11 (entry[1].banks[4]): the bank of window 'w' is stated twice",
        "study.toml:11 (entry[1].banks[2]): there is no window 'v'; windows: 'w'",
        "study.toml:11 (entry[1].banks[1]): window 'w' has no bank '1'; it has '0'",
    )),
    Broken("a bank without a window", _images(_BANK + _ENTRY + 'banks = ["0"]\n', a=bytes(8)), (
        "study.toml:11 (entry[1].banks[1]): a bank is 'WINDOW = BANK', such as 'upper ROM = 2', not '0'",
    )),
    Broken("an entry in a bank that is not there", _images(
        f"{_BANK}[[image]]\n{_BANK}{_ENTRY}".replace("8000", "8008", 1).replace('"0"', '"1"', 1)
        + 'banks = ["w = 1"]\n', a=bytes(8)), (
        "study.toml:15 (entry[1].address): entry 'e' at 8000 lies in no image; images: 8008-800F",
    )),
    Broken("overlapping images", _program('[[image]]\nfile = "program/rom.bin"\nload = "E400"\n'), (
        "study.toml:6 (image[2]): image 'program/rom.bin' overlaps image 'program/rom.bin' at E400-E7FF, listed at "
        "study.toml:3 (image[1])",
    )),
    Broken("image without a program", _toml('[[image]]\nfile = "rom.bin"\nload = "E000"\n', **{"rom.bin": b"\0"}), (
        "study.toml:1 (image[1]): an [[image]] needs a [program] that names the cpu",
    )),
    Broken("entry outside", _program('[[entry]]\nname = "a"\naddress = "E800"\n'), (
        "study.toml:8 (entry[1].address): entry 'a' at E800 lies in no image; images: E000-E7FF",
    )),
    Broken("entry twice", _program('[[entry]]\nname = "a"\naddress = "E000"\n' * 2), (
        "study.toml:10 (entry[2].name): entry 'a' is there twice; first at study.toml:7 (entry[1].name)",
    )),
    # Names that must be there
    Broken("unknown entry", _program('[[entry]]\nname = "a"\naddress = "E000"\n[[look_for]]\nname = "x"\ncode = "1B"\n'
                                     'entry = "b"\n'), (
        "study.toml:12 (look_for[1].entry): there is no entry 'b'; there are 'a'",
    )),
    Broken("unknown document", _toml('[[look_for]]\nname = "x"\ndocument = "quill"\ncommand = "bell"\n'), (
        "study.toml:3 (look_for[1].document): there is no document 'quill'; there is none",
    )),
    Broken("unknown role", _toml('[[role]]\nrole = "bussy"\nsignal = "BUSY"\nat = "C801 bit 7"\n'), (
        "study.toml:2 (role[1].role): input should be 'data', 'strobe', 'busy', 'acknowledge', 'select', 'paper-out', "
        "'fault', 'initialise' or 'other', not 'bussy'",
    )),
    Broken("role without a place", _toml('[[role]]\nrole = "busy"\nsignal = "BUSY"\n'), (
        "study.toml:1 (role[1]): role 'busy' needs `at`, the register bit of 'BUSY', since there is no board",
    )),
    Broken("role of a whole byte", _toml('[[role]]\nrole = "busy"\nsignal = "BUSY"\nat = "C801"\n'), (
        "study.toml:1 (role[1]): the role 'busy' has one bit, such as 'C801 bit 7', not 'C801'",
    )),
    Broken("signal twice", _toml('[[role]]\nrole = "busy"\nsignal = "B"\nat = "C801 bit 7"\n' * 2), (
        "study.toml:7 (role[2].signal): role 'B' is there twice; first at study.toml:3 (role[1].signal)",
    )),
    # Logs
    Broken("log missing", _toml('[[log]]\nfile = "wire/a.log"\n'), (
        "study.toml:2 (log[1].file): byte log 'wire/a.log' is not there",
    )),
    Broken("log twice", _toml('[[log]]\nfile = "strip.log"\n[[log]]\nfile = "strip.log"\n'), (
        "study.toml:4 (log[2].file): byte log 'strip.log' is listed twice; first at study.toml:2 (log[1].file)",
    )),
    Broken("log is a folder", _log_is_a_folder, ("study.toml:2 (log[1].file): byte log 'wire' is not a plain file",)),
    Broken("log base", _toml('[[log]]\nfile = "strip.log"\nbase = "octal"\n'), (
        "study.toml:3 (log[1].base): input should be 'hex' or 'decimal', not 'octal'",
    )),
    Broken("log empty", {"a.log": b" \n"}, ("a.log: holds no byte; a byte log has at least one",)),
    Broken("log not UTF-8", {"a.log": b"41\n\xff\xfe\n"}, ("a.log:2: byte 3 is FFh; the file must be UTF-8 text",)),
    # Several files at once
    Broken("all files", {"study.toml": b"x = 1", "a.log": b"", "board/a.nets": b"\xff", "documents/b.toml": b"\xff"}, (
        "a.log: holds no byte; a byte log has at least one",
        "board/a.nets:1: byte 0 is FFh; the file must be UTF-8 text",
        "documents/b.toml:1: byte 0 is FFh; the file must be UTF-8 text",
        "study.toml:1 (x): key 'x' is not known here",
    )),
]  # fmt: skip

HOST = "host 6502\npart u1 74ls00\n"


def _nets(text: str) -> Files:
    return {"board/a.nets": (HOST + text).encode()}


def _table(text: str) -> Files:
    """A device table whose head is lines 1 to 3."""
    return {"documents/q.toml": ('title = "x"\ndevice = "Quill"\nkind = "manual"\n' + text).encode()}


def _entry(text: str, cpu: str = "6502") -> Files:
    """A study with an entry whose table starts on line 8."""
    head = f'[devices]\naddresses = ["C800"]\n[program]\ncpu = "{cpu}"\n[[image]]\nfile = "rom.bin"\nload = "E000"\n'
    rows = '[[entry]]\nname = "a"\naddress = "E000"\n'
    return {"study.toml": (head + rows + text).encode(), "rom.bin": b"\x60" * 16}


WITNESSES = [
    # Net files
    Broken("pin twice", _nets("net x u1.1 u1.4\nnet y u1.1 u1.5\n"), (
        "board/a.nets:4: pin u1.1 stands here and at board/a.nets:3",
    )),
    Broken("unknown part", {"board/a.nets": b"host 6502\npart u1 74ls9999\n"}, (
        "board/a.nets:2: part 'u1' has type '74ls9999', which the catalogue does not know; write its number of pins as "
        "in: part u1 unknown 16",
    )),
    Broken("net with one pin", _nets("net x u1.1\n"), ("board/a.nets:3: net 'x' has one pin only, u1.1",)),
    Broken("pin that is not there", _nets("net x u1.15 u1.1 u1.2\n"), (
        "board/a.nets:3: part 'u1' (74ls00) has pins 1 to 14, no pin '15'",
    )),
    Broken("part that is not there", _nets("net x u2.1 u1.1 u1.2\n"), (
        "board/a.nets:3: 'u2.1': the board has no part, connector or strap 'u2'",
    )),
    Broken("part twice", _nets("part u1 74ls04\n"), ("board/a.nets:3: name 'u1' is taken at board/a.nets:2",)),
    Broken("net file and table", _nets("net x u1.1\n") | _table('colour = "red"\n'), (
        "board/a.nets:3: net 'x' has one pin only, u1.1",
        "documents/q.toml:4 (colour): key 'colour' is not known here",
    )),
    # Device tables
    Broken("unknown key of a table", _table('colour = "red"\n'), (
        "documents/q.toml:4 (colour): key 'colour' is not known here",
    )),
    Broken("table without a head", {"documents/q.toml": b'device = "Quill"\n'}, (
        "documents/q.toml:1: key 'title' is missing",
        "documents/q.toml:1: key 'kind' is missing",
    )),
    Broken("bad pattern", _table('[[command]]\npattern = "1B 4G"\nmeaning = "x"\n'), (
        "documents/q.toml:5 (command[1].pattern): part '4G' is not understood; a byte is two upper-case hexadecimal "
        "digits, not '1B 4G'",
    )),
    Broken("time without a unit", _table('[[timing]]\nwhat = "strobe width"\nleast = "5"\n'), (
        "documents/q.toml:6 (timing[1].least): a time is a number and one of ps, ns, us, ms, s, not '5'",
    )),
    # Logs
    Broken("log with a letter too many", {"a.log": b"numbers: hex\n41 4G\n"}, (
        "a.log:2: '4G' is not a byte; a byte is 00 to FF in hexadecimal or 0 to 255 in decimal",
    )),
    Broken("log with a number too large", {"a.log": b"numbers: decimal\n65\n256\n"}, (
        "a.log:3: '256' is not a byte; a byte is 00 to FF in hexadecimal or 0 to 255 in decimal",
    )),
    Broken("log of comments", {"a.log": b"# nothing\n"}, ("a.log: the log holds no byte and no run",)),
    # What the program's entry says
    Broken("unknown processor", _entry("", cpu="6581"), (
        "study.toml:8 (entry[1]): processor '6581' is not known; known are '6502', '65C02', '6800', '6809', "
        "'8080', '8085', 'R65C02', 'Z80'",
    )),
    Broken("unknown register", _entry('given = ["Q = 1"]\n'), (
        "study.toml:8 (entry[1]): the 6502 has no register 'Q'; known are 'A', 'X', 'Y', 'S', 'N', 'V', 'D', 'I', 'Z', "
        "'C'",
    )),
    Broken("register too small", _entry('given = ["A = 1234"]\n'), (
        "study.toml:8 (entry[1]): register 'A' holds 0 to 255, not 4660",
    )),
]  # fmt: skip


def make(folder: Path, broken: Broken) -> Path:
    """The broken study in a folder of its own."""
    folder.mkdir()
    if callable(broken.make):
        broken.make(folder)
    else:
        for name, data in broken.make.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
    return folder


def state(folder: Path) -> list[tuple[str, int, int]]:
    """Name, size and time of change of everything, without following links."""
    found = [(str(path), path.lstat().st_size, path.lstat().st_mtime_ns) for path in folder.rglob("*")]
    return sorted(found)


def test_table_is_large() -> None:
    """At least 40 broken studies, each with a name of its own."""
    assert len({broken.name for broken in TABLE}) == len(TABLE) >= 40


@pytest.mark.parametrize("broken", TABLE, ids=lambda broken: broken.name.replace(" ", "-"))
def test_load_wrong(tmp_path: Path, broken: Broken) -> None:
    """The reader refuses with exactly these lines, and writes nothing."""
    folder = make(tmp_path / "card", broken)
    before = state(tmp_path)
    with pytest.raises(BadInput) as error:
        load_study(folder)
    assert tuple(str(error.value).splitlines()) == broken.lines
    assert state(tmp_path) == before


@pytest.mark.parametrize("broken", [*TABLE, *WITNESSES], ids=lambda broken: broken.name.replace(" ", "-"))
def test_weigh_wrong(
    tmp_path: Path, broken: Broken, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The command ends with the status of bad input, prints exactly these lines as errors, and writes nothing."""
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path / "cache"))
    folder = make(tmp_path / "card", broken)
    before = state(tmp_path)
    assert run(["weigh", str(folder)]) == OUTCOME[BadInput].exit_code
    printed = capsys.readouterr()
    assert printed.out == ""
    assert tuple(printed.err.splitlines()) == tuple(f"latchlore: {line}" for line in broken.lines)
    assert state(tmp_path) == before


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("gone", "{0}/gone: there is no such folder (no such file or directory)"),
        ("a.log", "{0}/a.log: is a file; a study is a folder"),
        ("loop", "{0}/loop: there is no such folder (a loop of symbolic links)"),
    ],
)
def test_no_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, message: str) -> None:
    """What is not a folder is refused by its name."""
    (tmp_path / "a.log").write_bytes(b"41\n")
    (tmp_path / "loop").symlink_to("loop")
    assert run(["weigh", str(tmp_path / name)]) == OUTCOME[BadInput].exit_code
    assert capsys.readouterr().err == f"latchlore: {message.format(tmp_path)}\n"


def test_many_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder that is no study at all (a home folder, say) is refused before it is read through."""
    monkeypatch.setattr("latchlore.study._paths.MAX_FILES", 20)
    for number in range(30):
        (tmp_path / f"{number}.txt").write_bytes(b"")
    with pytest.raises(BadInput) as error:
        load_study(tmp_path)
    assert str(error.value) == f"{tmp_path.name}: holds more than 20 files; a study is a small folder"


def test_file_that_grows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A log that grows above the limit between the look at its size and the reading is refused."""
    monkeypatch.setattr("latchlore.study._paths.LIMITS", {"byte log": 5})
    (tmp_path / "a.log").write_bytes(b"41 42 43\n")
    real = os.fstat

    def small(handle: int) -> os.stat_result:
        return os.stat_result((*real(handle)[:6], 3, *real(handle)[7:]))

    monkeypatch.setattr(os, "fstat", small)
    with pytest.raises(BadInput) as error:
        load_study(tmp_path)
    assert str(error.value) == "a.log: byte log grew above 5 bytes while it was read"


def test_no_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file the system refuses to open is named with the system's reason."""
    (tmp_path / "a.log").write_bytes(b"41\n")

    def closed(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", closed)
    with pytest.raises(BadInput) as error:
        load_study(tmp_path)
    assert str(error.value) == "a.log: byte log cannot be read (permission denied)"

"""Reading study folders: what is found where, what stays untouched, and a new study that loads."""

from __future__ import annotations

import hashlib
import os
import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from latchlore.base import AddressSet, BadInput, Clock, InputBit, InputKind, Origin
from latchlore.study import BitPlace, Study, load_study, new_study
from latchlore.study._journal import JOURNAL
from latchlore.study.starter import STUDY_TOML

WHOLE = """\
title = "A strip printer card"
about = "Invented."
invented = true

[program]
cpu = "6502"
clock = "14.31818/14 MHz"
tolerance_ppm = 100
ram = ["0000-07FF"]
held = ["C801 bits 0-1"]

[[image]]
file = "program/rom.bin"
load = "F000"
size = "4 KB"

[[entry]]
name = "power-on"
address = "$F000"
sequence = "burst"
held = ["C801 bit 3"]
given = ["A = 41", "0200 = 1B 40"]

[devices]
addresses = ["C800-C803", "port 84", "port 0100"]

[[role]]
role = "data"
signal = "DATA"
at = "C800"

[[role]]
role = "busy"
signal = "BUSY"
at = "C801 bit 7"
inverted = true

[[log]]
file = "more/listed.log"
sequence = "burst"
base = "decimal"
runs = "file"
listener = "borrowed listener"

[[look_for]]
name = "dot drawing"
code = "1B 4B any"
entry = "power-on"

[[look_for]]
name = "bell"
document = "quill"
command = "ring"

[[question]]
text = "Could it draw dots?"
about = ["dot drawing"]
"""

FILES: dict[str, bytes] = {
    "study.toml": WHOLE.encode(),
    "program/rom.bin": bytes(4096),
    "program/notes.txt": b"spare",
    "board/b.nets": b"# nothing\n",
    "board/a.nets": b"# nothing\n",
    "board/.hidden.nets": b"\xff",
    "documents/quill.toml": b'title = "x"\n',
    "wire/burst/2.log": b"1B\n",
    "wire/burst/1.log": b"1B\n",
    "wire/tail.log": b"0D\n",
    "top.log": b"0A\n",
    "more/listed.log": b"27\n",
    "letter.txt": b"Dear all",
}


def build(folder: Path, files: dict[str, bytes]) -> Path:
    """A folder with these files."""
    for name, data in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return folder


def state(folder: Path) -> dict[str, tuple[str, int]]:
    """Content and time of change of every file."""
    return {
        path.relative_to(folder).as_posix(): (hashlib.sha256(path.read_bytes()).hexdigest(), path.stat().st_mtime_ns)
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.fixture
def study(tmp_path: Path) -> Study:
    """The study with everything in it."""
    return load_study(build(tmp_path / "card", FILES))


def test_program(study: Study) -> None:
    """Processor, clock, images and entries, each with its line."""
    program = study.program
    assert program is not None
    assert (program.cpu, program.ram) == ("6502", ((0, 0x7FF),))
    assert program.clock == Clock(Fraction(14_318_180, 14), 100)
    (image,) = program.images
    assert (image.file.file, image.load, image.last) == ("program/rom.bin", 0xF000, 0xFFFF)
    assert str(image.origin) == "study.toml:12 (image[1])"
    (entry,) = program.entries
    assert (entry.name, entry.address, entry.sequence) == ("power-on", 0xF000, "burst")
    held = [(str(one.bit), str(one.origin)) for one in program.held_at(entry)]
    assert held == [
        ("C801 bit 0", "study.toml:10 (program.held[1])"),
        ("C801 bit 1", "study.toml:10 (program.held[1])"),
        ("C801 bit 3", "study.toml:21 (entry[1].held[1])"),
    ]
    assert program.held[0].bit == InputBit(InputKind.MEMORY, 0xC801, 0)
    assert [(one.name, one.address, one.data) for one in entry.given] == [("A", None, b"A"), ("", 0x200, b"\x1b@")]


def test_parts(study: Study) -> None:
    """Everything else of study.toml, in its order."""
    assert (study.title, study.about, study.is_invented) == ("A strip printer card", "Invented.", True)
    assert study.devices.memory == AddressSet.of_range(0xC800, 0xC803)
    assert study.devices.ports == AddressSet.of((0x84, 0x100), 16) | AddressSet.parse("xxxx xxxx 1000 0100")
    assert [(role.role, role.signal, role.place, role.inverted) for role in study.roles] == [
        ("data", "DATA", BitPlace("write", InputKind.MEMORY, 0xC800), False),
        ("busy", "BUSY", BitPlace("read", InputKind.MEMORY, 0xC801, (7,)), True),
    ]
    dots, bell = study.look_for
    assert (dots.name, dots.entry, dots.pattern) == (
        "dot drawing",
        "power-on",
        (frozenset({0x1B}), frozenset({0x4B}), frozenset(range(256))),
    )
    assert (bell.pattern, bell.document, bell.command, bell.entry) == (None, "quill", "ring", "")
    (question,) = study.questions
    assert (question.text, question.about) == ("Could it draw dots?", ("dot drawing",))
    line = WHOLE.splitlines().index("[[question]]") + 1
    assert str(question.origin) == f"study.toml:{line} (question[1])"


def test_files_by_place(study: Study) -> None:
    """Net files, documents and logs are found by their place, in order; the rest is named, not dropped."""
    assert [file.file for file in study.nets] == ["board/a.nets", "board/b.nets"]
    assert [(file.file, file.stem, file.text) for file in study.documents] == [
        ("documents/quill.toml", "quill", 'title = "x"\n')
    ]
    assert [(log.sequence, log.file.file, log.base, log.runs, log.listener) for log in study.logs] == [
        ("burst", "more/listed.log", "decimal", "file", "borrowed listener"),
        ("burst", "wire/burst/1.log", "", "", ""),
        ("burst", "wire/burst/2.log", "", "", ""),
        ("tail", "wire/tail.log", "", "", ""),
        ("top", "top.log", "", "", ""),
    ]
    assert list(study.logs_by_sequence()) == ["burst", "tail", "top"]
    assert [len(logs) for logs in study.logs_by_sequence().values()] == [3, 1, 1]
    assert study.unread == ("letter.txt", "program/notes.txt")


def test_one_log(tmp_path: Path) -> None:
    """A folder with one byte log and nothing else is a study."""
    study = load_study(build(tmp_path / "found", {"strip.log": b"41 42\n"}))
    assert study.title == "found"
    assert [(log.sequence, log.file.raw, log.origin) for log in study.logs] == [
        ("strip", b"41 42\n", Origin("strip.log"))
    ]
    assert (study.program, study.nets, study.roles, study.unread) == (None, (), (), ())


def test_nothing_written(tmp_path: Path) -> None:
    """Reading changes no file and adds none, and gives the same twice."""
    folder = build(tmp_path / "card", FILES)
    before = state(folder)
    assert load_study(folder) == load_study(folder)
    assert state(folder) == before


def test_links_inside(tmp_path: Path) -> None:
    """A symbolic link that stays inside the study is read like a file."""
    folder = build(tmp_path / "card", {"wire/a.log": b"41\n"})
    (folder / "wire" / "b.log").symlink_to("a.log")
    assert [log.file.raw for log in load_study(folder).logs] == [b"41\n", b"41\n"]


def test_linked_folder(tmp_path: Path) -> None:
    """A study reached through a symbolic link, or by a path with dots, is the same study."""
    folder = build(tmp_path / "card", {"wire/a.log": b"41\n"})
    (tmp_path / "link").symlink_to(folder)
    assert load_study(tmp_path / "link").logs == load_study(folder).logs
    assert load_study(folder / "wire" / "..").logs == load_study(folder).logs


def test_change_half_done(tmp_path: Path) -> None:
    """A change decided on and not carried out is read as done, without writing."""
    folder = build(tmp_path / "card", {"wire/a.log": b"41\n", "wire/.latchlore-00000000000000aa.staged": b"42\n"})
    (folder / JOURNAL).write_text("0" * 64 + "\t.latchlore-00000000000000aa.staged\twire/a.log\nend 1\n")
    before = state(folder)
    assert [log.file.raw for log in load_study(folder).logs] == [b"42\n"]
    assert state(folder) == before


def test_new_study(tmp_path: Path) -> None:
    """A new study loads without a mistake, holds nothing yet, and explains itself; an empty folder will do too."""
    (tmp_path / "empty").mkdir()
    for name in ("fresh", "empty"):
        files = new_study(tmp_path / name)
        assert sorted(state(tmp_path / name)) == sorted(files)
        study = load_study(tmp_path / name)
        assert (study.title, study.logs, study.unread) == ("A study without a name", (), ())
        mask = os.umask(0o022)
        os.umask(mask)
        assert (tmp_path / name).stat().st_mode & 0o777 == 0o777 & ~mask
    assert sorted(path.name for path in tmp_path.iterdir()) == ["empty", "fresh"]


def test_new_study_lines(tmp_path: Path) -> None:
    """Every line of the new study.toml that is commented out is right: uncommented, the file keeps the rules."""
    lines = [line.removeprefix("# ") for line in STUDY_TOML.splitlines()]
    text = "\n".join(line for line in lines if line.startswith("[") or " = " in line)
    files = {
        "study.toml": text.encode(),
        "program/rom.bin": bytes(8192),
        "wire/power-on.log": b"41\n",
    }
    study = load_study(build(tmp_path / "card", files))
    assert study.program is not None
    assert [entry.name for entry in study.program.entries] == ["power-on"]
    assert [role.role for role in study.roles] == ["data", "busy"]
    assert len(study.questions) == len(study.look_for) == len(study.logs) == 1


@pytest.mark.parametrize(
    ("made", "name", "message"),
    [
        ("card/x", "card", "{0}/card: is not empty; a new study starts in a new or an empty folder"),
        ("card/.x", "card", "{0}/card: is not empty; a new study starts in a new or an empty folder"),
        ("card", "card", "{0}/card: is not a folder; a new study needs a name of its own"),
        ("x", "deep/card", "{0}/deep/card: the folder above it, '{0}/deep', is not there"),
    ],
)
def test_new_study_wrong(tmp_path: Path, made: str, name: str, message: str) -> None:
    """What is there already is left alone."""
    build(tmp_path, {made: b"mine"})
    before = state(tmp_path)
    with pytest.raises(BadInput) as error:
        new_study(tmp_path / name)
    assert str(error.value) == message.format(tmp_path)
    assert state(tmp_path) == before
    assert [path.name for path in tmp_path.iterdir()] == [made.partition("/")[0]]


def test_new_study_full_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that fills up half-way leaves nothing behind."""
    real, calls = Path.write_bytes, 0

    def full(path: Path, data: bytes) -> int:
        nonlocal calls
        calls += 1
        if calls == 3:
            raise OSError(28, "No space left on device")
        return real(path, data)

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(BadInput) as error:
        new_study(tmp_path / "card")
    assert str(error.value) == f"{tmp_path}/card: cannot be made (no space left on device)"
    assert list(tmp_path.iterdir()) == []


def test_documented_file(tmp_path: Path) -> None:
    """The pieces of docs/study-folder.md, put together, are one study.toml that loads."""
    page = (Path(__file__).parent.parent / "docs" / "study-folder.md").read_text("utf-8")
    pieces = re.findall(r"^```toml\n(.*?)^```$", page, flags=re.DOTALL | re.MULTILINE)
    assert len(pieces) == 9
    files = {
        "study.toml": "\n".join(pieces).encode(),
        "program/rom.bin": bytes(8192),
        "program/menu.bin": bytes(512),
        "program/print.bin": bytes(512),
        "wire/a.log": b"41\n",
        "wire/print.vcd": b"$",
        "wire/samples.csv": b"0",
        "wire/serial.raw": b"0",
        "documents/quill-24.toml": b'title = "x"\n',
    }
    study = load_study(build(tmp_path / "card", files))
    assert study.is_invented
    assert len(study.look_for) == 2
    assert study.unread == ()


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_damaged_files(tmp_path: Path, data: st.DataObject) -> None:
    """Whatever happens to study.toml, it is read or refused with its mistakes; nothing else is raised."""
    lines = WHOLE.splitlines()
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(lines) - 1))
        match data.draw(st.sampled_from(["drop", "double", "swap", "value", "type"])):
            case "drop":
                del lines[at]
            case "double":
                lines.insert(at, lines[data.draw(st.integers(0, len(lines) - 1))])
            case "swap":
                lines[at], lines[0] = lines[0], lines[at]
            case "value":
                lines[at] = lines[at].partition("=")[0] + "= " + repr(data.draw(st.text(max_size=8)))
            case _:
                kinds = ["1", "-1", "1.5", "true", "[]", "{}", "[[1]]", "{ a = 1 }", "2026-11-25", "nan", '["x", 2]']
                lines[at] = lines[at].partition("=")[0] + "= " + data.draw(st.sampled_from(kinds))
    text = "\n".join(lines).encode("utf-8", "surrogatepass")
    folder = build(tmp_path / "card", {**FILES, "study.toml": text})
    mistakes: tuple[tuple[Origin, str], ...] = ()
    try:
        load_study(folder)
    except BadInput as error:
        mistakes = error.mistakes
    assert all(str(place).startswith("study.toml:") and words for place, words in mistakes)

"""Test vectors of a stand-in: the program runs through with a peripheral that follows the file and nothing else."""

from __future__ import annotations

import csv
import io
import json
import random
import re
from bisect import bisect_right
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import pytest
from vcd.reader import TokenKind, tokenize

from latchlore.base import AddressSet, InputKind
from latchlore.demo import demo_folder
from latchlore.evidence import Answer, Basis, Inputs, Model, StandIn, Vectors, specify, vector_files
from latchlore.program import Image, run
from latchlore.study import Cache, Hearing, basis_of, hear_study, study_vectors, write_vectors
from latchlore.wire import ParallelLines, read_parallel, read_vcd
from tests.demos import lay_demo
from tests.standins import write_acknowledged, write_case_18

if TYPE_CHECKING:
    from collections.abc import Callable

POWER_ON = "16 5A 16 4C 0C 06 4D 41 52 52 41 4D 0D 0A"  # demo-source/marram.s, the burst `titled`
TIDE = b"TIDE 04.37 M RISING \r\n".hex(" ").upper()


class Made(NamedTuple):
    """A study's vectors, with what they were made from."""

    hearing: Hearing
    basis: Basis
    stand_in: StandIn
    vectors: Vectors
    files: dict[str, bytes]

    @property
    def plain(self) -> dict[str, Any]:
        """The JSON as a builder reads it."""
        found: dict[str, Any] = json.loads(self.files["vectors.json"])
        return found

    def find(self, name: str) -> dict[str, Any]:
        """One vector."""
        found: dict[str, Any] = next(one for one in self.plain["vectors"] if one["name"] == name)
        return found


def make(folder: Path, cache: Cache) -> Made:
    """The vectors of a folder."""
    hearing, table = hear_study(folder, cache=cache)
    basis = basis_of(hearing, table)
    stand_in = specify(basis)
    vectors = study_vectors(hearing, basis, stand_in)
    return Made(hearing, basis, stand_in, vectors, vector_files(stand_in, vectors, basis.clock))


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, cache: Cache) -> Made:
    """Those of the demonstration."""
    folder = lay_demo(tmp_path_factory.mktemp("demo") / "study")
    return make(folder, cache)


def test_what_is_sent(demo: Made) -> None:
    """Every entry that sends has its two vectors; the burst and the tide line are those of the source and the logs."""
    names = [one["name"] for one in demo.plain["vectors"]]
    assert names == [
        *(f"{entry}, {manner}" for entry in demo.basis.trees for manner in ("free", "held off")),
        "each data line",
    ]
    assert demo.vectors.left_out == ()
    for manner in ("free", "held off"):
        assert demo.find(f"power-on, {manner}")["bytes"] == POWER_ON
        assert demo.find(f"print a reading, {manner}")["bytes"] == TIDE


class Follower:
    """A peripheral that knows the vector file and the card's wiring, and none of Latchlore's models.

    The wiring is typed in from demo/board/card.nets: bit 7 FAULT, 6 BUSY turned over, 5 PAPER-OUT, 4 low, 3 high, 2
    open (1), 1 W2 open (1), 0 W1 joined (0); control bit 0 STROBE turned over, 1 PRIME, 2 FEED.
    """

    def __init__(self, plain: dict[str, Any], vector: dict[str, Any]) -> None:
        self.idle = {line["name"]: line["idle"] for line in plain["lines"]}
        self.theirs = [one for one in vector["changes"] if self.idle_of(one["line"], plain) == "stand-in"]
        self.host: list[tuple[int, str, int]] = []
        self.levels: dict[str, int] = {"STROBE": 1}
        self.taken: list[int] = []
        self.byte = 0

    @staticmethod
    def idle_of(name: str, plain: dict[str, Any]) -> str:
        """Who drives a line."""
        return str(next(line["driven_by"] for line in plain["lines"] if line["name"] == name))

    def level(self, line: str, cycle: int) -> int:
        """A line of the stand-in's at a cycle, as the file has it."""
        mine = [one for one in self.theirs if one["line"] == line]
        at = bisect_right([one["cycle"] for one in mine], cycle)
        return int(mine[at - 1]["level"] if at else self.idle[line])

    def read(self, address: int, cycle: int) -> int:
        """The status byte, or the recorder's own inputs: 4.37 m and rising."""
        if address in (0xB810, 0xAA17):
            bits = self.level("FAULT", cycle) << 7 | (1 - self.level("BUSY", cycle)) << 6
            return bits | self.level("PAPER-OUT", cycle) << 5 | 0b01110
        return {0xE200: 0x37, 0xE201: 0x04, 0xE202: 0x01}[address]

    def write(self, address: int, value: int, cycle: int) -> None:
        """Data and control registers."""
        if address == 0xB808:
            self.byte = value
            for bit in range(8):
                self.put(cycle, f"DATA{bit + 1}", value >> bit & 1)
        else:
            before = self.levels["STROBE"]
            self.put(cycle, "STROBE", 1 - (value & 1))
            self.put(cycle, "PRIME", value >> 1 & 1)
            self.put(cycle, "FEED", value >> 2 & 1)
            if (before, self.levels["STROBE"]) == (1, 0):
                self.taken.append(self.byte)

    def put(self, cycle: int, line: str, level: int) -> None:
        """Note a change."""
        if self.levels.get(line) != level:
            self.levels[line] = level
            self.host.append((cycle, line, level))


REGISTERS = {"print a character": {"A": 0x0D}}


@pytest.mark.parametrize("entry", ["power-on", "print a character", "print a reading"])
@pytest.mark.parametrize("manner", ["free", "held off"])
def test_replay(demo: Made, entry: str, manner: str) -> None:
    """The program, run anew against the file, moves every line of its own at the very cycle that the file says."""
    vector = demo.find(f"{entry}, {manner}")
    follower = Follower(demo.plain, vector)
    image = Image.from_bytes((demo_folder() / "program" / "marram.bin").read_bytes(), 0xF800, "marram.bin")
    devices = AddressSet.of((0xB808, 0xB810, 0xAA17, 0xE200, 0xE201, 0xE202))
    address = {"power-on": 0xF820, "print a character": 0xF89C, "print a reading": 0xF95B}[entry]
    registers = {text[0]: int(text[4:], 16) for text in vector["inputs"] if re.fullmatch(r"[AXY] = ..", text)}
    done = run([image], address, devices, registers=registers, read=follower.read, write=follower.write, exact=True)
    assert done.end.value == "returns"
    assert bytes(follower.taken).hex(" ").upper() == vector["bytes"]
    host = [
        (one["cycle"], one["line"], one["level"])
        for one in vector["changes"]
        if Follower.idle_of(one["line"], demo.plain) == "host"
    ]
    assert sorted(follower.host) == sorted(host)


def _overruns(demo: Made, after: int) -> list[int]:
    """Bytes that come into a busy stand-in, where a return and its line feed are printed."""
    answer = Answer("BUSY", 1, after, 68)
    model = Model(demo.basis, demo.stand_in, (answer,), {})
    program = demo.hearing.program
    assert program is not None
    run(
        program.images,
        0xF89C,
        demo.hearing.program.devices if demo.hearing.program else AddressSet.of(()),
        registers={"A": 0x0D},
        read=lambda at, cycle: model.read(InputKind.MEMORY, at, cycle),
        write=lambda at, value, cycle: model.write(InputKind.MEMORY, at, value, cycle),
        exact=True,
    )
    assert bytes(model.taken) == b"\r\n"
    return model.overrun


@pytest.mark.parametrize(("after", "is_late"), [(0, False), (49, False), (50, False), (51, True), (61, True)])
def test_the_last_moment(demo: Made, after: int, is_late: bool) -> None:
    """50 cycles is the last moment: one later, and the host sends the line feed into a busy printer."""
    assert bool(_overruns(demo, after)) == is_late


@pytest.mark.parametrize("seed", range(12))
def test_within_the_limits(demo: Made, seed: int) -> None:
    """A stand-in that keeps the specification loses nothing: BUSY by the 50th cycle, ready again for 17 or more."""
    dice = random.Random(seed)
    answer = Answer("BUSY", 1, dice.randrange(51), dice.randrange(1, 600))
    model = Model(demo.basis, demo.stand_in, (answer,), {})
    program = demo.hearing.program
    assert program is not None
    run(
        program.images,
        0xF820,
        program.devices,
        read=lambda at, cycle: model.read(InputKind.MEMORY, at, cycle),
        write=lambda at, value, cycle: model.write(InputKind.MEMORY, at, value, cycle),
        exact=True,
    )
    assert model.overrun == []
    assert bytes(model.taken).hex(" ").upper() == POWER_ON


@pytest.mark.parametrize(("lasts", "printed"), [(159_731, b"\r\n"), (209_100, b"\r")])
def test_patience(demo: Made, lasts: int, printed: bytes) -> None:
    """Busy for as long as the host waits at least, nothing is lost; for longer than it waits at most, the line is.

    The line routine looks 12,288 times, every 13 or 17 cycles: for 159,731 to 208,879 cycles behind its first look.
    """
    taken: list[int] = []
    byte, control, edge = [0], [2], [-1 << 30]

    def write(at: int, value: int, cycle: int) -> None:
        if at & 0x0008:
            byte[0] = value
            return
        if value & 1 and not control[0] & 1:
            taken.append(byte[0])
            edge[0] = cycle
        control[0] = value

    def read(_: int, cycle: int) -> int:
        return 0b10001110 if cycle < edge[0] + lasts else 0b11001110

    program = demo.hearing.program
    assert program is not None
    run(program.images, 0xF8BF, program.devices, memory={0x200: 0x0D}, read=read, write=write)
    assert bytes(taken) == printed


def test_vcd_elsewhere(demo: Made) -> None:
    """pyvcd, a reader not made here, finds the same levels at the same times; ours reads the same bytes off them."""
    for number, vector in enumerate(demo.plain["vectors"]):
        raw = demo.files[vector["vcd"]]
        tokens = list(tokenize(io.BytesIO(raw)))
        names = {one.var.id_code: one.var.reference for one in tokens if one.kind is TokenKind.VAR}
        found, now, starts = [], 0, 0
        for one in tokens:
            if one.kind is TokenKind.CHANGE_TIME:
                now, starts = one.time_change, starts + 1
            elif one.kind is TokenKind.CHANGE_SCALAR and starts > 1:
                found.append((now, names[one.scalar_change.id_code], int(one.scalar_change.value)))
        told = [
            (one["time_ps"], one["line"].replace("-", "_"), one["level"]) for one in vector["changes"] if one["cycle"]
        ]
        assert found == told, number


def test_vcd_here(demo: Made, tmp_path: Path) -> None:
    """The house's own capture reader takes the bytes off the lines of every vector."""
    for vector in demo.plain["vectors"]:
        path = tmp_path / vector["vcd"]
        path.write_bytes(demo.files[vector["vcd"]])
        capture = read_vcd(path, path.name)
        names = [channel.name for channel in capture.channels]
        find = {name.rpartition(".")[2]: name for name in names}
        lines = ParallelLines(tuple(find[f"DATA{k}"] for k in range(1, 9)), find["STROBE"], strobe_active=0)
        assert bytes(read_parallel(capture, lines).data).hex(" ").upper() == vector["bytes"]


def test_csv(demo: Made) -> None:
    """The table holds the same changes as the JSON, one a row."""
    rows = list(csv.DictReader(io.StringIO(demo.files["vectors.csv"].decode())))
    told = [(vector["name"], one) for vector in demo.plain["vectors"] for one in vector["changes"]]
    assert len(rows) == len(told)
    for row, (name, one) in zip(rows, told, strict=True):
        assert (row["vector"], int(row["cycle"]), row["line"], int(row["level"])) == (
            name,
            one["cycle"],
            one["line"],
            one["level"],
        )
        assert int(row["time_ps"]) == one["cycle"] * 800_000  # 1.25 MHz


def test_same_bytes(demo: Made, cache: Cache) -> None:
    """The same study gives the same files."""
    assert make(demo.hearing.study.folder, cache).files == demo.files


def test_each_line(demo: Made) -> None:
    """The made-up vector moves each data line by itself, and says that it is made up."""
    vector = demo.find("each data line")
    assert vector["bytes"] == "00 01 02 04 08 10 20 40 80 FF 55 AA"
    assert (vector["entry"], vector["words"].partition(":")[0]) == (None, "made up")


def test_acknowledged(tmp_path: Path, cache: Cache) -> None:
    """A host that waits for a pulse runs through with the shortest one allowed: from the 10th cycle on, 7 long."""
    made = make(write_acknowledged(tmp_path), cache)
    vector = made.find("send, free")
    strobe = next(one["cycle"] for one in vector["changes"] if one["line"] == "STROBE" and one["level"] == 0)
    pulses = [(one["cycle"] - strobe, one["level"]) for one in vector["changes"] if one["line"] == "ACK"]
    assert pulses == [(10, 0), (17, 1)]
    assert vector["ends"].startswith("returns")


def test_strobe_in_the_data_register(cache: Cache) -> None:
    """Where bit 7 of the port is the strobe there are seven data lines, and bytes of seven bits; no clock, no VCD."""
    made = make(Path(__file__).parent.parent / "exams" / "z80-7-bit-port" / "study", cache)
    assert [(one["name"], one["bytes"]) for one in made.plain["vectors"]] == [
        ("send 41, free", "41"),
        ("send 41, held off", "41"),
        ("send 8F, free", "0F"),
        ("send 8F, held off", "0F"),
        ("each data line", "00 01 02 04 08 10 20 40 7F 55 2A"),
    ]
    assert [line["data_bit"] for line in made.plain["lines"] if line["data_bit"] is not None] == list(range(7))
    assert made.plain["left_out"] == ["'set up': no path from there writes the data"]
    assert sorted(made.files) == ["vectors.csv", "vectors.json"]


def test_no_strobe_wrong(tmp_path: Path, cache: Cache) -> None:
    """Where nobody knows the strobe there are no vectors, and the files say why."""
    made = make(write_case_18(tmp_path), cache)
    assert made.plain["vectors"] == []
    assert made.plain["left_out"] == [
        "no vectors: no register bit is known to be the strobe, so nothing tells when a byte is handed over"
    ]


def test_write_vectors(demo: Made, tmp_path: Path) -> None:
    """Earlier vectors are replaced, those of another study taken away."""
    target = tmp_path / "out"
    write_vectors(demo.hearing.study.folder, target, {**demo.files, "99-old.vcd": b"$end\n"})
    write_vectors(demo.hearing.study.folder, target, demo.files)
    assert {path.name: path.read_bytes() for path in target.iterdir() if path.suffix} == demo.files


def _foreign(study: Path, tmp_path: Path) -> Path:
    del study
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "notes.txt").write_text("mine")
    return tmp_path / "out"


def _inside(study: Path, tmp_path: Path) -> Path:
    del tmp_path
    return study / "vectors"


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (_foreign, "holds 'notes.txt', which is no test vector; name a folder of its own"),
        (_inside, "vectors are not written into the study's own folder; name another folder"),
    ],
)
def test_write_vectors_wrong(demo: Made, tmp_path: Path, place: Callable[[Path, Path], Path], words: str) -> None:
    """A folder with other things in it, and the study itself, are refused."""
    target = place(demo.hearing.study.folder, tmp_path)
    with pytest.raises(ValueError, match=rf"^{re.escape(f'{target}: {words}')}$"):
        write_vectors(demo.hearing.study.folder, target, demo.files)


def test_inputs() -> None:
    """What is stated at an entry wins over what a way asks for, and all of it is told."""
    found = Inputs({"A": 1}, {0x10: 2}, {(InputKind.PORT, 0x80): (3, 4)}).with_given(Inputs({"A": 5}, {0x11: 6}))
    assert found.in_words() == ("A = 05", "0010 = 02", "0011 = 06", "reads of port 80 give 03, 04")

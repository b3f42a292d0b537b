"""A folder of images asked one question: the same rows whoever asks, nothing lost when a worker dies."""

from __future__ import annotations

import json
import os
import signal
from typing import TYPE_CHECKING, Any

import pytest

from latchlore.base import OUTCOME, BadInput
from latchlore.cli import run
from latchlore.study import SweepQuestion, SweepRow, ask_image, sweep_folder
from latchlore.study import _sweepworkers as workers

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

# LDA #code, STA C800, LDA C801, AND #0F, STA C802, RTS: every image sends its own number, then a nibble that it read
QUESTION = SweepQuestion(
    cpu="6502", load="0300", entry="0300", devices=("C800-C803",), writes=("C800=07", "C802=1F"), touches=("C803",)
)


def image(code: int) -> bytes:
    """A program that sends one code."""
    return bytes([0xA9, code, 0x8D, 0x00, 0xC8, 0xAD, 0x01, 0xC8, 0x29, 0x0F, 0x8D, 0x02, 0xC8, 0x60])


@pytest.fixture(autouse=True)
def _cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Seven good images, one in a folder of its own, and four that are broken or cannot be asked."""
    home = tmp_path / "roms"
    (home / "more").mkdir(parents=True)
    for code in range(6):
        (home / f"rom{code}.bin").write_bytes(image(code + 4))
    (home / "more" / "late.bin").write_bytes(image(7))
    (home / "bad.hex").write_bytes(b":0100000011EF\n")
    (home / "empty.bin").write_bytes(b"")
    (home / "far.hex").write_bytes(b":0110000011DE\n:00000001FF\n")
    (home / "out.bin").symlink_to("/etc/hostname")
    (home / ".hidden").write_bytes(image(7))
    return home


def _rows_in_process(tasks: list[workers.Task], question: SweepQuestion, number: int) -> Iterator[SweepRow]:
    for task in tasks:
        yield ask_image(task.file, task.read(), question)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """No process is started: for what does not depend on who asks (`test_rows_do_not_depend_on_workers`)."""
    monkeypatch.setattr("latchlore.study._sweep.iter_rows_here", _rows_in_process)


def verdicts(row: SweepRow) -> list[str]:
    """The answers in short."""
    return [answer.verdict for answer in row.answers]


def test_rows(folder: Path, quick: None) -> None:
    """One row an image, by name; what is broken is a row with its error."""
    sweep = sweep_folder(folder, QUESTION, workers=1)
    assert [(row.file, row.state) for row in sweep.rows] == [
        ("bad.hex", "broken"),
        ("empty.bin", "broken"),
        ("far.hex", "broken"),
        ("more/late.bin", "asked"),
        ("out.bin", "broken"),
        *((f"rom{k}.bin", "asked") for k in range(6)),
    ]
    assert {row.file: row.words for row in sweep.rows if row.state == "broken"} == {
        "bad.hex": ("bad.hex:1: the checksum is EFh; the record's bytes give EEh",),
        "empty.bin": ("empty.bin: the file is empty",),
        "far.hex": (
            "far.hex: image 'far.hex' is Intel HEX and begins at 1000, and load says 0300; leave 'load' out, or give "
            "it for records that begin at 0000",
        ),
        "out.bin": ("leads out of the folder",),
    }
    asked = {row.file: verdicts(row) for row in sweep.rows if row.state == "asked"}
    assert asked["rom3.bin"] == asked["more/late.bin"] == ["may", "never", "never"]
    assert all(asked[f"rom{k}.bin"] == ["never", "never", "never"] for k in (0, 1, 2, 4, 5))
    sends = sweep.rows[3].answers[0]
    assert sends.places == (0x302,)
    never = sweep.rows[3].answers[1]
    assert never.why[0] == "every path from 0300 was followed to an end of the program's own (1 nodes)"


def test_rows_do_not_depend_on_workers(folder: Path, tmp_path: Path) -> None:
    """One process, two and four give the same rows in the same order, byte for byte."""
    told = []
    for number in (1, 2, 4):
        sweep = sweep_folder(folder, QUESTION, workers=number, journal=tmp_path / f"{number}.jsonl")
        told.append(json.dumps([row.plain() for row in sweep.rows]))
    assert told[0] == told[1] == told[2]


def test_order_of_arrival(folder: Path, tmp_path: Path, quick: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows that come in another order are put in order."""
    straight = sweep_folder(folder, QUESTION)
    monkeypatch.setattr(
        "latchlore.study._sweep.iter_rows_here", lambda tasks, *rest: reversed(list(_rows_in_process(tasks, *rest)))
    )
    assert sweep_folder(folder, QUESTION, journal=tmp_path / "j.jsonl").rows == straight.rows


class _Deadly(SweepQuestion):
    """A question that kills the process over some images: only a test can ask it."""

    __slots__ = ()

    def __reduce__(self) -> tuple[Any, ...]:
        return (_arm, (os.environ["DEADLY"], [getattr(self, name) for name in SweepQuestion.__slots__]))


def _arm(deadly: str, parts: list[Any]) -> SweepQuestion:
    """In the worker: an image that starts with EAh kills it, once where a mark can be made in `deadly`, or always."""

    def ask(file: str, raw: bytes, question: SweepQuestion) -> SweepRow:
        if raw.startswith(b"\xea"):
            os.kill(os.getpid(), signal.SIGKILL)
        if raw.startswith(b"\xeb"):
            try:
                os.close(os.open(f"{deadly}/{file}", os.O_CREAT | os.O_EXCL))
                os.kill(os.getpid(), signal.SIGKILL)
            except FileExistsError:
                pass
        return ask_image(file, raw, question)

    vars(workers)["ask_image"] = ask
    return SweepQuestion(*parts)


@pytest.mark.parametrize("number", [1, 2])
def test_worker_dies(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    """A worker that is killed takes no row with it; its image is tried again, and reported where that fails too."""
    monkeypatch.setenv("DEADLY", str(tmp_path))
    (folder / "deadly.bin").write_bytes(b"\xea" + image(7))
    (folder / "once.bin").write_bytes(b"\xeb" + image(7))
    question = _Deadly(*(getattr(QUESTION, name) for name in SweepQuestion.__slots__))
    sweep = sweep_folder(folder, question, workers=number)
    rows = {row.file: row for row in sweep.rows}
    assert len(rows) == 13
    assert rows["deadly.bin"].state == "lost"
    assert rows["deadly.bin"].words == ("the process that asked this image died 2 times (signal 9)",)
    assert rows["once.bin"].state == "asked"
    assert sum(row.state == "asked" for row in sweep.rows) == 8


def test_stopped_and_gone_on(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An interruption keeps the rows that were there, and the next run asks only for the rest."""
    seen = []

    def stop(done: int, total: int, words: str) -> None:
        seen.append((done, total))
        if len(seen) == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt) as stopped:
        sweep_folder(folder, QUESTION, workers=2, progress=stop)
    assert stopped.value.__notes__ == ["4 of 11 rows are kept; the same command goes on from there"]
    monkeypatch.setattr("latchlore.study._sweep.iter_rows_here", _rows_in_process)
    sweep = sweep_folder(folder, QUESTION)
    assert sweep.kept == 3
    assert sweep.rows == sweep_folder(folder, QUESTION, fresh=True).rows


def test_torn_journal(folder: Path, tmp_path: Path, quick: None) -> None:
    """A last line that was cut off, a line of other bytes, and a journal of another question are not taken."""
    journal = tmp_path / "j.jsonl"
    whole = sweep_folder(folder, QUESTION, workers=1, journal=journal)
    lines = journal.read_text().splitlines(keepends=True)
    journal.write_text("".join(lines[:-1]) + lines[-1][:40])
    (folder / "rom0.bin").write_bytes(image(9))
    again = sweep_folder(folder, QUESTION, workers=1, journal=journal)
    assert again.kept == len(lines) - 1 - 2
    assert [row.file for row in again.rows] == [row.file for row in whole.rows]
    other = SweepQuestion(cpu="6502", load="0300", entry="0300", touches=("C801",))
    assert sweep_folder(folder, other, workers=1, journal=journal).kept == 0


def test_nothing_is_written_there(folder: Path, quick: None) -> None:
    """The folder stays as it was."""
    before = sorted(path.name for path in folder.rglob("*"))
    sweep_folder(folder, QUESTION, workers=1)
    assert sorted(path.name for path in folder.rglob("*")) == before


def test_open_rows(tmp_path: Path, quick: None) -> None:
    """What cannot be told is said: no processor, no place, no vector, code that runs out of the image."""
    home = tmp_path / "roms"
    home.mkdir()
    (home / "a.bin").write_bytes(image(7))
    (home / "b.bin").write_bytes(image(7)[:-1] + b"\x4c\x00\x90")  # JMP 9000, where nothing is
    found = sweep_folder(home, SweepQuestion(writes=("C800=07",)), workers=1)
    assert {row.state for row in found.rows} == {"open"}
    assert found.rows[0].words[0].startswith("processor of the program: a.bin: processor not named: none of these")
    no_place = sweep_folder(home, SweepQuestion(cpu="6502", writes=("C800=07",)), workers=1)
    assert no_place.rows[0].words[0].startswith("load address of a.bin: undecided, so the image is left out")
    no_vector = sweep_folder(home, SweepQuestion(cpu="6502", load="0300", writes=("C800=07",)), workers=1)
    assert no_vector.rows[0].words == ("the reset vector at FFFC lies in no image; state the entry",)
    outside = sweep_folder(home, SweepQuestion("6502", "0300", "E000", writes=("C800=07",)), workers=1)
    assert outside.rows[0].words == ("entry E000 lies in no image; images: 0300-030D",)
    runs_out = sweep_folder(home, SweepQuestion("6502", "0300", "0300", writes=("C800=55",)), workers=1)
    assert [verdicts(row) for row in runs_out.rows] == [["never"], ["cannot be told"]]
    assert "9000" in runs_out.rows[1].answers[0].why[0]


def test_vector(tmp_path: Path, quick: None) -> None:
    """Without an entry the reset vector of the 6502 leads, at FFFC, low byte first (MCS6500 Programming Manual)."""
    home = tmp_path / "roms"
    home.mkdir()
    rom = bytearray(b"\xff" * 256)
    rom[0x10:0x1E] = image(7)
    rom[0xFC:0xFE] = b"\x10\xff"
    (home / "a.bin").write_bytes(rom)
    (row,) = sweep_folder(home, SweepQuestion("6502", "FF00", writes=("C800=07",)), workers=1).rows
    assert (row.entry, verdicts(row)) == (0xFF10, ["may"])


def test_same_as(tmp_path: Path, quick: None) -> None:
    """Behaviour is compared, not bytes: another byte sent differs, a NOP changes times only, a table moved nothing."""
    home = tmp_path / "roms"
    home.mkdir()
    (home / "a.bin").write_bytes(image(7))
    (home / "b.bin").write_bytes(image(8))
    (home / "c.bin").write_bytes(image(7)[:5] + b"\xea" + image(7)[5:])  # NOP
    (home / "d.bin").write_bytes(image(7) + b"INVENTED")
    (home / "e.bin").write_bytes(image(7)[:-1] + b"\x4c\x00\x90")
    question = SweepQuestion("6502", "0300", "0300", devices=("C800-C803",), reference=("a.bin", image(7)))
    rows = sweep_folder(home, question).rows
    assert [verdicts(row)[0] for row in rows] == ["same", "differs", "same, other times", "same", "cannot be told"]
    assert rows[1].answers[0].places == (0x302,)
    assert "08" in rows[1].answers[0].why[0]
    assert question.asked == ("same as a.bin",)


def test_same_as_wrong(folder: Path) -> None:
    """An image to compare with that is broken itself is refused before any other is asked."""
    question = SweepQuestion("6502", "0300", "0300", devices=("C800",), reference=("old.hex", b":0100000011EF\n"))
    with pytest.raises(BadInput) as error:
        sweep_folder(folder, question)
    words = "old.hex:1: the checksum is EFh; the record's bytes give EEh"
    assert str(error.value) == f"old.hex: cannot be compared with: {words}"


@pytest.mark.parametrize(
    ("question", "words"),
    [
        (SweepQuestion(devices=("C800",)), "sweep: asks nothing; ask with --writes, --touches or --same-as"),
        (
            SweepQuestion(writes=("C800",), touches=("G000",), entry="12345"),
            "--writes: what is written is 'REGISTER=BYTES', such as 'C800=1B 4B', not 'C800'\n"
            "--touches: an address is hexadecimal digits, such as 'C800', not 'G000'\n"
            "--entry: an address of 16 lines is at most FFFF, not '12345'",
        ),
        (
            SweepQuestion(reference=("a", b"\0")),
            "sweep: no address is known to belong to a device; state them with --devices, or name a register to ask "
            "about",
        ),
    ],
)
def test_question_wrong(folder: Path, question: SweepQuestion, words: str) -> None:
    """A question that asks nothing or is wrongly written is refused, all mistakes at once, before anything is read."""
    with pytest.raises(BadInput) as error:
        sweep_folder(folder, question)
    message = str(error.value)
    assert message == words or message.startswith(words + "\n")


def test_folder_wrong(tmp_path: Path) -> None:
    """A folder that is not there, a file, and a folder without a fitting file are refused."""
    (tmp_path / "file").write_bytes(b"x")
    (tmp_path / "empty").mkdir()
    for name, words in (
        ("gone", f"{tmp_path}/gone: there is no such folder (no such file or directory)"),
        ("file", f"{tmp_path}/file: is a file; a sweep asks the images of a folder"),
        ("empty", f"{tmp_path}/empty: holds no file that fits '*'"),
    ):
        with pytest.raises(BadInput) as error:
            sweep_folder(tmp_path / name, QUESTION)
        assert str(error.value) == words


def test_command(folder: Path, quick: None, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """The table for people, JSON, and CSV tell the same; the summary goes to the other stream."""
    options = ["--cpu", "6502", "--load", "0300", "--entry", "0300", "--writes", "C800=07", "--workers", "1"]
    assert run(["program", "sweep", str(folder), *options]) == 0
    printed = capsysbinary.readouterr()
    assert printed.err == b"latchlore: 11 images: 7 asked, 4 broken\n"
    lines = printed.out.decode().splitlines()
    assert lines[0] == "image          writes C800=07  cpu   load  entry  where, or why"
    assert lines[4] == "more/late.bin  may             6502  0300  0300   0302"
    assert lines[6] == "rom0.bin       never           6502  0300  0300"
    assert run(["program", "sweep", str(folder), *options, "--json"]) == 0
    printed = capsysbinary.readouterr()
    assert printed.err == b"latchlore: 11 images: 7 asked, 4 broken; 10 rows were kept from before\n"
    told = json.loads(printed.out)
    assert [row["answers"][0]["verdict"] for row in told["rows"] if row["answers"]].count("may") == 2
    assert run(["program", "sweep", str(folder), *options, "--csv"]) == 0
    import csv

    rows = list(csv.reader(capsysbinary.readouterr().out.decode().splitlines()))
    assert rows[0][8:] == ["writes C800=07", "writes C800=07: where", "writes C800=07: why", "words"]
    assert {len(row) for row in rows} == {12}
    assert [row[8] for row in rows[1:]].count("may") == 2


def test_command_wrong(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Both kinds of workers at once, and nothing asked."""
    assert run(["program", "sweep", str(folder), "--workers", "2", "--on", "x"]) == OUTCOME[BadInput].exit_code
    assert "--workers counts processes of this machine; leave it out with --on" in capsys.readouterr().err
    assert run(["program", "sweep", str(folder)]) == OUTCOME[BadInput].exit_code
    assert capsys.readouterr().err.startswith("latchlore: sweep: asks nothing; ask with ")

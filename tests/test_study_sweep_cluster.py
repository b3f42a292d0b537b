"""A sweep on a Dask cluster of this machine: the same rows as by processes, with workers that die and others' code."""

from __future__ import annotations

import os
import signal
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import pytest

from latchlore.base import BadInput, Unsupported
from latchlore.study import SweepQuestion, SweepRow, ask_image, sweep_folder
from latchlore.study import _sweepworkers as workers

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

distributed: Any = pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")

QUESTION = SweepQuestion(cpu="6502", load="0300", entry="0300", writes=("C800=07",))


def image(code: int) -> bytes:
    """LDA #code, STA C800, RTS."""
    return bytes([0xA9, code, 0x8D, 0x00, 0xC8, 0x60])


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Nine images and a broken one."""
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path / "cache"))
    home = tmp_path / "roms"
    home.mkdir()
    for code in range(9):
        (home / f"rom{code}.bin").write_bytes(image(code))
    (home / "bad.hex").write_bytes(b":0100000011EF\n")
    return home


@contextmanager
def running_cluster(num_workers: int) -> Iterator[str]:
    """The address of a cluster; it and its page listen on the loopback alone."""
    with distributed.LocalCluster(
        n_workers=num_workers, threads_per_worker=1, host="127.0.0.1", dashboard_address="127.0.0.1:0", processes=True
    ) as cluster:
        yield cluster.scheduler_address


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """A cluster of two workers that live as long as these tests."""
    with running_cluster(2) as found:
        yield found


@pytest.mark.filterwarnings("default")  # the library's own, while its workers come and go
def test_same_rows(folder: Path, address: str, tmp_path: Path) -> None:
    """The cluster gives the rows that this machine's processes give, in the same order."""
    there = sweep_folder(folder, QUESTION, on=address, journal=tmp_path / "there.jsonl")
    here = sweep_folder(folder, QUESTION, workers=1, journal=tmp_path / "here.jsonl")
    assert there.rows == here.rows
    assert [row.answers[0].verdict for row in there.rows if row.answers] == ["never"] * 7 + ["may", "never"]
    assert sweep_folder(folder, QUESTION, on=address, journal=tmp_path / "there.jsonl").kept == 10


def _deadly(file: str, raw: bytes, question: SweepQuestion, stamp: str) -> SweepRow:
    if file == "rom3.bin":
        os.kill(os.getpid(), signal.SIGKILL)
    return ask_image(file, raw, question)


def _foreign(file: str, raw: bytes, question: SweepQuestion, stamp: str) -> None:
    return None


@pytest.mark.filterwarnings("default")
def test_worker_dies(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An image that kills its workers is a row that says so; all other rows are there."""
    monkeypatch.setattr(workers, "_ask_there", _deadly)
    with running_cluster(2) as mortal:
        rows = sweep_folder(folder, QUESTION, on=mortal).rows
    lost = [row for row in rows if row.state == "lost"]
    assert [row.file for row in lost] == ["rom3.bin"]
    assert lost[0].words[0].startswith("the cluster's workers died while asking this image: ")
    assert sum(row.state == "asked" for row in rows) == 8


@pytest.mark.filterwarnings("default")
def test_other_code_wrong(folder: Path, address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A worker whose code is another is refused: its rows might differ."""
    monkeypatch.setattr(workers, "_ask_there", _foreign)
    with pytest.raises(BadInput) as error:
        sweep_folder(folder, QUESTION, on=address)
    words = "a worker there runs other code of Latchlore; install the same version on every worker"
    assert str(error.value) == f"{address}: {words}"


@pytest.mark.filterwarnings("default")
def test_no_workers_wrong(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A cluster that stays without workers is refused in place of being waited for without end."""
    monkeypatch.setattr(workers, "WITHOUT_WORKERS_SECONDS", 1)
    with running_cluster(0) as empty, pytest.raises(BadInput) as error:
        sweep_folder(folder, QUESTION, on=empty)
    told = "the cluster has been without workers for 1 seconds; rows that were there are kept in the journal"
    assert str(error.value) == f"{empty}: {told}"


@pytest.mark.filterwarnings("default")
def test_nobody_there_wrong(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An address where no scheduler answers is refused, and so is one that is no address."""
    monkeypatch.setattr(workers, "CONNECT_SECONDS", 1)
    with pytest.raises(BadInput) as error:
        sweep_folder(folder, QUESTION, on="tcp://127.0.0.1:9")
    assert str(error.value).startswith("tcp://127.0.0.1:9: no Dask scheduler answers there (")


def test_no_library_wrong(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the extra the command says what to install."""
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with pytest.raises(Unsupported) as error:
        sweep_folder(folder, QUESTION, on="tcp://127.0.0.1:9")
    words = "sweeping on a cluster needs Latchlore's extra 'cluster': pip install 'latchlore[cluster]'"
    assert str(error.value) == f"--on: {words}"

"""How many small images a second a sweep asks, and what a second process brings."""

from __future__ import annotations

import pathlib
import random
import tempfile
import time
from typing import TYPE_CHECKING

from _bench import Row

if TYPE_CHECKING:
    from collections.abc import Iterator

IMAGES = 200


def image(seed: int) -> bytes:
    """A print routine of its own: a prefix of bytes, each behind a wait for its own busy bit, then the argument."""
    chooser = random.Random(seed)
    code = bytearray()
    for byte in [*chooser.randbytes(chooser.randrange(4, 12)), None]:
        mask = 1 << chooser.randrange(8)
        code += b"\x48\xad\x01\xc8\x29" + bytes([mask]) + chooser.choice((b"\xd0\xf9", b"\xf0\xf9")) + b"\x68"
        code += b"\x48" + (b"" if byte is None else bytes([0xA9, byte])) + b"\x8d\x00\xc8\x68"
        code += b"\xa2" + chooser.randbytes(1) + b"\xca\xd0\xfd"
    return bytes(code) + b"\x60"


def rows() -> Iterator[Row]:
    """Images a second with one process and with two, their start included, kernels compiled before."""
    from latchlore.study import SweepQuestion, sweep_folder

    question = SweepQuestion("6502", "0300", "0300", devices=("C800-C803",), writes=("C800=1B 4B",))
    seconds: dict[int, float] = {}
    with tempfile.TemporaryDirectory() as name:
        home = pathlib.Path(name) / "roms"
        home.mkdir()
        for number in range(IMAGES):
            (home / f"{number:03}.bin").write_bytes(image(number))
        few = pathlib.Path(name) / "few"
        few.mkdir()
        (few / "a.bin").write_bytes(image(0))
        sweep_folder(few, question, workers=1, journal=pathlib.Path(name) / "j0")
        told = []
        for workers in (1, 2):
            began = time.perf_counter()
            sweep = sweep_folder(home, question, workers=workers, journal=pathlib.Path(name) / f"j{workers}")
            seconds[workers] = time.perf_counter() - began
            told.append(sweep.rows)
    assert told[0] == told[1]
    for workers in (1, 2):
        yield Row(
            f"sweep.{IMAGES} images, {workers} process{'es' * (workers > 1)}", IMAGES / seconds[workers], "images/s"
        )
    yield Row("sweep.two processes to one", seconds[1] / seconds[2], "", "one process", seconds[1] / seconds[2])

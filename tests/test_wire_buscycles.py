"""Bus cycles from captures; the accesses are those of the open single-step vectors of the 6502 and the Z80."""

from __future__ import annotations

import gzip
import json
from pathlib import Path
from typing import Any

import pytest

from latchlore.base import UnknownName
from latchlore.wire import BusLines, Capture, read_bus, read_vcd
from tests.handshakes import make_capture

VECTORS = Path(__file__).parents[2] / "shared" / "vectors"
CLOCK = 1_000_000  # picoseconds: 1 MHz


class _Waves:
    def __init__(self) -> None:
        self.waves: dict[str, list[tuple[int, int]]] = {}

    def put(self, name: str, time: int, level: int) -> None:
        wave = self.waves.setdefault(name, [])
        if not wave or wave[-1][1] != level:
            wave.append((time, level))

    def put_number(self, stem: str, width: int, time: int, value: int) -> None:
        for k in range(width):
            self.put(f"{stem}{k}", time, value >> k & 1)


def clocked(accesses: list[tuple[int, int, bool]]) -> dict[str, list[tuple[int, int]]]:
    """A 6502's bus: address and R/W settle in the first half, data in the second, all held past the clock's fall."""
    waves = _Waves()
    for name in ("PHI2", "RW"):
        waves.put(name, 0, 0)
    now = CLOCK
    for address, value, writes in accesses:
        waves.put_number("A", 16, now + CLOCK // 5, address)
        waves.put("RW", now + CLOCK // 5, 0 if writes else 1)
        waves.put("PHI2", now + CLOCK // 2, 1)
        waves.put_number("D", 8, now + CLOCK * 7 // 10, value)
        waves.put("PHI2", now + CLOCK, 0)
        now += CLOCK
    waves.put("PHI2", now + CLOCK // 2, 1)
    return waves.waves


def strobed(accesses: list[tuple[int, int, bool, bool]]) -> dict[str, list[tuple[int, int]]]:
    """A Z80's bus: MREQ or IORQ with RD or WR, data held past the strobe's end."""
    waves = _Waves()
    for name in ("MREQ", "IORQ", "RD", "WR"):
        waves.put(name, 0, 1)
    now = CLOCK
    for address, value, writes, port in accesses:
        space, strobe = "IORQ" if port else "MREQ", "WR" if writes else "RD"
        waves.put_number("A", 16, now, address)
        waves.put(space, now + CLOCK // 4, 0)
        waves.put(strobe, now + CLOCK // 2, 0)
        waves.put_number("D", 8, now + CLOCK * 6 // 10, value)
        waves.put(strobe, now + CLOCK, 1)
        waves.put(space, now + CLOCK, 1)
        now += CLOCK * 3 // 2
    return waves.waves


def vectors(name: str, count: int) -> list[dict[str, Any]]:
    path = VECTORS / name
    if not path.exists():
        pytest.skip(f"{path} is not there")
    with gzip.open(path, "rt", encoding="utf-8") as lines:
        return [json.loads(line) for _, line in zip(range(count), lines, strict=False)]


def numbered(stem: str, width: int) -> tuple[str, ...]:
    return tuple(f"{stem}{k}" for k in range(width))


@pytest.mark.parametrize("step", [None, 50_000])
def test_read_bus_clocked(step: int | None) -> None:
    """The bus accesses of 300 single-step vectors of the 6502 (MIT, see shared/vectors) come back in order."""
    accesses = [
        (cycle[0], cycle[1], cycle[2] == "write")
        for vector in vectors("nmos6502_documented_100.jsonl.gz", 300)
        for cycle in vector["cycles"]
    ]
    waves = clocked(accesses)
    end = CLOCK * (len(accesses) + 3)
    if step is not None:
        waves = sampled(waves, end, step)
    lines = BusLines(numbered("A", 16), numbered("D", 8), clock="PHI2", read_high="RW")
    reading = read_bus(make_capture(waves, end, step), lines)
    assert reading.count == len(accesses)
    assert not reading.address_doubt.any()
    assert not reading.value_doubt.any()
    got = list(zip(reading.address.tolist(), reading.value.tolist(), reading.writes.tolist(), strict=True))
    assert got == accesses
    assert reading.notes == ()


def sampled(waves: dict[str, list[tuple[int, int]]], end: int, step: int) -> dict[str, list[tuple[int, int]]]:
    """What samples every `step` show."""
    shown: dict[str, list[tuple[int, int]]] = {}
    for name, wave in waves.items():
        k = 0
        for time in range(7, end, step):
            while k + 1 < len(wave) and wave[k + 1][0] <= time:
                k += 1
            if wave[k][0] <= time and (name not in shown or shown[name][-1][1] != wave[k][1]):
                shown.setdefault(name, []).append((time, wave[k][1]))
    return shown


def test_read_bus_strobed() -> None:
    """Memory and port accesses of a Z80's bus, read strobes told from write strobes."""
    accesses = [(0x1234, 0x41, False, False), (0x0091, 0x55, True, True), (0xC000, 0xFF, True, False)]
    accesses += [(0x0090, 0x02, False, True)] * 3
    lines = BusLines(numbered("A", 16), numbered("D", 8), read="RD", write="WR", memory="MREQ", ports="IORQ")
    waves = strobed(accesses)
    reading = read_bus(make_capture(waves, 20 * CLOCK), lines)
    columns = (reading.address, reading.value, reading.writes, reading.ports)
    assert list(zip(*(column.tolist() for column in columns), strict=True)) == accesses
    assert reading.describe(1) == "3.5 us: writes 55 to port 91"
    assert reading.describe(0) == "2 us: reads 41 from 1234"
    without = BusLines(numbered("A", 16), numbered("D", 8), read="RD", write="WR", memory="MREQ")
    del waves["IORQ"]
    assert read_bus(make_capture(waves, 20 * CLOCK), without).ports.tolist() == [a[3] for a in accesses]


def test_read_bus_doubt() -> None:
    """A data line that moves in the sampling period of the strobe's end is in doubt, and said."""
    waves = strobed([(1, 0xFF, True, False), (2, 0x00, True, False)])
    waves["D3"] = [(0, 0), (CLOCK * 2 - 10, 1)]
    lines = BusLines(numbered("A", 16), numbered("D", 8), read="RD", write="WR")
    capture = make_capture(sampled(waves, 6 * CLOCK, 100_000), 6 * CLOCK, 100_000)
    reading = read_bus(capture, lines)
    assert reading.value_doubt.tolist() == [0x08, 0]
    assert reading.notes[0] == "of 1 of 2 cycles the byte cannot be told whole"
    assert reading.describe(0).split(": ")[1] == "writes F7? to 0001"


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"clock": "C"}, "a bus is either clocked (clock and R/W) or strobed (read and write strobes)"),
        (
            {"clock": "C", "read_high": "R", "write": "W"},
            "a bus is either clocked (clock and R/W) or strobed (read and write strobes)",
        ),
        ({"write": "W", "address": ()}, "a bus has 1 to 24 address lines and 1 to 8 data lines, not 0 and 1"),
    ],
)
def test_bus_lines_wrong(settings: dict[str, Any], words: str) -> None:
    """Lines that make no bus are refused."""
    with pytest.raises(ValueError) as caught:
        BusLines(**{"address": ("A",), "data": ("D",), **settings})
    assert str(caught.value) == words


def test_read_bus_wrong() -> None:
    """A capture without a cycle says so."""
    capture = make_capture({"A": [(0, 0)], "D": [(0, 0)], "W": [(0, 1)]}, 10)
    assert read_bus(capture, BusLines(("A",), ("D",), write="W")).notes == (
        "no bus cycle is in the capture: the wrong lines, or too slow to see them",
    )


def scoped(folder: Path, address_bits: str = "[15:0]", width: int = 16) -> Capture:
    """A write of 41 to C001 with its buses in a scope."""
    text = f"$scope module m $end $var wire {width} % A {address_bits} $end $var wire 8 & D [0:7] $end "
    text += "$var wire 1 ) WR $end $upscope $end $enddefinitions $end\n"
    (folder / "t.vcd").write_text(text + "#0\nb1100000000000001 %\nb01000001 &\n1)\n#5\n0)\n#9\n1)\n#12\n")
    return read_vcd(folder / "t.vcd", "t.vcd")


def test_read_bus_names(tmp_path: Path) -> None:
    """A bus goes by the last part of its name, and its right end is the lowest bit, however it is numbered."""
    reading = read_bus(scoped(tmp_path, "[0:15]"), BusLines(("A",), ("D",), write="WR"))
    assert (reading.address.tolist(), reading.value.tolist()) == ([0xC001], [0x41])


def test_read_bus_names_wrong(tmp_path: Path) -> None:
    """A bus of more lines than an address has is refused, not cut."""
    with pytest.raises(UnknownName) as caught:
        read_bus(scoped(tmp_path, "[31:0]", 32), BusLines(("A",), ("D",), write="WR"))
    assert str(caught.value) == (
        "t.vcd: channel 'A' has 32 bits, more than 24: name its lines one by one, lowest first"
    )

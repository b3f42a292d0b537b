"""Scrambled dumps: faults, proposed wirings, and what stays undecided.  Ground truth: images of ours, scrambled."""

from __future__ import annotations

import itertools
import pathlib
import random
import shutil
import subprocess
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from latchlore.base import BadInput, UnknownName
from latchlore.program import _repairkernels as kernels
from latchlore.program import _repairtwins as twins
from latchlore.program._repair import propose_repairs
from latchlore.program._repairevidence import make_evidence, opcode_kinds, prior_bits
from latchlore.program._repairfaults import FaultKind, compare_known, find_faults
from latchlore.program._repairpairs import code_chances, text_chances
from latchlore.program._repairsearch import climb_pairs, judge, solve_address, solve_data
from latchlore.program._repairwiring import Wiring

if TYPE_CHECKING:
    from collections.abc import Iterator

PROGRAMS = pathlib.Path(__file__).parent / "repair_programs"


@pytest.fixture(scope="session")
def strip(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Our strip printer driver, 2 KB of 6502 code that no table was counted from, assembled by ca65."""
    if shutil.which("ca65") is None:
        pytest.skip("ca65 (Debian package cc65) is not installed")
    folder = tmp_path_factory.mktemp("strip")
    config = "MEMORY { M: start = 0, size = $10000, file = %O; }\nSEGMENTS { CODE: load = M, type = rw; }\n"
    (folder / "raw.cfg").write_text(config)
    subprocess.run(["ca65", PROGRAMS / "strip.s", "-o", "strip.o"], cwd=folder, check=True)
    subprocess.run(["ld65", "-C", "raw.cfg", "-o", "strip.bin", "strip.o"], cwd=folder, check=True)
    return (folder / "strip.bin").read_bytes()


def ramp_rom(text_at: int = 0x38, text: bytes = b"PRINTER NOT READY\r") -> bytes:
    """256 bytes of a plain rule with a text in them."""
    rom = bytearray((73 * address + 29) % 256 for address in range(256))
    rom[text_at : text_at + len(text)] = text
    return bytes(rom)


# --- wirings


@st.composite
def wirings(draw: st.DrawFn, lines: int = 6) -> Wiring:
    """Any wiring."""
    return Wiring(
        tuple(draw(st.permutations(range(lines)))),
        draw(st.integers(0, (1 << lines) - 1)),
        tuple(draw(st.permutations(range(8)))),
        draw(st.integers(0, 255)),
    )


@given(wirings(), st.binary(min_size=64, max_size=64))
def test_wiring_round_trip(wiring: Wiring, image: bytes) -> None:
    """What a wiring does it undoes; line by line as its docstring says."""
    dump = wiring.apply(image)
    assert wiring.undo(dump) == image
    for address in (0, 1, 37, 63):
        place = sum(((address ^ wiring.address_inverted) >> k & 1) << wiring.address[k] for k in range(6))
        byte = sum((dump[place] >> wiring.data[k] & 1) << k for k in range(8)) ^ wiring.data_inverted
        assert byte == image[address]


def test_wiring_text() -> None:
    """A wiring prints itself."""
    assert str(Wiring((0, 1, 2))) == "every line in its place"
    assert str(Wiring((1, 0, 2), 0b100, (0, 1, 2, 4, 5, 3, 6, 7), 3)) == (
        "A0 and A1 swapped; A2 inverted; D3 is read at D4, D4 at D5, D5 at D3; D0 and D1 inverted"
    )


def test_wiring_wrong() -> None:
    """No permutation, no wiring; and a dump of another size is refused."""
    with pytest.raises(ValueError, match=r"^address lines are 3 different numbers from 0, not \(0, 1, 1\)$"):
        Wiring((0, 1, 1))
    with pytest.raises(ValueError, match=r"^this wiring is for 8 bytes, not 4$"):
        Wiring((0, 1, 2)).undo(b"abcd")


def test_prior() -> None:
    """A straight wiring costs nothing; the cost of swaps and inversions is their number, counted by brute force."""
    swaps = sum(sum(a != b for a, b in enumerate(order)) == 3 for order in itertools.permutations(range(5)))
    assert prior_bits(Wiring.straight(5)) == 0
    assert prior_bits(Wiring((1, 2, 0, 3, 4))) == pytest.approx(np.log2(swaps))
    assert prior_bits(Wiring((0, 1, 2, 3, 4), 0b11)) == pytest.approx(np.log2(10) + 1)


@given(wirings())
def test_wiring_parse(wiring: Wiring) -> None:
    """A wiring is read back from the words in which it prints itself."""
    assert wiring.is_straight or Wiring.parse([str(wiring)], 6) == wiring


@pytest.mark.parametrize(
    ("statements", "words"),
    [
        (["A3 inverted"], "there is no A3: the lines of this chip are A0 to A2"),
        (["D8 inverted"], "there is no D8: the lines of this chip are D0 to D7"),
        (["A0 and D0 swapped"], "A0 cannot be read at D0: address and data lines do not mix"),
        (["A0 is read at A1"], "A0 and A1 would both be read at A1; each line is read at one of its own"),
        (["A1 inverted", "A1 inverted"], "A1 is stated twice"),
        (["A0 and A1 swapped", "A1 and A2 swapped"], "A1 is stated twice"),
        (
            ["crossed"],
            "a line's repair is 'A6 inverted', 'A0 and A1 swapped' or 'D3 is read at D4, D4 at D3', not 'crossed'",
        ),
    ],
)
def test_wiring_parse_wrong(statements: list[str], words: str) -> None:
    """What states no wiring is refused with the rule."""
    with pytest.raises(BadInput) as error:
        Wiring.parse(statements, 3)
    assert str(error.value) == f"wiring: {words}"


# --- faults


def test_faults_of_silent_chips() -> None:
    """A chip that is not selected, and a bus that nothing drives."""
    assert [str(fault) for fault in find_faults(b"\xff" * 2048)] == [
        "all 2,048 bytes read FFh: the chip was not selected, or it is blank"
    ]
    assert [fault.kind for fault in find_faults(bytes(range(256)) * 4)] == [FaultKind.ADDRESS_ECHO]


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 8), st.booleans(), st.integers(0, 10**6))
def test_dead_address_line(line: int, level: bool, seed: int) -> None:
    """A dead line is named, whichever half is missing; so the dump looks the same in kind either way."""
    rom = random.Random(seed).randbytes(512)
    dump = bytes(rom[(a | 1 << line) if level else (a & ~(1 << line))] for a in range(512))
    assert [(fault.kind, fault.lines) for fault in find_faults(dump)] == [(FaultKind.ADDRESS_DEAD, (line,))]
    report = propose_repairs(dump) if line < 8 else None
    assert report is None or (report.winner is None and "content is missing" in report.why)


def test_joined_address_lines() -> None:
    """Two lines shorted together, a low or a high winning."""
    rom = random.Random(5).randbytes(1024)
    for level in (0, 1):

        def seen(address: int, level: int = level) -> int:
            both = (address >> 2 & 1, address >> 7 & 1)
            value = max(both) if level else min(both)
            return address & ~0x84 | value << 2 | value << 7

        faults = find_faults(bytes(rom[seen(address)] for address in range(1024)))
        assert [(f.kind, f.lines, f.level) for f in faults] == [(FaultKind.ADDRESS_JOINED, (2, 7), level)]


def test_data_faults() -> None:
    """Stuck and joined data lines are named; a dump with too little in it names nothing."""
    rom = random.Random(6).randbytes(1024)
    assert str(find_faults(bytes(b & 0xEF for b in rom))[0]).startswith("D4 is 0 in all")
    joined = bytes(b | (b & 4) << 1 | (b & 8) >> 1 for b in rom)
    assert [(f.kind, f.lines) for f in find_faults(joined)] == [(FaultKind.DATA_JOINED, (2, 3))]
    assert find_faults(b"\x00\x10" * 6 + b"\x01\x02\x04\x08") == ()


def test_compare_known_stuck() -> None:
    """Bench case: stuck bit from prose.  One more byte that has the bit low already changes nothing."""
    lines = compare_known(bytes.fromhex("72 31 53"), bytes.fromhex("62 21 43"))
    assert [line.line for line in lines if not line.is_sound] == [4]
    assert "stuck at 0" in lines[4].readings
    mask = 0xFF & ~sum(1 << line.line for line in lines if "stuck at 0" in line.readings and not line.is_sound)
    assert mask == 0xEF
    more = compare_known(bytes.fromhex("72 31 53 2F"), bytes.fromhex("62 21 43 2F"))
    assert more[4].telling == lines[4].telling == 3


def test_compare_known_joined() -> None:
    """Bench case: bridged data lines, a high wins; and the other sense on the data that a wired AND would give."""
    sent = b"LIST 100-250"
    for level, got in ((1, "4C 4D 53 5C 20 31 30 30 2D 32 3D 30"), (0, "4C 41 53 50 20 31 30 30 2D 32 31 30")):
        lines = compare_known(sent, bytes.fromhex(got))
        words = f"a {'high' if level else 'low'} wins"
        assert f"joined with D3, {words}" in lines[2].readings
        assert f"joined with D2, {words}" in lines[3].readings


def test_compare_known_wrong() -> None:
    """Sequences of different lengths are refused."""
    with pytest.raises(ValueError, match=r"^2 stored and 1 read bytes cannot be compared one by one$"):
        compare_known(b"ab", b"a")


# --- the compiled loops and their plain twins


def images() -> Iterator[bytes]:
    """Random bytes, text, fill and a repeating table."""
    yield random.Random(1).randbytes(128)
    yield b"PRINTER NOT READY, PRESS ANY KEY" * 4
    yield bytes(120) + b"\x20\x10\x00\x60AB\x00\x01"
    yield bytes(a * 5 % 256 for a in range(128))


def test_kernels_equal_twins() -> None:
    """Every compiled loop gives what the plain one gives."""
    code, text = code_chances("6502"), text_chances()
    evidence = make_evidence("6502")
    kinds, is_big = opcode_kinds("6502")
    tables = np.array(
        [Wiring((), 0, order, 5).data_table() for order in ((0, 1, 2, 3, 4, 5, 6, 7), (7, 1, 2, 3, 4, 5, 6, 0))]
    )
    base = np.full(256, -6.0, np.float32)
    for image in images():
        array = np.frombuffer(image, np.uint8)
        for ahead in (True, False):
            compiled = kernels.description_bits(array, code, text, ahead)
            assert compiled == pytest.approx(twins.description_bits(image, code, text, ahead), rel=1e-6)
        gains = kernels.window_gains(array, evidence.gain, base, 32, 3.0, tables)
        assert gains == pytest.approx(
            twins.window_gains(image, evidence.gain, base, 32, 3.0, tables.tolist()), rel=1e-4, abs=1e-3
        )
        landing = kernels.landing_bits(array, kinds, is_big, 0.3)
        assert landing == pytest.approx(twins.landing_bits(image, kinds.tolist(), is_big, 0.3))
        counted = kernels.count_pairs(array[:-1], array[1:])
        assert {(int(a), int(b)): int(counted[a, b]) for a, b in zip(*np.nonzero(counted), strict=True)} == dict(
            twins.count_pairs(image[:-1], image[1:])
        )


def test_climb_reaches_a_top() -> None:
    """No swap or inversion improves what a climb returns."""
    evidence = make_evidence("6502")
    array = np.frombuffer(b"PRINTER NOT READY, PRESS ANY KEY" * 4, np.uint8)
    counts = kernels.count_pairs(array[:-1], array[1:])

    def total(wiring: Wiring) -> float:
        table = wiring.data_table()
        return sum(
            float(counts[a, b] * evidence.gain[table[a], table[b]]) for a, b in zip(*np.nonzero(counts), strict=True)
        )

    for reached, order, mask in climb_pairs(counts, evidence.gain, flips=True, starts=6):
        assert total(Wiring((), 0, order, mask)) == pytest.approx(reached, rel=1e-4)
        for line in range(8):
            assert total(Wiring((), 0, order, mask ^ 1 << line)) <= reached + 0.1


# --- proposals


@pytest.mark.parametrize("line", [4, 5, 6])
@pytest.mark.parametrize("text", [b"PRINTER NOT READY\r", b"PAPER OUT PRESS KEY"])
def test_inverted_address_line(line: int, text: bytes) -> None:
    """Bench case: inverted address line, and its kind: another line, another text."""
    rom = ramp_rom(0x38, text)
    dump = bytes(rom[address ^ 1 << line] for address in range(256))
    evidence = make_evidence(None)
    best = solve_address(dump, [Wiring.straight(8)], evidence, inverted=True)[0]
    assert best.wiring == Wiring(tuple(range(8)), 1 << line)
    assert best.image == rom


def test_inverted_address_line_report() -> None:
    """Bench case: inverted address line, as the user sees it; and no plain permutation of lines gives the image."""
    rom = ramp_rom()
    dump = bytes(rom[address ^ 0x40] for address in range(256))
    assert dump[0x78:0x80] + dump[:9] == b"PRINTER NOT READY"
    report = propose_repairs(dump)
    assert report.winner is not None
    assert str(report.winner.wiring) == "A6 inverted"
    assert report.winner.image == rom
    assert report.runner_up is not None
    assert report.runner_up.image != rom
    assert not any(Wiring(order).undo(dump) == rom for order in itertools.permutations(range(8)))


def test_straight_stays_straight(strip: bytes) -> None:
    """A sound dump is left alone, and called decided."""
    report = propose_repairs(strip, cpu="6502", top=True)
    assert report.winner is not None
    assert (report.winner.wiring.is_straight, report.is_decided) == (True, True)


@pytest.mark.parametrize("seed", range(3))
def test_address_lines(strip: bytes, seed: int) -> None:
    """Address lines in any order are put back: 2 KB of 6502 code with vectors, fixed seeds."""
    order = list(range(11))
    random.Random(seed).shuffle(order)
    wiring = Wiring(tuple(order))
    found = solve_address(wiring.apply(strip), [Wiring.straight(11)], make_evidence("6502", True), inverted=False)
    assert found[0].image == strip


@pytest.mark.parametrize("seed", range(3))
def test_data_lines(strip: bytes, seed: int) -> None:
    """Data lines in any order are put back."""
    order = list(range(8))
    random.Random(seed).shuffle(order)
    wiring = Wiring(tuple(range(11)), 0, tuple(order))
    found = solve_data(wiring.apply(strip), Wiring.straight(11), make_evidence("6502", True), inverted=False)
    assert found[0].image == strip


def test_propose_undecided() -> None:
    """Random bytes have no right order, and are called undecided."""
    report = propose_repairs(random.Random(9).randbytes(256), cpu="6502")
    assert not report.is_decided
    assert report.winner is not None


def test_propose_halves() -> None:
    """Halves repeated: the top line is reported and the half is searched alone."""
    report = propose_repairs(ramp_rom() * 2, cpu="6502", inverted=False)
    assert report.size == 256
    assert [fault.lines for fault in report.faults] == [(8,)]


def test_propose_alike() -> None:
    """Lines that tell apart only blocks of equal fill may change places, and it is said."""
    image = ramp_rom() + bytes([0xFF]) * 768
    found = propose_repairs(image, cpu="6502", inverted=False)
    assert found.winner is not None
    assert found.winner.image == image
    assert found.alike == ((8, 9),)
    assert "A8 and A9 may change places: the image stays the same" in str(found)


def test_propose_stated(strip: bytes) -> None:
    """A wiring known from the board is applied and nothing is searched."""
    wiring = Wiring(tuple(reversed(range(11))), 3, (7, 6, 5, 4, 3, 2, 1, 0), 0x80)
    report = propose_repairs(wiring.apply(strip), wiring=wiring)
    assert report.winner is not None
    assert report.winner.image == strip
    assert report.why == "the wiring is stated, so nothing was searched"


def test_propose_wrong() -> None:
    """An empty dump, a processor without counted pairs, and a wiring of another size are refused."""
    with pytest.raises(BadInput, match=r"^dump: a dump holds at least one byte; the file is empty$"):
        propose_repairs(b"")
    with pytest.raises(
        UnknownName, match=r"^no pairs of bytes are counted for processor '6800'; known are '6502', '65C02', 'Z80'$"
    ):
        propose_repairs(ramp_rom(), cpu="6800")
    with pytest.raises(BadInput, match=r"^dump: the stated wiring is for 8 bytes, not 256$"):
        propose_repairs(ramp_rom(), wiring=Wiring((0, 1, 2)))
    assert propose_repairs(b"abc" * 30).why == (
        "90 bytes are no power of two, so no wiring was searched; give each chip's image alone"
    )


def test_same_again() -> None:
    """The same dump gives the same report."""
    dump = Wiring(tuple(range(8)), 0x20).apply(ramp_rom())
    assert str(propose_repairs(dump, cpu="6502")) == str(propose_repairs(dump, cpu="6502"))


def test_judge_counts_the_wiring(strip: bytes) -> None:
    """The score of a candidate is its evidence less its wiring's cost."""
    evidence = make_evidence("6502")
    wiring = Wiring((1, 0, *range(2, 11)))
    assert judge(wiring.apply(strip), wiring, evidence).bits == pytest.approx(
        evidence.score(strip) - prior_bits(wiring)
    )

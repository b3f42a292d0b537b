"""The demonstration's table: what docs/demo.md worked out on paper must stand in it.

Every expected value is a closed form or a constant of the design sheet, none is read from the product's output.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, TypeVar

import pytest

from latchlore.base import (
    ActiveLevel,
    AddressSet,
    BitKind,
    BitSense,
    BitUse,
    ByteSequence,
    ByteTree,
    Emission,
    EventOrder,
    Span,
    SpanLimit,
    SpanRange,
    Subject,
    SubjectKind,
    Witness,
    Words,
)
from latchlore.evidence import Row, Standing, Table
from latchlore.study import weigh_study
from tests.demos import lay_demo

if TYPE_CHECKING:
    from pathlib import Path

    from latchlore.base import Value

ValueT = TypeVar("ValueT", bound="Value")

BURSTS = {  # by the levels of status bits 1 and 0: straps W2 and W1, open = 1
    (0, 0): bytes.fromhex("16 5A 0D 0A"),
    (0, 1): bytes.fromhex("16 5A 16 4C 09 0D 0A"),
    (1, 0): bytes.fromhex("16 5A 16 4C 0C 06 4D 41 52 52 41 4D 0D 0A"),
    (1, 1): bytes.fromhex("16 5A 0D 0A"),
}
CURVE = "dot-drawn tide curve"


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> Table:
    """A copy of the study, weighed."""
    folder = lay_demo(tmp_path_factory.mktemp("demo") / "study")
    return weigh_study(folder)


def weigh_with(folder: Path, edits: dict[str, tuple[str, str]]) -> Table:
    """A copy of the study without the endless entry and with one text replaced in some files, weighed."""
    lay_demo(folder)
    study = (folder / "study.toml").read_text()
    start, end = study.index('[[entry]]\nname = "reset"'), study.index('[[entry]]\nname = "power-on"')
    (folder / "study.toml").write_text(study[:start] + study[end:])
    for name, (old, new) in edits.items():
        text = (folder / name).read_text()
        assert text.count(old) == 1
        (folder / name).write_text(text.replace(old, new))
    return weigh_study(folder)


def row_of(table: Table, kind: SubjectKind, *key: str) -> Row:
    """The one row about a subject."""
    [row] = [row for row in table.rows if row.subject == Subject(kind, key)]
    return row


def said(row: Row, witness: Witness, kind: type[ValueT]) -> list[ValueT]:
    """The values of one type that one witness gives."""
    return [one.value for one in row.by_witness(witness) if isinstance(one.value, kind)]


def answers(low_three: int, address: int) -> bool:
    """Whether a register answers, by the gates on the card: A15 A13 A11 high, A14 A10 low, A4 A3 as asked."""
    line = [address >> k & 1 for k in range(16)]
    selected = line[15] and line[13] and line[11] and not line[14] and not line[10]
    return bool(selected) and line[3] + 2 * line[4] == low_three


def test_order(table: Table) -> None:
    """Program, capture and guide agree that the data stand before the strobe; the wire adds when BUSY answers."""
    row = row_of(table, SubjectKind.ORDER, "handshake order")
    assert row.standing is Standing.AGREED
    assert row.reason == (
        "the orders fit, and one tells more; both say: data set, then strobe begins; "
        "the orders fit, and one tells more; both say: data set, then strobe begins, then busy begins"
    )
    assert [one.origins[0].detail for one in row.by_witness(Witness.DOCUMENTS)] == ["page 20"]
    [program], [wire] = said(row, Witness.PROGRAM, EventOrder), said(row, Witness.WIRE, EventOrder)
    assert str(program) == "busy looked at, then data set, then strobe begins, then strobe ends"
    assert str(wire) == "data set, then strobe begins, then busy begins, then strobe ends, then busy ends"
    # one reading: what was set down for the tide line, a byte a strobe
    assert {one.against for one in wire.counts} == {0}


def test_strobe_level(table: Table) -> None:
    """The program pulses the strobe's bit at 1, an inverter makes that low: as the capture and both manuals have it."""
    for key in (("signal", "STROBE"), ("bit", "memory", "A810", "write", "0")):
        row = row_of(table, SubjectKind(key[0]), *key[1:])
        assert row.standing is Standing.AGREED
        assert said(row, Witness.PROGRAM, BitUse) == [BitUse(pulsed_at=1)]
        assert said(row, Witness.WIRE, ActiveLevel) == [ActiveLevel(0)]
        assert "the bit is NOT STROBE and the program pulses it at 1, so STROBE is low during the pulse" in row.reason


REGISTERS = [("A808", "write", 0b01), ("A810", "write", 0b10), ("A810", "read", 0b10)]


def test_marked(table: Table) -> None:
    """The table says that all is invented, and everything was done."""
    assert table.invented
    assert table.not_done == ()
    assert set(table.heard) == set(Witness)


@pytest.mark.parametrize(("address", "direction", "select"), REGISTERS)
def test_registers(table: Table, address: str, direction: str, select: int) -> None:
    """Three registers, 512 addresses each."""
    row = row_of(table, SubjectKind.REGISTER, "memory", address, direction)
    [mirrors] = said(row, Witness.BOARD, AddressSet)
    assert set(mirrors.iter_addresses()) == {a for a in range(1 << 16) if answers(select, a)}
    assert mirrors.count == 512
    assert row.standing is Standing.AGREED


def test_registers_used(table: Table) -> None:
    """The program uses two of the status register's addresses, and it has no other registers on the card."""
    row = row_of(table, SubjectKind.REGISTER, "memory", "A810", "read")
    [touched] = said(row, Witness.PROGRAM, AddressSet)
    assert set(touched.iter_addresses()) == {0xB810, 0xAA17}
    found = {row.subject.key for row in table.rows if row.subject.kind is SubjectKind.REGISTER}
    inputs = {("memory", f"{address:04X}", "read") for address in (0xE200, 0xE201, 0xE202)}
    assert found - inputs == {("memory", address, direction) for address, direction, _ in REGISTERS}


@pytest.mark.parametrize(
    ("bit", "source", "inverted"), [(5, "PAPER-OUT", False), (6, "BUSY", True), (7, "FAULT", False)]
)
def test_status_lines(table: Table, bit: int, source: str, inverted: bool) -> None:
    """Three status bits follow the printer, BUSY through an inverter."""
    row = row_of(table, SubjectKind.BIT, "memory", "A810", "read", str(bit))
    [sense] = said(row, Witness.BOARD, BitSense)
    assert sense == BitSense.follows(source, inverted=inverted)


@pytest.mark.parametrize(("bit", "level"), [(3, 1), (4, 0)])
def test_ties(table: Table, bit: int, level: int) -> None:
    """Two status bits are tied; the program looks whether they are."""
    row = row_of(table, SubjectKind.BIT, "memory", "A810", "read", str(bit))
    assert BitSense.tied(level) in said(row, Witness.BOARD, BitSense)
    [use] = said(row, Witness.PROGRAM, BitUse)
    assert use.branches


def test_wired_to_nothing(table: Table) -> None:
    """Status bit 2 is wired to nothing, and the program never looks at it."""
    row = row_of(table, SubjectKind.BIT, "memory", "A810", "read", "2")
    [sense] = said(row, Witness.BOARD, BitSense)
    assert sense.kind is BitKind.UNCONNECTED
    [use] = said(row, Witness.PROGRAM, BitUse)
    assert use == BitUse()
    assert row.standing is not Standing.CONTRADICTED


@pytest.mark.parametrize(("bit", "source", "inverted"), [(0, "STROBE", True), (1, "PRIME", False), (2, "FEED", False)])
def test_control_lines(table: Table, bit: int, source: str, inverted: bool) -> None:
    """Three control bits reach the printer; a 1 pulls the strobe low."""
    row = row_of(table, SubjectKind.BIT, "memory", "A810", "write", str(bit))
    assert said(row, Witness.BOARD, BitSense) == [BitSense.follows(source, inverted=inverted)]


@pytest.mark.parametrize("bit", range(8))
def test_data_lines(table: Table, bit: int) -> None:
    """All eight data wires go through: the card could have carried a row of dots."""
    row = row_of(table, SubjectKind.BIT, "memory", "A808", "write", str(bit))
    assert said(row, Witness.BOARD, BitSense) == [BitSense.follows(f"DATA{bit + 1}")]


def test_busy(table: Table) -> None:
    """Board, program and both manuals tell one story about BUSY."""
    row = row_of(table, SubjectKind.SIGNAL, "BUSY")
    assert row.standing is Standing.AGREED
    assert {one.witness for one in row.testimonies} >= {Witness.BOARD, Witness.DOCUMENTS}


def test_burst(table: Table) -> None:
    """Twelve lossy runs merge into the longest burst; its path tells how the straps stood."""
    row = row_of(table, SubjectKind.SEQUENCE, "power-on")
    [merged] = said(row, Witness.WIRE, ByteSequence)
    assert merged.data == BURSTS[1, 0]
    assert merged.num_runs == 12
    assert merged.confidence > 0.9
    assert min(item.confidence for item in merged.items) > 0.9
    assert row.standing is Standing.AGREED
    [tree] = said(row, Witness.PROGRAM, ByteTree)
    assert paths(tree) == {burst: {s for s, sent in BURSTS.items() if sent == burst} for burst in set(BURSTS.values())}
    assert any("bit 0" in text or "W1" in text for text in row.follows)


def paths(tree: ByteTree) -> dict[bytes, set[tuple[int, int]]]:
    """What each walk through a tree sends, with the levels of status bits 1 and 0 that allow it."""
    found: dict[bytes, set[tuple[int, int]]] = {}
    for path in tree.iter_paths(lambda _, address: address == 0xB808):
        for high, low in BURSTS:
            held = {bit: (low, high)[bit.bit] for one in path.conditions for bit in one.bits if bit.bit in (0, 1)}
            if all(one.holds(held) for one in path.conditions if set(one.bits) <= set(held)):
                found.setdefault(path.written, set()).add((high, low))
    return found


def test_reading(table: Table) -> None:
    """One run of one reading: what it says is a path of the program, with no second run to compare."""
    row = row_of(table, SubjectKind.SEQUENCE, "tide-line")
    [heard] = said(row, Witness.WIRE, ByteSequence)
    assert heard.data == b"TIDE 04.37 M RISING \r\n"
    assert heard.num_runs == 1


def around(cycles: int) -> tuple[Fraction, Fraction]:
    """So many cycles of 5/4 MHz, 200 ppm either way, in picoseconds."""
    return cycles * 800_000 / (1 + Fraction(200, 10**6)), cycles * 800_000 / (1 - Fraction(200, 10**6))


@pytest.mark.parametrize(
    ("what", "cycles", "limits"),
    [("strobe width", 2 + 5 * 5 - 1 + 2 + 4, ("10 us", "25 us")), ("data set-up", 2 + 4, ("2 us", "4 us"))],
)
def test_times(table: Table, what: str, cycles: int, limits: tuple[str, str]) -> None:
    """Times from cycles meet what both manuals ask for, one of them closely."""
    row = row_of(table, SubjectKind.TIMING, what)
    [span] = said(row, Witness.PROGRAM, SpanRange)
    least, most = around(cycles)
    assert abs(span.least.picoseconds - least) <= 1
    assert abs(span.most.picoseconds - most) <= 1
    asked = said(row, Witness.DOCUMENTS, SpanLimit)
    assert {limit.least for limit in asked} == {Span.parse(text) for text in limits}
    assert {limit.judge(span) for limit in asked} == {"met"}
    assert row.standing is Standing.AGREED


def test_hold(table: Table) -> None:
    """From the end of a strobe to the next byte: RTS, LDA #, JSR, BIT and BVC, STA at the least, between CR and LF."""
    row = row_of(table, SubjectKind.TIMING, "data hold")
    [limit] = said(row, Witness.PROGRAM, SpanLimit)
    assert limit.least is not None
    assert abs(limit.least.picoseconds - around(6 + 2 + 6 + 4 + 2 + 4)[0]) <= 1
    assert row.standing is Standing.AGREED


def test_manuals(table: Table) -> None:
    """The manuals contradict each other about code 06h and about nothing else."""
    row = row_of(table, SubjectKind.COMMAND, "06")
    assert row.standing is Standing.CONTRADICTED
    assert {one.text for one in said(row, Witness.DOCUMENTS, Words)} == {
        "wide characters until the next return",
        "underlined characters until the next return",
    }
    assert row.repairs


def test_curve(table: Table) -> None:
    """No path of the program sends the code that draws dots, from any entry; the label says that it was drawn."""
    row = row_of(table, SubjectKind.EMISSION, CURVE)
    program = said(row, Witness.PROGRAM, Emission)
    assert program
    assert all(one.happens is False and one.bounds for one in program)
    assert [one.happens for one in said(row, Witness.DOCUMENTS, Emission)] == [True]
    assert row.standing is Standing.CONTRADICTED


def test_curve_wrong(table: Table) -> None:
    """The search is not blind: on the same trees it finds the codes that are sent, and in the right order only."""
    row = row_of(table, SubjectKind.SEQUENCE, "power-on")
    [tree] = said(row, Witness.PROGRAM, ByteTree)

    def may_send(*data: int) -> bool:
        return tree.can_emit([frozenset({byte}) for byte in data], lambda _, address: address == 0xB808)

    assert may_send(0x16, 0x4C)
    assert may_send(0x06, 0x4D)
    assert not may_send(0x16, 0x44)
    assert not may_send(0x4C, 0x16)


def test_contradictions(table: Table) -> None:
    """Nothing else in the study is contradicted."""
    assert {row.subject for row in table.iter_standing(Standing.CONTRADICTED)} == {
        Subject(SubjectKind.COMMAND, ("06",)),
        Subject(SubjectKind.EMISSION, (CURVE,)),
    }


def test_straps_wrong(tmp_path: Path) -> None:
    """Had somebody moved a strap since the runs were taken, the table would say so, of that strap only."""
    table = weigh_with(tmp_path / "study", {"board/card.nets": ("strap w1 joined", "strap w1 open")})
    assert row_of(table, SubjectKind.STRAP, "w1").standing is Standing.CONTRADICTED
    assert row_of(table, SubjectKind.STRAP, "w2").standing is Standing.AGREED


def test_busy_wrong(tmp_path: Path) -> None:
    """Had the tracer missed the inverter, the program would wait for the wrong level."""
    edit = ("net nbusy    u10.4 u9.15\n", "more busy u9.15\nopen u10.4\n")
    table = weigh_with(tmp_path / "study", {"board/card.nets": edit})
    assert row_of(table, SubjectKind.SIGNAL, "BUSY").standing is Standing.CONTRADICTED


def test_strobe_level_wrong(tmp_path: Path) -> None:
    """Had the tracer missed the strobe's inverter, the program would hold the line true but for the pulse."""
    between = "net k2 u8.5 u11.5\nnet k3 u8.7 u11.9\n"
    edit = (
        f"net k1 u8.2 u10.1\n{between}net nk1 u10.2 u11.2\n",
        f"net k1 u8.2 u11.2\n{between}open u10.1\nopen u10.2\n",
    )
    table = weigh_with(tmp_path / "study", {"board/card.nets": edit})
    row = row_of(table, SubjectKind.SIGNAL, "STROBE")
    assert row.standing is Standing.CONTRADICTED
    assert (
        "the bit is STROBE and the program pulses it at 1, so STROBE is high during the pulse; STROBE is said to be "
        "true when low, so it would be true all the time but for the pulse"
    ) in row.reason
    assert row.repairs[0].words.startswith("an inverter was missed between ")

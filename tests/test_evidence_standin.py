"""What a stand-in must do, against values counted by hand: instruction times of the MCS6500 programming manual
(MOS Technology, 2nd edition, January 1976, appendix B) and the bench cases.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from latchlore.base import Span, SpanLimit, Subject, SubjectKind
from latchlore.evidence import (
    Answering,
    Feed,
    StandIn,
    Standing,
    controller_cycles,
    stand_in_cautions,
    stand_in_to_plain,
)
from latchlore.study import Cache, specify_study
from tests.demos import lay_demo
from tests.standins import CASE_18, write_acknowledged, write_case_18

EXAMS = Path(__file__).parent.parent / "exams"
DOCS = Path(__file__).parent.parent / "docs" / "stand-in.md"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, cache: Cache) -> StandIn:
    """The specification of the demonstration."""
    folder = lay_demo(tmp_path_factory.mktemp("demo") / "study")
    return specify_study(folder, cache=cache)


def says(stand_in: StandIn, key: str) -> str:
    """The sentence of a demand."""
    demand = stand_in.find_demand(key)
    assert demand is not None
    return demand.says


def test_idle_byte(demo: StandIn) -> None:
    """The one byte for all five drivers of the demonstration, read off its listing.

    reset wants bits 4 and 3 to be 0 and 1 (CMP #08 behind AND #18), the two senders bit 6 to be 1 (BVC, AND #40), the
    line routine bit 7 to be 1 (BPL) and bit 5 to be 0 (AND #20; BNE).  The card ties bits 4 and 3 and leaves bit 2
    open; U10 turns BUSY over, so bit 6 = 1 is BUSY low.
    """
    (status,) = demo.status
    assert status.register == "A810"
    assert (status.value or 0) & 0b11111000 == 0b11001000
    assert status.care == 0b11111000
    assert status.pattern == "1100 1xxx"
    lines = {line.bit: line for line in status.bits}
    assert [lines[bit].feed for bit in range(7, -1, -1)] == [
        *[Feed.STAND_IN] * 3,
        *[Feed.TIE] * 2,
        Feed.NOBODY,
        *[Feed.STRAP] * 2,
    ]
    assert {lines[bit].signal: lines[bit].pin for bit in (7, 6, 5)} == {"FAULT": 1, "BUSY": 0, "PAPER-OUT": 0}
    assert lines[2].level is None
    assert all(status.lets(0xC8 | low) == tuple(one.name for one in status.drivers) for low in range(8))
    assert status.lets(0xC8 ^ 0x40) == ()


def test_hold_off(demo: StandIn) -> None:
    """BUSY must be there within 50 cycles of the strobe: the return and the line feed behind it are closest.

    STA CONTROL (strobe on) to STA CONTROL (off): LDX 2, 5 DEX and 4 BNE taken, one not, 26; LDA 2; STA 4: 32.  RTS 6,
    LDA # 2, JSR 6, BIT 4: 18.  At 1.25 MHz, 200 ppm fast: 50 / 1.25025 MHz = 39.992001... us.
    """
    demand = demo.find_demand("hold off by")
    assert demand is not None
    assert demand.cycles is not None
    assert demand.cycles.least == 32 + 18
    assert demand.limit == SpanLimit(most=Span(39_992_001))
    assert "BUSY must be high no later than 39.992001 us (50 cycles" in demand.says
    assert "within 30 us, which is soon enough" in demand.says
    assert demand.standing is Standing.AGREED
    assert demand.settle == ()
    assert Subject(SubjectKind.SIGNAL, ("BUSY",)) in demand.subjects


def test_times(demo: StandIn) -> None:
    """Looks every 7 cycles in one loop and every 13 or 17 in the other; both edges of the strobe; when it gives up.

    BIT 4, BVC taken 3.  LDA 4, AND 2, BNE 2, DEX 2, BNE taken 3; at the end of the inner loop BNE 2, DEY 2, BNE 3.
    48 x 256 looks.  The ready level must last from look to look: 17 cycles at 200 ppm slow, 17 / 1.24975 MHz.
    """
    ready, patience, latch = (demo.find_demand(key) for key in ("ready", "patience", "latch"))
    assert ready is not None
    assert ready.cycles is not None
    assert (ready.cycles.least, ready.cycles.most) == (7, 17)
    assert ready.limit == SpanLimit(Span(13_602_721))
    assert ready.standing is Standing.SINGLE
    assert ready.settle == ("a capture of the line while the program waits for it",)
    assert patience is not None
    assert patience.cycles is not None
    assert patience.cycles.least == (48 * 256 - 1) * 13
    # data 2 + 4 cycles before the strobe, 32 wide, 24 to the next data: RTS 6, LDA 2, JSR 6, BIT 4, BVC 2, STA 4
    least = [Span(cycles * 10**12 * 10**6 // 1_250_000 // 1_000_200) for cycles in (6, 32, 24)]
    assert latch is not None
    assert f"at the strobe's first edge, the data stand {least[0]} before it" in says(demo, "latch").replace(
        "taken ", ""
    )
    assert f"{least[2]} after" in says(demo, "latch")
    assert "never held" not in says(demo, "strobe")
    assert "low at the pin" in says(demo, "strobe")


def test_answering(demo: StandIn) -> None:
    """Machine code is quick enough for 40 us, an operating system is not; 39.99 us are 639 cycles of 16 MHz."""
    verdicts = {one.what: one.verdict for one in demo.answering}
    assert [verdicts[what] for what in sorted(verdicts) if "machine code" in what] == ["suffices"] * 3
    assert [one.verdict for one in demo.answering] == ["suffices"] * 5 + ["measure", "too slow"]
    assert all(isinstance(one, Answering) for one in demo.answering)
    assert controller_cycles(Span(39_992_001)) == ((1, 39), (4, 159), (16, 639), (100, 3999))


def test_never_exercised(demo: StandIn) -> None:
    """Nobody ever raised FEED, looked at bit 2 or at ACK, or sent a row of dots."""
    assert [text.partition(":")[0] for text in demo.never[:3]] == ["ACK", "A810 (read) bit 2", "FEED"]
    assert "no path ever sends 16 44 (draw one row of 144 dots)" in demo.never[3]
    assert "no path waits for an acknowledge (ACK), and no register bit was found to carry it" in says(demo, "pulse")
    assert demo.unsaid == ()


def test_two_status_tests(tmp_path: Path, cache: Cache) -> None:
    """Bench case 18: only 3F satisfies all; bits 3 to 0 read 1 and are probably undriven, for only B looks at them."""
    stand_in = specify_study(write_case_18(tmp_path), cache=cache)
    (status,) = stand_in.status
    assert (status.value, status.care, status.lets_all) == (0x3F, 0xFF, frozenset({0x3F}))
    assert [status.lets(value) for value in (0x3F, 0x30, 0x00, 0xFF)] == [("A", "B", "C"), ("A", "C"), ("C",), ()]
    assert [line.probably_undriven for line in status.bits] == [False] * 4 + [True] * 4
    assert {line.tested_by for line in status.bits[4:]} == {("B",)}


def test_two_status_tests_wrong(tmp_path: Path, cache: Cache) -> None:
    """Drivers that no byte satisfies are told apart, and no byte is made up; the others are still read."""
    other = ("D", "2C01C8 10FB A943 8D00C8 60")  # as C, but BPL: bit 7 must be 1
    (status,) = specify_study(write_case_18(tmp_path, (*CASE_18, other)), cache=cache).status
    assert (status.value, status.care, status.lets_all) == (None, 0, frozenset())
    assert [status.lets(value) for value in (0x3F, 0x80)] == [("A", "B", "C"), ("D",)]


@pytest.mark.parametrize(("least", "sees"), [("7 us", "every one"), ("6999 ns", "some, by chance"), ("", "")])
def test_acknowledge(tmp_path: Path, cache: Cache, least: str, sees: str) -> None:
    """A pulse must last from look to look: BIT 4, BMI taken 3, 7 cycles at 1 MHz; the last first look is 10 cycles on.

    LDA # 2, STA 4 to the strobe's second edge, then BIT 4.
    """
    stand_in = specify_study(write_acknowledged(tmp_path, least), cache=cache)
    demand = stand_in.find_demand("pulse")
    assert demand is not None
    assert demand.limit == SpanLimit(Span.of(us=7))
    assert "ACK must be low for at least 7 us" in demand.says
    assert "It must not end before 10 us" in demand.says
    assert (f"the host sees {sees}" in demand.says) == bool(sees)
    (status,) = stand_in.status
    assert {line.signal: line.pin for line in status.bits if line.signal} == {"ACK": 1}


def test_contradiction_falls_through(tmp_path: Path, cache: Cache) -> None:
    """The demonstration without its inverter: what rests on BUSY stands contradicted, with the ways out of it."""
    lay_demo(tmp_path / "study")
    nets = tmp_path / "study" / "board" / "card.nets"
    text = nets.read_text("utf-8")
    text = text.replace("net busy     j2.10 u10.3", "net busy     j2.10 u10.3 u9.15")
    nets.write_text(text.replace("net nbusy    u10.4 u9.15", "open u10.4"), "utf-8")
    stand_in = specify_study(tmp_path / "study", cache=cache)
    (status,) = stand_in.status
    busy = next(line for line in status.bits if line.signal == "BUSY")
    assert (busy.standing, busy.pin) == (Standing.CONTRADICTED, 1)
    for key in ("hold off by", "ready"):
        demand = stand_in.find_demand(key)
        assert demand is not None
        assert demand.standing is Standing.CONTRADICTED
        assert any(text.startswith("signal BUSY is contradicted; it ends where") for text in demand.settle)
    latch = stand_in.find_demand("latch")
    assert latch is not None
    assert latch.standing is Standing.AGREED


def test_strobe_in_the_data_register(cache: Cache) -> None:
    """The exam of a 7-bit port whose bit 7 is the strobe, without a clock: T states of the Z80 CPU user manual (Zilog).

    OUT (C),A 12; OR n and AND n 7: the data stand 7 + 12 before the strobe's first edge, which lasts 7 + 12.  Entered
    anew (LD E,A 4; LD BC,nn 10; IN A,(C) 12) it looks 19 + 26 behind that edge at the soonest, its return not counted.
    """
    stand_in = specify_study(EXAMS / "z80-7-bit-port" / "study", cache=cache)
    strobe, latch, held = (stand_in.find_demand(key) for key in ("strobe", "latch", "hold off by"))
    assert strobe is not None
    assert strobe.says == "the host's strobe is a pulse of 19 cycles, low at the pin."
    assert latch is not None
    assert "the data stand 19 cycles before it; at its second edge, 38 cycles before." in latch.says
    assert held is not None
    assert held.cycles is not None
    assert held.cycles.least == 45
    assert "That is the routine entered anew at once" in held.says
    assert held.limit is None
    assert "no clock is stated: times are in cycles only" in stand_in.unsaid


def test_nothing_heard_wrong(tmp_path: Path, cache: Cache) -> None:
    """Without a program nothing is specified, and that is what is said."""
    (tmp_path / "study.toml").write_text('title = "Nothing yet"\n', "utf-8")
    stand_in = specify_study(tmp_path, cache=cache)
    assert stand_in.status == ()
    assert stand_in.answering == ()
    assert stand_in.unsaid == (
        "no program was heard: what the host asks of a stand-in is not known; name an image and its entries",
    )
    assert {one.standing for one in stand_in.demands} == {Standing.SILENT}


def test_schema_is_documented(demo: StandIn) -> None:
    """Every key of the JSON stands in docs/stand-in.md, and the object survives JSON."""
    plain = stand_in_to_plain(demo)
    assert json.loads(json.dumps(plain)) == plain
    documented = set(re.findall(r"`([a-z_]+)`", DOCS.read_text("utf-8")))

    def keys(value: object) -> set[str]:
        if isinstance(value, dict):
            return {key for key in value if re.fullmatch("[a-z_]+", key)}.union(*map(keys, value.values()))
        return set().union(*map(keys, value)) if isinstance(value, list) else set()

    assert keys(plain) - documented == set()
    assert len(plain["cautions"]) == len(stand_in_cautions())

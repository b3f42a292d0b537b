"""The tracing guide on invented random boards, against the boards' own nets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from latchlore.board import PinAt, parse_board
from latchlore.board._readings import MeterReading, parse_readings
from latchlore.board._sanded import possible_types
from latchlore.board._trace_guide import Aim, Guide, propose
from latchlore.board._trace_likelihood import picture_of
from latchlore.board._trace_nets import Joint, conclude
from latchlore.board._trace_unsure import find_unsure
from tests.traceboards import Bench, Drawn, draw, wrong_joints

if TYPE_CHECKING:
    from latchlore.board import Board

SMALL = parse_board("part u1 7400\npart u2 7404\nplug p1 4 host\npin p1.1 gnd\npin p1.2 vcc\n", "board/a.nets")


def trace(drawn: Drawn, bench: Bench, *, strips: bool, most: int = 2000) -> list[MeterReading]:
    """Follow the guide to its end."""
    guide = Guide(drawn.board, strips=strips)
    readings: list[MeterReading] = []
    for _ in range(most):
        proposal = guide.propose()
        if proposal.aim is Aim.DONE:
            return readings
        assert proposal.held is not None
        readings.append(bench.read(proposal.held, proposal.row, proposal.strip))
        guide.take(readings[-1])
    raise AssertionError("the guide did not come to an end")


def labels(board: Board) -> dict[PinAt, int]:
    """A number for the net of every pin."""
    found = {at: k for k, net in enumerate(board.nets) for at in net.pins}
    loose = sorted(board.open_pins | board.not_traced)
    return found | {at: len(board.nets) + k for k, at in enumerate(loose)}


@pytest.mark.parametrize(("seed", "strips"), [(1, True), (2, False)])
def test_trace_small(seed: int, strips: bool) -> None:
    """Without wrong readings no joint is invented, nearly all are found, each twice, in far fewer than all pairs."""
    drawn = draw(seed, 6)
    readings = trace(drawn, Bench(drawn), strips=strips)
    traced = conclude(drawn.board, readings)
    extra, missing = wrong_joints(drawn, labels(traced.board))
    assert extra == 0
    assert missing <= 1
    assert len(readings) < drawn.num_pins * 3
    assert not any(joint.hangs_on_one for joint in traced.joints)


def test_first_proposal() -> None:
    """Supply pins come first."""
    proposal = propose(SMALL)
    assert proposal.aim is Aim.FIND
    assert proposal.held in {
        PinAt(o, n) for o, n in (("u1", 7), ("u1", 14), ("u2", 7), ("u2", 14), ("p1", 1), ("p1", 2))
    }
    assert proposal.left > 0


def test_bus_apart() -> None:
    """Three lines between chips whose outputs can let go are doubted when none meets the host; fewer, or one
    bus that meets it, are not.
    """
    board = parse_board("part u1 74ls244\npart u2 74ls374\nplug p1 20 host\npin p1.1 d0 both\n", "board/a.nets")
    pairs = [(18, 2), (16, 5), (14, 6)]  # outputs of the '244 and of the '374 (TI SDLS144, SDLS165)
    words = "3 lines between u1 and u2, with outputs that take turns, were found joined to nothing of the host"

    def told(readings: str) -> int:
        traced = conclude(board, parse_readings(readings, "a.readings", board))
        return sum(doubt.words == words for doubt in traced.board.doubts)

    joints = "".join(f"joined u1.{one} u2.{other}\n" for one, other in pairs)
    assert told(joints) == 3
    assert told(joints.partition("\n")[2]) == 0
    assert told(joints + "joined p1.1 u1.18\n") == 0


def test_conclude() -> None:
    """Transitive joints make one net; what hangs on one reading, a resistance and a junction carry a doubt."""
    text = "joined u1.3 u2.1\njoined u1.3 u2.3\nohms 30 u1.6 u2.5\ndiode u1.8 u2.9\n"
    traced = conclude(SMALL, parse_readings(text, "a.readings", SMALL))
    assert [net.pins for net in traced.board.nets] == [(PinAt("u1", 3), PinAt("u2", 1), PinAt("u2", 3))]
    assert len(traced.set_aside) == 2
    words = {d.words for d in traced.board.doubts}
    assert "u1.6 and u2.5: 30 ohms read, kept and not believed as a joint" in words
    assert "joint u1.3 to u2.1 hangs on one reading" in words
    assert all(joint.hangs_on_one for joint in traced.joints)


def test_conclude_wrong() -> None:
    """Two outputs read together once are not believed, and the guide asks for that reading again."""
    traced = conclude(SMALL, parse_readings("joined u1.3 u2.2\n", "a.readings", SMALL))
    assert traced.board.nets == ()
    assert [q.words for q in traced.disagreements] == [
        "u1.3 and u2.2 were read joined, which does not fit what they are"
    ]
    proposal = propose(SMALL, parse_readings("joined u1.3 u2.2\n", "a.readings", SMALL))
    assert (proposal.aim, proposal.held) == (Aim.AGAIN, PinAt("u2", 2))  # the end that was touched, not held
    assert proposal.row == tuple(PinAt("u1", k) for k in range(1, 8))  # the whole row: pin 3 alone would tell less


def test_strip() -> None:
    """A pin heard against a strip is looked for among the strip's pins, and silence is believed of all of them."""
    guide = Guide(SMALL, parse_readings("press u1 1-7\nsweep u2 1-7 1\n", "a.readings", SMALL))
    pins, state = guide.state.ground.pins, guide.state
    assert [(pins[pin], {pins[k] for k in several}) for pin, several in state.open_clues()] == [
        (PinAt("u2", 1), {PinAt("u1", k) for k in range(1, 8)})
    ]
    picture = picture_of(state)
    at = picture.of_pin[state.ground.index[PinAt("u2", 1)]]
    beside = [picture.of_pin[state.ground.index[PinAt("u1", k)]] for k in range(1, 8)]
    before = picture_of(Guide(SMALL).state)  # the same groups, since nothing is joined yet
    assert 1 - (1 - picture.joint[at, beside]).prod() > 0.8
    assert picture.joint[at, beside].sum() > 1.5 * before.joint[at, beside].sum()
    assert state.no[state.ground.index[PinAt("u2", 3)], state.ground.index[PinAt("u1", 3)]] == 1


FROM_U1 = "hold u1.3\nsweep u2 1-7 1\n"
FROM_U2 = "hold u2.1\nsweep u1 1-7 3\n"
OVER_U1 = "press u1 1-7\nsweep u2 1-7 1\n"


@pytest.mark.parametrize(
    ("readings", "hangs"),
    [
        (FROM_U1, True),
        (FROM_U1 * 3, True),  # the number of u2.1 typed three times
        (OVER_U1 + FROM_U1, True),  # ... and with the strip too
        (OVER_U1 + FROM_U2, True),  # u1.4 would have been heard by the strip too
        (FROM_U1 + FROM_U2, False),
    ],
)
def test_hangs_on_one_number(readings: str, hangs: bool) -> None:
    """Only a reading from the other end, or one that needs the joint and not the number, confirms a joint."""
    (joint,) = conclude(SMALL, parse_readings(readings, "a.readings", SMALL)).joints
    assert (joint.first, joint.second, joint.hangs_on_one) == (PinAt("u1", 3), PinAt("u2", 1), hangs)
    proposal = propose(SMALL, parse_readings("joined p1.1 u1.7 u2.7\n" + readings, "a.readings", SMALL))
    assert proposal.aim is not Aim.DONE


def test_ring_on_one_number() -> None:
    """A ring both of whose ways end in a typed u2.5 is no confirmation of u2.5; what goes on from it is confirmed."""
    text = FROM_U1 + FROM_U2 + "hold u1.3\nsweep u2 1-7 5\nhold u2.1\nsweep u2 1-7 5\n"
    joints = conclude(SMALL, parse_readings(text, "a.readings", SMALL)).joints
    u2 = PinAt("u2", 5)
    assert [(j.first, j.second) for j in joints if j.hangs_on_one] == [
        (j.first, j.second) for j in joints if u2 in (j.first, j.second)
    ]
    assert len(joints) == 3


def test_strip_confirms_beyond() -> None:
    """A strip over u1 heard at p1.3, which u2.1 alone joins to it, confirms the joint of u2.1, not p1.3 itself."""
    text = FROM_U1 + "hold u2.1\nsweep p1 all 3\npress u1 1-7\nsweep p1 all 3\n"
    joints = conclude(SMALL, parse_readings(text, "a.readings", SMALL)).joints
    assert {frozenset((str(j.first), str(j.second))): j.hangs_on_one for j in joints} == {
        frozenset(("u1.3", "u2.1")): False,
        frozenset(("u2.1", "p1.3")): True,
    }


@pytest.mark.parametrize("neighbour", [False, True])
def test_strip_over_a_bus(neighbour: bool) -> None:
    """A strip over p1 bears out that u2.3 was typed, unless the pin beside it, u2.2, leads to p1 as well."""
    text = "hold u2.3\nsweep p1 all 3\nhold p1.3\nsweep u2 1-7 3\n"
    if neighbour:
        text += "hold u2.2\nsweep p1 all 4\nhold p1.4\nsweep u2 1-7 2\n"
    text += "press p1 all\nsweep u1 1-7 1\nhold u1.1\nsweep u2 1-7 3\n"
    joints = conclude(SMALL, parse_readings(text, "a.readings", SMALL)).joints
    (found,) = (joint for joint in joints if PinAt("u1", 1) in (joint.first, joint.second))
    assert found.hangs_on_one is neighbour


def test_one_number_doubt() -> None:
    """The doubt says which pin to hold, and the guide holds it."""
    readings = parse_readings(FROM_U1 * 2, "a.readings", SMALL)
    words = "joint u1.3 to u2.1 hangs on the number of u2.1, typed each time; hold u2.1 and read it from there"
    told = {(d.place, d.words) for d in conclude(SMALL, readings).board.doubts if "typed" in d.words}
    assert told == {("u1.3", words), ("u2.1", words)}
    guide = Guide(SMALL, readings)
    (unsure,) = find_unsure(guide.state)
    pins = guide.state.ground.pins
    assert pins[unsure.pin] == PinAt("u2", 1)
    index = guide.state.ground.index
    from_u2 = frozenset(index[PinAt("u1", k)] for k in range(1, 8))
    assert unsure.settled_by(index[PinAt("u2", 1)], from_u2)
    assert not unsure.settled_by(index[PinAt("u1", 3)], frozenset({index[PinAt("u2", 1)]}))


def test_unlikely_joint() -> None:
    """A joint that a strip bears out, but that does not fit what its pins are, keeps a doubt until read again."""
    text = "hold p1.3\nsweep p1 all 4\nhold p1.4\nsweep u2 1-7 1\npress p1 odd\nsweep u2 1-7 1\n"
    ends = {PinAt("p1", 3), PinAt("p1", 4)}

    def joint_of(text: str) -> Joint:
        traced = conclude(SMALL, parse_readings(text, "a.readings", SMALL))
        return next(joint for joint in traced.joints if {joint.first, joint.second} == ends)

    joint = joint_of(text)
    assert (joint.hangs_on_one, joint.unlikely, joint.believed) == (False, True, False)
    assert not joint_of(text + "hold p1.4\nsweep p1 all 3\n").is_doubted


@pytest.mark.parametrize("answers", [0, 1])
def test_confirm_ends(answers: int) -> None:
    """A joint that no other reading confirms is asked for a few times, then doubted: the guide comes to its end."""
    guide = Guide(SMALL, parse_readings(FROM_U1 * (1 + answers), "a.readings", SMALL))
    asked = 0
    while (proposal := guide.propose()).aim is not Aim.DONE and asked < 300:
        assert proposal.held is not None
        guide.take(MeterReading(proposal.held, proposal.row, strip=proposal.strip))
        asked += 1
    assert asked < 300


@pytest.mark.parametrize(("joined", "doubted"), [(1, True), (3, True), (4, False)])
def test_bus_mostly_alone(joined: int, doubted: bool) -> None:
    """Of eight data lines, the joined ones are doubted while more than half of the bus leads nowhere."""
    host = "\n".join(f"pin p1.{k} d{k - 1} both" for k in range(1, 9))
    board = parse_board(f"part u1 74273\nplug p1 8 host\n{host}\n", "board/a.nets")
    inputs = (3, 4, 7, 8)
    lines = [f"joined p1.{k} u1.{inputs[k - 1]}" for k in range(1, joined + 1)]
    traced = conclude(board, parse_readings("\n".join(lines * 2), "a.readings", board))
    words = f"{8 - joined} of the 8 data lines of p1 were found joined to nothing; this one may be cut short too"
    told = {doubt.place for doubt in traced.board.doubts if doubt.words == words}
    assert told == ({f"p1.{k}" for k in range(1, joined + 1)} if doubted else set())


def test_doubtful_joint_is_not_used() -> None:
    """Ground read into the net of the supply once, against all sense: no net rests on it, and a doubt says so."""
    text = "joined p1.1 u1.7\njoined p1.2 u1.14\njoined p1.1 p1.2\n"
    traced = conclude(SMALL, parse_readings(text, "a.readings", SMALL))
    assert {net.name for net in traced.board.nets} >= {"gnd", "vcc"}
    assert not {PinAt("p1", 1), PinAt("p1", 2)} <= set(traced.board.net("gnd").pins)
    assert any("p1.1 and p1.2" in doubt.words for doubt in traced.board.doubts)


def test_contradiction_names_culprit() -> None:
    """A false joint that puts two outputs together is named before the joints that were read twice."""
    text = "joined u1.3 u2.1\n" * 2 + "joined u2.1 u1.6\n"
    traced = conclude(SMALL, parse_readings(text, "a.readings", SMALL))
    (quarrel,) = traced.disagreements
    assert quarrel.words == "two outputs, u1.3 and u1.6, stand in one net"
    assert set(quarrel.suspects[0]) == {PinAt("u2", 1), PinAt("u1", 6)}


def test_possible_types() -> None:
    """A 14-pin chip with ground at 7, supply at 14 and an output against pin 3 cannot have an output there."""
    text = (
        "part u1 unknown 14\npart u2 7404\nplug p1 4 host\npin p1.1 gnd\npin p1.2 vcc\n"
        "net gnd p1.1 u1.7 u2.7\nnet vcc p1.2 u1.14 u2.14\nnet n1 u1.3 u2.2\n"
    )
    found = possible_types(parse_board(text, "a.nets"), "u1")
    names = [one.type.name for one in found]
    assert "7400" not in names  # pin 3 is an output: TI data book pinout, see the catalogue
    assert "7402" in names
    assert sum(one.share for one in found) == pytest.approx(1)

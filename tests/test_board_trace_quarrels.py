"""Which reading is named first where readings contradict each other."""

from __future__ import annotations

import pytest

from latchlore.board import PinAt, parse_board
from latchlore.board._readings import parse_readings
from latchlore.board._trace_quarrels import iter_quarrels, wrongness
from latchlore.board._trace_state import State, pair_of
from latchlore.board.tracefacts import IN_STEP

SMALL = parse_board("part u1 7400\npart u2 7404\nplug p1 4 host\npin p1.1 gnd\npin p1.2 vcc\n", "board/a.nets")


def state_of(text: str) -> State:
    """The small board after these readings."""
    state = State(SMALL)
    for reading in parse_readings(text, "a.readings", SMALL):
        state.take(reading)
    return state


def first_suspect(text: str, rule: str) -> set[PinAt]:
    """The pair named first in the one quarrel of a rule."""
    state = state_of(text)
    (quarrel,) = [one for one in iter_quarrels(state) if one.rule == rule]
    return {state.ground.pins[k] for k in quarrel.suspects[0]}


@pytest.mark.parametrize(("right", "wrong"), [("u2.2", "u2.4"), ("u2.4", "u2.2")])
def test_slipped_joint_first(right: str, wrong: str) -> None:
    """The joint whose reading passed over u1.4, known to be joined, and heard u1.5 beside it is named first."""
    text = f"joined {wrong} u1.4\n" * 2 + f"hold {wrong}\nsweep u1 1-7 5\nhold {right}\nsweep u1 1-7 5\n"
    assert first_suspect(text, "outputs") == {PinAt("u1", 5), PinAt("u2", int(wrong[-1]))}


CHAIN = "hold u1.3\nsweep u2 1-7 1\nhold u2.1\nsweep p1 all 3\nhold p1.3\n"
ACROSS = "press u1 1-7\nsweep p1 all 3\npress p1 all\nsweep u1 1-7 3\n"


@pytest.mark.parametrize(("strips", "first"), [("", {"u2.1", "p1.3"}), (ACROSS, {"u1.3", "p1.3"})])
def test_strips_across(strips: str, first: set[str]) -> None:
    """A joint without a driver is named before a silence; where strips were heard across it, the silence is."""
    assert {str(at) for at in first_suspect(strips + CHAIN + "sweep u1 1-7\n", "apart")} == first


def test_typed_beside() -> None:
    """A silence is likelier wrong where the pin beside beeped in the same sweep."""
    pair = (PinAt("u1", 3), PinAt("p1", 3))

    def rank(heard: str) -> float:
        state = state_of(CHAIN + f"sweep u1 1-7 {heard}\n")
        return wrongness(state, pair_of(state.ground.index[pair[0]], state.ground.index[pair[1]]))

    assert rank("2") > rank("")
    assert rank("6") == rank("")


def test_no_witness_for_itself() -> None:
    """A joint between two ports makes itself likelier, which is left out; a second joint in step is not."""
    board = parse_board("part u1 74273\npart u2 74374\n", "board/a.nets")
    state = State(board)
    # 1Q at pin 2, 2Q at 5, 1D at pin 3, 2D at 4: pinouts of both types, see the catalogue.
    first, second = parse_readings("joined u1.2 u2.3\njoined u1.5 u2.4\n", "a.readings", board)
    pair = pair_of(*(state.ground.index[at] for at in (first.held, *first.joined)))
    state.take(first)
    assert state.step[pair] == IN_STEP
    alone = -wrongness(state, pair) - state.odds(pair, step=1)
    state.take(second)
    assert -wrongness(state, pair) - state.odds(pair, step=IN_STEP) == pytest.approx(alone)


def test_readings_of() -> None:
    """The readings of a pair are those that joined it or put it apart, in order, from either end."""
    text = "hold u1.3\nsweep u2 1-7 1\nhold u2.1\nsweep u1 1-7\nhold u1.3\nsweep p1 all\n"
    readings = parse_readings(text, "a.readings", SMALL)
    state = state_of(text)
    index = state.ground.index
    assert state.readings_of(pair_of(index[PinAt("u1", 3)], index[PinAt("u2", 1)])) == list(readings[:2])
    assert state.readings_of(pair_of(index[PinAt("u1", 3)], index[PinAt("p1", 4)])) == [readings[2]]
    assert state.readings_of(pair_of(index[PinAt("u2", 1)], index[PinAt("p1", 4)])) == []

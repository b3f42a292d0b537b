"""Two connectors put together: layouts, ways, dangers, levels and what cannot be told."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest

from latchlore.base import BadInput, UnknownName
from latchlore.board import (
    Board,
    DriveKind,
    Finding,
    Harm,
    LevelFigures,
    Mating,
    Severity,
    Way,
    WayKind,
    Works,
    describe_way,
    look_at,
    mate,
    mate_all,
    mating_testimonies,
    mating_to_plain,
    ohms_of,
    parse_board,
    pin_maps,
)
from latchlore.study import mate_folder, weigh_study


def board_of(text: str, file: str = "one.nets") -> Board:
    """A board from the lines of a net file."""
    return parse_board(text.replace("; ", "\n"), file)


def mated(one: str, other: str, *, cable: dict[int, tuple[int, ...]] | None = None) -> Mating:
    """Connector j1 of the one board put to j2 of the other."""
    return mate(board_of(one), "j1", board_of(other, "two.nets"), "j2", cable)


def said(way: Way, severity: Severity) -> list[str]:
    """The sentences of a way of one severity."""
    return [one.words for one in way.findings if one.severity is severity]


def at_pin(way: Way, pin: int) -> list[Finding]:
    """What is said of a pin of the one side."""
    return [one for one in way.findings if any(a == pin for a, _ in one.pins)]


def way_named(mating: Mating, name: str) -> Way:
    """The way of that name."""
    return next(way for way in mating.ways if name in way.names)


# --- layouts ---

LAYOUTS = {
    # 25-pin D: 13 above 12 (the printer connector of the PC adapter of 1981 has pins 1..25)
    ("rows", 25): [list(range(1, 14)), list(range(14, 26))],
    # 36-pin ribbon connector: 18 above 18, as in the printer port with 18 and 36 missing on its edge
    ("rows", 36): [list(range(1, 19)), list(range(19, 37))],
    # 26-pin header: odd above even (common practice)
    ("pairs", 26): [list(range(1, 27, 2)), list(range(2, 27, 2))],
    # 16-pin socket, as a chip is counted (any data sheet of the 7400 series)
    ("round", 16): [list(range(1, 9)), list(range(16, 8, -1))],
    ("single", 5): [[1, 2, 3, 4, 5]],
}


@pytest.mark.parametrize(("layout", "size"), LAYOUTS)
def test_face(layout: str, size: int) -> None:
    """The usual layouts lie as the trade counts them."""
    face = board_of(f"plug j1 {size}; face j1 {layout} seen mating").bench.face("j1")
    assert face is not None
    assert [list(row) for row in face.rows] == LAYOUTS[layout, size]
    assert face.is_placed


def test_face_of_an_edge() -> None:
    """A 34-way edge that is numbered as a 36-pin connector, 18 and 36 missing (published printer port, 1984)."""
    face = board_of("plug j1 36; face j1 1-17 19-35 seen printed").bench.face("j1")
    assert face is not None
    assert face.numbers == (*range(1, 18), *range(19, 36))
    assert not face.is_placed


FACES_WRONG = {
    "face j9 rows": "'j9' is no connector; connectors are 'j1'",
    "face j1 zigzag": "a row is single, rows, pairs, round or numbers such as 1-17 or 1-33-2, not 'zigzag'",
    "face j1 1-5": "pins are 1 to 4, which '1-5' does not keep to",
    "face j1 1-2 2-4": "the face of 'j1' holds pin 2 twice",
    "face j1 key": "the face of 'j1' holds no pin",
    "face j1 rows seen back": "seen is followed by printed, mating, rear, unknown, not 'back'",
    "face j1 rows from top": "from is followed by left or right, not 'top'",
    "face j1": "too few words in 'face j1'; the form is: face CONNECTOR single|rows|pairs|round|NUMBERS..."
    " [seen printed|mating|rear|unknown] [from left|right]",
    "volts u1.1 5": "volts are stated for a connector pin or for vcc, not for 'u1.1'",
    "volts j1.1 five": "a voltage is a number of volts such as 5 or -12, not 'five'",
    "volts j1.1 5 gives": "a supply pin feeds or takes, not 'gives'",
    "levels j1.1 xyz": "no levels are known for 'xyz'; state them as in: levels j1.1 vih 2.0 vil 0.8",
    "levels u1.1 ls": "levels are stated for a connector or its pins, not for 'u1.1'",
    "levels j1 vih": "levels come in pairs of key and value; 'vih' stands alone",
    "levels j1 vih high": "vih is a number of volts such as 2.4, or a share of the supply such as 0.7vcc, not 'high'",
    "levels j1 ls iol 8": "iol is a current such as 8ma or 20ua, not '8'",
    "levels j1 vol 0.4": "vol needs iol: the current up to which it holds, such as 4ma",
    "levels j1 ls fan 3": "a level's key is one of vih, vil, voh, vol, iih, iil, ioh, iol, not 'fan'",
    "cable j1 1=1": "a wire of the cable is written as own pin, minus, board's pin such as 1-19, not '1=1'",
    "pins j1 of x": "the form is: pins CONNECTOR from DOCUMENT, not 'j1 of x'",
    "cable j1 straight": "the cable of 'j1' leads nowhere; write: mate j1 CONNECTOR-OF-THE-BOARD",
}


@pytest.mark.parametrize("line", FACES_WRONG)
def test_statements_wrong(line: str) -> None:
    """Each statement about connectors refuses what does not follow its form, with its line."""
    with pytest.raises(BadInput) as caught:
        board_of(f"part u1 74ls00; plug j1 4; {line}")
    assert str(caught.value) == f"one.nets:3: {FACES_WRONG[line]}"


def test_face_holds_pins_wrong() -> None:
    """Pins and wires that the stated layout does not hold are refused with both places."""
    with pytest.raises(BadInput) as caught:
        board_of("plug j1 36; face j1 1-17 19-35; pin j1.18 gnd; mate j1 j2; cable j1 1-1 36-36")
    assert str(caught.value).split("\n") == [
        "one.nets:3: pin j1.18 is described, and the face of 'j1' (one.nets:2) does not hold it",
        "one.nets:5: the cable joins pin 36, which the face of 'j1' (one.nets:2) does not hold",
    ]


def test_statements_twice_wrong() -> None:
    """What is said twice names both places."""
    with pytest.raises(BadInput) as caught:
        board_of(
            "plug j1 4; face j1 rows; face j1 rows; volts vcc 5; volts vcc 5; levels j1 ls; levels j1 hc;"
            " mate j1 j2; mate j1 j3; cable j1 1-1; cable j1 2-2"
        )
    assert str(caught.value).split("\n") == [
        "one.nets:3: the face of 'j1' stands here and at one.nets:2",
        "one.nets:5: the voltage of 'vcc' stands here and at one.nets:4",
        "one.nets:7: the levels of 'j1' stand here and at one.nets:6",
        "one.nets:9: 'j1' is mated here and at one.nets:8",
        "one.nets:11: the cable of 'j1' stands here and at one.nets:10",
    ]


@pytest.mark.parametrize(
    ("text", "ohms"),
    [("4k7", 4700), ("3k3", 3300), ("3.3k", 3300), ("3,3k", 3300), ("470", 470), ("470r", 470), ("1m", 10**6),
     ("2k2 brown", 2200), ("10kohm", 10_000), ("r12", None), ("", None), ("4.7k7", None), ("0", None)],
)  # fmt: skip
def test_ohms(text: str, ohms: int | None) -> None:
    """Resistors as they are marked (IEC 60062 letters and plain numbers); anything else is not guessed at."""
    assert ohms_of(text) == ohms


# --- ways ---

DB25 = "plug j1 25; face j1 rows seen printed"
TURNED = "plug j2 25; face j2 rows seen printed"


def pairs_of(one: str, other: str) -> dict[str, dict[int, int]]:
    """Name of each way → pin of the one → pin of the other."""
    first, second = board_of(one).bench.face("j1"), board_of(other).bench.face("j2")
    assert first is not None
    assert second is not None
    maps, _ = pin_maps(first, second, (len(first.numbers), len(second.numbers)), None)
    return {name: dict(way.pairs) for way in maps for name in way.names}


def test_ways_of_25_pins() -> None:
    """On a 25-pin connector seen from behind, 1 is taken for 13 and 14 for 25; turned over, no pin meets a pin.

    The rows of 13 and 12 lie half a place apart, which anyone can check on a plug.
    """
    ways = pairs_of(DB25, TURNED)
    assert ways["the right way"] == {k: k for k in range(1, 26)}
    mirrored = ways["mirrored left to right"]
    assert (mirrored[1], mirrored[7], mirrored[13], mirrored[14], mirrored[25]) == (13, 7, 1, 25, 14)
    assert ways["upside down"] == {}
    assert ways["shifted one place to the right"] == {
        **{k: k + 1 for k in range(1, 13)},
        **{k: k + 1 for k in range(14, 25)},
    }
    assert ways["numbered in pairs, odd over even"] != ways["the right way"]


def test_ways_of_a_header() -> None:
    """A 26-pin header: turned by half, pin 1 meets 26 (the usual wrong way of a plug without a key)."""
    ways = pairs_of("plug j1 26; face j1 pairs seen printed", "plug j2 26; face j2 pairs seen printed")
    assert ways["upside down"] == {k: 27 - k for k in range(1, 27)}
    assert ways["mirrored top to bottom"] == {k: k + 1 if k % 2 else k - 1 for k in range(1, 27)}
    assert ways["shifted one place to the left"] == {k: k - 2 for k in range(3, 27)}
    assert ways["numbered row by row"] == {
        **{k: (k + 1) // 2 for k in range(1, 27, 2)}, **{k: 13 + k // 2 for k in range(2, 27, 2)}
    }  # fmt: skip


def test_ways_of_an_edge() -> None:
    """An edge of 34 numbered like 36 pins is one of 34 to who counts it through: 19 is then 18."""
    text = "plug {} 36; face {} 1-17 19-35 seen printed"
    ways = pairs_of(text.format("j1", "j1"), text.format("j2", "j2"))
    counted = ways["numbered row by row"]
    assert counted[17] == 17
    assert counted[20] == 19
    assert 19 not in counted  # it would be 18, which this edge does not have


@pytest.mark.parametrize(
    ("one", "other", "first"),
    [
        ("seen mating", "seen mating", 3),  # both counted from the left on their own faces: 1 meets the last
        ("seen mating", "seen rear", 1),  # one from the front, one from behind: 1 meets 1
        ("seen mating", "seen mating from right", 1),
        ("seen rear", "seen rear", 3),
        ("seen printed from left", "seen mating", 3),
    ],
)
def test_seen_from(one: str, other: str, first: int) -> None:
    """From where both sides were counted decides which pins meet."""
    ways = pairs_of(f"plug j1 3; face j1 single {one}", f"plug j2 3; face j2 single {other}")
    assert ways["the right way"][1] == first


def test_seen_from_wrong() -> None:
    """Where one drawing does not say from where it was seen, the right way is not known, and a reading would tell."""
    pins = "pin j{n}.1 gnd; pin j{n}.2 strobe {way}; pin j{n}.3 busy {back}; levels j{n} ls"
    found = mated(
        "plug j1 3; face j1 single seen mating; " + pins.format(n=1, way="out", back="in"),
        "plug j2 3; face j2 single; " + pins.format(n=2, way="in", back="out"),
    )
    assert not found.right_known
    assert found.right.names == ("number on number",)
    assert found.right.harm is Harm.SAFE
    assert way_named(found, "mirrored left to right").harm is Harm.UNSAFE
    assert found.harm is Harm.UNKNOWN
    assert found.missing == (
        "from where the pins of j2 (two.nets) were numbered is not known, so it cannot be told which of these ways is"
        " the right one; look at the mating face of j2, power off: is the 1st place of row 1 joined to ground?  A joint"
        " there means that pin 1 is at the left and the numbers run from the left; none, and one at the other end of"
        " the row, that they run from the right",
    )


def test_no_face() -> None:
    """Without a layout the numbers are put together, and the other ways are named as not computed."""
    found = mated("plug j1 2; pin j1.1 gnd; open j1.2", "plug j2 2; pin j2.1 gnd; open j2.2")
    assert [way.name for way in found.ways] == ["number on number"]
    assert found.missing[0].startswith(
        "the layout of j1 is not stated, so what happens mirrored, upside down or shifted"
    )


def test_cable_ends() -> None:
    """A cable may be put on wrongly at either end."""
    plain = "plug {n} 3; face {n} single seen printed; pin {n}.1 gnd; open {n}.2 {n}.3"
    found = mated(plain.format(n="j1"), plain.format(n="j2"), cable={1: (1,), 2: (3,), 3: (2,)})
    names = [name for way in found.ways for name in way.names]
    assert "mirrored left to right at j1" in names
    assert "mirrored left to right at j2" in names
    assert [(m.one, m.other) for m in found.right.meetings] == [(1, 1), (2, 3), (3, 2)]
    assert [(m.one, m.other) for m in way_named(found, "mirrored left to right at j1").meetings] == [
        (1, 2),
        (2, 3),
        (3, 1),
    ]


# --- dangers, a kind each ---

GND = "pin j1.1 gnd; pin j2.1 gnd"
KINDS = {
    "supply on ground": (
        "pin j1.2 vcc",
        "pin j2.2 gnd",
        "the supply of j1.2 vcc (5.0 V) meets ground at j2.2 gnd: a short",
    ),
    "supply on an output": (
        "pin j1.2 vcc",
        "pin j2.2 busy out; levels j2 ls",
        "the supply of j1.2 vcc (5.0 V) meets the signal j2.2 busy: j2.2",
    ),
    "supply on an input": (
        "pin j1.2 plus12 power; volts j1.2 12",
        "pin j2.2 strobe in; levels j2 ls",
        "the supply of j1.2 plus12 (12.0 V) meets the signal j2.2 strobe: j2.2",
    ),
    "unlike supplies": (
        "pin j1.2 plus12 power; volts j1.2 12 feeds",
        "pin j2.2 vcc",
        "supplies of 12.0 V and 5.0 V meet",
    ),
    "two that feed": (
        "pin j1.2 vcc; volts j1.2 5 feeds",
        "pin j2.2 vcc; volts j2.2 5 feeds",
        "two supplies of 5.0 V feed one another; the one that is off is fed by the other",
    ),
    "output on ground": (
        "pin j1.2 strobe out; levels j1 ls",
        "pin j2.2 gnd",
        "j1.2 is shorted to ground at j2.2 gnd whenever it is high",
    ),
    "three-state on ground": (
        "pin j1.2 d0 out; levels j1 ls three-state",
        "pin j2.2 gnd",
        "j1.2 is shorted to ground at j2.2 gnd whenever it is enabled and high",
    ),
    "outputs fight": (
        "pin j1.2 strobe out; levels j1 ls",
        "pin j2.2 busy out; levels j2 ls",
        "two outputs drive one line: j1.2 and j2.2",
    ),
    "collector against totem pole": (
        "pin j1.2 strobe out; levels j1 7405",
        "pin j2.2 busy out; levels j2 ls",
        "two outputs drive one line: j1.2 and j2.2",
    ),
    "overload": (
        "pin j1.2 strobe out; levels j1 ls",
        "pin j2.2 strobe in; levels j2 ls; pull up j2.2 220",
        # SDLS025B: 8 mA at 0.5 V; (5.0 - 0.5) V / 220 ohm + 0.4 mA
        "j1.2 has to sink 20.85 mA, and 8 mA is what is guaranteed",
    ),
    "twelve volts on a five-volt input": (
        "pin j1.2 strobe out; levels j1 7406; volts vcc 5",
        "pin j2.2 strobe in; levels j2 ls; pull up j2.2 10k; volts vcc 12",
        "j2.2 stands 5.25 V and the line may rise to 12.0 V",
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_dangers(kind: str) -> None:
    """Each kind of danger is found, unsafe, with the pin, and in the same words from the other side."""
    one, other, words = KINDS[kind]
    first, second = GND.split("; ")
    found = mated(f"plug j1 2; {first}; {one}", f"plug j2 2; {second}; {other}")
    assert found.right.harm is Harm.UNSAFE
    assert found.right.works is Works.NO
    dangers = [one for one in found.right.findings if one.severity is Severity.DANGER]
    assert words in [one.words for one in dangers]
    assert all(one.pins == ((2, 2),) for one in dangers)
    swapped = mate(board_of(f"plug j2 2; {second}; {other}"), "j2", board_of(f"plug j1 2; {first}; {one}"), "j1")
    assert swapped.right.harm is Harm.UNSAFE


def test_no_ground() -> None:
    """Without a ground on a ground nothing is safe."""
    found = mated("plug j1 1; pin j1.1 a in; levels j1 ls", "plug j2 1; pin j2.1 a out; levels j2 ls")
    assert said(found.right, Severity.DANGER) == [
        "no ground meets a ground: currents return through signal pins, and no level means anything"
    ]


@pytest.mark.parametrize(
    ("one", "other", "words", "reading"),
    [
        (
            "pin j1.2 vcc", "pin j2.2 vcc",
            "supplies of 5.0 V meet, and it is not stated which side feeds and which takes",
            "apart from each other, one machine on at a time with a current limit: measure which side has 5.0 V at this"
            " pin; then write: volts j1.2 5.0 feeds",
        ),
        (
            "pin j1.2 raw power", "pin j2.2 vcc", "the voltage of j1.2 is not known",
            "apart from the other machine, with a current limit: measure j1.2 against ground; then write:"
            " volts j1.2 VOLTS",
        ),
        (
            "pin j1.2 d0 both; levels j1 ls", "pin j2.2 d0 both; levels j2 ls",
            "j1.2 and j2.2 can both drive the line; nothing stated keeps them from doing so together",
            "find what enables j1.2 and what enables j2.2, and capture both while the two machines talk",
        ),
        (
            "pin j1.2 strobe out; levels j1 ls", "pin j2.2 strobe in",
            "the levels of j2.2 are not known: its family is not",
            "read the marking of the part at j2.2 (power off), and state it: levels j2.2 FAMILY",
        ),
        (
            "pin j1.2 strobe out; levels j1 ls", "", "nothing is known of j2.2",
            "power off, measure from j2.2 to ground, to the supply and to the pins of the chips near the connector;"
            " write down what joins it, or open j2.2",
        ),
    ],
)  # fmt: skip
def test_cannot_be_told(one: str, other: str, words: str, reading: str) -> None:
    """What is not known is neither safe nor unsafe, and a reading that would tell stands beside it."""
    found = mated(f"plug j1 2; pin j1.1 gnd; {one}", f"plug j2 2; pin j2.1 gnd; {other}")
    assert found.right.harm is Harm.UNKNOWN
    unsure = [one for one in found.right.findings if one.severity is Severity.UNSURE]
    assert (unsure[0].words, unsure[0].reading) == (words, reading)


@pytest.mark.parametrize(
    ("one", "other", "severity", "words"),
    [
        (
            "pin j1.2 strobe in; levels j1 ls", "open j2.2", Severity.FAULT,
            "j1.2 left floating: such an input mostly reads high, and picks up noise (common practice)",
        ),
        (
            "pin j1.2 strobe in; levels j1 hc", "pin j2.2 strobe in; levels j2 hct", Severity.FAULT,
            "j1.2 and j2.2 left floating: such an input reads anything and may draw current",
        ),
        (
            "pin j1.2 strobe in; levels j1 ls; pull up j1.2 4k7", "open j2.2", Severity.EFFECT,
            "nobody drives j1.2; a pull holds it high",
        ),
        (
            "pin j1.2 busy out; levels j1 7405", "pin j2.2 busy in; levels j2 ls", Severity.FAULT,
            "j1.2 is an open collector and no pull-up is on the line: it never goes high for sure",
        ),
        (
            "pin j1.2 busy out; levels j1 7405", "pin j2.2 gnd", Severity.EFFECT,
            "j1.2 cannot be seen: the line is held low for good by j2.2 gnd",
        ),
        (
            # (5.0 - 22 k x (0.25 + 0.02) mA) is below ground: the leak is from memory, 20 uA SDLS025B
            "pin j1.2 busy out; levels j1 7405; pull up j1.2 15k", "pin j2.2 busy in; levels j2 ls", Severity.FAULT,
            "the pull-up of 15 kohm brings the line to 0.95 V only, and j2.2 needs 2.0 V",
        ),
        (
            "pin j1.2 d7 in; levels j1 ls", "pin j2.2 d7 out; levels j2 ls three-state", Severity.EFFECT,
            "the line floats while j2.2 is not enabled",
        ),
        (
            "pin j1.2 d7 in; levels j1 ls", "pin j2.2 gnd", Severity.EFFECT,
            "j1.2 d7 is held low for good by j2.2 gnd",
        ),
    ],
)  # fmt: skip
def test_harmless(one: str, other: str, severity: Severity, words: str) -> None:
    """What harms nothing is safe, and what does not work is said all the same."""
    found = mated(f"plug j1 2; pin j1.1 gnd; {one}", f"plug j2 2; pin j2.1 gnd; {other}")
    assert found.right.harm is Harm.SAFE, said(found.right, Severity.UNSURE)
    assert words in said(found.right, severity)


# --- levels (bench case 25) ---

HOST = (
    "plug j1 2; face j1 single seen printed; pin j1.1 gnd; pin j1.2 strobe out;"
    " levels j1 ls voh 2.4 vol 0.4; volts vcc 5"
)
PERIPHERAL = (
    "plug j2 2; face j2 single seen printed; pin j2.1 gnd; pin j2.2 strobe in;"
    " levels j2 vih 0.7vcc vil 0.18vcc; volts vcc 5"
)


def figures(mating: Mating) -> LevelFigures:
    """The figures of the one line."""
    ((pins, found),) = mating.right.figures
    assert pins == ((2, 2),)
    return found


def test_case_25_without_pull_up() -> None:
    """LS totem pole (2.4 V, 0.4 V) into VIH 0.7 Vcc, VIL 0.18 Vcc at 5.0 V: low fits, high fails worst case."""
    found = mated(HOST, PERIPHERAL)
    assert found.right.harm is Harm.SAFE
    assert found.right.works is Works.FAULT
    assert said(found.right, Severity.FAULT) == [
        "high is not sure: j1.2 guarantees 2.4 V or more, j2.2 needs 3.5 V or more"
    ]
    levels = figures(found)
    assert levels.low == 400
    assert levels.low_margin == 500  # 0.4 < 0.9
    assert levels.high == 2400
    assert levels.high_margin == -1100  # 2.4 < 3.5


def test_case_25_with_pull_up() -> None:
    """With 3.3 kohm to 5 V the line is lifted: it is said that it relies on that, and that low takes 1.4 mA more."""
    found = mated(HOST, f"{PERIPHERAL}; pull up j2.2 3k3")
    assert found.right.harm is Harm.SAFE
    assert found.right.works is Works.CONDITION
    assert said(found.right, Severity.CONDITION) == [
        "high relies on the pull-up of 3.3 kohm: j1.2 by itself guarantees 2.4 V only, and j2.2 needs 3.5 V; the"
        " resistor lifts the line to 5.0 V, more slowly than the output would; low, the pull-up adds 1.39 mA to what"
        " the output sinks",
        "the input current of j2.2 is not stated: low it may give up to 6.61 mA, high it may take up to 0.45 mA",
    ]
    levels = figures(found)
    assert levels.high_by_pull
    assert levels.low_current == Fraction(4600 * 1000, 3300)  # (5.0 - 0.4) V / 3.3 kohm = 1.39 mA


@pytest.mark.parametrize(
    ("host", "pull", "peripheral", "works"),
    [
        ("ls", "", "hct", Works.YES),  # SDLS025B 2.7 V against JAJSO80F 2.0 V
        ("ls", "", "hc", Works.FAULT),  # SDLS025B 2.7 V against SCHS202D 3.5 V at 5 V
        ("ls", "4k7", "hc", Works.CONDITION),
        ("hct", "", "hc", Works.YES),  # CD74HCT147 gives 4.4 V at 20 uA
        ("hc", "", "ls", Works.YES),
        ("cmos", "", "ls", Works.NO),  # 0.36 mA sunk against 0.4 mA given (from memory)
        ("cmos", "", "l", Works.YES),  # 0.18 mA (from memory)
        ("ls collector", "4k7", "ls", Works.YES),
        ("ls collector", "", "ls", Works.FAULT),
    ],
)
def test_case_25_kinds(host: str, pull: str, peripheral: str, works: Works) -> None:
    """The same question for other families: only figures decide."""
    one = f"plug j1 2; pin j1.1 gnd; pin j1.2 strobe out; levels j1 {host}; volts vcc 5"
    other = f"plug j2 2; pin j2.1 gnd; pin j2.2 strobe in; levels j2 {peripheral}; volts vcc 5"
    assert mated(one, f"{other}; pull up j2.2 {pull}" if pull else other).right.works is works


def test_series_resistor() -> None:
    """A resistor in series costs its drop: 1 kohm times 0.4 mA is 0.4 V (SDLS025B), which low does not have."""
    one = (
        "part u1 74ls04; part r1 resistor {ohms}; plug j1 2; pin j1.1 gnd; pin j1.2 strobe out;"
        " net a u1.2 r1.1; net b r1.2 j1.2; done all"
    )
    other = "plug j2 2; pin j2.1 gnd; pin j2.2 strobe in; levels j2 ls"
    assert mated(one.format(ohms="100"), other).right.works is Works.YES
    assert said(mated(one.format(ohms="1k1"), other).right, Severity.FAULT) == [
        "low is not sure: u1.2 (74ls04) through r1 guarantees 0.84 V or less, j2.2 needs 0.8 V or less"
    ]


# --- boards, and a published port ---

PORT_1984 = """\
board printer port of a z80 home computer, 1984
plug j1 36
face j1 1-17 19-35 seen printed
pin j1.1 strobe out low
pin j1.2 data0 out
pin j1.3 data1 out
pin j1.4 data2 out
pin j1.5 data3 out
pin j1.6 data4 out
pin j1.7 data5 out
pin j1.8 data6 out
pin j1.9 gnd
pin j1.11 busy in high
pin j1.14 gnd
pin j1.16 gnd
pin j1.19 gnd
pin j1.20 gnd
pin j1.21 gnd
pin j1.22 gnd
pin j1.23 gnd
pin j1.24 gnd
pin j1.25 gnd
pin j1.26 gnd
pin j1.28 gnd
pin j1.33 gnd
open j1.10 j1.12 j1.13 j1.15 j1.17 j1.27 j1.29 j1.30 j1.31 j1.32 j1.34 j1.35
levels j1 74ls273
levels j1.11 8255
"""
# Published: which pins are what, the 74LS273, the 8255.  That pin 1 is driven like the others is taken for the test.
PRINTER_36 = """\
board printer with the 36-pin connector of IEEE 1284 (signals from memory)
plug j2 36
face j2 rows seen printed
pin j2.1 strobe in low
pin j2.2 data1 in
pin j2.3 data2 in
pin j2.4 data3 in
pin j2.5 data4 in
pin j2.6 data5 in
pin j2.7 data6 in
pin j2.8 data7 in
pin j2.9 data8 in
pin j2.10 ack out low
pin j2.11 busy out high
pin j2.12 paper-end out high
pin j2.13 select out high
pin j2.14 auto-feed in low
pin j2.16 gnd
pin j2.19 gnd
pin j2.20 gnd
pin j2.21 gnd
pin j2.22 gnd
pin j2.23 gnd
pin j2.24 gnd
pin j2.25 gnd
pin j2.26 gnd
pin j2.27 gnd
pin j2.28 gnd
pin j2.29 gnd
pin j2.30 gnd
pin j2.31 init in low
pin j2.32 fault out low
pin j2.33 gnd
pin j2.36 select-in in low
open j2.15 j2.17 j2.18 j2.34 j2.35
levels j2 ls
pull up j2.14 3k3
pull up j2.31 3k3
pull up j2.36 3k3
mate j2 j1
cable j2 straight
"""


def port_mating(port: str = PORT_1984) -> Mating:
    """The published port with its cable to a printer."""
    (found,) = mate_all(parse_board(port, "port.nets"), (parse_board(PRINTER_36, "printer.nets"),))
    return found


def test_auto_feed_held() -> None:
    """Pin 14 is ground at this computer: the printer's auto-feed is always true (published: double spacing).

    Pin 9 is ground too, so that only seven bits arrive (published: 8Fh arrives as 0Fh).
    """
    way = port_mating().right
    assert way.harm is Harm.SAFE
    assert [one.words for one in at_pin(way, 14)] == [
        "j2.14 auto-feed is held low for good by j1.14 gnd: it is always true"
    ]
    assert [one.words for one in at_pin(way, 9)] == ["j2.9 data8 is held low for good by j1.9 gnd"]


def test_auto_feed_cut() -> None:
    """The published cure: with the wire of pin 14 cut, the printer's own pull-up decides."""
    way = port_mating(PORT_1984.replace("pin j1.14 gnd\n", "open j1.14\n")).right
    assert [one.words for one in at_pin(way, 14)] == ["nobody drives j2.14; a pull holds it high"]


def test_port_put_wrongly() -> None:
    """The same plug mirrored or upside down shorts outputs to ground, and the pin is named."""
    found = port_mating()
    for name in ("mirrored left to right at j1", "upside down at j1", "mirrored top to bottom at j1"):
        way = way_named(found, name)
        assert way.harm is Harm.UNSAFE, name
        assert way.dangers[0].pins, name


def test_drive_of_the_pc_adapter(pc_adapter: Board) -> None:
    """Published: pins 1, 14, 16, 17 are open collector with 4.7 kohm, 2 to 9 always driven by the 74LS374."""
    side = look_at(pc_adapter, "j1")
    kinds = {n: {driver.kind for driver in contact.line.drivers} for n, contact in side.contacts.items()}
    assert [n for n, found in kinds.items() if found == {DriveKind.COLLECTOR}] == [1, 14, 16, 17]
    assert [n for n, found in kinds.items() if found == {DriveKind.FIRM}] == list(range(2, 10))
    assert all(side.contacts[n].line.pulls[0].ohms == 4700 for n in (1, 14, 16, 17))
    latch = side.contacts[2].line.drivers[0].electrical
    assert latch is not None
    assert (latch.high[-1].microamps, latch.low[-1].microamps) == (2600, 24_000)  # published: 2.6 mA, 24 mA


@pytest.fixture
def pc_adapter() -> Board:
    """The printer half of the PC adapter of 1981, as it is in the exams."""
    folder = Path(__file__).resolve().parent.parent / "exams" / "pc-parallel-1981" / "study" / "board"
    (file,) = folder.glob("*.nets")
    return parse_board(file.read_text("utf-8"), file.name)


def test_pins_of_which_nothing_is_known() -> None:
    """Many such pins are told together, every pair of them named in the data, with one reading."""
    found = mated("plug j1 9; pin j1.1 gnd; done j1", "plug j2 9; pin j2.1 gnd; pin j2.2 a out; levels j2 ls")
    assert found.right.harm is Harm.SAFE  # nothing is known of one side only, and the other is open
    found = mated("plug j1 9; pin j1.1 gnd", "plug j2 9; pin j2.1 gnd; pin j2.2 a out; levels j2 ls")
    (unsure,) = [one for one in found.right.findings if one.severity is Severity.UNSURE]
    assert unsure.words == "nothing is known of j1.2, j1.3, j2.3, j1.4 and 11 more pins"
    assert unsure.pins == tuple((k, k) for k in range(2, 10))
    assert unsure.reading == (
        "power off, measure each of them to ground, to the supply and to the pins of the chips near the connector, and"
        " write down what joins it; 'done j1' or 'done j2' says of a connector whose every joint is traced that its"
        " other pins are open"
    )


def test_bounds() -> None:
    """What "safe" rests on is said: supplies taken, figures from memory, pins not traced, MOS inputs of a side."""
    one = "part u1 74ls04; plug j1 2; pin j1.1 gnd; pin j1.2 strobe out; net a u1.2 j1.2"
    found = mated(one, "plug j2 2; pin j2.1 gnd; pin j2.2 strobe in; levels j2 hct; volts vcc 5")
    text = "\n".join(found.bounds)
    assert found.right.harm is Harm.SAFE
    assert "The supply of one.nets is not stated; 5.0 V was taken (common practice of TTL boards)." in text
    assert "The supply of two.nets" not in text
    assert "one.nets: 11 part pins are not traced; what they would join is not counted." in text
    assert "two.nets has MOS inputs that the other side drives" in text
    assert "one.nets has MOS inputs" not in text
    assert "Figures from memory behind it: 74HCT, 74LS04." in text


def test_letters_are_told() -> None:
    """Pins with letters are called by them."""
    found = mated(
        "plug j1 4; letters j1 3; pin j1.1 gnd; pin j1.a strobe out; levels j1 ls",
        "plug j2 4; pin j2.1 gnd; pin j2.3 gnd",
    )
    assert "j1.A is shorted to ground at j2.3 gnd whenever it is high" in said(found.right, Severity.DANGER)


def test_names_alike() -> None:
    """Where both sides have a u1 or a j1, those of the other side are called far."""
    one = "part u1 74ls04; plug j1 2; pin j1.1 gnd; pin j1.2 a out; net a u1.2 j1.2; net b u1.1 u1.3; done all"
    found = mate(board_of(one), "j1", board_of(one, "two.nets"), "j1")
    assert said(found.right, Severity.DANGER) == ["two outputs drive one line: u1.2 (74ls04) and far u1.2 (74ls04)"]
    assert describe_way(found, found.right).startswith("UNSAFE: j1.2 on far j1.2: two outputs")
    assert mating_to_plain(found)["other"] == {"connector": "j1", "board": "two.nets"}


def test_mate_all_wrong() -> None:
    """Matings that lead nowhere are refused, all at once, with their lines."""
    own = board_of("plug j1 2; mate j1 j9")
    lost = board_of("plug j2 2; mate j2 j7", "lost.nets")
    mute = board_of("plug j2 2", "mute.nets")
    far = board_of("plug j2 2; mate j2 j1; cable j2 1-3", "far.nets")
    with pytest.raises(BadInput) as caught:
        mate_all(own, (lost, mute, far))
    assert str(caught.value).split("\n") == [
        "one.nets:2: a mating is stated in the file of the other side, in mating/, not in the board's own",
        "lost.nets:2: the board has no connector 'j7'; known are 'j1'",
        "mute.nets:1: the file states no mating; write: mate CONNECTOR CONNECTOR-OF-THE-BOARD",
        "far.nets:2: the cable leads to pin 3, and 'j1' of the board has pins 1 to 2",
    ]


def test_mate_wrong() -> None:
    """A connector that the board does not have is refused with those that there are."""
    with pytest.raises(UnknownName, match=r"^the board has no connector 'j3'; known are 'j1'$"):
        mate(board_of("plug j1 2"), "j3", board_of("plug j2 2"), "j2")


def test_safe_only_where_computed() -> None:
    """Of any two tables, each way that is called safe has no pin whose partner is not known."""
    import random

    chance = random.Random(25)
    choices = ("gnd", "vcc", "x in", "x out", "x both", "open", "")
    for _ in range(150):
        texts = []
        for n in (1, 2):
            lines = [f"plug j{n} 6", f"face j{n} {chance.choice(['pairs', 'rows', 'single'])} seen printed"]
            for pin in range(1, 7):
                what = chance.choice(choices)
                if what == "open":
                    lines.append(f"open j{n}.{pin}")
                elif what:
                    lines.append(f"pin j{n}.{pin} {what}")
            lines += [f"levels j{n} {chance.choice(['ls', 'hc', '7405'])}"] if chance.random() < 0.7 else []
            texts.append("\n".join(lines))
        found = mated(texts[0], texts[1])
        swapped = mate(board_of(texts[1]), "j2", board_of(texts[0]), "j1")
        assert (swapped.right.harm, swapped.right.works) == (found.right.harm, found.right.works)
        for way in found.ways:
            if way.harm is not Harm.SAFE:
                continue
            for meeting in way.meetings:
                if meeting.one is None or meeting.other is None:
                    continue
                left, right = found.one.contacts[meeting.one], found.other.contacts[meeting.other]
                bare = left.is_open or right.is_open
                assert bare or not (left.line.unknown or right.line.unknown)
                drives = [side.line.drivers for side in (left, right)]
                assert not (drives[0] and drives[1]) or all(
                    one.kind is DriveKind.COLLECTOR for line in drives for one in line
                )
                assert not (left.line.rail and right.line.rail and left.line.rail is not right.line.rail)


def test_kinds_of_ways() -> None:
    """Right, mirrored, upside down, shifted either way, other numbering: all six of the five kinds are there."""
    found = port_mating()
    assert {way.kind for way in found.ways} == set(WayKind)
    assert sum(way.kind is WayKind.SHIFTED for way in found.ways) >= 2


# --- in words and as data ---


def test_testimonies() -> None:
    """A mating is told as notes: the right way, the wrong ways, then what is found pin by pin, with origins."""
    told = {str(one.subject): one for one in mating_testimonies((port_mating(),))}
    title = "printer with the 36-pin connector of IEEE 1284 (signals from memory)"
    right = told[f"putting together j1 and j2 ({title})"]
    assert str(right.value) == "safe, and every level is guaranteed"
    assert [str(origin) for origin in right.origins] == ["printer.nets:40", "port.nets:2"]
    held = told[f"j1.14 on j2.14 ({title})"]
    assert str(held.value) == "effect: j2.14 auto-feed is held low for good by j1.14 gnd: it is always true"
    assert [str(origin) for origin in held.origins] == ["port.nets:14", "printer.nets:17"]
    wrong = told[f"putting together j1 and j2 ({title}) wrongly"]
    assert str(wrong.value).startswith("UNSAFE mirrored left to right at j1, mirrored top to bottom at j1")


def test_to_plain() -> None:
    """As data: ways in order, danger first, volts and milliamperes as decimal text, the cautions with it."""
    import json

    plain = mating_to_plain(mated(HOST, f"{PERIPHERAL}; pull up j2.2 3k3"))
    assert json.loads(json.dumps(plain)) == plain
    way = plain["ways"][0]
    assert (way["kind"], way["verdict"], way["works"]) == ("right", "safe", "on conditions")
    assert way["levels"][0]["low_volts"] == "0.400"
    assert way["levels"][0]["low_milliamperes"] == "1.394"
    assert way["levels"][0]["high_volts"] == "5.000"
    assert plain["ways"][1]["works"] is None
    assert plain["ways"][1]["findings"][0]["severity"] == "danger"
    assert any("power off" in words.lower() for words in plain["cautions"])
    assert any("licensed practice" in words for words in plain["cautions"])


def test_study(tmp_path: Path) -> None:
    """A study's mating/*.nets are put to the board of board/*.nets."""
    (tmp_path / "board").mkdir()
    (tmp_path / "mating").mkdir()
    (tmp_path / "board" / "port.nets").write_text(PORT_1984, "utf-8")
    (tmp_path / "mating" / "printer.nets").write_text(PRINTER_36, "utf-8")
    (found,) = mate_folder(tmp_path)
    assert found.right.harm is Harm.SAFE
    assert [str(origin) for origin in found.origins] == ["mating/printer.nets:40", "board/port.nets:2"]


def test_study_wrong(tmp_path: Path) -> None:
    """A mating without a board, and a study without a mating, are refused; mistakes of all files come together."""
    (tmp_path / "mating").mkdir()
    (tmp_path / "mating" / "far.nets").write_text("plug j2 2\nmate j2 j1\n", "utf-8")
    with pytest.raises(BadInput, match=r"^board: the study has no net file; write one: board/NAME\.nets "):
        mate_folder(tmp_path)
    with pytest.raises(
        BadInput, match=r"^mating/far\.nets: a mating needs the net file of the study's own board, in board/$"
    ):
        weigh_study(tmp_path)
    (tmp_path / "board").mkdir()
    (tmp_path / "board" / "own.nets").write_text("plug j1 2\n", "utf-8")
    (tmp_path / "mating" / "bad.nets").write_text("plug j2 two\n", "utf-8")
    (tmp_path / "mating" / "far.nets").write_text("plug j2 2\nmate j2 j9\n", "utf-8")
    with pytest.raises(BadInput) as caught:
        weigh_study(tmp_path)
    assert str(caught.value).split("\n") == [
        "mating/bad.nets:1: a number of pins is 1 to 256, not 'two'",
        "mating/far.nets:2: the board has no connector 'j9'; known are 'j1'",
    ]
    (tmp_path / "mating" / "bad.nets").unlink()
    (tmp_path / "mating" / "far.nets").unlink()
    with pytest.raises(BadInput, match=r"^mating: the study states no mating; write one: mating/NAME\.nets "):
        mate_folder(tmp_path)


LEAFLET = """
title = "Strip printer, leaflet (invented)"
device = "strip printer"
kind = "manual"
connector = "J7"
pin = [
    { number = "1", signal = "STROBE", direction = "in", active = "low", page = 3, row = 1 },
    { number = "2", signal = "BUSY", direction = "out", active = "high", page = 3, row = 2 },
    { number = "3", signal = "SIGNAL GROUND", direction = "ground", page = 3, row = 3 },
    { number = "4", signal = "FRAME", direction = "shield", page = 3, row = 4 },
]
"""
OWN = "plug j1 4; pin j1.1 strobe out low; pin j1.2 busy in high; pin j1.3 gnd; open j1.4; levels j1 ls"
FAR = "plug j2 4; pins j2 from leaflet; levels j2 ls; pin j2.2 ready out low; mate j2 j1"


def lay(folder: Path, far: str, leaflet: str = LEAFLET) -> Path:
    """A study of a board, a far side and a leaflet."""
    for name, file, text in (
        ("board", "own.nets", OWN.replace("; ", "\n")),
        ("mating", "far.nets", far.replace("; ", "\n")),
        ("documents", "leaflet.toml", leaflet),
    ):
        (folder / name).mkdir(exist_ok=True)
        (folder / name / file).write_text(text, "utf-8")
    return folder


def test_pins_from_a_document(tmp_path: Path) -> None:
    """A pin table that stands in a document need not be typed again; the mating's own file goes before it."""
    (found,) = mate_folder(lay(tmp_path, FAR))
    contacts = found.other.contacts
    assert (contacts[1].signal, contacts[1].active) == ("strobe", 0)
    assert (contacts[2].signal, contacts[2].active) == ("ready", 0)
    assert contacts[3].line.rail.value == "ground"
    assert str(contacts[1].origin).startswith("documents/leaflet.toml:7")
    assert found.right.harm is Harm.SAFE  # the shield, of which nothing is known, meets an open pin
    assert contacts[4].line.unknown


@pytest.mark.parametrize(
    ("far", "words"),
    [
        (
            "plug j2 4; pins j2 from notes; mate j2 j1",
            "there is no document 'notes' in documents/; there are 'leaflet'",
        ),
        (
            "plug j2 3; pins j2 from leaflet; mate j2 j1",
            "documents/leaflet.toml:10 (page 3, row 4) has pin '4', and 'j2' has pins 1 to 3",
        ),
        ("plug j2 3; pins j2 in leaflet; mate j2 j1", "the form is: pins CONNECTOR from DOCUMENT, not 'j2 in leaflet'"),
    ],
)
def test_pins_from_a_document_wrong(tmp_path: Path, far: str, words: str) -> None:
    """A document that is not there, or numbers other pins, is refused at the line that asks for it."""
    with pytest.raises(BadInput) as caught:
        mate_folder(lay(tmp_path, far))
    assert str(caught.value) == f"mating/far.nets:2: {words}"


def test_pins_from_another_connector_wrong(tmp_path: Path) -> None:
    """A document with several connectors must name the one that is asked for."""
    two = LEAFLET.replace("page = 3, row = 4 },", 'page = 3, row = 4, connector = "J8" },')
    with pytest.raises(BadInput) as caught:
        mate_folder(lay(tmp_path, FAR, two))
    assert str(caught.value) == "mating/far.nets:2: documents/leaflet.toml has pins of J7, J8, none of 'j2'"


def test_broken_document_wrong(tmp_path: Path) -> None:
    """A mistake of a document that a mating asks for is told once."""
    with pytest.raises(BadInput) as caught:
        weigh_study(lay(tmp_path, FAR, LEAFLET.replace('device = "strip printer"', "")))
    assert str(caught.value) == "documents/leaflet.toml:1: key 'device' is missing"


def test_documented_file() -> None:
    """The net file of docs/mating.md is one that mates, and every statement it explains is one that is read."""
    page = (Path(__file__).resolve().parent.parent / "docs" / "mating.md").read_text("utf-8")
    text = page.split("```")[1]
    cut = "\n".join(re.split(r" {4,}", line)[0] for line in text.split("\n"))
    far = parse_board(cut, "far.nets")
    (found,) = mate_all(board_of("plug j2 16; pin j2.16 gnd; face j2 rows seen rear"), (far,))
    assert found.right_known is True
    known = {"face", "levels", "volts", "mate", "cable", "pins"}
    assert known <= set(re.findall(r"^\| `([a-z]+) ", page, flags=re.MULTILINE))


def test_demo() -> None:
    """The demonstration's plug: the figures worked out by hand in docs/demo.md (LS limits of SDLS025B, DM74LS244).

    The leak of a collector, 0.1 mA, is from memory.
    """
    (found,) = mate_folder(Path(__file__).resolve().parent.parent / "src" / "latchlore" / "demo")
    assert (found.right.harm, found.right.works, found.right_known) == (Harm.SAFE, Works.YES, True)
    levels = {pins[0]: one for pins, one in found.right.figures}
    data, busy = levels[2, 2], levels[10, 10]
    assert (data.low_margin, data.high_margin) == (Fraction(400), Fraction(700))
    assert busy.low_current is not None
    assert round(busy.low_current) == 1379  # 4.6 V / 4.7 kohm + 0.4 mA
    assert busy.high == 5000 - Fraction(4700 * 120, 1000)
    mirrored = way_named(found, "mirrored left to right")
    assert mirrored.harm is Harm.UNSAFE
    assert [one.words for one in at_pin(mirrored, 9)] == [
        "u12.3 (74ls244) is shorted to ground at quill.16 gnd whenever it is high"
    ]


# --- levels against other reckonings ---


@pytest.mark.parametrize(
    ("driver", "load", "most"),
    [
        ("7404", "7404", 10),  # DS006613: 16 / 1.6 low, 0.4 / 0.040 high
        ("74ls04", "74ls04", 20),  # SDLS025B: 8 / 0.4 low, 0.4 / 0.020 high
        ("74ls04", "7404", 5),  # 8 / 1.6
        ("7404", "74ls04", 20),  # 40 low, 20 high
    ],
)
def test_fan_out_across_a_joint(driver: str, load: str, most: int) -> None:
    """So many inputs as the sheets' fan-out allows are served; one more is not."""
    one = f"part u1 {driver}; plug j1 2; pin j1.1 gnd; pin j1.2 a out; net a u1.2 j1.2; net b u1.1 u1.3; done all"
    for count in (most, most + 1):
        parts = [f"part u{k} {load}" for k in range(1, count // 6 + 2)]
        pins = [f"u{k // 6 + 1}.{(1, 3, 5, 9, 11, 13)[k % 6]}" for k in range(count)]
        other = "; ".join(
            [*parts, "plug j2 2", "pin j2.1 gnd", "pin j2.2 a in", f"net a j2.2 {' '.join(pins)}", "done all"]
        )
        way = mated(one, other).right
        served = not (said(way, Severity.DANGER) + said(way, Severity.FAULT))
        assert served == (count == most), (count, way.findings)


def test_released_lines_by_bisection() -> None:
    """The level of a line that open collectors let go of, found by halving until the currents balance.

    Random pull-ups and pull-downs on both sides; currents of LS inputs (20 uA, SDLS025B) and collectors (0.1 mA, from
    memory).
    """
    import random

    chance = random.Random(4)
    checked = 0
    for _ in range(60):
        pulls = [(chance.choice("ud"), chance.choice((1000, 2200, 3300, 4700, 10_000, 47_000))) for _ in range(3)]
        lines = [
            "plug j1 2; pin j1.1 gnd; pin j1.2 a out; levels j1 ls collector",
            "plug j2 2; pin j2.1 gnd; pin j2.2 a in; levels j2 ls",
        ]
        for k, (way, ohms) in enumerate(pulls):
            lines[k % 2] += f"; pull {'up' if way == 'u' else 'down'} j{k % 2 + 1}.2 {ohms}"
        found = mated(*lines)
        if not found.right.figures:
            continue
        low, high = -50.0, 50.0
        for _ in range(80):
            middle = (low + high) / 2
            flows_in = sum(((5.0 if way == "u" else 0.0) - middle) / ohms for way, ohms in pulls)
            low, high = (middle, high) if flows_in > 0.000_120 else (low, middle)
        level = found.right.figures[0][1].high
        assert level is not None
        assert abs(float(level) / 1000 - low) < 1e-6
        checked += 1
    assert checked > 40

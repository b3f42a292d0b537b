"""Faults of data lines: bench cases "bridged data lines" and "stuck bit from prose", and their kinds."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.wire import Rule, compare_lines, find_hints, find_text_convention

LIST = b"LIST 100-250"


def test_compare_lines_bridged() -> None:
    """Bench case "bridged data lines": D2 and D3 bridged, high wins; three preimages where both bits are set."""
    logged = bytes.fromhex("4C 4D 53 5C 20 31 30 30 2D 32 3D 30")
    faults = compare_lines(LIST, logged)
    assert [(rule.line, rule.rule, rule.sources) for rule in faults.faults] == [
        (2, Rule.WIRED_OR, (2, 3)),
        (3, Rule.WIRED_OR, (2, 3)),
    ]
    assert faults.describe()[0] == (
        "D2 and D3 are bridged and high wins (wired OR), seen on D2: "
        "1 of 12 bytes put it to the test, the others look the same either way"
    )
    assert [len(faults.preimages(byte)) for byte in (0x4C, 0x31)] == [3, 1]
    assert all(len(faults.preimages(byte)) == (3 if byte & 0x0C else 1) for byte in logged)


def test_compare_lines_bridged_low() -> None:
    """The same text through a wired AND, as the case states it."""
    logged = bytes.fromhex("4C 41 53 50 20 31 30 30 2D 32 31 30")
    faults = compare_lines(LIST, logged)
    assert {rule.rule for rule in faults.faults} == {Rule.WIRED_AND}
    assert [rule.line for rule in faults.faults] == [2, 3]


def test_compare_lines_stuck() -> None:
    """Bench case "stuck bit from prose": bit 4 stuck at 0; a further byte with bit 4 at 0 proves nothing."""
    faults = compare_lines(bytes.fromhex("72 31 53"), bytes.fromhex("62 21 43"))
    (stuck,) = faults.faults
    assert (stuck.line, stuck.rule, stuck.tested) == (4, Rule.STUCK_LOW, 3)
    more = compare_lines(bytes.fromhex("72 31 53 61"), bytes.fromhex("62 21 43 61"))
    assert [rule.tested for rule in more.faults if rule.line == 4] == [3]


@given(st.integers(0, 7), st.integers(0, 7), st.sampled_from(list(Rule)), st.integers(0, 10**6))
def test_compare_lines(line: int, other: int, rule: Rule, seed: int) -> None:
    """Any single fault of any line on 200 random bytes is named, and no other line is blamed."""
    if other == line:
        other = (line + 1) % 8
    rng = random.Random(seed)
    sent = bytes(rng.randrange(256) for _ in range(200))

    def bend(byte: int) -> int:
        mine, theirs = byte >> line & 1, byte >> other & 1
        level = {
            Rule.TRUE: mine,
            Rule.STUCK_LOW: 0,
            Rule.STUCK_HIGH: 1,
            Rule.SWAPPED: theirs,
            Rule.INVERTED: 1 - mine,
            Rule.SWAPPED_INVERTED: 1 - theirs,
            Rule.WIRED_AND: mine & theirs,
            Rule.WIRED_OR: mine | theirs,
        }[rule]
        return byte & ~(1 << line) | level << line

    faults = compare_lines(sent, bytes(map(bend, sent)))
    assert [(f.line, f.rule) for f in faults.faults] == ([] if rule is Rule.TRUE else [(line, rule)])
    assert not faults.unexplained


def test_compare_lines_floating() -> None:
    """A line that follows nothing is said to float; one that no byte tests is unsure."""
    rng = random.Random(1)
    sent = bytes(rng.randrange(128) for _ in range(60))
    faults = compare_lines(sent, bytes(byte & ~8 | rng.randrange(2) << 3 for byte in sent))
    assert faults.unexplained == (3,)
    assert faults.describe()[0] == (
        "D3 follows no single line and no bridge of two: it floats, or this is not what was sent"
    )


def test_compare_lines_wrong() -> None:
    """Unequal lengths and nothing at all are refused."""
    with pytest.raises(
        ValueError, match=r"^a known text and its log are compared byte by byte: 2 bytes sent, 1 logged$"
    ):
        compare_lines(b"AB", b"A")
    with pytest.raises(ValueError, match=r"^an empty log shows nothing$"):
        compare_lines(b"", b"")


def test_find_hints() -> None:
    """From bytes alone: lines that never move, lines that always agree; which level wins cannot be told."""
    logged = bytes.fromhex("4C 4D 53 5C 20 31 30 30 2D 32 3D 30")
    assert find_hints(logged).describe() == (
        "D2 and D3 are equal in all 12 bytes: bridged (a known text tells which level wins)",
        "D5 and D6 are unlike in all 12 bytes, as they are in capitals, digits and signs of ISO 646 (columns 2 to 5)",
        "bit 7 is always 0: seven data bits, space parity, or a line that is not there",
    )
    assert find_hints(bytes.fromhex("62 21 43")).low == (2, 3, 4, 7)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"TIDE 3.41", "bit 7 is always 0: seven data bits, space parity, or a line that is not there"),
        (bytes(b | 0x80 for b in b"TIDE"), "bit 7 is always 1: mark parity, an inverted or floating line"),
        (
            bytes(b | (b.bit_count() & 1) << 7 for b in b"THE QUICK BROWN"),
            "bit 7 is even parity of the seven others in all bytes (14 unlike codes)",
        ),
        (
            bytes(b | (1 - (b.bit_count() & 1)) << 7 for b in b"ABC"),
            "bit 7 is odd parity of the seven others so far, but 3 unlike codes prove little",
        ),
        (bytes([0x41, 0xC1] * 8 + [0x42, 0xC2]), "bit 7 changes with every byte: it may be a strobe"),
        (bytes([0x41, 0xC1, 0xC2, 0x42, 0x42]), "bit 7 is data: it is neither constant nor a parity of the others"),
    ],
)
def test_find_hints_bit_7(data: bytes, said: str) -> None:
    """What bit 7 is."""
    assert find_hints(data).bit_7 == said


def test_find_hints_wrong() -> None:
    """An empty log is refused."""
    with pytest.raises(ValueError, match=r"^an empty log shows nothing$"):
        find_hints(b"")


def test_find_text_convention() -> None:
    """Line ends, capitals, codes outside text."""
    assert find_text_convention(b"TIDE\r\nLOW\r\nX\r\x1b@\x9b") == (
        "lines end: 2 with CR LF, 1 with CR alone",
        "no small letter among 8: capitals only",
        "1 codes above 7F: 9B",
        "control codes beside line ends: 1B",
    )
    assert find_text_convention(b"abc") == ("no line end",)
    assert find_text_convention(b"") == ()

"""Runs with losses and doubles beside a known text: what the lines did is found all the same, or said to be open."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import pytest

from latchlore.wire import Rule, compare_lines, describe_pairing, judge_lines
from latchlore.wire._simulate import KINDS, heard, transmission

if TYPE_CHECKING:
    from collections.abc import Callable


def low(byte: int) -> int:
    """Line 4 stuck low."""
    return byte & ~0x10


def wired_or(byte: int) -> int:
    """Lines 2 and 3 bridged, high wins."""
    return byte | 0x0C if byte & 0x0C else byte


def wired_and(byte: int) -> int:
    """Lines 0 and 5 bridged, low wins."""
    return byte if byte & 0x21 == 0x21 else byte & ~0x21


def swapped(byte: int) -> int:
    """Lines 1 and 6 exchanged."""
    return byte & ~0x42 | (byte >> 1 & 1) << 6 | (byte >> 6 & 1) << 1


def inverted(byte: int) -> int:
    """All lines inverted."""
    return byte ^ 0xFF


@pytest.mark.parametrize("fault", [low, wired_or, wired_and, swapped, inverted])
@pytest.mark.parametrize("kind", KINDS)
def test_judge_lines(kind: str, fault: Callable[[int], int]) -> None:
    """Ground truth: where a rule is decided, it gives what the fault gives for every byte sent."""
    rng = random.Random(f"{kind} {fault.__name__}")
    sent = transmission(kind, 120, rng)
    bent = bytes(fault(byte) for byte in sent)
    runs = [heard(bent, rng, loss=0.05, double=0.03) for _ in range(3)]
    found, paired = judge_lines(sent, runs)
    assert paired.lost > 0
    assert paired.extra > 0
    assert paired.pairs + paired.lost == len(sent) * 3
    decided = [rules[0] for rules in found.rules if len(rules) == 1]
    assert len(decided) + sum(map(bool, found.nearly)) + len(found.unsure) >= 8
    assert len(decided) >= 6
    for rule in decided:
        assert all(rule.apply(byte) == fault(byte) >> rule.line & 1 for byte in set(sent))


def test_judge_lines_floating() -> None:
    """A line that floats follows nothing, losses or not, and the others are not blamed."""
    rng = random.Random("floating")
    sent = transmission("text", 200, rng)
    runs = [heard(bytes(byte ^ rng.getrandbits(1) << 3 for byte in sent), rng, loss=0.05) for _ in range(2)]
    found, paired = judge_lines(sent, runs)
    assert 3 in found.unexplained
    assert not found.nearly[3]
    assert not found.faults
    words = describe_pairing(paired, len(sent), 2)
    assert words[0].startswith(f"{paired.pairs} bytes logged were put beside the bytes sent; {paired.lost} sent")


def test_judge_lines_whole() -> None:
    """Runs as long as the text go byte for byte."""
    found, paired = judge_lines(b"MARRAM", [b"MARRAM", b"MARRAM"])
    assert (paired.pairs, paired.lost, paired.extra) == (12, 0, 0)
    assert not found.faults
    assert describe_pairing(paired, 6, 2) == ()


def test_judge_lines_something_else() -> None:
    """A log of something else is not explained away."""
    rng = random.Random("else")
    found, paired = judge_lines(rng.randbytes(100), [rng.randbytes(70)])
    assert not found.faults or "it may be of something else" in " ".join(describe_pairing(paired, 100, 1))


def test_judge_lines_wrong() -> None:
    """Nothing logged, and more than can be put side by side."""
    with pytest.raises(ValueError, match=r"^an empty log shows nothing$"):
        judge_lines(b"A", [b""])
    with pytest.raises(
        ValueError,
        match=r"^20000 bytes sent and 19999 logged are too many to be put side by side; split both at a byte they "
        r"share$",
    ):
        judge_lines(bytes(20000), [bytes(range(255)) * 78 + bytes(109)])


def test_compare_lines_nearly() -> None:
    """A line that is late now and then, and one stuck but for a slip: named with what does not fit, and not decided."""
    rng = random.Random("nearly")
    sent = rng.randbytes(200)
    logged = bytearray(byte | 0x40 for byte in sent)
    late = [k for k in range(200) if sent[k] & 2][5:60:20]
    for k in late:
        logged[k] &= ~2
    logged[100] &= ~0x40
    found = compare_lines(sent, bytes(logged))
    assert found.unexplained == (1, 6)
    assert [near.rule.rule for line in (1, 6) for near in found.nearly[line]] == [Rule.TRUE, Rule.STUCK_HIGH]
    assert found.describe() == (
        f"D1 is true but for 3 of 200 bytes (3 read 0 for 1, the first at byte {late[0]}): late, noisy or loose, or a"
        " byte stands beside the wrong one",
        "D6 is stuck high but for 1 of 200 bytes (1 read 0 for 1, the first at byte 100): late, noisy or loose, or a"
        " byte stands beside the wrong one",
    )

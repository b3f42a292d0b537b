"""Weights of rivals: worked examples of textbooks, and a library's entropy.

MacKay, *Information Theory, Inference, and Learning Algorithms*, Cambridge University Press 2003; Pearl,
*Probabilistic Reasoning in Intelligent Systems*, Morgan Kaufmann 1988.  The books' figures are quoted from memory, to
the digits given; no copy was at hand.  Each is also what the stated numbers give by hand, and the entropies are
compared with SciPy's.
"""

from __future__ import annotations

import math
import random
import re

import pytest
from scipy.stats import entropy as reference_entropy

from latchlore.evidence import entropy, information, predict, seen_surely, share_out, update


def test_diagnostic_test() -> None:
    """MacKay (2003), example 2.3: a disease of 1 %, a test that is 95 % reliable, and it is positive: 16 %."""
    table = ((0.95, 0.05), (0.05, 0.95))
    after = update((0.01, 0.99), [(table, seen_surely(0, 2))])
    assert after[0] == pytest.approx(0.16, abs=0.005)
    assert after[0] == pytest.approx(0.0095 / 0.059, rel=1e-14)


def test_three_doors() -> None:
    """MacKay (2003), exercise 3.8: the host opens door 3 of three, the first was chosen: 1/3, 2/3, 0."""
    table = ((0.0, 0.5, 0.5), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
    assert update((1 / 3, 1 / 3, 1 / 3), [(table, seen_surely(2, 3))]) == pytest.approx((1 / 3, 2 / 3, 0))


def test_urns() -> None:
    """MacKay (2003), example 2.6: eleven urns, u of ten balls black; three of ten draws were black.

    The book's figure 2.6 gives the weights of u = 0 to 10 as 0, 0.063, 0.22, 0.29, 0.24, 0.13, 0.047, 0.0099,
    0.00086, 0.0000096, 0.
    """
    table = tuple((u / 10, 1 - u / 10) for u in range(11))
    draws = [(table, seen_surely(k, 2)) for k in (0, 0, 0, 1, 1, 1, 1, 1, 1, 1)]
    after = update((1 / 11,) * 11, draws)
    assert after[0] == after[10] == 0
    assert after == pytest.approx((0, 0.063, 0.22, 0.29, 0.24, 0.13, 0.047, 0.0099, 0.00086, 0.0000096, 0), rel=0.03)


def test_outcome_in_doubt() -> None:
    """Evidence that is itself in doubt, as Pearl (1988), section 2.2.2, has it (from memory).

    An alarm goes off at 95 % of burglaries and on 1 % of other nights; burglaries are 1 in 10,000 nights.  A witness
    who is four times as likely to say so where it did go off raises 0.0001 to 0.000374.
    """
    table = ((0.95, 0.05), (0.01, 0.99))
    heard = update((0.0001, 0.9999), [(table, seen_surely(0, 2))])
    assert heard[0] == pytest.approx(0.00941, abs=0.00001)
    said = update((0.0001, 0.9999), [(table, seen_surely(0, 2, 0.8))])
    assert said[0] == pytest.approx(0.00037, abs=0.000005)
    assert update((0.3, 0.7), [(table, seen_surely(1, 2, 0.5))]) == pytest.approx((0.3, 0.7))


def test_mutual_information() -> None:
    """MacKay (2003), exercise 8.6: two variables of four values; 7/4 and 2 bits, together 27/8, in common 3/8."""
    joint = [[1 / 8, 1 / 16, 1 / 32, 1 / 32], [1 / 16, 1 / 8, 1 / 32, 1 / 32], [1 / 16] * 4, [1 / 4, 0, 0, 0]]
    rows = tuple(sum(row) for row in joint)
    table = tuple(tuple(one / total for one in row) for row, total in zip(joint, rows, strict=True))
    assert entropy([one for row in joint for one in row]) == pytest.approx(27 / 8)
    assert entropy(rows) == pytest.approx(2)
    assert entropy(predict(rows, table)) == pytest.approx(7 / 4)
    assert information(rows, table) == pytest.approx(3 / 8)


def test_channels() -> None:
    """MacKay (2003), section 9.3: with f = 0.15 and p1 = 0.1 the binary symmetric channel carries 0.15 bits, the Z
    channel 0.36 bits.
    """
    symmetric = ((0.85, 0.15), (0.15, 0.85))
    z = ((1.0, 0.0), (0.15, 0.85))
    assert information((0.9, 0.1), symmetric) == pytest.approx(0.15, abs=0.005)
    assert information((0.9, 0.1), z) == pytest.approx(0.36, abs=0.005)


def test_hiding_place() -> None:
    """MacKay (2003), section 4.1: one of 64 squares; a first miss tells 0.0227 bits, a hit 6, 32 misses 1 bit."""
    weights = (1 / 64,) * 64
    first = tuple((float(k == 0), float(k != 0)) for k in range(64))
    missed = update(weights, [(first, seen_surely(1, 2))])
    assert entropy(weights) - entropy(missed) == pytest.approx(0.0227, abs=0.00005)
    assert entropy(weights) - entropy(update(weights, [(first, seen_surely(0, 2))])) == pytest.approx(6)
    looks = [tuple((float(k == square), float(k != square)) for k in range(64)) for square in range(32)]
    assert entropy(update(weights, [(look, seen_surely(1, 2)) for look in looks])) == pytest.approx(5)


def test_against_a_library() -> None:
    """Entropies and informations of 500 random tables equal those made of SciPy's `entropy` (scipy.stats)."""
    rng = random.Random(1)
    for _ in range(500):
        rivals, outcomes = rng.randint(2, 6), rng.randint(2, 5)
        weights = share_out([rng.random() ** 4 for _ in range(rivals)])
        table = tuple(
            share_out([rng.choice((0.0, rng.random() ** 3, 1.0)) + 1e-9 for _ in range(outcomes)])
            for _ in range(rivals)
        )
        assert entropy(weights) == pytest.approx(float(reference_entropy(weights, base=2)), abs=1e-12)
        among = [sum(w * row[k] for w, row in zip(weights, table, strict=True)) for k in range(outcomes)]
        rest = sum(w * float(reference_entropy(row, base=2)) for w, row in zip(weights, table, strict=True))
        expected = float(reference_entropy(among, base=2)) - rest
        assert information(weights, table) == pytest.approx(expected, abs=1e-12)


def test_update_order() -> None:
    """The order of outcomes does not matter to the last digit, and 3,000 of them neither overflow nor vanish."""
    table = ((0.6, 0.4), (0.4, 0.6), (0.5, 0.5))
    seen = [(table, seen_surely(k % 2, 2, 0.9)) for k in range(3000)]
    shuffled = random.Random(2).sample(seen, len(seen))
    after = update((0.2, 0.3, 0.5), seen)
    assert after == update((0.2, 0.3, 0.5), shuffled)
    assert math.fsum(after) == pytest.approx(1)
    strong = update((0.2, 0.3, 0.5), [(table, seen_surely(0, 2))] * 3000)
    assert strong[0] == 1


def test_update_wrong() -> None:
    """What no rival allows is refused."""
    table = ((1.0, 0.0), (1.0, 0.0))
    with pytest.raises(ValueError, match=r"^no rival allows what was seen$"):
        update((0.5, 0.5), [(table, seen_surely(1, 2))])


def test_share_out() -> None:
    """Whole numbers become weights in proportion, also huge and tiny ones."""
    assert share_out([2, 1, 1]) == (0.5, 0.25, 0.25)
    assert share_out([1e308, 1e308]) == (0.5, 0.5)
    assert share_out([5e-324, 5e-324]) == (0.5, 0.5)


@pytest.mark.parametrize("numbers", [[], [0, 0], [1, -1], [math.inf, 1], [math.nan, 1]])
def test_share_out_wrong(numbers: list[float]) -> None:
    """No weights, all 0, a negative one, an endless one, none."""
    words = re.escape(f"weights are numbers from 0 up, not all of them 0: {numbers}")
    with pytest.raises(ValueError, match=f"^{words}$"):
        share_out(numbers)


@pytest.mark.parametrize(
    ("outcome", "sure", "words"),
    [
        (2, 1.0, "there is no outcome 2 among 2"),
        (0, 1.5, "how sure one is of an outcome is a number from 0 to 1, not 1.5"),
    ],
)
def test_seen_surely_wrong(outcome: int, sure: float, words: str) -> None:
    """An outcome that is not there, and a doubt that is none."""
    with pytest.raises(ValueError, match=f"^{re.escape(words)}$"):
        seen_surely(outcome, 2, sure)


def test_information_bounds() -> None:
    """A trial that all rivals foresee alike tells nothing, one that each foresees otherwise everything."""
    assert information((0.2, 0.8), ((0.3, 0.7), (0.3, 0.7))) == 0
    assert information((0.2, 0.8), ((1.0, 0.0), (0.0, 1.0))) == pytest.approx(entropy((0.2, 0.8)))
    assert information((0.5, 0.5), ((0.5, 0.5), (0.5 + 1e-9, 0.5 - 1e-9))) >= 0

"""The merge of lossy runs: what was sent is found again, doubts are honest, and what cannot be told is said."""

from __future__ import annotations

import itertools
import random

import edlib
import numpy as np
import pytest
from Bio.Align import PairwiseAligner
from hypothesis import given, settings
from hypothesis import strategies as st
from rapidfuzz.distance import Levenshtein

from latchlore.base import Unsupported
from latchlore.wire import ExtraKind, Merge, Run, _climbs, merge
from latchlore.wire._calibration import calibrated
from latchlore.wire._simulate import KINDS, heard, heard_in_bursts, transmission


def merge_bytes(*runs: bytes) -> Merge:
    """Merge plain runs."""
    return merge([Run.of(run) for run in runs])


def trial(kind: str, length: int, loss: float, num_runs: int, seed: int) -> tuple[bytes, list[bytes]]:
    """A transmission and its runs."""
    rng = random.Random(f"{kind} {length} {loss} {num_runs} {seed}")
    sent = transmission(kind, length, rng)
    return sent, [heard(sent, rng, loss=loss) for _ in range(num_runs)]


# (length, loss, runs): rates of exact recovery for random, text, command-like bytes that a merge must reach; measured
# once by an independent study of the same model, its sampling error of 20 trials (two standard deviations) taken off.
RECOVERY = {
    (8, 0.2, 5): (0.97, 0.89, 0.78),
    (8, 0.2, 12): (1.0, 1.0, 0.93),
    (8, 0.4, 12): (0.98, 0.96, 0.73),
    (100, 0.05, 8): (1.0, 0.98, 0.93),
    (100, 0.2, 12): (1.0, 1.0, 0.70),
}


@pytest.mark.parametrize("case", RECOVERY)
@pytest.mark.parametrize("kind", KINDS)
def test_merge_recovers(kind: str, case: tuple[int, float, int]) -> None:
    """Exact recovery on generated transmissions, against the generator's truth."""
    length, loss, num_runs = case
    num = 10
    right = 0
    for seed in range(num):
        sent, runs = trial(kind, length, loss, num_runs, seed)
        right += merge_bytes(*runs).sequence.data == sent
    rate = RECOVERY[case][KINDS.index(kind)]
    assert right >= num * (rate - 2 * (rate * (1 - rate) / num) ** 0.5) - 1


TWICE_CHANGED = {
    b"THE ON L": (b"HE N", b"THE L", b"TEON L"),
    b"NINE\r\nPIER A": (b"NE\r\nPIERA", b"IN\r\nERA", b"NIE\rPE A", b"N\nPEA", b"IN\rE "),
    b"\x1bA\x07\x1bA\x02\x81\x81": (
        *(b"\x1bA\x07A\x02\x81\x81", b"\x1b\x02", b"\x1bAA\x02\x81", b"\x1bA\x81"),
        *(b"\x1b\x07A\x81\x81", b"\x1b\x1bA\x81\x81", b"\x07\x1bA\x81", b"\x07\x02"),
    ),
}
"""Simulated transmissions and their runs, 40 % lost, where the climb ends at a sequence that no single change betters:
what was sent is two changes away (a byte taken out here and put in there, or two bytes moved).
"""


@pytest.mark.parametrize("sent", TWICE_CHANGED)
def test_merge_two_changes(sent: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was sent is found where only two changes together lead to it, and is not without looking for them."""
    assert merge_bytes(*TWICE_CHANGED[sent]).sequence.data == sent
    monkeypatch.setattr(_climbs, "LOOKED_AHEAD", 0)
    assert merge_bytes(*TWICE_CHANGED[sent]).sequence.data != sent


def test_merge_without_doubt() -> None:
    """Equal runs give their bytes with hardly a doubt."""
    found = merge_bytes(b"\x1b@HELLO\r\n", b"\x1b@HELLO\r\n", b"\x1b@HELLO\r\n", b"\x1b@HELLO\r\n")
    assert found.sequence.data == b"\x1b@HELLO\r\n"
    assert found.sequence.confidence > 0.95
    assert all(item.confidence > 0.99 for item in found.sequence.items)
    assert found.outliers == ()
    assert found.truncated == ""


def test_merge_single() -> None:
    """One run is returned as it is; its doubts are those of a listener nobody has compared yet."""
    found = merge_bytes(b"HELLO")
    assert found.sequence.data == b"HELLO"
    assert found.sequence.num_runs == 1
    assert found.sequence.confidence < 0.7
    assert found.further_runs is None
    assert found.notes == (
        "one run only: there is nothing to compare it with, so losses and doubles in it cannot be seen",
    )


def test_merge_alternatives_in_step() -> None:
    """The other sequences and the result share out all of the probability: what recalibration took is theirs."""
    rng = random.Random("in step")
    for _ in range(10):
        sent = bytes(rng.choice(b"ABC") for _ in range(10))
        found = merge([Run.of(bytes(v for v in sent if rng.random() > 0.3)) for _ in range(4)])
        others = [one.probability for one in found.alternatives]
        assert all(0 < p <= found.sequence.confidence + 1e-9 for p in others)
        assert sum(others) <= 1 - found.sequence.confidence + 1e-9
        if found.sequence.confidence < 0.5:  # a dozen of them are told, and hold much of what is left
            assert sum(others) > (1 - found.sequence.confidence) / 4


def test_merge_empty_runs() -> None:
    """Runs in which nothing was heard are named."""
    found = merge_bytes(b"", b"HELLO", b"HELLO", b"HELO")
    assert found.sequence.data == b"HELLO"
    assert "run 1 heard nothing at all and took no part" in found.notes
    assert merge_bytes(b"", b"").sequence.data == b""


def test_merge_wrong() -> None:
    """No run at all is refused."""
    with pytest.raises(ValueError, match=r"^a merge needs at least one run$"):
        merge([])


def test_merge_too_long_wrong() -> None:
    """Runs too long for a merge are refused at once, with what to do."""
    long = Run.of(bytes(30_000), "long.log")
    with pytest.raises(Unsupported, match=r"^long\.log:1: 2 runs of up to 30000 bytes are too many to merge at once; "):
        merge([long, long])


@given(st.lists(st.binary(max_size=12), min_size=1, max_size=5))
@settings(max_examples=40, deadline=None)
def test_merge_total(runs: list[bytes]) -> None:
    """Any runs can be merged; numbers are probabilities; every byte of every run is accounted for once."""
    found = merge_bytes(*runs)
    items = found.sequence.items
    numbers = [x for item in items for x in (item.confidence, item.missing_before, *(p for _, p in item.alternatives))]
    assert all(0 <= x <= 1 for x in (*numbers, found.sequence.confidence, found.sequence.missing_after))
    for aligned in found.aligned:
        placed = [c for c in aligned.columns if c is not None]
        assert placed == sorted(placed)
        assert sorted([*placed, *(extra.index for extra in aligned.extras)]) == list(range(len(runs[aligned.run])))


def test_merge_order_of_runs() -> None:
    """The result does not depend on the order in which the runs are given, and is the same every time."""
    sent, runs = trial("text", 30, 0.3, 4, 1)
    first = merge_bytes(*runs)
    for order in itertools.islice(itertools.permutations(runs), 0, 24, 5):
        assert merge_bytes(*order).sequence == first.sequence
    assert merge_bytes(*runs) == first
    assert len(sent) == 30


@pytest.mark.parametrize("seed", range(4))
def test_merge_distances(seed: int) -> None:
    """The edits that explain a run are at least edlib's and rapidfuzz's distance, and equal to it over all runs within
    four in a hundred (the likeliest explanation need not be the shortest).
    """
    rng = random.Random(seed)
    sent = transmission("text", 120, rng)
    runs = [heard(sent, rng, loss=0.1, double=0.02, flip=0.02) for _ in range(8)]
    found = merge_bytes(*runs)
    ours = theirs = 0
    for aligned in found.aligned:
        run = runs[aligned.run]
        edits = aligned.num_dropped + len(aligned.extras) + aligned.num_flipped
        distance = edlib.align(run, found.sequence.data)["editDistance"]
        assert distance == Levenshtein.distance(run, found.sequence.data)
        assert edits >= distance
        ours, theirs = ours + edits, theirs + distance
    assert ours <= theirs * 1.04 + 1


def test_merge_agrees_with_pairwise() -> None:
    """With two runs, the merge holds what Biopython's pairwise alignment finds common, in order."""
    aligner = PairwiseAligner(mode="global", match_score=1, mismatch_score=-2, open_gap_score=-0.5)
    aligner.extend_gap_score = -0.5
    agreed = 0
    for seed in range(10):
        _, (one, two) = trial("random", 60, 0.1, 2, seed)
        found = merge_bytes(one, two)
        common = sum(1 for a, b in zip(*(run.columns for run in found.aligned), strict=True) if None not in (a, b))
        ours = sum(1 for c in found.aligned[0].columns if c is not None)
        assert ours == len(one)
        alignment = aligner.align(one, two)[0]
        theirs = sum(int(e - s) for s, e in alignment.aligned[0])
        agreed += common == theirs
    assert agreed >= 9


def test_merge_doubles() -> None:
    """A listener that doubles one byte in ten is seen through, and its rate is found; true doubles stay."""
    rng = random.Random(8)
    sent = b"LEVEL 22 AT NOON\r\n\r\n" * 3
    runs = [heard(sent, rng, loss=0.03, double=0.1) for _ in range(12)]
    found = merge_bytes(*runs)
    assert found.sequence.data == sent
    assert found.rates.double == pytest.approx(0.1, abs=0.04)
    kinds = [extra.kind for aligned in found.aligned for extra in aligned.extras]
    assert kinds.count(ExtraKind.DOUBLE) == len(kinds) > 40


@pytest.mark.parametrize("seed", range(6))
def test_merge_doubles_in_bursts(seed: int) -> None:
    """Doubles beside losses in bursts are not taken for bytes of their own that most runs have lost."""
    rng = random.Random(f"doubles in bursts {seed}")
    sent = transmission(KINDS[seed % 3], 60, rng)
    runs = [heard(heard_in_bursts(sent, rng, begin=0.03, go_on=0.8), rng, loss=0.02, double=0.1) for _ in range(12)]
    found = merge_bytes(*runs)
    assert found.sequence.data == sent or found.sequence.confidence < 0.95
    assert abs(len(found.sequence.items) - len(sent)) <= 2
    assert 0.05 < found.rates.double < 0.2


@pytest.mark.parametrize("bent", [False, True])
def test_merge_doubles_honest(bent: bool) -> None:
    """Bytes: Brier score below .002 from 8 runs up, where bytes are lost, doubled, and a line is bent besides."""
    squares: list[float] = []
    for seed in range(8):
        rng = random.Random(f"doubles honest {seed}")
        sent = rng.randbytes(50)
        runs = []
        for _ in range(12):
            got = heard(sent, rng, loss=0.1)
            if bent:
                got = bytes(byte & ~8 if rng.random() < 0.15 else byte for byte in got)
            runs.append(heard(got, rng, loss=0.0, double=0.06))
        found = merge_bytes(*runs).sequence
        right = [False] * len(found.items)
        for part in Levenshtein.opcodes(list(found.data), list(sent)):
            if part.tag == "equal":
                right[part.src_start : part.src_end] = [True] * (part.src_end - part.src_start)
        squares += [(item.confidence - ok) ** 2 for item, ok in zip(found.items, right, strict=True)]
    assert sum(squares) / len(squares) < 0.002


@pytest.mark.parametrize("seed", range(3))
def test_merge_bent_line(seed: int) -> None:
    """A line that is late and reads 0 for 1 in a quarter of the cases is named and seen through."""
    rng = random.Random(seed)
    sent = transmission("text", 80, rng)
    runs = []
    for _ in range(12):
        bent = bytes(v & ~4 if rng.random() < 0.25 else v for v in sent)
        runs.append(heard(bent, rng, loss=0.05))
    found = merge_bytes(*runs)
    assert edlib.align(found.sequence.data, sent)["editDistance"] <= 1
    assert (found.rates.flips[0].bit, found.rates.flips[0].level) == (2, 1)
    assert found.rates.flips[0].rate == pytest.approx(0.25, abs=0.08)
    assert any(note.startswith("line 2 is read as 0 in ") and note.endswith("when it is 1") for note in found.notes)


def test_merge_bursts() -> None:
    """Losses in bursts are recognized as such and easier than scattered ones."""
    rng = random.Random(5)
    sent = transmission("random", 150, rng)
    found = merge_bytes(*(heard_in_bursts(sent, rng, begin=0.04, go_on=0.8) for _ in range(10)))
    assert found.sequence.data == sent
    assert found.rates.burst > 10
    assert any(note.startswith("losses come in bursts: ") for note in found.notes)


def test_merge_outlier() -> None:
    """A run of another transmission is left out and named; the others are not disturbed."""
    sent, runs = trial("text", 60, 0.15, 6, 3)
    stranger = transmission("text", 55, random.Random("else"))
    found = merge_bytes(*runs[:2], stranger, *runs[2:])
    assert found.sequence.data == merge_bytes(*runs).sequence.data == sent
    assert [outlier.run for outlier in found.outliers] == [2]
    assert found.outliers[0].words.startswith("run 3 shares only ")
    assert [aligned.run for aligned in found.aligned].count(2) == 0


def test_merge_common_truncation() -> None:
    """Logs that all end with a full buffer are told from logs that end with the transmission."""
    rng = random.Random(4)
    sent = transmission("text", 120, rng)
    runs = [heard(sent, rng, loss=0.2)[:64] for _ in range(6)]
    found = merge_bytes(*runs)
    assert found.truncated.startswith("all runs hold exactly 64 bytes although bytes are missing inside them")
    assert found.notes[0] == found.truncated
    whole = merge_bytes(*(heard(sent, rng, loss=0.2) for _ in range(6)))
    assert whole.truncated == ""


def test_merge_early_end() -> None:
    """A run that stops half-way is named."""
    sent, runs = trial("text", 80, 0.1, 6, 5)
    runs[1] = heard(sent[:40], random.Random(9), loss=0.1)
    found = merge_bytes(*runs)
    assert found.sequence.data == sent
    assert any(note.startswith("run 2 stops after byte ") for note in found.notes)


def test_merge_counts() -> None:
    """Equal bytes in a row are counted, not placed: the number has a distribution that holds the truth."""
    held = 0
    for seed in range(12):
        rng = random.Random(seed)
        number = rng.randint(6, 12)
        sent = b"\x1bK" + bytes(number) + b"\r\nEND OF LINE\r\n"
        found = merge_bytes(*(heard(sent, rng, loss=0.25) for _ in range(6)))
        repeat = next(r for r in found.repeats if r.value == 0)
        assert sum(p for _, p in repeat.counts) == pytest.approx(1, abs=0.02)
        held += dict(repeat.counts).get(number, 0.0) > 0.02
    assert held >= 11


def test_merge_confidence_falls() -> None:
    """Fewer runs, less confidence; the number is not kept high by the model's own answer."""
    sent, runs = trial("text", 60, 0.25, 20, 11)
    said = [merge_bytes(*runs[:n]).sequence.confidence for n in (3, 8, 20)]
    assert said == sorted(said)
    assert said[0] < 0.5
    assert merge_bytes(*runs).sequence.data == sent


def test_merge_order_doubt() -> None:
    """Two neighbours that no run holds together have no order: both orders are as likely, and that is said."""
    found = merge_bytes(b"XAY", b"XBY", b"XAY", b"XBY", b"XAY", b"XBY")
    assert found.sequence.data in (b"XABY", b"XBAY")
    other = next(a for a in found.alternatives if set(a.data) == set(b"XABY") and len(a.data) == 4)
    # the alternatives are the model's own numbers; the whole is put right by the curve of _calibration
    assert calibrated(other.probability) == pytest.approx(found.sequence.confidence, rel=0.5)
    assert found.sequence.items[1].confidence < 0.6
    assert np.isfinite(found.sequence.confidence)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("sizes", [(4, 4), (3, 5), (12, 8), (4, 4, 4)])
def test_merge_two_kinds(kind: str, sizes: tuple[int, ...]) -> None:
    """Runs of different transmissions mixed: one kind is merged, the others are left out and named."""
    rng = random.Random(f"two kinds {kind} {sizes}")
    sent = [transmission(kind, 50, rng) for _ in sizes]
    tags = [k for k, size in enumerate(sizes) for _ in range(size)]
    rng.shuffle(tags)
    runs = [heard(sent[tag], rng, loss=0.15) for tag in tags]
    found = merge_bytes(*runs)
    left = {one.run for one in found.outliers}
    kept = {tags[r] for r in range(len(tags)) if r not in left}
    assert len(kept) == 1
    assert len(left) == len(tags) - max(sizes)
    assert found.sequence.num_runs == max(sizes)
    assert found.notes[0].startswith("runs ")
    assert "they look like another transmission, to be merged by themselves" in found.notes[0]
    assert ("nothing here tells which one was meant" in "".join(found.notes)) == (len(set(sizes)) == 1)


def test_merge_only() -> None:
    """Only the runs asked for take part, under their own numbers."""
    found = merge([Run.of(run) for run in (b"QUILL", b"MARRAM", b"QULL", b"", b"QUILL")], only=[0, 2, 4])
    assert found.sequence.data == b"QUILL"
    assert [one.run for one in found.aligned] == [0, 2, 4]
    assert found.sequence.num_runs == 3
    assert not found.outliers
    with pytest.raises(ValueError, match=r"^a merge needs at least one run$"):
        merge([Run.of(b"QUILL")], only=[])


def test_merge_goes_on() -> None:
    """Where most runs stop early at one byte, the one that goes on is no other transmission."""
    sent = b"TIDE 3.5 AT NINE AND FALLING SINCE SEVEN"
    found = merge_bytes(*[sent[:20]] * 5, sent)
    assert found.sequence.data == sent
    assert not found.outliers
    assert found.notes[0] == "runs 1, 2, 3, 4 and 5 all stop after byte 19 of 40: something ended them there"
    assert found.sequence.confidence < 0.9


def test_merge_nothing_heard() -> None:
    """Runs that all heard nothing say nothing, and no sequence is called likely."""
    found = merge_bytes(b"", b"", b"")
    assert found.sequence.items == ()
    assert found.sequence.confidence == 0
    assert found.notes == ("no run heard anything: whether anything was sent cannot be told",)
    assert merge_bytes(b"", b"Q").notes[0] == (
        "only one run heard anything: there is nothing to compare it with, so losses and doubles in it cannot be seen"
    )


def test_merge_held_alone() -> None:
    """A byte that one run of eight holds is never sure, and what the runs are without it is weighed."""
    sent = b"RISING 3.5 METRES"
    found = merge_bytes(*[sent] * 7, sent[:9] + b"#" + sent[9:])
    assert found.alternatives[0].words in {"without 23 at byte 9", "23 more before byte 9"}
    assert found.alternatives[0].probability > 0.03
    assert all(item.confidence < 0.99 for item in found.sequence.items if item.value == 0x23)
    assert found.sequence.confidence < 0.9


def test_merge_held_alone_twice() -> None:
    """A byte that one run of ten holds, where others too are lost in most runs: both explanations are open and said."""
    rng = random.Random("held alone")
    sent = rng.randbytes(60)
    rates = [0.88 if k in {9, 24, 33, 47} else 0.03 for k in range(60)]
    runs = [bytes(b for b, rate in zip(sent, rates, strict=True) if rng.random() >= rate) for _ in range(10)]
    assert [sum(sent[k] in run for run in runs) for k in (9, 24, 33, 47)] == [1, 0, 9, 3]
    heard_of = bytes(byte for k, byte in enumerate(sent) if k not in {24, 33})
    found = merge_bytes(*runs)
    assert not found.rates.even
    assert found.sequence.confidence < 0.6
    assert found.sequence.items[9].missing_before > 0.2
    assert (
        "the result does not explain E4 of run 6 after byte 8: never sent (a slip in the log, noise), or sent and lost"
        " by all the other runs"
    ) in found.notes
    assert len(heard_of) == len(found.sequence.items) + 1


def test_merge_line_stuck_in_all_runs() -> None:
    """A line that is stuck in every run bends every byte alike: named, since no merge can tell."""
    rng = random.Random("stuck in all")
    sent = transmission("text", 60, rng)
    bent = bytes(byte & ~0x10 for byte in sent)
    found = merge_bytes(*[heard(bent, rng, loss=0.1) for _ in range(8)])
    assert (
        "line 4 is 0 in every byte of the result: never used, or stuck at the listener in all runs, which a merge"
        " cannot tell"
    ) in found.notes
    bridged = bytes(byte | 0x0C if byte & 0x0C else byte for byte in sent)
    found = merge_bytes(*[heard(bridged, rng, loss=0.1) for _ in range(8)])
    assert (
        "lines 2 and 3 are equal in every byte of the result: so sent, or bridged in all runs, which a merge cannot"
        " tell"
    ) in found.notes

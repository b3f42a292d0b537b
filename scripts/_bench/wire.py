"""The wire wing: how often a merge is exactly right, and how long it takes.

Reference: exact-recovery rates of the design's own experiments (independent losses, no times), as set down in the
table below for random bytes, text and command-like data with many equal neighbours.  Each figure here is the share of
`TRIALS` transmissions made from fixed seeds; a share is held to be as good while it lies within two standard
deviations of the reference.
"""

from __future__ import annotations

import math
import random
import time
from collections.abc import Iterator

from _bench import Row
from latchlore.wire import Run, merge

TRIALS = 40
TEXT = b"THE TIDE AT EBBING HYTHE WAS 04.37 M AND RISING; WIND WEST, FORCE 3. "
KINDS = ("random", "text", "command")

# (length, loss, runs): exact recovery for random bytes, text, command-like data
REFERENCE = {
    (8, 0.20, 5): (0.97, 0.89, 0.78),
    (8, 0.20, 12): (1.00, 0.99, 0.93),
    (8, 0.40, 12): (0.98, 0.96, 0.73),
    (100, 0.05, 5): (0.98, 0.93, 0.90),
    (100, 0.20, 8): (0.93, 0.98, 0.48),
    (100, 0.40, 20): (0.98, 0.90, 0.08),
}


def made(kind: str, length: int, rng: random.Random) -> bytes:
    """A transmission of that kind."""
    if kind == "random":
        return rng.randbytes(length)
    if kind == "text":
        start = rng.randrange(len(TEXT))
        return (TEXT * (length // len(TEXT) + 2))[start : start + length]
    out = bytearray()
    while len(out) < length:
        out += bytes([rng.choice((0x00, 0x1B, 0x20, 0x40, 0xFF))]) * rng.choice((1, 1, 2, 2, 3, 4))
    return bytes(out[:length])


def rows() -> Iterator[Row]:
    """Recovery by length, loss, runs and kind, then times."""
    merge([Run.of(b"AB"), Run.of(b"AB"), Run.of(b"B")])  # compile
    for (length, loss, num), references in REFERENCE.items():
        for kind, reference in zip(KINDS, references, strict=True):
            rng = random.Random(f"{length} {loss} {num} {kind}")
            right = 0
            for _ in range(TRIALS):
                sent = made(kind, length, rng)
                runs = [Run.of(bytes(b for b in sent if rng.random() >= loss)) for _ in range(num)]
                right += merge(runs).sequence.data == sent
            share = right / TRIALS
            slack = 2 * math.sqrt(max(reference * (1 - reference), 0.01) / TRIALS)
            name = f"wire.merge-{kind}-{length}-bytes-{loss:.0%}-{num}-runs"
            met = share >= reference - slack
            yield Row(name, share, "share", "design", share / reference, f"at least {reference:.2f} - {slack:.2f}", met)
    rng = random.Random(1000)
    sent = rng.randbytes(1000)
    runs = [Run.of(bytes(b for b in sent if rng.random() >= 0.2)) for _ in range(20)]
    start = time.perf_counter()
    found = merge(runs)
    seconds = time.perf_counter() - start
    right = found.sequence.data == sent
    yield Row("wire.merge-1000-bytes-20-runs", seconds, "s", goal="right, under 2 s", met=right and seconds < 2)

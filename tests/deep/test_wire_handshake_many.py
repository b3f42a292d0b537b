"""The whole grid of generated handshakes: what is given as certain is right, and what the samples allow is told.

Set-up, strobe and hold from the rows named in tests/test_wire_handshake.py.
"""

from __future__ import annotations

import random
from itertools import product

from latchlore.wire import Latch, ParallelLines, read_parallel
from tests.handshakes import NS, Host
from tests.test_wire_handshake import NAMES, check_honest, ring, sent

BUSY = ("before", "during", "after", "none", "full")
CLOCKS = (None, 24, 4, 2)
LINES = ("8", "7", "bit 7 strobes")
PHASES = 3


def test_read_parallel_many() -> None:
    """Latch, busy, acknowledge, strobe width, sampling, lines, ringing, stated or not: 5,040 captures."""
    count = told = 0
    for latch, busy, ack, width, mhz, lines, rings, stated in product(
        *(("leading", "trailing"), BUSY, (True, False), (100, 500, 1000), CLOCKS, LINES, (False, True), (True, False))
    ):
        if rings and mhz not in {None, 24}:
            continue  # a ringing of 60 ns falls between slower samples
        for phase in range(PHASES if mhz else 1):
            rng = random.Random(f"{latch} {busy} {ack} {width} {mhz} {lines} {rings} {phase}")
            num = 8 if lines == "8" else 7
            host = Host(
                width=width * NS, latch=latch, busy=busy, ack=ack, num_lines=num, hold=(2000 if rings else 500) * NS
            )
            host.send([byte & (1 << num) - 1 for byte in sent(width + phase, 40)], rng)
            if rings:
                for at in (4, 15, 30):
                    ring(host, at)
            strobe = "STROBE"
            if lines == "bit 7 strobes":
                strobe = "D7"
                host.waves[strobe] = host.waves.pop("STROBE")
            step = None if mhz is None else 10**6 // mhz
            capture = host.exact() if step is None else host.sampled(step, rng.randrange(step))
            reading = read_parallel(
                capture,
                ParallelLines(
                    NAMES[:num],
                    strobe,
                    busy=None if busy == "none" else "BUSY",
                    ack="ACK" if ack and busy != "full" else None,
                    latch=Latch(latch) if stated else None,
                ),
            )
            where = f"{latch} {busy} {ack} {width} {mhz} {lines} {rings} {stated} {phase}"
            try:
                check_honest(host, reading)
            except AssertionError as error:
                raise AssertionError(where) from error
            allowed = stated and not rings and (step is None or step * 2 < width * NS)
            if allowed:
                assert (reading.data, reading.complete) == (bytes(byte for _, byte in host.latched), True), where
                assert reading.certain.all(), where
            count, told = count + 1, told + allowed
    print(f"{count} captures, {told} of them wholly told")

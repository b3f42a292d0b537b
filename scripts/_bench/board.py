"""The board wing: how long an exact decode takes."""

from __future__ import annotations

import pathlib
import random
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from itertools import count

from _bench import Row, best_seconds
from latchlore.board import decode, parse_board, read_board
from latchlore.demo import demo_folder

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2]))
from tests.random_boards import Maker

BOARDS = 10


def rows() -> Iterator[Row]:
    """Cards decoded at all addresses, read and write: the demonstration's, twenty random chips, 24 address lines."""
    raw = (demo_folder() / "board" / "card.nets").read_bytes()
    reading = best_seconds(lambda: read_board(raw, "card.nets"))
    yield Row("board.read-12-chips", reading, "s")
    board = read_board(raw, "card.nets")
    seconds = best_seconds(lambda: decode(board))
    yield Row("board.decode-12-chips", seconds, "s", goal="under 0.1 s", met=seconds < 0.1)
    times: list[float] = []
    for seed in count():
        twenty = parse_board(twenty_chips(seed), "random.nets")
        assert len(twenty.parts) == 20
        if not decode(twenty).registers:
            continue  # a card that answers nowhere is too easy
        times.append(processor_seconds(partial(decode, twenty)))
        if len(times) == BOARDS:
            break
    middle, most = sorted(times)[len(times) // 2], max(times)
    yield Row("board.decode-20-chips-16-lines", middle, "s processor", goal="under 0.020 s", met=middle < 0.020)
    yield Row("board.decode-20-chips-16-lines-worst", most, "s processor")
    for lines in (20, 22):
        direct = parse_board(direct_lines(lines), "wide.nets")
        seconds = processor_seconds(partial(decode, direct))
        yield Row(
            f"board.decode-24-bit-{lines}-lines-together", seconds, "s processor", goal="under 0.5 s", met=seconds < 0.5
        )


def processor_seconds(work: Callable[[], object], repeats: int = 7) -> float:
    """The least processor time of several runs: one thread alone works, and others may be on the machine."""
    best = float("inf")
    for _ in range(repeats):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def twenty_chips(seed: int) -> str:
    """A card of twenty chips on which all sixteen address lines count: gates, a decoder, latches, buffers."""
    maker = Maker(seed, 16)
    address = [f"a{k}" for k in range(16)]
    nets = []
    for half in (address[:8], address[8:]):
        name = maker.part("7430")
        for pin, net in zip((1, 2, 3, 4, 5, 6, 11, 12), half, strict=True):
            maker.join(net, f"{name}.{pin}")
        maker.join(f"{name}y", f"{name}.8")
        nets.append(f"{name}y")
    while len(maker.parts) < 12:
        maker.gate([*address, "rw", *maker.loose])
    # The decoder looks at one gate of each half, so that every line counts.
    outputs = maker.decoder([*nets, *random.Random(seed).sample([*address, *maker.loose], 6)])
    data = maker.transceiver()
    for net in maker.random.sample(outputs, 2):
        maker.latch(net, data)
    for net in maker.random.sample(outputs, 2):
        maker.buffer(net, data)
    return maker.write(0)


def direct_lines(lines: int) -> str:
    """A bus of 24 lines of which so many reach two gates each, so that none can stand for others."""
    pins = (1, 2, 3, 4, 5, 6, 11, 12)
    parts = [f"part u{k} 7430" for k in range(1, 7)] + ["part u7 7402", "part u8 7427", "part u9 74138"]
    nets = [f"net a{k} u{1 + k // 8}.{pins[k % 8]} u{4 + k // 8}.{pins[k % 8]}" for k in range(lines)]
    return "\n".join(
        [
            "cycle memory write 24 rw low phi2 up",
            "cycle memory read 24 rw high phi2 up",
            *parts,
            "part u10 74273",
            *nets,
            "net x1 u1.8 u8.1\nnet x2 u2.8 u8.2\nnet x3 u3.8 u8.13\nnet y1 u4.8 u8.3\nnet y2 u5.8 u8.4",
            "net y3 u6.8 u8.5\nnet s1 u8.12 u9.6\nnet s2 u8.6 u9.5\nnet phi2 u9.4\nnet rw u9.1",
            "net ck u9.15 u10.11\nnet d0 u10.3",
        ]
    )

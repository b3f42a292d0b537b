"""The study folder: reading one, and a large tree out of the cache."""

from __future__ import annotations

import pickle
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from _bench import Row, best_seconds

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import ByteTree


def rows() -> Iterator[Row]:
    """Reading the demonstration study and a large one; a tree of 20,000 nodes kept and found again."""
    from latchlore.demo import demo_folder
    from latchlore.study import Cache, load_study

    demo = demo_folder()
    seconds = best_seconds(lambda: load_study(demo))
    yield Row("study.load-demo", seconds * 1000, "ms", goal="under 100 ms", met=seconds < 0.1)
    with tempfile.TemporaryDirectory() as name:
        large = _large_study(Path(name) / "large")
        seconds = best_seconds(lambda: load_study(large), repeats=3)
        yield Row(
            "study.load-large", seconds * 1000, "ms", "50 images, 200 logs", goal="under 1000 ms", met=seconds < 1
        )
        tree, cache = _large_tree(), Cache(Path(name))
        cache.remember("tree", (), lambda: tree)
        seconds = best_seconds(lambda: cache.remember("tree", (), lambda: tree), repeats=3)
        raw = pickle.dumps(tree)
        reference = best_seconds(lambda: pickle.loads(raw), repeats=3)
        ratio = seconds / reference
        yield Row(
            "study.cache-find", seconds * 1000, "ms", "pickle.loads", ratio, "at most 2 times the time", met=ratio <= 2
        )


def _large_study(folder: Path) -> Path:
    (folder / "program").mkdir(parents=True)
    (folder / "wire" / "burst").mkdir(parents=True)
    lines = ["[program]", 'cpu = "6502"']
    for number in range(50):
        (folder / "program" / f"{number}.bin").write_bytes(bytes(1024))
        lines += ["[[image]]", f'file = "program/{number}.bin"', f'load = "{number * 1024:04X}"']
    for number in range(200):
        (folder / "wire" / "burst" / f"{number}.log").write_bytes(b"1B 40 0D 0A\n" * 25)
    (folder / "study.toml").write_text("\n".join(lines))
    return folder


def _large_tree() -> ByteTree:
    """A graph of 20,000 nodes with two events and a choice each, over 400 input bits."""
    from latchlore.base import (
        Arm,
        ByteTable,
        ByteTree,
        Choice,
        Condition,
        CycleRange,
        InputBit,
        InputKind,
        Node,
        Read,
        Write,
    )

    bits = [InputBit(InputKind.MEMORY, 0xC801, k, turn) for k in range(8) for turn in range(50)]
    nodes = []
    for i in range(20_000):
        bit = bits[i % 400]
        value = ByteTable((bit,), (i % 256, (i + 1) % 256))
        events = (
            Read(InputKind.MEMORY, 0xC801, i % 50, CycleRange(4, 9), 0xF000 + i % 999),
            Write(InputKind.MEMORY, 0xC800, value, CycleRange.exactly(i % 30), 0xF000 + i % 777),
        )
        arms = (
            Arm(Condition.of_bit(bit, 1), (i + 1) % 20_000),
            Arm(Condition.of_bit(bit, 0), (i + 7) % 20_000),
        )
        nodes.append(Node(events, Choice(arms)))
    return ByteTree(tuple(nodes), 0xF000)

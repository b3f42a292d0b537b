"""What it costs to ask a program, against the exploration that the answers rest on."""

from __future__ import annotations

import importlib.resources
import subprocess
import sys
from typing import TYPE_CHECKING

from _bench import Row, best_seconds
from latchlore.base import AddressSet, InputKind
from latchlore.program import (
    Image,
    NamedRegister,
    Names,
    compare_trees,
    explore,
    find_drivers,
    make_listing,
    map_code,
    may_send,
    outline,
    tidy,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

DEVICES = AddressSet.of_range(0xC800, 0xC8FF)
CARD = NamedRegister("CARD", InputKind.MEMORY, DEVICES, "both")
CELLS = range(0x20, 0x2A)


def many_ways() -> str:
    """A routine of ten unknown bits, each with a write of its own and counted in a cell of its own: 1,024 ways."""
    clear = "A900" + "".join(f"85{at:02X}" for at in CELLS)
    bits = "".join(f"AD{k + 1:02X}C81005E6{at:02X}8D00C8" for k, at in enumerate(CELLS))
    return clear + bits + "".join(f"A5{at:02X}8D00C8" for at in CELLS) + "60"


def rows() -> Iterator[Row]:
    """Shortening, printing, searching and comparing a tree of some thousand nodes; mapping a ROM; start-up."""
    image = Image.from_bytes(bytes.fromhex(many_ways()), 0x0300, "ways")
    tree = explore([image], 0x0300, DEVICES)
    exploring = best_seconds(lambda: explore([image], 0x0300, DEVICES), 2)
    short = tidy(tree)
    code = [frozenset({1})] * len(CELLS)
    costs = {
        "shorten": lambda: tidy(tree),
        "rows": lambda: list(outline(short, Names())),
        "may-send": lambda: may_send(short, code, lambda _, address: address == 0xC800),
        "compare-with-itself": lambda: compare_trees(tree, tree),
    }
    for name, cost in costs.items():
        seconds = best_seconds(cost, 2)
        ratio = seconds / exploring
        goal = f"no more than the exploration; {len(tree.nodes)} nodes"
        yield Row(f"answers.{name}", seconds, "s", "exploration", ratio, goal, ratio <= 1)
    data = (importlib.resources.files("latchlore.demo") / "program" / "marram.bin").read_bytes()
    rom = Image.from_bytes(data, 0xF800, "marram.bin")
    mapped = map_code([rom], {0xF800: "reset"}, cpu="6502")
    seconds = best_seconds(lambda: map_code([rom], {0xF800: "reset"}, cpu="6502"), 3)
    rate = len(mapped.instructions) / seconds
    yield Row("answers.map-code", rate, "instr/s", goal="at least 1000", met=rate >= 1000)
    seconds = best_seconds(lambda: make_listing(mapped, find_drivers(mapped, [CARD])), 3)
    yield Row("answers.listing", seconds * 1e3, "ms", goal=f"{len(data)} bytes", met=None)
    command = [sys.executable, "-c", "from latchlore.cli import run; run(['program', '--help'])"]
    seconds = best_seconds(lambda: subprocess.run(command, check=True, stdout=subprocess.DEVNULL), 3)
    yield Row("answers.help", seconds, "s", goal="under 0.5 s", met=seconds < 0.5)

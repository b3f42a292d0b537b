"""Connectors put together, versions compared, boards drawn: how long each takes."""

from __future__ import annotations

from collections.abc import Iterator

from _bench import Row, best_seconds
from latchlore.board import bit_ways, compare_boards, decode, mate, parse_board
from latchlore.demo import demo_folder
from latchlore.dossier import BoardView, render_board_page

PINS = 62


def rows() -> Iterator[Row]:
    """A bus connector of 62 pins in all ways, and the demonstration's card compared with itself and drawn."""
    one, other = (parse_board(_bus(name, feeds), f"{name}.nets") for name, feeds in (("j1", "feeds"), ("j2", "takes")))
    found = mate(one, "j1", other, "j2")
    yield Row("mating.ways-of-62-pins", len(found.ways), "ways")
    yield Row("mating.all-ways-of-62-pins", best_seconds(lambda: mate(one, "j1", other, "j2")), "s")
    card = parse_board((demo_folder() / "board" / "card.nets").read_text("utf-8"), "card.nets")
    yield Row("mating.compare-12-chips", best_seconds(lambda: compare_boards(card, card)), "s")
    registers = decode(card)
    yield Row("mating.ways-of-bits", best_seconds(lambda: [bit_ways(registers, r) for r in registers.registers]), "s")
    yield Row("mating.page-12-chips", best_seconds(lambda: render_board_page(BoardView(card, registers, ()))), "s")


def _bus(name: str, feeds: str) -> str:
    """A connector of a bus: one supply, four grounds, eight lines both ways, the rest from j1 to j2."""
    lines = [f"plug {name} {PINS}", f"face {name} rows seen printed", f"levels {name} 74ls244 firm"]
    for pin in range(1, PINS + 1):
        if pin in (1, 10, 31, 42):
            lines.append(f"pin {name}.{pin} gnd")
        elif pin == 3:
            lines += [f"pin {name}.3 vcc", f"volts {name}.3 5 {feeds}"]
        elif pin < 12:
            lines.append(f"pin {name}.{pin} d{pin} both")
        else:
            lines.append(f"pin {name}.{pin} s{pin} {'out' if feeds == 'feeds' else 'in'}")
    return "\n".join(lines)

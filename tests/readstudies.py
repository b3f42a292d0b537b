"""Studies whose nets were all read with a meter, made of a net file that states them."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from latchlore.board import parse_board

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from latchlore.board import Board

SOLDERED = ("net ", "tie ", "open ", "done ")


def parts_only(text: str) -> str:
    """The net file without what is soldered, save one pin each of nets that a name or a resistor needs.

    These are the computer's lines that no connector carries, and the nets that a resistor stands on.
    """
    board = parse_board(text, "card.nets")
    carried = {pin.signal for plug in board.connectors for pin in plug.pins}
    needed = {pull.net for pull in board.pulls} | (board.host_signals() - carried)
    nets = [f"net {net.name} {net.pins[0]}" for net in board.nets if net.name in needed]
    kept = [line for line in text.splitlines() if not line.startswith(SOLDERED)]
    place = next((k for k, line in enumerate(kept) if line.startswith("pull ")), len(kept))
    return "\n".join([*kept[:place], *nets, *kept[place:]]) + "\n"


def read_joints(board: Board) -> list[str]:
    """Every joint of every net read twice, once from each end, as lines of a readings file."""
    return [
        line for net in board.nets for a, b in pairwise(net.pins) for line in (f"joined {a} {b}", f"joined {b} {a}")
    ]


def read_study(folder: Path, text: str, more: Iterable[str] = ()) -> Path:
    """A study of a net file's parts, with its joints, and `more` lines behind them, as readings."""
    board = folder / "board"
    board.mkdir(parents=True, exist_ok=True)
    (board / "card.nets").write_text(parts_only(text), "utf-8")
    lines = [*read_joints(parse_board(text, "card.nets")), *more]
    (board / "card.readings").write_text("".join(f"{line}\n" for line in lines), "utf-8")
    return folder

"""The board wing: how long an exact decode takes."""

from __future__ import annotations

from collections.abc import Iterator

from _bench import Row, best_seconds
from latchlore.board import decode, read_board
from latchlore.demo import demo_folder


def rows() -> Iterator[Row]:
    """The demonstration's card of twelve chips: reading its net file, and decoding all 65,536 addresses both ways."""
    raw = (demo_folder() / "board" / "card.nets").read_bytes()
    reading = best_seconds(lambda: read_board(raw, "card.nets"))
    yield Row("board.read-12-chips", reading, "s")
    board = read_board(raw, "card.nets")
    seconds = best_seconds(lambda: decode(board))
    yield Row("board.decode-12-chips", seconds, "s", goal="under 0.1 s", met=seconds < 0.1)

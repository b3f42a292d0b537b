"""What the commands of the wire have in common: rows of bytes, and JSON of long columns."""

from __future__ import annotations

import json
from typing import Any

import pytest

from latchlore.cli._program_asking import Streamed, print_plain
from latchlore.cli._wire_asking import hex_rows


class Marks(list[bool]):
    """Marks that note how many of them were asked for at most at a time."""

    most = 0

    def __getitem__(self, index: Any) -> Any:
        found = super().__getitem__(index)
        self.most = max(self.most, len(found) if isinstance(index, slice) else 1)
        return found


def test_hex_rows() -> None:
    """A row asks for its own marks only, so that many rows take no longer each than few."""
    marks = Marks([True] * 16 + [False] + [True] * 3)
    rows = hex_rows(bytes(range(0x41, 0x55)), marks)
    assert rows == [
        "     0  41  42  43  44  45  46  47  48  49  4A  4B  4C  4D  4E  4F  50  ABCDEFGHIJKLMNOP",
        "    16  51? 52  53  54                                                  QRST",
    ]
    assert marks.most <= 16


@pytest.mark.parametrize("rows", [[], [{"a": 1}], [{"a": k, "b": [k, None]} for k in range(20_000)]])
def test_print_plain_streamed(rows: list[dict[str, Any]], capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """Rows that are made one by one are written as json.dumps writes a list of them."""
    alive: list[int] = []

    def make() -> Any:
        for k, row in enumerate(rows):
            alive.append(k)
            yield row

    streamed = Streamed(make())
    assert len(alive) == min(1, len(rows))
    print_plain({"é": "ü", "rows": streamed, "end": True})
    plain = json.dumps({"é": "ü", "rows": rows, "end": True}, indent=1, ensure_ascii=False) + "\n"
    assert capsysbinary.readouterr().out == plain.encode()

"""Single losses over many random tables, streams and pictures."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from latchlore.device import Device, find_losses, read_device
from tests.device_writer import tables
from tests.test_device_losses import PRINT, ROWS, check_every_loss, check_every_outcome, row_of


@settings(deadline=None, max_examples=40)
@given(tables(), st.integers(0, 2**32))
def test_every_single_loss_many(device: Device, seed: int) -> None:
    """A lost byte is complained of, or it was announced that it would not be."""
    check_every_loss(device, random.Random(seed), 10)


def picture(rng: random.Random, rows: int, width: int) -> list[bytes]:
    """Rows of a curve: each differs from the row before in about a tenth of its bytes."""
    row = [rng.randrange(256) for _ in range(width)]
    found = []
    for _ in range(rows):
        found.append(bytes(row))
        row = [byte ^ 1 << rng.randrange(8) if rng.random() < 0.1 else byte for byte in row]
    return found


def test_find_losses_many() -> None:
    """One byte lost from any row of pictures of 8 to 24 columns: at least 95 % found in their row, none elsewhere."""
    device = read_device((ROWS + PRINT).encode(), "documents/strip.toml")
    right = placed = wrong = total = 0
    for seed in range(120):
        rng = random.Random(seed)
        width = rng.choice((8, 16, 24))
        rows = picture(rng, 8, width)
        row, column = rng.randrange(8), rng.randrange(width)
        whole = b"".join(row_of(data) for data in rows)
        place = (width + 6) * row + 4 + column
        losses = find_losses(device, whole[:place] + whole[place + 1 :]).losses
        total += 1
        right += [(loss.number, loss.missing) for loss in losses] == [(row + 1, 1)]
        wrong += any(loss.number != row + 1 for loss in losses)
        placed += any(loss.gap is not None and column in (*loss.gap.sure, *loss.gap.possible) for loss in losses)
    print(f"{total} losses: {right} in their row, {wrong} elsewhere, {placed} with their column among those named")
    assert right >= 0.95 * total
    assert wrong == 0
    assert placed >= 0.9 * total


def test_read_sequence_many() -> None:
    """Against every stream that the doubts leave, bytes that may be missing among them: the figures are exact."""
    device = read_device((ROWS + PRINT).encode(), "documents/strip.toml")
    compared = check_every_outcome(device, 7, 120, 10)
    print(f"{compared} spans compared")
    assert compared > 400

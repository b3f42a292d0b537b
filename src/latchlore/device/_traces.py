"""Which single lost bytes of a stream would leave no trace in its reading."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import Origin, Progress, Unsupported, no_progress
from latchlore.device._automaton import compile_table
from latchlore.device._reading import choose_switches
from latchlore.device._walk import Walk

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.device._device import Device

MAX_BYTES = 20_000


def traceless_bytes(
    device: Device, data: bytes, switches: Mapping[str, str] | None = None, progress: Progress = no_progress
) -> tuple[tuple[int, int], ...]:
    """Stretches (first, end) of bytes of which any one could be lost and the stream would read without complaint.

    A loss leaves a trace when the stream without the byte has more bytes that no row explains, or ends inside a row
    where it did not.  What leaves none (a character of a text, a byte of data behind which a byte of the next row
    passes for data) can only be found by comparing runs or by `find_losses`.  Refuses more than 20,000 bytes.
    """
    if len(data) > MAX_BYTES:
        words = f"traces are sought in up to {MAX_BYTES} bytes; cut the stream ({len(data)} bytes) into parts"
        raise Unsupported(Origin.at_line(device.file, 1), words)
    walk = Walk(compile_table(device, choose_switches(device, switches)), data)
    stretches: list[list[int]] = []
    for place in range(len(data)):
        if place % 1024 == 0:
            progress(place, len(data), "looking for traceless losses")
        if walk.change(place, 1, b"").more > 0:
            continue
        if stretches and stretches[-1][1] == place:
            stretches[-1][1] = place + 1
        else:
            stretches.append([place, place + 1])
    return tuple((first, end) for first, end in stretches)

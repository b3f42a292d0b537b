"""The device wing's figures."""

from __future__ import annotations

import random
import time
from typing import TYPE_CHECKING

from _bench import Row, best_processor_seconds, best_seconds

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.device import Device

HEAD = 'title = "Bench table"\ndevice = "bench"\nkind = "note"\n'


def table_of(num_rows: int) -> Device:
    """A table of printed characters, fixed codes, parameters, counted and terminated data."""
    from latchlore.device import read_device

    rows = ['[[command]]\npattern = "20..7E"\nmeaning = "print"\ndoes = "print"\n']
    tails = ("", " n", " n data*n", " n.lo n.hi data*(n/256)", " text->00", " %aaaabbbb data*(a+b)")
    for k in range(num_rows - 1):
        code = f"{k % 3 + 0x1B:02X} {k // 3:02X}"
        rows.append(f'[[command]]\npattern = "{code}{tails[k % len(tails)]}"\nmeaning = "m{k}"\n')
    return read_device((HEAD + "".join(rows)).encode(), "documents/bench.toml")


def stream_for(device: Device, size: int, seed: int) -> bytes:
    """Text with commands between, about a fifth of the bytes belonging to commands."""
    rng = random.Random(seed)
    made = bytearray()
    codes = [command.pattern.fixed for command in device.commands if command.pattern.fixed]
    while len(made) < size:
        made += bytes(rng.randrange(0x20, 0x7F) for _ in range(rng.randrange(40)))
        made += rng.choice(codes) + bytes([rng.randrange(16), rng.randrange(1, 16)]) + rng.randbytes(8) + b"\0"
    return bytes(made[:size])


def strip(num_lines: int) -> tuple[Device, bytes]:
    """A strip printer and a long stream for it."""
    from latchlore.device import read_device

    text = HEAD + (
        '[paper]\nhead_dots = 144\ndot_x = "0.33 mm"\ndot_y = "0.36 mm"\ncolumns = 24\ncell_dots = 6\nline_feed = 10\n'
        '[[command]]\npattern = "20..7E"\nmeaning = "print"\ndoes = "print"\n'
        '[[command]]\npattern = "0A"\nmeaning = "feed"\ndoes = "line feed"\n'
        '[[command]]\npattern = "0D"\nmeaning = "return"\ndoes = "carriage return"\n'
    )
    lines = b"".join(b"LEVEL %07d  0.%03d m\r\n" % (k, k % 1000) for k in range(num_lines))
    return read_device(text.encode(), "documents/strip.toml"), lines


def rows() -> Iterator[Row]:
    """Reading speed, and how soon a tile of a long strip is there."""
    from latchlore.device import draw_tile, open_paper, read_stream

    device = table_of(200)
    data = stream_for(device, 4_000_000, 1)
    read_stream(device, data[:10_000], compiled=True)
    seconds = best_seconds(lambda: read_stream(device, data, compiled=True), 3)
    plain = best_seconds(lambda: read_stream(device, data[:40_000], compiled=False), 3) * len(data) / 40_000
    speed = len(data) / seconds / 1e6
    name = "device.read-stream-200-rows"
    yield Row(name, speed, "MB/s", "the plain-Python twin", plain / seconds, "at least 5 MB/s", speed >= 5)

    printer, lines = strip(100_000)
    read_stream(printer, lines[:10_000], compiled=True)
    paper = open_paper(printer, lines)
    first = best_processor_seconds(lambda: draw_tile(open_paper(printer, lines), 0, 512), 3) * 1000
    yield Row("device.first-tile-of-100000-lines", first, "ms", goal="under 100 ms", met=first < 100)
    start = time.perf_counter()
    paper.work_out()
    yield Row("device.work-out-100000-lines", time.perf_counter() - start, "s")
    tops = [k * 250_000 for k in range(1, 11)]
    slowest = max(best_processor_seconds(lambda top=top: draw_tile(paper, top, 512), 2) for top in tops) * 1000
    yield Row("device.any-tile-of-100000-lines", slowest, "ms", goal="under 100 ms", met=slowest < 100)
    yield from _strip_rows(printer, lines)
    yield from _loss_rows(printer)


def _strip_rows(printer: Device, lines: bytes) -> Iterator[Row]:
    """From bytes to marks and back on a strip of hundreds of metres, and the memory that drawing all of it takes."""
    import tracemalloc

    from latchlore.device import Strip, open_paper, png_pieces

    strip = Strip(open_paper(printer, lines))
    metres = float(strip.paper.size_mm[1]) / 1000
    places = [len(lines) * k // 20 + 6 for k in range(20)]
    seconds = best_seconds(lambda: [strip.marks_of(byte) for byte in places], 2) / len(places)
    yield Row(
        f"device.byte-to-its-marks-of-{metres:.0f}-m", seconds * 1000, "ms", goal="under 100 ms", met=seconds < 0.1
    )
    boxes = [strip.marks_of(byte).box for byte in places]
    points = [((box.left + box.right) / 2, (box.top + box.bottom) / 2) for box in boxes if box is not None]
    seconds = best_seconds(lambda: [strip.marks_at(x, y, 4) for x, y in points], 2) / len(points)
    yield Row(
        f"device.mark-to-its-byte-of-{metres:.0f}-m", seconds * 1000, "ms", goal="under 100 ms", met=seconds < 0.1
    )
    tracemalloc.start()
    paper = open_paper(printer, lines)
    for tile, _ in enumerate(png_pieces(paper)):
        if tile == 100:  # the rest of the strip is drawn in the same way
            break
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    less = strip.width_px * strip.height_px / 1e6 / peak
    name = f"device.memory-of-drawing-{metres:.0f}-m"
    yield Row(name, peak, "MB", "less than its pixels", less, "under 100 MB", peak < 100)


def _loss_rows(printer: Device) -> Iterator[Row]:
    """Losses looked for in a picture of 400 rows, three of which lack a byte."""
    from latchlore.device import find_losses, read_device

    rng = random.Random(1)
    table = '[[command]]\npattern = "1F n data*n"\nmeaning = "row"\n[[command]]\npattern = "0D"\nmeaning = "return"\n'
    device = read_device((HEAD + table).encode(), "documents/rows.toml")
    row = bytearray(rng.randbytes(18))
    made = bytearray()
    for k in range(400):
        row[rng.randrange(18)] ^= 1 << rng.randrange(8)
        made += b"\x1f\x12" + (row if k not in (100, 200, 300) else row[1:]) + b"\r"
    found = len(find_losses(device, bytes(made)).losses)
    seconds = best_seconds(lambda: find_losses(device, bytes(made)), 2)
    yield Row(f"device.find-{found}-losses-in-{len(made)}-bytes", seconds, "s")
    text = b"LEVEL 3.41 M\r\n" * 2000
    yield Row(
        f"device.find-no-loss-in-{len(text)}-bytes-of-text", best_seconds(lambda: find_losses(printer, text), 1), "s"
    )
    from latchlore.device import survey_losses

    text = text[:15_000] + text[15_001:20_001]
    survey_losses(printer, text[:2000])
    seconds = best_seconds(lambda: survey_losses(printer, text), 1)
    yield Row(f"device.survey-losses-of-{len(text)}-bytes", seconds, "s", goal="under 10 s", met=seconds < 10)

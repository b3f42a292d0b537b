"""Captures of a study: opened, read as they are stated, and handed on as runs and testimonies."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, StudyError, Testimony
from latchlore.study._captures import in_study, lines_of, open_capture, read_stated_serial

if TYPE_CHECKING:
    from latchlore.base import Progress
    from latchlore.study._cache import Cache
    from latchlore.study._study import CapturePart
    from latchlore.wire import Log


@dataclass(frozen=True, slots=True)
class HeardCapture:
    """What a capture gives: its bytes as a log of one run; what its lines say; its sequence where it is whole."""

    log: Log
    lines: tuple[Testimony, ...]
    sequence: tuple[Testimony, ...]


def hear_captures(parts: tuple[CapturePart, ...], cache: Cache, progress: Progress) -> dict[str, list[HeardCapture]]:
    """Sequence → its captures.  Refuses what the readers of captures refuse, all mistakes at once."""
    from latchlore.study._codec import register_records
    from latchlore.wire import stamp_file

    register_records(HeardCapture)
    found: dict[str, list[HeardCapture]] = {}
    mistakes: list[tuple[Origin, str]] = []
    for part in parts:
        stated = repr((part.file, part.sequence, part.stated, part.lines, part.serial, part.framing, part.bit_time))
        try:
            key = [stamp_file(part.path), stated, part.idle]
            heard = cache.remember("capture", key, partial(_hear, part, progress), ("latchlore.wire",))
            found.setdefault(part.sequence, []).append(heard)
        except BadInput as error:
            mistakes += error.mistakes
        except OSError as error:
            mistakes.append((part.origin, f"capture {part.file!r} cannot be read ({error.strerror})"))
    if mistakes:
        raise BadInput.of_all(mistakes)
    return found


def _hear(part: CapturePart, progress: Progress) -> HeardCapture:
    from latchlore.wire import count_order, measure_handshake, read_parallel
    from latchlore.wire.testify import reading_log, serial_log, testify_lines, testify_order, testify_reading

    try:
        capture = open_capture(part.path, part.stated, progress, part.file)
        if part.serial:
            serial = read_stated_serial(capture, part)
            return HeardCapture(serial_log(serial, capture.notes), (), ())
        lines = lines_of(part.lines)
        assert lines is not None  # the table's rule
        reading = read_parallel(capture, lines)
        figures = measure_handshake(capture, lines, reading)
        order = count_order(capture, lines, reading)
    except StudyError as error:
        raise in_study(error, part.origin) from error
    lines_say = (*testify_lines(reading, figures, capture.notes), *testify_order(reading, order))
    return HeardCapture(reading_log(reading), lines_say, testify_reading(part.sequence, reading))

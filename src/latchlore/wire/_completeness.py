"""Judges whether bytes can be missing from what was read of a handshake."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Span
from latchlore.wire import _handshakewording as words

if TYPE_CHECKING:
    from latchlore.wire._capture import Capture, Levels, Times

PART = 1 << 20
"""So many strobes of a long column are looked at at once."""


def judge_completeness(
    step_ps: int, leads: Times, trails: Times, counted: tuple[str, int] | None
) -> tuple[bool | None, str]:
    """Whether no byte can be missing, and why; `counted`: the line that counts them, and how many it counts."""
    num = len(leads)
    if counted is not None and step_ps:
        return True, words.BY_CYCLES.format(count=counted[1], line=counted[0])
    if not num:
        return None, words.NO_STROBE if step_ps else words.NOTHING_SENT
    if not step_ps:
        return True, words.EXACT
    seen: set[int] = set()
    narrow, shortest = 0, 2
    for begin in range(0, num, PART):
        end = min(num, begin + PART)
        widths = (trails[begin:end] - leads[begin:end]) // step_ps
        narrow += int(np.count_nonzero(widths == 1))
        seen.update(np.unique(np.minimum(widths, 3)).tolist())
        pauses = (leads[begin + 1 : end + 1] - trails[begin : min(end, num - 1)]) // step_ps
        shortest = min([shortest, *([int(pauses.min())] if len(pauses) else [])])
    if min(seen) >= 2 and shortest >= 2:
        return True, words.WIDE_ENOUGH
    if seen == {1, 2} and shortest >= 2:
        return True, words.BETWEEN
    step = Span(step_ps)
    wanted = f"a period of {Span(max(1, step_ps // 4))}"
    return False, words.TOO_SLOW.format(count=narrow, num=num, step=step, wanted=wanted)


def count_cut(strobe: tuple[Times, Levels], active: int) -> int:
    """How many strobes are cut: at its active level the line is first or last seen, or loses or gains its level."""
    times, levels = strobe
    num = len(times)
    count = 0
    for begin in range(0, num, PART):
        part = np.asarray(levels[max(0, begin - 1) : begin + PART + 1])
        known = np.concatenate([[2] if not begin else [], part, [2] if begin + PART >= num else []])
        inside = known[1:-1] == active
        count += int(np.count_nonzero(inside & ((known[:-2] > 1) | (known[2:] > 1))))
    return count


def lessen(
    complete: bool | None, why: str, capture: Capture, num_cut: int, level_open: bool
) -> tuple[bool | None, str]:
    """The judgement on a capture's bytes, with what the capture lacks put to it."""
    lacks: list[str] = [words.PAUSES_COUNTED] if level_open else []
    gaps = [(gap.since, gap.until or capture.end) for gap in capture.gaps]
    off = sum(until.picoseconds - since.picoseconds for since, until in gaps)
    if off:
        lacks.append(words.NOT_RECORDED.format(span=Span(off)))
    if capture.breaks_off:
        lacks.append(words.BREAKS_OFF)
    if num_cut:
        lacks.append(words.CUT_STROBE if num_cut == 1 else words.CUT_STROBES.format(count=num_cut))
    if not lacks:
        return complete, why
    return False, "; ".join(lacks if complete else [*lacks, why])

"""Whether a host sends fast enough for a mechanism that does not wait."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from latchlore.base import Origin, Span, SpanRange, Unsupported
from latchlore.device._patterns import Counted, OneByte
from latchlore.device._wording import describe_feed

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.device._device import Command, Device


@dataclass(frozen=True, slots=True)
class Feed:
    """How long a host takes to send one command, against the time the mechanism gives.

    `num_bytes`: of the command and of what goes with it.  `per_byte`: the host's time for one byte, or the device's
    own least byte period where that is longer.  `limited_by`: host or device.  `takes`: for all the bytes.
    `period`: the mechanism's.
    """

    command: Command
    num_bytes: int
    per_byte: SpanRange
    limited_by: str
    takes: SpanRange
    period: Span

    @property
    def verdict(self) -> str:
        """``keeps up`` in every case, ``stalls`` in every case, or ``open``."""
        if self.takes.most <= self.period:
            return "keeps up"
        return "stalls" if self.takes.least > self.period else "open"

    @property
    def longest_byte_ps(self) -> Fraction:
        """The longest time for a byte that still keeps up, in picoseconds, exact."""
        return Fraction(self.period.picoseconds, self.num_bytes)

    def __str__(self) -> str:
        return describe_feed(self)


def check_feed(
    device: Device,
    command_name: str,
    values: Mapping[str, int],
    host: SpanRange,
    period: Span,
    more_bytes: int = 0,
) -> Feed:
    """Whether a host that takes `host` from byte to byte feeds a command once in every `period` of the mechanism.

    `values`: the parameters on which the count depends.  `more_bytes`: what is sent with each (ends of line, say).
    Where the document states a longer least byte period, that counts.  Refuses a command whose length is not known.
    """
    command = device.get_command(command_name)
    count = more_bytes
    for part in command.pattern.parts:
        if isinstance(part, OneByte):
            count += 1
        elif isinstance(part, Counted):
            lacking = [name for name in part.count.names if name not in values]
            if lacking:
                words = f"the length of {command_name!r} depends on {', '.join(lacking)}; state it"
                raise Unsupported(command.citation.origin, words)
            count += max(0, part.count.value(values))
        else:
            raise Unsupported(command.citation.origin, f"the length of {command_name!r} is not fixed")
    own = _byte_period(device)
    per_byte, by = host, "host"
    if own is not None and own[0] > host.most:
        per_byte, by = SpanRange.exactly(own[0]), f"device ({own[1]})"
    elif own is not None and own[0] > host.least:
        per_byte, by = SpanRange(own[0], host.most), f"device and host ({own[1]})"
    takes = SpanRange(per_byte.least * count, per_byte.most * count)
    return Feed(command, count, per_byte, by, takes, period)


def _byte_period(device: Device) -> tuple[Span, Origin] | None:
    """The least time from strobe to strobe that the document states."""
    for timing in device.timings:
        if timing.what == "byte period" and timing.limit is not None and timing.limit.least is not None:
            return timing.limit.least, timing.citation.origin
    return None

"""Makes captures of parallel handshakes with a known truth: exact waveforms, then samples of them."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import Span
from latchlore.wire import Capture, Channel, ChannelKind

if TYPE_CHECKING:
    from collections.abc import Sequence

NS = 1000


@dataclass
class Host:
    """A host, a device and their lines; times in picoseconds."""

    width: int = 500 * NS
    setup: int = 500 * NS
    hold: int = 500 * NS
    latch: str = "leading"
    busy: str = "after"  # busy falls before, during or after the acknowledge pulse; "none", "full"
    ack: bool = True
    response: int = 300 * NS
    work: int = 20_000 * NS
    strobe_active: int = 0
    busy_active: int = 1
    ack_active: int = 0
    junk: bool = True  # data is meaningless outside set-up and hold
    num_lines: int = 8
    waves: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    latched: list[tuple[int, int]] = field(default_factory=list)

    def put(self, name: str, time: int, level: int) -> None:
        """A change of a line; lines change in rising time."""
        wave = self.waves.setdefault(name, [])
        assert not wave or wave[-1][0] <= time
        wave.append((time, level))

    def put_data(self, time: int, value: int) -> None:
        """Put a byte on the data lines."""
        for bit in range(self.num_lines):
            self.put(f"D{bit}", time, value >> bit & 1)

    def send(self, data: Sequence[int], rng: random.Random) -> None:
        """Send bytes one by one; `latched` gets (moment, byte)."""
        idle = {"STROBE": 1 - self.strobe_active, "BUSY": 1 - self.busy_active, "ACK": 1 - self.ack_active}
        for name, level in idle.items():
            self.put(name, 0, level)
        self.put_data(0, 0)
        now = 5_000 * NS
        for k, byte in enumerate(data):
            start = now + rng.randrange(2_000 * NS)
            edge_first = start + self.setup
            lead = edge_first if self.latch == "leading" else start + max(self.setup - self.width, 0) + 60 * NS
            if self.latch == "trailing":
                lead = max(start + self.setup - self.width, now + 60 * NS)
            trail = lead + self.width
            taken = lead if self.latch == "leading" else trail
            put_at = taken - self.setup
            self.latched.append((taken, byte))
            events: list[tuple[int, str, int]] = [(lead, "STROBE", self.strobe_active)]
            events += [(trail, "STROBE", 1 - self.strobe_active), (put_at, "data", byte)]
            if self.junk:
                events.append((taken + self.hold, "data", rng.randrange(256)))
            last = max(trail, taken + self.hold)
            if self.busy == "full":
                last += self.work // 4 if k % 5 else self.work
                if k % 5 == 4:
                    events += [(taken + self.response, "BUSY", self.busy_active), (last, "BUSY", 1 - self.busy_active)]
                now = last
            else:
                on = taken + self.response
                done = on + self.work + rng.randrange(self.work)
                ack_end = done + 5_000 * NS
                off = {"before": done - 2_000 * NS, "during": done + 2_000 * NS, "after": ack_end + 300 * NS}
                if self.busy != "none":
                    events += [(on, "BUSY", self.busy_active), (off[self.busy], "BUSY", 1 - self.busy_active)]
                if self.ack:
                    events += [(done, "ACK", self.ack_active), (ack_end, "ACK", 1 - self.ack_active)]
                now = max(ack_end + 300 * NS, last)
            for time, name, level in sorted(events, key=lambda event: event[0]):
                if name == "data":
                    self.put_data(time, level)
                else:
                    self.put(name, time, level)
        self.end = now + 5_000 * NS

    def exact(self) -> Capture:
        """Every change, as a simulator would record it."""
        return make_capture(self.waves, self.end)

    def sampled(self, step: int, phase: int) -> Capture:
        """What samples at `phase`, `phase` + `step`, ... show."""
        moments = np.arange(phase, self.end, step, dtype=np.int64)
        waves: dict[str, list[tuple[int, int]]] = {}
        for name, wave in self.waves.items():
            times = np.array([time for time, _ in wave])
            levels = np.array([level for _, level in wave])
            shown = levels[np.searchsorted(times, moments, "right") - 1]
            keep = np.flatnonzero(np.diff(shown, prepend=-1))
            waves[name] = [(int(moments[k]), int(shown[k])) for k in keep]
        return make_capture(waves, int(moments[-1]), step)


def make_capture(waves: dict[str, list[tuple[int, int]]], end: int, step: int | None = None) -> Capture:
    """A capture of single lines from their changes."""
    empty = np.zeros((0, 1), np.uint64)
    channels = [
        Channel(
            *((name,), ChannelKind.LOGIC, 1, np.array([t for t, _ in wave], np.int64)),
            *(np.array([level for _, level in wave], np.uint8), empty, empty, np.zeros(0)),
        )
        for name, wave in waves.items()
    ]
    return Capture("made", tuple(channels), Span(0), Span(end), step=None if step is None else Span(step))

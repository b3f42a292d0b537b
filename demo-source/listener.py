"""The borrowed listener of the demonstration: what it catches of the strobes on the printer's plug.

Invented.  The listener is a small computer that polls nothing and remembers nothing: a falling strobe wakes it, after a
latency it reads the data wires as they are then, and it is deaf to further strobes until it has put the byte away.
All times are whole nanoseconds; chance comes from a fixed seed.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field

LATENCY_NS = 8_000  # from the strobe to the reading of the wires, at best
JITTER_NS = 14_000  # twice this much more, at worst, as two even draws
SERVICE_NS = 33_000  # from the reading until it listens again


@dataclass(slots=True)
class Listener:
    """One run.  `holds_busy`: its spare wire is clipped to BUSY, so that the card waits for it and nothing is lost."""

    chance: random.Random
    holds_busy: bool = False
    caught: list[tuple[int, int]] = field(default_factory=list)  # (time of reading, byte)
    num_missed: int = 0
    deaf_until: int = -1  # until then a strobe is missed
    _reads_at: int = -1
    _waiting: bool = False

    def strobe(self, now: int) -> None:
        """The strobe has just fallen."""
        if now < self.deaf_until:
            self.num_missed += 1
            return
        latency = LATENCY_NS + sum(self.chance.getrandbits(16) * JITTER_NS >> 16 for _ in range(2))
        self._reads_at = now + latency
        self.deaf_until = self._reads_at + SERVICE_NS
        self._waiting = True

    def wires(self, now: int, byte: int) -> None:
        """The data wires have shown `byte` since the last change and change now."""
        if self._waiting and self._reads_at <= now:
            self.caught.append((self._reads_at, byte))
            self._waiting = False

    def is_busy(self, now: int) -> bool:
        """Whether it holds BUSY high."""
        return self.holds_busy and now < self.deaf_until

"""A sequence of bytes with the doubts that a merge of lossy runs leaves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

KNOWN_FROM: Final = 0.99
"""Pages mark a byte that is less sure: one wrong in a hundred is more than a reader should pass over (a judgement)."""


def is_doubtful(confidence: float) -> bool:
    """Whether something of this confidence (0 to 1) is marked as doubtful wherever it is shown."""
    return confidence < KNOWN_FROM


@dataclass(frozen=True, slots=True)
class SequenceByte:
    """One byte of a most probable sequence.

    `confidence`: probability 0 to 1 that this byte stands here with this value.  `alternatives`: (value,
    probability) of the other values, likeliest first.  `missing_before`: probability that a byte is missing in
    front of it.
    """

    value: int
    confidence: float
    alternatives: tuple[tuple[int, float], ...] = ()
    missing_before: float = 0.0


@dataclass(frozen=True, slots=True)
class ByteSequence:
    """A sequence with a confidence for each byte, for the whole, and for the end.

    `confidence`: probability 0 to 1 that the whole sequence is right.  `missing_after`: probability that a byte is
    missing at the end.  `num_runs`: how many runs it was merged from (1: a single log, nothing to compare with).
    """

    items: tuple[SequenceByte, ...]
    confidence: float
    num_runs: int
    missing_after: float = 0.0

    @classmethod
    def certain(cls, data: bytes) -> ByteSequence:
        """A sequence without doubt, such as one read from a document."""
        return cls(tuple(SequenceByte(value, 1.0) for value in data), 1.0, 1)

    @property
    def data(self) -> bytes:
        """The bytes alone."""
        return bytes(item.value for item in self.items)

    def __str__(self) -> str:
        text = " ".join(f"{item.value:02X}" for item in self.items)
        return f"{text} ({self.confidence:.1%} from {self.num_runs} run{'s' if self.num_runs != 1 else ''})"

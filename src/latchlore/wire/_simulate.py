"""Transmissions and lossy listeners by pure chance: what merges are measured and calibrated with."""

from __future__ import annotations

import random

KINDS = ("random", "text", "command")
_WORDS = "tide rose at nine and fell again by three while the lamp on the pier was lit every night".upper().split()


def transmission(kind: str, length: int, rng: random.Random) -> bytes:
    """`random` bytes; `text` of words; `command`: escape sequences and runs of 2 to 6 equal bytes (the worst case)."""
    if kind == "random":
        return rng.randbytes(length)
    out = bytearray()
    while len(out) < length:
        if kind == "text":
            out += rng.choice(_WORDS).encode() + rng.choice((b" ", b" ", b" ", b", ", b"\r\n"))
        elif rng.random() < 0.4:
            out += bytes((27, rng.choice((64, 75, 51, 65)), rng.randrange(8)))
        else:
            out += bytes((rng.choice((0, 0, 0, 255, 32, 129)),)) * rng.randint(2, 6)
    return bytes(out[:length])


def heard(sent: bytes, rng: random.Random, *, loss: float, double: float = 0.0, flip: float = 0.0) -> bytes:
    """What a listener writes down that loses, doubles and bends bytes independently of each other."""
    out = bytearray()
    for value in sent:
        if rng.random() < loss:
            continue
        got = value ^ 1 << rng.randrange(8) if rng.random() < flip else value
        out.append(got)
        if rng.random() < double:
            out.append(got)
    return bytes(out)


def heard_in_bursts(sent: bytes, rng: random.Random, *, begin: float, go_on: float) -> bytes:
    """A listener that goes deaf for a while: chance to begin losing, chance to go on."""
    out = bytearray()
    deaf = False
    for value in sent:
        deaf = rng.random() < (go_on if deaf else begin)
        if not deaf:
            out.append(value)
    return bytes(out)

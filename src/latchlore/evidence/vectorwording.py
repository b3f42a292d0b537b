"""Sentences of the test vectors."""

from __future__ import annotations

NO_STROBE = "no vectors: no register bit is known to be the strobe, so nothing tells when a byte is handed over"
EACH_LINE_NAME = "each data line"
EACH_LINE = (
    "made up: each data line by itself, then all low, all high and every second one, at the least times of the host's "
    "handshake; this program need not send these bytes"
)
MANY_READS = "the run was ended: the program only reads, and waits for another device"
MANY_BYTES = "the run was ended after enough bytes"


def always_ready(entry: str) -> str:
    """A vector at full speed."""
    return f"the program from {entry!r}, with a stand-in that is always ready: as fast as this host can send"


def held_off(entry: str) -> str:
    """A vector at the limit."""
    return f"the program from {entry!r}, with a stand-in that holds it off from the last moment allowed on"


def answer(line: str, level: int, after: int, lasts: int) -> str:
    """What a line does after each strobe."""
    return f"; {line} is {('low', 'high')[level]} from {after} to {after + lasts} cycles after the strobe's first edge"


def no_data(entry: str) -> str:
    """A routine that sends nothing."""
    return f"{entry!r}: no path from there writes the data"


def no_way(entry: str) -> str:
    """No path sends."""
    return f"{entry!r}: no path was found that sends with the idle status byte"


def sends_nothing(entry: str, ends: str) -> str:
    """A run that sent nothing."""
    return f"{entry!r}: the program sent nothing ({ends})"


def overrun(entry: str, cycle: int) -> str:
    """A run in which the host sent into a busy stand-in."""
    return f"{entry!r}: a byte came at cycle {cycle} while the stand-in was busy; the vector is not given out"


def differs(entry: str) -> str:
    """A run that sent other bytes than were logged."""
    return f"{entry!r}: the run sent other bytes than the log holds; the vector is not given out"

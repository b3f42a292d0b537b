"""Sentences of the stand-in's specification, and the cautions beside its steps."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.evidence._table import Standing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import Span, SpanLimit, SpanRange

NO_PROGRAM = "no program was heard: what the host asks of a stand-in is not known; name an image and its entries"
NO_DATA = "no register is known to carry the data; trace the board, or state a role `data`"
NO_STATUS = "no status register decides whether a driver sends: as far as was followed, the host asks nothing"
NO_CLOCK = "no clock is stated: times are in cycles only"
NO_STROBE = "no program shows how wide the strobe is."
NO_LATCH = "no program shows how long the data stand around the strobe."
ENTERED_ANEW = (
    "  That is the routine entered anew at once: its return, and what its caller does in between, come on top."
)
NO_PERIOD = "how often the host looks is not known."
NO_PULSE_ASKED = "whether the host looks for an acknowledge is not known."
NO_TIMES = "no time was measured on the wire: all times are the program's own cycles, and the documents' figures"

LEVELS = ("low", "high")

CAUTIONS = (
    (
        "Before the stand-in meets the machine",
        "Run every vector against it with a pattern source and a second supply, the machine nowhere near.  Nothing "
        "irreplaceable is connected before every vector passes and every pin was compared (`latchlore board mate`).",
    ),
    (
        "Before it is plugged in",
        "Both sides off, mains plugs out, supply capacitors measured empty; pin 1 found on both sides; the grounds "
        "joined first; a grounded wrist strap.  Plug and unplug without power only.",
    ),
    (
        "Before it is powered",
        "Lines of this age are 5 V logic: a controller of 3.3 V needs level shifters both ways.  It drives only the "
        "lines that this page says are its own; a stand-in that drives the host's outputs burns one of the two.  "
        "Supply it by itself, with a current limit, and never feed the machine through its signal pins.",
    ),
    (
        "When the machine is on",
        "Mains and tube voltages are left to licensed practice and your local codes.",
    ),
)
"""(Before which step, what to mind); *common practice*."""

_SETTLE = {
    "strobe": ("a capture of the strobe while the program sends",),
    "latch": ("a capture of the strobe and one data line while the program sends",),
    "rate": ("a capture of the strobe over many bytes",),
    "hold off by": ("a capture of strobe and answer at a pair that works, or a trial with this stand-in's vectors",),
    "no look": ("state the role of the line, or follow the paths that are left open",),
    "ready": ("a capture of the line while the program waits for it",),
    "patience": ("hold the line for longer with a stand-in, and see whether the host gives up",),
    "blind": ("a capture of the strobe over many bytes",),
    "pulse": ("look whether anything behind the acknowledge pin leads to the host (a meter, power off)",),
}


def stand_in_cautions() -> tuple[tuple[str, str], ...]:
    """(Before which step, what to mind), in the order of the steps."""
    return CAUTIONS


def settle(key: str, standing: Standing) -> tuple[str, ...]:
    """What would settle a demand; nothing where it is agreed."""
    return () if standing is Standing.AGREED else _SETTLE.get(key, ())


def repair(subject: str, words: str) -> str:
    """A way out of a contradiction that a demand rests on."""
    return f"{subject} is contradicted; it ends where {words}"


def not_followed(entry: str) -> str:
    """A driver of which not everything is known."""
    return f"not every path from {entry!r} was followed: another one may ask more"


def _time(cycles: int, time: Span | None) -> str:
    count = f"{cycles:,} cycle{'s' * (cycles != 1)} of the host's clock"
    return count if time is None else f"{time} ({count})"


def more_repairs(subject: str, count: int) -> str:
    """Ways out that are not named here."""
    return f"{count} more way{'s' * (count > 1)} out stand in the table at {subject}"


def take_strobe(level: int | None, width: str) -> str:
    """How wide a strobe is."""
    at = "its level is not known" if level is None else f"{LEVELS[level]} at the pin"
    return f"the host's strobe is a pulse of {width}, {at}."


def latch(before_first: str, after_first: str, before_second: str, after_second: str) -> str:
    """What a latch finds at either edge."""
    return (
        f"taken at the strobe's first edge, the data stand {before_first} before it and {after_first} after it; at its "
        f"second edge, {before_second} before and {after_second} after.  These are the least times, as the host writes "
        f"its registers; delays of its gates are not in them."
    )


def latch_open(before_first: str, before_second: str) -> str:
    """What a latch finds where nobody knows when the next byte comes."""
    return (
        f"taken at the strobe's first edge, the data stand {before_first} before it; at its second edge, "
        f"{before_second} before.  How long they stay is up to whoever sends the next byte: no path followed here "
        f"writes a second one."
    )


def rate(least: Span) -> str:
    """How fast bytes can come."""
    return f"not sooner than {least} from strobe to strobe, where the stand-in never holds the host off."


def hold_off(signal: str, level: int, cycles: int, time: Span | None) -> str:
    """By when a line must be there."""
    return (
        f"{signal} must be {LEVELS[level]} no later than {_time(cycles, time)} after the strobe's first edge: then the "
        f"host looks for the first time at the soonest, and sends the next byte if it is not."
    )


def stated_limit(stated: Span, by: Span) -> str:
    """What documents say beside it."""
    if stated <= by:
        return f"  The documents' devices did it within {stated}, which is soon enough."
    return f"  The documents only say within {stated}, which is too late for this host."


def measured_answer(most: Span) -> str:
    """What was seen on the wire."""
    return f"  On the wire it came {most} behind the strobe at the latest."


def never_looks(signal: str) -> str:
    """Nobody looks behind a strobe."""
    return f"no path was found on which the host looks at {signal} after a byte: it cannot be held off by it."


def blind(signal: str, cycles: int, time: Span | None) -> str:
    """Strobes without a look."""
    return (
        f"on some paths the next byte comes without a look at {signal}, {_time(cycles, time)} after the one before at "
        f"the soonest: the stand-in must take it, ready or not."
    )


def stay_ready(signal: str, level: int, cycles: int, time: Span | None) -> str:
    """How long a line must let the host go on."""
    return (
        f"once {LEVELS[level]}, {signal} must stay so until the next strobe, or for at least {_time(cycles, time)}: as "
        f"long as the host takes from look to look; a shorter time may fall between two looks."
    )


def patience(signal: str, cycles: int, time: Span | None) -> str:
    """How long a host waits."""
    return f"a host that waits for {signal} gives up {_time(cycles, time)} after its first look, at the soonest."


def pulse(signal: str, level: int, cycles: int, time: Span | None) -> str:
    """How wide a pulse must be."""
    return (
        f"{signal} must be {LEVELS[level]} for at least {_time(cycles, time)}: as long as the host takes from look to "
        f"look; of a shorter pulse it sees the share that its width is of that time."
    )


def pulse_begins(cycles: int | None, time: Span | None) -> str:
    """When the pulse may begin."""
    if cycles is None:
        return "  When the host begins to look has no upper bound: hold the pulse until the next strobe, or latch it."
    return f"  It must not end before {_time(cycles, time)} after the strobe's first edge, when the host looks at last."


def seen(stated: SpanLimit | SpanRange, how: str) -> str:
    """Whether a stated width is seen."""
    return (
        f"  Of a pulse of {stated}, as stated, the host sees {'every one' if how == 'always' else 'some, by chance'}."
    )


def no_pulse(names: Sequence[str], *, is_wired: bool, is_done: bool) -> str:
    """No loop waits for an acknowledge."""
    of = f" ({', '.join(names)})" if names else ""
    wired = "" if is_wired or not names else ", and no register bit was found to carry it"
    said = "no path waits for an acknowledge" if is_done else "no path followed so far waits for an acknowledge"
    return f"{said}{of}{wired}: its width is not asked for by this host."


def pulse_stated(values: Sequence[SpanLimit | SpanRange]) -> str:
    """What documents say about a pulse that nobody looks for."""
    return f"  Stated: {'; '.join(dict.fromkeys(str(value) for value in values))}." if values else ""


def unwired(signal: str) -> str:
    """A line that the card does nothing with."""
    return f"{signal}: no register bit was found to carry it"


def unread_bits(register: str, bits: Sequence[str]) -> str:
    """Bits that no path looks at."""
    return f"{register} bit{'s' * (len(bits) > 1)} {', '.join(bits)}: no path looks there"


def still(signal: str, level: int, *, is_done: bool) -> str:
    """A control line that is never moved."""
    where = "no path" if is_done else "no path followed so far"
    return f"{signal}: {where} ever makes its pin {LEVELS[1 - level]}, so what follows is not known from this host"


def unsent(document: str, commands: Sequence[str]) -> str:
    """Commands that are never sent."""
    return f"of {document}, no path ever sends {', '.join(commands)}"


def untold(document: str, commands: Sequence[str]) -> str:
    """Commands of which it cannot be told."""
    return f"of {document}, it cannot be told whether {', '.join(commands)} are ever sent"


def unlogged(names: Sequence[str]) -> str:
    """Routines whose bytes were never seen."""
    return f"no log shows what was sent by {', '.join(repr(name) for name in names)}"

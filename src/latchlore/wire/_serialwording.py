"""Sentences about serial lines."""

STATED = "stated"
NO_EDGES = "line {line!r} has {count} edges: nothing was sent in this capture, or it is not the line"
IDLE = "its longest stretch is {level} ({most}); the longest other way is {other}"
NO_BIT_TIME = (
    "the edges of line {line!r} keep no common bit time (they lie {spread:.0%} of a bit beside whole bits): "
    "not asynchronous serial, or several rates in one capture"
)
TOO_SLOW = (
    "line {line!r} is sampled every {step}, which is too slow for bits of {bit}; take at least {least} samples a bit"
)
NO_FRAMES = "line {line!r} has no frame: no start bit after a resting line"
UNDECIDED = "undecided between {best} (shown) and {others}: not enough was sent to tell them apart"
UNDECIDED_SAME = "undecided between {best} (shown) and {others}: the bytes are the same either way"
PARITY_WRONG = "{count} of {num} bytes have a wrong parity bit"
STOP_WRONG = "{count} of {num} bytes have no stop bit where one must be"
NO_TIME = "a bit lasts longer than nothing, not {bit}"
FITS_BETTER = "{stated} is stated, but the line fits {best} better (by {lead:.0f} bits of surprise)"
RESTS_OTHERWISE = "the line may rest at the other level than stated: {why}"
LASTS_OTHERWISE = "a bit is stated to last {stated}, but the edges fit bits of {found}"
NO_FRAME_LENGTH = (
    "most stretches of line {line!r} are far longer than its shortest ones: not asynchronous serial, or too many "
    "glitches; state the bit time"
)
CROWDED = (
    "{count} of {num} bytes lie among so many without a stop bit that bit time or framing are others there, or it is "
    "no such line"
)
GLITCHED = "{count} of {num} bytes hold a pulse of less than a quarter of a bit, which may have bent them"
UNREAD = "{count} of {num} bytes were not recorded whole: the capture ends or the line has no level within them"
OUT_OF_STEP = (
    "the capture begins less than a byte's length before the first edge, so it may begin within a byte: the first "
    "{count} of {num} bytes may be out of step; from there on reading from any edge gives the same"
)
RATE = "{rate:.0f} bits/s, {off:+.1%} from the usual {nearest}"
RATE_ODD = "{rate:.0f} bits/s, no usual rate (the nearest is {nearest})"

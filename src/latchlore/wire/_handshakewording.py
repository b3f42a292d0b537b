"""Sentences about handshakes."""

DATA_COUNT = "a parallel port has 1 to 8 data lines, not {count}"
ACTIVE_LEVEL = "an active level is 0 or 1, not {level!r}"
LINE_TWICE = "line {name!r} is named twice"
NO_SUCH_BIT = "{file}: channel {name!r} has no bit {bit}; its lowest is {lowest}, its highest {highest}"
NO_BITS = "{file}: channel {name!r} is no bus, so it has no bit {bit}"
NO_LINE = "{file}: channel {name!r} is no single line but carries a {kind}"
WIDE_DATA = "{file}: channel {name!r} has {width} bits; a data port has 8 at most"

STATED = "stated"
NEVER_MOVES = "the line never leaves one level"
BY_SHARE = "it is {level} for {share:.1%} of the time only"
EVEN_SHARE = "it is high for {share:.0%} of the time: neither level is the rare one"
NO_MOMENTS = "no strobe at which its level is clear"
BY_IDLE = "it is {level} when a strobe begins, {count} times of {num}"
UNSTEADY = "it is high at {high} of {num} strobes: not ready at some of them, or no busy line"

LATCH_SAME = "the data is the same at both edges of every strobe"
LATCH_BUSY = "busy follows the leading edge while the strobe still lasts, {count} times of {num}"
LATCH_MOVES = "the data moves at the {edge} edge of {count} strobes of {num} and never at the other"
LATCH_STILL = (
    ", though every published figure has it stand for {still} at least on either side of the edge that takes it"
)
LATCH_OPEN = (
    "data changes inside {count} strobes of {num} and nothing in the capture tells which edge counts: "
    "state the edge, or capture the busy line"
)
SHIFTED = "read by the other edge the bytes are the same, one place later"

EXACT = "the file records every change"
WIDE_ENOUGH = "each strobe, and each pause between two, spans two samples or more, so none falls between samples"
BETWEEN = "strobes of one width were seen on one sample and on two, so each is wider than a sample"
BY_CYCLES = "each of {count} cycles of the {line} line has its strobe, or was counted without it"
TOO_SLOW = (
    "strobes are seen on one sample only ({count} of {num}): at a sampling period of {step} some may fall between "
    "samples, so bytes may be missing anywhere; sample at {wanted} or faster"
)
NO_STROBE = "no whole strobe is in the capture: too slow to tell, or the wrong line"
NOTHING_SENT = "no whole strobe is in the capture: nothing was sent, or it is the wrong line"
NO_STROBE_TELLS = "no whole strobe is in the capture, so none shows which"
LEVEL_OPEN = (
    "the data moves inside strobes, and the strobe's level is told by nothing but its being the rarer one, so that "
    "either edge may begin it: state that level"
)
PAUSES_COUNTED = "if the strobe has the other active level, pauses were read for strobes"
NOT_RECORDED = "nothing was recorded for {span} in all"
BREAKS_OFF = "the file breaks off, so what came after is not known"
CUT_STROBE = "one strobe is cut by the begin or the end of what was recorded, and its byte is left out"
CUT_STROBES = "{count} strobes are cut by the begin or the end of what was recorded, and their bytes are left out"
INFERRED = "{count} bytes have no strobe in the capture and were counted by the {line} line"
RINGING = (
    "{count} strobes follow another so soon, the data standing still, that they look like ringing and were left out"
)
RINGING_SURE = "; the {line} line answers once for both"
RINGING_OPEN = "; without a busy or acknowledge line a true double cannot be ruled out"
DOUBTFUL = "{count} of {num} bytes have bits that cannot be told: data moves within one sampling period of the edge"
IN_EACH = "{why} (the first of {count} stretches that the capture was read in; the others alike)"

"""Sentences about what lines may be."""

NO_STROBE = "no line pulses as a strobe does, shortly after others have moved: state what the lines are"
NO_STROBE_PARTS = (
    "no line pulses as a strobe does, shortly after others have moved, in the parts looked at of this long "
    "capture (up to {count} of each line): state what the lines are"
)
PARTS = (
    "the capture is long: what the lines are was judged by {count} parts spread over it, {seen} of {num} pulses of "
    "{name}; what each line does was counted over all of it"
)
STROBE = "{name} may be the strobe: it pulses {count} times, each time shortly after the data has moved"
BUSY = "{name} may be busy: it answers every strobe once, for {width}"
ACK = "{name} may be the acknowledge line: it answers every strobe once, for {width}"
DATA = "{count} lines may be data, moving between strobes and standing still during them: {names}"
NONE = "none"
REST = "not placed: {names}"
ORDER_NAMES = "data lines in the order of the numbers in their names, D0 first: {names}"
ORDER_BUS = "data lines in the order of the bits of {name}, D0 first: {names}"
ORDER_TEXT = "data lines in the order that makes text of them, D0 first: {names} ({lead:.0f} nats ahead)"
ORDER_OPEN = "the order of the data lines cannot be told; likeliest, D0 first: {names} ({lead:.0f} nats ahead)"

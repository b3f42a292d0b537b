"""Sentences about listeners."""

UNEQUAL = "a host's times are as many puts as strobes and widths, and not none: {counts}"
RISING = "strobes come one after the other; these do not rise"
NEGATIVE = "the {name} of a listener is not negative: {value}"
DEPTH = "a listener remembers 0 to 4096 strobes and its jitter has a shape of 1 to 20, not {depth} and {shape}"
READS = "a listener reads the port before it is ready again: reads after {reads}, ready after {service}"
FIGURE = "a figure of a listener is latency, service, jitter or turn, not {figure!r}"
EMPTY_SEARCH = "no listener to weigh: the service time {service} ends before the moment of reading, {reads}"
INDEX = "a run holds indices of bytes sent, 0 to {last}, not {index}"
TOO_SURE = (
    "Of a listener that remembers strobes these intervals are somewhat too narrow: in 27 simulated cases those of 90 % "
    "held the true latency and the true service in 78 % each, their sum in 85 %."
)
NO_BETTER = (
    "no listener was found that explains these runs better than losses and doubles by pure chance do, so what follows "
    "tells nothing: try another depth, see that the pace and the number of bytes are the ones sent, and that byte k "
    "has the value k"
)
POLLER = (
    "a polling listener looks every 1 ps or more and reads before it looks again: "
    "looks every {period}, reads after {reads}, ready after {service}"
)
WEIGHING = "weighing listeners"
NO_PREDICTION = "holds no chances of missing bytes; print them with 'latchlore wire listener ... --json'"
NO_CHANCE = "the chance of missing byte {index} is a number from 0 to 1, not {value!r}"
EVEN_PACE = "a strobe every {pace}"
SWEPT_PACE = "pauses of {pauses} by turns"

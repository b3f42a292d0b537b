"""Sentences about merges."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.base import EventOrder

SINGLE = "one run only: there is nothing to compare it with, so losses and doubles in it cannot be seen"
SINGLE_HEARD = (
    "only one run heard anything: there is nothing to compare it with, so losses and doubles in it cannot be seen"
)
NOTHING_HEARD = "no run heard anything: whether anything was sent cannot be told"
EMPTY_RUNS = "{runs} heard nothing at all and took no part"
TWO = "two runs cannot tell a loss from a double: a byte that only one of them holds may be either"
NOT_ALIKE = "the two runs share only {share:.0%} of their bytes in order; they may be two different transmissions"
OUTLIER = (
    "run {run} shares only {share:.0%} of its bytes in order with the result of the others;"
    " it looks like another transmission"
)
OTHER_KIND = (
    "{runs} share only {least:.0%} to {most:.0%} of their bytes in order with the result, and more with each other:"
    " they look like another transmission, to be merged by themselves"
)
AS_MANY = "; as many runs are of each, and nothing here tells which one was meant"
LOOSE = (
    "the result does not explain {shown}: never sent (a slip in the log, noise), or sent and lost by all the other runs"
)
LOOSE_ONE = "{value:02X} of run {run} {place}"
AT_FRONT = "before all others"
STILL = (
    "line {line} is {level} in every byte of the result: never used, or stuck at the listener in all runs, which a"
    " merge cannot tell"
)
TOGETHER = (
    "lines {first} and {second} are equal in every byte of the result: so sent, or bridged in all runs, which a merge"
    " cannot tell"
)
FULL = (
    "all runs hold exactly {size} bytes although bytes are missing inside them: the log of each ends with a full"
    " buffer, and what follows byte {last} is known less and less"
)
EARLY = "run {run} stops after byte {column} of {length}"
EARLY_ALL = "{runs} all stop after byte {column} of {length}: something ended them there"
UNEVEN = (
    "bytes are not equally likely to be lost; a byte that is lost in over 80 % of the runs may be missing from the"
    " result"
)
BURSTS = "losses come in bursts: right after a loss the odds of the next are {burst:.1f} times as high"
STUCK = "line {bit} is read as {read} in {rate:.0%} of the cases when it is {level}"
REPEATS = "numbers of equal bytes can only be counted: {shown}"
MORE_RUNS = "about {more} more run{s} like these would settle order and counts (99 %)"
MANY_RUNS = "more runs alone will hardly settle it; log times, or slow the host down"
KNOWN = "the chance of missing each of the {num} bytes sent was given, and was used"
KNOWN_ABSENT = (
    "the chance of missing each of the {num} bytes sent was given, and was used; no run can be expected to hold"
    " {count} of them (counted from 0: {shown}), so the result lacks them"
)
NOT_KNOWN = (
    "the runs do not fit the given chances of missing each of {num} bytes (another host, another listener, or too few"
    " bytes); they were merged without them"
)
METHOD_SINGLE = "one run, as logged"
METHOD_MERGE = "the most probable sequence of {num} runs under a model of losses, doubles and line errors"
LOSSES = "{loss:.1%} of the bytes are lost, {double:.2%} doubled"
METHOD_OUTLIER = "likelihood of the run under the merge of the others, against bytes of no relation"
METHOD_READ = "read from the file's own header lines, or concluded from all its numbers"

CAPTURE_NUMBERS = "read from the lines of a capture"
CAPTURE_COMPLETE = {
    True: "no byte is missing: {why}",
    False: "bytes may be missing: {why}",
    None: "whether bytes are missing cannot be told: {why}",
}
CAPTURE_SERIAL = "asynchronous serial, {framing}, {rate}"
METHOD_CAPTURE = "read from the strobe, answer and data lines of a capture"
METHOD_FIGURE = "measured between edges of a capture, from the shortest to the longest"
FIGURE_NOTE_EXACT = "{count} times"
FIGURE_NOTE = "{count} times; each open by {slack} either way"

ONE_RUN = "the run of line {line}"
WHOLE_LOG = "the whole log"
METHOD_ORDER = "each pair of moves compared at every strobe of the capture that tells it"
WHOLE_CAPTURE = "the whole capture"


def order_note(num: int, order: EventOrder) -> str:
    """How many strobes there were, how many of them tell each pair at least, and what was not always kept."""
    said = [f"{num:,} strobe{'s' * (num != 1)}"]
    if order.counts:
        said[0] += f", each pair told by {min(one.kept + one.against for one in order.counts):,} of them at least"
    said += [
        f"{one.first} before {one.second} in {one.kept:,}, the other way in {one.against:,}"
        for one in order.counts
        if one.against
    ]
    return "; ".join(said)

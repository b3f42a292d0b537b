"""Sentences of tracing."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from latchlore.board._board import PinAt
    from latchlore.board._trace_guide import Proposal

RULES = {
    "apart": "{first} and {second} were read apart, but other readings join them",
    "outputs": "two outputs, {first} and {second}, stand in one net",
    "rails": "ground ({first}) and supply ({second}) stand in one net",
    "rail output": "output {second} stands in the net of supply pin {first}",
    "unlikely": "{first} and {second} were read joined, which does not fit what they are",
}

SUPPLY = "supply pins first"
FIND = "likeliest to find joints"
STRIP = "a strip across one side tells which pins have anything to do with it"
AGAIN = "read again: {rule}"
CONFIRM = "the joint {first} to {second} hangs on the number of {pin} alone; this confirms it from the other end"
DONE = "nothing likely is left to be read"

ONE_READING = "joint {first} to {second} hangs on one reading"
ONE_NUMBER = (
    "joint {first} to {second} hangs on the number of {pin}, typed each time; hold {pin} and read it from there"
)
UNLIKELY = "joint {first} to {second} is likely to {share:.1%} only"
READ_APART = "joint {first} to {second} was also read apart"
NOT_SURE = "joint {first} to {second} is likely to {share:.0%} only and was not used; read it again"
NOT_BELIEVED = "{first} and {second}: {kind} read, kept and not believed as a joint"
NO_DRIVER = "no pin that could drive the net of input {first} has been found"
ALONE = "nothing has been found that {first} is joined to"
BUS_ALONE = "{alone} of the {lines} data lines of {owner} were found joined to nothing; this one may be cut short too"
BUS_APART = "{count} lines between {owners}, with outputs that take turns, were found joined to nothing of the host"
STILL_LIKELY = "may still be joined to {second} (likelihood {share:.0%})"

BEFORE = "Before a probe touches the board:"
CAUTIONS = (
    "the machine is off, unplugged, and the board out of it or all its cables off; batteries on the board are out;",
    "the supply pins are measured first and show no voltage; large capacitors are discharged through a resistor;",
    "the meter is on a range that puts less than 0.3 V on its probes (a low-voltage continuity or low-ohms range), "
    "so that junctions are not taken for joints and old chips not stressed;",
    "you wear a wrist strap: a strip of foil and a probe carry static into the most delicate pins.",
)
DEFERS = "Mains, picture tubes and anything that keeps a charge are left to licensed practice and your local codes."

HEADER = "{taken} read, about {left} to go, about {missing:.1f} joints not found yet"
HOLD = "Hold {held}, drag along {owner} pins {row}."
TOUCH = "Hold {held}, touch {other}."
PRESS = "Press a strip of foil on {strip} (touch each pin once: all must beep), drag along {owner} pins {row}."
STILL = "The strip stays on {strip}; drag along {owner} pins {row}."
NOTHING_LEFT = "Nothing likely is left to be read; what has not been read may still be joined."

SECTION = "{owner} pins {pins}: not done {left}"
ALL_DONE = "every section has been read as far as it is likely to matter"
CULPRIT = "{words}; likeliest wrong: {first} to {second}{places}"
JOINT = "{first} to {second}: {share:.1%}{unused}"
UNUSED = ", not used"
MOST_TYPES = 6
WORTH_NAMING = 0.05
"""A pin is named as likely to beep from this likelihood on."""

TYPES = "{name}: {types}"
NO_TYPE = "none of the catalogue"
ASIDE = "Kept and not believed as a joint: {count} readings of a resistance or a junction"


def describe_progress(taken: int, left: int, missing: float) -> str:
    """How many readings there are, and about how much is left."""
    return HEADER.format(taken=taken, left=left, missing=missing)


def describe_action(asked: Proposal, strip: tuple[PinAt, ...] = ()) -> str:
    """The next action in words; `strip` are the pins on which a strip of foil lies already."""
    if asked.held is None:
        return NOTHING_LEFT
    if asked.strip:
        form = STILL if asked.strip == strip else PRESS
        owner, row = asked.strip_row.split(" ", 1)
        return form.format(strip=f"{owner} pins {row}", owner=asked.owner, row=asked.row_word)
    if len(asked.row) == 1:
        return TOUCH.format(held=asked.held, other=asked.row[0])
    return HOLD.format(held=asked.held, owner=asked.owner, row=asked.row_word)

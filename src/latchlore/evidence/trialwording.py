"""Sentences about rivals and trials, and the caution that belongs to each kind of trial."""

NO_WEIGHTS = "weights are numbers from 0 up, not all of them 0: {numbers}"
ROWS = "a table of chances has one row a rival: {rows} rows, {rivals} rivals"
COLUMNS = "a row has a chance for each of two outcomes or more, as many as the first row: {row}"
NOT_ONE = "the chances of a row are 0 to 1 and add up to 1: {row}"
NO_OUTCOME = "there is no outcome {outcome} among {outcomes}"
SURE = "how sure one is of an outcome is a number from 0 to 1, not {sure}"
IMPOSSIBLE = "no rival allows what was seen"
COST = "a trial costs more than nothing, not {cost}"
TIMES = "a trial is done once or more, not {times} times"
AHEAD = "a plan looks one trial ahead or more, not {ahead}"

FACTS = "{bits:.3f} bits to be expected for {cost:g} {unit}, {worth}."
WORTH_ALONE = "{worth:.3g} for each"
WORTH_PLAN = "with what is best to follow it {plan:.3f} bits for {cost:.3g} {unit}, {worth:.3g} for each"
CANNOT = (
    "No trial at hand can decide it: whatever all of them show, {best!r} reaches {most} at most, and {enough} are "
    "needed."
)
CAN = "All trials at hand together decide it with a chance of {chance}, if their outcomes are sure."
MAY = "Whether the trials at hand can decide it was not looked through: they can come out in {ways} ways."
DECIDED = "Decided: {rival!r} has {share}; {enough} are enough."
OPEN = "Open: {bits:.3f} bits are not known; {enough} for one rival are enough."
SURPRISE = "What was seen was given {foreseen} only: before the weights are trusted, look for a rival that is missing."
SURPRISING = 0.05
NO_TRIALS = "No trial is left to be done; a new one is needed."
NONE_TELLS = "No trial at hand tells the rivals apart as they stand; another kind of trial is needed."

_DEFERS = "Mains and tube voltages are left to licensed practice and your local codes."

HAZARDS = {
    "power-off": "power off",
    "reading": "powered, reading only",
    "writing": "powered, writing",
    "precious": "something precious is connected",
}
"""Key of a hazard → what it is called; the harmless first."""

CAUTIONS = {
    "power-off": (
        "Machine off, unplugged, batteries out; supply pins measured without voltage and large capacitors discharged "
        f"through a resistor before a probe touches anything; the meter's low-voltage range; a wrist strap.  {_DEFERS}"
    ),
    "reading": (
        "Clips go on and come off with the power off; ground first, and only to the machine's own ground; a probe that "
        "slips joins two pins; the instrument's inputs must stand the levels that are there (measure them first).  "
        f"{_DEFERS}"
    ),
    "writing": (
        "A write can start motors, heads and hammers, wipe what is stored, or set two outputs against each other: "
        "copies are made first, only addresses and values that are stated are written, hands stay clear, the switch "
        f"within reach.  {_DEFERS}"
    ),
    "precious": (
        "Nothing irreplaceable is plugged in before the supply and every pin have been measured with the plug open, "
        "the pin map holds in every way it can be plugged (`latchlore board mate`), and a stand-in has done the same "
        f"trial; plug and unplug with both sides off; a current limit on the supply.  {_DEFERS}"
    ),
}
"""What everyone is told before a trial of this hazard; *common practice*."""

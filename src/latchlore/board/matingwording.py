"""Sentences about two connectors put together, and the cautions that belong to it."""

from __future__ import annotations

# --- what is not known of one side, and the reading that would tell ---

NOT_TRACED = "nothing is known of {at}"
READ_PIN = (
    "power off, measure from {at} to ground, to the supply and to the pins of the chips near the connector; write down "
    "what joins it, or open {at}"
)
READ_PINS = (
    "power off, measure each of them to ground, to the supply and to the pins of the chips near the connector, and "
    "write down what joins it; {done} says of a connector whose every joint is traced that its other pins are open"
)
BEHIND = "{at} stands on the line, and what it does is not known"
READ_PART = "read the marking of {at}, or trace what is behind it"
STRAP = "the position of strap {at} is not known"
READ_STRAP = "look at strap {at} and state it"

FAR = "far "
"""Before names of the other side where both sides have a name alike."""

# --- findings ---

SUPPLY_GROUND = "the supply of {supply} ({volts}) meets ground at {ground}: a short"
SUPPLIES_DIFFER = "supplies of {first} and {second} meet"
SUPPLIES_BOTH_FEED = "two supplies of {volts} feed one another; the one that is off is fed by the other"
SUPPLIES_BOTH_TAKE = "both sides take their supply from the other here; nobody feeds"
SUPPLY_FLOW = "supplies of {volts} meet, and it is not stated which side feeds and which takes"
READ_FLOW = (
    "apart from each other, one machine on at a time with a current limit: measure which side has {volts} at this pin; "
    "then write: volts {at} {number} feeds"
)
SUPPLY_VOLTS = "the voltage of {at} is not known"
READ_VOLTS = (
    "apart from the other machine, with a current limit: measure {at} against ground; then write: volts {at} VOLTS"
)
SUPPLY_SIGNAL = "the supply of {supply} ({volts}) meets the signal {signal}: {what}"
TIED_FIGHTS = "{driver} pulls low against {tie}, which is tied to the supply"
GROUND_FIGHTS = "{driver} is shorted to ground at {ground} {when}"
WHEN_HIGH = "whenever it is high"
WHEN_ENABLED = "whenever it is enabled and high"
UNLESS_COLLECTOR = "whenever it is high, unless it is an open collector"
NO_GROUND = "no ground meets a ground: currents return through signal pins, and no level means anything"
FIGHT = "two outputs drive one line: {first} and {second}{when}"
FIGHT_ENABLED = ", whenever {which} is enabled"
FIGHT_UNLESS = ", unless both are open collectors"
MAY_FIGHT = "{first} and {second} can both drive the line; nothing stated keeps them from doing so together"
READ_ENABLE = "find what enables {first} and what enables {second}, and capture both while the two machines talk"
FAMILY = "the levels of {at} are not known: its family is not"
READ_FAMILY = "read the marking of the part at {at} (power off), and state it: levels {pin} FAMILY"
OVER_VOLTS = "{at} stands {most} and the line may rise to {volts}"
OVERLOAD = "{driver} has to sink {need}, and {most} is what is guaranteed"
WEAK_HIGH = "{driver} has to give {need} high, and {most} is what is guaranteed"
LOW_FAILS = "low is not sure: {driver} guarantees {level} or less, {load} needs {wanted} or less"
HIGH_FAILS = "high is not sure: {driver} guarantees {level} or more, {load} needs {wanted} or more"
RELIES = (
    "high relies on the pull-up of {ohms}: {driver} by itself guarantees {level} only, and {load} needs {wanted}; the "
    "resistor lifts the line to {lifted}, more slowly than the output would"
)
RELIES_LOAD = "low, the pull-up adds {extra} to what the output sinks"
NO_PULL_UP = "{driver} is an open collector and no pull-up is on the line: it never goes high for sure"
PULL_UP_FAILS = "the pull-up of {ohms} brings the line to {level} only, and {load} needs {wanted}"
PULL_UNKNOWN = "the value of the pull on the line is not known"
READ_PULL = "power off, read or measure the resistor at {at}"
FLOATS = "{loads} left floating{what}"
FLOATS_BIPOLAR = ": such an input mostly reads high, and picks up noise (common practice)"
FLOATS_MOS = ": such an input reads anything and may draw current"
FLOATS_OFF = "the line floats while {drivers}"
NOT_ENABLED = "{drivers} is not enabled"
NONE_ENABLED = "none of {drivers} is enabled"
RESTS = "nobody drives {loads}; a pull holds it {level}"
HELD = "{signal} is held {level} for good by {tie}{meaning}"
HELD_TRUE = ": it is always true"
HELD_FALSE = ": it is never true"
HELD_COLLECTOR = "{driver} cannot be seen: the line is held low for good by {ground}"
CURRENT_UNKNOWN = (
    "the input current of {load} is not stated: low it may give up to {low}, high it may take up to {high}"
)
READ_CURRENT = "look up the input currents of {load}, or measure them at the pin with the supply limited"
OUT_OF_RANGE = "the limits of {at} hold from {least} to {most}, and its supply is {volts}"
NO_POINT = "{at} has no stated {what} level"
NO_CONTACT = "no pin meets a pin: contacts of one lie between those of the other, and what touches cannot be told"
READ_NO_CONTACT = "do not push; find the key or the shell that decides how they go together"


# --- what cannot be computed ---

MISSING_FACE = (
    "the layout of {name} is not stated, so what happens mirrored, upside down or shifted there has not been computed; "
    "write: face {name} rows seen mating"
)
MISSING_SEEN = (
    "from where the pins of {names} were numbered is not known, so it cannot be told which of these ways is the right "
    "one; {reading}"
)
READ_SEEN = (
    "look at the mating face of {name}, power off: is the {which} place of row {row} joined to {what}?  A joint there "
    "means that pin {number} is at the left and the numbers run from the left; none, and one at the other end of the "
    "row, that they run from the right"
)
READ_SEEN_BY_EYE = "find pin 1 on both connectors, and write from where it was seen: face {name} LAYOUT seen mating"

BOUNDS = (
    "Computed for both machines switched on, from the limits of the families at the supplies stated; not for one of "
    "them switched off, nor for the moment of plugging, nor for edges, noise and the length of a cable."
)
BOUND_OFF = (
    "{title} has MOS inputs that the other side drives: switched off by itself it may be fed through them (common "
    "practice); switch both on and off together."
)
BOUND_SUPPLY = "The supply of {title} is not stated; {volts} was taken (common practice of TTL boards)."
BOUND_TRACED = "{title}: {count} part pins are not traced; what they would join is not counted."
BOUND_LOADS = "Each input counts with the current of its family; inputs that take more are not told apart."
BOUND_MEMORY = "Figures from memory behind it: {names}."
BOUND_VIEW = "Rows are taken to be listed with the same side up on both connectors."

CAUTIONS = (
    "Power off on both sides, mains plugs pulled, capacitors empty, before anything is put together or taken apart; "
    "never with the power on.",
    "Measure every supply pin of both machines first, apart from each other, against ground.",
    "Switch on for the first time with a current-limited supply, and the limit low.",
    "Find pin 1 on both halves.  A plug that fits proves nothing, and neither does a drawing whose side nobody noted.",
    "Mains parts, tube voltages and charged capacitors are work for licensed practice and the local codes, not for "
    "this page.",
)

METHOD = "every pin of the two connectors put against its partner, levels and currents by family"
NO_WRONG_WAYS = "no wrong way has been computed"
BY_PULL = " (high by the pull-up)"

OWN_MATE = "a mating is stated in the file of the other side, in mating/, not in the board's own"
NO_MATE = "the file states no mating; write: mate CONNECTOR CONNECTOR-OF-THE-BOARD"
NO_PIN = "the cable leads to pin {pin}, and {name!r} of the board has pins 1 to {size}"

HARM_WORDS = {
    "unsafe": "UNSAFE",
    "cannot be told": "cannot be told",
    "safe": "safe",
}
WORKS_WORDS = {
    "works": "and every level is guaranteed",
    "on conditions": "and works on the conditions named",
    "not for sure": "but it does not work for sure",
    "cannot be told": "whether it works cannot be told",
    "no": "",
}

SUMMARY_UNKNOWN_RIGHT = "which way is right is not known"


def volts_words(millivolts: object) -> str:
    """Millivolts as volts with what digits are needed, one at least: ``5.0 V``, ``2.75 V``."""
    from fractions import Fraction

    value = Fraction(str(millivolts)) / 1000
    digits = f"{float(round(value, 2)):.2f}"
    return f"{digits[:-1] if digits.endswith('0') else digits} V"


def amps_words(microamps: object) -> str:
    """Microamperes as mA from one hundred on: ``1.39 mA``, ``20 uA``."""
    from fractions import Fraction

    value = Fraction(str(microamps))
    if value < 100:
        return f"{float(round(value, 1)):g} uA"
    return f"{float(round(value / 1000, 2)):g} mA"


def ohms_words(ohms: object) -> str:
    """Ohms as kohm from one thousand on: ``3.3 kohm``."""
    from fractions import Fraction

    value = Fraction(str(ohms))
    return f"{float(round(value / 1000, 2)):g} kohm" if value >= 1000 else f"{float(round(value)):g} ohm"

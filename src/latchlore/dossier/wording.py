"""The sentences of the pages, and the cautions that belong to bench work."""

from __future__ import annotations

from typing import NamedTuple

from latchlore.base import Strength, Witness
from latchlore.device import TraitStanding
from latchlore.evidence import Grade, Standing


class Caution(NamedTuple):
    """`before` names the step; `words` say what to mind.  All of them are common practice."""

    before: str
    words: str


COMPUTED_ONLY = (
    "Everything on this page was computed from files.  Nothing was connected, powered or measured to make it, "
    "and it says nothing about the condition of any particular machine."
)
DEFERS = (
    "These are the usual cautions, not all there are.  Local electrical codes and the practice of licensed people "
    "come first wherever mains, tube voltages or stored charge are near."
)
CAUTIONS = (
    Caution(
        "Before a meter or a listener is connected",
        "Switch both machines off and pull the mains plugs; wait, and measure that supply capacitors are empty.  Join "
        "the grounds first.  Wear a grounded wrist strap: a touch can kill old chips without a sign.",
    ),
    Caution(
        "Before two connectors are put together",
        "Compare both pin tables pin by pin, from the side that you look at, and check with a meter that no supply pin "
        "meets a signal and no output meets an output.  A plug that fits proves nothing.",
    ),
    Caution(
        "Before anything is powered",
        "Check supply voltages with the card out and again with a current limit.  Mains parts, tubes and charged "
        "capacitors can kill: leave them to those who are trained and allowed to work on them.",
    ),
    Caution(
        "Before a card or a chip is inserted or pulled",
        "Power off, always, and pin 1 found on both sides.  Insertion under power or the wrong way round destroys "
        "what cannot be replaced.",
    ),
    Caution(
        "Before a printer is driven",
        "A thermal head burns skin and, held on by a stuck strobe, itself.  Keep fingers, sleeves and hair away from "
        "moving parts, and keep the first trials short.",
    ),
)

STANDING_WORDS = {
    Standing.AGREED: "two or more witnesses say the same",
    Standing.SINGLE: "one witness speaks",
    Standing.CONTRADICTED: "the witnesses cannot all be right",
    Standing.SILENT: "nobody speaks: an open question",
}
STRENGTH_WORDS = {
    Strength.MEASURED: "measured",
    Strength.COMPUTED: "computed",
    Strength.STATED: "stated",
    Strength.GUESSED: "guessed",
}
WITNESS_WORDS = {
    Witness.BOARD: "parts, nets and readings of the card",
    Witness.PROGRAM: "the code that drives it",
    Witness.WIRE: "what was logged on the wires",
    Witness.DOCUMENTS: "what was written about it",
}
INVENTED = "Everything in this study is invented for demonstration: people, makers, machines and data."

FINDING_STRUCK = "(no longer among the findings)"

GRADE_WORDS = {
    Grade.ESTABLISHED: "two voices agree, and one of them measured or computed it",
    Grade.ATTESTED: "two voices agree, and both only state it",
    Grade.ONE_WITNESS: "one voice, or several of which none confirms another; measured or computed",
    Grade.ONE_STATEMENT: "one voice, which only states it",
    Grade.GUESSED: "conjecture: nothing better than a guess",
    Grade.DISPUTED: "conjecture: those who speak contradict one another",
    Grade.UNFOUNDED: "nobody speaks",
    Grade.WITHDRAWN: "taken back",
}

# -- documents and devices

PART_TITLES = {
    "commands": "Commands",
    "switches": "Switches",
    "pins": "Pins",
    "timings": "Timing figures",
    "registers": "Registers",
    "orders": "Order of the lines",
    "sequences": "Sequences as printed",
    "claims": "Statements",
}
PART_COLUMNS = {
    "commands": ("bytes", "meaning"),
    "switches": ("levers", "chooses"),
    "pins": ("pin", "signal"),
    "timings": ("what", "limit"),
    "registers": ("where", "what"),
    "orders": ("of", "what comes first"),
    "sequences": ("what", "bytes"),
    "claims": ("about", "says"),
}
ONE_BYTE = "one byte"
REGISTER = "a register"
BIT_OF = "{register} bit {bit}"
FACTORY = "as it leaves the factory"
TYPICALLY = "typically {time}"
OR_READS = "or reads {words}"
ONLY_WHILE = "only while {what}"
OTHERWISE = "where no other row holds"
AT_POWER_ON = "{value} at power-on"
ANY_VALUE = "any value"
DOUBT = "doubt: {doubt}"
ON_PAPER = "on the paper: {effect}"
SETS = "sets {what}"
TRAIT_WORDS = {
    TraitStanding.COMMON: "the same",
    TraitStanding.OPEN: "differs as printed, may read the same",
    TraitStanding.DIFFERS: "differs",
    TraitStanding.SOME: "some are silent",
    TraitStanding.ONE: "only one speaks of it",
}


def in_common(count: int) -> str:
    """How much is not listed."""
    return f"{count} {'things are' if count != 1 else 'thing is'} the same in all of them and not listed."


# -- trees and times

CLOCK = "clock {clock}"
NO_CLOCK = "no clock is stated: cycles only"


def more_rows(count: int) -> str:
    """How much of a tree is not shown."""
    return f"… and {count:,} more rows; the whole tree stands in the twin for programs."


# -- questions

NO_RIVALS = "No possible answers are stated yet."
DECIDED = "Decided: “{rival}” has {share}; {enough} are enough."
UNDECIDED = "Open: no answer has the {enough} that are enough."
SEEN = "{on}{trial}: “{saw}”, {sure} sure; it was given {foreseen}.  Then {after}."
SET_ASIDE = "{trial}: “{saw}” is withdrawn ({why}) and counts no more."
MADE = "The chances are {how}: {told}."
TRIAL_FACTS = "{bits:.3f} bits are to be expected of it, for {cost:g} {unit}."
NO_TRIALS = "No trial is left to be done; a new one is needed."
NONE_TELLS = "No trial at hand tells the answers apart as they stand; another kind of trial is needed."
CAN_DECIDE = "All trials at hand together decide it with a chance of {chance}, if their outcomes are sure."
CANNOT_DECIDE = (
    "No trial at hand can decide it: whatever all of them show, “{best}” reaches {most} at most, and {enough} are "
    "needed."
)
LATER = "{trial} ({hazard}): {bits:.3f} bits, {cost:g} {unit}"
TELLS_NOTHING = "{trial} ({hazard}): tells nothing as things stand"

# -- citations

CITE_MEDIUM = " [dossier and data set]"
CITE_INVENTED = ". Invented for demonstration"
CITE_SUM = "Study SHA-256: "
NO_DATE = "[no date]"
DATE_FROM = {
    "stated": "The date is the one that study.toml states.",
    "record": "The date is the last day that the study's history or outcomes name.",
    "": "The study's files state no date.",
}
SUM_IS = (
    "The study's SHA-256 is taken over the list of its files below, by name: one line each, of the file's SHA-256, two "
    "spaces and its name.  Two dossiers with the same sum rest on the same files."
)

SECTION_TITLES = {
    "findings": "What was found",
    "contradictions": "What cannot all be true",
    "grades": "What is established, and what is conjecture",
    "commands": "What the documents say",
    "variants": "Variants side by side",
    "trees": "How the program decides",
    "questions": "Open questions",
    "errata": "Errata",
    "cite": "How to cite",
    "matings": "What it is put together with",
    "registers": "The registers",
    "ways": "The way of each bit",
    "board": "The board",
    "sequences": "What is sent",
    "handshake": "How a byte is handed over",
    "times": "Times against limits",
    "paper": "On paper",
    "standin": "A stand-in for it",
    "subjects": "Every subject",
    "open": "Not known, and not done",
    "cautions": "Before you go to the bench",
    "sources": "Where it comes from",
}
SECTION_LEADS = {
    "grades": "Each subject by how well it is founded, and what would change that.",
    "commands": "Each document's own tables with the page of every row; a doubt is the transcriber's.",
    "variants": "What differs from device to device.  Silence is no difference: a document may leave a thing out.",
    "trees": "What the code does from each entry, decision by decision, with the cycles from event to event.",
    "questions": "Possible answers with their weights, and the trial that should come next: harmless ones first, then "
    "what tells most for its cost.",
    "errata": "Every correction of a finding, oldest first; nothing is ever taken out.",
    "cite": "As text in the order of ISO 690, and for programs as CSL-JSON.",
    "findings": "The researcher's sentences.  Each grade is computed from the subjects below it; corrections stay to "
    "be read.",
    "contradictions": "Each with the fewest statements whose withdrawal would end it.",
    "matings": "Computed pin by pin, danger first; the right way, then the wrong ones.  Read the cautions before "
    "anything is put together.",
    "ways": "From outside on the left to the data line on the right.  A circle turns the level over; a box with double "
    "sides stores it; arrows show which way the data flow.",
    "board": "Every part with its pins and the nets they stand in.",
    "register map": "One line a register, bit 7 on the left.  Upper words: what the bit is wired to, as the board "
    "says.  Lower words: what the code does with it.  The standing stands at the register's name.",
    "ribbons": "Which addresses reach which register, from the whole space down to the registers.  "
    "A low bar means that only a share of the addresses below it does.",
    "sequences": "The bar at the left of a byte is as high as the confidence in it; a doubtful byte names its rivals.  "
    "A wedge stands where a byte may be missing.",
    "handshake": "One stretch of the code's paths from a wait to the next, on a line of cycles.  "
    "Dashed: as long as the device takes.  Levels below are those of the register bits, not of the connector's pins.",
    "times": "Bars are times found, brackets are limits demanded, on one scale from zero.",
    "standin": "What a replacement must do, as far as the witnesses say it; each point stands as what it rests on.  "
    "`latchlore standin STUDY --vectors DIR` writes test vectors to run against it before the machine is near.",
    "subjects": "Each witness in a column of its own; every value leads to the place that it comes from.",
    "open": "Silence here is not a “no”: nobody has looked, or nobody can tell yet.",
    "sources": "Every file of the study with its SHA-256, and the places that the page cites.",
}

STAND_IN_FEEDS = {
    "stand-in": "the stand-in",
    "strap": "a strap on the card",
    "tie": "tied on the card",
    "nobody": "nobody: what it reads is chance",
    "unknown": "not known",
}
STAND_IN_VERDICTS = {"suffices": "suffices", "measure": "may do: measure it", "too slow": "too slow"}
NO_IDLE_BYTE = "none: no byte satisfies every driver on this card"
PROBABLY_UNDRIVEN = ": the whole byte only, so it is probably undriven"

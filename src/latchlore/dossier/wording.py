"""The sentences of the pages, and the cautions that belong to bench work."""

from __future__ import annotations

from typing import NamedTuple

from latchlore.base import Strength, Witness
from latchlore.evidence import Standing


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

SECTION_TITLES = {
    "findings": "What was found",
    "contradictions": "What cannot all be true",
    "matings": "What it is put together with",
    "registers": "The registers",
    "ways": "The way of each bit",
    "board": "The board",
    "sequences": "What is sent",
    "handshake": "How a byte is handed over",
    "times": "Times against limits",
    "paper": "On paper",
    "subjects": "Every subject",
    "open": "Not known, and not done",
    "cautions": "Before you go to the bench",
    "sources": "Where it comes from",
}
SECTION_LEADS = {
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
    "subjects": "Each witness in a column of its own; every value leads to the place that it comes from.",
    "open": "Silence here is not a “no”: nobody has looked, or nobody can tell yet.",
    "sources": "Every file of the study with its SHA-256, and the places that the page cites.",
}

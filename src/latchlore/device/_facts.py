"""The fixed words of device tables: kinds of document, effects on the paper, times that can be compared."""

from __future__ import annotations

DOCUMENT_KINDS = (
    "manual",
    "service manual",
    "data sheet",
    "label",
    "letter",
    "notice",
    "advertisement",
    "photograph",
    "note",
)

EFFECTS = (
    "print",
    "carriage return",
    "line feed",
    "form feed",
    "feed",
    "line step",
    "form length",
    "backspace",
    "tab",
    "columns",
    "rows",
    "reset",
    "nothing",
)

AMOUNT_EFFECTS = frozenset({"feed", "line step", "form length"})
GRAPHIC_EFFECTS = frozenset({"columns", "rows"})

TIMES = (
    "data set-up",
    "data hold",
    "strobe width",
    "strobe to busy",
    "busy width",
    "strobe to acknowledge",
    "acknowledge width",
    "acknowledge to busy end",
    "busy end to strobe",
    "byte period",
)
"""Names of the times of a parallel handshake that witnesses share (the terms of the trade)."""

CELL_KINDS = ("decimal", "hex", "text")
LINE_RULES = ("straight", "inverse")

DIRECTIONS = ("in", "out", "both", "supply", "ground", "shield", "none")
EDGES = ("wrap", "drop", "overprint")
LOOKS = ("thermal", "impact")

SET_MODE = "character set"
STYLE_MODES = ("wide", "tall", "inverse", "underlined")
"""How characters look."""

AUTO_MODE = "auto line feed"
"""Whether the host has asked for a line feed after each carriage return."""

PAPER_MODES = (*STYLE_MODES, AUTO_MODE)
"""Modes with the values off and on that the paper knows without declaration."""

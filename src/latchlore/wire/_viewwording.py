"""Sentences about stretches of a capture."""

EMPTY = "a stretch to draw ends after it begins, not at {end} ps where it begins at {start} ps"
TOO_LONG = "a stretch to draw lies within {most} ps either way of the capture's zero, not from {start} to {end}"
WIDTH = "a drawing is 1 to {most} pixels wide, not {width!r}"
MANY = "a drawing shows at most {most} channels at once, not {count}"

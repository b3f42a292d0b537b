"""Sentences about byte logs."""

from __future__ import annotations

MIXED = (
    "{this!r} can only be {kind}, but {other!r} in line {line} can only be {other_kind}; a log has one kind of number"
)
STATED = "{this!r} is not a {kind} byte; the log is stated to be {kind}"
NOT_A_BYTE = "{this!r} is not a byte; a byte is 00 to FF in hexadecimal or 0 to 255 in decimal"
EITHER = (
    "every number of this log could be hexadecimal or decimal; say which in a line 'numbers: hex' or"
    " 'numbers: decimal' before the first byte"
)
HEX_LETTERS = "hexadecimal, concluded from {this!r} in line {line}"
DECIMAL_DIGITS = "decimal, concluded from {this!r} in line {line}"
HEX_ZERO = (
    "hexadecimal, concluded from the leading zero of {this!r} in line {line} (weak: say 'numbers: decimal' if not)"
)
DECIMAL_SHORT = "decimal, concluded from {this!r} in line {line}, a number of one digit beside numbers of two"
DECIMAL_MANY = "decimal, concluded from {count} numbers none of which holds a letter"
HEX_STATED = "hexadecimal, as stated"
DECIMAL_STATED = "decimal, as stated"
NO_NUMBERS = "no byte to conclude the kind of numbers from"
LAYOUT = {
    "line": "each line is a run",
    "block": "a run ends at an empty line or a line of comment",
    "file": "the whole file is one run",
}
LAYOUT_STATED = "{layout}, as stated"
LAYOUT_SINGLE = "{layout}, concluded: every line holds one byte"
LAYOUT_WRAPPED = "{layout}, concluded: lines of {size} bytes each, not alike, look like one listing broken into lines"
LAYOUT_LINES = "{layout}, concluded: lines hold several bytes"
LAYOUT_TIMES = "{layout}, concluded: each line has a time of its own"
TOO_LARGE = "the file has {size} bytes; a byte log may have {most}; split it, one run a file"
RUBBISH = "byte {offset} is {value:02X}h; a byte log is text, this file looks binary"
UTF16 = "the file is UTF-16 text; save it as UTF-8"
NOT_UTF8 = "byte {offset} is {value:02X}h; a byte log is UTF-8 text"
EMPTY = "the log holds no byte and no run"
HEADER_LATE = "{key!r} must stand before the first byte"
HEADER_TWICE = "{key!r} is stated a second time; first in line {line}"
HEADER_VALUE = "{key!r} is {value!r}; it must be one of {known}"
TIME_BACK = "time {this} is before {last} in line {line}; times of one run never fall"
TIME_TEXT = "{this!r} is not a time"
TIME_UNIT = "the time {this!r} has no unit; say it in a line 'times: us', or write it behind the number"
TIME_ALONE = "a time stands here without a byte"
TIME_FRACTION = "the time {this!r} {unit} is not a whole number of picoseconds"
EMPTY_MARK = "'-' means a run without a byte and stands alone in its line"
MORE = "and {count} more mistakes"
NO_ACCESS = "{this!r} is no bus access; a line is '[time] [R or W] address value', in hexadecimal"
NO_ACCESSES = "the log holds no bus access"
NO_RUN = "; it holds no byte, so it tells nothing (where nothing was heard, a line that holds only '-' says so)"
FILLED_UP = "; the last {count} bytes of the file are zero: writing broke off there, all before it was read"
CUT_OFF = "; the file ends in the middle of a line: {text!r} in line {line} was left out, all before it was read"

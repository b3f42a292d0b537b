"""The C0 set of control characters.

Source: ECMA-48, 5th edition, June 1991 (ISO/IEC 6429:1992), section 8.3 and table 1: acronyms and names; ECMA-6, 6th
edition, December 1991 (ISO/IEC 646:1991): the numbered groups TC, FE, DC and IS.  Note that the information
separators run backwards (1C is IS4) and that FE1 is HT.
"""

from __future__ import annotations

from typing import NamedTuple


class Control(NamedTuple):
    """A control character: code, acronym, its number in a group (or empty), name in ECMA-48."""

    code: int
    acronym: str
    group: str
    name: str


C0 = (
    Control(0x00, "NUL", "", "null"),
    Control(0x01, "SOH", "TC1", "start of heading"),
    Control(0x02, "STX", "TC2", "start of text"),
    Control(0x03, "ETX", "TC3", "end of text"),
    Control(0x04, "EOT", "TC4", "end of transmission"),
    Control(0x05, "ENQ", "TC5", "enquiry"),
    Control(0x06, "ACK", "TC6", "acknowledge"),
    Control(0x07, "BEL", "", "bell"),
    Control(0x08, "BS", "FE0", "backspace"),
    Control(0x09, "HT", "FE1", "character tabulation"),
    Control(0x0A, "LF", "FE2", "line feed"),
    Control(0x0B, "VT", "FE3", "line tabulation"),
    Control(0x0C, "FF", "FE4", "form feed"),
    Control(0x0D, "CR", "FE5", "carriage return"),
    Control(0x0E, "SO", "", "shift-out"),
    Control(0x0F, "SI", "", "shift-in"),
    Control(0x10, "DLE", "TC7", "data link escape"),
    Control(0x11, "DC1", "DC1", "device control one"),
    Control(0x12, "DC2", "DC2", "device control two"),
    Control(0x13, "DC3", "DC3", "device control three"),
    Control(0x14, "DC4", "DC4", "device control four"),
    Control(0x15, "NAK", "TC8", "negative acknowledge"),
    Control(0x16, "SYN", "TC9", "synchronous idle"),
    Control(0x17, "ETB", "TC10", "end of transmission block"),
    Control(0x18, "CAN", "", "cancel"),
    Control(0x19, "EM", "", "end of medium"),
    Control(0x1A, "SUB", "", "substitute"),
    Control(0x1B, "ESC", "", "escape"),
    Control(0x1C, "FS", "IS4", "information separator four"),
    Control(0x1D, "GS", "IS3", "information separator three"),
    Control(0x1E, "RS", "IS2", "information separator two"),
    Control(0x1F, "US", "IS1", "information separator one"),
)
"""All 32, by code.  20h (SP) and 7Fh (DEL) stand outside C0."""


def byte_name(byte: int) -> str:
    """How a byte is shown: ``ESC``, ``SP``, ``DEL``, the character of 7-bit ASCII, or two hexadecimal digits."""
    if byte < 0x20:
        return C0[byte].acronym
    if byte < 0x7F:
        return "SP" if byte == 0x20 else chr(byte)
    return "DEL" if byte == 0x7F else f"{byte:02X}"


def column_row(byte: int) -> str:
    """The notation of ECMA-6: column and row, ``01/11`` for 1Bh."""
    return f"{byte >> 4:02d}/{byte & 15:02d}"

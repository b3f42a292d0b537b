"""How addresses, bits, byte patterns and sizes are written in a study; a refusal gives the rule and the text."""

from __future__ import annotations

import re
from dataclasses import dataclass

from latchlore.base import AddressSet, InputKind, describe_place

MEMORY_LINES = 16
PORT_LINES = 8

_HEX = r"(?:\$|0[xX])?[0-9A-Fa-f]{1,8}[hH]?"
_ADDRESS = re.compile(_HEX)
_RANGE = re.compile(rf"({_HEX})\s*-\s*({_HEX})")
_PATTERN = re.compile(r"(?=.*[xX\s])[01xX][01xX\s]*")
_PLACE = re.compile(rf"(?:(read|write)\s+)?(?:(port)\s+)?({_HEX})(?:\s+bits?\s+(\d+)(?:\s*-\s*(\d+))?)?")
_ATOM = r"(?:[0-9A-Fa-f]{2}|'[ -~]')"
_PIECE = rf"{_ATOM}(?:\.\.{_ATOM})?"
_PART = rf"(?:any|{_PIECE}(?:\|{_PIECE})*)"
_CODE = re.compile(rf"\s*{_PART}(?:\s+{_PART})*\s*")
_SIZE = re.compile(r"(\d+)\s*(K|KB)?")
_GIVEN = re.compile(
    r"([A-Za-z][A-Za-z']{0,3}|(?:\$|0[xX])?[0-9A-Fa-f]{4}[hH]?)\s*=\s*([0-9A-Fa-f]+(?:\s+[0-9A-Fa-f]+)*)"
)
_FOUR_DIGITS = re.compile(r"(?:\$|0[xX])?[0-9A-Fa-f]{4}[hH]?")


@dataclass(frozen=True, slots=True)
class BitPlace:
    """Where a program sees a signal: `access` ``read`` or ``write``, an address, and bits lowest first.

    `bits` is empty where the whole byte is meant.
    """

    access: str
    kind: InputKind
    address: int
    bits: tuple[int, ...] = ()

    def __str__(self) -> str:
        bits = f" bit{'s' if len(self.bits) > 1 else ''} {self.bits[0]}" if self.bits else ""
        last = f"-{self.bits[-1]}" if len(self.bits) > 1 else ""
        return f"{self.access} {describe_place(self.kind, self.address)}{bits}{last}"


def parse_address(text: str, lines: int = MEMORY_LINES) -> int:
    """An address: ``C800``, ``$C800``, ``0xC800``, ``C800h``.  Refuses one of more than `lines` lines."""
    stripped = text.strip()
    if not _ADDRESS.fullmatch(stripped):
        raise ValueError(f"an address is hexadecimal digits, such as 'C800', not {text!r}")
    address = int(re.sub(r"^(\$|0[xX])|[hH]$", "", stripped), 16)
    if address >> lines:
        raise ValueError(f"an address of {lines} lines is at most {(1 << lines) - 1:04X}, not {text!r}")
    return address


def parse_range(text: str, lines: int = MEMORY_LINES) -> tuple[int, int]:
    """First and last address of ``0000-07FF``, both included; one address is a range of its own."""
    match = _RANGE.fullmatch(text.strip())
    if match is None:
        address = parse_address(text, lines)
        return address, address
    first, last = parse_address(match[1], lines), parse_address(match[2], lines)
    if first > last:
        raise ValueError(f"a range goes from the lower to the higher address, not {text!r}")
    return first, last


def parse_address_set(text: str) -> tuple[InputKind, AddressSet]:
    """Addresses of a device: an address, a range, or a pattern of 0, 1 and x; with ``port`` in front for ports.

    The set has 16 lines, or 8 for ports (16 where a port is written with more than two digits).
    """
    body = text.strip()
    is_port = bool(re.match(r"port\s", body))
    body = body.removeprefix("port").strip() if is_port else body
    if _PATTERN.fullmatch(body):
        pattern = AddressSet.parse(body)
        wanted = (PORT_LINES, MEMORY_LINES) if is_port else (MEMORY_LINES,)
        if pattern.width not in wanted:
            sizes = " or ".join(str(size) for size in wanted)
            raise ValueError(f"an address pattern has {sizes} digits, not {text!r}")
        return (InputKind.PORT if is_port else InputKind.MEMORY), pattern
    first, last = parse_range(body)
    lines = (
        PORT_LINES if is_port and last >> PORT_LINES == 0 and not re.search(r"[0-9A-Fa-f]{4}", body) else MEMORY_LINES
    )
    return (InputKind.PORT if is_port else InputKind.MEMORY), AddressSet.of_range(first, last, lines)


def parse_place(text: str, access: str) -> BitPlace:
    """``[read|write] [port] ADDRESS [bit N | bits N-M]``; `access` is taken where the text names none."""
    match = _PLACE.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"a place is an address and perhaps a bit, such as 'C801 bit 7', not {text!r}")
    said, port, address, first, last = match.groups()
    bits: tuple[int, ...] = ()
    if first is not None:
        low, high = sorted((int(first), int(last or first)))
        if high > 7:
            raise ValueError(f"a register has bits 0 to 7, not {text!r}")
        bits = tuple(range(low, high + 1))
    kind = InputKind.PORT if port else InputKind.MEMORY
    return BitPlace(said or access, kind, parse_address(address), bits)


def parse_held(text: str) -> BitPlace:
    """Bits that are the same at every read, such as ``C801 bits 0-1``.  Refuses a whole byte and a write."""
    place = parse_place(text, "read")
    if not place.bits:
        raise ValueError(f"held bits name the bits, such as 'C801 bits 0-1', not {text!r}")
    if place.access == "write":
        raise ValueError(f"held bits are read, never written, not {text!r}")
    return place


def parse_given(text: str) -> tuple[str, int | None, bytes]:
    """What is known at an entry: ``A = 41`` or ``0200 = 1B 40``, as (name, address or None, bytes).

    Four hexadecimal digits are an address, anything else is a register or flag; a register's value has its high byte
    first.
    """
    match = _GIVEN.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"what is given is 'A = 41' or '0200 = 1B 40', not {text!r}")
    name, digits = match.groups()
    if _FOUR_DIGITS.fullmatch(name):
        parts = digits.split()
        if any(len(part) != 2 for part in parts):
            raise ValueError(f"bytes of memory have two hexadecimal digits each, not {text!r}")
        return "", parse_address(name), bytes.fromhex(digits)
    if " " in digits or len(digits) > 4:
        raise ValueError(f"a register holds one value of up to four hexadecimal digits, not {text!r}")
    return name.upper(), None, bytes.fromhex(digits.rjust(len(digits) + len(digits) % 2, "0"))


INFER = "infer"
"""Written where a load address or a processor is to be found instead of stated."""


def parse_load(text: str) -> int | str:
    """An address, or `INFER`."""
    if text.strip() == INFER:
        return INFER
    if not _ADDRESS.fullmatch(text.strip()):
        raise ValueError(f"a load address is hexadecimal digits, such as 'C800', or 'infer', not {text!r}")
    return parse_address(text)


def parse_bank(text: str) -> tuple[str, str]:
    """``WINDOW = BANK``, as (window, bank)."""
    window, sign, bank = (" ".join(part.split()) for part in text.partition("="))
    if not (window and sign and bank):
        raise ValueError(f"a bank is 'WINDOW = BANK', such as 'upper ROM = 2', not {text!r}")
    return window, bank


def parse_size(size: int | str) -> int:
    """A number of bytes: 2048, or ``2 KB`` (a KB is 1024 bytes).  Refuses zero."""
    if isinstance(size, str):
        match = _SIZE.fullmatch(size.strip())
        if match is None:
            raise ValueError(f"a size is a number of bytes, such as 2048 or '2 KB', not {size!r}")
        number = int(match[1]) * (1024 if match[2] else 1)
    else:
        number = size
    if number < 1:
        raise ValueError(f"a size is 1 byte or more, not {size!r}")
    return number


def parse_code(text: str) -> tuple[frozenset[int], ...]:
    """A byte pattern: ``1B 'K' any 00..7F 0A|0D``, one set of values for each byte."""
    if not _CODE.fullmatch(text):
        rule = "a code is bytes of two hexadecimal digits, ranges 00..7F, choices 0A|0D, 'K' or any"
        raise ValueError(f"{rule}, not {text!r}")
    return tuple(_byte_set(part.group(), text) for part in re.finditer(_PART, text))


def _byte_set(part: str, text: str) -> frozenset[int]:
    if part == "any":
        return frozenset(range(256))
    values: set[int] = set()
    for piece in re.finditer(_PIECE, part):
        ends = [ord(one[1]) if one[0] == "'" else int(one, 16) for one in re.findall(_ATOM, piece.group())]
        if ends[0] > ends[-1]:
            raise ValueError(f"a range goes from the lower to the higher byte, not {text!r}")
        values |= set(range(ends[0], ends[-1] + 1))
    return frozenset(values)

"""How the address of a register is written, in keys of subjects and in sentences alike."""

from __future__ import annotations


def address_digits(space: str, address: int) -> str:
    """Hexadecimal: four digits, or two for a port up to FF; more where they are needed.  `space`: an `InputKind`."""
    return f"{address:02X}" if space == "port" and address <= 0xFF else f"{address:04X}"


def describe_place(space: str, address: int) -> str:
    """An address with its space: ``C801``, ``port 90``, ``port 0378``."""
    return f"{'port ' if space == 'port' else ''}{address_digits(space, address)}"

"""Sentences of the device wing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.device._c0 import byte_name

if TYPE_CHECKING:
    from latchlore.device._reading import StreamSpan


def describe_span(span: StreamSpan) -> str:
    """One line on a span: place, bytes, meaning, parameters, remarks."""
    shown = " ".join(f"{byte:02X}" for byte in span.raw[:12]) + (" ..." if len(span.raw) > 12 else "")
    words = span.command.meaning if span.command else "not explained"
    if span.command is not None and span.command.effect == "print":
        words += f" {''.join(byte_name(byte) for byte in span.raw[:40])!r}"
    if span.values:
        words += " (" + ", ".join(f"{name} = {value}" for name, value in span.values.items()) + ")"
    if span.missing:
        words += f"; the stream ends {span.missing} byte{'s' if span.missing != 1 else ''} short, or more"
    if span.changes:
        words += "; " + ", ".join(f"{name}: {value}" for name, value in span.changes.items())
    for remark in span.remarks:
        words += f"; {remark}"
    return f"{span.start:04X}: {shown}: {words}"


def hex_text(data: bytes) -> str:
    """``1B 4B`` for two bytes."""
    return " ".join(f"{byte:02X}" for byte in data)

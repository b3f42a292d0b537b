"""Sentences of the device wing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.device._c0 import byte_name

if TYPE_CHECKING:
    from latchlore.device._doubts import Doubt
    from latchlore.device._losses import Loss, OtherReading
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


def describe_loss(loss: Loss) -> str:
    """One line on a loss: which span, how many bytes, where, and what else is possible."""
    words = (
        f"{loss.start:04X}: {loss.command.meaning}, number {loss.number}: {loss.missing} of {loss.count} bytes missing"
    )
    words += ", position unknown" if loss.gap is None else f": {loss.gap}"
    if loss.marked:
        places = ", ".join(f"{place:04X}" for place in loss.marked)
        words += f"; the merge doubts the place in front of {places}"
    if loss.absorbed:
        words += f"; a plain reading takes {hex_text(loss.absorbed)} behind for data"
    if loss.others:
        words += f"; otherwise {', '.join(str(other) for other in loss.others[:3])}"
    return words


def describe_other(other: OtherReading) -> str:
    """Another reading of a span with a loss, and how much worse it is."""
    worse = f"{other.bits:.0f} bits worse"
    return f"{other.missing} missing ({worse})" if other.missing else f"none missing ({worse})"


def describe_doubt(doubt: Doubt) -> str:
    """One line on a doubtful place: how probable, and what it could change."""
    what = "a byte may be missing in front" if doubt.is_missing else "the byte may be another"
    words = f"{doubt.place:04X}: {what} ({doubt.probability:.1%})"
    for effect in doubt.effects[:3]:
        shown = hex_text(bytes(effect.values[:4])) + (
            f" and {len(effect.values) - 4} more" if effect.values[4:] else ""
        )
        if effect.same_spans:
            words += f"; {shown}: the same spans"
        elif effect.first == effect.until:
            words += f"; {shown}: one more span, the others unchanged"
        else:
            behind = "" if effect.returns else ", to the end of the stream"
            words += f"; {shown}: reads otherwise from {effect.first:04X} to {effect.until:04X}{behind}"
    return words

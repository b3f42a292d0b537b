"""What one document says, as plain data for programs: its rows, each with its place; the schema is the dossier's."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from latchlore.base import Span, SpanLimit
    from latchlore.device._device import Citation, Command, Device, PaperForm, Parameter

    Plain = dict[str, Any]


def device_to_plain(device: Device) -> Plain:
    """A document and all its rows in one fixed order of keys; times in picoseconds, lengths as exact millimetres."""
    return {
        "name": device.name,
        "title": device.title,
        "file": device.file,
        "kind": device.kind,
        "edition": device.edition,
        "date": device.date,
        "pages": device.pages,
        "holder": device.holder,
        "scan_sha256": device.sha256,
        "invented": device.invented,
        "note": device.note,
        "commands": [_command(one) for one in device.commands],
        "modes": [
            {"name": one.name, "values": list(one.values), "start": one.start}
            for one in device.modes
            if device.commands
        ],
        "switches": [
            {
                "name": one.name,
                "levers": list(one.levers),
                "factory": one.factory,
                "settings": [
                    {"levers": list(row.levers), "value": row.value, **_cited(row.citation)} for row in one.settings
                ],
                **_cited(one.citation),
            }
            for one in device.switches
        ],
        "pins": [
            {
                "connector": one.connector,
                "number": one.number,
                "signal": one.signal,
                "direction": one.direction,
                "active": one.active,
                **_cited(one.citation),
            }
            for one in device.pins
        ],
        "timings": [
            {
                "what": one.what,
                "signal": one.signal,
                "limit": _limit(one.limit),
                "typical_ps": _span(one.typical),
                "may_also_read": [_limit(other) for other in one.others],
                **_cited(one.citation),
            }
            for one in device.timings
        ],
        "registers": [
            {
                "address": str(one.place),
                "space": one.place.kind.value,
                "direction": one.direction,
                "may_also_read": [str(other) for other in one.others],
                "when_switch": dict(one.when_switch),
                "bits": [
                    {
                        "bit": bit.number,
                        "says": str(bit.says),
                        "may_also_read": [{"bit": number, "says": str(says)} for number, says in bit.others],
                        **_cited(bit.citation),
                    }
                    for bit in one.bits
                ],
                **_cited(one.citation),
            }
            for one in device.registers
        ],
        "orders": [
            {
                "before": [[event.value for event in pair] for pair in one.order.before],
                "either": [[event.value for event in pair] for pair in one.order.either],
                "may_also_read": [str(other) for other in one.others],
                "when_switch": dict(one.when_switch),
                **_cited(one.citation),
            }
            for one in device.orders
        ],
        "sequences": [
            {"name": one.name, "bytes": one.data.hex(" ").upper(), **_cited(one.citation)} for one in device.sequences
        ],
        "claims": [
            {
                "about": one.about,
                "says": one.says,
                "emission": one.emission,
                "happens": one.happens,
                **_cited(one.citation),
            }
            for one in device.claims
        ],
        "data_bits": None if device.data_bits is None else device.data_bits[0],
        "characters": _characters(device),
        "paper": None if device.paper is None else _paper(device.paper),
    }


def _characters(device: Device) -> Plain:
    """Code → character, of a device that prints some."""
    if not any(command.effect == "print" for command in device.commands):
        return {}
    return {f"{code:02X}": char for code, char in sorted(device.characters.characters.items())}


def _cited(citation: Citation) -> Plain:
    return {"place": str(citation.origin), "quote": citation.quote, "doubt": citation.doubt}


def _command(one: Command) -> Plain:
    graphics = one.graphics
    return {
        "name": one.name,
        "code": one.code,
        "pattern": str(one.pattern),
        "may_also_read": [str(other) for other in one.pattern.others],
        "meaning": one.meaning,
        "effect": one.effect,
        "amount": one.amount,
        "parameters": [_parameter(row) for row in one.parameters.values()],
        "graphics": None
        if graphics is None
        else {
            "data": graphics.data,
            "by_column": graphics.by_column,
            "high_first": graphics.high_first,
            "unit_bytes": graphics.unit_bytes,
            "dots": graphics.dots,
            "pitch_x_mm": None if graphics.pitch_x is None else str(graphics.pitch_x),
            "pitch_y_mm": None if graphics.pitch_y is None else str(graphics.pitch_y),
            "feed": graphics.feed,
        },
        "when": dict(one.when),
        "when_switch": dict(one.when_switch),
        "sets": dict(one.sets),
        "sets_from": dict(one.sets_from),
        "otherwise": one.otherwise,
        **_cited(one.citation),
    }


def _parameter(one: Parameter) -> Plain:
    return {
        "name": one.name,
        "least": one.least,
        "most": one.most,
        "default": one.default,
        "unit": one.unit,
        "values": {str(value): words for value, words in one.values.items()},
        "doubt": one.doubt,
    }


def _paper(form: PaperForm) -> Plain:
    return {
        "head_dots": form.head_dots,
        "dot_x_mm": str(form.dot_x),
        "dot_y_mm": str(form.dot_y),
        "columns": form.columns,
        "cell_dots": form.cell_dots,
        "cell_rows": form.cell_rows,
        "step_mm": str(form.step),
        "line_feed": form.line_feed,
        "at_edge": form.at_edge,
        "auto_line_feed": form.auto_line_feed,
        "width_mm": str(form.width),
        **_cited(form.citation),
    }


def _span(value: Span | None) -> int | None:
    return None if value is None else value.picoseconds


def _limit(limit: SpanLimit | None) -> Plain | None:
    return None if limit is None else {"least_ps": _span(limit.least), "most_ps": _span(limit.most)}

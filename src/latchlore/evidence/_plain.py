"""The table as plain data for programs; the schema is published in docs/weigh-json.md."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from latchlore.base import (
    ActiveLevel,
    AddressSet,
    Arm,
    BitLevel,
    BitSense,
    BitUse,
    ByteSequence,
    ByteTable,
    ByteTree,
    Choice,
    Condition,
    CycleRange,
    Emission,
    EventOrder,
    InputBit,
    Leaf,
    Link,
    Origin,
    Read,
    Span,
    SpanLimit,
    SpanRange,
    Statement,
    Testimony,
    Wait,
    Words,
    Write,
)
from latchlore.evidence._table import Row, Standing, Table

if TYPE_CHECKING:
    from collections.abc import Callable

    from latchlore.base import Event, Node, Value

    Plain = dict[str, Any]

FORMAT = "latchlore-table"
VERSION = 1
"""Rises when a key changes its meaning or goes; keys may be added without it."""


def table_to_plain(table: Table) -> Plain:
    """The whole table as dictionaries, lists, text and numbers, in one fixed order of keys.

    Nothing of the table is left out.  Times are whole picoseconds, truth tables hexadecimal text.
    """
    return {
        "format": FORMAT,
        "version": VERSION,
        "title": table.title,
        "invented": table.invented,
        "heard": [witness.value for witness in table.heard],
        "counts": {standing.value: table.num_standing(standing) for standing in Standing},
        "rows": [row_to_plain(row) for row in table.rows],
        "not_done": list(table.not_done),
    }


def row_to_plain(row: Row) -> Plain:
    """One subject with its testimonies, standing, repairs and what follows."""
    return {
        "subject": {"kind": row.subject.kind.value, "key": list(row.subject.key), "text": str(row.subject)},
        "standing": row.standing.value,
        "reason": row.reason,
        "testimonies": [testimony_to_plain(one) for one in row.testimonies],
        "repairs": [
            {
                "withdrawn": list(repair.withdrawn),
                "words": repair.words,
                "statements": [statement_to_plain(one) for one in repair.statements],
                "ends": repair.ends,
            }
            for repair in row.repairs
        ],
        "follows": list(row.follows),
    }


def testimony_to_plain(testimony: Testimony) -> Plain:
    """One testimony without its subject."""
    return {
        "witness": testimony.witness.value,
        "value": value_to_plain(testimony.value),
        "origins": [origin_to_plain(origin) for origin in testimony.origins],
        "method": testimony.method,
        "strength": testimony.strength.value,
        "note": testimony.note,
        "falls_with": [[statement_to_plain(one) for one in alternative] for alternative in testimony.falls_with],
    }


def statement_to_plain(one: Statement) -> Plain:
    """The least that can be withdrawn, by its name."""
    return {
        "name": str(one),
        "kind": one.kind.value,
        "about": one.about,
        "tag": one.tag,
        "doubted": one.is_doubted,
        "origin": origin_to_plain(one.origin),
        "readings": [{"words": read.words, "origin": origin_to_plain(read.origin)} for read in one.readings],
    }


def origin_to_plain(origin: Origin) -> Plain:
    """A place in a file of the study."""
    return {
        "file": origin.file,
        "place": origin.place.value,
        "number": origin.number,
        "detail": origin.detail,
        "text": str(origin),
    }


def value_to_plain(value: Value) -> Plain:
    """A value as its type, its text for people, and its fields.  Refuses a type that no row of the schema names."""
    for kind, (name, fields) in _VALUES.items():
        if isinstance(value, kind):
            return {"type": name, "text": str(value), "fields": fields(value)}
    raise TypeError(f"no plain form for {type(value).__name__}")


def _address_set(value: AddressSet) -> Plain:
    patterns = [str(AddressSet(value.width, (cube,))) for cube in value.cubes]
    lowest = value.lowest if value else None
    return {"width": value.width, "patterns": patterns, "count": value.count, "lowest": lowest}


def _bit_sense(value: BitSense) -> Plain:
    return {"kind": value.kind.value, "source": value.source, "inverted": value.inverted, "level": value.level}


def _bit_level(value: BitLevel) -> Plain:
    return {"level": value.level, "when": value.when}


def _bit_use(value: BitUse) -> Plain:
    return {
        "goes_on_at": value.goes_on_at,
        "branches": value.branches,
        "outcomes": list(value.outcomes),
        "pulsed_at": value.pulsed_at,
    }


def _span(value: Span | None) -> int | None:
    return None if value is None else value.picoseconds


def _spans(value: SpanRange | SpanLimit) -> Plain:
    return {"least_ps": _span(value.least), "most_ps": _span(value.most)}


def _sequence(value: ByteSequence) -> Plain:
    return {
        "bytes": value.data.hex(" ").upper(),
        "confidence": value.confidence,
        "num_runs": value.num_runs,
        "missing_after": value.missing_after,
        "items": [
            {
                "value": item.value,
                "confidence": item.confidence,
                "alternatives": [{"value": other, "probability": share} for other, share in item.alternatives],
                "missing_before": item.missing_before,
            }
            for item in value.items
        ],
    }


def tree_to_plain(value: ByteTree) -> Plain:
    """A tree: where it begins, what it rests on, and its nodes."""
    return {
        "entry": value.entry,
        "exhausted": value.is_exhausted,
        "assumptions": list(value.assumptions),
        "bounds": list(value.bounds),
        "nodes": [_node(node) for node in value.nodes],
    }


def _node(node: Node) -> Plain:
    match node.after:
        case Choice(arms):
            after: Plain = {"choice": [_arm(arm) for arm in arms]}
        case Link(target):
            after = {"link": target}
        case Leaf() as leaf:
            after = {
                "leaf": leaf.kind.name.lower().replace("_", "-"),
                "reason": leaf.reason,
                "address": leaf.address,
                "cycles": _cycles(leaf.cycles),
            }
    return {"events": [_event(event) for event in node.events], "after": after}


def _arm(arm: Arm) -> Plain:
    return {"condition": _condition(arm.condition), "node": arm.node}


def _condition(condition: Condition) -> Plain:
    return {
        "bits": [_bit(bit) for bit in condition.bits],
        "table": f"{condition.table:X}",
        "text": str(condition),
    }


def _bit(bit: InputBit) -> Plain:
    return {"kind": bit.kind.value, "address": bit.address, "bit": bit.bit, "turn": bit.turn, "name": bit.name}


def _byte_table(table: ByteTable) -> Plain:
    return {"bits": [_bit(bit) for bit in table.bits], "values": bytes(table.values).hex(" ").upper()}


def _cycles(cycles: CycleRange) -> Plain:
    return {"least": cycles.least, "most": cycles.most}


def _event(event: Event) -> Plain:
    common: Plain = {
        "space": event.kind.value,
        "address": event.address,
        "cycles": _cycles(event.cycles),
        "program_address": event.program_address,
        "text": str(event),
    }
    match event:
        case Write():
            return {"event": "write", **common, "value": _byte_table(event.value)}
        case Read():
            return {"event": "read", **common, "turn": event.turn, "discarded": event.discarded}
        case Wait():
            return {
                "event": "wait",
                **common,
                "mask": event.mask,
                "until": list(event.until),
                "period": _cycles(event.period),
                "polls": event.polls,
                "turn": event.turn,
            }


def _order(value: EventOrder) -> Plain:
    return {
        "before": [[event.value for event in pair] for pair in value.before],
        "either": [[event.value for event in pair] for pair in value.either],
        "counts": [
            {"first": one.first.value, "second": one.second.value, "kept": one.kept, "against": one.against}
            for one in value.counts
        ],
    }


_VALUES: dict[type, tuple[str, Callable[[Any], Plain]]] = {
    AddressSet: ("address-set", _address_set),
    BitSense: ("bit-sense", _bit_sense),
    BitLevel: ("bit-level", _bit_level),
    BitUse: ("bit-use", _bit_use),
    ActiveLevel: ("active-level", lambda value: {"level": value.level}),
    SpanRange: ("span-range", _spans),
    SpanLimit: ("span-limit", _spans),
    ByteSequence: ("byte-sequence", _sequence),
    ByteTree: ("byte-tree", tree_to_plain),
    Words: ("words", lambda value: {"text": value.text, "effect": value.effect}),
    Emission: ("emission", lambda value: {"happens": value.happens, "bounds": list(value.bounds)}),
    EventOrder: ("event-order", _order),
}
"""Type of a value → its name in the schema and how its fields are laid down."""

"""Documents checked by what they say twice: codes in several notations, switch rows, pins, dots against bytes."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

from latchlore.device._c0 import C0, byte_name
from latchlore.device._figures import Edit, Inconsistency, check_figures
from latchlore.device._lookalikes import distance, looks_alike
from latchlore.device._patterns import Counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.base import Origin
    from latchlore.device._device import Command, Device, PaperForm, Pin, Switch

_ACRONYMS = {control.acronym: control.code for control in C0} | {"SP": 0x20, "DEL": 0x7F}


def check_document(device: Device) -> tuple[Inconsistency, ...]:
    """Everything in which a document contradicts itself, in the order commands, switches, pins, paper, tables.

    A check speaks only where the document says something twice; silence is no proof that a row is right.
    """
    found: list[Inconsistency] = []
    for command in device.commands:
        found += _notations(command, device.commands)
    for switch in device.switches:
        found += _switch(switch)
    found += _pins(device.pins)
    if device.paper is not None:
        found += _line_of_cells(device.paper)
        for command in device.commands:
            found += _dots_and_bytes(command, device.paper)
    for table in device.figures:
        found += check_figures(table)
    return tuple(found)


def _edit(origin: Origin, key: str, old: str, new: str, reason: str) -> Edit:
    digits, unlike = distance(old, new) or (max(len(old), len(new)), max(len(old), len(new)))
    return Edit(origin, key, old, new, digits, unlike, reason)


# -- codes in several notations


def _notations(command: Command, commands: Sequence[Command]) -> Iterator[Inconsistency]:
    """The fixed bytes as pattern, decimal numbers and key names: where they differ, and which one stands alone."""
    origin = command.citation.origin
    fixed = command.pattern.fixed
    columns: dict[str, list[tuple[str, int | None]]] = {"pattern": [(f"{byte:02X}", byte) for byte in fixed]}
    if command.decimal:
        columns["decimal"] = [(word, _decimal(word)) for word in command.decimal.split()]
    if command.keys:
        columns["keys"] = [(word, _key(word)) for word in command.keys.split()]
    for place in range(len(fixed)):
        here = {key: words[place] for key, words in columns.items() if place < len(words)}
        values = {value for _, value in here.values()}
        if len(values) < 2:
            continue
        words = f"byte {place + 1} of {command.meaning!r}: " + ", ".join(
            f"{key} {text}" + (f" = {value:02X}" if value is not None else " is no code")
            for key, (text, value) in here.items()
        )
        edits = [
            edit
            for kept in sorted(value for value in values if value is not None)
            for edit in _notation_edits(command, commands, place, here, kept)
        ]
        edits.sort(key=lambda edit: (-edit.reason.count(";"), edit.unlike, edit.digits, edit.key, edit.new))
        yield Inconsistency(origin, words, (), tuple(edits))


def code_notations(command: Command) -> tuple[bytes, ...]:
    """The row's code as its decimal numbers and its key names give it; empty where one is lacking or no code."""
    found = []
    for words, read in ((command.decimal.split(), _decimal), (command.keys.split(), _key)):
        values = [read(word) for word in words]
        found.append(bytes(value for value in values if value is not None) if None not in values else b"")
    return tuple(found)


def _decimal(word: str) -> int | None:
    return int(word) if word.isdigit() and int(word) < 256 else None


def _key(word: str) -> int | None:
    if word in _ACRONYMS:
        return _ACRONYMS[word]
    return ord(word) if len(word) == 1 and word.isascii() else None


def _notation_edits(
    command: Command, commands: Sequence[Command], place: int, here: dict[str, tuple[str, int | None]], kept: int
) -> Iterator[Edit]:
    agree = sum(value == kept for _, value in here.values())
    reason = f"{agree} of {len(here)} notations say {kept:02X}" + ("; the others agree" if agree > 1 else "")
    code = bytearray(command.pattern.fixed)
    code[place] = kept
    taken = [row for row in commands if row is not command and row.pattern.fixed == bytes(code)]
    if taken:
        reason += f", but {taken[0].meaning!r} has that code"
    texts = {"pattern": f"{kept:02X}", "decimal": str(kept), "keys": byte_name(kept)}
    for key, (text, value) in here.items():
        if value != kept:
            yield _edit(command.citation.origin, key, text, texts[key], reason)


# -- switches


def _switch(switch: Switch) -> Iterator[Inconsistency]:
    """Lever positions that stand twice or nowhere; one of each is repaired by changing one lever."""
    rows: dict[tuple[str, ...], list[int]] = {}
    for index, setting in enumerate(switch.settings):
        for levers in product(*(("off", "on") if lever == "any" else (lever,) for lever in setting.levers)):
            rows.setdefault(levers, []).append(index)
    unused = [levers for levers in product(("off", "on"), repeat=len(switch.levers)) if levers not in rows]
    for levers, indices in rows.items():
        values = dict.fromkeys(switch.settings[index].value for index in indices)
        if len(indices) < 2:
            continue
        words = f"switch {switch.name!r}: {' '.join(levers)} stands in {len(indices)} rows"
        words += f" and means {' or '.join(repr(value) for value in values)}" if len(values) > 1 else ""
        edits = [
            _lever_edit(switch, index, free)
            for index in indices
            for free in unused
            if _levers_apart(switch.settings[index].levers, free) == 1
        ]
        evidence = tuple(f"{' '.join(free)} stands in no row" for free in unused)
        yield Inconsistency(switch.settings[indices[-1]].citation.origin, words, evidence, tuple(edits))
    if unused and all(len(indices) == 1 for indices in rows.values()) and rows:
        listed = ", ".join(" ".join(levers) for levers in unused)
        yield Inconsistency(switch.citation.origin, f"switch {switch.name!r}: no row says what {listed} means")


def _levers_apart(one: tuple[str, ...], other: tuple[str, ...]) -> int:
    return sum(a != b for a, b in zip(one, other, strict=True))


def _lever_edit(switch: Switch, index: int, free: tuple[str, ...]) -> Edit:
    setting = switch.settings[index]
    reason = "every position stands once then" if len(switch.settings) == 2 ** len(switch.levers) else "it is free"
    return Edit(setting.citation.origin, "levers", " ".join(setting.levers), " ".join(free), 1, 1, reason)


# -- pins


def _pins(pins: Sequence[Pin]) -> Iterator[Inconsistency]:
    """A pin listed twice with two signals, and numbered signals that skip one."""
    seen: dict[tuple[str, str], Pin] = {}
    numbers: dict[str, set[int]] = {}
    for pin in pins:
        if pin.number.isdigit():
            numbers.setdefault(pin.connector, set()).add(int(pin.number))
    for pin in pins:
        place = (pin.connector, pin.number)
        first = seen.setdefault(place, pin)
        if first is pin or first.signal == pin.signal:
            continue
        here = numbers.get(pin.connector, set())
        most = max(here, default=0)
        missing = sorted(set(range(1, most + 1)) - here) or [most + 1]  # where none is skipped, the next
        edits = [
            _edit(row.citation.origin, "number", row.number, str(free), f"pin {free} stands in no row")
            for row in (first, pin)
            for free in missing
            if sum(not looks_alike(a, b) and a != b for a, b in zip(row.number, str(free), strict=False)) < 2
        ]
        words = (
            f"{pin.connector} pin {pin.number} is {first.signal!r} in line {first.citation.origin.number} "
            f"and {pin.signal!r} here"
        )
        edits.sort(key=lambda edit: (edit.unlike, edit.digits, edit.origin, edit.new))
        yield Inconsistency(pin.citation.origin, words, (), tuple(edits))


# -- dots against bytes


def _line_of_cells(paper: PaperForm) -> Iterator[Inconsistency]:
    """A line of cells leaves room on the head for another cell."""
    over = paper.head_dots - paper.columns * paper.cell_dots
    if over >= paper.cell_dots:
        words = (
            f"{paper.columns} cells of {paper.cell_dots} dots leave {over} of {paper.head_dots} dots unused: "
            f"{paper.head_dots // paper.cell_dots} cells would fit"
        )
        yield Inconsistency(paper.citation.origin, words)


def _dots_and_bytes(command: Command, paper: PaperForm) -> Iterator[Inconsistency]:
    """Fixed counts of graphic bytes against the dots of the head."""
    graphics = command.graphics
    part = next(
        (p for p in command.pattern.parts if graphics and isinstance(p, Counted) and p.name == graphics.data), None
    )
    if graphics is None or part is None or part.count.names:
        return
    count = part.count.value({})
    if graphics.pitch_x is not None and graphics.pitch_x != paper.dot_x:
        return
    if graphics.by_column:
        columns = count // graphics.unit_bytes
        if columns > paper.head_dots or count % graphics.unit_bytes:
            words = f"{count} bytes are {columns} columns; the head has {paper.head_dots} dots"
            yield Inconsistency(command.citation.origin, words)
        return
    unit = graphics.unit_bytes or count
    if not 0 <= 8 * unit - paper.head_dots < 8:
        wanted = -(-paper.head_dots // 8)
        words = (
            f"a row of {unit} bytes is {8 * unit} dots; the head has {paper.head_dots} dots, which {wanted} bytes fill"
        )
        edits: tuple[Edit, ...] = ()
        if unit == count:
            edits = (_edit(command.citation.origin, "count", str(count), str(wanted), "bytes and head agree then"),)
        yield Inconsistency(command.citation.origin, words, (), edits)

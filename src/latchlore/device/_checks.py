"""The rules of a device table that concern several values at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.device._charsets import set_names
from latchlore.device._facts import GRAPHIC_EFFECTS, PAPER_MODES, SET_MODE
from latchlore.device._font import GLYPH_COLUMNS, GLYPH_ROWS
from latchlore.device._models import SwitchWay
from latchlore.device._patterns import Counted, OneByte, Until
from latchlore.device._registers import find_pin

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from latchlore.base import KeyPath
    from latchlore.device._models import (
        AutoWay,
        CommandModel,
        DeviceModel,
        PaperModel,
        RegisterModel,
        SwitchModel,
        TableModel,
    )

Mistake = tuple["KeyPath", str]


def find_mistakes(model: DeviceModel) -> list[Mistake]:
    """Every broken rule as (key path, words)."""
    found = [*_pages(model), *_modes(model), *_switches(model)]
    for index, command in enumerate(model.command):
        place: KeyPath = ("command", index)
        found += [((*place, *path), words) for path, words in _command(model, command)]
    if model.paper is not None:
        found += [(("paper", *path), words) for path, words in _paper(model, model.paper)]
    if model.characters is not None and model.characters.set not in set_names():
        found.append(
            (
                ("characters", "set"),
                f"there is no national version of ISO 646 named {model.characters.set!r}; known are "
                f"{', '.join(set_names())}",
            )
        )
    found += _claims_and_tables(model)
    found += _registers(model)
    return found


def _registers(model: DeviceModel) -> Iterator[Mistake]:
    for i, register in enumerate(model.registers):
        place = register.address.first
        first = next((k for k, other in enumerate(model.registers[:i]) if _same_register(register, other)), None)
        if first is not None:
            words = f"register {place} ({register.direction}) stands already in row {first + 1}"
            yield ("register", i, "address"), words
        for j, bit in enumerate(register.bits):
            if bit.when_true is not None and bit.signal is not None and find_pin(model, bit.signal) is None:
                words = f"'when_true' needs the level of the pin: a [[pin]] row of signal {bit.signal!r} with 'active'"
                yield ("register", i, "bits", j, "when_true"), words
    rows = [(("register", i), row.when_switch) for i, row in enumerate(model.registers)]
    rows += [(("order", i), row.when_switch) for i, row in enumerate(model.order)]
    for path, settings in rows:
        for key, words in _when_switch(model, settings):
            yield (*path, *key), words


def _same_register(one: RegisterModel, other: RegisterModel) -> bool:
    """Whether two rows are about one register under settings that can be in force at once."""
    same = one.address.first.key == other.address.first.key and one.direction == other.direction
    return same and all(other.when_switch.get(name, value) == value for name, value in one.when_switch.items())


def _pages(model: DeviceModel) -> Iterator[Mistake]:
    if model.pages is None:
        return
    rows: list[tuple[KeyPath, int | str | None]] = []
    for key in ("command", "mode", "pin", "timing", "order", "switch", "sequence", "claim", "table"):
        rows += [((key, i), row.page) for i, row in enumerate(getattr(model, key))]
    for key in ("paper", "characters", "interface"):
        if (part := getattr(model, key)) is not None:
            rows.append(((key,), part.page))
    if model.characters is not None:
        rows += [(("characters", "own", code), own.page) for code, own in model.characters.own.items()]
    for i, register in enumerate(model.registers):
        rows.append((("register", i), register.page))
        rows += [(("register", i, "bits", j), bit.page) for j, bit in enumerate(register.bits)]
    for i, switch in enumerate(model.switch):
        rows += [(("switch", i, "settings", j), setting.page) for j, setting in enumerate(switch.settings)]
    for path, page in rows:
        if isinstance(page, int) and page > model.pages:
            yield (*path, "page"), f"page {page} does not exist; the document has {model.pages} pages"


def _mode_values(model: DeviceModel) -> dict[str, tuple[str, ...]]:
    values = {mode.name: tuple(mode.values) for mode in model.mode}
    values.update(dict.fromkeys(PAPER_MODES, ("off", "on")))
    values[SET_MODE] = set_names()
    return values


def _modes(model: DeviceModel) -> Iterator[Mistake]:
    seen: set[str] = {*PAPER_MODES, SET_MODE}
    for index, mode in enumerate(model.mode):
        if mode.name in seen:
            yield ("mode", index, "name"), f"mode {mode.name!r} is declared already"
        seen.add(mode.name)
        if mode.start not in mode.values:
            yield ("mode", index, "start"), f"start {mode.start!r} is not among the values {_listed(mode.values)}"
        if len(set(mode.values)) < len(mode.values):
            yield ("mode", index, "values"), f"mode {mode.name!r} lists a value twice"


def _listed(names: object) -> str:
    return ", ".join(repr(name) for name in names)  # type: ignore[attr-defined]  # any iterable of names


def _switches(model: DeviceModel) -> Iterator[Mistake]:
    seen: set[str] = set()
    for index, switch in enumerate(model.switch):
        place: KeyPath = ("switch", index)
        if switch.name in seen:
            yield (*place, "name"), f"switch {switch.name!r} is listed already"
        seen.add(switch.name)
        yield from _settings(place, switch)


def _settings(place: KeyPath, switch: SwitchModel) -> Iterator[Mistake]:
    for j, setting in enumerate(switch.settings):
        words = setting.levers.split()
        key = (*place, "settings", j, "levers")
        if len(words) != len(switch.levers):
            yield key, f"switch {switch.name!r} has {len(switch.levers)} levers, not {len(words)}"
        if set(words) - {"on", "off", "any"}:
            yield key, f"a lever is on, off or any, not {setting.levers!r}"
    values = {setting.value for setting in switch.settings}
    if switch.factory is not None and switch.factory not in values:
        yield (*place, "factory"), f"factory setting {switch.factory!r} is not among the settings"


def _command(model: DeviceModel, command: CommandModel) -> Iterator[Mistake]:
    names, data = command.pattern.names, command.pattern.data_names
    for name in command.parameters:
        if name not in names:
            yield ("parameters", name), f"the pattern has no parameter {name!r}"
    if isinstance(command.amount, str) and command.amount not in names:
        yield ("amount",), f"the pattern has no parameter {command.amount!r}"
    yield from _graphics(command, data)
    single = len(command.pattern.parts) == 1 and isinstance(command.pattern.parts[0], OneByte)
    if command.does == "print" and not single and len(data) != 1:
        yield ("does",), "a row that prints has a pattern of one byte or one part of data"
    yield from _command_modes(model, command)
    if command.does == "form feed" and model.paper is not None and model.paper.form_lines is None:
        yield ("does",), "a form feed needs form_lines in [paper]"
    if command.does == "tab" and model.paper is not None and model.paper.tab_columns is None:
        yield ("does",), "a tab needs tab_columns in [paper]"


def _graphics(command: CommandModel, data: tuple[str, ...]) -> Iterator[Mistake]:
    if command.does not in GRAPHIC_EFFECTS:
        if command.graphics is not None:
            yield ("graphics",), "only a row that does 'columns' or 'rows' describes graphics"
        return
    graphics = command.graphics
    if graphics is None:
        yield ("does",), f"a row that does {command.does!r} needs [command.graphics]"
        return
    if graphics.data not in data:
        yield ("graphics", "data"), f"the pattern has no data {graphics.data!r}"
    wanted, other = ("top", "left") if command.does == "columns" else ("left", "top")
    if getattr(graphics, wanted) is None or getattr(graphics, other) is not None:
        yield ("graphics",), f"graphics of {command.does} say which bit is at the {wanted}, and not the other"
    if graphics.dots is not None and graphics.dots > 8 * (graphics.bytes or (1 if command.does == "columns" else 8192)):
        yield ("graphics", "dots"), f"{graphics.dots} dots do not fit into {graphics.bytes or 1} bytes"


def _command_modes(model: DeviceModel, command: CommandModel) -> Iterator[Mistake]:
    known = _mode_values(model)
    for key in ("when", "sets"):
        for name, value in getattr(command, key).items():
            if name not in known:
                yield (key, name), f"there is no mode {name!r}; known are {_listed(sorted(known))}"
            elif value not in known[name]:
                yield (key, name), f"mode {name!r} has no value {value!r}"
    for name, parameter in command.sets_from.items():
        place: KeyPath = ("sets_from", name)
        if name not in known:
            yield place, f"there is no mode {name!r}; known are {_listed(sorted(known))}"
        elif parameter not in command.parameters or not command.parameters[parameter].values:
            yield place, f"parameter {parameter!r} lists no values"
        elif not _is_small(command, parameter):
            yield place, f"parameter {parameter!r} is not carried by one byte"
        else:
            for value in sorted(set(command.parameters[parameter].values.values()) - set(known[name])):
                yield ("parameters", parameter, "values"), f"mode {name!r} has no value {value!r}"
    yield from _when_switch(model, command.when_switch)


def _when_switch(model: DeviceModel, settings: Mapping[str, str]) -> Iterator[Mistake]:
    switches = {switch.name: {setting.value for setting in switch.settings} for switch in model.switch}
    for name, value in settings.items():
        if name not in switches:
            yield ("when_switch", name), f"there is no switch {name!r}"
        elif value not in switches[name]:
            yield ("when_switch", name), f"switch {name!r} has no setting {value!r}"


def _is_small(command: CommandModel, parameter: str) -> bool:
    carriers = [
        part
        for part in command.pattern.parts
        if isinstance(part, OneByte) and any(field.name == parameter for field in part.fields)
    ]
    return len(carriers) == 1 and not any(
        isinstance(part, Counted | Until) and part.name == parameter for part in command.pattern.parts
    )


def _paper(model: DeviceModel, paper: PaperModel) -> Iterator[Mistake]:
    if paper.cell_dots > paper.head_dots:
        yield ("cell_dots",), f"a cell of {paper.cell_dots} dots is wider than the head of {paper.head_dots} dots"
    elif (paper.columns - 1) * paper.cell_dots + GLYPH_COLUMNS > paper.head_dots:
        yield (
            ("columns",),
            f"{paper.columns} cells of {paper.cell_dots} dots are wider than the head of {paper.head_dots} dots",
        )
    if paper.cell_dots < GLYPH_COLUMNS:
        yield ("cell_dots",), f"a cell of {paper.cell_dots} dots is too narrow for characters {GLYPH_COLUMNS} dots wide"
    if paper.cell_rows < GLYPH_ROWS:
        yield ("cell_rows",), f"a cell of {paper.cell_rows} dots is too low for characters {GLYPH_ROWS} dots high"
    head = paper.head_dots * paper.dot_x.mm
    if paper.width is not None and head + (paper.margin.mm if paper.margin else 0) > paper.width.mm:
        yield ("width",), f"the head's {paper.head_dots} dots do not fit on paper of {paper.width}"
    if not isinstance(paper.auto_line_feed, bool):
        for way in paper.auto_line_feed:
            yield from _auto_way(model, way)


def _auto_way(model: DeviceModel, way: AutoWay) -> Iterator[Mistake]:
    if isinstance(way, SwitchWay):
        values = {s.name: {setting.value for setting in s.settings} for s in model.switch}
        if way.switch not in values:
            yield ("auto_line_feed",), f"there is no switch {way.switch!r}"
        elif way.value not in values[way.switch]:
            yield ("auto_line_feed",), f"switch {way.switch!r} has no setting {way.value!r}"
    elif way.pin not in {pin.number for pin in model.pin}:
        yield ("auto_line_feed",), f"there is no pin {way.pin!r}"


def _claims_and_tables(model: DeviceModel) -> Iterator[Mistake]:
    for index, claim in enumerate(model.claim):
        if (claim.happens is None) == bool(claim.emission):
            yield ("claim", index), "'emission' and 'happens' stand together or not at all"
    names: set[str] = set()
    for index, command in enumerate(model.command):
        if command.name and command.name in names:
            yield ("command", index, "name"), f"command {command.name!r} is named already"
        names.add(command.name)
    for index, table in enumerate(model.table):
        yield from (((("table", index, *path), words)) for path, words in _table(table))


def _table(table: TableModel) -> Iterator[Mistake]:
    size = len(table.columns)
    for j, row in enumerate(table.rows):
        if len(row) != size:
            yield ("rows", j), f"table {table.name!r} has {size} columns; this row has {len(row)}"
    if table.kinds and len(table.kinds) != size:
        yield ("kinds",), f"table {table.name!r} has {size} columns and {len(table.kinds)} kinds"
    used: list[tuple[KeyPath, str]] = [(("same", i), name) for i, names in enumerate(table.same) for name in names]
    used += [((key,), name) for key in ("rising", "falling") for name in getattr(table, key)]
    if table.line is not None:
        used += [(("line", "value"), table.line.value), (("line", "by"), table.line.by)]
    kinds = dict(zip(table.columns, table.kinds or ["decimal"] * size, strict=False))
    for path, name in used:
        if name not in table.columns:
            yield path, f"table {table.name!r} has no column {name!r}; its columns are {_listed(table.columns)}"
        elif kinds.get(name) == "text":
            yield path, f"column {name!r} holds text, not numbers"
    if table.line is None or table.line.rule == "straight":
        return
    if table.clock is None:
        yield ("line",), "an inverse rule needs the clock"

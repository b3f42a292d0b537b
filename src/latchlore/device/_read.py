"""Reading a device table: TOML → checked model → `Device`."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from latchlore.base import (
    BadInput,
    BitSense,
    KeyPath,
    Origin,
    SpanLimit,
    TomlText,
    Words,
    check_toml,
    read_toml,
)
from latchlore.device._charsets import CharacterSet, get_set
from latchlore.device._device import (
    AutoFeed,
    Citation,
    Claim,
    Command,
    Device,
    Figures,
    Graphics,
    Mode,
    PaperForm,
    Parameter,
    Pin,
    SentBytes,
    Setting,
    StatedOrder,
    Switch,
    Timing,
)
from latchlore.device._facts import PAPER_MODES, SET_MODE
from latchlore.device._registers import StatedBit, StatedRegister, find_pin

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.device._models import (
        AutoWay,
        CitedModel,
        CommandModel,
        DeviceModel,
        GraphicsModel,
        PaperModel,
        RegisterBitModel,
        RegisterModel,
        TimingModel,
    )


def read_device(raw: bytes, file: str) -> Device:
    """Read a device table.  `file`: its path from the study's folder, shown in every origin.

    Refuses a file that breaks a rule of docs/device-table.md, with all the mistakes found: each with file, line and
    key.
    """
    from latchlore.device._checks import find_mistakes
    from latchlore.device._models import DeviceModel
    from latchlore.device._overlaps import find_overlaps

    toml = read_toml(raw, file)
    model = check_toml(DeviceModel, toml)
    mistakes = find_mistakes(model)
    if not mistakes:
        device = _device(model, toml)
        mistakes = find_overlaps(device)
        if not mistakes:
            return device
    placed = sorted(((toml.origin(path), words) for path, words in mistakes), key=lambda pair: pair[0].number)
    raise BadInput.of_all(placed)


def _cite(toml: TomlText, path: KeyPath, row: CitedModel) -> Citation:
    words = []
    if row.page is not None:
        words.append(f"page {row.page}")
    if row.row:
        words.append(f"row {row.row}")
    line = toml.line(path)
    origin = Origin.at_line(toml.file, line, ", ".join(words)) if words else toml.origin(path)
    return Citation(origin, row.quote, row.doubt)


def _device(model: DeviceModel, toml: TomlText) -> Device:
    return Device(
        file=toml.file,
        title=model.title,
        name=model.device,
        kind=model.kind,
        edition=model.edition,
        date=model.date,
        pages=model.pages,
        holder=model.holder,
        scan=model.scan,
        sha256=model.sha256,
        invented=model.invented,
        note=model.note,
        commands=tuple(_command(toml, i, row) for i, row in enumerate(model.command)),
        modes=_modes(model, toml),
        paper=None if model.paper is None else _paper(toml, model.paper),
        characters=_characters(model, toml),
        data_bits=_data_bits(model, toml),
        pins=tuple(
            Pin(
                row.connector or model.connector,
                row.number,
                row.signal,
                row.direction or "",
                row.active or "",
                _cite(toml, ("pin", i), row),
            )
            for i, row in enumerate(model.pin)
        ),
        timings=tuple(_timing(toml, i, row) for i, row in enumerate(model.timing)),
        switches=_switches(model, toml),
        sequences=tuple(
            SentBytes(row.name, row.bytes, _cite(toml, ("sequence", i), row)) for i, row in enumerate(model.sequence)
        ),
        claims=tuple(
            Claim(row.about, row.says, row.emission, row.happens, _cite(toml, ("claim", i), row))
            for i, row in enumerate(model.claim)
        ),
        figures=_figures(model, toml),
        scan_first_page=model.scan_first_page,
        orders=tuple(
            StatedOrder(first, _cite(toml, ("order", i), row), tuple(others), dict(row.when_switch))
            for i, row in enumerate(model.order)
            for first, *others in (row.orders,)
        ),
        registers=tuple(_register(toml, model, i, row) for i, row in enumerate(model.registers)),
    )


def _command(toml: TomlText, index: int, row: CommandModel) -> Command:
    return Command(
        index=index,
        name=row.name or row.meaning,
        pattern=row.pattern,
        meaning=row.meaning,
        citation=_cite(toml, ("command", index), row),
        effect=row.does or "",
        amount=row.amount,
        parameters={
            name: Parameter(name, p.least, p.most, p.default, p.unit, {int(k): v for k, v in p.values.items()}, p.doubt)
            for name, p in row.parameters.items()
        },
        graphics=None if row.graphics is None else _graphics(row.graphics, row.does == "columns"),
        when=dict(row.when),
        when_switch=dict(row.when_switch),
        sets=dict(row.sets),
        sets_from=dict(row.sets_from),
        otherwise=row.otherwise,
        decimal=row.decimal,
        keys=row.keys,
    )


def _graphics(row: GraphicsModel, by_column: bool) -> Graphics:
    unit = row.bytes or (1 if by_column else 0)
    return Graphics(
        data=row.data,
        by_column=by_column,
        high_first=(row.top if by_column else row.left) == "high",
        unit_bytes=unit,
        dots=row.dots or 8 * unit,
        pitch_x=None if row.pitch_x is None else row.pitch_x.mm,
        pitch_y=None if row.pitch_y is None else row.pitch_y.mm,
        feed=row.feed,
    )


def _modes(model: DeviceModel, toml: TomlText) -> tuple[Mode, ...]:
    own = [
        Mode(row.name, tuple(row.values), row.start, _cite(toml, ("mode", i), row)) for i, row in enumerate(model.mode)
    ]
    start = model.characters.set if model.characters is not None else "ISO646-US"
    return (*own, *(Mode(name, ("off", "on"), "off") for name in PAPER_MODES), Mode(SET_MODE, (), start))


def _paper(toml: TomlText, row: PaperModel) -> PaperForm:
    dot_x, dot_y = row.dot_x.mm, row.dot_y.mm
    head = row.head_dots * dot_x
    if row.width is not None:
        width = row.width.mm
        margin = row.margin.mm if row.margin is not None else (width - head) / 2
    else:
        margin = row.margin.mm if row.margin is not None else Fraction(3)
        width = head + 2 * margin
    return PaperForm(
        head_dots=row.head_dots,
        dot_x=dot_x,
        dot_y=dot_y,
        columns=row.columns,
        cell_dots=row.cell_dots,
        cell_rows=row.cell_rows,
        step=row.step.mm if row.step is not None else dot_y,
        line_feed=row.line_feed,
        at_edge=row.at_edge,
        auto_line_feed=row.auto_line_feed is True,
        auto_feeds=() if isinstance(row.auto_line_feed, bool) else tuple(map(_auto_feed, row.auto_line_feed)),
        form_lines=row.form_lines,
        tab_columns=row.tab_columns,
        width=width,
        margin=margin,
        look=row.look,
        dot=row.dot.mm if row.dot is not None else min(dot_x, dot_y),
        citation=_cite(toml, ("paper",), row),
    )


def _auto_feed(way: AutoWay) -> AutoFeed:
    from latchlore.device._models import SwitchWay

    if isinstance(way, SwitchWay):
        return AutoFeed("switch", way.switch, way.value)
    return AutoFeed("pin", way.pin, way.level)


def _characters(model: DeviceModel, toml: TomlText) -> CharacterSet:
    row = model.characters
    if row is None:
        return get_set("ISO646-US")
    base = get_set(row.set)
    characters = {code: char for code, char in base.characters.items() if code in row.codes}
    citations = {}
    for code, own in row.own.items():
        characters[int(code, 16)] = own.char
        citations[int(code, 16)] = _cite(toml, ("characters", "own", code), own)
    name = f"{row.set} with own characters" if row.own else row.set
    return CharacterSet(name, dict(sorted(characters.items())), citations)


def _data_bits(model: DeviceModel, toml: TomlText) -> tuple[int, Citation] | None:
    if model.interface is None or model.interface.data_bits is None:
        return None
    return model.interface.data_bits, _cite(toml, ("interface",), model.interface)


def _timing(toml: TomlText, index: int, row: TimingModel) -> Timing:
    leasts = (None,) if row.least is None else (row.least.span, *row.least.others)
    mosts = (None,) if row.most is None else (row.most.span, *row.most.others)
    limits = [
        SpanLimit(least, most)
        for least in leasts
        for most in mosts
        if (least is not None or most is not None) and (least is None or most is None or least <= most)
    ]
    return Timing(
        what=row.what or row.other or "",
        is_shared=row.what is not None,
        limit=limits[0] if limits else None,
        typical=None if row.typical is None else row.typical.span,
        signal=row.signal,
        others=tuple(limits[1:]),
        citation=_cite(toml, ("timing", index), row),
    )


def _register(toml: TomlText, model: DeviceModel, index: int, row: RegisterModel) -> StatedRegister:
    path = ("register", index)
    bits = []
    sure = {bit.bit.first for bit in row.bits if not bit.bit.others}
    for i, bit in enumerate(row.bits):
        cited = bit if bit.page is not None else bit.model_copy(update={"page": row.page})
        first, *others = _bit_readings(model, bit, sure)
        pin = None if bit.when_true is None or bit.signal is None else find_pin(model, bit.signal)
        pin_cited = None if pin is None else _cite(toml, ("pin", pin), model.pin[pin])
        bits.append(StatedBit(*first, _cite(toml, (*path, "bits", i), cited), pin_cited, tuple(others)))
    place, citation = row.address, _cite(toml, path, row)
    return StatedRegister(place.first, row.direction, tuple(bits), citation, place.others, dict(row.when_switch))


def _bit_readings(model: DeviceModel, bit: RegisterBitModel, sure: set[int]) -> Iterator[tuple[int, BitSense | Words]]:
    """Number and meaning in every reading, the transcriber's own first; `sure` numbers stand in other rows."""
    numbers = (bit.bit.first, *(one for one in bit.bit.others if one not in sure))
    level = bit.always or bit.when_true
    levels = (None,) if level is None else (level.first, *level.others)
    for number in numbers:
        for one in levels:
            yield number, _bit(model, bit, one)


def _bit(model: DeviceModel, bit: RegisterBitModel, level: int | None) -> BitSense | Words:
    """What a bit follows; `level`: which it always has, or has while its signal's name is true."""
    if bit.signal is None:
        return BitSense.unconnected() if level is None else BitSense.tied(level)
    if bit.inverted is not None:
        return BitSense.follows(bit.signal, inverted=bit.inverted)
    if level is None:
        return Words(bit.signal)
    pin = find_pin(model, bit.signal)
    assert pin is not None  # a mistake of the checks
    return BitSense.follows(bit.signal, inverted=(model.pin[pin].active == "high") != bool(level))


def _switches(model: DeviceModel, toml: TomlText) -> tuple[Switch, ...]:
    switches = []
    for i, row in enumerate(model.switch):
        settings = tuple(
            Setting(tuple(s.levers.split()), s.value, _cite(toml, ("switch", i, "settings", j), s))
            for j, s in enumerate(row.settings)
        )
        switches.append(Switch(row.name, tuple(row.levers), row.factory, settings, _cite(toml, ("switch", i), row)))
    return tuple(switches)


def _figures(model: DeviceModel, toml: TomlText) -> tuple[Figures, ...]:
    return tuple(
        Figures(
            name=row.name,
            columns=tuple(row.columns),
            kinds=tuple(row.kinds) or ("decimal",) * len(row.columns),
            rows=tuple(tuple(cells) for cells in row.rows),
            same=tuple(tuple(names) for names in row.same),
            rising=tuple(row.rising),
            falling=tuple(row.falling),
            line=None if row.line is None else (row.line.value, row.line.by, row.line.rule),
            clock=row.clock,
            origins=tuple(toml.origin(("table", i, "rows", j)) for j in range(len(row.rows))),
            citation=_cite(toml, ("table", i), row),
        )
        for i, row in enumerate(model.table)
    )

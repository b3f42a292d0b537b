"""The shape of a device table's file: keys, types and the rules that concern one value alone."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import islice, pairwise, product
from math import prod
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, StringConstraints, model_validator

from latchlore.base import BY_MEANING, EventOrder, EventPair, HandshakeEvent
from latchlore.device._facts import (
    AMOUNT_EFFECTS,
    CELL_KINDS,
    DIRECTIONS,
    DOCUMENT_KINDS,
    EDGES,
    EFFECTS,
    LINE_RULES,
    LOOKS,
    TIMES,
)
from latchlore.device._measures import DoubtfulDigit, DoubtfulSpan, Length, parse_bytes, word_readings
from latchlore.device._patterns import MAX_READINGS, Pattern, parse_pattern, parse_set
from latchlore.device._registers import DoubtfulAddresses

T = TypeVar("T")


def _text_to(read: Callable[[str], T]) -> PlainValidator:
    def check(value: Any) -> T:
        if not isinstance(value, str):
            raise ValueError("this is text in quotes")
        return read(value)

    return PlainValidator(check)


def _one_of(known: tuple[str, ...]) -> PlainValidator:
    def check(value: Any) -> str:
        if value not in known or not isinstance(value, str):
            raise ValueError(f"this is one of {', '.join(known)}")
        return value

    return PlainValidator(check)


def _digit(most: int) -> PlainValidator:
    return PlainValidator(lambda value: DoubtfulDigit.parse(value, most))


def _page(value: Any) -> int | str:
    if isinstance(value, bool) or not isinstance(value, int | str) or value == "":
        raise ValueError("a page is a number or text")
    if isinstance(value, str) and value.strip().isdigit():
        raise ValueError("a page that is a number stands without quotes")
    if isinstance(value, int) and value < 1:
        raise ValueError("pages are counted from 1")
    return value


def _row(value: Any) -> str:
    if isinstance(value, bool) or not isinstance(value, int | str) or value == "":
        raise ValueError("a row is a number or text")
    return str(value)


def _amount(value: Any) -> int | str:
    if isinstance(value, bool) or not isinstance(value, int | str):
        raise ValueError("an amount is a number of steps or the name of a parameter")
    if isinstance(value, int) and not 0 <= value <= 65535:
        raise ValueError("an amount is 0 to 65535 steps")
    return value


def _date(text: str) -> str:
    if re.fullmatch(r"\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01]))?)?", text) is None:
        raise ValueError("a date is written 1982, 1982-03 or 1982-03-14")
    return text


def _checksum(text: str) -> str:
    if re.fullmatch(r"[0-9a-fA-F]{64}", text) is None:
        raise ValueError("a SHA-256 checksum has 64 hexadecimal digits")
    return text.lower()


Name = Annotated[str, StringConstraints(min_length=1, max_length=200)]
Measure = Annotated[Length, _text_to(Length.parse)]
Time = Annotated[DoubtfulSpan, _text_to(DoubtfulSpan.parse)]
Whole = Annotated[int, Field(ge=1, le=65535)]


class Model(BaseModel):
    """A table whose keys are all known."""

    model_config = ConfigDict(extra="forbid", strict=True, arbitrary_types_allowed=True)


class CitedModel(Model):
    """A row with its place in the document and the transcriber's doubt."""

    page: Annotated[int | str | None, PlainValidator(_page)] = None
    row: Annotated[str, PlainValidator(_row)] = ""
    quote: str = ""
    doubt: str = ""


class ParameterModel(Model):
    """``[command.parameters]``: what a parameter may be."""

    least: int | None = None
    most: int | None = None
    default: int | None = None
    unit: str = ""
    values: dict[str, str] = {}
    doubt: str = ""

    @model_validator(mode="after")
    def _check(self) -> ParameterModel:
        if self.least is not None and self.most is not None and self.least > self.most:
            raise ValueError(f"least {self.least} is above most {self.most}")
        for key in self.values:
            if not key.isdigit():
                raise ValueError(f"values are listed by decimal number; here is {key!r}")
        return self


class GraphicsModel(Model):
    """``[command.graphics]``: how data bytes become dots."""

    data: Name
    top: Annotated[str, _one_of(("high", "low"))] | None = None
    left: Annotated[str, _one_of(("high", "low"))] | None = None
    bytes: Whole | None = None
    dots: Whole | None = None
    pitch_x: Measure | None = None
    pitch_y: Measure | None = None
    feed: Annotated[int, Field(ge=0, le=65535)] = 0


class CommandModel(CitedModel):
    """``[[command]]``."""

    pattern: Annotated[Pattern, _text_to(parse_pattern)]
    name: str = ""
    meaning: Name
    decimal: str = ""
    keys: str = ""
    does: Annotated[str, _one_of(EFFECTS)] | None = None
    amount: Annotated[int | str | None, PlainValidator(_amount)] = None
    parameters: dict[str, ParameterModel] = {}
    graphics: GraphicsModel | None = None
    when: dict[str, str] = {}
    when_switch: dict[str, str] = {}
    sets: dict[str, str] = {}
    sets_from: dict[str, str] = {}
    otherwise: bool = False

    @model_validator(mode="after")
    def _check(self) -> CommandModel:
        if (self.amount is None) == (self.does in AMOUNT_EFFECTS):
            words = (
                "needs an amount"
                if self.amount is None
                else "has an amount only with 'feed', 'line step' or 'form length'"
            )
            raise ValueError(f"a row that does {self.does!r} {words}")
        return self


class ModeModel(CitedModel):
    """``[[mode]]``."""

    name: Name
    values: Annotated[list[Name], Field(min_length=2)]
    start: str


class SwitchWay(Model):
    """``{ switch = ..., is = ... }``."""

    switch: Name
    value: Annotated[str, Field(alias="is")]


class PinWay(Model):
    """``{ pin = ..., is = ... }``."""

    pin: Name
    level: Annotated[str, _one_of(("high", "low")), Field(alias="is")]


AutoWay = SwitchWay | PinWay


def _auto_line_feed(value: Any) -> bool | list[AutoWay]:
    if isinstance(value, bool):
        return value
    return [_auto_way(one) for one in (value if isinstance(value, list) and value else [value])]


def _auto_way(value: Any) -> AutoWay:
    if isinstance(value, dict) and set(value) == {"switch", "is"}:
        return SwitchWay.model_validate(value)
    if isinstance(value, dict) and set(value) == {"pin", "is"}:
        return PinWay.model_validate(value)
    raise ValueError("this is true, false, { switch = ..., is = ... } or { pin = ..., is = ... }, or a list of such")


class PaperModel(CitedModel):
    """``[paper]``."""

    head_dots: Whole
    dot_x: Measure
    dot_y: Measure
    columns: Whole
    cell_dots: Whole
    cell_rows: Whole = 7
    step: Measure | None = None
    line_feed: Whole
    at_edge: Annotated[str, _one_of(EDGES)] = "wrap"
    auto_line_feed: Annotated[bool | list[AutoWay], PlainValidator(_auto_line_feed)] = False
    form_lines: Whole | None = None
    tab_columns: Whole | None = None
    width: Measure | None = None
    margin: Measure | None = None
    look: Annotated[str, _one_of(LOOKS)] = "thermal"
    dot: Measure | None = None


class OwnCharacter(CitedModel):
    """A character of the device's own, with its page and doubt."""

    char: Annotated[str, Field(alias="is", min_length=1, max_length=4)]


def _own(value: Any) -> OwnCharacter:
    if isinstance(value, dict):
        return OwnCharacter.model_validate(value)
    if isinstance(value, str) and 1 <= len(value) <= 4:
        return OwnCharacter.model_validate({"is": value})
    raise ValueError("a character is text of one to four letters, or { is = ... }")


class CharactersModel(CitedModel):
    """``[characters]``."""

    set: Name = "ISO646-US"
    codes: Annotated[frozenset[int], _text_to(parse_set)] = frozenset(range(0x20, 0x7F))
    own: dict[str, Annotated[OwnCharacter, PlainValidator(_own)]] = {}

    @model_validator(mode="after")
    def _check(self) -> CharactersModel:
        for key in self.own:
            if re.fullmatch(r"[0-9A-F]{2}", key) is None:
                raise ValueError(f"own characters are listed by two upper-case hexadecimal digits; here is {key!r}")
        return self


class InterfaceModel(CitedModel):
    """``[interface]``."""

    data_bits: Annotated[int, Field(ge=1, le=16)] | None = None


class PinModel(CitedModel):
    """``[[pin]]``."""

    number: Annotated[str, PlainValidator(_row)]
    signal: Name
    direction: Annotated[str, _one_of(DIRECTIONS)] | None = None
    active: Annotated[str, _one_of(("low", "high"))] | None = None
    connector: Name | None = None


class TimingModel(CitedModel):
    """``[[timing]]``."""

    what: Annotated[str, _one_of(TIMES)] | None = None
    other: Name | None = None
    least: Time | None = None
    most: Time | None = None
    typical: Time | None = None
    signal: str = ""

    @model_validator(mode="after")
    def _check(self) -> TimingModel:
        if (self.what is None) == (self.other is None):
            raise ValueError("a figure has either 'what' (a name from the list) or 'other' (words of its own)")
        if self.least is None and self.most is None and self.typical is None:
            raise ValueError("a figure has 'least', 'most' or 'typical'")
        if self.least and self.most and self.least.span > self.most.span:
            raise ValueError(f"least {self.least.span} is above most {self.most.span}")
        return self


_EVENTS = tuple(event.value for event in HandshakeEvent)


def _event(value: Any) -> tuple[HandshakeEvent, ...]:
    readings = word_readings(value) if isinstance(value, str) else (value,)
    if any(one not in _EVENTS for one in readings):
        raise ValueError(f"this is one of {', '.join(_EVENTS)}")
    return tuple(HandshakeEvent(one) for one in readings)


Event = Annotated[tuple[HandshakeEvent, ...], PlainValidator(_event)]
"""An event of an order: every reading that doubt leaves, the transcriber's own first."""


class OrderModel(CitedModel):
    """``[[order]]``: in which order the events of one byte come."""

    first_to_last: list[Annotated[list[Event], Field(min_length=2)]] = []
    either: list[Annotated[list[Event], Field(min_length=2, max_length=2)]] = []
    when_switch: dict[str, str] = {}

    @model_validator(mode="after")
    def _check(self) -> OrderModel:
        if not self.first_to_last and not self.either:
            raise ValueError("an order has 'first_to_last' or 'either'")
        total = prod(len(event) for events in (*self.first_to_last, *self.either) for event in events)
        if total > MAX_READINGS:
            raise ValueError(f"{total} readings are more than {MAX_READINGS} in one order")
        before, either = next(self._readings())
        EventOrder.of((*before, *BY_MEANING), either)
        return self

    def _readings(self) -> Iterator[tuple[tuple[EventPair, ...], tuple[EventPair, ...]]]:
        """Each event with the next of its list, and the pairs that may come either way, in every reading."""
        lists = (*self.first_to_last, *self.either)
        for chosen in product(*(event for events in lists for event in events)):
            events = iter(chosen)
            rows = [tuple(islice(events, len(one))) for one in lists]
            cut = len(self.first_to_last)
            before = tuple(pair for row in rows[:cut] for pair in pairwise(row))
            yield before, tuple((first, second) for first, second in rows[cut:])

    @property
    def orders(self) -> tuple[EventOrder, ...]:
        """The order in every reading, the transcriber's own first; a reading against itself is no reading."""
        found = []
        for before, either in self._readings():
            try:
                EventOrder.of((*before, *BY_MEANING), either)
                found.append(EventOrder.of(before, either))
            except ValueError:  # the transcriber's own is checked on reading
                continue
        return tuple(dict.fromkeys(found))


class RegisterBitModel(CitedModel):
    """One bit of a register."""

    bit: Annotated[DoubtfulDigit, _digit(7)]
    signal: Name | None = None
    inverted: bool | None = None
    when_true: Annotated[DoubtfulDigit | None, _digit(1)] = None
    always: Annotated[DoubtfulDigit | None, _digit(1)] = None
    unused: bool = False

    @model_validator(mode="after")
    def _check(self) -> RegisterBitModel:
        if (self.signal is not None) + (self.always is not None) + self.unused != 1:
            raise ValueError("a bit has one of 'signal', 'always' and 'unused'")
        if self.signal is None and (self.inverted is not None or self.when_true is not None):
            raise ValueError("'inverted' and 'when_true' are of a signal, and none is named")
        if self.inverted is not None and self.when_true is not None:
            raise ValueError("a bit has 'inverted' (against its pin) or 'when_true' (against its name), not both")
        return self


class RegisterModel(CitedModel):
    """``[[register]]``: where the host finds a register, and what its bits are."""

    address: Annotated[DoubtfulAddresses, _text_to(DoubtfulAddresses.parse)]
    direction: Annotated[str, _one_of(("read", "write"))]
    bits: list[RegisterBitModel] = []
    when_switch: dict[str, str] = {}

    @model_validator(mode="after")
    def _check(self) -> RegisterModel:
        numbers = [one.bit.first for one in self.bits]
        twice = next((number for number in numbers if numbers.count(number) > 1), None)
        if twice is not None:
            raise ValueError(f"bit {twice} stands twice")
        return self


class SettingModel(CitedModel):
    """One setting of a switch."""

    levers: Name
    value: Annotated[str, Field(alias="is", min_length=1)]


class SwitchModel(CitedModel):
    """``[[switch]]``."""

    name: Name
    levers: Annotated[list[Name], Field(min_length=1, max_length=8)]
    factory: str | None = None
    settings: list[SettingModel] = []


class SequenceModel(CitedModel):
    """``[[sequence]]``."""

    name: Name
    bytes: Annotated[bytes, _text_to(parse_bytes)]


class ClaimModel(CitedModel):
    """``[[claim]]``."""

    about: Name
    says: Name
    emission: str = ""
    happens: bool | None = None


def _clock(text: str) -> Fraction:
    match = re.fullmatch(r"(\d+(?:\.\d+)?) *(Hz|kHz|MHz)", text)
    if match is None or not Fraction(match[1]):
        raise ValueError("a clock rate is a number above zero and Hz, kHz or MHz")
    return Fraction(match[1]) * {"Hz": 1, "kHz": 10**3, "MHz": 10**6}[match[2]]


class LineModel(Model):
    """``[table.line]``: two columns that should lie on a line."""

    value: Name
    by: Name
    rule: Annotated[str, _one_of(LINE_RULES)] = "straight"


class TableModel(CitedModel):
    """``[[table]]``."""

    name: Name
    columns: Annotated[list[Name], Field(min_length=1)]
    kinds: list[Annotated[str, _one_of(CELL_KINDS)]] = []
    rows: list[list[str]]
    same: list[Annotated[list[Name], Field(min_length=2)]] = []
    rising: list[Name] = []
    falling: list[Name] = []
    line: LineModel | None = None
    clock: Annotated[Fraction | None, _text_to(_clock)] = None


class DeviceModel(Model):
    """The whole file."""

    title: Name
    device: Name
    kind: Annotated[str, _one_of(DOCUMENT_KINDS)]
    edition: str = ""
    date: Annotated[str, _text_to(_date)] = ""
    pages: Whole | None = None
    holder: str = ""
    scan: str = ""
    scan_first_page: int = 1
    sha256: Annotated[str, _text_to(_checksum)] = ""
    invented: bool = False
    note: str = ""
    connector: Name = "connector"
    command: list[CommandModel] = []
    mode: list[ModeModel] = []
    paper: PaperModel | None = None
    characters: CharactersModel | None = None
    interface: InterfaceModel | None = None
    pin: list[PinModel] = []
    timing: list[TimingModel] = []
    order: list[OrderModel] = []
    registers: Annotated[list[RegisterModel], Field(alias="register")] = []
    switch: list[SwitchModel] = []
    sequence: list[SequenceModel] = []
    claim: list[ClaimModel] = []
    table: list[TableModel] = []

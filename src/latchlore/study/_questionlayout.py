"""The keys of questions.toml and the rule of each; imported only when there is one to check."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from pydantic import Field, model_validator

from latchlore.base import InputKind, Span
from latchlore.study import _notation
from latchlore.study import _questionwords as words
from latchlore.study._layout import ListenerTable, Name, Time, _Table, _text


def _date(text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise ValueError(words.DATE.format(text=text)) from None


def _read_bit(text: str) -> _notation.BitPlace:
    place = _notation.parse_place(text, "read")
    if place.access != "read" or len(place.bits) != 1 or place.kind not in (InputKind.MEMORY, InputKind.PORT):
        raise ValueError(words.ONE_BIT.format(text=text))
    return place


def _bytes(text: str) -> bytes:
    code = _notation.parse_code(text)
    if any(len(values) != 1 for values in code):
        raise ValueError(words.ONE_VALUE.format(text=text))
    return bytes(value for values in code for value in values)


Day = Annotated[str, _text(_date, "a date is text in quotes, such as '2026-11-26'")]
Hazard = Annotated[str, _text(words.check_hazard, words.HAZARD_RULE)]
Percent = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Bytes = Annotated[bytes, _text(_bytes, "what is sent is text in quotes, such as '1B 4B 41'")]
ReadBit = Annotated[Any, _text(_read_bit, "a bit is text in quotes, such as 'C801 bit 7'")]


class RivalTable(_Table):
    """``[[question.rival]]``."""

    name: Name
    says: str = ""
    weight: Positive = 1.0
    board: list[Name] = []
    document: Name | None = None
    listener: ListenerTable | None = None


class RampTable(_Table):
    """``listener`` of a trial: bytes sent at an even pace; one of them is looked for in what was heard."""

    period: Time
    count: Annotated[int, Field(ge=1, le=10_000)] = 30
    strobe: Time = Span.of(us=1)
    setup: Time = Span(0)
    byte: Annotated[int | None, Field(ge=0)] = None

    @model_validator(mode="after")
    def _is_sent(self) -> RampTable:
        if self.period <= Span(0):
            raise ValueError(words.PERIOD.format(period=self.period))
        if self.byte is not None and self.byte >= self.count:
            raise ValueError(words.BYTE.format(byte=self.byte, last=self.count - 1))
        return self


class ReadTable(_Table):
    """``read`` of a trial: a register bit, and the level that is held on a signal meanwhile."""

    bit: ReadBit
    signal: Name | None = None
    level: Annotated[int, Field(ge=0, le=1)] | None = None

    @model_validator(mode="after")
    def _both(self) -> ReadTable:
        if (self.signal is None) != (self.level is None):
            raise ValueError(words.SIGNAL_LEVEL)
        return self


class TrialTable(_Table):
    """``[[question.trial]]``: its outcomes are stated with their chances, or computed in one of four ways."""

    name: Name
    how: str = ""
    hazard: Hazard
    cost: Positive = 1.0
    caution: str = ""
    times: Annotated[int, Field(ge=1, le=20)] = 1
    outcomes: list[Name] = []
    chances: dict[str, list[Percent]] | None = None
    joined: list[Name] | None = None
    read: ReadTable | None = None
    send: Bytes | None = None
    listener: RampTable | None = None
    doubt: Annotated[float, Field(ge=0, lt=100, allow_inf_nan=False)] | None = None

    @model_validator(mode="after")
    def _one_way(self) -> TrialTable:
        ways = [key for key in words.WAYS if getattr(self, key) is not None]
        if len(ways) != 1:
            raise ValueError(words.one_way(ways))
        stated = self.chances is not None
        if stated and len(self.outcomes) < 2:
            raise ValueError(words.TWO_OUTCOMES)
        if not stated and self.outcomes:
            raise ValueError(words.OWN_OUTCOMES.format(way=ways[0]))
        if stated and self.doubt is not None:
            raise ValueError(words.NO_DOUBT)
        if len(set(self.outcomes)) != len(self.outcomes):
            raise ValueError(words.SAME_OUTCOME)
        self._fits_its_hazard(ways[0])
        return self

    def _fits_its_hazard(self, way: str) -> None:
        """A meter on a board under power is a mistake, and nothing else that is computed goes without power."""
        if self.joined is not None and len(self.joined) != 2:
            raise ValueError(words.TWO_PINS.format(count=len(self.joined)))
        if self.joined is not None and self.hazard != "power-off":
            raise ValueError(words.POWER_OFF.format(hazard=self.hazard))
        if way not in ("chances", "joined") and self.hazard == "power-off":
            raise ValueError(words.POWERED.format(way=way))


class QuestionTable(_Table):
    """``[[question]]`` of questions.toml."""

    name: Name
    text: Name
    enough: Annotated[float, Field(gt=50, lt=100, allow_inf_nan=False)] = 95.0
    unit: Name = "minutes"
    rival: list[RivalTable] = []
    trial: list[TrialTable] = []


class OutcomeTable(_Table):
    """``[[outcome]]``."""

    trial: Name
    saw: Name
    sure: Annotated[float, Field(gt=0, le=100, allow_inf_nan=False)] = words.SURE_PERCENT
    on: Day | None = None
    note: str = ""
    withdrawn: str = ""


class QuestionsTable(_Table):
    """questions.toml as a whole."""

    question: list[QuestionTable] = []
    outcome: list[OutcomeTable] = []

"""The keys of findings.toml and the rule of each; imported only when there is one to check."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from latchlore.evidence import is_name, one_line
from latchlore.study import _recordwords as wording


def _name(value: object) -> str:
    if not isinstance(value, str) or not is_name(value):
        raise ValueError(wording.NAME_RULE)
    return value


def _line(value: object) -> str:
    """Text of one line; several lines of a sentence are put together."""
    if not isinstance(value, str) or not value.strip():
        raise ValueError(wording.TEXT_RULE)
    return one_line(value)


Name = Annotated[str, BeforeValidator(_name)]
Line = Annotated[str, BeforeValidator(_line)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class FindingTable(_Table):
    """``[[finding]]``."""

    name: Name
    sentence: Line
    rests_on: Annotated[list[Line], Field(min_length=1)]
    says: dict[Line, Line] = {}


class RecordTable(_Table):
    """findings.toml as a whole."""

    finding: list[FindingTable] = []

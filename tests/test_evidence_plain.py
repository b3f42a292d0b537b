"""The plain form of the table: nothing is left out, and it reads back."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, cast, get_args

import pytest

from latchlore.base import AddressSet, Origin, SubjectKind, Value, Words
from latchlore.evidence import Standing, table_to_plain
from latchlore.evidence._plain import value_to_plain
from tests.marram import marram_table

DOCUMENT = Path(__file__).parent.parent / "docs" / "weigh-json.md"


def _types(plain: Any) -> set[str]:
    """Every ``type`` named anywhere in a value's place."""
    return {one["value"]["type"] for row in plain["rows"] for one in row["testimonies"]}


def test_table_to_plain_survives_json() -> None:
    """The plain form holds only what JSON knows, and comes back as it was."""
    plain = table_to_plain(marram_table())
    assert json.loads(json.dumps(plain)) == plain


def test_table_to_plain_leaves_nothing_out() -> None:
    """Every row, testimony, origin, repair and conclusion of the table is in the plain form."""
    table = marram_table()
    plain = table_to_plain(table)
    assert [row["subject"]["text"] for row in plain["rows"]] == [str(row.subject) for row in table.rows]
    for row, laid in zip(table.rows, plain["rows"], strict=True):
        assert (laid["standing"], laid["reason"]) == (row.standing.value, row.reason)
        assert laid["follows"] == list(row.follows)
        assert [tuple(one["withdrawn"]) for one in laid["repairs"]] == [one.withdrawn for one in row.repairs]
        for one, told in zip(row.testimonies, laid["testimonies"], strict=True):
            assert [origin["text"] for origin in told["origins"]] == [str(origin) for origin in one.origins]
            assert told["value"]["text"] == str(one.value)
            assert (told["method"], told["strength"], told["note"]) == (one.method, one.strength.value, one.note)
    assert sum(plain["counts"].values()) == len(table.rows)
    assert set(plain["counts"]) == {standing.value for standing in Standing}


def test_value_to_plain_knows_every_type() -> None:
    """The invented table uses each type of value, and each has a name of its own."""
    assert len(_types(table_to_plain(marram_table()))) == len(get_args(Value))


def test_value_to_plain_address_set() -> None:
    """An address set tells its patterns, its number of addresses and the lowest (worked out by hand)."""
    assert value_to_plain(AddressSet.parse("1011 xx01")) == {
        "type": "address-set",
        "text": "1011 xx01",
        "fields": {"width": 8, "patterns": ["1011 xx01"], "count": 4, "lowest": 0xB1},
    }


def test_value_to_plain_wrong() -> None:
    """A value of a type that the schema does not name is refused, not guessed at."""
    with pytest.raises(TypeError, match=r"^no plain form for Origin$"):
        value_to_plain(cast("Value", Origin("a.txt")))


def test_schema_is_documented() -> None:
    """Every key and every type that the plain form uses is named on the page that publishes the schema."""
    page = DOCUMENT.read_text("utf-8")
    named = set(re.findall(r"`([^`]+)`", page))

    def keys(plain: Any) -> set[str]:
        if isinstance(plain, dict):
            return set(plain).union(*(keys(value) for value in plain.values()))
        return set().union(*(keys(value) for value in plain)) if isinstance(plain, list) else set()

    plain = table_to_plain(marram_table())
    assert keys(plain) - named == set()
    assert _types(plain) - named == set()
    assert {kind.value for kind in SubjectKind} - named == set()
    assert value_to_plain(Words("x"))["type"] in named

"""The catalogue of parts against open pin facts and an IC tester's vectors."""

from __future__ import annotations

import gzip
import json
import pathlib
from typing import Any

import pytest

from latchlore.base import UnknownName
from latchlore.board import Levels, PartType, Role, find_type, get_type, iter_types, split_type

VECTORS = pathlib.Path(__file__).parents[2] / "shared" / "vectors"
UNKNOWN = Levels(1, 1)

WITHOUT_FACTS = {"74221": "in no open table of pins; pins from memory of TI SDLS213"}
"""Catalogue types of the 74 series that the open pin facts do not hold, with the reason."""

WITHOUT_MODEL = {
    "7450": "has expander pins, which carry no logic level",
    "7453": "has expander pins, which carry no logic level",
    "7460": "an expander: its outputs carry no logic level",
    "74H52": "has an expander pin, which carries no logic level",
    "74H53": "has expander pins, which carry no logic level",
    "74H61": "an expander: its outputs carry no logic level",
    "74H62": "an expander: its output carries no logic level",
    "74H87": "one source only for its pins",
    "74H106": "one source only for its pins",
    "74S201": "one source only for its pins",
    "74S405": "one source only for its pins",
}
"""Types of the tester's vectors that the catalogue leaves out, with the reason."""

START_UNKNOWN = {"74163": 1}
"""Expectations before the first clock of a type whose state is unknown then: type → how many."""


def load(name: str) -> Any:
    """A file of vectors, or a skipped test."""
    path = VECTORS / name
    if not path.exists():
        pytest.skip(f"the vectors are not there: {path}")
    if name.endswith(".gz"):
        with gzip.open(path, "rt") as lines:
            return [json.loads(line) for line in lines]
    return json.loads(path.read_text())["parts"]


def bare(name: str) -> tuple[str, bool]:
    """A pin name without marks, and whether it starts with the mark of a low-active pin."""
    return "".join(c for c in name if c not in "~/_ "), name[0] in "~/"


def test_pins_of_every_type() -> None:
    """Roles and names equal the open pin facts (ttl_pins.json) wherever two independent sources agree there."""
    facts = load("ttl_pins.json")
    checked = 0
    for part in iter_types():
        if part.name not in facts:
            assert part.name in WITHOUT_FACTS or not part.name.startswith("74"), part.name
            continue
        assert facts[part.name]["pins"] == len(part.pins), part.name
        for pin, fact in zip(part.pins, facts[part.name]["pin"], strict=True):
            assert pin.number == fact["pin"]
            if fact["role_agree"] >= 2:
                assert pin.role.value == fact["role"], (part.name, pin)
                checked += 1
            if fact["name_agree"] >= 2:
                assert bare(pin.name) == bare(fact["name"]), (part.name, pin)
    assert checked > 2000


def test_types_left_out() -> None:
    """Every type of the pin facts is in the catalogue, but for the named exceptions."""
    missing = {name for name in load("ttl_pins.json") if name not in {part.name for part in iter_types()}}
    assert missing == set(WITHOUT_MODEL)


def level(character: str) -> Levels:
    """A driven level of a vector; everything else is unknown."""
    return {"0": Levels(1, 0), "1": Levels(0, 1)}.get(character, UNKNOWN)


Run = tuple[int, list[str], int]  # expectations, differences, not determined


def walk(part: PartType, vectors: list[str]) -> Run:
    """Walk one ordered run of vectors; the state is unknown at the start."""
    states: list[tuple[Levels, ...]] = [(UNKNOWN,) * block.states for block in part.blocks]
    before: list[Levels] | None = None
    total, open_ones, wrong = 0, 0, []
    passes = 3 if any(pin.role is Role.BOTH for pin in part.pins) else 1
    for vector in vectors:
        now = [level(c) for c in vector]
        outputs: dict[int, tuple[Levels, Levels, Role]] = {}
        for again in range(passes):  # a pin that is input and output shows its own level to the part
            outputs.clear()
            for k, block in enumerate(part.blocks):
                inputs = tuple(now[pin - 1] for pin in block.inputs)
                if block.step is None:
                    values = block.function(*inputs)
                else:
                    if again == 0:
                        past = tuple((before or now)[pin - 1] for pin in block.inputs)
                        states[k] = block.step(past, inputs, states[k])
                    values = block.function(inputs, states[k])
                enable = Levels(0, 1) if block.enable is None else block.enable(*inputs)
                for pin, value in zip(block.outputs, values, strict=True):
                    outputs[pin] = (value, enable, block.drive)
            shared = [pin for pin in outputs if vector[pin - 1] not in "01" and part.pin(pin).role is Role.BOTH]
            for pin in shared:
                value, enable, _ = outputs[pin]
                now[pin - 1] = value if enable.can1 else UNKNOWN
        for pin, (value, enable, drive) in outputs.items():
            wanted = vector[pin - 1]
            if wanted in "HLZ":
                total += 1
                seen = shown(value, enable, drive)
                if seen == "?":
                    open_ones += 1
                elif seen != ("Z" if drive is Role.OPEN_COLLECTOR and wanted == "H" else wanted):
                    wrong.append(f"{part.name} pin {pin} shows {seen} at {vector}")
        before = now
    return total, wrong, open_ones


def shown(value: Levels, enable: Levels, drive: Role) -> str:
    """What a tester sees at an output: L, H, Z, or ? where it is not determined."""
    if enable == UNKNOWN or (value == UNKNOWN and enable.can1):
        return "?"
    if enable.can0:
        return "Z"
    if value.can0:
        return "L"
    return "Z" if drive is Role.OPEN_COLLECTOR else "H"


def test_functions_of_every_type() -> None:
    """Every expectation of the tester's vectors (ttl_vectors.jsonl.gz, an open IC tester's data) is met."""
    total = 0
    for line in load("ttl_vectors.jsonl.gz"):
        if line["part"] in WITHOUT_MODEL:
            continue
        part = get_type(line["part"])
        assert part.name == line["part"]
        count, wrong, open_ones = walk(part, line["vectors"])
        assert not wrong, wrong[:3]
        assert open_ones <= START_UNKNOWN.get(part.name, 0), part.name
        total += count
    assert total > 100_000


def test_functions_wrong() -> None:
    """A planted fault is caught by the vectors: a NOR in the place of a NAND, a decoder with two lines swapped."""
    lines = {line["part"]: line["vectors"] for line in load("ttl_vectors.jsonl.gz")}
    nor = get_type("7402").blocks[0].function
    nand = get_type("7400")
    spoilt = [b if k else type(b)(b.inputs, b.outputs, nor) for k, b in enumerate(nand.blocks)]
    assert walk(PartType("7400", "", nand.pins, tuple(spoilt), "planted"), lines["7400"])[1]
    decoder = get_type("74138")
    block = decoder.blocks[0]
    swapped = type(block)(block.inputs, (block.outputs[1], block.outputs[0], *block.outputs[2:]), block.function)
    assert walk(PartType("74138", "", decoder.pins, (swapped,), "planted"), lines["74138"])[1]


def test_split_type() -> None:
    """Prefix, family and package letters are taken off; types with a pinout of their family's own keep it."""
    assert split_type("SN74LS138N") == ("74138", "LS")
    assert split_type("dm7400") == ("7400", "")
    assert split_type("74hct245") == ("74245", "HCT")
    assert split_type("74LS51") == ("74LS51", "LS")
    assert split_type("7451") == ("7451", "")
    assert split_type("HD2503") is None


def test_find_type() -> None:
    """A type is found by what is printed on it, and names its source."""
    found = find_type("SN74S374N")
    assert found is not None
    assert (found.name, len(found.pins)) == ("74374", 20)
    assert all(part.source for part in iter_types())
    assert find_type("9311") is None


def test_get_type_wrong() -> None:
    """A type that is not in the catalogue is refused by name."""
    with pytest.raises(UnknownName, match=r"^the catalogue has no type '7499X9'$"):
        get_type("7499X9")

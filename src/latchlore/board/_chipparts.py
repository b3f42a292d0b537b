"""What the facts of a programmable chip are made of: registers, the fields of their words, the bus side."""

from __future__ import annotations

from typing import NamedTuple


class Field(NamedTuple):
    """Bits `high` to `low` of a word; `meanings` by value, so that their number is a power of two.

    An empty meaning is a value that the data sheet does not define.  Two values may mean the same.
    """

    name: str
    high: int
    low: int
    meanings: tuple[str, ...]

    @property
    def mask(self) -> int:
        """The field's bits in the word."""
        return ((2 << self.high) - 1) & ~((1 << self.low) - 1)


class Form(NamedTuple):
    """One way to read a word: it has this form where ``word & care == value``."""

    name: str
    care: int
    value: int
    fields: tuple[Field, ...]


class Inner(NamedTuple):
    """One register inside a chip.

    `code`: levels of the select pins in the order of `Chip.selects`, ``x`` where one does not matter.  `access`: r,
    w or rw.  `bits`: names of bits 0 to 7, () where they carry data.  `forms`: how its words are read.  `when`: a
    condition besides the select pins, in words.  `port`: stem of the pins behind it (``PA``), `shows`: bits that show
    a pin, as (bit, pin, inverted); `drives`: bits that set a pin, as (bit, pin, inverted, under which condition).
    `note`: what to know besides, in words.
    """

    name: str
    code: str
    access: str
    bits: tuple[str, ...] = ()
    forms: tuple[Form, ...] = ()
    when: str = ""
    port: str = ""
    shows: tuple[tuple[int, str, bool], ...] = ()
    drives: tuple[tuple[int, str, bool, str], ...] = ()
    note: str = ""


class Bus(NamedTuple):
    """How a processor reaches a chip: select pins that must be high and low, then either a clock with R/W, or strobes.

    `clock`: a write takes its data where it falls; `rw`: 1 reads.  `reads` and `writes`: strobes, with a / where low
    is active; any of them acts.
    """

    high: tuple[str, ...]
    low: tuple[str, ...]
    clock: str = ""
    rw: str = ""
    reads: tuple[str, ...] = ()
    writes: tuple[str, ...] = ()


class Chip(NamedTuple):
    """One programmable chip.

    `pins` in order, as in a catalogue row.  `outputs`: pins that no register bit sets alone, with what they show;
    `open_drain` those of them that only pull low.  `both`: pins that a program can turn round.  `masked`: the select
    is made by a mask that nobody sees from outside.  `reset`: register → word after reset, others 0; `reset_by`: the
    pin, or how it is reset.  `source`: the data sheet.
    """

    name: str
    title: str
    pins: str
    selects: tuple[str, ...]
    bus: Bus
    inners: tuple[Inner, ...]
    outputs: tuple[tuple[str, str], ...]
    open_drain: tuple[str, ...]
    both: tuple[str, ...]
    reset: tuple[tuple[str, int], ...]
    reset_by: str
    source: str
    masked: bool = False
    analog: str = ""

"""What the search for load address and processor says, in words."""

from __future__ import annotations

NO_CPU = "none of these: too little of it hangs together as code of any known processor"


def by_calls(hits: int, inside: int) -> str:
    """What the calls say."""
    return f"{hits} of {inside} absolute calls and jumps into it land behind a return or jump"


def by_runs(hits: int, runs: int) -> str:
    """What reading on from the targets says."""
    return f"{hits} of {runs} of their targets read on as documented instructions"


def by_vectors(names: str) -> str:
    """What the vectors say."""
    return f"vectors at the top lead into it: {names}"


def by_header(load: int) -> str:
    """What a header says."""
    return f"its first two bytes state {load:04X}"


BY_START = "it begins as programs begin where this processor starts"


def not_decided(first: str, second: str, lead: int, margin: int) -> str:
    """Why the processor stays open."""
    return f"undecided between {first} and {second}: the first leads by {lead} bits only; {margin} are asked for"


OPEN_PLACE = "undecided: the evidence is too thin, or the place unusual; state the load address"
NO_LOAD = "its load address is not known; state it"
STATED_LOAD = "as stated"
RECORDED_LOAD = "as its records state"
INFERRED_LOAD = "as its code shows"


def summary(file: str, cpu: str | None, load: int | None, source: str) -> str:
    """The last line of a description."""
    place = "load address not known" if load is None else f"loads at {load:04X}, {source}"
    return f"{file}: {cpu or 'processor not known'}; {place}"


def no_vector(name: str, place: int) -> str:
    """A vector that no image holds."""
    return f"the {name} vector at {place:04X} lies in no image; state the entry"


def fill(value: int, count: int, first: int, last: int) -> str:
    """Stretches of one byte."""
    return f"{value:02X}h fills {count:,} bytes, the longest stretch at {first:04X}-{last:04X}"


def texts(number: int) -> str:
    """How much text there is."""
    return "no text in it" if not number else f"{number:,} text{'' if number == 1 else 's'}, such as"

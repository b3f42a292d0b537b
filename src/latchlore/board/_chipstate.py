"""A programmable chip as registers that are written and read, and the pins that follow: pure, one step at a time.

Timers do not count and shift registers do not shift here: what they would hold reads as not known.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import UnknownName
from latchlore.board._chipwords import get_chip, select_inners

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from latchlore.board._chipparts import Chip, Inner


class PinState(NamedTuple):
    """What a pin does: out with its level (None: not known), or in."""

    is_output: bool
    level: int | None = None


class Seen(NamedTuple):
    """A word that was read: only the bits of `known` are."""

    word: int
    known: int


@dataclass(frozen=True, slots=True)
class ChipState:
    """What a chip holds.

    `words`: register → word, as written.  `flags`: what is set inside (a buffer full, an edge seen, a pin turned low
    by a handshake).  `pulsed`: pins that the last access pulsed low.
    """

    chip: str
    words: tuple[tuple[str, int], ...]
    flags: frozenset[str] = frozenset()
    pulsed: tuple[str, ...] = ()

    def word(self, name: str) -> int:
        """What a register was written with; 0 after reset unless the data sheet says otherwise."""
        return dict(self.words).get(name, 0)

    def put(self, name: str, word: int) -> ChipState:
        """The same with another word in a register."""
        words = {**dict(self.words), name: word & 0xFF}
        return replace(self, words=tuple(sorted(words.items())))

    def flag(self, *names: str, on: bool = True) -> ChipState:
        """The same with flags set or cleared."""
        return replace(self, flags=self.flags | set(names) if on else self.flags - set(names))


class Rules(NamedTuple):
    """The rules of one kind of chip; see the functions of this file for what each gives."""

    write: Callable[[ChipState, Inner, int], ChipState]
    read: Callable[[ChipState, Inner, Mapping[str, int]], tuple[Seen, ChipState]]
    pins: Callable[[ChipState], dict[str, PinState]]
    edge: Callable[[ChipState, str, int], ChipState]
    pick: Callable[[ChipState, tuple[Inner, ...], str], str]


def reset_state(chip: str) -> ChipState:
    """A chip after its reset."""
    facts = get_chip(chip)
    return ChipState(chip, tuple(sorted(facts.reset)))


def write_register(state: ChipState, code: int, word: int) -> ChipState:
    """Write a word (0 to 255) with these levels on the select pins, the first of `Chip.selects` highest."""
    chip, inner = _pick(state, code, "w")
    return _rules(chip).write(replace(state, pulsed=()), inner, word & 0xFF)


def read_register(state: ChipState, code: int, levels: Mapping[str, int] | None = None) -> tuple[Seen, ChipState]:
    """Read with these select levels and these levels on the input pins (a pin left out is not known)."""
    chip, inner = _pick(state, code, "r")
    return _rules(chip).read(replace(state, pulsed=()), inner, levels or {})


def pin_states(state: ChipState) -> dict[str, PinState]:
    """Every pin that a program can turn round or set, by name, sorted."""
    return dict(sorted(_rules(get_chip(state.chip)).pins(state).items()))


def input_edge(state: ChipState, pin: str, level: int) -> ChipState:
    """An input pin goes to a level: what strobes and handshake lines do."""
    chip = get_chip(state.chip)
    if pin not in chip.pins.split():
        raise UnknownName(f"the {chip.name} has no pin {pin!r}")
    return _rules(chip).edge(replace(state, pulsed=()), pin, level)


def selected_register(state: ChipState, code: int, access: str) -> str:
    """The name of the register that an access with these select levels reaches now; access is r or w."""
    return _pick(state, code, access)[1].name


def _pick(state: ChipState, code: int, access: str) -> tuple[Chip, Inner]:
    chip = get_chip(state.chip)
    if not 0 <= code < 1 << len(chip.selects):
        raise UnknownName(f"the {chip.name} has select levels 0 to {(1 << len(chip.selects)) - 1}, not {code!r}")
    found = select_inners(chip, code, access)
    if not found:
        raise UnknownName(f"nothing in the {chip.name} answers a {'read' if access == 'r' else 'write'} at {code}")
    name = _rules(chip).pick(state, found, access)
    return chip, next((inner for inner in found if inner.name == name), found[0]._replace(name=name))


def _rules(chip: Chip) -> Rules:
    from latchlore.board._chiprules import RULES

    return RULES[chip.name]

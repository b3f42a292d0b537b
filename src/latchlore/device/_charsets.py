"""Which character a byte prints, which sets explain a printed sample, and which next byte tells them apart."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from latchlore.base import UnknownName
from latchlore.device._iso646 import POSITIONS, VERSIONS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from latchlore.device._device import Citation

PRINTING = range(0x20, 0x7F)


@dataclass(frozen=True, slots=True)
class CharacterSet:
    """The characters that bytes print; a byte not in `characters` prints none.  `citations`: rows of a device's own."""

    name: str
    characters: Mapping[int, str]
    citations: Mapping[int, Citation] = field(default_factory=dict)

    def called(self, name: str) -> CharacterSet:
        """The same set by another name."""
        return replace(self, name=name)

    def find(self, byte: int) -> str | None:
        """The character, or None where the byte prints nothing known."""
        return self.characters.get(byte)

    def text(self, data: bytes) -> str:
        """The characters of the bytes; what prints nothing is shown as ``<1B>``."""
        return "".join(self.characters.get(byte) or f"<{byte:02X}>" for byte in data)


def set_names() -> tuple[str, ...]:
    """Names of the national versions of ISO 646 that are known."""
    return tuple(version.name for version in VERSIONS)


def find_set(name: str) -> CharacterSet | None:
    """The national version of that name; None for another name."""
    for version in VERSIONS:
        if version.name == name:
            characters = {code: chr(code) for code in PRINTING}
            characters.update(zip(POSITIONS, version.characters, strict=True))
            return CharacterSet(name, characters)
    return None


def get_set(name: str) -> CharacterSet:
    """The national version of that name.  Refuses another name."""
    found = find_set(name)
    if found is None:
        raise UnknownName(f"there is no national version of ISO 646 named {name!r}", set_names())
    return found


@dataclass(frozen=True, slots=True)
class Exclusion:
    """A set that does not explain the sample: the first byte (by code) at which it fails, and what it would print."""

    name: str
    code: int
    seen: str
    printed: str | None


@dataclass(frozen=True, slots=True)
class Decider:
    """A byte that tells the remaining sets apart: `outcomes` gives the sets for each character that may appear."""

    code: int
    outcomes: tuple[tuple[str | None, tuple[str, ...]], ...]

    @property
    def largest(self) -> int:
        """How many sets remain after the least telling outcome."""
        return max(len(names) for _, names in self.outcomes)


@dataclass(frozen=True, slots=True)
class PrintedSample:
    """What a printed sample says about the character set."""

    possible: tuple[str, ...]
    excluded: tuple[Exclusion, ...]
    deciders: tuple[Decider, ...]


def explain_print(sets: Iterable[CharacterSet], seen: Mapping[int, str]) -> PrintedSample:
    """Which sets print what was seen (byte → character), and which bytes decide among them, best first.

    A byte decides when the remaining sets do not all print the same; see `decider_rank` for the order.
    """
    remaining: list[CharacterSet] = []
    excluded: list[Exclusion] = []
    for one in sets:
        wrong = next((code for code in sorted(seen) if one.find(code) != seen[code]), None)
        if wrong is None:
            remaining.append(one)
        else:
            excluded.append(Exclusion(one.name, wrong, seen[wrong], one.find(wrong)))
    codes = sorted({code for one in remaining for code in one.characters} - set(seen))
    deciders = [decider for code in codes if len((decider := _decider(code, remaining)).outcomes) > 1]
    return PrintedSample(
        tuple(one.name for one in remaining), tuple(excluded), tuple(sorted(deciders, key=decider_rank))
    )


def decider_rank(decider: Decider) -> tuple[int, int, int]:
    """Best first: fewest sets left in the worst case, then most outcomes, then the lowest code.

    The worst case comes first because the researcher may have one print only; the code makes the order total.
    """
    return (decider.largest, -len(decider.outcomes), decider.code)


def _decider(code: int, sets: list[CharacterSet]) -> Decider:
    by_character: dict[str | None, list[str]] = {}
    for one in sets:
        by_character.setdefault(one.find(code), []).append(one.name)
    return Decider(code, tuple((character, tuple(names)) for character, names in by_character.items()))

"""What the words mean that the program writes to registers inside programmable chips.

The board says which register it is, the program which words it writes, the chip's table what they mean; nothing here
is inferred beyond that.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import InputKind, Strength, Subject, SubjectKind, Testimony, Witness, Words, Write

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.board import Inside, Register, RegisterMap
    from latchlore.program.testify import Material

MAX_WORDS = 8
"""Most words that are spelled out for one register."""

METHOD = "words that the program writes, read by the table of the {chip} ({source})"


def explained_words(registers: RegisterMap, material: Material) -> Iterator[Testimony]:
    """One testimony for each register inside a chip whose words have a meaning and that some entry writes.

    Subject NOTE ``words written to PART REGISTER``, value Words.  In register order.
    """
    from latchlore.board import get_chip, get_inner

    for register in registers.registers:
        if register.direction != "write":
            continue
        for inside in register.inside:
            if get_inner(get_chip(inside.chip), inside.register).forms:
                yield from _words(register, inside, material)


def _words(register: Register, inside: Inside, material: Material) -> Iterator[Testimony]:
    from latchlore.board import describe_word, get_chip, get_inner

    kind = InputKind.PORT if register.space == "port" else InputKind.MEMORY
    words: set[int] = set()
    places: set[int] = set()
    for entry in material.entries:
        words |= entry.tree.possible_bytes(lambda k, address: k is kind and address in register.addresses)
        places |= {
            event.program_address
            for event in entry.tree.iter_events()
            if isinstance(event, Write) and event.kind is kind and event.address in register.addresses
        }
    if not words:
        return
    shown = sorted(words)[:MAX_WORDS]
    lines = [f"{word:02X} is {describe_word(inside.chip, inside.register, word) or 'not defined'}" for word in shown]
    if len(words) > len(shown):
        lines.append(f"and {len(words) - len(shown)} further words")
    yield Testimony(
        Subject(SubjectKind.NOTE, (f"words written to {inside.part} {inside.register}",)),
        Words("; ".join(lines)),
        Witness.PROGRAM,
        tuple(material.origin(place) for place in sorted(places)),
        METHOD.format(chip=inside.chip, source=get_chip(inside.chip).source),
        Strength.COMPUTED,
        f"while {when}" if (when := get_inner(get_chip(inside.chip), inside.register).when) else "",
    )

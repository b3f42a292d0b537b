"""Words of a chip's registers, read both ways: what a word says, and which words say what is wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import UnknownName
from latchlore.board.chipfacts import BAUD_CLOCK_8250, CHIPS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.board._chipparts import Chip, Field, Form, Inner

Explained = tuple[tuple[str, str], ...]  # (field, meaning), in the order of the data sheet's table


def get_chip(name: str) -> Chip:
    """The facts of a programmable chip by type number, such as ``8255``."""
    if name not in CHIPS:
        raise UnknownName(f"no programmable chip {name!r} is known", list(CHIPS))
    return CHIPS[name]


def get_inner(chip: Chip, name: str) -> Inner:
    """The register of a chip by name."""
    for inner in chip.inners:
        if inner.name == name:
            return inner
    raise UnknownName(f"the {chip.name} has no register {name!r}", [inner.name for inner in chip.inners])


def select_inners(chip: Chip, code: int, access: str) -> tuple[Inner, ...]:
    """The registers that the select pins name, the first pin of `Chip.selects` as the highest bit of `code`.

    `access` is r or w.  More than one where a bit inside the chip decides between them; none where nothing answers.
    """
    width = len(chip.selects)
    levels = f"{code:0{width}b}" if width else ""
    return tuple(
        inner
        for inner in chip.inners
        if access in inner.access and all(c in ("x", at) for c, at in zip(inner.code, levels, strict=True))
    )


def explain_word(chip_name: str, register: str, word: int) -> tuple[tuple[str, Explained], ...]:
    """Every way to read a word of a register (0 to 255): (form, its fields and meanings).

    More than one form is given where what went before decides between them (an 8251's mode and command); none where
    the register carries data.  A field value that the data sheet does not define reads ``not defined``.
    """
    if not 0 <= word <= 0xFF:
        raise UnknownName(f"a word is 00 to FF, not {word!r}")
    inner = get_inner(get_chip(chip_name), register)
    found: list[tuple[str, Explained]] = []
    for form in inner.forms:
        if word & form.care != form.value:
            continue
        if found and any(f.care for f in inner.forms):  # a form with marks of its own leaves nothing to the next
            break
        found.append((form.name, tuple((field.name, _meaning(field, word)) for field in form.fields)))
    if not inner.forms and inner.bits:
        found.append((register, tuple((name, str(word >> k & 1)) for k, name in enumerate(inner.bits) if name)))
    return tuple(found)


def describe_word(chip_name: str, register: str, word: int) -> str:
    """A word in one line: form and fields; empty where the register carries data."""
    parts = [
        f"{form}: " + ", ".join(f"{field} {meaning}" for field, meaning in fields) if fields else form
        for form, fields in explain_word(chip_name, register, word)
    ]
    return "; or ".join(parts)


def find_words(chip_name: str, register: str, wanted: Mapping[str, str], form: str | None = None) -> tuple[int, ...]:
    """Every word (00 to FF, in order) that says all that is wanted (field → meaning), whatever else it says.

    Looks at every form of the register, or at the one named.  Refuses a field or meaning that the register does not
    have (`UnknownName`), and wishes that stand in no one form together.
    """
    inner = get_inner(get_chip(chip_name), register)
    forms = [one for one in inner.forms if form in (None, one.name)]
    if not forms:
        raise UnknownName(
            f"register {register!r} of the {chip_name} has no form {form!r}", [one.name for one in inner.forms]
        )
    fitting = [one for one in forms if set(wanted) <= {field.name for field in one.fields}]
    if not fitting:
        names = list(dict.fromkeys(field.name for one in forms for field in one.fields))
        missing = next((name for name in wanted if name not in names), None)
        if missing is None:
            raise UnknownName(f"no one word of register {register!r} has all of {', '.join(wanted)}")
        raise UnknownName(f"register {register!r} of the {chip_name} has no field {missing!r}", names)
    for name, meaning in wanted.items():
        known = [m for one in fitting for field in one.fields if field.name == name for m in field.meanings]
        if meaning not in known:
            raise UnknownName(f"field {name!r} cannot be {meaning!r}", list(dict.fromkeys(filter(None, known))))
    return tuple(word for word in range(256) if any(_says(one, word, wanted, forms) for one in fitting))


def _says(form: Form, word: int, wanted: Mapping[str, str], forms: list[Form]) -> bool:
    if word & form.care != form.value:
        return False
    for earlier in forms:
        if earlier is form:
            break
        if earlier.care and word & earlier.care == earlier.value:
            return False
    by_name = {field.name: field for field in form.fields}
    return all(_meaning(by_name[name], word) == meaning for name, meaning in wanted.items())


def _meaning(field: Field, word: int) -> str:
    return field.meanings[(word & field.mask) >> field.low] or "not defined"


def divisor_8250(rate: int, clock_hz: int = BAUD_CLOCK_8250) -> tuple[int, int]:
    """The divisor for a rate in baud, rounded to the nearest, and its error in millionths of the rate (may be < 0)."""
    if not 1 <= rate <= clock_hz // 16:
        raise UnknownName(f"a rate is 1 to {clock_hz // 16} baud at this clock, not {rate!r}")
    divisor = max(1, (clock_hz + 8 * rate) // (16 * rate))
    return divisor, (clock_hz * 1_000_000) // (16 * divisor * rate) - 1_000_000

"""What follows when the witnesses' testimonies are brought onto common subjects.

A program names an address, a board the register with all its mirrors; a document numbers the pins of its own plug; a
strap is a bit to the program and a jumper to the board.  Here each testimony is put under the subject where the others
can meet it.  Nothing is inferred about truth; that is weighing.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from latchlore.base import (
    ActiveLevel,
    AddressSet,
    BitKind,
    BitLevel,
    BitSense,
    BitUse,
    ByteSequence,
    ByteTree,
    InputKind,
    Strength,
    Subject,
    SubjectKind,
    Testimony,
    Witness,
    address_digits,
)
from latchlore.evidence import wording
from latchlore.evidence._paths import explain_sequence
from latchlore.evidence._relations import Side
from latchlore.evidence._signals import holds_back, signal_name

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from latchlore.base import InputBit, SignalRole

    Belongs = Callable[[InputKind, int], bool]
    RegisterKey = tuple[str, str, str]

DATA = "DATA"


def join(testimonies: Iterable[Testimony], roles: Sequence[SignalRole]) -> tuple[Testimony, ...]:
    """All testimonies under the subjects where they meet, with those that follow from a log and a tree together."""
    said = _on_registers(tuple(testimonies))
    plug = _printer_plug(said)
    said = tuple(_renamed(one, plug) for one in said)
    said += _levels_from_logs(said, sent_to(roles))
    said = _on_registers(said)
    return tuple(dict.fromkeys(said + _on_signals(said)))


def sent_to(roles: Sequence[SignalRole]) -> Belongs | None:
    """Which writes carry data; None where nobody says which register does."""
    data = [role for role in roles if role.signal == DATA and role.bit is None and role.direction == "write"]
    if not data:
        return None
    return lambda kind, address: any(role.kind is kind and address in role.addresses for role in data)


def _space(kind: InputKind) -> str:
    return "port" if kind is InputKind.PORT else "memory"


def _on_registers(said: tuple[Testimony, ...]) -> tuple[Testimony, ...]:
    """Registers and bits under the key that the board gives them, where the board knows the address."""
    registers = [
        (one.subject.key, one.value)
        for one in said
        if one.witness is Witness.BOARD
        and one.subject.kind is SubjectKind.REGISTER
        and isinstance(one.value, AddressSet)
    ]

    def home(space: str, address: str, direction: str) -> tuple[str, ...]:
        for key, addresses in registers:
            if key[0] == space and key[2] == direction and int(address, 16) in addresses:
                return key
        return (space, address, direction)

    moved = []
    for one in said:
        kind, key = one.subject.kind, one.subject.key
        if kind is SubjectKind.REGISTER:
            moved.append(_under(one, kind, home(*key)))
        elif kind is SubjectKind.BIT:
            moved.append(_under(one, kind, (*home(*key[:3]), key[3])))
        else:
            moved.append(one)
    return tuple(moved)


def _under(one: Testimony, kind: SubjectKind, key: tuple[str, ...]) -> Testimony:
    subject = Subject(kind, key)
    return one if subject == one.subject else replace(one, subject=subject)


def _printer_plug(said: Sequence[Testimony]) -> str:
    """The connector that the board's pins belong to, if there is just one; a document need not know its name."""
    plugs = {one.subject.key[0] for one in said if one.subject.kind is SubjectKind.PIN and one.witness is Witness.BOARD}
    return plugs.pop() if len(plugs) == 1 else ""


def _renamed(one: Testimony, plug: str) -> Testimony:
    """Names in one spelling: signals in upper case without marks, connectors in lower case."""
    kind, key = one.subject.kind, one.subject.key
    if kind is SubjectKind.SIGNAL:
        return _under(one, kind, (signal_name(key[0]),))
    if kind is SubjectKind.PIN:
        named = key[0].casefold()
        if plug and one.witness is Witness.DOCUMENTS and named in ("", "connector"):
            named = plug
        return _under(one, kind, (named, key[1]))
    if kind is SubjectKind.WIDTH and key == ("data width needed",):
        return _under(one, kind, ("data width",))
    if kind is SubjectKind.STRAP:
        return _under(one, kind, (key[0].casefold(),))
    return one


def _levels_from_logs(said: Sequence[Testimony], belongs: Belongs | None) -> tuple[Testimony, ...]:
    """What held status bits were while a log was taken, where every path that explains it says so."""
    if belongs is None:
        return ()
    found: list[Testimony] = []
    for log in said:
        if not isinstance(log.value, ByteSequence) or log.witness is not Witness.WIRE:
            continue
        for tree in said:
            if tree.subject != log.subject or not isinstance(tree.value, ByteTree):
                continue
            lookup = explain_sequence(log.value, tree.value, belongs)
            method = wording.LEVEL_FROM_LOG if lookup.side is Side.AGREE else wording.LEVEL_FROM_DOUBTS
            found += [_level(log, tree, bit, level, method) for bit, level in lookup.held if bit.turn < 0]
    return tuple(one for one in found if one.subject.key[1])


def _level(log: Testimony, tree: Testimony, bit: InputBit, level: int, method: str) -> Testimony:
    space = _space(bit.kind)
    device = bit.kind in (InputKind.MEMORY, InputKind.PORT)
    key = (space, address_digits(space, bit.address), "read", str(bit.bit)) if device else (space, "", "", "")
    return Testimony(
        Subject(SubjectKind.BIT, key),
        BitLevel(level, wording.when_logged(log.subject.key[0])),
        Witness.WIRE,
        (*log.origins, *tree.origins),
        method,
        Strength.COMPUTED,
        falls_with=(*log.falls_with, *tree.falls_with),
    )


def _on_signals(said: Sequence[Testimony]) -> tuple[Testimony, ...]:
    """Copies of what is said about a register bit under the signal or strap at its far end, and the other way round.

    So that a bit stands or falls with what is known of the signal it is wired to, and the signal with the bit.
    """
    straps = {one.subject.key[0] for one in said if one.subject.kind is SubjectKind.STRAP}
    copies: list[Testimony] = []
    for wired in said:
        sense = wired.value
        if (
            wired.subject.kind is not SubjectKind.BIT
            or not isinstance(sense, BitSense)
            or (wired.subject.key[2] != "read" and not _is_pulsed(said, wired.subject))
            or sense.kind is not BitKind.FOLLOWS
            or " bit " in sense.source  # a latch read back: no signal of its own
            or (wired.witness is Witness.DOCUMENTS and _is_traced(said, wired.subject))
        ):
            continue
        if sense.source.casefold() in straps:
            subject = Subject(SubjectKind.STRAP, (sense.source.casefold(),))
        else:
            subject = Subject(SubjectKind.SIGNAL, (signal_name(sense.source),))
        copies += _outwards(said, wired, subject, sense)
        copies += _inwards(said, wired, subject, sense)
    return tuple(copies)


def _outwards(said: Sequence[Testimony], wired: Testimony, end: Subject, sense: BitSense) -> Iterator[Testimony]:
    """What is said about a bit, as it looks at its far end; a level seen through the bit falls with its wiring too.

    What the bit is wired to, and how it is used, bears on a signal only where a program waits for the bit or pulses it.
    """
    bears = _is_waited_for(said, wired.subject) or _is_pulsed(said, wired.subject)
    for one in said:
        if one.subject != wired.subject:
            continue
        if isinstance(one.value, BitLevel):
            value = replace(one.value, level=one.value.level ^ int(sense.inverted))
            yield replace(one, subject=end, value=value, falls_with=(*one.falls_with, *wired.falls_with))
        elif isinstance(one.value, BitSense) and _is_elsewhere(one, sense):
            continue  # what a document says of another signal is weighed under the bit
        elif isinstance(one.value, BitSense | BitUse) and (bears or end.kind is SubjectKind.STRAP):
            yield replace(one, subject=end)


def _inwards(said: Sequence[Testimony], wired: Testimony, end: Subject, sense: BitSense) -> Iterator[Testimony]:
    """What is said about the far end, as it looks at the bit: only where it meets what is known of the bit itself."""
    bit = wired.subject
    on_bit = [one.value for one in said if one.subject == bit]
    bears = _is_pulsed(said, bit) or (_is_waited_for(said, bit) and holds_back(sense.source) is not None)
    logged = any(isinstance(value, BitLevel) for value in on_bit)
    for one in said:
        if one.subject != end:
            continue
        if isinstance(one.value, ActiveLevel) and bears:
            yield replace(one, subject=bit)
        elif isinstance(one.value, BitLevel) and logged:
            value = replace(one.value, level=one.value.level ^ int(sense.inverted))
            yield replace(one, subject=bit, value=value, falls_with=(*one.falls_with, *wired.falls_with))


def _uses(said: Sequence[Testimony], bit: Subject) -> Iterator[BitUse]:
    return (one.value for one in said if one.subject == bit and isinstance(one.value, BitUse))


def _is_waited_for(said: Sequence[Testimony], bit: Subject) -> bool:
    """Whether a program's loop waits for the bit."""
    return any(use.goes_on_at is not None for use in _uses(said, bit))


def _is_pulsed(said: Sequence[Testimony], bit: Subject) -> bool:
    """Whether a program pulses the bit, and tells at which value."""
    return any(use.pulsed_at is not None for use in _uses(said, bit))


def _is_traced(said: Sequence[Testimony], bit: Subject) -> bool:
    """Whether the board knows what the bit follows."""
    traced = (one.value for one in said if one.subject == bit and one.witness is Witness.BOARD)
    return any(isinstance(value, BitSense) and value.kind is not BitKind.UNKNOWN for value in traced)


def _is_elsewhere(one: Testimony, sense: BitSense) -> bool:
    """Whether a document has the bit follow something else than the signal it is traced to."""
    if one.witness is not Witness.DOCUMENTS or not isinstance(one.value, BitSense):
        return False
    return one.value.kind is not BitKind.FOLLOWS or signal_name(one.value.source) != signal_name(sense.source)

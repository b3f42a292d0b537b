"""What the documents say about the subjects of a study: the wing's one door to the weighing."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from latchlore.base import (
    HANDSHAKE_ORDER,
    ActiveLevel,
    BitSense,
    ByteSequence,
    Emission,
    Statement,
    StatementKind,
    Strength,
    Subject,
    SubjectKind,
    Testimony,
    Value,
    Witness,
    Words,
)
from latchlore.device._patterns import OneByte
from latchlore.device._settings import condition_of
from latchlore.device._wording import describe_addresses, describe_bit, describe_conditions

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.device._device import Citation, Command, Device, Pin, StatedOrder, Timing
    from latchlore.device._registers import StatedRegister
    from latchlore.device._settings import Condition, StatedSwitch

DATA_WIDTH = "data width needed"


def testify(devices: Sequence[Device], stated: Sequence[StatedSwitch] = ()) -> tuple[Testimony, ...]:  # noqa: PT028 - no test
    """Everything the documents state, in the order given and then in the order of each file's kinds of row.

    Subjects: COMMAND by the fixed leading bytes, value the meaning; PIN by connector and number as written; SIGNAL,
    its active level; TIMING, a limit; ORDER "handshake order"; WIDTH "data width needed"; REGISTER and
    BIT; SEQUENCE; EMISSION; NOTE.
    Strength is STATED, or GUESSED where the transcriber doubts the row.  `note` carries his doubt and the words as
    printed.  `stated`: how switches of the device under study stand; what is not stated stands as the factory set it.
    A command, order or register that holds under other settings only is a NOTE.
    """
    found: list[Testimony] = []
    for device in devices:
        found += _commands(device, stated)
        for pin in device.pins:
            found += _pin(device, pin)
        for timing in device.timings:
            found += _timing(device, timing)
        for one in device.orders:
            found.append(_order(device, one, condition_of(device, one.when_switch, stated)))
        for register in device.registers:
            found += _register(device, register, condition_of(device, register.when_switch, stated))
        found += _others(device)
    return tuple(found)


def _say(
    device: Device, kind: SubjectKind, key: tuple[str, ...], value: Value, citation: Citation, what: str, more: str = ""
) -> Testimony:
    notes = [more] if more else []
    if citation.doubt:
        notes.append(f"doubt: {citation.doubt}")
    if citation.quote:
        notes.append(f"printed: {citation.quote}")
    subject = Subject(kind, key)
    return Testimony(
        subject=subject,
        value=value,
        witness=Witness.DOCUMENTS,
        origins=(citation.origin,),
        method=f"{what} of the {device.kind} '{device.title}'",
        strength=Strength.GUESSED if citation.doubt or more else Strength.STATED,
        note="; ".join(notes),
        falls_with=((row_statement(device, subject, citation),),),
    )


def row_statement(device: Device, subject: Subject, citation: Citation) -> Statement:
    """The row as a statement that can be withdrawn alone: named by what it is about, with its page and row."""
    page = citation.origin.detail if "page" in citation.origin.detail else ""
    what = f"{subject} ({page})" if page else str(subject)
    return Statement(device.file, what, StatementKind.ROW, what, citation.origin, is_doubted=bool(citation.doubt))


def command_statement(device: Device, index: int) -> Statement:
    """The `index`-th command row, from 0, as the statement that it is while no switch stands against it."""
    command = device.commands[index]
    return row_statement(device, Subject(SubjectKind.COMMAND, (command.code,)), command.citation)


def _commands(device: Device, stated: Sequence[StatedSwitch]) -> Iterator[Testimony]:
    for command in device.commands:
        others = ", ".join(str(pattern) for pattern in command.pattern.others)
        doubt = f"the code may also read {others}" if others else ""
        words = Words(command.meaning, effect_of(command))
        kind, name = SubjectKind.COMMAND, command.code
        condition = condition_of(device, command.when_switch, stated)
        if not condition.holds:
            kind, name = SubjectKind.NOTE, f"code {command.code} while {describe_conditions(command.when_switch)}"
        said = _say(device, kind, (name,), words, command.citation, "command row", doubt)
        yield _under(said, condition)


def effect_of(command: Command) -> str:
    """What a command does in words that are one for one effect; empty where the table does not say it.

    The effect on the paper, what it sets, how its dots lie, and what follows its code: that and no wording.
    """
    parts = [command.effect] if command.effect else []
    parts += [f"{name}: {value}" for name, value in sorted(command.sets.items())]
    if isinstance(command.amount, int):
        parts.append(f"by {command.amount}")
    if command.graphics is not None:
        one = command.graphics
        lie = "columns" if one.by_column else "rows"
        first = "high" if one.high_first else "low"
        size = f"{one.unit_bytes} bytes, {one.dots} dots" if one.unit_bytes else "all its data"
        parts.append(f"{lie} of {size}, {first} bit first, feed {one.feed}")
    if not parts:
        return ""
    return "; ".join([*parts, f"followed by {_following(command)}"])


def _following(command: Command) -> str:
    """What comes behind the leading bytes: ``1 byte``, ``data``, ``nothing``."""
    rest = command.pattern.parts[len(command.pattern.fixed) :]
    single = sum(isinstance(part, OneByte) for part in rest)
    others = [type(part).__name__.lower() for part in rest if not isinstance(part, OneByte)]
    return ", ".join([*([f"{single} byte{'s' * (single > 1)}"] if single else []), *others]) or "nothing"


def _pin(device: Device, pin: Pin) -> Iterator[Testimony]:
    words = f"{pin.signal}, {pin.direction}" if pin.direction else pin.signal
    yield _say(device, SubjectKind.PIN, (pin.connector, pin.number), Words(words), pin.citation, "pin row")
    if pin.active:
        level = ActiveLevel(1 if pin.active == "high" else 0)
        yield _say(device, SubjectKind.SIGNAL, (pin.signal,), level, pin.citation, "pin row")


def _order(device: Device, one: StatedOrder, condition: Condition) -> Testimony:
    doubt = f"the order may also be read as {' or as '.join(map(str, one.others))}" if one.others else ""
    if not condition.holds:
        about = f"{HANDSHAKE_ORDER} while {describe_conditions(one.when_switch)}"
        said = _say(device, SubjectKind.NOTE, (about,), Words(str(one.order)), one.citation, "order of events", doubt)
        return _under(said, condition)
    said = _say(device, SubjectKind.ORDER, (HANDSHAKE_ORDER,), one.order, one.citation, "order of events", doubt)
    return _under(said, condition)


def _register(device: Device, register: StatedRegister, condition: Condition) -> Iterator[Testimony]:
    """Where a register is, and what each of its bits follows; a bit also falls with the pin row that it was read by."""
    where = register.place.addresses
    doubt = f"the address may also read {' or '.join(map(str, register.others))}" if register.others else ""
    if not condition.holds:
        words = "; ".join([describe_addresses(where), *(describe_bit(bit.number, bit.says) for bit in register.bits)])
        about = f"{register.place} ({register.direction}) while {describe_conditions(register.when_switch)}"
        said = _say(device, SubjectKind.NOTE, (about,), Words(words), register.citation, "register row", doubt)
        yield _under(said, condition)
        return
    said = _say(device, SubjectKind.REGISTER, register.key, where, register.citation, "register row", doubt)
    yield _under(said, condition)
    for bit in register.bits:
        key = (*register.key, str(bit.number))
        others = " or ".join(describe_bit(number, says) for number, says in bit.others)
        of_bit = f"the row may also read {others}" if others else ""
        more = "; ".join(words for words in (doubt, of_bit) if words)
        said = _say(device, SubjectKind.BIT, key, bit.says, bit.citation, "register row", more)
        if bit.pin is not None and isinstance(bit.says, BitSense):
            signal = next(pin.signal for pin in device.pins if pin.citation == bit.pin)
            pin = row_statement(device, Subject(SubjectKind.SIGNAL, (signal,)), bit.pin)
            said = replace(said, origins=(*said.origins, bit.pin.origin), falls_with=(*said.falls_with, (pin,)))
        yield _under(said, condition)


def _under(said: Testimony, condition: Condition) -> Testimony:
    """A testimony that also rests on how switches stand."""
    if not condition.statements:
        return said
    return replace(
        said,
        origins=tuple(dict.fromkeys((*said.origins, *(one.origin for one in condition.statements)))),
        note="; ".join(words for words in (condition.words, said.note) if words),
        falls_with=(*said.falls_with, *((one,) for one in condition.statements)),
    )


def _timing(device: Device, timing: Timing) -> Iterator[Testimony]:
    if timing.limit is None:
        words = Words(f"typically {timing.typical}")
        yield _say(device, SubjectKind.NOTE, (f"{timing.what} (typical)",), words, timing.citation, "timing figure")
        return
    others = ", ".join(str(limit) for limit in timing.others)
    doubt = f"the figure may also read {others}" if others else ""
    yield _say(device, SubjectKind.TIMING, (timing.what,), timing.limit, timing.citation, "timing figure", doubt)


def _others(device: Device) -> Iterator[Testimony]:
    if device.data_bits is not None:
        bits, citation = device.data_bits
        yield _say(device, SubjectKind.WIDTH, (DATA_WIDTH,), Words(f"{bits} bits"), citation, "interface description")
    for sent in device.sequences:
        value = ByteSequence.certain(sent.data)
        yield _say(device, SubjectKind.SEQUENCE, (sent.name,), value, sent.citation, "printed sequence")
    for claim in device.claims:
        words = Words(claim.says)
        if not claim.emission:
            yield _say(device, SubjectKind.NOTE, (claim.about,), words, claim.citation, "statement")
            continue
        emission = Emission(claim.happens, (claim.says,))
        yield _say(device, SubjectKind.EMISSION, (claim.emission,), emission, claim.citation, "statement")

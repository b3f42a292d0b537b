"""What the witnesses explain of one another: sentences that none of them could say alone, each with its subject.

The card's data lines and what the program can send against each document's commands; the program's looks at a status
line against how long it lasts; the bytes that satisfy all drivers at once, and the bits that nobody drives.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import (
    BitKind,
    ByteTree,
    CycleRange,
    InputKind,
    Span,
    SpanLimit,
    SpanRange,
    Subject,
    SubjectKind,
    Wait,
    Witness,
)
from latchlore.study import _acrosswords as words
from latchlore.study._losses import explain_losses
from latchlore.study._sendable import Sender

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.base import SignalRole, Testimony
    from latchlore.board import Register
    from latchlore.device import Command, Device
    from latchlore.study._weighing import Hearing

WIDTH = Subject(SubjectKind.WIDTH, ("data width",))
ACKNOWLEDGE = Subject(SubjectKind.TIMING, ("acknowledge width",))
ACK_NAMES = frozenset({"ACK", "ACKNOWLEDGE", "ACKNLG"})
UNDRIVEN = 0xFF
"""What a bus reads that nothing drives, as TTL inputs do (*common practice*)."""
MAX_NODES = 2000
"""Trees with more nodes together are not asked which status bytes satisfy them; `program status` asks them."""


def explain_across(hearing: Hearing) -> dict[Subject, tuple[str, ...]]:
    """Subject → sentences, for the table; nothing where fewer than two kinds of witness are there to meet."""
    found: dict[Subject, list[str]] = {}
    for subject, sentence in (*_commands(hearing), *_looks(hearing), *_status(hearing), *explain_losses(hearing)):
        found.setdefault(subject, []).append(sentence)
    return {subject: tuple(dict.fromkeys(sentences)) for subject, sentences in found.items()}


def _commands(hearing: Hearing) -> Iterator[tuple[Subject, str]]:
    """Which of each document's commands the card can carry, and which the program can send."""
    if hearing.registers is None:
        return
    from latchlore.board import data_registers
    from latchlore.device import Carrier, Usable, check_carrier

    lines = next(iter(data_registers(hearing.registers).values()), None)
    if lines is None:
        return
    mask = sum(1 << bit for bit in lines)
    sender = _sender(hearing)
    for device in hearing.devices:
        if not device.commands:
            continue
        lost = [one for one in check_carrier(device, Carrier(mask)) if one.usable is not Usable.YES]
        yield WIDTH, words.carried(device.name, len(device.commands), [str(one) for one in lost], len(lines))
        if sender is not None:
            yield WIDTH, words.sendable(device.name, *_sendable(sender, device))


def _sender(hearing: Hearing) -> Sender | None:
    """What the program can send; None where there is none, or not every path was followed."""
    program = hearing.program
    data = [role for role in hearing.roles if role.signal == "DATA" and role.direction == "write"]
    if program is None or not program.entries or not data:
        return None
    sender = Sender([entry.tree for entry in program.entries], data)
    return sender if sender.is_exhausted else None


def _sendable(sender: Sender, device: Device) -> tuple[list[str], list[str]]:
    """Commands that the program may send, and those that it never sends."""
    may: list[str] = []
    never: list[str] = []
    for command in device.commands:
        (may if sender.can_send(command.pattern.head) else never).append(_name(command))
    return may, never


def _name(command: Command) -> str:
    return words.command(command.meaning, command.code)


def _looks(hearing: Hearing) -> Iterator[tuple[Subject, str]]:
    """How often the program looks at the acknowledge line against how long it lasts."""
    widths = [one for one in hearing.testimonies if one.subject == ACKNOWLEDGE]
    if not widths or hearing.program is None or not hearing.roles:
        return
    roles = [role for role in hearing.roles if role.signal in ACK_NAMES and role.direction == "read"]
    if not roles:
        if hearing.registers is not None and not hearing.registers.not_done:
            yield ACKNOWLEDGE, words.NOT_READ
        return
    clock = hearing.program.clock
    periods = [wait.period for wait in _waits(hearing, roles)]
    if not periods:
        yield ACKNOWLEDGE, words.NOT_WAITED
        return
    if clock is None or any(period.most is None for period in periods):
        return
    longest = clock.span(CycleRange(0, max(period.most or 0 for period in periods))).most
    for one in widths:
        least, most = _bounds(one)
        if least is not None and least >= longest:
            yield ACKNOWLEDGE, words.always_seen(str(longest), str(one.value), _who(one))
        elif most is not None and most < longest:
            yield ACKNOWLEDGE, words.may_be_missed(str(longest), str(one.value), _who(one))


def _waits(hearing: Hearing, roles: Sequence[SignalRole]) -> Iterator[Wait]:
    assert hearing.program is not None
    for entry in hearing.program.entries:
        for event in entry.tree.iter_events():
            if isinstance(event, Wait) and any(
                role.kind is event.kind and event.address in role.addresses and event.mask >> (role.bit or 0) & 1
                for role in roles
            ):
                yield event


def _bounds(one: Testimony) -> tuple[Span | None, Span | None]:
    if isinstance(one.value, SpanRange | SpanLimit):
        return one.value.least, one.value.most
    return None, None


def _who(one: Testimony) -> str:
    return one.origins[0].file if one.witness is Witness.DOCUMENTS else str(one.witness.value)


def _status(hearing: Hearing) -> Iterator[tuple[Subject, str]]:
    """Which bytes of a status register satisfy every driver, and which of its bits nobody drives or tests."""
    if hearing.registers is None or hearing.program is None:
        return
    data = [role for role in hearing.roles if role.signal == "DATA" and role.direction == "write"]
    for register in hearing.registers.registers:
        if register.direction != "read" or not data or len(register.bits) < 1:
            continue
        trees = {entry.name: entry.tree for entry in hearing.program.entries if _asks(entry.tree, register, data)}
        if not trees or sum(len(tree.nodes) for tree in trees.values()) > MAX_NODES:
            continue
        yield from _satisfying(register, trees, data)


def _kind(register: Register) -> InputKind:
    return InputKind.PORT if register.space == "port" else InputKind.MEMORY


def _asks(tree: ByteTree, register: Register, data: Sequence[SignalRole]) -> bool:
    """Whether a driver reads the register and writes data, so that it can be satisfied at all."""
    places = {(event.kind, event.address) for event in tree.iter_events()}
    reads = any(kind is _kind(register) and address in register.addresses for kind, address in places)
    return reads and any(role.kind is kind and address in role.addresses for kind, address in places for role in data)


def _satisfying(
    register: Register, trees: dict[str, ByteTree], data: Sequence[SignalRole]
) -> Iterator[tuple[Subject, str]]:
    from latchlore.program import status_tests

    answer = status_tests(
        trees,
        lambda kind, address: kind is _kind(register) and address in register.addresses,
        lambda kind, address: any(role.kind is kind and address in role.addresses for role in data),
        undriven=UNDRIVEN,
    )
    asking = [test for test in answer.tests if test.satisfied_by]
    subject = Subject(SubjectKind.REGISTER, register.key)
    if not asking:
        return
    common = frozenset(range(256)).intersection(*(test.satisfied_by for test in asking))
    yield subject, words.satisfied([test.name for test in asking], sorted(common))
    free = [bit.number for bit in register.bits if bit.sense.kind is BitKind.UNCONNECTED and bit.number < 8]
    tested = {bit: [test.name for test in asking if bit in test.tested] for bit in free}
    if free:
        yield subject, words.undriven(tested)

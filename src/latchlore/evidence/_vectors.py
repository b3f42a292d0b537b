"""Test vectors for a stand-in: what the lines do while the surviving program itself talks to a stand-in of the model.

Every vector is a run of the program on the concrete engine, cycle by cycle, against a model that answers as the
specification allows at its limits.  So a vector holds nothing that the program does not do, but for the one that is
marked as made up, which moves each data line by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from latchlore.base import ByteSequence, SubjectKind
from latchlore.evidence import standinfacts as facts
from latchlore.evidence import vectorwording as words
from latchlore.evidence._join import sent_to
from latchlore.evidence._signals import signal_name
from latchlore.evidence._standinlines import (
    data_bits,
    go_on_pin,
    handshake_cycles,
    looks_at,
    poll_period,
    read_roles,
    soonest_look,
    strobe_level,
)
from latchlore.evidence._vectorinputs import inputs_for
from latchlore.evidence._vectormodel import Answer, Model, ModelStopped, made_up_changes

if TYPE_CHECKING:
    from collections.abc import Callable

    from latchlore.base import InputKind, SignalRole
    from latchlore.evidence._standin import Basis, StandIn
    from latchlore.evidence._vectorinputs import Inputs
    from latchlore.evidence._vectormodel import Change, Line

EACH_LINE = (0x00, 0x01, 0x02, 0x04, 0x08, 0x10, 0x20, 0x40, 0x80, 0xFF, 0x55, 0xAA)
LOOKS_BUSY = 4
"""For how many looks of the host the busy model stays busy."""


@dataclass(frozen=True, slots=True)
class Vector:
    """One vector: the changes of all lines in order, and the bytes that a stand-in must have taken.

    `entry`: where the program was entered, empty where the vector was made up.  `answers`: what the model's lines did
    after each strobe; none where it was always ready.  `inputs`: what was given at the entry and by other devices, in
    words.  `ends`: why the run ended.
    """

    name: str
    entry: str
    words: str
    data: bytes
    changes: tuple[Change, ...]
    answers: tuple[Answer, ...] = ()
    inputs: tuple[str, ...] = ()
    ends: str = ""


@dataclass(frozen=True, slots=True)
class Vectors:
    """All vectors over the same lines; `left_out`: sentences on what could not be run."""

    lines: tuple[Line, ...]
    vectors: tuple[Vector, ...]
    left_out: tuple[str, ...] = ()


class Play(Protocol):
    """Run the program from an entry of this name, and say in words why it ended; see `program.run` for the rest.

    `read` and `write` are asked for and told each access of a device: (space, address, cycle) and (space, address,
    value, cycle), the cycle being that of the access on the bus.
    """

    def __call__(
        self,
        entry: str,
        inputs: Inputs,
        read: Callable[[InputKind, int, int], int],
        write: Callable[[InputKind, int, int, int], None],
    ) -> str:
        """Run it."""


def run_vectors(basis: Basis, stand_in: StandIn, play: Play) -> Vectors:
    """Run every entry that sends, once never held off and once held off at the last moment; then the made-up one."""
    lines = Model(basis, stand_in, (), {}).lines
    left_out: list[str] = []
    vectors: list[Vector] = []
    if not any(line.name == "STROBE" for line in lines):
        return Vectors(lines, (), (words.NO_STROBE,))
    is_data = sent_to(basis.roles)
    for name, tree in basis.trees.items():
        if is_data is None or not tree.possible_bytes(is_data):
            left_out.append(words.no_data(name))
            continue
        for answers in _manners(basis, stand_in):
            found = _run(basis, stand_in, play, name, answers)
            if isinstance(found, str):
                left_out.append(found)
                break
            if found is not None:
                vectors.append(found)
    made_up = _each_line(basis, lines)
    if made_up is not None:
        vectors.append(made_up)
    return Vectors(lines, tuple(vectors), tuple(left_out))


def _manners(basis: Basis, stand_in: StandIn) -> tuple[tuple[Answer, ...], ...]:
    """How the stand-in behaves: always ready, and held off from the last moment allowed on for a few looks.

    A line that comes as a pulse comes in both, as short as the host can be sure to see.
    """
    if not stand_in.status:
        return ((),)
    pulses = tuple(one for role in read_roles(basis) if (one := _answer(basis, role)) is not None and one.is_pulse)
    holding = tuple(one for role in read_roles(basis) if (one := _answer(basis, role)) is not None and not one.is_pulse)
    return (pulses, (*holding, *pulses)) if holding else (pulses,)


def _answer(basis: Basis, role: SignalRole) -> Answer | None:
    """What a polled line does after a strobe; None for one that no loop waits for behind a strobe."""
    pin, period = go_on_pin(basis, role), poll_period(basis, role)
    if pin is None or period is None or period.most is None:
        return None
    looks = looks_at(basis, role)
    soonest, first = soonest_look(looks), looks.first
    if soonest is None:
        return None
    if signal_name(role.signal) in facts.PULSE_NAMES:
        late = 0 if first is None or first.most is None else first.most - soonest
        return Answer(role.signal, pin, soonest, late + period.most, is_pulse=True)
    return Answer(role.signal, 1 - pin, soonest, LOOKS_BUSY * period.most)


def _run(basis: Basis, stand_in: StandIn, play: Play, name: str, answers: tuple[Answer, ...]) -> Vector | str | None:
    """One vector; a sentence where the program could not be run; None where it sends nothing."""
    wanted = _logged(basis, name)
    inputs = inputs_for(basis, basis.trees[name], stand_in, wanted)
    if inputs is None:
        return words.no_way(name)
    model = Model(basis, stand_in, answers, inputs.reads)
    try:
        ends = play(name, inputs, model.read, model.write)
    except ModelStopped as stop:
        ends = str(stop)
    model.finish()
    if model.overrun:
        return words.overrun(name, model.overrun[0])
    if not model.taken:
        return words.sends_nothing(name, ends)
    sent = bytes(sum(byte & 1 << bit for bit in model.bits) for byte in wanted)
    if wanted and bytes(model.taken[: len(wanted)]) != sent:
        return words.differs(name)
    holding = [one for one in answers if not one.is_pulse]
    told = words.held_off(name) if holding else words.always_ready(name)
    told += "".join(words.answer(one.line, one.level, one.after, one.lasts) for one in answers)
    manner = "held off" if holding else "free"
    return Vector(
        f"{name}, {manner}", name, told, bytes(model.taken), tuple(model.changes), answers, inputs.in_words(), ends
    )


def _logged(basis: Basis, name: str) -> bytes:
    """The bytes that a log shows for an entry, where its tree explains them; else empty."""
    tree = basis.trees[name]
    for row in basis.table.rows:
        if row.subject.kind is SubjectKind.SEQUENCE and any(one.value == tree for one in row.testimonies):
            for one in row.testimonies:
                if isinstance(one.value, ByteSequence):
                    return bytes(one.value.data)
    return b""


def _each_line(basis: Basis, lines: tuple[Line, ...]) -> Vector | None:
    """Each data line by itself, at the least times of the handshake; None where these are not known."""
    counted, level = handshake_cycles(basis), strobe_level(basis)
    set_up, width, period = (
        None if one is None else one.least for one in (counted.set_up, counted.width, counted.period)
    )
    if set_up is None or width is None or level is None:
        return None
    every = period if period is not None else 4 * (set_up + width)
    mask = sum(1 << bit for bit in data_bits(basis))
    data = bytes(dict.fromkeys(byte & mask for byte in EACH_LINE))
    changes = made_up_changes(lines, data, level, set_up, width, every)
    return Vector(words.EACH_LINE_NAME, "", words.EACH_LINE, data, changes)

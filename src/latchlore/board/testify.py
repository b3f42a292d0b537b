"""What the board says about the subjects of a study: the wing's one door to the weighing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from latchlore.base import (
    ActiveLevel,
    BitKind,
    BitLevel,
    InputKind,
    Origin,
    SignalRole,
    Statement,
    Strength,
    Subject,
    SubjectKind,
    Testimony,
    Value,
    Witness,
    Words,
)
from latchlore.board import wording
from latchlore.board._board import Direction, PinAt
from latchlore.board._decode import decode
from latchlore.board._loops import describe_loop
from latchlore.board._network import build_network
from latchlore.board._oneshots import find_one_shots
from latchlore.board._parts import Role
from latchlore.board._registermap import RegisterKind
from latchlore.board._statements import (
    BYTE,
    bit_statements,
    data_statements,
    level_statement,
    name_statement,
    register_statements,
    strap_statement,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.board._board import Board, Strap
    from latchlore.board._registermap import Collision, Register, RegisterBit, RegisterMap

DATA = "DATA"
"""The signal of a role that is a whole byte of data."""

MIN_DATA_LINES = 4
"""Fewest numbered signals of one name that count as data lines."""


def testify(board: Board, registers: RegisterMap | None = None) -> tuple[Testimony, ...]:  # noqa: PT028 - no test
    """Everything the board says, registers first, then pins, signals, width and straps.

    Subjects: REGISTER (AddressSet), BIT (BitSense), PIN (Words: the signal and its direction as the device sees it),
    SIGNAL (ActiveLevel, where the connector table states it), WIDTH "data width" (Words), STRAP (Words, and BitLevel
    where the position fixes one), NOTE (Words: addresses that reach two things),
    TIMING (SpanRange: pulses of one-shots).  Signal names are in upper case.
    Strength is COMPUTED, GUESSED where something on the way is not known or doubted, STATED for what the net file
    states.  `registers` may be given where the board has been decoded already.
    """
    found = registers if registers is not None else decode(board)
    doubted = {doubt.place: doubt.words for doubt in board.doubts}
    said: list[Testimony] = []
    keys: set[tuple[str, str, str]] = set()
    for register in found.registers:
        if register.key not in keys:
            keys.add(register.key)
            said += _register(found, register, doubted)
    said += _pins(board)
    said += _width(found)
    said += _straps(board)
    said += _collisions(found)
    said += _shared_lines(found.board)
    said += _loops(found)
    said += _pulses(board)
    said += _markings(board)
    return tuple(said)


def testify_without_host(board: Board) -> tuple[Testimony, ...]:
    """What a board says of which no host is stated, so that it has no registers: pins, straps, pulses, markings."""
    return (*_pins(board), *_straps(board), *_pulses(board), *_markings(board))


def register_roles(registers: RegisterMap) -> tuple[SignalRole, ...]:
    """Which signal each register bit carries, in register order.

    A register whose bits reach the numbered data lines of a connector is the whole-byte signal DATA.  A register
    that only pulses a signal has that signal with bit None.
    """
    roles: list[SignalRole] = []
    data = data_registers(registers)
    for register in registers.registers:
        kind = InputKind.PORT if register.space == "port" else InputKind.MEMORY
        direction: Literal["read", "write"] = "read" if register.direction == "read" else "write"
        if register in data:
            roles.append(SignalRole(DATA, kind, register.addresses, "write", home=register.home))
        lines = data.get(register, frozenset())
        for bit in register.bits:
            if bit.number > 7 or bit.number in lines or bit.sense.kind is not BitKind.FOLLOWS:
                continue
            signal = bit.sense.source.upper() if "(" not in bit.sense.source else bit.sense.source
            active = next((reach.active for reach in bit.reaches if reach.signal == bit.sense.source), None)
            sense = bit.sense.inverted
            roles.append(
                SignalRole(signal, kind, register.addresses, direction, bit.number, sense, active, register.home)
            )
        for reach in register.reaches:
            signal = reach.signal.upper()
            roles.append(
                SignalRole(
                    signal, kind, register.addresses, direction, None, reach.inverted, reach.active, register.home
                )
            )
    return tuple(roles)


def data_registers(registers: RegisterMap) -> dict[Register, frozenset[int]]:
    """Write registers that drive the largest group of numbered signals of one name → the bits that do so."""
    found: dict[Register, frozenset[int]] = {}
    best = MIN_DATA_LINES - 1
    for register in registers.registers:
        if register.kind is not RegisterKind.TAKES:
            continue
        groups: dict[str, set[int]] = {}
        for bit in register.bits:
            for reach in bit.reaches:
                stem = reach.signal.rstrip("0123456789")
                if stem != reach.signal:
                    groups.setdefault(stem, set()).add(bit.number)
        largest = max((frozenset(bits) for bits in groups.values()), key=len, default=frozenset())
        if len(largest) > best:
            found, best = {register: largest}, len(largest)
        elif largest and len(largest) == best and found:
            found[register] = largest
    return found


def _say(
    kind: SubjectKind,
    key: tuple[str, ...],
    value: Value,
    origins: tuple[Origin, ...],
    method: str,
    strength: Strength = Strength.COMPUTED,
    note: str = "",
    falls_with: tuple[tuple[Statement, ...], ...] = (),
) -> Testimony:
    return Testimony(Subject(kind, key), value, Witness.BOARD, origins, method, strength, note, falls_with)


def _register(found: RegisterMap, register: Register, doubted: dict[str, str]) -> Iterator[Testimony]:
    notes = [f"{register.mirrors} addresses, parts {', '.join(register.parts)}" if register.parts else ""]
    notes += [register.note, *register.effects]
    if register.also.count:
        notes.append(f"a {'read' if register.direction == 'write' else 'write'} does it too at {register.also}")
    if register.unsure:
        notes.append(f"certain only at {register.certain}: {'; '.join(register.unsure)}")
    notes += [f"doubt about {place}: {words}" for place, words in doubted.items() if _touches(register, place)]
    firm = not register.unsure and not any(_touches(register, place) for place in doubted)
    yield _say(
        SubjectKind.REGISTER,
        register.key,
        register.addresses,
        register.origins,
        wording.DECODED,
        Strength.COMPUTED if firm else Strength.GUESSED,
        "; ".join(note for note in notes if note),
        register_statements(found.board, register),
    )
    for bit in register.bits:
        # A bit inside a chip that reaches nothing and has no name says nothing that the register has not said.
        if bit.number <= 7 and (bit.reaches or bit.note or not register.inside):
            yield _bit(found, register, bit, doubted)


def _touches(register: Register, place: str) -> bool:
    owner = place.split(".", maxsplit=1)[0]
    return owner in register.parts


def _bit(found: RegisterMap, register: Register, bit: RegisterBit, doubted: dict[str, str]) -> Testimony:
    notes = [bit.note] if bit.note else []
    way = {str(at) for at in bit.way} | {str(at) for reach in bit.reaches for at in reach.way}
    nets = {found.board.net_of(at) for at in bit.way}
    doubts = [f"doubt about {p}: {w}" for p, w in doubted.items() if p in way or p in nets]
    longest = max((reach.way for reach in bit.reaches), key=len, default=bit.way)
    return _say(
        SubjectKind.BIT,
        (*register.key, str(bit.number)),
        _upper(bit.sense),
        bit.origins,
        wording.FOLLOWED.format(way=wording.way_words(longest or bit.way)),
        Strength.GUESSED if doubts or bit.sense.kind is BitKind.UNKNOWN else Strength.COMPUTED,
        "; ".join(notes + doubts),
        bit_statements(found.board, bit),
    )


def _upper(sense: Value) -> Value:
    """The sense with a signal's name as it is shown, in upper case; register bits keep their words."""
    from dataclasses import replace

    from latchlore.base import BitSense

    assert isinstance(sense, BitSense)
    if sense.kind is not BitKind.FOLLOWS or "(" in sense.source or sense.source.startswith("enable of "):
        return sense
    return replace(sense, source=sense.source.upper())


def _pins(board: Board) -> Iterator[Testimony]:
    told: set[str] = set()
    for plug in board.connectors:
        if plug.is_host:
            continue
        for pin in plug.pins:
            side = wording.AS_SEEN_FROM_DEVICE[pin.direction.value]
            words = Words(f"{pin.signal.upper()}, {side}")
            yield _say(
                SubjectKind.PIN,
                (plug.name, str(pin.number)),
                words,
                (pin.origin,),
                wording.CONNECTOR,
                Strength.STATED,
                f"{pin.direction.value} as the board sees it" if pin.direction in (Direction.IN, Direction.OUT) else "",
                name_statement(board, plug, pin),
            )
            if pin.active is not None and pin.signal not in told:
                told.add(pin.signal)
                yield _say(
                    SubjectKind.SIGNAL,
                    (pin.signal.upper(),),
                    ActiveLevel(pin.active),
                    (pin.origin,),
                    wording.CONNECTOR,
                    Strength.STATED,
                    falls_with=level_statement(board, plug, pin),
                )


def _width(found: RegisterMap) -> Iterator[Testimony]:
    for register, bits in data_registers(found).items():
        origins = tuple(dict.fromkeys(o for bit in register.bits if bit.number in bits for o in bit.origins))
        yield _say(
            SubjectKind.WIDTH,
            ("data width",),
            Words(wording.width_words(len(bits), is_least=_more_may_come(found.board, register, bits))),
            origins or register.origins,
            wording.COUNTED,
            note=f"register {register.key[1]} bits {', '.join(str(k) for k in sorted(bits))}",
            falls_with=data_statements(found.board, register, bits),
        )
        return


def _collisions(found: RegisterMap) -> Iterator[Testimony]:
    """One statement for each card, and one for the registers that share addresses, by space and direction."""
    cards = {card.name for card in found.board.cards}
    groups: dict[str, list[Collision]] = {}
    for one in found.collisions:
        other = one.other if one.other in cards else ""
        groups.setdefault(wording.collision_subject(other, one.space, one.direction), []).append(one)
    for subject, ones in groups.items():
        parts = [
            wording.collision_words(one.first, "" if one.other in cards else one.other, one.addresses) for one in ones
        ]
        origins = tuple(dict.fromkeys(origin for one in ones for origin in one.origins))
        yield _say(SubjectKind.NOTE, (subject,), Words("; ".join(parts)), origins, wording.COLLIDED)


def _shared_lines(board: Board) -> Iterator[Testimony]:
    """Lines of the host that both this board and a stated card drive."""
    hosts = {pin.signal: PinAt(plug.name, pin.number) for plug in board.connectors if plug.is_host for pin in plug.pins}
    for card in board.cards:
        for line in card.drives:
            at = hosts.get(line)
            name = None if at is None else board.net_of(at)
            if name is None:
                continue
            roles = {
                pin: role
                for pin in board.net(name).pins
                for role in [_role(board, pin)]
                if role in (Role.OUTPUT, Role.THREE_STATE, Role.OPEN_COLLECTOR)
            }
            if not roles:
                continue
            text = wording.shared_line_words(
                line.upper(),
                card.name,
                [str(pin) for pin in roles],
                can_let_go=Role.OUTPUT not in roles.values(),
                all_open=set(roles.values()) == {Role.OPEN_COLLECTOR},
            )
            origins = tuple(dict.fromkeys((*(board.part(pin.owner).origin for pin in roles), card.origin)))
            subject = (wording.shared_line_subject(line.upper(), card.name),)
            yield _say(SubjectKind.NOTE, subject, Words(text), origins, wording.DRIVERS_COMPARED)


def _role(board: Board, pin: PinAt) -> Role | None:
    """What a part's pin does; None for pins of connectors and straps."""
    part = next((one for one in board.parts if one.name == pin.owner), None)
    return None if part is None else part.type.pin(pin.pin).role


def _loops(found: RegisterMap) -> Iterator[Testimony]:
    """Latches and oscillators made of gates."""
    for loop in found.loops:
        origins = tuple(dict.fromkeys(found.board.part(at.owner).origin for at in loop.pins))
        subject = (wording.loop_subject(loop.pins),)
        yield _say(SubjectKind.NOTE, subject, Words(describe_loop(loop)), origins, wording.LOOPED)


def _pulses(board: Board) -> Iterator[Testimony]:
    """How long the one-shots' pulses last."""
    for one in find_one_shots(board):
        notes = [wording.rule_words(rule.row.source, rule.formula) for rule in one.rules]
        notes += one.notes
        if one.dead is not None:
            notes.append(wording.retrigger_words(one.dead))
        yield _say(
            SubjectKind.TIMING if one.band is not None else SubjectKind.NOTE,
            (wording.pulse_subject(one.name),),
            one.band if one.band is not None else Words(wording.PULSE_OPEN),
            one.origins,
            wording.PULSED,
            Strength.COMPUTED if one.band is not None else Strength.GUESSED,
            "; ".join(notes),
        )


def _markings(board: Board) -> Iterator[Testimony]:
    """What the words on chips come to."""
    for name, marking in board.markings:
        yield _say(
            SubjectKind.NOTE,
            (wording.marking_subject(name),),
            Words(" or ".join(kind.name for kind in marking.types) or wording.NO_TYPE),
            (board.part(name).origin,),
            wording.MARKED,
            Strength.COMPUTED if marking.settled is not None else Strength.GUESSED,
            "; ".join(wording.marking_notes(marking)),
        )


def _more_may_come(board: Board, register: Register, lines: frozenset[int]) -> bool:
    """Whether a data line that reaches no connector has not been traced to its end."""
    short = [bit for bit in register.bits if bit.number < BYTE and bit.number not in lines]
    cells = [bit.cell for bit in short if bit.cell is not None]
    nets = {board.net_of(cell) for cell in cells}
    ends = {*cells, *(at for net in board.nets if net.name in nets for at in net.pins)}
    return not board.not_traced.isdisjoint(ends)


def _straps(board: Board) -> Iterator[Testimony]:
    for strap in board.straps:
        yield _say(
            SubjectKind.STRAP,
            (strap.name,),
            Words(wording.strap_words(strap.joined)),
            (strap.origin,),
            wording.STRAPPED,
            Strength.STATED,
            falls_with=strap_statement(strap),
        )
        level = strap_level(board, strap)
        if level is not None:
            yield _say(
                SubjectKind.STRAP,
                (strap.name,),
                BitLevel(level, wording.strap_when(strap.joined)),
                (strap.origin,),
                wording.STRAP_LEVEL,
                Strength.COMPUTED,
                falls_with=strap_statement(strap),
            )


def strap_level(board: Board, strap: Strap) -> int | None:
    """The level of the net behind a strap in its stated position; None where it is not known.

    A strap joined to a rail gives the rail's level, an open one what a pull-up or pull-down gives.
    """
    if strap.joined is None:
        return None
    network = build_network(board)
    ends = {k: network.nets[network.index[PinAt(strap.name, k)]] for k in range(1, strap.size + 1)}
    levels = {ends[k].rail for k in strap.joined} - {None}
    if not levels:
        loose = [node for node in ends.values() if node.rail is None]
        levels = {pull.level for node in loose[:1] for pull in node.pulls if len(loose) == 1}
    return levels.pop() if len(levels) == 1 else None

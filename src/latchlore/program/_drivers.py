"""Which routines touch which register: every address that the reached code can put on the bus is sorted by register."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import AddressSet, InputKind, describe_place

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from latchlore.base import Origin
    from latchlore.program._codemap import CodeMap, Instruction
    from latchlore.program._static import Access

MEMORY_LINES = 16
PORT_LINES = 8


@dataclass(frozen=True, slots=True)
class NamedRegister:
    """A register by name: every address that reaches it, and ``read``, ``write`` or ``both``.

    `name` is empty where only the addresses are stated.
    """

    name: str
    kind: InputKind
    addresses: AddressSet
    direction: str

    def __contains__(self, address: object) -> bool:
        return isinstance(address, int) and any(
            address & ((1 << self.addresses.width) - 1) & care == value for care, value in self.addresses.cubes
        )

    def answers(self, access: Access) -> bool:
        """Whether it is of the access's space and direction."""
        return self.is_space(access) and self.direction in ("both", "write" if access.is_write else "read")

    def is_space(self, access: Access) -> bool:
        """Whether it is of the access's space."""
        return (self.kind is InputKind.PORT) == access.is_port

    def __str__(self) -> str:
        place = describe_place(self.kind, self.addresses.lowest)
        what = "" if self.direction == "both" else f" ({self.direction})"
        return f"{self.name or 'unnamed'}, {place}{what}"


def belongs_to_registers(registers: Iterable[NamedRegister]) -> Callable[[InputKind, int], bool]:
    """Whether an address is one of those of some registers."""
    chosen = tuple(registers)
    return lambda kind, address: any(one.kind is kind and address in one for one in chosen)


@dataclass(frozen=True, slots=True)
class Touch:
    """An instruction's access of a register.

    `addresses`: those of the register that it can reach, rising.  `sure`: it reaches nothing else; otherwise it may
    touch the register, or another place: `reach` is then the lowest and the highest address of all.  `is_answered`
    False: the register has the other direction, and nothing answers this one.  `on_path`: its address cannot be told
    from the code alone, and these are those of explored paths.
    """

    instruction: Instruction
    kind: str
    addresses: tuple[int, ...]
    sure: bool
    reach: tuple[int, int]
    is_answered: bool = True
    on_path: bool = False


class Seen(NamedTuple):
    """A touch on an explored path: the place in the program, and what it reaches there."""

    program_address: int
    kind: InputKind
    address: int
    is_write: bool


@dataclass(frozen=True, slots=True)
class Driver:
    """Everything that touches one register; `reached_from`: the stated entries that lead there, rising."""

    register: NamedRegister
    touches: tuple[Touch, ...]
    reached_from: tuple[int, ...]

    @property
    def routines(self) -> tuple[int, ...]:
        """Routines with a touch of their own, rising."""
        return tuple(sorted({start for touch in self.touches for start in touch.instruction.routines}))

    @property
    def is_sure(self) -> bool:
        """Whether one touch at least is sure."""
        return any(touch.sure for touch in self.touches)


@dataclass(frozen=True, slots=True)
class Drivers:
    """The answer: registers with touches in the order given, then unnamed ones by space and address.

    `untouched`: registers without a touch.  `anywhere`: accesses whose address cannot be told, (instruction, kind).
    """

    found: tuple[Driver, ...]
    untouched: tuple[NamedRegister, ...]
    anywhere: tuple[tuple[Instruction, str], ...]


def find_drivers(
    code: CodeMap,
    registers: Sequence[NamedRegister],
    devices: Sequence[NamedRegister] = (),
    seen: Iterable[Seen] = (),
) -> Drivers:
    """Sort every access of the reached code by register.

    `devices`: stated device addresses without a name; an address of theirs that no register has is a register of its
    own.  Where neither is given, every address outside of the images is one that is reached for sure, and every port.
    `seen`: touches of explored paths, which tell where accesses of unknown address went.
    """
    paths: dict[int, list[Seen]] = {}
    for one in sorted(set(seen)):
        paths.setdefault(one.program_address, []).append(one)
    strays = _strays(code, registers, devices, paths)
    found: list[Driver] = []
    untouched: list[NamedRegister] = []
    everything = (*registers, *strays)
    for register in everything:
        touches = [
            touch
            for one in code.instructions.values()
            for touch in (*_touches(one, register, everything), *_on_paths(one, register, paths))
        ]
        if touches:
            found.append(Driver(register, tuple(touches), _reached_from(code, touches)))
        else:
            untouched.append(register)
    anywhere = [
        (one, kind)
        for one in code.instructions.values()
        for kind in dict.fromkeys(access.kind for access in one.accesses if access.addresses is None)
        if kind != "dummy" and not one.is_on_stack
    ]
    return Drivers(tuple(found), tuple(untouched), tuple(anywhere))


def _inside(addresses: tuple[int, ...], register: NamedRegister) -> tuple[int, ...]:
    """Those of some addresses, rising, that are a register's."""
    if register.addresses.count > 1 or register.addresses.width < MEMORY_LINES:
        return tuple(address for address in addresses if address in register)
    lowest = register.addresses.lowest
    at = bisect_left(addresses, lowest)
    return (lowest,) if at < len(addresses) and addresses[at] == lowest else ()


def _touches(one: Instruction, register: NamedRegister, everything: Iterable[NamedRegister]) -> list[Touch]:
    found = []
    for access in one.accesses:
        if access.addresses is None or not register.is_space(access) or (one.is_on_stack and not access.is_port):
            continue
        inside = _inside(access.addresses, register)
        answered = register.answers(access)
        if not answered:
            inside = tuple(a for a in inside if not any(a in other and other.answers(access) for other in everything))
        if inside:
            sure = len(inside) == len(access.addresses)
            reach = (access.addresses[0], access.addresses[-1])
            found.append(Touch(one, access.kind, inside, sure, reach, answered))
    return found


def _on_paths(one: Instruction, register: NamedRegister, paths: Mapping[int, list[Seen]]) -> list[Touch]:
    """What explored paths reach by the accesses of an instruction whose address the code alone does not tell."""
    found = []
    for access in dict.fromkeys(access for access in one.accesses if access.addresses is None):
        mine = [
            spot.address
            for spot in paths.get(one.address, ())
            if spot.is_write == access.is_write
            and (spot.kind is InputKind.PORT) == access.is_port
            and spot.kind is register.kind
            and spot.address in register
        ]
        if mine and access.kind != "dummy" and register.answers(access):
            found.append(Touch(one, access.kind, tuple(mine), True, (mine[0], mine[-1]), on_path=True))
    return found


def _strays(
    code: CodeMap,
    registers: Sequence[NamedRegister],
    devices: Sequence[NamedRegister],
    paths: Mapping[int, list[Seen]],
) -> list[NamedRegister]:
    """Addresses that are touched, belong to a device, and to no register."""
    stated = bool(registers or devices)
    seen: set[tuple[bool, int]] = set()
    for one in code.instructions.values():
        for access in one.accesses:
            if access.addresses is None or (one.is_on_stack and not access.is_port):
                continue
            if not stated and (access.kind == "dummy" or len(access.addresses) > 1):
                continue
            for address in access.addresses:
                if any(address in other and other.is_space(access) for other in registers):
                    continue
                if stated:
                    is_device = any(address in other and other.is_space(access) for other in devices)
                else:
                    is_device = access.is_port or not any(address in image for image in code.images)
                if is_device:
                    seen.add((access.is_port, address))
    for spot in (spot for spots in paths.values() for spot in spots):
        if not any(spot.address in one and one.kind is spot.kind for one in registers):
            seen.add((spot.kind is InputKind.PORT, spot.address))
    found = []
    for is_port, address in sorted(seen):
        width = PORT_LINES if is_port and address < 1 << PORT_LINES else MEMORY_LINES
        kind = InputKind.PORT if is_port else InputKind.MEMORY
        found.append(NamedRegister("", kind, AddressSet.of((address,), width), "both"))
    return found


def _reached_from(code: CodeMap, touches: Iterable[Touch]) -> tuple[int, ...]:
    """Stated entries from which calls lead to the touches."""
    callers: dict[int, set[int]] = {}
    for target, sites in code.called_from.items():
        for site in sites:
            callers.setdefault(target, set()).update(code.instructions[site].routines)
    work = [start for touch in touches for start in touch.instruction.routines]
    seen = set(work)
    while work:
        for caller in callers.get(work.pop(), ()):
            if caller not in seen:
                seen.add(caller)
                work.append(caller)
    return tuple(sorted(seen & set(code.entries)))


def touch_origin(code: CodeMap, touch: Touch) -> Origin:
    """The place of a touch in its image."""
    at = touch.instruction.address
    holder = next((image for image in code.images if at in image), code.images[0])
    return holder.origin(at, touch.instruction.text)

"""The state at an entry, and what is taken for granted there, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import AddressSet, BadInput, InputBit, InputKind, Origin, UnknownName
from latchlore.program import _values as values
from latchlore.program import wording
from latchlore.program._core import UNKNOWN
from latchlore.program._cpu import DEAD_STACK
from latchlore.program._image import SPACE, Image
from latchlore.program._state import State

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.program._cpu import Cpu
    from latchlore.program._explore import Explorer
    from latchlore.program._values import Value


def entry_state(explorer: Explorer, images: tuple[Image, ...], entry: int, arguments: Mapping[str, int]) -> State:
    """Registers as stated, the others unknown.  Refuses an entry outside of the images and unknown registers."""
    cpu = explorer.cpu
    check_entry(images, entry)
    registers: list[Value] = []
    known = {**cpu.at_entry, **check_registers(cpu, arguments)}
    if cpu.stack not in arguments:
        known[cpu.stack] = explorer.base = _roomy_stack(explorer, cpu)
    for name in cpu.names[:-1]:
        width = cpu.registers.get(name, 1)
        if name in known:
            registers.append(known[name])
            continue
        value: Value = 0
        for k in range(width):
            bit = InputBit(InputKind.ARGUMENT, 0, k, name=name)
            value = values.variable(explorer.number(bit)) << k | value
        registers.append(value)
    if cpu.stack in arguments:
        explorer.base = arguments[cpu.stack]
    return State((*registers, entry), {}, {}, (), {})


def _roomy_stack(explorer: Explorer, cpu: Cpu) -> int:
    """A stack pointer with RAM on both sides: the usual one, else the highest of a few others."""
    if cpu.stack_page:
        return cpu.entry_stack
    kinds = explorer.space.start[1]
    for pointer in (cpu.entry_stack, *range(0xFE00, 0x0200, -0x0100)):
        if bool((kinds[pointer - 0x100 : pointer + 2] == UNKNOWN).all()):
            return int(pointer)
    return cpu.entry_stack


def check_entry(images: tuple[Image, ...], entry: int) -> None:
    """Refuse an entry outside of the images."""
    if not any(entry in image for image in images):
        file = images[0].file if images else ""
        ranges = ", ".join(f"{image.load:04X} to {image.last:04X}" for image in images) or "none"
        raise BadInput(Origin(file), f"an entry lies within the images ({ranges}), not at {entry:04X}")


def check_registers(cpu: Cpu, values_of: Mapping[str, int]) -> dict[str, int]:
    """The registers by name.  Refuses names and values that the processor does not have."""
    for name, value in values_of.items():
        if name not in cpu.names[:-1]:
            raise UnknownName(f"the {cpu.name} has no register {name!r}", cpu.names[:-1])
        width = cpu.registers.get(name, 1)
        if not 0 <= value < 1 << width:
            raise BadInput(Origin(""), f"register {name!r} holds 0 to {(1 << width) - 1}, not {value!r}")
    return dict(values_of)


PORTS_OF_BYTE = 0x100


def sentences(
    cpu: Cpu,
    images: tuple[Image, ...],
    devices: AddressSet,
    held: Mapping[int, int],
    arguments: Mapping[str, int],
    memory: Mapping[int, int],
    interrupts: Sequence[int] = (),
) -> tuple[str, ...]:
    """What is taken for granted, in words."""
    known = {**cpu.at_entry, **arguments}
    stated = ", ".join(f"{name} = {value:02X}" for name, value in sorted(known.items()))
    found = [
        f"at the entry {stated}; the other registers and flags are unknown",
        "RAM outside of the images holds unknown bytes at the entry"
        + (f", {len(memory)} cells excepted" if memory else ""),
        wording.changes_ram(interrupts),
        "bytes below the stack pointer are lost" if cpu.stack_page else wording.below_stack(DEAD_STACK),
        *(("the upper address lines of a port are not looked at",) if cpu.space > SPACE else ()),
    ]
    if any(not image.writable for image in images):
        found.append("a write to an address of a read-only image has no effect")
    if not devices:
        found.append("no address is a device register")
    for mask in sorted(set(held.values())):
        bits = ", ".join(str(bit) for bit in range(8) if mask >> bit & 1)
        same = [address for address, one in held.items() if one == mask]
        memory_set = AddressSet.of((address for address in same if address < SPACE), devices.width)
        ports = [address - SPACE for address in same if address >= SPACE]
        port_set = AddressSet.of(ports, 8 if max(ports, default=0) < PORTS_OF_BYTE else 16)
        if memory_set:
            found.append(f"reads at {memory_set} give the same bit {bits} every time")
        if port_set:
            found.append(f"reads at port {port_set} give the same bit {bits} every time")
    return tuple(found)

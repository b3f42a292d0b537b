"""Which of several devices a stream was meant for: what rules each one out, and at which byte."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

from latchlore.base import Origin, Progress, Unsupported, no_progress
from latchlore.device._plain import match_pattern
from latchlore.device._reading import SpanState, read_stream
from latchlore.device._wording import describe_explanation

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from latchlore.device._device import Command, Device
    from latchlore.device._reading import Reading

MAX_CHOICES = 256


@dataclass(frozen=True, slots=True)
class RuledOut:
    """The first byte of the stream that a device's table does not allow.

    `place`: its offset.  `start`: where the span begins that it breaks off.  `why`: in words.
    """

    place: int
    start: int
    byte: int
    why: str


@dataclass(frozen=True, slots=True)
class Explanation:
    """How far one device explains a stream, under the switch settings that carry it furthest.

    `ruled_out`: None where every byte is explained.  `unexplained`: bytes that no row explains.  `missing`: the stream
    ends that many bytes short of its last row's end.  `settings`: those depended-on switch settings under which it
    comes this far, each a way; empty where no row depends on a switch.  `remarks`: (place, words) of values that
    the document does not allow.  `unused`: rows that the stream never uses.
    """

    device: Device
    ruled_out: RuledOut | None
    unexplained: int
    missing: int
    settings: tuple[Mapping[str, str], ...]
    remarks: tuple[tuple[int, str], ...]
    unused: tuple[Command, ...]

    @property
    def explains(self) -> bool:
        """Whether every byte is explained."""
        return self.ruled_out is None

    def __str__(self) -> str:
        return describe_explanation(self)


def explain_stream(
    devices: Sequence[Device],
    data: bytes,
    switches: Mapping[str, str] | None = None,
    progress: Progress = no_progress,
) -> tuple[Explanation, ...]:
    """How far each device explains a stream, best first: all of it, then the later the first byte that is not.

    Where rows depend on switches, every setting is tried that `switches` leaves open: a device is ruled out only where
    every one fails, and the byte named is the one at which the last of them does.  Refuses more than 256 settings.
    """
    found = []
    for count, device in enumerate(devices):
        progress(count, len(devices), f"trying {device.name}")
        found.append(_explain(device, data, switches or {}))
    order = {id(one): index for index, one in enumerate(found)}
    return tuple(sorted(found, key=lambda one: (*_rank(one, len(data)), order[id(one)])))


def _rank(one: Explanation, size: int) -> tuple[int, int, int]:
    """What explains all first; then who comes furthest; then who leaves least, and who remarks least."""
    place = size if one.ruled_out is None else one.ruled_out.place
    return (-place, one.unexplained, len(one.remarks))


def _explain(device: Device, data: bytes, given: Mapping[str, str]) -> Explanation:
    tried = []
    for settings in _settings(device, given):
        reading = read_stream(device, data, settings)
        out = _first_bad(device, reading)
        tried.append((settings, reading, out))
    furthest = max(len(data) if out is None else out.place for _, _, out in tried)
    best = [one for one in tried if (len(data) if one[2] is None else one[2].place) == furthest]
    settings, reading, out = min(best, key=lambda one: one[1].num_unexplained)
    last = reading[len(reading) - 1] if len(reading) else None
    depends = _depended_on(device)
    ways = [{name: chosen[name] for name in depends if name in chosen} for chosen, _, _ in best]
    return Explanation(
        device,
        out,
        reading.num_unexplained,
        last.missing if last is not None else 0,
        tuple(way for k, way in enumerate(ways) if way and way not in ways[:k]),
        tuple((span.start, words) for span in reading for words in span.remarks if "outside" in words),
        reading.never_used,
    )


def _depended_on(device: Device) -> list[str]:
    return list(dict.fromkeys(name for command in device.commands for name in command.when_switch))


def _settings(device: Device, given: Mapping[str, str]) -> Iterator[dict[str, str]]:
    known = {switch.name for switch in device.switches}
    fixed = {name: value for name, value in given.items() if name in known}
    free = [name for name in _depended_on(device) if name not in fixed]
    choices = [device.get_switch(name).values for name in free]
    total = 1
    for values in choices:
        total *= len(values)
    if total > MAX_CHOICES:
        words = f"the rows depend on {total} settings of the switches; state some of them ({MAX_CHOICES} are tried)"
        raise Unsupported(Origin.at_line(device.file, 1), words)
    for chosen in product(*choices):
        yield {**fixed, **dict(zip(free, chosen, strict=True))}


def _first_bad(device: Device, reading: Reading) -> RuledOut | None:
    """The first byte that no row allows, or that has more bits than the device looks at."""
    span = reading.first_unexplained
    if span is None:
        return None
    assert span.state is SpanState.UNEXPLAINED
    place = _breaking_place(reading, span.start, span.modes)
    byte = reading.data[place]
    if place == span.start:
        why = f"no row begins with {byte:02X}"
    else:
        begun = " ".join(f"{one:02X}" for one in reading.data[span.start : place])
        why = f"no row goes on with {byte:02X} behind {begun}"
    modes = {name: value for name, value in span.modes.items() if _matters(device, name)}
    if modes:
        why += f" (while {', '.join(f'{name} is {value}' for name, value in modes.items())})"
    return RuledOut(place, span.start, byte, why)


def _matters(device: Device, mode: str) -> bool:
    return any(mode in command.when for command in device.commands)


def _breaking_place(reading: Reading, start: int, modes: Mapping[str, str]) -> int:
    """Where the last of the rows that could begin at `start` breaks off."""
    valid = [
        command
        for command in reading.device.commands
        if command.index in reading.table.valid_rows and all(modes[name] == v for name, v in command.when.items())
    ]
    rest = reading.data[start:]
    taken = 1
    while taken < len(rest):
        found = (match_pattern(command.pattern, rest[:taken], 0) for command in valid)
        if not any(match is not None and not match.is_complete for match in found):
            return start + taken - 1
        taken += 1
    return start + taken - 1

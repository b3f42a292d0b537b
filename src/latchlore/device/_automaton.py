"""A command table compiled to arrays: one automaton for each combination of modes that the table can reach."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from latchlore.base import Origin, Unsupported
from latchlore.device import _kernel as k
from latchlore.device._overlaps import field_places, resolve_count, same_length
from latchlore.device._patterns import MAX_SLOTS, Counted, Digits, OneByte, Part, Until

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.device._device import Command, Device

MAX_ENVS = 2048
MAX_NODES = 60_000

Env = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CompiledTable:
    """The arrays of one table under one choice of switches.

    An *env* is a combination of mode values; `envs[e]` lists them in the order of `modes`, env 0 is power-on.
    `root[e]` is the first node of env e; `after_env[e, row]` the env behind a row.  `dynamic[row]` is -1 or a number d:
    then the env behind is `dynamic_env[d, e, byte]`, the byte being slot `dynamic_slot[d]`.  `reread[e, byte]`: a
    byte that begins a row of its own in env e and is read again where it breaks off another row.  `joins[row]`:
    neighbouring bytes that fit this row make one span.  `solo[e, byte]`: such a row, or -1.

    A node is of one kind.  BYTE, DIGIT_FIRST, DIGIT_MORE: `step[node, byte]` is the next node or -1, the byte goes to
    slot `slot_of[node]`, `follower` is the only row still possible (or -1).  COUNTED, UNTIL: `argument` is the place
    in `code` or the row of `stops`, `follower` the next node, `slot_of` the only row.  ACCEPT: `argument` is the row.
    """

    device: Device
    switches: Mapping[str, str]
    modes: tuple[str, ...]
    envs: tuple[Env, ...]
    arrays: tuple[Any, ...]
    valid_rows: frozenset[int]

    def solo_row(self, env: int, byte: int) -> int:
        """The row that a byte is all of and whose neighbouring bytes make one span; -1 where there is none."""
        return int(self.arrays[7][env, byte])


def compile_table(device: Device, switches: Mapping[str, str]) -> CompiledTable:
    """Compile a table under a choice of switches.  Refuses a table that reaches too many combinations of modes."""
    return _Maker(device, dict(switches)).make()


@dataclass(slots=True)
class _Maker:
    device: Device
    switches: dict[str, str]
    kinds: list[int] = field(default_factory=list)
    steps: list[Any] = field(default_factory=list)
    followers: list[int] = field(default_factory=list)
    arguments: list[int] = field(default_factory=list)
    slots: list[int] = field(default_factory=list)
    stops: list[Any] = field(default_factory=list)
    code: list[int] = field(default_factory=list)
    known: dict[tuple[int, frozenset[int], bool], int] = field(default_factory=dict)

    def make(self) -> CompiledTable:
        device = self.device
        valid = [
            row
            for row in device.commands
            if all(self.switches.get(name) == value for name, value in row.when_switch.items())
        ]
        envs = self._envs(valid)
        names = tuple(mode.name for mode in device.modes)
        num, rows = len(envs), len(device.commands)
        root = np.zeros(num, dtype=np.int32)
        reread = np.zeros((num, 256), dtype=np.bool_)
        after = np.zeros((num, max(rows, 1)), dtype=np.int32)
        dynamic, dynamic_slot, dynamic_env = self._dynamic(valid, envs)
        for env, number in envs.items():
            here = [row for row in valid if _holds(row, names, env)]
            root[number] = self._node(0, frozenset(row.index for row in here), False)
            for row in here:
                if len(row.pattern.parts[0].values) == 1:  # type: ignore[union-attr]  # the first part is one byte
                    reread[number, row.pattern.fixed[0]] = True
            for row in valid:
                after[number, row.index] = envs.get(self._after(row, env, None), number)
        joins = np.zeros(max(rows, 1), dtype=np.bool_)
        for row in valid:
            joins[row.index] = row.effect == "print" and len(row.pattern.parts) == 1 and not (row.sets or row.sets_from)
        stops = np.array(self.stops, dtype=np.bool_) if self.stops else np.zeros((1, 256), dtype=np.bool_)
        arrays = (
            *(root, after, dynamic, dynamic_slot, dynamic_env, reread, joins, self._solo(root, joins)),
            np.array(self.kinds, dtype=np.int8),
            np.array(self.steps, dtype=np.int32).reshape(-1, 256),
            *(np.array(one, dtype=np.int32) for one in (self.followers, self.arguments, self.slots)),
            stops,
            np.array(self.code or [0], dtype=np.int64),
        )
        return CompiledTable(device, self.switches, names, tuple(envs), arrays, frozenset(row.index for row in valid))

    def _solo(self, root: Any, joins: Any) -> Any:
        solo = np.full((len(root), 256), -1, dtype=np.int32)
        for env, node in enumerate(root):
            for byte, after in enumerate(self.steps[node]):
                if after >= 0 and self.kinds[after] == k.ACCEPT and joins[self.arguments[after]]:
                    solo[env, byte] = self.arguments[after]
        return solo

    def _envs(self, valid: list[Command]) -> dict[Env, int]:
        """Every combination of modes that the rows reach from power-on, numbered."""
        start = tuple(mode.start for mode in self.device.modes)
        envs: dict[Env, int] = {start: 0}
        queue = [start]
        names = tuple(mode.name for mode in self.device.modes)
        changing = [row for row in valid if row.sets or row.sets_from or row.effect == "reset"]
        while queue:
            env = queue.pop(0)
            for row in changing:
                if not _holds(row, names, env):
                    continue
                for byte in range(256) if row.sets_from else (None,):
                    after = self._after(row, env, byte)
                    if after not in envs:
                        if len(envs) == MAX_ENVS:
                            words = f"the table reaches more than {MAX_ENVS} combinations of modes"
                            raise Unsupported(Origin.at_line(self.device.file, 1), words)
                        envs[after] = len(envs)
                        queue.append(after)
        return envs

    def _after(self, row: Command, env: Env, byte: int | None) -> Env:
        names = [mode.name for mode in self.device.modes]
        after = list(env)
        if row.effect == "reset":
            after = [mode.start for mode in self.device.modes]
        for name, value in row.sets.items():
            after[names.index(name)] = value
        if byte is not None:
            places = field_places(row.pattern)
            for name, parameter in row.sets_from.items():
                number = sum(_field(bits, weight, byte) for _, bits, weight in places[parameter])
                if number in row.parameters[parameter].values:
                    after[names.index(name)] = row.parameters[parameter].values[number]
        return tuple(after)

    def _dynamic(self, valid: list[Command], envs: dict[Env, int]) -> tuple[Any, Any, Any]:
        rows = [row for row in valid if row.sets_from]
        dynamic = np.full(max(len(self.device.commands), 1), -1, dtype=np.int32)
        slot = np.zeros(max(len(rows), 1), dtype=np.int32)
        table = np.zeros((max(len(rows), 1), len(envs), 256), dtype=np.int32)
        for d, row in enumerate(rows):
            dynamic[row.index] = d
            slot[d] = next(place[0] for name in row.sets_from.values() for place in field_places(row.pattern)[name])
            for env, number in envs.items():
                for byte in range(256):
                    table[d, number, byte] = envs.get(self._after(row, env, byte), number)
        return dynamic, slot, table

    # -- nodes

    def _new(self, kind: int, follower: int, argument: int, slot: int) -> int:
        if len(self.kinds) == MAX_NODES:
            raise Unsupported(Origin.at_line(self.device.file, 1), f"the table needs more than {MAX_NODES} states")
        self.kinds.append(kind)
        self.steps.append(np.full(256, -1, dtype=np.int32))
        self.followers.append(follower)
        self.arguments.append(argument)
        self.slots.append(slot)
        return len(self.kinds) - 1

    def _node(self, depth: int, rows: frozenset[int], in_digits: bool) -> int:
        """The node where `rows` have fitted their first `depth` parts (and are inside the next, a number in digits)."""
        key = (depth, rows, in_digits)
        if key not in self.known:
            self.known[key] = self._make_node(depth, rows, in_digits)
        return self.known[key]

    def _make_node(self, depth: int, rows: frozenset[int], in_digits: bool) -> int:
        commands = self.device.commands
        kept = sorted(rows)
        shapes = {_shape(commands[row], depth) for row in kept}
        if (len(shapes) > 1 and shapes != {"byte", "digits"}) or (len(kept) > 1 and shapes == {"end"}):
            firm = [row for row in kept if not commands[row].otherwise]
            kept = firm or kept[:1]
        part = _part(commands[kept[0]], depth) if kept else None
        only = kept[0] if len(kept) == 1 else -1
        if kept and part is None:
            return self._new(k.ACCEPT, -1, kept[0], 0)
        if isinstance(part, Counted | Until):
            same = [row for row in kept if self._same(kept[0], row, depth)]
            return self._data_node(depth, same, part, only)
        return self._byte_node(depth, kept, in_digits, only)

    def _same(self, first: int, other: int, depth: int) -> bool:
        """Whether two rows' data end together; an `otherwise` row whose data do not is dropped here."""
        one, two = self.device.commands[first].pattern, self.device.commands[other].pattern
        return depth < len(two.parts) and same_length(one, one.parts[depth], two, two.parts[depth])

    def _data_node(self, depth: int, kept: list[int], part: Counted | Until, only: int) -> int:
        if isinstance(part, Counted):
            argument = len(self.code)
            self._encode(self.device.commands[kept[0]], part)
            node = self._new(k.COUNTED, 0, argument, only)
        else:
            self.stops.append([byte in part.stops for byte in range(256)])
            node = self._new(k.UNTIL, 0, len(self.stops) - 1, only)
        self.followers[node] = self._node(depth + 1, frozenset(kept), False)
        return node

    def _byte_node(self, depth: int, kept: list[int], in_digits: bool, only: int) -> int:
        commands = self.device.commands
        has_digits = any(isinstance(_part(commands[row], depth), Digits) for row in kept)
        kind = k.DIGIT_MORE if in_digits else k.DIGIT_FIRST if has_digits else k.BYTE
        slot = 0
        if kept:
            parts = commands[kept[0]].pattern.parts[:depth]
            slot = sum(isinstance(part, OneByte | Digits) for part in parts)
        node = self._new(kind, only, 0, slot)
        if in_digits:
            self.known[(depth, frozenset(kept), True)] = node
        groups: dict[tuple[int, frozenset[int], bool], list[int]] = {}
        for byte in range(256):
            group = _next_group(commands, kept, depth, in_digits, byte)
            if group is not None:
                groups.setdefault(group, []).append(byte)
        for group, values in groups.items():
            self.steps[node][values] = self._node(*group)
        return node

    def _encode(self, row: Command, part: Counted) -> None:
        signs = {"+": k.OP_ADD, "-": k.OP_SUB, "*": k.OP_MUL, "/": k.OP_DIV}
        for step in resolve_count(row.pattern, part):
            if isinstance(step, int):
                self.code += [k.OP_CONST, step]
            elif isinstance(step, str):
                self.code.append(signs[step])
            else:
                terms = [term for slot, bits, weight in step for term in _terms(slot, bits, weight)]
                self.code += [k.OP_FIELD, len(terms)]
                for term in terms:
                    self.code += term
        self.code.append(k.OP_END)


def _holds(row: Command, names: tuple[str, ...], env: Env) -> bool:
    return all(env[names.index(name)] == value for name, value in row.when.items())


def _field(bits: tuple[int, ...], weight: int, byte: int) -> int:
    number = 0
    for bit in bits:
        number = number << 1 | (byte >> bit & 1)
    return number << weight


def _terms(slot: int, bits: tuple[int, ...], weight: int) -> list[tuple[int, int, int, int]]:
    """(slot, mask, right shift, left shift) of each bit; a number in digits is taken whole."""
    if not bits:
        return [(slot, -1, 0, 0)]
    if bits == tuple(range(bits[0], bits[-1] - 1, -1)):
        mask = (1 << bits[0] + 1) - (1 << bits[-1])
        return [(slot, mask, bits[-1], weight)]
    return [(slot, 1 << bit, bit, weight + len(bits) - 1 - i) for i, bit in enumerate(bits)]


def _part(command: Command, depth: int) -> Part | None:
    parts = command.pattern.parts
    return parts[depth] if depth < len(parts) else None


def _shape(command: Command, depth: int) -> str:
    part = _part(command, depth)
    if part is None:
        return "end"
    return "digits" if isinstance(part, Digits) else "byte" if isinstance(part, OneByte) else "data"


def _next_group(
    commands: tuple[Command, ...], kept: list[int], depth: int, in_digits: bool, byte: int
) -> tuple[int, frozenset[int], bool] | None:
    """The key of the node behind a byte; None where no row goes on."""
    digit = 0x30 <= byte <= 0x39
    if in_digits:
        if digit:
            return depth, frozenset(kept), True
        rows = [row for row in kept if byte in commands[row].pattern.parts[depth + 1].values]  # type: ignore[union-attr]
        return (depth + 2, frozenset(rows), False) if rows else None
    single = []
    number = []
    for row in kept:
        part = _part(commands[row], depth)
        if isinstance(part, OneByte) and byte in part.values:
            single.append(row)
        elif isinstance(part, Digits) and digit:
            number.append(row)
    if number:
        return depth, frozenset(number), True
    return (depth + 1, frozenset(single), False) if single else None


def working_space() -> tuple[Any, Any]:
    """Slots and stack of the scanner."""
    return np.zeros(MAX_SLOTS + 2, dtype=np.int64), np.zeros(64, dtype=np.int64)

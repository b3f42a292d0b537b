"""The scanner that runs over a stream with a compiled command table.

The same function runs as plain Python on short streams and compiled on long ones; arrays and plain numbers only.
See `CompiledTable` in _automaton.py for what the arrays hold.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

BYTE, COUNTED, UNTIL, ACCEPT, DIGIT_FIRST, DIGIT_MORE = 0, 1, 2, 3, 4, 5
OP_END, OP_CONST, OP_FIELD, OP_ADD, OP_SUB, OP_MUL, OP_DIV = 0, 1, 2, 3, 4, 5, 6
COMPLETE, INCOMPLETE, UNEXPLAINED = 0, 1, 2
MAX_NUMBER = 1 << 31  # two of them multiplied fit 64 bits; no stream is as long


def scan(
    data: Any,
    position: int,
    env: int,
    last_row: int,
    root: Any,
    after_env: Any,
    dynamic: Any,
    dynamic_slot: Any,
    dynamic_env: Any,
    reread: Any,
    joins: Any,
    solo: Any,
    kind: Any,
    step: Any,
    follower: Any,
    argument: Any,
    slot_of: Any,
    stops: Any,
    code: Any,
    slots: Any,
    stack: Any,
    starts: Any,
    rows: Any,
    envs: Any,
) -> tuple[int, int, int, int, int]:
    """Read on until the stream or the room for spans ends: (position, env, last row, spans made, bytes missing).

    `last_row` is the row of the span before (-2: none), so that runs join over the borders of calls.
    """
    size = len(data)
    room = len(starts)
    count = 0
    missing = 0
    open_row = -2  # row of the incomplete span at the end, -1 where several rows are still possible
    while position < size and count < room:
        start = position
        node = root[env]
        state = COMPLETE
        row = solo[env, data[position]]
        while row >= 0:  # a run of one row's single bytes
            position += 1
            if position == size or solo[env, data[position]] != row:
                break
        while row < 0:
            what = kind[node]
            if what == ACCEPT:
                row = argument[node]
                break  # the only way out with a row
            if what == COUNTED:
                at = argument[node]
                top = 0
                while code[at] != OP_END:
                    op = code[at]
                    at += 1
                    if op == OP_CONST:
                        stack[top] = code[at]
                        at += 1
                        top += 1
                    elif op == OP_FIELD:
                        terms = code[at]
                        at += 1
                        value = 0
                        for _ in range(terms):
                            value += ((slots[code[at]] & code[at + 1]) >> code[at + 2]) << code[at + 3]
                            at += 4
                        stack[top] = value
                        top += 1
                    else:
                        top -= 1
                        if op == OP_ADD:
                            stack[top - 1] += stack[top]
                        elif op == OP_SUB:
                            stack[top - 1] -= stack[top]
                        elif op == OP_MUL:
                            stack[top - 1] *= stack[top]
                        else:
                            stack[top - 1] = stack[top - 1] // stack[top]
                        stack[top - 1] = max(-MAX_NUMBER, min(stack[top - 1], MAX_NUMBER))
                length = max(0, stack[0])
                if position + length > size:
                    missing = position + length - size
                    position = size
                    state = INCOMPLETE
                    open_row = slot_of[node]
                    break
                position += length
                node = follower[node]
                continue
            if what == UNTIL:
                while position < size and not stops[argument[node], data[position]]:
                    position += 1
                if position == size:
                    missing = 1
                    state = INCOMPLETE
                    open_row = slot_of[node]
                    break
                position += 1
                node = follower[node]
                continue
            if position == size:
                missing = 1
                state = INCOMPLETE
                open_row = follower[node]
                break
            byte = data[position]
            target = step[node, byte]
            if target < 0:
                if position == start or not reread[env, byte]:
                    position += 1
                state = UNEXPLAINED
                break
            slot = slot_of[node]
            if what == BYTE:
                slots[slot] = byte
            elif what == DIGIT_FIRST:
                slots[slot] = byte - 48
            elif 48 <= byte <= 57:
                slots[slot] = min(slots[slot] * 10 + byte - 48, MAX_NUMBER)
            else:
                slots[slot + 1] = byte
            position += 1
            node = target
        if state == INCOMPLETE:
            row = open_row
        joined = last_row == row and state != INCOMPLETE and (state == UNEXPLAINED or joins[row])
        if not joined:
            starts[count] = start
            rows[count] = row
            envs[count] = env
            count += 1
        last_row = row
        if state == COMPLETE:
            table = dynamic[row]
            env = dynamic_env[table, env, slots[dynamic_slot[table]]] if table >= 0 else after_env[env, row]
    return position, env, last_row, count, missing


_compiled: list[Callable[..., Any]] = []


def scan_compiled() -> Callable[..., Any]:
    """The compiled scanner; made on the first call and kept in a cache on disk."""
    if not _compiled:
        import numba

        _compiled.append(numba.njit(cache=True)(scan))
    return _compiled[0]

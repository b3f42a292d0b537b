"""What the compiled cores share: stops, attributes of addresses, the book, and the careful side of an instruction.

A core is ``run(regs, cells, book, watch, seen) -> status``.

- `regs`: int64, the registers, flags and PC in the order of `Cpu.names`.
- `cells`: uint8 of 3 × space, where space is 65,536 (131,072 for a processor with ports: port p is cell 65536 + p):
  first the contents, then the attributes below, then 1 for each cell written.  One array, because every array
  that crosses a call makes the core slower to compile.
- `book`: int64, the control cells named below, from ANSWERS on the values for the device reads of the next
  instruction, from WORK on the work area of `careful`, from LOG_ROWS on rows of five (what, address, value, cycle, PC
  of the instruction): accesses of cells with LOG and writes to devices.
- `watch`, `seen`: int64[k], uint8[r + k, 256]: whenever PC comes to SITE, the values of the r registers and flags
  (not PC) and of the k watched cells are noted.

An instruction that cannot be finished is undone: PC, cycle, cells and log are as before it, and `status` says why.

A core has two sides.  The fast side, written for each processor, runs instructions that touch plain cells only: it
adds up the attributes of all cells that it reads before it changes anything, and hands an instruction with an
unusual one over to the careful side.  That interprets the same texts step by step (see `_micro.py`), with every
access in its order on the bus, for any processor.
"""

from __future__ import annotations

from typing import Any

from numba import njit

# Attributes of an address
UNKNOWN = 1  # its content is not known: stop where the value is used
DEVICE = 2  # a device register: reads need an answer, writes are logged
LOG = 4  # every access is logged
FIXED = 8  # a write has no effect
COUNTED = 16  # reads are counted
SPOT = 32  # the core's own mark at SITE and WANTED while it runs
EMPTY = 64  # holds what it holds by chance: stop where it is executed; a write clears that
GUARD = 128  # stop behind an instruction that writes it, and log that
TRAPS = UNKNOWN | DEVICE | LOG | COUNTED | SPOT | EMPTY  # reads of such cells are left to the careful side

# Control cells of the book
LEFT, WANTED, CYCLES, NUM_LOGGED, ADDRESS, STOP, NUM_ANSWERS, NUM_USED, STOP_ON_WRITE = 0, 1, 2, 3, 4, 5, 6, 7, 8
SITE, VISITS, STOP_VISIT, LEAST_PERIOD, MOST_PERIOD, LAST_VISIT, COUNT = 9, 10, 11, 12, 13, 14, 15
TAINT = 16  # bit k set: register k is unknown
FRESH = 17  # the core's own mark: still in front of the first instruction, at WANTED
STOP_AT_HALT = 1 << 61  # in TAINT: stop in front of an opcode that waits for an interrupt
STOP_AT_REFRESH = 1 << 62  # in TAINT: stop in front of an opcode that looks at a volatile register
ANSWERS, MAX_ANSWERS = 32, 16
WORK = 48  # the work area: slots of `_micro.py`
UNDO, MAX_UNDO = (
    240,
    12,
)  # how many cells the instruction has written, then (cell, content, attributes, written) of each
LOG_ROWS = 289

# Stops
DONE, NEEDS_ANSWER, UNKNOWN_CELL, UNKNOWN_REGISTER, NO_SUCH_OPCODE, VISIT_REACHED = 0, 1, 2, 3, 4, 5
EMPTY_CELL = 7
ARRIVED = 6  # between the two sides only: at WANTED

# What a log row records
READ, DUMMY, WRITE = 0, 1, 2


@njit(cache=True)
def slow_write(a: Any, value: Any, pc: Any, cycle: Any, cells: Any, book: Any) -> Any:
    """Write a cell with attributes; whether the core is to stop behind the instruction."""
    space = cells.shape[0] // 3
    kind = cells[a + space]
    cells[a + 2 * space] = 1
    if kind & 134:
        row = 289 + 5 * book[3]
        book[row] = 2
        book[row + 1] = a
        book[row + 2] = value
        book[row + 3] = cycle
        book[row + 4] = pc
        book[3] += 1
        if row + 200 > book.shape[0]:
            book[5] = 1
    if kind & 128:
        book[5] = 1
    if kind & 2:
        if book[8]:
            book[5] = 1
    elif not kind & 8:
        cells[a] = value
        cells[a + space] = kind & 0xBE
    return book[5]


@njit(cache=True)
def careful(
    regs: Any,
    cells: Any,
    book: Any,
    watch: Any,
    seen: Any,
    steps: Any,
    entries: Any,
    looked_at: Any,
    set_by: Any,
    op_slot: Any,
) -> Any:
    """One instruction with everything that can happen; `steps` and `entries` are those of `Micro`.

    `looked_at`, `set_by`: the registers that each opcode looks at and sets, as masks.  All in one function, since
    each more makes the cores slower to compile.
    """
    num = regs.shape[0] - 1
    start = regs[num]
    if start == book[1]:
        if book[17] == 0:
            return 6
        book[17] = 0
    if start == book[9]:
        if book[10] == book[11]:
            return 5
        if book[10] > 0:
            book[12] = min(book[12], book[2] - book[14])
            book[13] = max(book[13], book[2] - book[14])
        book[14] = book[2]
        book[10] += 1
        for k in range(num):
            seen[k, regs[k] & 255] = 1
        for k in range(watch.shape[0]):
            seen[num + k, cells[watch[k]]] = 1
    began, stop, count, logged = book[2], book[5], book[15], book[3]
    book[240] = 0
    for k in range(num + 1):
        book[48 + k] = regs[k]
    space = cells.shape[0] // 3
    pc = 48 + num
    at = back = status = 0
    op = -1
    while True:
        kind = steps[at]
        a = book[48 + steps[at + 2]]
        b = book[48 + steps[at + 3]]
        n = int(steps[at + 4])
        if kind & 32:
            b = n
            kind &= 31
        x = 0
        if kind == 0:
            if back:
                at, back = back, 0
                continue
            if op >= 0:
                break
            op = book[48 + op_slot]
            if book[16] & looked_at[op]:
                status = 3
                break
            at = int(entries[op])
            if at < 0:
                status = 4
                break
            continue
        if kind == 1:
            x = b
        elif kind == 2:
            x = a + b
        elif kind == 3:
            x = a - b
        elif kind == 4:
            x = a * b
        elif kind == 5:
            x = a & b
        elif kind == 6:
            x = a | b
        elif kind == 7:
            x = a ^ b
        elif kind == 8:
            x = a << b
        elif kind == 9:
            x = a >> b
        elif kind == 10:
            x = (a >> b) & 1
        elif kind == 11:
            x = int(a == b)
        elif kind == 12:
            x = int(a > b)
        elif kind == 13:
            x = 0x9669 >> ((a ^ (a >> 4)) & 15) & 1
        elif kind == 14:
            if steps[at + 1] == 1:
                back = at + 5
            at = n
            continue
        elif kind == 15:
            if a == 0:
                at = n
                continue
        elif kind == 16:
            book[2] += a
        elif kind == 17:
            row = 241 + 4 * book[240]
            book[row] = a
            book[row + 1] = cells[a]
            book[row + 2] = cells[a + space]
            book[row + 3] = cells[a + 2 * space]
            book[240] += 1
            slow_write(a, b, start, book[2], cells, book)
            book[2] += n
        else:
            if kind == 18:
                a = book[pc]
                book[pc] = (a + 1) & 0xFFFF
            traits = cells[a + space]
            x = int(cells[a])
            if traits & 2:
                if book[7] >= book[6]:
                    status = 1
                    break
                x = book[32 + book[7]]
                book[7] += 1
            elif traits & 1 and kind != 20:
                status = 2
                break
            elif traits & 64 and kind == 18:
                status = 7
                break
            if traits & 16:
                book[15] += 1
            if traits & 4:
                row = 289 + 5 * book[3]
                book[row] = int(kind == 20)
                book[row + 1] = a
                book[row + 2] = x
                book[row + 3] = book[2]
                book[row + 4] = start
                book[3] += 1
                if row + 200 > book.shape[0]:
                    book[5] = 1
            book[2] += n
        book[48 + steps[at + 1]] = x
        at += 5
    if status == 0:
        for k in range(num + 1):
            regs[k] = book[48 + k]
        book[16] &= ~set_by[op]
        return 0
    if status in (1, 2, 7):
        book[4] = a
        book[7] = 0
    while book[240] > 0:
        book[240] -= 1
        row = 241 + 4 * book[240]
        at = book[row]
        cells[at] = book[row + 1]
        cells[at + space] = book[row + 2]
        cells[at + 2 * space] = book[row + 3]
    book[2], book[5], book[15], book[3] = began, stop, count, logged
    return status

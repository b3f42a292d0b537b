"""What the compiled cores share: stops, attributes of addresses, the book, and the slow side of an access.

A core is ``run(regs, cells, book, watch, seen) -> status``.

- `regs`: int64, the registers, flags and PC in the order of `Cpu.names`.
- `cells`: uint8 of 3 × space, where space is 65,536 (131,072 for a processor with ports: port p is cell 65536 + p):
  first the contents, then the attributes below, then 1 for each cell written.  One array, because every array
  that crosses a call makes the core slower to compile.
- `book`: int64, the control cells named below, from ANSWERS on the values for the device reads of the next
  instruction, from LOG_ROWS on rows of five (what, address, value, cycle, PC of the instruction): accesses of cells
  with LOG and writes to devices.
- `watch`, `seen`: int64[k], uint8[r + k, 256]: whenever PC comes to SITE, the values of the r registers and flags
  (not PC) and of the k watched cells are noted.

An instruction that cannot be finished is undone: PC, cycle and log are as before it, and `status` says why.
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

# Control cells of the book
LEFT, WANTED, CYCLES, NUM_LOGGED, ADDRESS, STOP, NUM_ANSWERS, NUM_USED, STOP_ON_WRITE = 0, 1, 2, 3, 4, 5, 6, 7, 8
SITE, VISITS, STOP_VISIT, LEAST_PERIOD, MOST_PERIOD, LAST_VISIT, COUNT = 9, 10, 11, 12, 13, 14, 15
TAINT = 16  # bit k set: register k is unknown
STOP_AT_HALT = 1 << 61  # in TAINT: stop in front of an opcode that waits for an interrupt
STOP_AT_REFRESH = 1 << 62  # in TAINT: stop in front of an opcode that looks at a volatile register
ANSWERS, MAX_ANSWERS, LOG_ROWS = 32, 16, 48

# Stops
DONE, NEEDS_ANSWER, UNKNOWN_CELL, UNKNOWN_REGISTER, NO_SUCH_OPCODE, VISIT_REACHED = 0, 1, 2, 3, 4, 5

# What a log row records
READ, DUMMY, WRITE = 0, 1, 2


def _append(what: Any, address: Any, value: Any, pc: Any, cycle: Any, book: Any) -> None:
    row = 48 + 5 * book[3]
    book[row] = what
    book[row + 1] = address
    book[row + 2] = value
    book[row + 3] = cycle
    book[row + 4] = pc
    book[3] += 1
    if row + 200 > book.shape[0]:
        book[5] = 1


append = njit(cache=True)(_append)


@njit(cache=True)
def slow_read(a: Any, used: Any, pc: Any, cycle: Any, cells: Any, book: Any) -> Any:
    """The value of a cell with attributes, or minus the stop."""
    kind = cells[a + cells.shape[0] // 3]
    value = int(cells[a])
    if kind & 2:
        if book[7] >= book[6]:
            book[4] = a
            book[7] = 0
            return -1
        value = int(book[32 + book[7]])
        book[7] += 1
    elif kind & 1 and used:
        book[4] = a
        book[7] = 0
        return -2
    if kind & 16:
        book[15] += 1
    if kind & 4:
        append(0 if used else 1, a, value, pc, cycle, book)
    return value


@njit(cache=True)
def slow_write(a: Any, value: Any, pc: Any, cycle: Any, cells: Any, book: Any) -> None:
    """Write a cell with attributes."""
    at = a + cells.shape[0] // 3
    kind = cells[at]
    if kind & 6:
        append(2, a, value, pc, cycle, book)
    if kind & 2:
        if book[8]:
            book[5] = 1
    elif not kind & 8:
        cells[a] = value
        cells[at] = kind & 0xFE

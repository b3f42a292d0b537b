"""The compiled core of the 6502.  Written by scripts/generate_cores from its table: do not edit.

`run` follows the contract of `_core.py`; the numbers of stops and control cells are defined there.
"""
# ruff: noqa
# fmt: off
# mypy: ignore-errors

import numpy as np
from numba import njit
from numpy import int64

from latchlore.program._core import slow_read, slow_write

STAGE_0 = np.array([0, 0, -1, -1, -1, 0, 0, -1, 1, 0, 1, -1, -1, 2, 2, -1, 0, 0, -1, -1, -1, 0, 0, -1, 1, 2, -1, -1, -1, 2, 2, -1, 3, 0, -1, -1, 0, 0, 0, -1, 1, 0, 1, -1, 2, 2, 2, -1, 0, 0, -1, -1, -1, 0, 0, -1, 1, 2, -1, -1, -1, 2, 2, -1, 1, 0, -1, -1, -1, 0, 0, -1, 1, 0, 1, -1, 2, 2, 2, -1, 0, 0, -1, -1, -1, 0, 0, -1, 1, 2, -1, -1, -1, 2, 2, -1, 1, 0, -1, -1, -1, 0, 0, -1, 1, 0, 1, -1, 2, 2, 2, -1, 0, 0, -1, -1, -1, 0, 0, -1, 1, 2, -1, -1, -1, 2, 2, -1, -1, 0, -1, -1, 0, 0, 0, -1, 1, -1, 1, -1, 2, 2, 2, -1, 0, 0, -1, -1, 0, 0, 0, -1, 1, 2, 1, -1, -1, 2, -1, -1, 0, 0, 0, -1, 0, 0, 0, -1, 1, 0, 1, -1, 2, 2, 2, -1, 0, 0, -1, -1, 0, 0, 0, -1, 1, 2, 1, -1, 2, 2, 2, -1, 0, 0, -1, -1, 0, 0, 0, -1, 1, 0, 1, -1, 2, 2, 2, -1, 0, 0, -1, -1, -1, 0, 0, -1, 1, 2, -1, -1, -1, 2, 2, -1, 0, 0, -1, -1, 0, 0, 0, -1, 1, 0, 1, -1, 2, 2, 2, -1, 0, 0, -1, -1, -1, 0, 0, -1, 1, 2, -1, -1, -1, 2, 2, -1], dtype=np.int16)
STAGE_1 = np.array([0, 1, -1, -1, -1, 2, 2, -1, 0, 3, 4, -1, -1, 5, 5, -1, 0, 6, -1, -1, -1, 7, 7, -1, 0, 8, -1, -1, -1, 9, 9, -1, 0, 1, -1, -1, 2, 2, 2, -1, 0, 3, 4, -1, 5, 5, 5, -1, 0, 6, -1, -1, -1, 7, 7, -1, 0, 8, -1, -1, -1, 9, 9, -1, 0, 1, -1, -1, -1, 2, 2, -1, 0, 3, 4, -1, 5, 5, 5, -1, 0, 6, -1, -1, -1, 7, 7, -1, 0, 8, -1, -1, -1, 9, 9, -1, 0, 1, -1, -1, -1, 2, 2, -1, 0, 3, 4, -1, 10, 5, 5, -1, 0, 6, -1, -1, -1, 7, 7, -1, 0, 8, -1, -1, -1, 9, 9, -1, -1, 1, -1, -1, 2, 2, 2, -1, 0, -1, 0, -1, 5, 5, 5, -1, 0, 6, -1, -1, 7, 7, 11, -1, 0, 8, 0, -1, -1, 9, -1, -1, 3, 1, 3, -1, 2, 2, 2, -1, 0, 3, 0, -1, 5, 5, 5, -1, 0, 6, -1, -1, 7, 7, 11, -1, 0, 8, 0, -1, 9, 9, 8, -1, 3, 1, -1, -1, 2, 2, 2, -1, 0, 3, 0, -1, 5, 5, 5, -1, 0, 6, -1, -1, -1, 7, 7, -1, 0, 8, -1, -1, -1, 9, 9, -1, 3, 1, -1, -1, 2, 2, 2, -1, 0, 3, 0, -1, 5, 5, 5, -1, 0, 6, -1, -1, -1, 7, 7, -1, 0, 8, -1, -1, -1, 9, 9, -1], dtype=np.int16)
STAGE_2 = np.array([0, 1, -1, -1, -1, 1, 2, -1, 0, 0, 0, -1, -1, 1, 2, -1, 0, 3, -1, -1, -1, 1, 2, -1, 0, 3, -1, -1, -1, 3, 4, -1, 0, 1, -1, -1, 1, 1, 2, -1, 0, 0, 0, -1, 1, 1, 2, -1, 0, 3, -1, -1, -1, 1, 2, -1, 0, 3, -1, -1, -1, 3, 4, -1, 0, 1, -1, -1, -1, 1, 2, -1, 0, 0, 0, -1, 0, 1, 2, -1, 0, 3, -1, -1, -1, 1, 2, -1, 0, 3, -1, -1, -1, 3, 4, -1, 0, 1, -1, -1, -1, 1, 2, -1, 0, 0, 0, -1, 0, 1, 2, -1, 0, 3, -1, -1, -1, 1, 2, -1, 0, 3, -1, -1, -1, 3, 4, -1, -1, 0, -1, -1, 0, 0, 0, -1, 0, -1, 0, -1, 0, 0, 0, -1, 0, 5, -1, -1, 0, 0, 0, -1, 0, 5, 0, -1, -1, 5, -1, -1, 0, 1, 0, -1, 1, 1, 1, -1, 0, 0, 0, -1, 1, 1, 1, -1, 0, 3, -1, -1, 1, 1, 1, -1, 0, 3, 0, -1, 3, 3, 3, -1, 0, 1, -1, -1, 1, 1, 2, -1, 0, 0, 0, -1, 1, 1, 2, -1, 0, 3, -1, -1, -1, 1, 2, -1, 0, 3, -1, -1, -1, 3, 4, -1, 0, 1, -1, -1, 1, 1, 2, -1, 0, 0, 0, -1, 1, 1, 2, -1, 0, 3, -1, -1, -1, 1, 2, -1, 0, 3, -1, -1, -1, 3, 4, -1], dtype=np.int16)
STAGE_3 = np.array([0, 1, -1, -1, -1, 1, 2, -1, 3, 1, 2, -1, -1, 1, 2, -1, 4, 1, -1, -1, -1, 1, 2, -1, 5, 1, -1, -1, -1, 1, 2, -1, 6, 7, -1, -1, 8, 7, 9, -1, 10, 7, 9, -1, 8, 7, 9, -1, 11, 7, -1, -1, -1, 7, 9, -1, 12, 7, -1, -1, -1, 7, 9, -1, 13, 14, -1, -1, -1, 14, 15, -1, 16, 14, 15, -1, 17, 14, 15, -1, 18, 14, -1, -1, -1, 14, 15, -1, 19, 14, -1, -1, -1, 14, 15, -1, 20, 21, -1, -1, -1, 21, 22, -1, 23, 21, 22, -1, 17, 21, 22, -1, 24, 21, -1, -1, -1, 21, 22, -1, 25, 21, -1, -1, -1, 21, 22, -1, -1, 26, -1, -1, 27, 26, 28, -1, 29, -1, 30, -1, 27, 26, 28, -1, 31, 26, -1, -1, 27, 26, 28, -1, 32, 26, 33, -1, -1, 26, -1, -1, 34, 35, 36, -1, 34, 35, 36, -1, 37, 35, 38, -1, 34, 35, 36, -1, 39, 35, -1, -1, 34, 35, 36, -1, 40, 35, 41, -1, 34, 35, 36, -1, 42, 43, -1, -1, 42, 43, 44, -1, 45, 43, 46, -1, 42, 43, 44, -1, 47, 43, -1, -1, -1, 43, 44, -1, 48, 43, -1, -1, -1, 43, 44, -1, 49, 50, -1, -1, 49, 50, 51, -1, 52, 50, 53, -1, 49, 50, 51, -1, 54, 50, -1, -1, -1, 50, 51, -1, 55, 50, -1, -1, -1, 50, 51, -1], dtype=np.int16)
STAGE_4 = np.array([0, 1, -1, -1, -1, 1, 2, -1, 0, 1, 3, -1, -1, 1, 2, -1, 4, 1, -1, -1, -1, 1, 2, -1, 0, 1, -1, -1, -1, 1, 2, -1, 0, 1, -1, -1, 0, 1, 2, -1, 0, 1, 3, -1, 0, 1, 2, -1, 4, 1, -1, -1, -1, 1, 2, -1, 0, 1, -1, -1, -1, 1, 2, -1, 0, 1, -1, -1, -1, 1, 2, -1, 0, 1, 3, -1, 0, 1, 2, -1, 4, 1, -1, -1, -1, 1, 2, -1, 0, 1, -1, -1, -1, 1, 2, -1, 0, 0, -1, -1, -1, 0, 2, -1, 1, 0, 3, -1, 0, 0, 2, -1, 4, 0, -1, -1, -1, 0, 2, -1, 0, 0, -1, -1, -1, 0, 2, -1, -1, 5, -1, -1, 5, 5, 5, -1, 1, -1, 1, -1, 5, 5, 5, -1, 4, 5, -1, -1, 5, 5, 5, -1, 1, 5, 0, -1, -1, 5, -1, -1, 1, 1, 1, -1, 1, 1, 1, -1, 1, 1, 1, -1, 1, 1, 1, -1, 4, 1, -1, -1, 1, 1, 1, -1, 0, 1, 1, -1, 1, 1, 1, -1, 1, 1, -1, -1, 1, 1, 2, -1, 1, 1, 1, -1, 1, 1, 2, -1, 4, 1, -1, -1, -1, 1, 2, -1, 0, 1, -1, -1, -1, 1, 2, -1, 1, 0, -1, -1, 1, 0, 2, -1, 1, 0, 0, -1, 1, 0, 2, -1, 4, 0, -1, -1, -1, 0, 2, -1, 0, 0, -1, -1, -1, 0, 2, -1], dtype=np.int16)
LOOKED_AT = np.array([1016, 3, 0, 0, 0, 1, 0, 0, 1016, 1, 1, 0, 0, 1, 0, 0, 16, 5, 0, 0, 0, 3, 2, 0, 0, 5, 0, 0, 0, 3, 2, 0, 8, 3, 0, 0, 1, 1, 512, 0, 8, 1, 513, 0, 1, 1, 512, 0, 16, 5, 0, 0, 0, 3, 514, 0, 0, 5, 0, 0, 0, 3, 514, 0, 8, 3, 0, 0, 0, 1, 0, 0, 9, 1, 1, 0, 0, 1, 0, 0, 32, 5, 0, 0, 0, 3, 2, 0, 0, 5, 0, 0, 0, 3, 2, 0, 8, 579, 0, 0, 0, 577, 512, 0, 8, 577, 513, 0, 0, 577, 512, 0, 32, 581, 0, 0, 0, 579, 514, 0, 0, 581, 0, 0, 0, 579, 514, 0, 0, 3, 0, 0, 4, 1, 2, 0, 4, 0, 2, 0, 4, 1, 2, 0, 512, 5, 0, 0, 6, 3, 6, 0, 4, 5, 2, 0, 0, 3, 0, 0, 0, 2, 0, 0, 0, 0, 0, 0, 1, 0, 1, 0, 0, 0, 0, 0, 512, 4, 0, 0, 2, 2, 4, 0, 0, 4, 8, 0, 2, 2, 4, 0, 4, 3, 0, 0, 4, 1, 0, 0, 4, 1, 2, 0, 4, 1, 0, 0, 256, 5, 0, 0, 0, 3, 2, 0, 0, 5, 0, 0, 0, 3, 2, 0, 2, 579, 0, 0, 2, 577, 0, 0, 2, 577, 0, 0, 2, 577, 0, 0, 256, 581, 0, 0, 0, 579, 2, 0, 0, 581, 0, 0, 0, 579, 2, 0], dtype=np.int64)
SET = np.array([136, 273, 0, 0, 0, 273, 784, 0, 8, 273, 785, 0, 0, 273, 784, 0, 0, 273, 0, 0, 0, 273, 784, 0, 512, 273, 0, 0, 0, 273, 784, 0, 8, 273, 0, 0, 304, 273, 784, 0, 1016, 273, 785, 0, 304, 273, 784, 0, 0, 273, 0, 0, 0, 273, 784, 0, 512, 273, 0, 0, 0, 273, 784, 0, 1016, 273, 0, 0, 0, 273, 784, 0, 8, 273, 785, 0, 0, 273, 784, 0, 0, 273, 0, 0, 0, 273, 784, 0, 128, 273, 0, 0, 0, 273, 784, 0, 8, 817, 0, 0, 0, 817, 784, 0, 281, 817, 785, 0, 0, 817, 784, 0, 0, 817, 0, 0, 0, 817, 784, 0, 128, 817, 0, 0, 0, 817, 784, 0, 0, 0, 0, 0, 0, 0, 0, 0, 276, 0, 273, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 273, 0, 8, 0, 0, 0, 0, 0, 276, 273, 274, 0, 276, 273, 274, 0, 276, 273, 274, 0, 276, 273, 274, 0, 0, 273, 0, 0, 276, 273, 274, 0, 32, 273, 274, 0, 276, 273, 274, 0, 784, 784, 0, 0, 784, 784, 272, 0, 276, 784, 274, 0, 784, 784, 272, 0, 0, 784, 0, 0, 0, 784, 272, 0, 64, 784, 0, 0, 0, 784, 272, 0, 784, 817, 0, 0, 784, 817, 272, 0, 274, 817, 0, 0, 784, 817, 272, 0, 0, 817, 0, 0, 0, 817, 272, 0, 64, 817, 0, 0, 0, 817, 272, 0], dtype=np.int64)


@njit(cache=True, nogil=True)
def run(regs, cells, book, watch, seen):
    r_a = int64(regs[0])
    r_x = int64(regs[1])
    r_y = int64(regs[2])
    r_s = int64(regs[3])
    r_n = int64(regs[4])
    r_v = int64(regs[5])
    r_d = int64(regs[6])
    r_i = int64(regs[7])
    r_z = int64(regs[8])
    r_c = int64(regs[9])
    r_pc = int64(regs[10])
    b = int64(0)
    cross = int64(0)
    ea = int64(0)
    f = int64(0)
    g = int64(0)
    hi = int64(0)
    lo = int64(0)
    m = int64(0)
    r = int64(0)
    s = int64(0)
    t = int64(0)
    target = int64(0)
    un = int64(0)
    at_ = int64(0)
    w_ = int64(0)
    unknown = int64(book[16])
    left = int64(book[0])
    wanted = int64(book[1])
    cycles = int64(book[2])
    site = int64(book[9])
    start = r_pc
    began = cycles
    status = int64(0)
    while left > 0:
        start = r_pc
        began = cycles
        if r_pc == site:
            if book[10] == book[11]:
                status = int64(5)
                break
            if book[10] > 0:
                book[12] = min(book[12], cycles - book[14])
                book[13] = max(book[13], cycles - book[14])
            book[14] = cycles
            book[10] += 1
            seen[0, r_a & 255] = 1
            seen[1, r_x & 255] = 1
            seen[2, r_y & 255] = 1
            seen[3, r_s & 255] = 1
            seen[4, r_n & 255] = 1
            seen[5, r_v & 255] = 1
            seen[6, r_d & 255] = 1
            seen[7, r_i & 255] = 1
            seen[8, r_z & 255] = 1
            seen[9, r_c & 255] = 1
            for k_ in range(watch.shape[0]):
                seen[10 + k_, cells[watch[k_]]] = 1
        if cells[r_pc + 65536]:
            op = int64(slow_read(r_pc, 1, start, cycles, cells, book))
            if op < 0:
                status = -op
                break
        else:
            op = int64(cells[r_pc])
        cycles += 1
        r_pc = (r_pc + 1) & 0xFFFF
        if unknown and unknown & LOOKED_AT[op]:
            status = int64(3)
            break
        stage = STAGE_0[op]
        if stage == -1:
            status = int64(4)
            break
        if stage == 0:  # b = fetch()
            if cells[r_pc + 65536]:
                b = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if b < 0:
                    status = -b
                    break
            else:
                b = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
        elif stage == 1:  # dummy(PC)
            at_ = r_pc
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
        elif stage == 2:  # b = fetch()
            if cells[r_pc + 65536]:
                b = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if b < 0:
                    status = -b
                    break
            else:
                b = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
            if cells[r_pc + 65536]:
                hi = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
        stage = STAGE_1[op]
        if stage == 1:  # dummy(b)
            at_ = b
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            at_ = b + r_x & 255
            if cells[at_ + 65536]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 1
            at_ = b + r_x + 1 & 255
            if cells[at_ + 65536]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 1
            ea = hi << 8 | lo
        elif stage == 2:  # ea = b
            ea = b
        elif stage == 3:  # m = b
            m = b
        elif stage == 4:  # m = A
            m = r_a
        elif stage == 5:  # ea = (hi << 8) | b
            ea = hi << 8 | b
        elif stage == 6:  # lo = rd(b)
            at_ = b
            if cells[at_ + 65536]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 1
            at_ = b + 1 & 255
            if cells[at_ + 65536]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 1
            ea = (hi << 8) + lo + r_y & 65535
            un = hi << 8 | lo + r_y & 255
            cross = 1 if lo + r_y > 255 else 0
        elif stage == 7:  # dummy(b)
            at_ = b
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            ea = b + r_x & 255
        elif stage == 8:  # ea = ((hi << 8) + b + Y) & 0xFFFF
            ea = (hi << 8) + b + r_y & 65535
            un = hi << 8 | b + r_y & 255
            cross = 1 if b + r_y > 255 else 0
        elif stage == 9:  # ea = ((hi << 8) + b + X) & 0xFFFF
            ea = (hi << 8) + b + r_x & 65535
            un = hi << 8 | b + r_x & 255
            cross = 1 if b + r_x > 255 else 0
        elif stage == 10:  # lo = rd((hi << 8) | b)
            at_ = hi << 8 | b
            if cells[at_ + 65536]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 1
            at_ = hi << 8 | b + 1 & 255
            if cells[at_ + 65536]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 1
            ea = hi << 8 | lo
        elif stage == 11:  # dummy(b)
            at_ = b
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            ea = b + r_y & 255
        stage = STAGE_2[op]
        if stage == 1:  # m = rd(ea)
            at_ = ea
            if cells[at_ + 65536]:
                m = int64(slow_read(at_, 1, start, cycles, cells, book))
                if m < 0:
                    status = -m
                    break
            else:
                m = int64(cells[at_])
            cycles += 1
        elif stage == 2:  # m = rd(ea)
            at_ = ea
            if cells[at_ + 65536]:
                m = int64(slow_read(at_, 1, start, cycles, cells, book))
                if m < 0:
                    status = -m
                    break
            else:
                m = int64(cells[at_])
            cycles += 1
            at_ = ea
            w_ = m
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
        elif stage == 3:  # penalty(cross, un)
            if cross:
                at_ = un
                if cells[at_ + 65536]:
                    w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                    if w_ < 0:
                        status = -w_
                        break
                cycles += 1
            at_ = ea
            if cells[at_ + 65536]:
                m = int64(slow_read(at_, 1, start, cycles, cells, book))
                if m < 0:
                    status = -m
                    break
            else:
                m = int64(cells[at_])
            cycles += 1
        elif stage == 4:  # dummy(un)
            at_ = un
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            at_ = ea
            if cells[at_ + 65536]:
                m = int64(slow_read(at_, 1, start, cycles, cells, book))
                if m < 0:
                    status = -m
                    break
            else:
                m = int64(cells[at_])
            cycles += 1
            at_ = ea
            w_ = m
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
        elif stage == 5:  # dummy(un)
            at_ = un
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
        stage = STAGE_3[op]
        if stage == 0:  # wr(0x100 | S, PC >> 8)
            at_ = 256 | r_s
            w_ = r_pc >> 8
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = 256 | r_s - 1 & 255
            w_ = r_pc & 255
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = 256 | r_s - 2 & 255
            w_ = r_n << 7 | r_v << 6 | 48 | r_d << 3 | r_i << 2 | r_z << 1 | r_c
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = 65534
            if cells[at_ + 65536]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 1
            at_ = 65535
            if cells[at_ + 65536]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 1
            r_s = r_s - 3 & 255
            r_i = 1
            r_pc = hi << 8 | lo
        elif stage == 1:  # r = A | m
            r = r_a | m
            r_a = r
        elif stage == 2:  # C = bit(m, 7)
            r_c = m >> 7 & 1
            r = m << 1 & 255
        elif stage == 3:  # wr(0x100 | S, (N << 7) | (V << 6) | 0x30 | (D << 3) | (I << 2) | (Z << 1) | C)
            at_ = 256 | r_s
            w_ = r_n << 7 | r_v << 6 | 48 | r_d << 3 | r_i << 2 | r_z << 1 | r_c
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            r_s = r_s - 1 & 255
        elif stage == 4:  # t = N ^ 1
            t = r_n ^ 1
        elif stage == 5:  # C = 0
            r_c = 0
        elif stage == 6:  # lo = fetch()
            if cells[r_pc + 65536]:
                lo = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
            at_ = 256 | r_s
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            at_ = 256 | r_s
            w_ = r_pc >> 8
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = 256 | r_s - 1 & 255
            w_ = r_pc & 255
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            if cells[r_pc + 65536]:
                hi = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
            r_s = r_s - 2 & 255
            r_pc = hi << 8 | lo
        elif stage == 7:  # r = A & m
            r = r_a & m
            r_a = r
        elif stage == 8:  # N = bit(m, 7)
            r_n = m >> 7 & 1
            r_v = m >> 6 & 1
            r_z = 1 if r_a & m == 0 else 0
        elif stage == 9:  # r = ((m << 1) | C) & 0xFF
            r = (m << 1 | r_c) & 255
            r_c = m >> 7 & 1
        elif stage == 10:  # dummy(0x100 | S)
            at_ = 256 | r_s
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            at_ = 256 | r_s + 1 & 255
            if cells[at_ + 65536]:
                f = int64(slow_read(at_, 1, start, cycles, cells, book))
                if f < 0:
                    status = -f
                    break
            else:
                f = int64(cells[at_])
            cycles += 1
            r_s = r_s + 1 & 255
            r_n = f >> 7 & 1
            r_v = f >> 6 & 1
            r_d = f >> 3 & 1
            r_i = f >> 2 & 1
            r_z = f >> 1 & 1
            r_c = f & 1
        elif stage == 11:  # t = N
            t = r_n
        elif stage == 12:  # C = 1
            r_c = 1
        elif stage == 13:  # dummy(0x100 | S)
            at_ = 256 | r_s
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            at_ = 256 | r_s + 1 & 255
            if cells[at_ + 65536]:
                f = int64(slow_read(at_, 1, start, cycles, cells, book))
                if f < 0:
                    status = -f
                    break
            else:
                f = int64(cells[at_])
            cycles += 1
            at_ = 256 | r_s + 2 & 255
            if cells[at_ + 65536]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 1
            at_ = 256 | r_s + 3 & 255
            if cells[at_ + 65536]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 1
            r_s = r_s + 3 & 255
            r_pc = hi << 8 | lo
            r_n = f >> 7 & 1
            r_v = f >> 6 & 1
            r_d = f >> 3 & 1
            r_i = f >> 2 & 1
            r_z = f >> 1 & 1
            r_c = f & 1
        elif stage == 14:  # r = A ^ m
            r = r_a ^ m
            r_a = r
        elif stage == 15:  # C = m & 1
            r_c = m & 1
            r = m >> 1
        elif stage == 16:  # wr(0x100 | S, A)
            at_ = 256 | r_s
            w_ = r_a
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            r_s = r_s - 1 & 255
        elif stage == 17:  # PC = ea
            r_pc = ea
        elif stage == 18:  # t = V ^ 1
            t = r_v ^ 1
        elif stage == 19:  # I = 0
            r_i = 0
        elif stage == 20:  # dummy(0x100 | S)
            at_ = 256 | r_s
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            at_ = 256 | r_s + 1 & 255
            if cells[at_ + 65536]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 1
            at_ = 256 | r_s + 2 & 255
            if cells[at_ + 65536]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 1
            b = hi << 8 | lo
            at_ = b
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            r_s = r_s + 2 & 255
            r_pc = b + 1 & 65535
        elif stage == 21:  # s = A + m + C
            s = r_a + m + r_c
            r_z = 1 if s & 255 == 0 else 0
            if r_d:
                lo = (r_a & 15) + (m & 15) + r_c
                g = 1 if lo > 9 else 0
                lo = lo + 6 * g & 15 | g << 4
                s = (r_a & 240) + (m & 240) + lo
                r_n = s >> 7 & 1
                r_v = ((r_a ^ s) & ~(r_a ^ m)) >> 7 & 1
                s = s + 96 * (1 if s > 159 else 0)
            else:
                r_n = s >> 7 & 1
                r_v = ((r_a ^ s) & ~(r_a ^ m)) >> 7 & 1
            r_c = 1 if s > 255 else 0
            r_a = s & 255
        elif stage == 22:  # r = (m >> 1) | (C << 7)
            r = m >> 1 | r_c << 7
            r_c = m & 1
        elif stage == 23:  # dummy(0x100 | S)
            at_ = 256 | r_s
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            at_ = 256 | r_s + 1 & 255
            if cells[at_ + 65536]:
                r = int64(slow_read(at_, 1, start, cycles, cells, book))
                if r < 0:
                    status = -r
                    break
            else:
                r = int64(cells[at_])
            cycles += 1
            r_s = r_s + 1 & 255
            r_a = r
        elif stage == 24:  # t = V
            t = r_v
        elif stage == 25:  # I = 1
            r_i = 1
        elif stage == 26:  # r = A
            r = r_a
        elif stage == 27:  # r = Y
            r = r_y
        elif stage == 28:  # r = X
            r = r_x
        elif stage == 29:  # r = (Y - 1) & 0xFF
            r = r_y - 1 & 255
            r_y = r
        elif stage == 30:  # r = X
            r = r_x
            r_a = r
        elif stage == 31:  # t = C ^ 1
            t = r_c ^ 1
        elif stage == 32:  # r = Y
            r = r_y
            r_a = r
        elif stage == 33:  # S = X
            r_s = r_x
        elif stage == 34:  # r = m
            r = m
            r_y = r
        elif stage == 35:  # r = m
            r = m
            r_a = r
        elif stage == 36:  # r = m
            r = m
            r_x = r
        elif stage == 37:  # r = A
            r = r_a
            r_y = r
        elif stage == 38:  # r = A
            r = r_a
            r_x = r
        elif stage == 39:  # t = C
            t = r_c
        elif stage == 40:  # V = 0
            r_v = 0
        elif stage == 41:  # r = S
            r = r_s
            r_x = r
        elif stage == 42:  # r = (Y - m) & 0xFF
            r = r_y - m & 255
            r_c = 1 if r_y + 1 > m else 0
        elif stage == 43:  # r = (A - m) & 0xFF
            r = r_a - m & 255
            r_c = 1 if r_a + 1 > m else 0
        elif stage == 44:  # r = (m - 1) & 0xFF
            r = m - 1 & 255
        elif stage == 45:  # r = (Y + 1) & 0xFF
            r = r_y + 1 & 255
            r_y = r
        elif stage == 46:  # r = (X - 1) & 0xFF
            r = r_x - 1 & 255
            r_x = r
        elif stage == 47:  # t = Z ^ 1
            t = r_z ^ 1
        elif stage == 48:  # D = 0
            r_d = 0
        elif stage == 49:  # r = (X - m) & 0xFF
            r = r_x - m & 255
            r_c = 1 if r_x + 1 > m else 0
        elif stage == 50:  # s = A - m - 1 + C
            s = r_a - m - 1 + r_c
            r_n = s >> 7 & 1
            r_v = ((r_a ^ m) & (r_a ^ s)) >> 7 & 1
            r_z = 1 if s & 255 == 0 else 0
            if r_d:
                lo = (r_a & 15) - (m & 15) + r_c - 1
                g = 1 if 0 > lo else 0
                lo = (lo - 6 * g & 15) - (g << 4)
                r_c = 1 if s > -1 else 0
                s = (r_a & 240) - (m & 240) + lo
                s = s - 96 * (1 if 0 > s else 0)
            else:
                r_c = 1 if s > -1 else 0
            r_a = s & 255
        elif stage == 51:  # r = (m + 1) & 0xFF
            r = m + 1 & 255
        elif stage == 52:  # r = (X + 1) & 0xFF
            r = r_x + 1 & 255
            r_x = r
        elif stage == 54:  # t = Z
            t = r_z
        elif stage == 55:  # D = 1
            r_d = 1
        stage = STAGE_4[op]
        if stage == 1:  # N = bit(r, 7)
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
        elif stage == 2:  # N = bit(r, 7)
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            at_ = ea
            w_ = r
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
        elif stage == 3:  # N = bit(r, 7)
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_a = r
        elif stage == 4:  # if t:
            if t:
                at_ = r_pc
                if cells[at_ + 65536]:
                    w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                    if w_ < 0:
                        status = -w_
                        break
                cycles += 1
                target = r_pc + b - ((b & 128) << 1) & 65535
                if (target ^ r_pc) & 65280:
                    at_ = r_pc & 65280 | target & 255
                    if cells[at_ + 65536]:
                        w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                        if w_ < 0:
                            status = -w_
                            break
                    cycles += 1
                r_pc = target
        elif stage == 5:  # wr(ea, r)
            at_ = ea
            w_ = r
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
        if unknown:
            unknown &= ~SET[op]
        left -= 1
        if book[5]:
            break
        if r_pc == wanted:
            break
    if status:
        r_pc = start
        cycles = began
        while book[3] > 0 and book[46 + 5 * book[3]] >= began:
            book[3] -= 1
    regs[0] = r_a
    regs[1] = r_x
    regs[2] = r_y
    regs[3] = r_s
    regs[4] = r_n
    regs[5] = r_v
    regs[6] = r_d
    regs[7] = r_i
    regs[8] = r_z
    regs[9] = r_c
    regs[10] = r_pc
    book[16] = unknown
    book[0] = left
    book[2] = cycles
    return status

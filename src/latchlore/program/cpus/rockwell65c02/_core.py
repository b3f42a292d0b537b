"""The compiled core of the R65C02.  Written by scripts/generate_cores from its table: do not edit.

`run` follows the contract of `_core.py`; the numbers of stops and control cells are defined there.
"""
# ruff: noqa
# fmt: off
# mypy: ignore-errors

import numpy as np
from numba import njit
from numpy import int64

from latchlore.program._core import slow_read, slow_write

STAGE_0 = np.array([0, 0, -1, -1, 0, 0, 0, 0, 1, 0, 1, -1, 2, 2, 2, 0, 0, 0, 0, -1, 0, 0, 0, 0, 1, 2, 1, -1, 2, 2, 2, 0, 3, 0, -1, -1, 0, 0, 0, 0, 1, 0, 1, -1, 2, 2, 2, 0, 0, 0, 0, -1, 0, 0, 0, 0, 1, 2, 1, -1, 2, 2, 2, 0, 1, 0, -1, -1, -1, 0, 0, 0, 1, 0, 1, -1, 2, 2, 2, 0, 0, 0, 0, -1, -1, 0, 0, 0, 1, 2, 1, -1, -1, 2, 2, 0, 1, 0, -1, -1, 0, 0, 0, 0, 1, 0, 1, -1, 2, 2, 2, 0, 0, 0, 0, -1, 0, 0, 0, 0, 1, 2, 1, -1, 2, 2, 2, 0, 0, 0, -1, -1, 0, 0, 0, 0, 1, 0, 1, -1, 2, 2, 2, 0, 0, 0, 0, -1, 0, 0, 0, 0, 1, 2, 1, -1, 2, 2, 2, 0, 0, 0, 0, -1, 0, 0, 0, 0, 1, 0, 1, -1, 2, 2, 2, 0, 0, 0, 0, -1, 0, 0, 0, 0, 1, 2, 1, -1, 2, 2, 2, 0, 0, 0, -1, -1, 0, 0, 0, 0, 1, 0, 1, -1, 2, 2, 2, 0, 0, 0, 0, -1, -1, 0, 0, 0, 1, 2, 1, -1, -1, 2, 2, 0, 0, 0, -1, -1, 0, 0, 0, 0, 1, 0, 1, -1, 2, 2, 2, 0, 0, 0, 0, -1, -1, 0, 0, 0, 1, 2, 1, -1, -1, 2, 2, 0], dtype=np.int16)
STAGE_1 = np.array([0, 1, -1, -1, 2, 2, 2, 2, 0, 3, 4, -1, 5, 5, 5, 6, 0, 7, 8, -1, 2, 9, 9, 2, 0, 10, 4, -1, 5, 11, 11, 6, 0, 1, -1, -1, 2, 2, 2, 2, 0, 3, 4, -1, 5, 5, 5, 6, 0, 7, 8, -1, 9, 9, 9, 2, 0, 10, 4, -1, 11, 11, 11, 6, 0, 1, -1, -1, -1, 2, 2, 2, 0, 3, 4, -1, 5, 5, 5, 6, 0, 7, 8, -1, -1, 9, 9, 2, 0, 10, 0, -1, -1, 11, 11, 6, 0, 1, -1, -1, 2, 2, 2, 2, 0, 3, 4, -1, 12, 5, 5, 6, 0, 7, 8, -1, 9, 9, 9, 2, 0, 10, 0, -1, 13, 11, 11, 6, 0, 1, -1, -1, 2, 2, 2, 2, 0, 3, 0, -1, 5, 5, 5, 6, 0, 7, 8, -1, 9, 9, 14, 2, 0, 10, 0, -1, 5, 11, 11, 6, 3, 1, 3, -1, 2, 2, 2, 2, 0, 3, 0, -1, 5, 5, 5, 6, 0, 7, 8, -1, 9, 9, 14, 2, 0, 10, 0, -1, 11, 11, 10, 6, 3, 1, -1, -1, 2, 2, 2, 2, 0, 3, 0, -1, 5, 5, 5, 6, 0, 7, 8, -1, -1, 9, 9, 2, 0, 10, 0, -1, -1, 11, 11, 6, 3, 1, -1, -1, 2, 2, 2, 2, 0, 3, 0, -1, 5, 5, 5, 6, 0, 7, 8, -1, -1, 9, 9, 2, 0, 10, 0, -1, -1, 11, 11, 6], dtype=np.int16)
STAGE_2 = np.array([0, 1, -1, -1, 2, 1, 2, 2, 0, 0, 0, -1, 2, 1, 2, 0, 0, 3, 1, -1, 2, 1, 2, 2, 0, 3, 0, -1, 2, 3, 4, 0, 0, 1, -1, -1, 1, 1, 2, 2, 0, 0, 0, -1, 1, 1, 2, 0, 0, 3, 1, -1, 1, 1, 2, 2, 0, 3, 0, -1, 3, 3, 4, 0, 0, 1, -1, -1, -1, 1, 2, 2, 0, 0, 0, -1, 0, 1, 2, 0, 0, 3, 1, -1, -1, 1, 2, 2, 0, 3, 0, -1, -1, 3, 4, 0, 0, 1, -1, -1, 0, 1, 2, 2, 0, 0, 0, -1, 0, 1, 2, 0, 0, 3, 1, -1, 0, 1, 2, 2, 0, 3, 0, -1, 0, 3, 4, 0, 0, 0, -1, -1, 0, 0, 0, 2, 0, 0, 0, -1, 0, 0, 0, 0, 0, 5, 0, -1, 0, 0, 0, 2, 0, 5, 0, -1, 0, 5, 5, 0, 0, 1, 0, -1, 1, 1, 1, 2, 0, 0, 0, -1, 1, 1, 1, 0, 0, 3, 1, -1, 1, 1, 1, 2, 0, 3, 0, -1, 3, 3, 3, 0, 0, 1, -1, -1, 1, 1, 2, 2, 0, 0, 0, -1, 1, 1, 2, 0, 0, 3, 1, -1, -1, 1, 2, 2, 0, 3, 0, -1, -1, 3, 6, 0, 0, 1, -1, -1, 1, 1, 2, 2, 0, 0, 0, -1, 1, 1, 2, 0, 0, 3, 1, -1, -1, 1, 2, 2, 0, 3, 0, -1, -1, 3, 6, 0], dtype=np.int16)
STAGE_3 = np.array([0, 1, -1, -1, 2, 1, 3, 4, 5, 1, 3, -1, 2, 1, 3, 6, 7, 1, 1, -1, 8, 1, 3, 9, 10, 1, 11, -1, 8, 1, 3, 12, 13, 14, -1, -1, 15, 14, 16, 17, 18, 14, 16, -1, 15, 14, 16, 19, 20, 14, 14, -1, 15, 14, 16, 21, 22, 14, 23, -1, 15, 14, 16, 24, 25, 26, -1, -1, -1, 26, 27, 28, 29, 26, 27, -1, 30, 26, 27, 31, 32, 26, 26, -1, -1, 26, 27, 33, 34, 26, 35, -1, -1, 26, 27, 36, 37, 38, -1, -1, 39, 38, 40, 41, 42, 38, 40, -1, 30, 38, 40, 43, 44, 38, 38, -1, 39, 38, 40, 45, 46, 38, 47, -1, 30, 38, 40, 48, 49, 50, -1, -1, 51, 50, 52, 53, 54, 55, 56, -1, 51, 50, 52, 57, 58, 50, 50, -1, 51, 50, 52, 59, 60, 50, 61, -1, 39, 50, 39, 62, 63, 64, 65, -1, 63, 64, 65, 66, 67, 64, 68, -1, 63, 64, 65, 69, 70, 64, 64, -1, 63, 64, 65, 71, 72, 64, 73, -1, 63, 64, 65, 74, 75, 76, -1, -1, 75, 76, 23, 77, 78, 76, 79, -1, 75, 76, 23, 80, 81, 76, 76, -1, -1, 76, 23, 82, 83, 76, 84, -1, -1, 76, 23, 85, 86, 87, -1, -1, 86, 87, 11, 88, 89, 87, 90, -1, 86, 87, 11, 91, 92, 87, 87, -1, -1, 87, 11, 93, 94, 87, 95, -1, -1, 87, 11, 96], dtype=np.int16)
STAGE_4 = np.array([0, 1, -1, -1, 2, 1, 3, 2, 0, 1, 4, -1, 2, 1, 3, 5, 5, 1, 1, -1, 2, 1, 3, 2, 0, 1, 4, -1, 2, 1, 3, 5, 0, 1, -1, -1, 0, 1, 3, 2, 0, 1, 4, -1, 0, 1, 3, 5, 5, 1, 1, -1, 0, 1, 3, 2, 0, 1, 4, -1, 0, 1, 3, 5, 0, 1, -1, -1, -1, 1, 3, 2, 0, 1, 4, -1, 0, 1, 3, 5, 5, 1, 1, -1, -1, 1, 3, 2, 0, 1, 0, -1, -1, 1, 3, 5, 0, 1, -1, -1, 2, 1, 3, 2, 1, 1, 4, -1, 0, 1, 3, 5, 5, 1, 1, -1, 2, 1, 3, 2, 0, 1, 1, -1, 0, 1, 3, 5, 5, 2, -1, -1, 2, 2, 2, 2, 1, 0, 1, -1, 2, 2, 2, 5, 5, 2, 2, -1, 2, 2, 2, 2, 1, 2, 0, -1, 2, 2, 2, 5, 1, 1, 1, -1, 1, 1, 1, 2, 1, 1, 1, -1, 1, 1, 1, 5, 5, 1, 1, -1, 1, 1, 1, 2, 0, 1, 1, -1, 1, 1, 1, 5, 1, 1, -1, -1, 1, 1, 3, 2, 1, 1, 1, -1, 1, 1, 3, 5, 5, 1, 1, -1, -1, 1, 3, 2, 0, 1, 0, -1, -1, 1, 3, 5, 1, 1, -1, -1, 1, 1, 3, 2, 1, 1, 0, -1, 1, 1, 3, 5, 5, 1, 1, -1, -1, 1, 3, 2, 0, 1, 1, -1, -1, 1, 3, 5], dtype=np.int16)
LOOKED_AT = np.array([1016, 3, 0, 0, 1, 1, 0, 0, 1016, 1, 1, 0, 1, 1, 0, 0, 16, 5, 1, 0, 1, 3, 2, 0, 0, 5, 1, 0, 1, 3, 2, 0, 8, 3, 0, 0, 1, 1, 512, 0, 8, 1, 513, 0, 1, 1, 512, 0, 16, 5, 1, 0, 3, 3, 514, 0, 0, 5, 1, 0, 3, 3, 514, 0, 8, 3, 0, 0, 0, 1, 0, 0, 9, 1, 1, 0, 0, 1, 0, 0, 32, 5, 1, 0, 0, 3, 2, 0, 0, 5, 12, 0, 0, 3, 2, 0, 8, 579, 0, 0, 0, 577, 512, 0, 8, 577, 513, 0, 0, 577, 512, 0, 32, 581, 577, 0, 2, 579, 514, 0, 0, 581, 8, 0, 2, 579, 514, 0, 0, 3, 0, 0, 4, 1, 2, 0, 4, 1, 2, 0, 4, 1, 2, 0, 512, 5, 1, 0, 6, 3, 6, 0, 4, 5, 2, 0, 0, 3, 2, 0, 0, 2, 0, 0, 0, 0, 0, 0, 1, 0, 1, 0, 0, 0, 0, 0, 512, 4, 0, 0, 2, 2, 4, 0, 0, 4, 8, 0, 2, 2, 4, 0, 4, 3, 0, 0, 4, 1, 0, 0, 4, 1, 2, 0, 4, 1, 0, 0, 256, 5, 1, 0, 0, 3, 2, 0, 0, 5, 10, 0, 0, 3, 2, 0, 2, 579, 0, 0, 2, 577, 0, 0, 2, 577, 0, 0, 2, 577, 0, 0, 256, 581, 577, 0, 0, 579, 2, 0, 0, 581, 8, 0, 0, 579, 2, 0], dtype=np.int64)
SET = np.array([200, 273, 0, 0, 256, 273, 784, 0, 8, 273, 785, 0, 256, 273, 784, 0, 0, 273, 273, 0, 256, 273, 784, 0, 512, 273, 273, 0, 256, 273, 784, 0, 8, 273, 0, 0, 304, 273, 784, 0, 1016, 273, 785, 0, 304, 273, 784, 0, 0, 273, 273, 0, 304, 273, 784, 0, 512, 273, 273, 0, 304, 273, 784, 0, 1016, 273, 0, 0, 0, 273, 784, 0, 8, 273, 785, 0, 0, 273, 784, 0, 0, 273, 273, 0, 0, 273, 784, 0, 128, 273, 8, 0, 0, 273, 784, 0, 8, 817, 0, 0, 0, 817, 784, 0, 281, 817, 785, 0, 0, 817, 784, 0, 0, 817, 817, 0, 0, 817, 784, 0, 128, 817, 284, 0, 0, 817, 784, 0, 0, 0, 0, 0, 0, 0, 0, 0, 276, 256, 273, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 273, 0, 8, 0, 0, 0, 0, 0, 276, 273, 274, 0, 276, 273, 274, 0, 276, 273, 274, 0, 276, 273, 274, 0, 0, 273, 273, 0, 276, 273, 274, 0, 32, 273, 274, 0, 276, 273, 274, 0, 784, 784, 0, 0, 784, 784, 272, 0, 276, 784, 274, 0, 784, 784, 272, 0, 0, 784, 784, 0, 0, 784, 272, 0, 64, 784, 8, 0, 0, 784, 272, 0, 784, 817, 0, 0, 784, 817, 272, 0, 274, 817, 0, 0, 784, 817, 272, 0, 0, 817, 817, 0, 0, 817, 272, 0, 64, 817, 282, 0, 0, 817, 272, 0], dtype=np.int64)


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
        if stage == 1:  # dummy((PC - 1) & 0xFFFF)
            at_ = r_pc - 1 & 65535
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
        elif stage == 6:  # m = rd(b)
            at_ = b
            if cells[at_ + 65536]:
                m = int64(slow_read(at_, 1, start, cycles, cells, book))
                if m < 0:
                    status = -m
                    break
            else:
                m = int64(cells[at_])
            cycles += 1
            at_ = b
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            if cells[r_pc + 65536]:
                b = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if b < 0:
                    status = -b
                    break
            else:
                b = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
        elif stage == 7:  # lo = rd(b)
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
            cross = 1 if lo + r_y > 255 else 0
            un = ea + cross * ((r_pc - 1 & 65535) - ea) & 65535
        elif stage == 8:  # lo = rd(b)
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
            ea = hi << 8 | lo
        elif stage == 9:  # dummy((PC - 1) & 0xFFFF)
            at_ = r_pc - 1 & 65535
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            ea = b + r_x & 255
        elif stage == 10:  # ea = ((hi << 8) + b + Y) & 0xFFFF
            ea = (hi << 8) + b + r_y & 65535
            cross = 1 if b + r_y > 255 else 0
            un = ea + cross * ((r_pc - 1 & 65535) - ea) & 65535
        elif stage == 11:  # ea = ((hi << 8) + b + X) & 0xFFFF
            ea = (hi << 8) + b + r_x & 65535
            cross = 1 if b + r_x > 255 else 0
            un = ea + cross * ((r_pc - 1 & 65535) - ea) & 65535
        elif stage == 12:  # ea = (hi << 8) | b
            ea = hi << 8 | b
            at_ = r_pc - 1 & 65535
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            at_ = ea
            if cells[at_ + 65536]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 1
            at_ = ea + 1 & 65535
            if cells[at_ + 65536]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 1
            ea = hi << 8 | lo
        elif stage == 13:  # ea = ((hi << 8) + b + X) & 0xFFFF
            ea = (hi << 8) + b + r_x & 65535
            at_ = r_pc - 1 & 65535
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
            at_ = ea
            if cells[at_ + 65536]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 1
            at_ = ea + 1 & 65535
            if cells[at_ + 65536]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 1
            ea = hi << 8 | lo
        elif stage == 14:  # dummy((PC - 1) & 0xFFFF)
            at_ = r_pc - 1 & 65535
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
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
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
        elif stage == 4:  # penalty(cross, un)
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
            at_ = ea
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
        elif stage == 5:  # dummy(un)
            at_ = un
            if cells[at_ + 65536]:
                w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                if w_ < 0:
                    status = -w_
                    break
            cycles += 1
        elif stage == 6:  # dummy(un)
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
            r_d = 0
            r_pc = hi << 8 | lo
        elif stage == 1:  # r = A | m
            r = r_a | m
            r_a = r
        elif stage == 2:  # Z = zero(A & m)
            r_z = 1 if r_a & m == 0 else 0
            r = m | r_a
        elif stage == 3:  # C = bit(m, 7)
            r_c = m >> 7 & 1
            r = m << 1 & 255
        elif stage == 4:  # r = m & 254
            r = m & 254
        elif stage == 5:  # wr(0x100 | S, (N << 7) | (V << 6) | 0x30 | (D << 3) | (I << 2) | (Z << 1) | C)
            at_ = 256 | r_s
            w_ = r_n << 7 | r_v << 6 | 48 | r_d << 3 | r_i << 2 | r_z << 1 | r_c
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            r_s = r_s - 1 & 255
        elif stage == 6:  # t = bit(m, 0) ^ 1
            t = m >> 0 & 1 ^ 1
        elif stage == 7:  # t = N ^ 1
            t = r_n ^ 1
        elif stage == 8:  # Z = zero(A & m)
            r_z = 1 if r_a & m == 0 else 0
            r = m & ~r_a
        elif stage == 9:  # r = m & 253
            r = m & 253
        elif stage == 10:  # C = 0
            r_c = 0
        elif stage == 11:  # r = (m + 1) & 0xFF
            r = m + 1 & 255
        elif stage == 12:  # t = bit(m, 1) ^ 1
            t = m >> 1 & 1 ^ 1
        elif stage == 13:  # lo = fetch()
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
        elif stage == 14:  # r = A & m
            r = r_a & m
            r_a = r
        elif stage == 15:  # N = bit(m, 7)
            r_n = m >> 7 & 1
            r_v = m >> 6 & 1
            r_z = 1 if r_a & m == 0 else 0
        elif stage == 16:  # r = ((m << 1) | C) & 0xFF
            r = (m << 1 | r_c) & 255
            r_c = m >> 7 & 1
        elif stage == 17:  # r = m & 251
            r = m & 251
        elif stage == 18:  # dummy(0x100 | S)
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
        elif stage == 19:  # t = bit(m, 2) ^ 1
            t = m >> 2 & 1 ^ 1
        elif stage == 20:  # t = N
            t = r_n
        elif stage == 21:  # r = m & 247
            r = m & 247
        elif stage == 22:  # C = 1
            r_c = 1
        elif stage == 23:  # r = (m - 1) & 0xFF
            r = m - 1 & 255
        elif stage == 24:  # t = bit(m, 3) ^ 1
            t = m >> 3 & 1 ^ 1
        elif stage == 25:  # dummy(0x100 | S)
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
        elif stage == 26:  # r = A ^ m
            r = r_a ^ m
            r_a = r
        elif stage == 27:  # C = m & 1
            r_c = m & 1
            r = m >> 1
        elif stage == 28:  # r = m & 239
            r = m & 239
        elif stage == 29:  # wr(0x100 | S, A)
            at_ = 256 | r_s
            w_ = r_a
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            r_s = r_s - 1 & 255
        elif stage == 30:  # PC = ea
            r_pc = ea
        elif stage == 31:  # t = bit(m, 4) ^ 1
            t = m >> 4 & 1 ^ 1
        elif stage == 32:  # t = V ^ 1
            t = r_v ^ 1
        elif stage == 33:  # r = m & 223
            r = m & 223
        elif stage == 34:  # I = 0
            r_i = 0
        elif stage == 35:  # wr(0x100 | S, Y)
            at_ = 256 | r_s
            w_ = r_y
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            r_s = r_s - 1 & 255
        elif stage == 36:  # t = bit(m, 5) ^ 1
            t = m >> 5 & 1 ^ 1
        elif stage == 37:  # dummy(0x100 | S)
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
        elif stage == 38:  # s = A + m + C
            s = r_a + m + r_c
            if r_d:
                cycles += 1
                lo = (r_a & 15) + (m & 15) + r_c
                g = 1 if lo > 9 else 0
                lo = lo + 6 * g & 15 | g << 4
                s = (r_a & 240) + (m & 240) + lo
                r_v = ((r_a ^ s) & ~(r_a ^ m)) >> 7 & 1
                s = s + 96 * (1 if s > 159 else 0)
            else:
                r_v = ((r_a ^ s) & ~(r_a ^ m)) >> 7 & 1
            r_c = 1 if s > 255 else 0
            r = s & 255
            r_a = r
        elif stage == 39:  # r = 0
            r = 0
        elif stage == 40:  # r = (m >> 1) | (C << 7)
            r = m >> 1 | r_c << 7
            r_c = m & 1
        elif stage == 41:  # r = m & 191
            r = m & 191
        elif stage == 42:  # dummy(0x100 | S)
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
        elif stage == 43:  # t = bit(m, 6) ^ 1
            t = m >> 6 & 1 ^ 1
        elif stage == 44:  # t = V
            t = r_v
        elif stage == 45:  # r = m & 127
            r = m & 127
        elif stage == 46:  # I = 1
            r_i = 1
        elif stage == 47:  # dummy(0x100 | S)
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
            r_y = r
        elif stage == 48:  # t = bit(m, 7) ^ 1
            t = m >> 7 & 1 ^ 1
        elif stage == 49:  # t = 1
            t = 1
        elif stage == 50:  # r = A
            r = r_a
        elif stage == 51:  # r = Y
            r = r_y
        elif stage == 52:  # r = X
            r = r_x
        elif stage == 53:  # r = m | 1
            r = m | 1
        elif stage == 54:  # r = (Y - 1) & 0xFF
            r = r_y - 1 & 255
            r_y = r
        elif stage == 55:  # Z = zero(A & m)
            r_z = 1 if r_a & m == 0 else 0
        elif stage == 56:  # r = X
            r = r_x
            r_a = r
        elif stage == 57:  # t = bit(m, 0)
            t = m >> 0 & 1
        elif stage == 58:  # t = C ^ 1
            t = r_c ^ 1
        elif stage == 59:  # r = m | 2
            r = m | 2
        elif stage == 60:  # r = Y
            r = r_y
            r_a = r
        elif stage == 61:  # S = X
            r_s = r_x
        elif stage == 62:  # t = bit(m, 1)
            t = m >> 1 & 1
        elif stage == 63:  # r = m
            r = m
            r_y = r
        elif stage == 64:  # r = m
            r = m
            r_a = r
        elif stage == 65:  # r = m
            r = m
            r_x = r
        elif stage == 66:  # r = m | 4
            r = m | 4
        elif stage == 67:  # r = A
            r = r_a
            r_y = r
        elif stage == 68:  # r = A
            r = r_a
            r_x = r
        elif stage == 69:  # t = bit(m, 2)
            t = m >> 2 & 1
        elif stage == 70:  # t = C
            t = r_c
        elif stage == 71:  # r = m | 8
            r = m | 8
        elif stage == 72:  # V = 0
            r_v = 0
        elif stage == 73:  # r = S
            r = r_s
            r_x = r
        elif stage == 74:  # t = bit(m, 3)
            t = m >> 3 & 1
        elif stage == 75:  # r = (Y - m) & 0xFF
            r = r_y - m & 255
            r_c = 1 if r_y + 1 > m else 0
        elif stage == 76:  # r = (A - m) & 0xFF
            r = r_a - m & 255
            r_c = 1 if r_a + 1 > m else 0
        elif stage == 77:  # r = m | 16
            r = m | 16
        elif stage == 78:  # r = (Y + 1) & 0xFF
            r = r_y + 1 & 255
            r_y = r
        elif stage == 79:  # r = (X - 1) & 0xFF
            r = r_x - 1 & 255
            r_x = r
        elif stage == 80:  # t = bit(m, 4)
            t = m >> 4 & 1
        elif stage == 81:  # t = Z ^ 1
            t = r_z ^ 1
        elif stage == 82:  # r = m | 32
            r = m | 32
        elif stage == 83:  # D = 0
            r_d = 0
        elif stage == 84:  # wr(0x100 | S, X)
            at_ = 256 | r_s
            w_ = r_x
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            r_s = r_s - 1 & 255
        elif stage == 85:  # t = bit(m, 5)
            t = m >> 5 & 1
        elif stage == 86:  # r = (X - m) & 0xFF
            r = r_x - m & 255
            r_c = 1 if r_x + 1 > m else 0
        elif stage == 87:  # s = A - m - 1 + C
            s = r_a - m - 1 + r_c
            r_v = ((r_a ^ m) & (r_a ^ s)) >> 7 & 1
            if r_d:
                cycles += 1
                r = s - 96 * (1 if 0 > s else 0) - 6 * (1 if 0 > (r_a & 15) - (m & 15) - 1 + r_c else 0) & 255
            else:
                r = s & 255
            r_c = 1 if s > -1 else 0
            r_a = r
        elif stage == 88:  # r = m | 64
            r = m | 64
        elif stage == 89:  # r = (X + 1) & 0xFF
            r = r_x + 1 & 255
            r_x = r
        elif stage == 91:  # t = bit(m, 6)
            t = m >> 6 & 1
        elif stage == 92:  # t = Z
            t = r_z
        elif stage == 93:  # r = m | 128
            r = m | 128
        elif stage == 94:  # D = 1
            r_d = 1
        elif stage == 95:  # dummy(0x100 | S)
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
            r_x = r
        elif stage == 96:  # t = bit(m, 7)
            t = m >> 7 & 1
        stage = STAGE_4[op]
        if stage == 1:  # N = bit(r, 7)
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
        elif stage == 2:  # wr(ea, r)
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
            at_ = ea
            w_ = r
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
        elif stage == 4:  # N = bit(r, 7)
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_a = r
        elif stage == 5:  # if t:
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
                    at_ = r_pc
                    if cells[at_ + 65536]:
                        w_ = int64(slow_read(at_, 0, start, cycles, cells, book))
                        if w_ < 0:
                            status = -w_
                            break
                    cycles += 1
                r_pc = target
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

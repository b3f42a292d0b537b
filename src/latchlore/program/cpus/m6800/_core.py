"""The compiled core of the 6800.  Written by scripts/generate_cores from its table: do not edit.

`run` follows the contract of `_core.py`; the numbers of stops and control cells are defined there.
"""
# ruff: noqa
# fmt: off
# mypy: ignore-errors

import numpy as np
from numba import njit
from numpy import int64

from latchlore.program._core import slow_read, slow_write

STAGE_0 = np.array([-1, 0, -1, -1, -1, -1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, -1, -1, -1, -1, 0, 0, -1, 0, -1, 0, -1, -1, -1, -1, 1, -1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, -1, 0, -1, 0, -1, -1, 0, 0, 0, -1, -1, 0, 0, -1, 0, 0, 0, 0, 0, -1, 0, 0, -1, 0, 0, -1, -1, 0, 0, -1, 0, 0, 0, 0, 0, -1, 0, 0, -1, 0, 2, -1, -1, 2, 2, -1, 2, 2, 2, 2, 2, -1, 2, 2, 2, 2, 3, -1, -1, 3, 3, -1, 3, 3, 3, 3, 3, -1, 3, 3, 3, 3, 4, 4, 4, -1, 4, 4, 4, -1, 4, 4, 4, 4, 5, 1, 5, -1, 6, 6, 6, -1, 6, 6, 6, 6, 6, 6, 6, 6, 6, -1, 6, 6, 2, 2, 2, -1, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 3, 3, 3, -1, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 4, 4, 4, -1, 4, 4, 4, -1, 4, 4, 4, 4, -1, -1, 5, -1, 6, 6, 6, -1, 6, 6, 6, 6, 6, 6, 6, 6, -1, -1, 6, 6, 2, 2, 2, -1, 2, 2, 2, 2, 2, 2, 2, 2, -1, -1, 2, 2, 3, 3, 3, -1, 3, 3, 3, 3, 3, 3, 3, 3, -1, -1, 3, 3], dtype=np.int16)
STAGE_1 = np.array([-1, 0, -1, -1, -1, -1, 0, 0, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, -1, -1, -1, -1, 0, 0, -1, 0, -1, 0, -1, -1, -1, -1, 2, -1, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 1, 1, 3, 3, 1, 1, 3, 3, -1, 3, -1, 3, -1, -1, 4, 3, 0, -1, -1, 0, 0, -1, 0, 0, 0, 0, 0, -1, 0, 0, -1, 0, 0, -1, -1, 0, 0, -1, 0, 0, 0, 0, 0, -1, 0, 0, -1, 0, 5, -1, -1, 5, 5, -1, 5, 5, 5, 5, 5, -1, 5, 5, 2, 5, 5, -1, -1, 5, 5, -1, 5, 5, 5, 5, 5, -1, 5, 5, 2, 5, 2, 2, 2, -1, 2, 2, 2, -1, 2, 2, 2, 2, 2, 2, 2, -1, 6, 6, 6, -1, 6, 6, 6, 0, 6, 6, 6, 6, 7, -1, 7, 0, 6, 6, 6, -1, 6, 6, 6, 0, 6, 6, 6, 6, 7, 2, 7, 0, 6, 6, 6, -1, 6, 6, 6, 0, 6, 6, 6, 6, 7, 0, 7, 0, 2, 2, 2, -1, 2, 2, 2, -1, 2, 2, 2, 2, -1, -1, 2, -1, 6, 6, 6, -1, 6, 6, 6, 0, 6, 6, 6, 6, -1, -1, 7, 0, 6, 6, 6, -1, 6, 6, 6, 0, 6, 6, 6, 6, -1, -1, 7, 0, 6, 6, 6, -1, 6, 6, 6, 0, 6, 6, 6, 6, -1, -1, 7, 0], dtype=np.int16)
STAGE_2 = np.array([-1, 0, -1, -1, -1, -1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, -1, -1, -1, -1, 0, 0, -1, 0, -1, 0, -1, -1, -1, -1, 0, -1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, -1, 0, -1, 0, -1, -1, 0, 0, 1, -1, -1, 1, 1, -1, 1, 1, 1, 1, 1, -1, 1, 1, -1, 1, 2, -1, -1, 2, 2, -1, 2, 2, 2, 2, 2, -1, 2, 2, -1, 2, 0, -1, -1, 0, 0, -1, 0, 0, 0, 0, 0, -1, 0, 0, 0, 0, 0, -1, -1, 0, 0, -1, 0, 0, 0, 0, 0, -1, 0, 0, 0, 0, 3, 3, 3, -1, 3, 3, 0, -1, 3, 3, 3, 3, 0, 0, 0, -1, 3, 3, 3, -1, 3, 3, 0, 3, 3, 3, 3, 3, 0, -1, 0, 4, 3, 3, 3, -1, 3, 3, 0, 3, 3, 3, 3, 3, 0, 0, 0, 4, 3, 3, 3, -1, 3, 3, 0, 3, 3, 3, 3, 3, 0, 0, 0, 4, 5, 5, 5, -1, 5, 5, 0, -1, 5, 5, 5, 5, -1, -1, 0, -1, 5, 5, 5, -1, 5, 5, 0, 5, 5, 5, 5, 5, -1, -1, 0, 6, 5, 5, 5, -1, 5, 5, 0, 5, 5, 5, 5, 5, -1, -1, 0, 6, 5, 5, 5, -1, 5, 5, 0, 5, 5, 5, 5, 5, -1, -1, 0, 6], dtype=np.int16)
STAGE_3 = np.array([-1, 0, -1, -1, -1, -1, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, -1, -1, -1, -1, 13, 14, -1, 15, -1, 16, -1, -1, -1, -1, 17, -1, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 32, 33, 34, 34, 35, 36, 37, 38, -1, 39, -1, 40, -1, -1, 0, 41, 42, -1, -1, 43, 44, -1, 45, 46, 47, 48, 49, -1, 50, 51, -1, 52, 42, -1, -1, 43, 44, -1, 45, 46, 47, 48, 49, -1, 50, 51, -1, 52, 42, -1, -1, 43, 44, -1, 45, 46, 47, 48, 49, -1, 50, 51, 53, 52, 42, -1, -1, 43, 44, -1, 45, 46, 47, 48, 49, -1, 50, 51, 53, 52, 54, 54, 55, -1, 56, 56, 57, -1, 58, 59, 60, 61, 62, 63, 64, -1, 54, 54, 55, -1, 56, 56, 57, 65, 58, 59, 60, 61, 62, -1, 64, 64, 54, 54, 55, -1, 56, 56, 57, 65, 58, 59, 60, 61, 62, 66, 64, 64, 54, 54, 55, -1, 56, 56, 57, 65, 58, 59, 60, 61, 62, 67, 64, 64, 54, 54, 55, -1, 56, 56, 57, -1, 58, 59, 60, 61, -1, -1, 64, -1, 54, 54, 55, -1, 56, 56, 57, 65, 58, 59, 60, 61, -1, -1, 64, 64, 54, 54, 55, -1, 56, 56, 57, 65, 58, 59, 60, 61, -1, -1, 64, 64, 54, 54, 55, -1, 56, 56, 57, 65, 58, 59, 60, 61, -1, -1, 64, 64], dtype=np.int16)
STAGE_4 = np.array([-1, 0, -1, -1, -1, -1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, -1, -1, -1, -1, 0, 0, -1, 0, -1, 0, -1, -1, -1, -1, 1, -1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 2, 3, 0, 0, 0, 0, -1, 0, -1, 0, -1, -1, 0, 0, 2, -1, -1, 2, 2, -1, 2, 2, 2, 2, 2, -1, 2, 0, -1, 2, 3, -1, -1, 3, 3, -1, 3, 3, 3, 3, 3, -1, 3, 0, -1, 3, 4, -1, -1, 4, 4, -1, 4, 4, 4, 4, 4, -1, 4, 5, 0, 4, 4, -1, -1, 4, 4, -1, 4, 4, 4, 4, 4, -1, 4, 5, 0, 4, 2, 0, 2, -1, 2, 0, 2, -1, 2, 2, 2, 2, 0, 0, 6, -1, 2, 0, 2, -1, 2, 0, 2, 4, 2, 2, 2, 2, 0, -1, 6, 7, 2, 0, 2, -1, 2, 0, 2, 4, 2, 2, 2, 2, 0, 0, 6, 7, 2, 0, 2, -1, 2, 0, 2, 4, 2, 2, 2, 2, 0, 0, 6, 7, 3, 0, 3, -1, 3, 0, 3, -1, 3, 3, 3, 3, -1, -1, 8, -1, 3, 0, 3, -1, 3, 0, 3, 4, 3, 3, 3, 3, -1, -1, 8, 7, 3, 0, 3, -1, 3, 0, 3, 4, 3, 3, 3, 3, -1, -1, 8, 7, 3, 0, 3, -1, 3, 0, 3, 4, 3, 3, 3, 3, -1, -1, 8, 7], dtype=np.int16)
LOOKED_AT = np.array([0, 0, 0, 0, 0, 0, 1, 1008, 4, 4, 0, 0, 0, 0, 0, 0, 3, 3, 0, 0, 0, 0, 1, 2, 0, 529, 0, 3, 0, 0, 0, 0, 0, 0, 640, 640, 512, 512, 128, 128, 256, 256, 64, 64, 320, 320, 448, 448, 8, 8, 8, 8, 8, 4, 9, 10, 0, 8, 0, 8, 0, 0, 2305843009213693952, 1023, 1, 0, 0, 1, 1, 0, 513, 1, 1, 513, 1, 0, 1, 1, 0, 1, 2, 0, 0, 2, 2, 0, 514, 2, 2, 514, 2, 0, 2, 2, 0, 2, 4, 0, 0, 4, 4, 0, 516, 4, 4, 516, 4, 0, 4, 4, 4, 4, 0, 0, 0, 0, 0, 0, 512, 0, 0, 512, 0, 0, 0, 0, 0, 0, 1, 1, 513, 0, 1, 1, 0, 0, 1, 513, 1, 1, 4, 8, 0, 0, 1, 1, 513, 0, 1, 1, 0, 1, 1, 513, 1, 1, 4, 0, 0, 8, 5, 5, 517, 0, 5, 5, 4, 5, 5, 517, 5, 5, 4, 12, 4, 12, 1, 1, 513, 0, 1, 1, 0, 1, 1, 513, 1, 1, 4, 8, 0, 8, 2, 2, 514, 0, 2, 2, 0, 0, 2, 514, 2, 2, 0, 0, 0, 0, 2, 2, 514, 0, 2, 2, 0, 2, 2, 514, 2, 2, 0, 0, 0, 4, 6, 6, 518, 0, 6, 6, 4, 6, 6, 518, 6, 6, 0, 0, 4, 4, 2, 2, 514, 0, 2, 2, 0, 2, 2, 514, 2, 2, 0, 0, 0, 4], dtype=np.int64)
SET = np.array([0, 0, 0, 0, 0, 0, 1008, 1, 132, 132, 256, 256, 512, 512, 32, 32, 961, 960, 0, 0, 0, 0, 450, 449, 0, 961, 0, 977, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 4, 8, 9, 10, 8, 8, 8, 8, 0, 8, 0, 1023, 0, 0, 0, 40, 961, 0, 0, 961, 961, 0, 961, 961, 961, 961, 449, 0, 449, 960, 0, 961, 962, 0, 0, 962, 962, 0, 962, 962, 962, 962, 450, 0, 450, 960, 0, 962, 960, 0, 0, 960, 960, 0, 960, 960, 960, 960, 448, 0, 448, 960, 0, 960, 960, 0, 0, 960, 960, 0, 960, 960, 960, 960, 448, 0, 448, 960, 0, 960, 961, 960, 961, 0, 449, 448, 449, 0, 449, 977, 449, 977, 448, 8, 456, 0, 961, 960, 961, 0, 449, 448, 449, 448, 449, 977, 449, 977, 448, 0, 456, 448, 961, 960, 961, 0, 449, 448, 449, 448, 449, 977, 449, 977, 448, 8, 456, 448, 961, 960, 961, 0, 449, 448, 449, 448, 449, 977, 449, 977, 448, 8, 456, 448, 962, 960, 962, 0, 450, 448, 450, 0, 450, 978, 450, 978, 0, 0, 452, 0, 962, 960, 962, 0, 450, 448, 450, 448, 450, 978, 450, 978, 0, 0, 452, 448, 962, 960, 962, 0, 450, 448, 450, 448, 450, 978, 450, 978, 0, 0, 452, 448, 962, 960, 962, 0, 450, 448, 450, 448, 450, 978, 450, 978, 0, 0, 452, 448], dtype=np.int64)


@njit(cache=True, nogil=True)
def run(regs, cells, book, watch, seen):
    r_a = int64(regs[0])
    r_b = int64(regs[1])
    r_x = int64(regs[2])
    r_sp = int64(regs[3])
    r_h = int64(regs[4])
    r_i = int64(regs[5])
    r_n = int64(regs[6])
    r_z = int64(regs[7])
    r_v = int64(regs[8])
    r_c = int64(regs[9])
    r_pc = int64(regs[10])
    a = int64(0)
    b = int64(0)
    ea = int64(0)
    f = int64(0)
    g = int64(0)
    hi = int64(0)
    lo = int64(0)
    m = int64(0)
    r = int64(0)
    s = int64(0)
    t = int64(0)
    v = int64(0)
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
            seen[1, r_b & 255] = 1
            seen[2, r_x & 255] = 1
            seen[3, r_sp & 255] = 1
            seen[4, r_h & 255] = 1
            seen[5, r_i & 255] = 1
            seen[6, r_n & 255] = 1
            seen[7, r_z & 255] = 1
            seen[8, r_v & 255] = 1
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
        if stage == 1:  # b = fetch()
            if cells[r_pc + 65536]:
                b = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if b < 0:
                    status = -b
                    break
            else:
                b = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
            cycles += 2
        elif stage == 2:  # ea = fetch()
            if cells[r_pc + 65536]:
                ea = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if ea < 0:
                    status = -ea
                    break
            else:
                ea = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
            cycles += 2
            ea = r_x + ea & 65535
        elif stage == 3:  # hi = fetch()
            if cells[r_pc + 65536]:
                hi = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
            if cells[r_pc + 65536]:
                lo = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
            ea = hi << 8 | lo
        elif stage == 4:  # m = fetch()
            if cells[r_pc + 65536]:
                m = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if m < 0:
                    status = -m
                    break
            else:
                m = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
        elif stage == 5:  # hi = fetch()
            if cells[r_pc + 65536]:
                hi = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
            if cells[r_pc + 65536]:
                lo = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
            v = hi << 8 | lo
        elif stage == 6:  # ea = fetch()
            if cells[r_pc + 65536]:
                ea = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if ea < 0:
                    status = -ea
                    break
            else:
                ea = int64(cells[r_pc])
            cycles += 1
            r_pc = (r_pc + 1) & 0xFFFF
        stage = STAGE_1[op]
        if stage == 0:  # tick(1)
            cycles += 1
        elif stage == 1:  # tick(3)
            cycles += 3
        elif stage == 3:  # tick(2)
            cycles += 2
        elif stage == 4:  # tick(8)
            cycles += 8
        elif stage == 5:  # m = rd(ea)
            at_ = ea
            if cells[at_ + 65536]:
                m = int64(slow_read(at_, 1, start, cycles, cells, book))
                if m < 0:
                    status = -m
                    break
            else:
                m = int64(cells[at_])
            cycles += 1
            cycles += 1
        elif stage == 6:  # m = rd(ea)
            at_ = ea
            if cells[at_ + 65536]:
                m = int64(slow_read(at_, 1, start, cycles, cells, book))
                if m < 0:
                    status = -m
                    break
            else:
                m = int64(cells[at_])
            cycles += 1
        elif stage == 7:  # hi = rd(ea)
            at_ = ea
            if cells[at_ + 65536]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 1
            at_ = ea + 1 & 65535
            if cells[at_ + 65536]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 1
            v = hi << 8 | lo
        stage = STAGE_2[op]
        if stage == 1:  # m = A
            m = r_a
        elif stage == 2:  # m = B
            m = r_b
        elif stage == 3:  # a = A
            a = r_a
        elif stage == 4:  # v = SP
            v = r_sp
        elif stage == 5:  # a = B
            a = r_b
        elif stage == 6:  # v = X
            v = r_x
        stage = STAGE_3[op]
        if stage == 1:  # f = A
            f = r_a
            r_h = f >> 5 & 1
            r_i = f >> 4 & 1
            r_n = f >> 3 & 1
            r_z = f >> 2 & 1
            r_v = f >> 1 & 1
            r_c = f & 1
        elif stage == 2:  # A = 0xC0 | (H << 5) | (I << 4) | (N << 3) | (Z << 2) | (V << 1) | C
            r_a = 192 | r_h << 5 | r_i << 4 | r_n << 3 | r_z << 2 | r_v << 1 | r_c
        elif stage == 3:  # X = (X + 1) & 0xFFFF
            r_x = r_x + 1 & 65535
            r_z = 1 if r_x == 0 else 0
        elif stage == 4:  # X = (X - 1) & 0xFFFF
            r_x = r_x - 1 & 65535
            r_z = 1 if r_x == 0 else 0
        elif stage == 5:  # V = 0
            r_v = 0
        elif stage == 6:  # V = 1
            r_v = 1
        elif stage == 7:  # C = 0
            r_c = 0
        elif stage == 8:  # C = 1
            r_c = 1
        elif stage == 9:  # I = 0
            r_i = 0
        elif stage == 10:  # I = 1
            r_i = 1
        elif stage == 11:  # a = A
            a = r_a
            m = r_b
            s = a - m
            r = s & 255
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = ((a ^ m) & (a ^ s)) >> 7 & 1
            r_c = s >> 8 & 1
            r_a = r
        elif stage == 12:  # a = A
            a = r_a
            m = r_b
            s = a - m
            r = s & 255
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = ((a ^ m) & (a ^ s)) >> 7 & 1
            r_c = s >> 8 & 1
        elif stage == 13:  # r = A
            r = r_a
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = 0
            r_b = r
        elif stage == 14:  # r = B
            r = r_b
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = 0
            r_a = r
        elif stage == 15:  # g = C | gt(A, 0x99)
            g = r_c | (1 if r_a > 153 else 0)
            s = r_a + 6 * (r_h | (1 if r_a & 15 > 9 else 0)) + 96 * g
            r = s & 255
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = 0
            r_c = g
            r_a = r
        elif stage == 16:  # a = A
            a = r_a
            m = r_b
            s = a + m
            r_h = (a ^ m ^ s) >> 4 & 1
            r = s & 255
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = ((a ^ s) & (m ^ s)) >> 7 & 1
            r_c = s >> 8 & 1
            r_a = r
        elif stage == 17:  # t = 1
            t = 1
        elif stage == 18:  # t = (C | Z) ^ 1
            t = (r_c | r_z) ^ 1
        elif stage == 19:  # t = C | Z
            t = r_c | r_z
        elif stage == 20:  # t = C ^ 1
            t = r_c ^ 1
        elif stage == 21:  # t = C
            t = r_c
        elif stage == 22:  # t = Z ^ 1
            t = r_z ^ 1
        elif stage == 23:  # t = Z
            t = r_z
        elif stage == 24:  # t = V ^ 1
            t = r_v ^ 1
        elif stage == 25:  # t = V
            t = r_v
        elif stage == 26:  # t = N ^ 1
            t = r_n ^ 1
        elif stage == 27:  # t = N
            t = r_n
        elif stage == 28:  # t = N ^ V ^ 1
            t = r_n ^ r_v ^ 1
        elif stage == 29:  # t = N ^ V
            t = r_n ^ r_v
        elif stage == 30:  # t = (Z | (N ^ V)) ^ 1
            t = (r_z | r_n ^ r_v) ^ 1
        elif stage == 31:  # t = Z | (N ^ V)
            t = r_z | r_n ^ r_v
        elif stage == 32:  # X = (SP + 1) & 0xFFFF
            r_x = r_sp + 1 & 65535
        elif stage == 33:  # SP = (SP + 1) & 0xFFFF
            r_sp = r_sp + 1 & 65535
        elif stage == 34:  # r = rd((SP + 1) & 0xFFFF)
            at_ = r_sp + 1 & 65535
            if cells[at_ + 65536]:
                r = int64(slow_read(at_, 1, start, cycles, cells, book))
                if r < 0:
                    status = -r
                    break
            else:
                r = int64(cells[at_])
            cycles += 1
            r_sp = r_sp + 1 & 65535
        elif stage == 35:  # SP = (SP - 1) & 0xFFFF
            r_sp = r_sp - 1 & 65535
        elif stage == 36:  # SP = (X - 1) & 0xFFFF
            r_sp = r_x - 1 & 65535
        elif stage == 37:  # wr(SP, A)
            at_ = r_sp
            w_ = r_a
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            r_sp = r_sp - 1 & 65535
        elif stage == 38:  # wr(SP, B)
            at_ = r_sp
            w_ = r_b
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            r_sp = r_sp - 1 & 65535
        elif stage == 39:  # hi = rd((SP + 1) & 0xFFFF)
            at_ = r_sp + 1 & 65535
            if cells[at_ + 65536]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 1
            at_ = r_sp + 2 & 65535
            if cells[at_ + 65536]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 1
            r_sp = r_sp + 2 & 65535
            r_pc = hi << 8 | lo
        elif stage == 40:  # f = rd((SP + 1) & 0xFFFF)
            at_ = r_sp + 1 & 65535
            if cells[at_ + 65536]:
                f = int64(slow_read(at_, 1, start, cycles, cells, book))
                if f < 0:
                    status = -f
                    break
            else:
                f = int64(cells[at_])
            cycles += 1
            at_ = r_sp + 2 & 65535
            if cells[at_ + 65536]:
                b = int64(slow_read(at_, 1, start, cycles, cells, book))
                if b < 0:
                    status = -b
                    break
            else:
                b = int64(cells[at_])
            cycles += 1
            at_ = r_sp + 3 & 65535
            if cells[at_ + 65536]:
                a = int64(slow_read(at_, 1, start, cycles, cells, book))
                if a < 0:
                    status = -a
                    break
            else:
                a = int64(cells[at_])
            cycles += 1
            at_ = r_sp + 4 & 65535
            if cells[at_ + 65536]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 1
            at_ = r_sp + 5 & 65535
            if cells[at_ + 65536]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 1
            at_ = r_sp + 6 & 65535
            if cells[at_ + 65536]:
                r = int64(slow_read(at_, 1, start, cycles, cells, book))
                if r < 0:
                    status = -r
                    break
            else:
                r = int64(cells[at_])
            cycles += 1
            at_ = r_sp + 7 & 65535
            if cells[at_ + 65536]:
                m = int64(slow_read(at_, 1, start, cycles, cells, book))
                if m < 0:
                    status = -m
                    break
            else:
                m = int64(cells[at_])
            cycles += 1
            r_sp = r_sp + 7 & 65535
            r_b = b
            r_a = a
            r_x = hi << 8 | lo
            r_pc = r << 8 | m
            r_h = f >> 5 & 1
            r_i = f >> 4 & 1
            r_n = f >> 3 & 1
            r_z = f >> 2 & 1
            r_v = f >> 1 & 1
            r_c = f & 1
        elif stage == 41:  # wr((SP - 0) & 0xFFFF, PC & 0xFF)
            at_ = r_sp - 0 & 65535
            w_ = r_pc & 255
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = r_sp - 1 & 65535
            w_ = r_pc >> 8
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = r_sp - 2 & 65535
            w_ = r_x & 255
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = r_sp - 3 & 65535
            w_ = r_x >> 8
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = r_sp - 4 & 65535
            w_ = r_a
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = r_sp - 5 & 65535
            w_ = r_b
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = r_sp - 6 & 65535
            w_ = 192 | r_h << 5 | r_i << 4 | r_n << 3 | r_z << 2 | r_v << 1 | r_c
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = 65530
            if cells[at_ + 65536]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 1
            at_ = 65531
            if cells[at_ + 65536]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 1
            r_sp = r_sp - 7 & 65535
            r_i = 1
            r_pc = hi << 8 | lo
        elif stage == 42:  # s = 0 - m
            s = 0 - m
            r = s & 255
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = 1 if r ^ 128 == 0 else 0
            r_c = s >> 8 & 1
        elif stage == 43:  # r = m ^ 0xFF
            r = m ^ 255
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = 0
            r_c = 1
        elif stage == 44:  # r = m >> 1
            r = m >> 1
            r_c = m & 1
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = r_n ^ r_c
        elif stage == 45:  # r = (m >> 1) | (C << 7)
            r = m >> 1 | r_c << 7
            r_c = m & 1
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = r_n ^ r_c
        elif stage == 46:  # r = (m >> 1) | (m & 0x80)
            r = m >> 1 | m & 128
            r_c = m & 1
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = r_n ^ r_c
        elif stage == 47:  # r = (m << 1) & 0xFF
            r = m << 1 & 255
            r_c = m >> 7 & 1
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = r_n ^ r_c
        elif stage == 48:  # r = ((m << 1) | C) & 0xFF
            r = (m << 1 | r_c) & 255
            r_c = m >> 7 & 1
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = r_n ^ r_c
        elif stage == 49:  # r = (m - 1) & 0xFF
            r = m - 1 & 255
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = 1 if m ^ 128 == 0 else 0
        elif stage == 50:  # r = (m + 1) & 0xFF
            r = m + 1 & 255
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = 1 if m ^ 127 == 0 else 0
        elif stage == 51:  # r = m
            r = m
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = 0
            r_c = 0
        elif stage == 52:  # r = 0
            r = 0
            r_n = 0
            r_z = 1
            r_v = 0
            r_c = 0
        elif stage == 53:  # PC = ea
            r_pc = ea
        elif stage == 54:  # s = a - m
            s = a - m
            r = s & 255
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = ((a ^ m) & (a ^ s)) >> 7 & 1
            r_c = s >> 8 & 1
        elif stage == 55:  # s = a - m - C
            s = a - m - r_c
            r = s & 255
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = ((a ^ m) & (a ^ s)) >> 7 & 1
            r_c = s >> 8 & 1
        elif stage == 56:  # r = a & m
            r = a & m
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = 0
        elif stage == 57:  # r = m
            r = m
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = 0
        elif stage == 58:  # r = a ^ m
            r = a ^ m
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = 0
        elif stage == 59:  # s = a + m + C
            s = a + m + r_c
            r_h = (a ^ m ^ s) >> 4 & 1
            r = s & 255
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = ((a ^ s) & (m ^ s)) >> 7 & 1
            r_c = s >> 8 & 1
        elif stage == 60:  # r = a | m
            r = a | m
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = 0
        elif stage == 61:  # s = a + m
            s = a + m
            r_h = (a ^ m ^ s) >> 4 & 1
            r = s & 255
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = ((a ^ s) & (m ^ s)) >> 7 & 1
            r_c = s >> 8 & 1
        elif stage == 62:  # s = (X >> 8) - (v >> 8)
            s = (r_x >> 8) - (v >> 8)
            r_n = s >> 7 & 1
            r_v = ((r_x ^ v) & (r_x ^ s << 8)) >> 15 & 1
            r_z = 1 if r_x ^ v == 0 else 0
        elif stage == 63:  # wr(SP, PC & 0xFF)
            at_ = r_sp
            w_ = r_pc & 255
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = r_sp - 1 & 65535
            w_ = r_pc >> 8
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            r_sp = r_sp - 2 & 65535
            cycles += 2
            r_pc = r_pc + b - ((b & 128) << 1) & 65535
        elif stage == 64:  # N = bit(v, 15)
            r_n = v >> 15 & 1
            r_z = 1 if v == 0 else 0
            r_v = 0
        elif stage == 65:  # r = a
            r = a
            r_n = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_v = 0
        elif stage == 66:  # wr(SP, PC & 0xFF)
            at_ = r_sp
            w_ = r_pc & 255
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = r_sp - 1 & 65535
            w_ = r_pc >> 8
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            r_sp = r_sp - 2 & 65535
            cycles += 2
            r_pc = ea
        elif stage == 67:  # wr(SP, PC & 0xFF)
            at_ = r_sp
            w_ = r_pc & 255
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = r_sp - 1 & 65535
            w_ = r_pc >> 8
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            r_sp = r_sp - 2 & 65535
            cycles += 3
            r_pc = ea
        stage = STAGE_4[op]
        if stage == 1:  # if t:
            if t:
                r_pc = r_pc + b - ((b & 128) << 1) & 65535
        elif stage == 2:  # A = r
            r_a = r
        elif stage == 3:  # B = r
            r_b = r
        elif stage == 4:  # wr(ea, r)
            at_ = ea
            w_ = r
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
        elif stage == 5:  # tick(1)
            cycles += 1
        elif stage == 6:  # SP = v
            r_sp = v
        elif stage == 7:  # wr(ea, v >> 8)
            at_ = ea
            w_ = v >> 8
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
            at_ = ea + 1 & 65535
            w_ = v & 255
            if cells[at_ + 65536]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 131072] = 1
            cycles += 1
        elif stage == 8:  # X = v
            r_x = v
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
    regs[1] = r_b
    regs[2] = r_x
    regs[3] = r_sp
    regs[4] = r_h
    regs[5] = r_i
    regs[6] = r_n
    regs[7] = r_z
    regs[8] = r_v
    regs[9] = r_c
    regs[10] = r_pc
    book[16] = unknown
    book[0] = left
    book[2] = cycles
    return status

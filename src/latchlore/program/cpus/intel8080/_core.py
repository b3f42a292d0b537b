"""The compiled core of the 8080.  Written by scripts/generate_cores from its table: do not edit.

`run` follows the contract of `_core.py`; the numbers of stops and control cells are defined there.
"""
# ruff: noqa
# fmt: off
# mypy: ignore-errors

import numpy as np
from numba import njit
from numpy import int64

from latchlore.program._core import slow_read, slow_write

STAGE_0 = np.array([0, 1, 2, 2, 3, 3, 4, 0, -1, 2, 2, 2, 5, 5, 4, 0, -1, 1, 6, 6, 7, 7, 4, 0, -1, 6, 6, 6, 8, 8, 4, 0, -1, 1, 1, 9, 10, 10, 4, 0, -1, 9, 1, 9, 11, 11, 4, 0, -1, 1, 1, 12, 13, 13, 4, 0, -1, 12, 1, 12, 14, 14, 4, 0, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 0, 14, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 13, 14, 3, 5, 7, 8, 10, 11, 13, 14, 15, 16, 1, 1, 17, 2, 4, 18, 15, 0, 1, -1, 17, 17, 4, 19, 15, 16, 1, 4, 17, 6, 4, 20, 15, -1, 1, 4, 17, -1, 4, 21, 15, 16, 1, 16, 17, 9, 4, 22, 15, 9, 1, 0, 17, -1, 4, 23, 15, 16, 1, 0, 17, 24, 4, 25, 15, 9, 1, 0, 17, -1, 4, 26], dtype=np.int16)
STAGE_1 = np.array([0, 0, 0, 1, 2, 3, 4, 5, -1, 6, 7, 8, 2, 3, 4, 9, -1, 0, 0, 1, 2, 3, 4, 10, -1, 6, 7, 8, 2, 3, 4, 11, -1, 0, 12, 1, 2, 3, 4, 13, -1, 6, 14, 8, 2, 3, 4, 15, -1, 0, 0, 1, 16, 17, 4, 18, -1, 6, 7, 8, 2, 3, 4, 19, 20, 20, 20, 20, 20, 20, 4, 20, 20, 20, 20, 20, 20, 20, 4, 20, 20, 20, 20, 20, 20, 20, 4, 20, 20, 20, 20, 20, 20, 20, 4, 20, 20, 20, 20, 20, 20, 20, 4, 20, 20, 20, 20, 20, 20, 20, 4, 20, 4, 4, 4, 4, 4, 4, 21, 4, 20, 20, 20, 20, 20, 20, 4, 20, 22, 22, 22, 22, 22, 22, 22, 22, 23, 23, 23, 23, 23, 23, 23, 23, 24, 24, 24, 24, 24, 24, 24, 24, 25, 25, 25, 25, 25, 25, 25, 25, 26, 26, 26, 26, 26, 26, 26, 26, 27, 27, 27, 27, 27, 27, 27, 27, 28, 28, 28, 28, 28, 28, 28, 28, 29, 29, 29, 29, 29, 29, 29, 29, 30, 31, 30, 32, 30, 33, 22, 34, 35, 32, 35, -1, 35, 32, 23, 34, 36, 31, 36, 37, 36, 33, 24, 34, 38, -1, 38, 39, 38, -1, 25, 34, 40, 31, 40, 41, 40, 33, 26, 34, 42, 34, 42, 43, 42, -1, 27, 34, 44, 31, 44, 45, 44, 33, 28, 34, 46, 33, 46, 47, 46, -1, 29, 34], dtype=np.int16)
STAGE_2 = np.array([0, 1, 2, 1, 3, 3, 3, 0, -1, 4, 5, 1, 6, 6, 6, 0, -1, 7, 2, 7, 8, 8, 8, 0, -1, 4, 5, 7, 9, 9, 9, 0, -1, 4, 0, 4, 10, 10, 10, 0, -1, 4, 4, 4, 11, 11, 11, 0, -1, 12, 2, 12, 13, 13, 13, 0, -1, 4, 5, 12, 5, 5, 5, 0, 3, 3, 3, 3, 3, 3, 3, 3, 6, 6, 6, 6, 6, 6, 6, 6, 8, 8, 8, 8, 8, 8, 8, 8, 9, 9, 9, 9, 9, 9, 9, 9, 10, 10, 10, 10, 10, 10, 10, 10, 11, 11, 11, 11, 11, 11, 11, 11, 13, 13, 13, 13, 13, 13, 0, 13, 5, 5, 5, 5, 5, 5, 5, 5, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 14, 1, 15, 15, 16, 17, 0, 16, 14, 14, 15, -1, 16, 16, 0, 16, 14, 7, 15, 0, 16, 17, 0, 16, 14, -1, 15, 5, 16, -1, 0, 16, 14, 4, 15, 4, 16, 17, 0, 16, 14, 15, 15, 0, 16, -1, 0, 16, 14, 18, 15, 0, 16, 17, 0, 16, 14, 12, 15, 0, 16, -1, 0, 16], dtype=np.int16)
LOOKED_AT = np.array([0, 0, 7, 6, 2, 2, 0, 1, 0, 102, 6, 6, 4, 4, 0, 1, 0, 0, 25, 24, 8, 8, 0, 8193, 0, 120, 24, 24, 16, 16, 0, 8193, 0, 0, 96, 96, 32, 32, 0, 10241, 0, 96, 0, 96, 64, 64, 0, 1, 0, 0, 1, 128, 96, 96, 96, 0, 0, 224, 0, 128, 1, 1, 0, 8192, 2, 4, 8, 16, 32, 64, 96, 1, 2, 4, 8, 16, 32, 64, 96, 1, 2, 4, 8, 16, 32, 64, 96, 1, 2, 4, 8, 16, 32, 64, 96, 1, 2, 4, 8, 16, 32, 64, 96, 1, 2, 4, 8, 16, 32, 64, 96, 1, 98, 100, 104, 112, 96, 96, 2305843009213693952, 97, 2, 4, 8, 16, 32, 64, 96, 1, 3, 5, 9, 17, 33, 65, 97, 1, 8195, 8197, 8201, 8209, 8225, 8257, 8289, 8193, 3, 5, 9, 17, 33, 65, 97, 1, 8195, 8197, 8201, 8209, 8225, 8257, 8289, 8193, 3, 5, 9, 17, 33, 65, 97, 1, 3, 5, 9, 17, 33, 65, 97, 1, 3, 5, 9, 17, 33, 65, 97, 1, 3, 5, 9, 17, 33, 65, 97, 1, 1152, 128, 1024, 0, 1152, 134, 1, 128, 1152, 128, 1024, 0, 1152, 128, 8193, 128, 8320, 128, 8192, 1, 8320, 152, 1, 128, 8320, 0, 8192, 0, 8320, 0, 8193, 128, 4224, 128, 4096, 224, 4224, 224, 1, 128, 4224, 96, 4096, 120, 4224, 0, 1, 128, 640, 128, 512, 0, 640, 16001, 1, 128, 640, 96, 512, 0, 640, 0, 1, 128], dtype=np.int64)
SET = np.array([0, 6, 0, 6, 7682, 7682, 2, 8193, 0, 8288, 1, 6, 7684, 7684, 4, 8193, 0, 24, 0, 24, 7688, 7688, 8, 8193, 0, 8288, 1, 24, 7696, 7696, 16, 8193, 0, 96, 0, 96, 7712, 7712, 32, 15873, 0, 8288, 96, 96, 7744, 7744, 64, 1, 0, 128, 0, 128, 7680, 7680, 0, 8192, 0, 8288, 1, 128, 7681, 7681, 1, 8192, 2, 2, 2, 2, 2, 2, 2, 2, 4, 4, 4, 4, 4, 4, 4, 4, 8, 8, 8, 8, 8, 8, 8, 8, 16, 16, 16, 16, 16, 16, 16, 16, 32, 32, 32, 32, 32, 32, 32, 32, 64, 64, 64, 64, 64, 64, 64, 64, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15873, 15872, 15872, 15872, 15872, 15872, 15872, 15872, 15872, 0, 134, 0, 0, 0, 128, 15873, 0, 0, 0, 0, 0, 0, 0, 15873, 0, 0, 152, 0, 0, 0, 128, 15873, 0, 0, 0, 0, 1, 0, 0, 15873, 0, 0, 224, 0, 96, 0, 128, 15873, 0, 0, 0, 0, 120, 0, 0, 15873, 0, 0, 16001, 0, 256, 0, 128, 15873, 0, 0, 128, 0, 256, 0, 0, 15872, 0], dtype=np.int64)


@njit(cache=True, nogil=True)
def run(regs, cells, book, watch, seen):
    r_a = int64(regs[0])
    r_b = int64(regs[1])
    r_c = int64(regs[2])
    r_d = int64(regs[3])
    r_e = int64(regs[4])
    r_h = int64(regs[5])
    r_l = int64(regs[6])
    r_sp = int64(regs[7])
    r_ie = int64(regs[8])
    r_s = int64(regs[9])
    r_z = int64(regs[10])
    r_ac = int64(regs[11])
    r_p = int64(regs[12])
    r_cy = int64(regs[13])
    r_pc = int64(regs[14])
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
            seen[2, r_c & 255] = 1
            seen[3, r_d & 255] = 1
            seen[4, r_e & 255] = 1
            seen[5, r_h & 255] = 1
            seen[6, r_l & 255] = 1
            seen[7, r_sp & 255] = 1
            seen[8, r_ie & 255] = 1
            seen[9, r_s & 255] = 1
            seen[10, r_z & 255] = 1
            seen[11, r_ac & 255] = 1
            seen[12, r_p & 255] = 1
            seen[13, r_cy & 255] = 1
            for k_ in range(watch.shape[0]):
                seen[14 + k_, cells[watch[k_]]] = 1
        if cells[r_pc + 131072]:
            op = int64(slow_read(r_pc, 1, start, cycles, cells, book))
            if op < 0:
                status = -op
                break
        else:
            op = int64(cells[r_pc])
        cycles += 4
        r_pc = (r_pc + 1) & 0xFFFF
        if unknown and unknown & LOOKED_AT[op]:
            status = int64(3)
            break
        stage = STAGE_0[op]
        if stage == -1:
            status = int64(4)
            break
        if stage == 1:  # lo = fetch()
            if cells[r_pc + 131072]:
                lo = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[r_pc])
            cycles += 3
            r_pc = (r_pc + 1) & 0xFFFF
            if cells[r_pc + 131072]:
                hi = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[r_pc])
            cycles += 3
            r_pc = (r_pc + 1) & 0xFFFF
            v = hi << 8 | lo
        elif stage == 2:  # v = (B << 8) | C
            v = r_b << 8 | r_c
        elif stage == 3:  # m = B
            m = r_b
        elif stage == 4:  # m = fetch()
            if cells[r_pc + 131072]:
                m = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if m < 0:
                    status = -m
                    break
            else:
                m = int64(cells[r_pc])
            cycles += 3
            r_pc = (r_pc + 1) & 0xFFFF
        elif stage == 5:  # m = C
            m = r_c
        elif stage == 6:  # v = (D << 8) | E
            v = r_d << 8 | r_e
        elif stage == 7:  # m = D
            m = r_d
        elif stage == 8:  # m = E
            m = r_e
        elif stage == 9:  # v = (H << 8) | L
            v = r_h << 8 | r_l
        elif stage == 10:  # m = H
            m = r_h
        elif stage == 11:  # m = L
            m = r_l
        elif stage == 12:  # v = SP
            v = r_sp
        elif stage == 13:  # m = rd((H << 8) | L)
            at_ = r_h << 8 | r_l
            if cells[at_ + 131072]:
                m = int64(slow_read(at_, 1, start, cycles, cells, book))
                if m < 0:
                    status = -m
                    break
            else:
                m = int64(cells[at_])
            cycles += 3
        elif stage == 14:  # m = A
            m = r_a
        elif stage == 15:  # tick(1)
            cycles += 1
        elif stage == 16:  # lo = rd(SP)
            at_ = r_sp
            if cells[at_ + 131072]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 3
            at_ = r_sp + 1 & 65535
            if cells[at_ + 131072]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 3
            v = hi << 8 | lo
        elif stage == 17:  # tick(1)
            cycles += 1
            if cells[r_pc + 131072]:
                lo = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[r_pc])
            cycles += 3
            r_pc = (r_pc + 1) & 0xFFFF
            if cells[r_pc + 131072]:
                hi = int64(slow_read(r_pc, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[r_pc])
            cycles += 3
            r_pc = (r_pc + 1) & 0xFFFF
            v = hi << 8 | lo
        elif stage == 18:  # v = 0
            v = 0
        elif stage == 19:  # v = 8
            v = 8
        elif stage == 20:  # v = 16
            v = 16
        elif stage == 21:  # v = 24
            v = 24
        elif stage == 22:  # v = 32
            v = 32
        elif stage == 23:  # v = 40
            v = 40
        elif stage == 24:  # v = (A << 8) | 2 | (S << 7) | (Z << 6) | (AC << 4) | (P << 2) | CY
            v = r_a << 8 | 2 | r_s << 7 | r_z << 6 | r_ac << 4 | r_p << 2 | r_cy
        elif stage == 25:  # v = 48
            v = 48
        elif stage == 26:  # v = 56
            v = 56
        stage = STAGE_1[op]
        if stage == 1:  # tick(1)
            cycles += 1
            v = v + 1 & 65535
        elif stage == 2:  # tick(1)
            cycles += 1
            r = m + 1 & 255
            r_ac = 1 if r & 15 == 0 else 0
            r_s = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_p = 38505 >> ((r ^ r >> 4) & 15) & 1
        elif stage == 3:  # tick(1)
            cycles += 1
            r = m - 1 & 255
            r_ac = (1 if r & 15 ^ 15 == 0 else 0) ^ 1
            r_s = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_p = 38505 >> ((r ^ r >> 4) & 15) & 1
        elif stage == 4:  # r = m
            r = m
        elif stage == 5:  # CY = bit(A, 7)
            r_cy = r_a >> 7 & 1
            r_a = (r_a << 1 | r_a >> 7) & 255
        elif stage == 6:  # tick(6)
            cycles += 6
            s = (r_h << 8 | r_l) + v
            r_cy = s >> 16 & 1
            v = s & 65535
        elif stage == 7:  # r = rd(v)
            at_ = v
            if cells[at_ + 131072]:
                r = int64(slow_read(at_, 1, start, cycles, cells, book))
                if r < 0:
                    status = -r
                    break
            else:
                r = int64(cells[at_])
            cycles += 3
        elif stage == 8:  # tick(1)
            cycles += 1
            v = v - 1 & 65535
        elif stage == 9:  # CY = A & 1
            r_cy = r_a & 1
            r_a = (r_a >> 1 | r_a << 7) & 255
        elif stage == 10:  # r = ((A << 1) | CY) & 0xFF
            r = (r_a << 1 | r_cy) & 255
            r_cy = r_a >> 7 & 1
            r_a = r
        elif stage == 11:  # r = (A >> 1) | (CY << 7)
            r = r_a >> 1 | r_cy << 7
            r_cy = r_a & 1
            r_a = r
        elif stage == 12:  # wr(v, L)
            at_ = v
            w_ = r_l
            if cells[at_ + 131072]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 262144] = 1
            cycles += 3
            at_ = v + 1 & 65535
            w_ = r_h
            if cells[at_ + 131072]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 262144] = 1
            cycles += 3
        elif stage == 13:  # g = CY | gt(A, 0x99)
            g = r_cy | (1 if r_a > 153 else 0)
            m = 6 * (r_ac | (1 if r_a & 15 > 9 else 0)) + 96 * g
            s = r_a + m
            r = s & 255
            r_ac = (r_a ^ m ^ s) >> 4 & 1
            r_cy = g
            r_s = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_p = 38505 >> ((r ^ r >> 4) & 15) & 1
            r_a = r
        elif stage == 14:  # lo = rd(v)
            at_ = v
            if cells[at_ + 131072]:
                lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                if lo < 0:
                    status = -lo
                    break
            else:
                lo = int64(cells[at_])
            cycles += 3
            at_ = v + 1 & 65535
            if cells[at_ + 131072]:
                hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                if hi < 0:
                    status = -hi
                    break
            else:
                hi = int64(cells[at_])
            cycles += 3
            v = hi << 8 | lo
        elif stage == 15:  # A = A ^ 0xFF
            r_a = r_a ^ 255
        elif stage == 16:  # r = (m + 1) & 0xFF
            r = m + 1 & 255
            r_ac = 1 if r & 15 == 0 else 0
            r_s = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_p = 38505 >> ((r ^ r >> 4) & 15) & 1
        elif stage == 17:  # r = (m - 1) & 0xFF
            r = m - 1 & 255
            r_ac = (1 if r & 15 ^ 15 == 0 else 0) ^ 1
            r_s = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_p = 38505 >> ((r ^ r >> 4) & 15) & 1
        elif stage == 18:  # CY = 1
            r_cy = 1
        elif stage == 19:  # CY = CY ^ 1
            r_cy = r_cy ^ 1
        elif stage == 20:  # tick(1)
            cycles += 1
            r = m
        elif stage == 21:  # tick(3)
            cycles += 3
        elif stage == 22:  # s = A + m
            s = r_a + m
            r = s & 255
            r_ac = (r_a ^ m ^ s) >> 4 & 1
            r_cy = s >> 8 & 1
            r_s = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_p = 38505 >> ((r ^ r >> 4) & 15) & 1
            r_a = r
        elif stage == 23:  # s = A + m + CY
            s = r_a + m + r_cy
            r = s & 255
            r_ac = (r_a ^ m ^ s) >> 4 & 1
            r_cy = s >> 8 & 1
            r_s = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_p = 38505 >> ((r ^ r >> 4) & 15) & 1
            r_a = r
        elif stage == 24:  # s = A - m
            s = r_a - m
            r = s & 255
            r_ac = (r_a ^ m ^ s) >> 4 & 1 ^ 1
            r_cy = s >> 8 & 1
            r_s = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_p = 38505 >> ((r ^ r >> 4) & 15) & 1
            r_a = r
        elif stage == 25:  # s = A - m - CY
            s = r_a - m - r_cy
            r = s & 255
            r_ac = (r_a ^ m ^ s) >> 4 & 1 ^ 1
            r_cy = s >> 8 & 1
            r_s = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_p = 38505 >> ((r ^ r >> 4) & 15) & 1
            r_a = r
        elif stage == 26:  # r = A & m
            r = r_a & m
            r_ac = (r_a | m) >> 3 & 1
            r_cy = 0
            r_s = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_p = 38505 >> ((r ^ r >> 4) & 15) & 1
            r_a = r
        elif stage == 27:  # r = A ^ m
            r = r_a ^ m
            r_ac = 0
            r_cy = 0
            r_s = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_p = 38505 >> ((r ^ r >> 4) & 15) & 1
            r_a = r
        elif stage == 28:  # r = A | m
            r = r_a | m
            r_ac = 0
            r_cy = 0
            r_s = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_p = 38505 >> ((r ^ r >> 4) & 15) & 1
            r_a = r
        elif stage == 29:  # s = A - m
            s = r_a - m
            r = s & 255
            r_ac = (r_a ^ m ^ s) >> 4 & 1 ^ 1
            r_cy = s >> 8 & 1
            r_s = r >> 7 & 1
            r_z = 1 if r == 0 else 0
            r_p = 38505 >> ((r ^ r >> 4) & 15) & 1
        elif stage == 30:  # t = Z ^ 1
            t = r_z ^ 1
        elif stage == 31:  # SP = (SP + 2) & 0xFFFF
            r_sp = r_sp + 2 & 65535
        elif stage == 32:  # t = 1
            t = 1
        elif stage == 33:  # tick(1)
            cycles += 1
        elif stage == 34:  # tick(1)
            cycles += 1
            t = 1
        elif stage == 35:  # t = Z
            t = r_z
        elif stage == 36:  # t = CY ^ 1
            t = r_cy ^ 1
        elif stage == 37:  # out(m, A)
            at_ = (m) + 65536
            w_ = r_a
            if cells[at_ + 131072]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 262144] = 1
            cycles += 3
        elif stage == 38:  # t = CY
            t = r_cy
        elif stage == 39:  # r = inp(m)
            at_ = (m) + 65536
            if cells[at_ + 131072]:
                r = int64(slow_read(at_, 1, start, cycles, cells, book))
                if r < 0:
                    status = -r
                    break
            else:
                r = int64(cells[at_])
            cycles += 3
        elif stage == 40:  # t = P ^ 1
            t = r_p ^ 1
        elif stage == 41:  # tick(2)
            cycles += 2
            at_ = r_sp + 1 & 65535
            w_ = r_h
            if cells[at_ + 131072]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 262144] = 1
            cycles += 3
            at_ = r_sp
            w_ = r_l
            if cells[at_ + 131072]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 262144] = 1
            cycles += 3
        elif stage == 42:  # t = P
            t = r_p
        elif stage == 43:  # r = D
            r = r_d
            r_d = r_h
            r_h = r
            r = r_e
            r_e = r_l
            r_l = r
        elif stage == 44:  # t = S ^ 1
            t = r_s ^ 1
        elif stage == 45:  # IE = 0
            r_ie = 0
        elif stage == 46:  # t = S
            t = r_s
        elif stage == 47:  # IE = 1
            r_ie = 1
        stage = STAGE_2[op]
        if stage == 1:  # B = v >> 8
            r_b = v >> 8
            r_c = v & 255
        elif stage == 2:  # wr(v, A)
            at_ = v
            w_ = r_a
            if cells[at_ + 131072]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 262144] = 1
            cycles += 3
        elif stage == 3:  # B = r
            r_b = r
        elif stage == 4:  # H = v >> 8
            r_h = v >> 8
            r_l = v & 255
        elif stage == 5:  # A = r
            r_a = r
        elif stage == 6:  # C = r
            r_c = r
        elif stage == 7:  # D = v >> 8
            r_d = v >> 8
            r_e = v & 255
        elif stage == 8:  # D = r
            r_d = r
        elif stage == 9:  # E = r
            r_e = r
        elif stage == 10:  # H = r
            r_h = r
        elif stage == 11:  # L = r
            r_l = r
        elif stage == 12:  # SP = v
            r_sp = v
        elif stage == 13:  # wr((H << 8) | L, r)
            at_ = r_h << 8 | r_l
            w_ = r
            if cells[at_ + 131072]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 262144] = 1
            cycles += 3
        elif stage == 14:  # if t:
            if t:
                at_ = r_sp
                if cells[at_ + 131072]:
                    lo = int64(slow_read(at_, 1, start, cycles, cells, book))
                    if lo < 0:
                        status = -lo
                        break
                else:
                    lo = int64(cells[at_])
                cycles += 3
                at_ = r_sp + 1 & 65535
                if cells[at_ + 131072]:
                    hi = int64(slow_read(at_, 1, start, cycles, cells, book))
                    if hi < 0:
                        status = -hi
                        break
                else:
                    hi = int64(cells[at_])
                cycles += 3
                r_sp = r_sp + 2 & 65535
                r_pc = hi << 8 | lo
        elif stage == 15:  # if t:
            if t:
                r_pc = v
        elif stage == 16:  # if t:
            if t:
                at_ = r_sp - 1 & 65535
                w_ = r_pc >> 8
                if cells[at_ + 131072]:
                    slow_write(at_, w_, start, cycles, cells, book)
                else:
                    cells[at_] = w_
                cells[at_ + 262144] = 1
                cycles += 3
                at_ = r_sp - 2 & 65535
                w_ = r_pc & 255
                if cells[at_ + 131072]:
                    slow_write(at_, w_, start, cycles, cells, book)
                else:
                    cells[at_] = w_
                cells[at_ + 262144] = 1
                cycles += 3
                r_sp = r_sp - 2 & 65535
                r_pc = v
        elif stage == 17:  # wr((SP - 1) & 0xFFFF, v >> 8)
            at_ = r_sp - 1 & 65535
            w_ = v >> 8
            if cells[at_ + 131072]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 262144] = 1
            cycles += 3
            at_ = r_sp - 2 & 65535
            w_ = v & 255
            if cells[at_ + 131072]:
                slow_write(at_, w_, start, cycles, cells, book)
            else:
                cells[at_] = w_
            cells[at_ + 262144] = 1
            cycles += 3
            r_sp = r_sp - 2 & 65535
        elif stage == 18:  # A = v >> 8
            r_a = v >> 8
            r_s = v >> 7 & 1
            r_z = v >> 6 & 1
            r_ac = v >> 4 & 1
            r_p = v >> 2 & 1
            r_cy = v & 1
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
    regs[2] = r_c
    regs[3] = r_d
    regs[4] = r_e
    regs[5] = r_h
    regs[6] = r_l
    regs[7] = r_sp
    regs[8] = r_ie
    regs[9] = r_s
    regs[10] = r_z
    regs[11] = r_ac
    regs[12] = r_p
    regs[13] = r_cy
    regs[14] = r_pc
    book[16] = unknown
    book[0] = left
    book[2] = cycles
    return status

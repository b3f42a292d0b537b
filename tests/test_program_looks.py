"""When a program looks again after a byte, against cycles counted by hand from the MCS6500 programming manual.

MOS Technology, *MCS6500 Microcomputer Family Programming Manual*, 2nd edition, January 1976, appendix B: LDA # 2,
LDX # 2, STA abs 4 (the write is its last cycle), BIT abs 4 (the read is its last), JSR 6, RTS 6, DEX 2, branch 2, 3
where taken.
"""

from __future__ import annotations

from typing import Literal

import pytest

from latchlore.base import AddressSet, CycleRange, InputKind, SignalRole
from latchlore.program import Image, Looks, explore, looks_after, run, tidy

REGISTERS = AddressSet.of_range(0xC800, 0xC803)
BUSY = 7


def role(signal: str, address: int, direction: Literal["read", "write"], bit: int | None) -> SignalRole:
    """One bit, or a whole register."""
    return SignalRole(signal, InputKind.MEMORY, AddressSet.of((address,)), direction, bit)


DATA, STROBE = role("DATA", 0xC800, "write", None), role("STROBE", 0xC802, "write", 0)
STATUS = role("BUSY", 0xC801, "read", BUSY)


def looked(code: str, *roles: SignalRole) -> Looks:
    """The looks at the busy bit of a routine at E000."""
    tree = tidy(explore([Image.from_bytes(bytes.fromhex(code), 0xE000, "rom.bin")], 0xE000, REGISTERS))
    return looks_after(tree, roles, STATUS)


STROBED = "8D00C8 A900 8D02C8 A901 8D02C8"  # STA C800; LDA #0; STA C802; LDA #1; STA C802


@pytest.mark.parametrize(
    ("code", "first", "blind", "places", "again"),
    [
        # ... BIT C801 at E00D: from the write of 0 on 2 + 4 to the write of 1, and 4 to the read
        (f"{STROBED} 2C01C8 30FB 60", CycleRange(10, 10), None, (0xE00D,), None),
        # X: BIT C801; BMI X, then the byte twice, unseen: 2 + 4 to the pulse's end, 4 + 2 + 4 to the next;
        # entered anew at once the look comes 2 + 4 and 4 cycles behind the strobe, the return not counted
        (f"2C01C8 30FB {STROBED} {STROBED} 60", None, CycleRange(16, 16), (), 10),
        # a read of the status whose value nobody looks at is no look: LDA C801; LDA #41; BIT C801
        (f"{STROBED} AD01C8 A941 2C01C8 30FB 60", CycleRange(16, 16), None, (0xE012,), None),
        # through a subroutine and back to the start: JMP 3, BIT 4 behind 2 + 4
        (f"2C01C8 30FB {STROBED} 4C00E0", CycleRange(13, 13), None, (0xE000,), None),
    ],
)
def test_looks_after(
    code: str, first: CycleRange | None, blind: CycleRange | None, places: tuple[int, ...], again: int | None
) -> None:
    """Cycles to the first look that matters, to a strobe without one, and to that of a routine entered anew."""
    assert looked(code, DATA, STROBE, STATUS) == Looks(first, blind, places, again)


def test_looks_after_data() -> None:
    """Where no strobe is known the write of the data counts: STA C800; BIT C801 are 4 cycles from write to read."""
    assert looked("8D00C8 2C01C8 30FB 60", DATA, STATUS).first == CycleRange(4, 4)


def test_exact_reads() -> None:
    """A run tells a device when it is read on the bus: BIT abs reads in its 4th cycle, (zp),Y in its 5th or 6th.

    The same manual, appendix A: five cycles, one more where the address crosses a page.
    """
    asked: list[int] = []

    def read(_: int, cycle: int) -> int:
        asked.append(cycle)
        return 0

    code = "2C01C8 A000 B110 A002 B110 60"  # BIT C801; LDY #0; LDA (10),Y; LDY #2; LDA (10),Y; RTS
    image = Image.from_bytes(bytes.fromhex(code), 0xE000, "rom.bin")
    memory = {0x10: 0xFF, 0x11: 0xC7}
    done = run([image], 0xE000, AddressSet.of((0xC7FF, 0xC801)), memory=memory, read=read, exact=True)
    useful = [access.cycle for access in done.accesses if not access.discarded]
    assert useful == [3, 4 + 2 + 4, 4 + 2 + 5 + 2 + 5]
    assert set(useful) <= set(asked)
    asked.clear()
    run([image], 0xE000, AddressSet.of((0xC7FF, 0xC801)), memory=memory, read=read)
    assert asked[0] == 0

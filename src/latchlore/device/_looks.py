"""What thermal and impact print look like; chosen by eye, no measured colours."""

from __future__ import annotations

from typing import NamedTuple


class Look(NamedTuple):
    """Colours of paper and ink (red, green, blue), and the width in pixels over which a dot's edge fades."""

    paper: tuple[int, int, int]
    ink: tuple[int, int, int]
    softness: float


LOOKS = {
    "thermal": Look((0xF3, 0xF0, 0xE6), (0x2C, 0x2B, 0x44), 1.4),
    "impact": Look((0xFC, 0xFB, 0xF7), (0x1D, 0x1C, 0x20), 0.8),
}

"""Which pin of a ROM or EPROM is which line, by the number of its pins and its size.

The bytewide arrangement of JEDEC Standard 21-C (24 and 28 pins), as the makers' data sheets of 2716, 2732, 2764, 27128
and 27256 show it; no source was at hand as it was typed, so *from memory*.  The tests hold it against the rule of that
standard that a smaller chip in the upper end of a larger socket finds its lines at the same places.
"""

from __future__ import annotations

_DATA_24 = (9, 10, 11, 13, 14, 15, 16, 17)
_DATA_28 = (11, 12, 13, 15, 16, 17, 18, 19)
_LOW_24 = (8, 7, 6, 5, 4, 3, 2, 1, 23, 22)  # A0 to A9
_LOW_28 = (10, 9, 8, 7, 6, 5, 4, 3, 25, 24)

# Number of pins → (pins of A0, A1 ..., pins of D0 to D7).  A chip has as many address lines as its size asks for; of
# the 24-pin chips A11 stands where smaller ones have their programming voltage.
ROM_PINS: dict[int, tuple[tuple[int, ...], tuple[int, ...]]] = {
    24: ((*_LOW_24, 19, 21), _DATA_24),
    28: ((*_LOW_28, 21, 23, 2, 26, 27), _DATA_28),
}

"""Which catalogued memory tells the pins of a ROM or EPROM, by the number of its pins.

Of the bytewide arrangement of JEDEC Standard 21-C (24 and 28 pins) the largest type has every address line, and a
smaller one leaves the upper lines out; *from memory*.  The tests hold it against the rule of that standard that a
smaller chip in the upper end of a larger socket finds its lines at the same places.
"""

from __future__ import annotations

LARGEST_ROM = {24: "2732", 28: "27256"}

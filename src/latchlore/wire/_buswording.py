"""Sentences about bus cycles."""

MANNER = "a bus is either clocked (clock and R/W) or strobed (read and write strobes)"
WIDTHS = "a bus has 1 to 24 address lines and 1 to 8 data lines, not {address} and {data}"
DIRECTION = "of {count} of {num} cycles it cannot be told whether they read or write, or what they reach"
ADDRESS = "of {count} of {num} cycles the address cannot be told whole"
VALUE = "of {count} of {num} cycles the byte cannot be told whole"
NO_CYCLES = "no bus cycle is in the capture: the wrong lines, or too slow to see them"
TOO_SLOW = "sampled every {step}, cycles as short as {period} are barely seen: some may be missing"

"""Date each file of the installed package by its content.

Compiled kernels are kept as long as their source has the same date and size.  Installing gives every file a new date,
which would throw all of them away; a date made from the content keeps them exactly as long as they are right.
"""

from __future__ import annotations

import importlib.util
import os
import zlib
from pathlib import Path

spec = importlib.util.find_spec("latchlore")
assert spec is not None
assert spec.origin is not None
for path in Path(spec.origin).parent.rglob("*.py"):
    date = 10**9 + zlib.crc32(path.read_bytes()) % 10**8
    os.utime(path, (date, date))

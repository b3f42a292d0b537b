"""How kernels that make no arrays are compiled."""

from __future__ import annotations

from functools import partial

from numba import njit

bare = partial(njit, cache=True, _nrt=False)
"""numba's decorator for them: who holds the arrays handed on is then not counted, which can take longer than the work
(reading a VCD file without it: four times as long).  It refuses to compile what makes an array.
"""

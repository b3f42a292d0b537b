"""The program witness: images, processor tables, execution and exploration."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from latchlore.program._bounds import Bounds
from latchlore.program._disassemble import Line, disassemble
from latchlore.program._image import Image

if TYPE_CHECKING:
    from latchlore.program._explore import explore
    from latchlore.program._machine import Access, Run, run

__all__ = ["Access", "Bounds", "Image", "Line", "Run", "disassemble", "explore", "run"]

_LATER = {"Access": "_machine", "Run": "_machine", "explore": "_explore", "run": "_machine"}


def __getattr__(name: str) -> Any:
    """Import what needs the compiler only when it is asked for."""
    if name in _LATER:
        import importlib

        return getattr(importlib.import_module(f"latchlore.program.{_LATER[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")

"""Finds a processor's compiled core, and its twin in plain Python."""

from __future__ import annotations

import importlib
from functools import cache
from types import FunctionType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

Core = Any


@cache
def core_of(name: str) -> Callable[..., int]:
    """The compiled core (see `_core.py` for its contract)."""
    run: Callable[..., int] = importlib.import_module(f"latchlore.program._core_{name.lower()}").run
    return run


@cache
def twin_of(name: str) -> Callable[..., int]:
    """The same source without the compiler."""
    from latchlore.program import _core

    module = importlib.import_module(f"latchlore.program._core_{name.lower()}")

    def plain(function: Any, **names: Any) -> FunctionType:
        inner = getattr(function, "py_func", function)
        return FunctionType(inner.__code__, {**inner.__globals__, **names}, inner.__name__)

    append = plain(_core.append)
    names = {
        "int64": int,
        "slow_read": plain(_core.slow_read, append=append),
        "slow_write": plain(_core.slow_write, append=append),
    }
    return plain(module.run, **names)

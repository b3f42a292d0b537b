"""Finds a processor's compiled core, and its twin in plain Python."""

from __future__ import annotations

import importlib
from functools import cache
from types import FunctionType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable


@cache
def core_of(name: str) -> Callable[..., int]:
    """The compiled core of a processor (see `_core.py` for its contract)."""
    run: Callable[..., int] = _module(name).run
    return run


def _module(name: str) -> Any:
    from latchlore.program._cpu import get_cpu

    return importlib.import_module(f"{get_cpu(name).folder}._core")


@cache
def twin_of(name: str) -> Callable[..., int]:
    """The same source without the compiler."""
    from latchlore.program import _core

    return _plain(_module(name).run, _core)


def plain_core(source: str) -> Callable[..., int]:
    """A core from its source text, without the compiler."""
    from latchlore.program import _core

    scope: dict[str, Any] = {}
    without = source.replace("@njit(cache=True, nogil=True)\n", "")  # text from a string cannot be cached
    exec(compile(without, "<core>", "exec"), scope)
    return _plain(scope["run"], _core)


def _plain(run: Any, shared: Any) -> Callable[..., int]:
    def plain(function: Any, **names: Any) -> FunctionType:
        inner = getattr(function, "py_func", function)
        return FunctionType(inner.__code__, {**inner.__globals__, **names}, inner.__name__)

    slow_write = plain(shared.slow_write)
    inner = plain(run, int64=int, slow_write=slow_write, careful=plain(shared.careful, slow_write=slow_write))

    def views(*arrays: Any) -> int:
        return int(inner(*(memoryview(array) for array in arrays)))  # their elements are plain numbers

    return views

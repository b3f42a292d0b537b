"""A thousand random driver programs: the same comparison as in the quick tests."""

from __future__ import annotations

import importlib.util
import pathlib
import sys
from typing import Any

import pytest


def quick_tests() -> Any:
    """The module of the quick tests."""
    name = "program_random"
    if name not in sys.modules:
        path = pathlib.Path(__file__).parents[1] / "test_program_random.py"
        spec = importlib.util.spec_from_file_location(name, path)
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


@pytest.mark.parametrize("first", range(1000, 2000, 50))
def test_a_thousand_programs(first: int) -> None:
    """Writes, reads, polls, choices, ends and cycles of concrete runs all stand in the graph."""
    compare = quick_tests().compare
    assert [words for seed in range(first, first + 50) if (words := compare(seed))] == []

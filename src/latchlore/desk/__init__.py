"""The local page on which a study is looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from latchlore.desk._app import make_app
    from latchlore.desk._serve import serve

__all__ = ["make_app", "serve"]

_PLACES = {"make_app": "_app", "serve": "_serve"}


def __getattr__(name: str) -> Any:
    """Fetch a name when it is first used: the web libraries are heavy."""
    if name not in _PLACES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"latchlore.desk.{_PLACES[name]}"), name)

"""Templates: where they lie, and what every page of ours may use in them."""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jinja2 import Environment


@cache
def templates(*packages: str) -> Environment:
    """An environment that looks for templates in the named packages, then here.

    Text is escaped everywhere; a name that a template uses and nobody gives is an error.
    """
    from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

    places = [PackageLoader(package, "templates") for package in (*packages, "latchlore.dossier")]
    environment = Environment(
        loader=ChoiceLoader(places), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.globals["shapes"] = shapes()
    return environment


def shapes() -> Any:
    """The drawn marks of witnesses and standings; a page that uses one holds this once."""
    from markupsafe import Markup

    return Markup(look_file("shapes.svg"))


def look_file(name: str) -> str:
    """A file of the shared look: ``look.css`` or ``shapes.svg``."""
    return (resources.files("latchlore.dossier") / "templates" / name).read_text("utf-8")

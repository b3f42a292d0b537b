"""What every test takes for granted."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from starlette.testclient import TestClient

    from latchlore.study import Cache
    from tests.browser import Visit

# Times are measured in scripts/bench alone: a busy machine must not fail a test.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
if "CI" not in os.environ:  # there hypothesis takes a profile of its own, which is untimed too
    settings.load_profile("untimed")


@pytest.fixture(autouse=True)
def _same_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal of 100 columns, whatever the tests are run in."""
    monkeypatch.setenv("COLUMNS", "100")


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Cache:
    """A cache for all tests of a module, so that a program is followed once."""
    from latchlore.study import Cache

    return Cache(tmp_path_factory.mktemp("cache"))


# What a desk needs is loaded inside these: most tests have none.


@pytest.fixture
def visit() -> Iterator[Visit]:
    """A browser with an empty profile of its own."""
    from tests.browser import browsing

    with browsing() as opened:
        yield opened


@pytest.fixture
def demo_study(tmp_path: Path) -> Path:
    """A copy of the demonstration study, for one test alone."""
    from tests.demos import lay_demo

    return lay_demo(tmp_path / "study")


@pytest.fixture
def own_desk(demo_study: Path) -> TestClient:
    """The desk of `demo_study`."""
    from tests.desks import client_of

    return client_of(demo_study)


@pytest.fixture(scope="module")
def shown_desk(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    """The desk of the demonstration study, for tests that change nothing."""
    from tests.demos import lay_demo
    from tests.desks import client_of

    return client_of(lay_demo(tmp_path_factory.mktemp("shown") / "study"))

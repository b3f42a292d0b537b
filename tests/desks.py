"""A desk on a copy of the demonstration study, for the tests of its rooms."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.testclient import TestClient

from latchlore.demo import demo_folder
from latchlore.desk import make_app
from latchlore.dossier import image_loads
from latchlore.study import weigh_study

if TYPE_CHECKING:
    from collections.abc import Iterator

TOKEN = "a-secret-of-the-test"
PORT = 8111
BASE = f"http://127.0.0.1:{PORT}"
OWN = {"origin": BASE}
"""Sent with every form by a browser that shows the desk's own page."""


def lay_demo(folder: Path) -> Path:
    """A copy of the demonstration study in `folder`, which must not be there yet."""
    return Path(shutil.copytree(demo_folder(), folder, ignore=shutil.ignore_patterns("__pycache__", "__init__.py")))


def client_of(study: Path) -> TestClient:
    """A browser on the desk of `study`; addresses begin with /TOKEN/.  The study is weighed when this returns."""
    app = make_app(study, token=TOKEN, weigh=weigh_study, loads=image_loads, port=PORT)
    client = TestClient(app, base_url=BASE, raise_server_exceptions=False)
    wait_weighed(client)
    return client


def wait_weighed(client: TestClient) -> None:
    """Ask until the study has been weighed."""
    while "The study is being weighed" in client.get(f"/{TOKEN}/").text:
        pass


def iter_links(text: str) -> Iterator[str]:
    """The addresses that a page links to within the desk, without those on the page itself."""
    import html
    import re

    for found in re.findall(r'href="([^"#][^"]*)"', text):
        yield html.unescape(found)

"""A desk on a copy of the demonstration study, for the tests of its rooms."""

from __future__ import annotations

import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.testclient import TestClient

from latchlore.desk import make_app
from latchlore.dossier import image_loads
from latchlore.study import weigh_study

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parent.parent
WEIGHED = "import latchlore.cli; latchlore.cli.main()"
TABLE_OF_TESTS = (
    "from tests.marram import marram_table\nimport latchlore.study, latchlore.cli\n"
    "latchlore.study.weigh_study = lambda folder, progress: marram_table()\n"
    "latchlore.cli.main()"
)
"""A desk that shows the tests' table (`tests.marram`) instead of weighing."""

TOKEN = "a-secret-of-the-test"
PORT = 8111
BASE = f"http://127.0.0.1:{PORT}"
OWN = {"origin": BASE}
"""Sent with every form by a browser that shows the desk's own page."""


@contextmanager
def running_desk(study: Path, code: str = WEIGHED, *options: str) -> Iterator[str]:
    """A desk in a process of its own, ended afterwards; its address."""
    command = [sys.executable, "-c", code, "desk", str(study), "--no-browser", *options]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as running:
        assert running.stdout is not None
        try:
            yield running.stdout.readline().split()[-1]
        finally:
            running.terminate()


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

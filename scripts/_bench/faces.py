"""The faces: how long a command takes from its start to its end, and how long a page takes."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from _bench import Row, best_seconds

CODE = "from latchlore.cli import main; main()"


def _command(*arguments: str) -> None:
    """One run in a process of its own; its output is thrown away, any status but a fault is taken."""
    done = subprocess.run([sys.executable, "-c", CODE, *arguments], capture_output=True, check=False)
    assert done.returncode in {0, 4}, done.stderr.decode()


def rows() -> Iterator[Row]:
    """Help, the demonstration weighed again, its dossier, and the desk's first page after that."""
    seconds = best_seconds(lambda: _command("--help"))
    yield Row("faces.help", seconds, "s", goal="under 0.3 s", met=seconds < 0.3)
    with tempfile.TemporaryDirectory() as place:
        study = Path(place) / "study"
        _command("demo", str(study), "--no-desk")
        seconds = best_seconds(lambda: _command("weigh", str(study)), 3)
        yield Row("faces.weigh-demo-again", seconds, "s", goal="under 0.5 s", met=seconds < 0.5)
        seconds = best_seconds(lambda: _command("dossier", str(study), "-o", str(Path(place) / "out")), 3)
        yield Row("faces.dossier-demo", seconds, "s")
        yield _first_page(study)


def _first_page(study: Path) -> Row:
    """The desk's table in-process, once the study is weighed."""
    from starlette.testclient import TestClient

    from latchlore.desk import make_app
    from latchlore.dossier import image_loads
    from latchlore.study import weigh_study

    app = make_app(study, token="bench", weigh=weigh_study, loads=image_loads)
    client = TestClient(app, base_url="http://127.0.0.1")
    assert client.get("/bench/").status_code == 200
    seconds = best_seconds(lambda: client.get("/bench/"))
    return Row("faces.desk-page", seconds, "s", goal="under 0.3 s", met=seconds < 0.3)

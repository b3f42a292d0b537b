"""The command line: what an error, a stop or a closed pipe means to the caller."""

from __future__ import annotations

import json
import os
import re
import shlex
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from latchlore.base import BadInput, Contradiction, Origin, StudyError, UnknownName, Unsupported
from latchlore.cli import run
from latchlore.cli import wording as cli_wording
from latchlore.evidence import Standing, Table, table_to_plain
from tests.marram import marram_table

if TYPE_CHECKING:
    from collections.abc import Callable

HERE = Origin.at_line("study.toml", 3)
COMMANDS = (
    "new",
    "weigh",
    "record",
    "ask",
    "board",
    "program",
    "wire",
    "device",
    "dossier",
    "desk",
    "demo",
    "completion",
)


def _command(*arguments: str, **environ: str) -> subprocess.CompletedProcess[str]:
    """One run of the real command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-c", "from latchlore.cli import main; main()", *arguments],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        env={**os.environ, **environ},
    )


@pytest.fixture
def weighed(monkeypatch: pytest.MonkeyPatch) -> Callable[[object], None]:
    """Let `weigh_study` give this table, or raise this error."""

    def install(result: object) -> None:
        def weigh_study(folder: Path, progress: object) -> object:
            if isinstance(result, BaseException):
                raise result
            return result

        monkeypatch.setattr("latchlore.study.weigh_study", weigh_study)

    return install


def test_help_imports_nothing_heavy() -> None:
    """`--help` names every command and imports none of them, nor numpy, numba, pydantic or the web libraries."""
    code = (
        "import sys\nfrom latchlore.cli import run\nassert run(['--help']) == 0\n"
        "print('LOADED', *sorted(sys.modules), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    loaded = set(done.stderr.partition("LOADED ")[2].split())
    assert not loaded & {
        "numpy",
        "numba",
        "pydantic",
        "jinja2",
        "starlette",
        "PIL",
        "latchlore.base",
        "latchlore.study",
    }
    assert not {f"latchlore.cli._{command}" for command in COMMANDS} & loaded
    assert all(re.search(rf"^  {command} ", done.stdout, re.MULTILINE) for command in COMMANDS)


@pytest.mark.parametrize("command", COMMANDS)
def test_help_of_each_command(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Each command explains itself and its exit statuses."""
    assert run([command, "--help"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "Exit status: 0 all well;" in shown
    assert f"latchlore {command}" in shown


def test_weigh(weighed: Callable[[object], None], capsys: pytest.CaptureFixture[str]) -> None:
    """Contradictions give status 4 and the table; a table without any gives 0."""
    table = marram_table()
    weighed(table)
    assert run(["weigh", "any"]) == 4
    assert "Contradicted (2)" in capsys.readouterr().out
    peaceful = tuple(row for row in table.rows if row.standing is not Standing.CONTRADICTED)
    weighed(Table(table.title, True, peaceful, table.heard))
    assert run(["weigh", "any"]) == 0


def test_weigh_json(weighed: Callable[[object], None], capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    """`--json` prints the plain form in UTF-8, with the same status."""
    weighed(marram_table())
    assert run(["weigh", "any", "--json"]) == 4
    assert json.loads(capsysbinary.readouterr().out.decode("utf-8")) == table_to_plain(marram_table())


@pytest.mark.parametrize(
    ("error", "status", "words"),
    [
        (BadInput(HERE, "no 'title'"), 2, "latchlore: study.toml:3: no 'title'\n"),
        (
            BadInput(HERE, "one", (Origin("b.log"), "two")),
            2,
            "latchlore: study.toml:3: one\nlatchlore: b.log: two\n",
        ),
        (UnknownName("no net 'A'", ["B"]), 3, "latchlore: no net 'A'; known are 'B'\n"),
        (Contradiction("they differ", HERE, Origin("b")), 4, "latchlore: study.toml:3: they differ; but see b\n"),
        (Unsupported(HERE, "a part of 1990"), 5, "latchlore: study.toml:3: a part of 1990\n"),
        (StudyError("something else"), 2, "latchlore: something else\n"),
        (PermissionError(13, "Permission denied", "x/y"), 6, "latchlore: x/y: Permission denied\n"),
        (KeyboardInterrupt(), 130, "latchlore: stopped; nothing was left half done\n"),
        (BadInput(Origin("a\x1b[2Jb"), "bad"), 2, "latchlore: a\\x1b[2Jb: bad\n"),
    ],
)
def test_weigh_wrong(
    error: BaseException,
    status: int,
    words: str,
    weighed: Callable[[object], None],
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Each error has its status and its words, and nothing else is printed."""
    weighed(error)
    assert run(["weigh", "any"]) == status
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err.lstrip("\n") == words


def test_fault(weighed: Callable[[object], None], capsys: pytest.CaptureFixture[str]) -> None:
    """A fault of ours is one line that says so and how to report it; a traceback comes only when asked for."""
    weighed(AssertionError("seven is odd"))
    assert run(["weigh", "any"]) == 1
    told = capsys.readouterr().err
    assert told == f"latchlore: AssertionError: seven is odd: {cli_wording.FAULT}. {cli_wording.FAULT_REPORT}\n"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LATCHLORE_DEBUG", "1")
        assert run(["weigh", "any"]) == 1
    assert "Traceback (most recent call last)" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["wiegh"], "No such command 'wiegh'."),
        (["weigh"], "Missing argument 'STUDY'."),
        (["weigh", "a", "--width", "7"], "7 is not in the range x>=40."),
        (["dossier", "a"], "Missing option '-o' / '--output'."),
        (["completion", "dos"], "'dos' is not one of 'bash', 'zsh', 'fish'."),
    ],
)
def test_usage_wrong(arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A slip on the command line is status 2 and says what was not understood."""
    assert run(arguments) == 2
    assert words in capsys.readouterr().err


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Each shell gets a script that asks this program."""
    assert run(["completion", shell]) == 0
    assert f"_LATCHLORE_COMPLETE={shell}_complete" in capsys.readouterr().out


def test_completion_answers() -> None:
    """What the script asks is answered: commands that begin with `de`."""
    done = _command(_LATCHLORE_COMPLETE="bash_complete", COMP_WORDS="latchlore de", COMP_CWORD="1")
    assert done.stdout.split() == ["plain,device", "plain,desk", "plain,demo"]


def test_reader_gone(tmp_path: Path) -> None:
    """A reader that closes the pipe ends the command quietly with status 141."""
    code = (
        "from tests.marram import marram_table\nimport latchlore.study, latchlore.cli\n"
        "latchlore.study.weigh_study = lambda folder, progress: marram_table()\n"
        "latchlore.cli.main()"
    )
    write_end, errors = _closed_pipe(), tmp_path / "errors"
    with errors.open("wb") as stream, os.fdopen(write_end, "wb") as pipe:
        done = subprocess.run(
            [sys.executable, "-c", code, "weigh", "any"],
            stdout=pipe,
            stderr=stream,
            cwd=Path(__file__).parent.parent,
            timeout=60,
            check=False,
        )
    assert errors.read_bytes() == b""
    assert done.returncode == 141


def _closed_pipe() -> int:
    """The writing end of a pipe that nobody reads."""
    reading, writing = os.pipe()
    os.close(reading)
    return writing


@pytest.mark.parametrize("closed", ["1>&-", "2>&-", "1>&- 2>&-"])
def test_output_closed(closed: str, tmp_path: Path) -> None:
    """An output that was closed before the start takes nothing and breaks nothing: no fault, no traceback."""
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "a.log").write_text("16 5A 4C\n")
    code = f"'{sys.executable}' -c 'from latchlore.cli import main; main()'"
    for study, status in (("study", 0), ("missing", 2)):
        done = subprocess.run(
            ["/bin/sh", "-c", f"{code} weigh {study} {closed}"],
            capture_output=True,
            text=True,
            timeout=120,
            cwd=tmp_path,
            check=False,
        )
        assert done.returncode == status, done.stderr
        assert "Traceback" not in done.stderr
        assert "fault" not in done.stderr


@pytest.mark.parametrize(
    ("folder", "typed"),
    [("found", "found"), ("two words", "'two words'"), ("K\u00fcste", "'K\u00fcste'"), ("-x", "./-x")],
)
def test_next_command_can_be_pasted(
    folder: str, typed: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The command that `new` proposes works in a shell whatever the folder is called."""
    monkeypatch.chdir(tmp_path)
    assert run(["new", "--", folder]) == 0
    assert capsys.readouterr().out.endswith(f"Weigh it with:                    latchlore weigh {typed}\n")
    assert (tmp_path / shlex.split(typed)[0]).is_dir()


def test_interrupt() -> None:
    """Ctrl-C during the work: one clean line, status 130, no traceback."""
    code = (
        # a test run in the background of a shell hands down an ignored interrupt; at a terminal it is not ignored
        "import latchlore.study, latchlore.cli, signal, time\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "def weigh(folder, progress):\n    print('working', flush=True)\n    time.sleep(30)\n"
        "latchlore.study.weigh_study = weigh\nlatchlore.cli.main()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, "weigh", "any"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as running:
        assert running.stdout is not None
        assert running.stdout.readline() == "working\n"
        time.sleep(0.1)
        running.send_signal(signal.SIGINT)
        _, errors = running.communicate(timeout=20)
    assert running.returncode == 130
    assert errors.strip() == "latchlore: stopped; nothing was left half done"


def test_version() -> None:
    """The version is the installed one."""
    from importlib.metadata import version

    assert _command("--version").stdout == f"latchlore {version('latchlore')}\n"


def test_new(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A new study is made, and says what to do next; doing it again is refused and changes nothing."""
    folder = tmp_path / "tide"
    assert run(["new", str(folder)]) == 0
    assert f"latchlore weigh {folder}" in capsys.readouterr().out
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    assert before
    assert run(["new", str(folder)]) == 2
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before

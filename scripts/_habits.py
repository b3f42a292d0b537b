"""Habits that no other tool checks: change notes, version, addresses, and the size of CONTRIBUTING.md.

Prints one line for each breach; exit status 1 where there is one.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

TOP = Path(__file__).resolve().parent.parent
FRAGMENT = re.compile(r"\d+(\.\d+)?\.(added|changed|fixed|removed)\.md")
VERSION_HEADING = re.compile(r"^## (\d+\.\d+\.\d+)\b", re.MULTILINE)
INSTALLING = ("requirements/", "scripts/", ".ci/", "pyproject.toml")
"""Files that decide where packages come from: they name packages, never addresses."""

ADDRESS = re.compile(r"\b(?:https?|git\+\w+|ssh)://(?!127\.0\.0\.1|localhost|\[::1\])[^\s\"')>]+")
OPEN_TO_ALL = re.compile(r"[\"'](?:0\.0\.0\.0|::)[\"']")
PAGE_LINES = 60
"""One page of CONTRIBUTING.md."""


def tracked() -> list[str]:
    """Every file that git knows, sorted."""
    done = subprocess.run(["git", "ls-files", "-z"], cwd=TOP, capture_output=True, text=True, check=True)
    return sorted(name for name in done.stdout.split("\0") if name and (TOP / name).is_file())


def breaches(files: list[str]) -> Iterator[str]:
    """One line each."""
    yield from note_breaches(files)
    yield from version_breaches()
    for name in files:
        text = (TOP / name).read_bytes().decode("utf-8", "replace")
        if name.startswith(INSTALLING):
            for found in ADDRESS.finditer(text):
                yield f"{name}: names the address {found[0]!r}; packages are named, their places are not"
        if name.startswith("src/") and OPEN_TO_ALL.search(text):
            yield f"{name}: listens beyond this machine"
    lines = len((TOP / "CONTRIBUTING.md").read_text("utf-8").splitlines())
    if lines > PAGE_LINES:
        yield f"CONTRIBUTING.md: {lines} lines; one page has {PAGE_LINES}"


def note_breaches(files: list[str]) -> Iterator[str]:
    """Change notes that are misnamed or say nothing."""
    for name in files:
        if name.startswith("changelog.d/") and name != "changelog.d/README.md":
            if not FRAGMENT.fullmatch(Path(name).name):
                yield f"{name}: a change note is named NUMBER.added.md, .changed.md, .fixed.md or .removed.md"
            if not (TOP / name).read_text("utf-8").strip():
                yield f"{name}: says nothing"


def version_breaches() -> Iterator[str]:
    """A version that two places disagree about, or that is released already while notes wait."""
    stated = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["project"]["version"]
    match = re.search(r'__version__ = "([^"]+)"', (TOP / "src/latchlore/__init__.py").read_text("utf-8"))
    if match is None or match[1] != stated:
        yield f"src/latchlore/__init__.py: version {match and match[1]!r}, but pyproject.toml says {stated!r}"
    released = VERSION_HEADING.findall((TOP / "CHANGELOG.md").read_text("utf-8"))
    if stated in released and any(FRAGMENT.fullmatch(path.name) for path in (TOP / "changelog.d").iterdir()):
        yield f"CHANGELOG.md: {stated} is released, but change notes wait in changelog.d; raise the version"


if __name__ == "__main__":
    found = list(breaches(tracked()))
    print("\n".join(found) or "habits kept")
    sys.exit(1 if found else 0)

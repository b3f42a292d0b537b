"""The shape of the house: which package may import which, private files, sizes, contracts, and light start-up."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "src" / "latchlore"
TESTS = ROOT / "tests"

WINGS = frozenset({"board", "program", "wire", "device"})
ARROWS: dict[str, frozenset[str]] = {
    "base": frozenset(),
    **{wing: frozenset({"base"}) for wing in WINGS},
    "evidence": WINGS | {"base"},
    "study": WINGS | {"base", "evidence"},
    "dossier": WINGS | {"base", "evidence", "study"},
    "demo": frozenset(),
    "desk": WINGS | {"base", "evidence", "study", "dossier"},
    "cli": WINGS | {"base", "evidence", "study", "dossier", "desk", "demo"},
}
"""Package → the packages it may import (docs/design.md, "The house").

The command line starts the other two faces; the desk shows the table and the pictures in the dossier's look.
"""

MAX_LINES = 800
HEAVY = ("numba", "PIL", "pydantic", "starlette", "jinja2", "uvicorn")


class Import(NamedTuple):
    """One import of a module of the house: where, by which package, of which package, and the dotted name."""

    place: str
    package: str
    target: str
    name: str


def iter_imports(path: Path, root: Path, package: str) -> Iterator[Import]:
    """Every import of `latchlore` in a file, also in functions and for type checking only."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                above = ("latchlore", *path.relative_to(root).parent.parts)
                base = ".".join((*above[: len(above) - node.level + 1], *filter(None, [base])))
            names = [f"{base}.{alias.name}" for alias in node.names]
        for name in names:
            parts = name.split(".")
            if parts[0] == "latchlore" and len(parts) > 1 and parts[1] in ARROWS:
                place = f"{path.relative_to(root).as_posix()}:{getattr(node, 'lineno', 0)}"
                yield Import(place, package, parts[1], name)


def iter_modules(root: Path) -> Iterator[tuple[Path, str]]:
    """(file, its package) for every module of the house; the package of latchlore/__init__.py is empty."""
    for path in sorted(root.rglob("*.py")):
        parts = path.relative_to(root).parts
        yield path, parts[0] if len(parts) > 1 else ""


def wrong_arrows(root: Path) -> list[str]:
    """Imports against the arrows, and packages that no arrow names."""
    found = []
    for path, package in iter_modules(root):
        if package and package not in ARROWS:
            found.append(f"{path.relative_to(root).as_posix()}: package {package!r} has no place in the house")
            continue
        for one in iter_imports(path, root, package):
            if one.target != package and one.target not in ARROWS.get(package, frozenset()):
                found.append(f"{one.place}: {package or 'the root'} imports {one.name}")
    return found


def private_imports(imports: Iterator[Import]) -> list[str]:
    """Imports of an underscore from outside its package."""
    return [
        f"{one.place}: {one.package or 'the root'} imports {one.name}"
        for one in imports
        if one.target != one.package and any(part.startswith("_") for part in one.name.split(".")[2:])
    ]


def wings_by_other_doors(root: Path) -> list[str]:
    """Imports by which `evidence` goes past a wing's `testify`."""
    return [
        f"{one.place}: evidence imports {one.name}"
        for path, package in iter_modules(root)
        if package == "evidence"
        for one in iter_imports(path, root, package)
        if one.target in WINGS and not f"{one.name}.".startswith(f"latchlore.{one.target}.testify.")
    ]


def missing_contracts(path: Path) -> list[str]:
    """Public names without a docstring, and functions without annotations, as ``line: words``."""
    found: list[str] = []

    def visit(body: list[ast.stmt], where: str, is_public: bool) -> None:
        for node in body:
            if isinstance(node, ast.ClassDef):
                public = is_public and not node.name.startswith("_")
                if public and not ast.get_docstring(node):
                    found.append(f"{node.lineno}: class {where}{node.name} has no docstring")
                visit(node.body, f"{where}{node.name}.", public)
            elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                public = is_public and not node.name.startswith("_")
                overload = any(ast.unparse(mark).endswith("overload") for mark in node.decorator_list)
                if public and not overload and not ast.get_docstring(node):
                    found.append(f"{node.lineno}: {where}{node.name} has no docstring")
                given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
                given += [one for one in (node.args.vararg, node.args.kwarg) if one]
                bare = [one.arg for one in given if one.annotation is None and one.arg not in ("self", "cls")]
                bare += [] if node.returns is not None else ["return"]
                if bare:
                    found.append(f"{node.lineno}: {where}{node.name} has no annotation for {', '.join(bare)}")

    tree = ast.parse(path.read_text("utf-8"))
    if not ast.get_docstring(tree):
        found.append("1: the module has no docstring")
    visit(tree.body, "", True)
    return found


def _plant(root: Path, file: str, text: str) -> Path:
    path = root / file
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")
    return path


def test_arrows() -> None:
    """No package imports one that stands to its right, and the wings do not import each other."""
    assert len(list(iter_modules(SOURCE))) > 20
    assert wrong_arrows(SOURCE) == []


@pytest.mark.parametrize(
    ("file", "text", "message"),
    [
        ("base/_a.py", "import latchlore.study", "base/_a.py:1: base imports latchlore.study"),
        ("board/_a.py", "from latchlore.wire import read_log", "board/_a.py:1: board imports latchlore.wire.read_log"),
        ("wire/_a.py", "def f():\n    from latchlore import board", "wire/_a.py:2: wire imports latchlore.board"),
        ("wire/_a.py", "from ..device import x", "wire/_a.py:1: wire imports latchlore.device.x"),
        ("evidence/_a.py", "if 0:\n  import latchlore.cli", "evidence/_a.py:2: evidence imports latchlore.cli"),
        ("desk/_a.py", "import latchlore.cli._main", "desk/_a.py:1: desk imports latchlore.cli._main"),
        ("__init__.py", "import latchlore.base", "__init__.py:1: the root imports latchlore.base"),
        ("attic/_a.py", "x = 1", "attic/_a.py: package 'attic' has no place in the house"),
    ],
)  # fmt: skip
def test_arrows_wrong(tmp_path: Path, file: str, text: str, message: str) -> None:
    """A planted import against the arrows is found, wherever it stands in the file."""
    _plant(tmp_path, file, text)
    assert wrong_arrows(tmp_path) == [message]


def test_private_files() -> None:
    """Nobody outside a package imports an underscore of it; a package's own tests may."""
    found = [one for path, package in iter_modules(SOURCE) for one in iter_imports(path, SOURCE, package)]
    for path in sorted(TESTS.rglob("test_*.py")):
        found += iter_imports(path, TESTS, path.stem.split("_")[1])
    assert private_imports(iter(found)) == []


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("from latchlore.base._spans import Span", "latchlore.base._spans.Span"),
        ("from latchlore.base import _spans", "latchlore.base._spans"),
        ("import latchlore.base._spans as spans", "latchlore.base._spans"),
    ],
)
def test_private_files_wrong(tmp_path: Path, text: str, name: str) -> None:
    """A planted import of an underscore is found."""
    path = _plant(tmp_path, "board/_a.py", text)
    assert private_imports(iter_imports(path, tmp_path, "board")) == [f"board/_a.py:1: board imports {name}"]


def test_one_door() -> None:
    """`evidence` hears a wing through its `testify` alone."""
    assert wings_by_other_doors(SOURCE) == []


def test_one_door_wrong(tmp_path: Path) -> None:
    """A planted import past `testify` is found, one through it is not."""
    _plant(tmp_path, "evidence/_a.py", "from latchlore.wire.testify import testify\nfrom latchlore.wire import merge")
    assert wings_by_other_doors(tmp_path) == ["evidence/_a.py:2: evidence imports latchlore.wire.merge"]


GENERATED = "Written by scripts/generate_cores from its table: do not edit."
"""Stands in the first line of what a script writes; its source is what people read."""


def is_generated(path: Path) -> bool:
    """Whether a script wrote the file."""
    return GENERATED in path.read_text("utf-8").partition("\n")[0]


def test_sizes() -> None:
    """No module of logic is over 800 lines; tables of facts may be as long as the facts, and so may written cores."""
    long = {
        path.relative_to(SOURCE).as_posix(): count
        for path, _ in iter_modules(SOURCE)
        if (count := len(path.read_text("utf-8").splitlines())) > MAX_LINES
        and path.name != "facts.py"
        and not is_generated(path)
    }
    assert long == {}


def test_contracts() -> None:
    """Every public name has a docstring, and every function all annotations."""
    found = {
        path.relative_to(SOURCE).as_posix(): missing_contracts(path)
        for path, _ in iter_modules(SOURCE)
        if not is_generated(path)
    }
    assert {file: lines for file, lines in found.items() if lines} == {}


def test_contracts_wrong(tmp_path: Path) -> None:
    """A public function without a docstring or an annotation is found, a private one without a docstring is not."""
    text = (
        '"""A module."""\ndef _a(x: int) -> int: ...\ndef b(x, *y: int) -> None: ...\nclass C:\n    def d(self): ...\n'
    )
    assert missing_contracts(_plant(tmp_path, "wire/_a.py", text)) == [
        "3: b has no docstring",
        "3: b has no annotation for x",
        "4: class C has no docstring",
        "5: C.d has no docstring",
        "5: C.d has no annotation for return",
    ]


def loaded_by(modules: str) -> set[str]:
    """Top-level modules in a fresh interpreter after an import statement."""
    script = f"import sys\nimport {modules}\nprint(*{{name.partition('.')[0] for name in sys.modules}})"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=60)
    return set(done.stdout.split())


def test_light_start() -> None:
    """Importing `base`, a wing, `evidence`, `study` or the command line loads none of the heavy libraries."""
    packages = ["base", *sorted(WINGS), "evidence", "study", "cli"]
    loaded = loaded_by(", ".join(f"latchlore.{package}" for package in packages))
    assert loaded & set(HEAVY) == set()


def test_light_start_wrong() -> None:
    """The check sees a heavy library that is loaded."""
    assert "pydantic" in loaded_by("latchlore.base, pydantic")

"""The cache: found again, never trusted when torn, empty when the code changes, harmless when it cannot be used."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import partial
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.base import (
    AddressSet,
    ByteSequence,
    ByteTable,
    ByteTree,
    Clock,
    CycleRange,
    InputBit,
    InputKind,
    Leaf,
    LeafKind,
    Node,
    Write,
)
from latchlore.study import Cache, cache_folder, register_records, set_kernel_cache
from latchlore.study import _cache as cache_module
from latchlore.study._codec import decode, encode

TREE = ByteTree(
    (
        Node(
            (Write(InputKind.MEMORY, 0xC800, ByteTable.constant(0x1B), CycleRange(4, None)),),
            Leaf(LeafKind.RETURNED, "rts", 0xF010),
        ),
    ),
    0xF000,
    ("assumed",),
)

plain = (
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text() | st.binary() | st.fractions()
)
values = st.recursive(
    plain,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.lists(inner, max_size=3).map(tuple),
        st.dictionaries(st.text() | st.integers(), inner, max_size=3),
        st.frozensets(st.integers() | st.text(), max_size=3),
    ),
    max_leaves=8,
)


@given(values)
def test_codec(value: object) -> None:
    """Every value comes back equal, and of the same types."""
    back = decode(encode(value))
    assert back == value
    assert repr(back) == repr(value) or isinstance(value, frozenset) or "frozenset" in repr(value)


def test_codec_records() -> None:
    """The shared records come back equal; the text is the same each time."""
    for record in (
        TREE,
        ByteSequence.certain(b"abc"),
        AddressSet.parse("1x0"),
        Clock.of(hz=Fraction(1, 3)),
        InputKind.PORT,
    ):
        assert decode(encode(record)) == record
        assert type(decode(encode(record))) is type(record)
        assert encode(record) == encode(decode(encode(record)))


def test_codec_shares() -> None:
    """Equal values become one object, lists do not; true, 1 and 1.0 stay apart."""
    bits = tuple(InputBit(InputKind.MEMORY, 0xC801, 7) for _ in range(2))
    first, second = decode(encode(bits))
    assert first is second
    one, other = decode(encode(([], [])))
    assert one is not other
    assert [type(part) for (part,) in decode(encode(((1,), (True,), (1.0,))))] == [int, bool, float]


@dataclass(frozen=True, slots=True)
class _Extra:
    number: int


class _Colour(StrEnum):
    RED = "red"


def test_codec_wrong() -> None:
    """Unknown kinds are refused both ways, until a record is made known; names cannot be taken twice."""
    for value, name in (
        (_Extra(1), "_Extra"),
        (_Colour.RED, "_Colour"),
        ({1}, "set"),
        (object(), "object"),
        (1j, "complex"),
    ):
        with pytest.raises(TypeError, match=f"^a value of {name} cannot be kept$"):
            encode(value)
    register_records(_Extra, _Colour)
    assert decode(encode((_Extra(1), _Colour.RED))) == (_Extra(1), _Colour.RED)
    with pytest.raises(TypeError, match=r"^a record is a data class, not <class 'int'>$"):
        register_records(int)
    with pytest.raises(ValueError, match=r"^the name '_Extra' is taken by <class .*_Extra'>$"):
        register_records(dataclass(frozen=True)(type("_Extra", (), {})))
    texts = [
        "{",
        "{}",
        "[]",
        "7",
        "[[0]]",
        '["x",[0]]',
        '[["Nobody"],[0]]',
        '[["Leaf",1],[0]]',
        '[["LeafKind","x"],[0]]',
    ]
    texts += ['[["bytes","xy"],[0]]', '[["dict",1],[0]]', '[["fraction","1/0"],[0]]', '[["tuple",[1]],["list"],[1]]']
    for text in texts:
        with pytest.raises(ValueError):
            decode(text)


class _Work:
    """Counts how often it is done."""

    def __init__(self) -> None:
        self.times = 0

    def __call__(self) -> ByteTree:
        self.times += 1
        return TREE


def test_remember(tmp_path: Path) -> None:
    """A result is computed once for the same parts, by any later cache on the folder, and anew for other parts."""
    work = _Work()
    for _ in range(3):
        assert Cache(tmp_path).remember("tree", (b"rom", "F000"), work) == TREE
    assert work.times == 1
    for kind, parts in (("tree", (b"rom", "F001")), ("tree", (b"romF", "000")), ("merge", (b"rom", "F000"))):
        assert Cache(tmp_path).remember(kind, parts, work) == TREE
    assert work.times == 4


def test_remember_none(tmp_path: Path) -> None:
    """None is a result like any other."""
    calls: list[int] = []
    for _ in range(2):
        assert Cache(tmp_path).remember("none", (), lambda: calls.append(1)) is None
    assert calls == [1]


@pytest.mark.parametrize("harm", ["cut", "flip", "empty", "header", "folder", "deep"])
def test_corrupt(tmp_path: Path, harm: str) -> None:
    """A file that was cut, changed or replaced is ignored; the result is computed anew and kept again."""
    work, cache = _Work(), Cache(tmp_path)
    cache.remember("tree", (b"rom",), work)
    (path,) = (tmp_path / "results").iterdir()
    raw = path.read_bytes()
    match harm:
        case "cut":
            path.write_bytes(raw[:-5])
        case "flip":
            path.write_bytes(raw[:-9] + bytes([raw[-9] ^ 1]) + raw[-8:])
        case "empty":
            path.write_bytes(b"")
        case "header":
            path.write_bytes(raw.replace(b"latchlore result 2", b"latchlore result 1"))
        case "folder":
            path.unlink()
            path.mkdir()
        case _:
            body = b"[" * 100_000
            path.write_bytes(f"{cache_module._header('tree', body)}\n".encode() + body)
    assert cache.remember("tree", (b"rom",), work) == TREE
    assert work.times == 2
    if harm != "folder":
        assert cache.remember("tree", (b"rom",), work) == TREE
        assert work.times == 2


def test_code_counts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A change of the code that computed it, of `base` or of a named package, makes a result unknown."""
    stamps = {"latchlore.base": "1", "latchlore.wire": "1"}
    monkeypatch.setattr(cache_module, "code_stamp", lambda name: stamps[name])
    work, cache = _Work(), Cache(tmp_path)
    cache.remember("tree", (), work, ["latchlore.wire"])
    cache.remember("tree", (), work, ["latchlore.wire"])
    assert work.times == 1
    for package in stamps:
        stamps[package] = "2"
        cache.remember("tree", (), work, ["latchlore.wire"])
    assert work.times == 3


def test_code_stamp(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The stamp follows names and contents of a package's files."""
    stamps = set()
    for number, files in enumerate(({"__init__.py": ""}, {"__init__.py": "x = 1"}, {"__init__.py": "", "a.py": ""})):
        package = tmp_path / f"stamped{number}"
        package.mkdir()
        for name, text in files.items():
            (package / name).write_text(text)
        monkeypatch.syspath_prepend(tmp_path)
        stamps.add(cache_module.code_stamp(package.name))
    assert len(stamps) == 3


def test_unusable(tmp_path: Path) -> None:
    """A cache that cannot be written costs time and nothing else."""
    (tmp_path / "results").write_text("a file in the way")
    work = _Work()
    for _ in range(2):
        assert Cache(tmp_path).remember("tree", (), work) == TREE
    assert work.times == 2


def test_bounded(tmp_path: Path) -> None:
    """Above its size the cache loses what was used longest ago."""
    cache = Cache(tmp_path, max_bytes=3500)
    for number in range(10):
        cache.remember("text", (str(number),), partial(str.__mul__, f"{number}", 1000))
    paths = list((tmp_path / "results").iterdir())
    assert len(paths) == 3
    assert {path.read_text().partition("\n")[2][2] for path in paths} == {"7", "8", "9"}


def test_folder(tmp_path: Path) -> None:
    """LATCHLORE_CACHE names the folder; else it is the user's cache folder."""
    assert cache_folder({"LATCHLORE_CACHE": str(tmp_path / "x")}) == tmp_path / "x"
    assert cache_folder({}).name == "latchlore"


def test_kernel_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Kernels go below the cache folder, unless the user has said where, or the compiler is loaded already."""
    monkeypatch.delitem(sys.modules, "numba", raising=False)
    settings = {"LATCHLORE_CACHE": str(tmp_path)}
    assert set_kernel_cache(settings) == tmp_path / "kernels"
    assert settings["NUMBA_CACHE_DIR"] == str(tmp_path / "kernels")
    chosen = {"NUMBA_CACHE_DIR": "/elsewhere", "LATCHLORE_CACHE": str(tmp_path)}
    assert set_kernel_cache(chosen) == Path("/elsewhere")
    monkeypatch.setitem(sys.modules, "numba", sys)
    late = {"LATCHLORE_CACHE": str(tmp_path)}
    assert set_kernel_cache(late) is None
    assert "NUMBA_CACHE_DIR" not in late


def test_kernels_land_there(tmp_path: Path) -> None:
    """A kernel compiled after the setting leaves its machine code in the folder."""
    script = (
        "import latchlore.study\nlatchlore.study.set_kernel_cache()\nimport kernel_of_test\nkernel_of_test.twice(2)"
    )
    (tmp_path / "kernel_of_test.py").write_text(
        "import numba\n@numba.njit('int64(int64)', cache=True)\ndef twice(x):\n    return 2 * x\n"
    )
    root = Path(cache_module.__file__).parents[2]
    environ = {"LATCHLORE_CACHE": str(tmp_path / "cache"), "PYTHONPATH": f"{tmp_path}:{root}", "PATH": ""}
    subprocess.run([sys.executable, "-c", script], env=environ, check=True, timeout=120)
    assert [path.suffix for path in sorted((tmp_path / "cache" / "kernels").rglob("*.nb*"))] == [".nbc", ".nbi"]

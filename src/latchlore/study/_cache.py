"""Results that took long, kept between runs in the user's cache folder; deleting it costs time and nothing else.

A result is found under the SHA-256 of everything it depends on: kind, the parts given by the caller (bytes of files,
settings) and the source code of the packages that computed it.  A file of the cache is a header line (its kind and the
SHA-256 of the rest) and the value as text of `_codec`; what does not fit its header is ignored.  Nothing of it is
executed, and nothing is ever read from the study's folder.
"""

from __future__ import annotations

import hashlib
import os
import sys
from contextlib import suppress
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from latchlore.study._codec import decode, encode

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, MutableMapping

    ResultT = TypeVar("ResultT")

FORMAT = "2"
MAX_BYTES = 256 << 20  # the whole cache; the results used longest ago go first
VARIABLE = "LATCHLORE_CACHE"


def cache_folder(environ: MutableMapping[str, str] | None = None) -> Path:
    """The folder that LATCHLORE_CACHE names, else ``latchlore`` in the user's cache folder; it need not exist."""
    named = (os.environ if environ is None else environ).get(VARIABLE, "")
    if named:
        return Path(named).expanduser().absolute()
    from platformdirs import user_cache_path

    return user_cache_path("latchlore", appauthor=False)


def set_kernel_cache(environ: MutableMapping[str, str] | None = None) -> Path | None:
    """Have compiled kernels kept under the cache folder, unless the user has said where; the folder in force.

    It must be called before the compiler is imported, which reads the setting once; None where that is too late.
    """
    settings = os.environ if environ is None else environ
    if settings.get("NUMBA_CACHE_DIR"):
        return Path(settings["NUMBA_CACHE_DIR"])
    if "numba" in sys.modules:
        return None
    folder = cache_folder(settings) / "kernels"
    settings["NUMBA_CACHE_DIR"] = str(folder)
    return folder


class Cache:
    """Results by content; a cache that cannot be read or written costs time and nothing else."""

    def __init__(self, folder: Path | None = None, max_bytes: int = MAX_BYTES) -> None:
        self.folder = (folder or cache_folder()) / "results"
        self.max_bytes = max_bytes

    def remember(
        self, kind: str, parts: Iterable[bytes | str], compute: Callable[[], ResultT], packages: Iterable[str] = ()
    ) -> ResultT:
        """The value kept for these parts, or else what `compute` returns, which is then kept.

        `parts` name everything the result depends on, in a fixed order; `packages` are the packages whose code
        computes it (``latchlore.base`` is always counted in).  `compute` must return a value `encode` takes.
        """
        path = self.folder / f"{self.key(kind, parts, packages)}.txt"
        found, value = self._read(path, kind)
        if found:
            return value  # type: ignore[return-value]  # the key names what computed it
        computed = compute()
        self._write(path, kind, encode(computed))
        return computed

    def key(self, kind: str, parts: Iterable[bytes | str], packages: Iterable[str] = ()) -> str:
        """The name a result is kept under: 64 hexadecimal digits."""
        total = hashlib.sha256()
        code = (code_stamp(name) for name in sorted({"latchlore.base", *packages}))
        for part in (FORMAT, kind, *code, *parts):
            raw = part.encode() if isinstance(part, str) else part
            total.update(b"%d:" % len(raw))  # lengths keep ("ab", "c") and ("a", "bc") apart
            total.update(raw)
        return total.hexdigest()

    def _read(self, path: Path, kind: str) -> tuple[bool, object]:
        try:
            head, _, body = path.read_bytes().partition(b"\n")
            if head.decode() != _header(kind, body):
                return False, None
            value = decode(body.decode())
        except (OSError, ValueError, RecursionError):
            return False, None
        with suppress(OSError):
            os.utime(path)  # used now: goes last
        return True, value

    def _write(self, path: Path, kind: str, text: str) -> None:
        body = text.encode()
        part = path.with_name(f"{path.name}.{os.getpid()}.part")
        try:
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            part.write_bytes(f"{_header(kind, body)}\n".encode() + body)
            os.replace(part, path)  # not synced: a torn file does not fit its header
            self._trim()
        except OSError:
            with suppress(OSError):
                part.unlink(missing_ok=True)

    def _trim(self) -> None:
        files = sorted(
            ((e.stat().st_mtime_ns, e.stat().st_size, e.path) for e in os.scandir(self.folder)), reverse=True
        )
        total = 0
        for _, size, path in files:
            total += size
            if total > self.max_bytes:
                Path(path).unlink(missing_ok=True)


def _header(kind: str, body: bytes) -> str:
    return f"latchlore result {FORMAT} {kind} {hashlib.sha256(body).hexdigest()}"


@lru_cache(maxsize=64)
def code_stamp(package: str) -> str:
    """The SHA-256 of a package's Python files, so that results do not outlive the code that made them."""
    total = hashlib.sha256(package.encode())
    # found, not imported: a package may be slow to load, and what is remembered needs none of it
    spec = find_spec(package)
    for folder in (spec.submodule_search_locations or ()) if spec else ():
        for path in sorted(Path(folder).rglob("*.py")):
            total.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return total.hexdigest()

"""Columns too long for memory: they grow in files, are mapped, and vanish when nothing uses them any more."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Column = npt.NDArray[Any]


class Spool:
    """Columns that grow in files in the folder of the column `beside`, or where temporary files lie.

    To be closed; what was mapped before lives on, and its room on disk with it.
    """

    def __init__(self, beside: Column) -> None:
        self._folder = Path(beside.filename).parent if isinstance(beside, np.memmap) and beside.filename else None
        self._files: dict[str, tuple[IO[bytes], str]] = {}

    def add(self, name: str, kind: str, values: Column) -> None:
        """Put values behind those that the column has; `kind` as numpy writes it (``<i8``), the same each time."""
        if name not in self._files:
            file = tempfile.TemporaryFile(dir=self._folder)  # noqa: SIM115  open for as long as it grows
            self._files[name] = (file, kind)
        self._files[name][0].write(np.ascontiguousarray(values, kind).data)

    def column(self, name: str, kind: str) -> Column:
        """A whole column, mapped for reading; nothing may be added to it afterwards."""
        if name not in self._files:
            return np.zeros(0, kind)
        file, kind = self._files[name]
        file.flush()
        return np.memmap(file, kind, "r") if file.tell() else np.zeros(0, kind)

    def close(self) -> None:
        """Give the files back."""
        for file, _ in self._files.values():
            file.close()

"""Columns of captures on disk: written as they are read, mapped when they are opened again.

A stored capture is a folder: `capture.json` (written last, so a folder without it is unfinished and ignored) and, for
each channel that has changes, one file a column (`0.times`, `0.levels`, `1.value`, ...): plain little-endian numbers
without a head.  Beside them lies each channel's overview (`0.spans`, `0.marks`, ...; see `_overview`).  The folder is
a copy for speed; deleting it costs time and nothing else.
"""

from __future__ import annotations

import json
import os
import shutil
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from latchlore.base import Span, no_progress
from latchlore.wire import _capturewording as words
from latchlore.wire import _overview as overviews
from latchlore.wire._capture import Capture, Channel, ChannelKind, Gap
from latchlore.wire._filestamp import FORMAT, stamp_file

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy.typing as npt

    from latchlore.base import Progress

    Column = npt.NDArray[Any]

PENDING_MOST = 64 * 2**20
"""So many bytes of columns wait in memory before they are written."""
_TYPES = {"times": "<i8", "levels": "u1", "value": "<u8", "unknown": "<u8", "reals": "<f8", **overviews.TYPES}


class Columns:
    """Grows the columns of a capture's channels, in memory or, where a folder is given, on disk."""

    def __init__(self, folder: Path | None = None, progress: Progress = no_progress) -> None:
        self.folder, self._progress = folder, progress
        self._part = None if folder is None else folder.with_name(f"{folder.name}.{os.getpid()}.part")
        if self._part is not None:
            shutil.rmtree(self._part, ignore_errors=True)
            self._part.mkdir(parents=True, mode=0o700)
        self._pieces: dict[tuple[int, str], list[Column]] = {}
        self._pending = 0
        self._pools: dict[str | tuple[str, int], Column] = {}

    def append(self, channel: int, kind: str, piece: Column) -> None:
        """Add values to a column of a channel."""
        self._pieces.setdefault((channel, kind), []).append(piece)
        self._pending += piece.nbytes
        if self._part is not None and self._pending > PENDING_MOST:
            self._flush()

    def _flush(self) -> None:
        assert self._part is not None
        for (channel, kind), pieces in self._pieces.items():
            with (self._part / f"{channel}.{kind}").open("ab") as file:
                for piece in pieces:
                    file.write(np.ascontiguousarray(piece, _TYPES[kind]).data)
        self._pieces.clear()
        self._pending = 0

    def drop(self) -> None:
        """Throw away what was written; for a reading that failed."""
        if self._part is not None:
            shutil.rmtree(self._part, ignore_errors=True)

    def finish(self, head: dict[str, Any], stamp: str) -> Capture:
        """The capture; `head` describes it as `capture.json` does."""
        if self._part is None or self.folder is None:
            return _build(head, self._joined, with_overviews=False)
        self._flush()
        for number, row in enumerate(head["channels"]):
            self._progress(number, len(head["channels"]), words.SUMMING.format(file=head["file"]))
            if row["changes"]:
                overviews.write_overview(self._part, number, row, _TYPES)
        text = json.dumps({"format": FORMAT, "stamp": stamp, **head}, indent=1, sort_keys=True)
        (self._part / "capture.json").write_text(text + "\n", encoding="utf-8")
        shutil.rmtree(self.folder, ignore_errors=True)
        os.replace(self._part, self.folder)
        return _build(head, lambda channel, kind: _mapped(self.folder, channel, kind))

    def _joined(self, channel: int, kind: str) -> Column:
        """A column in memory; one of several pieces is a part of one array for all of its kind, allocated at once."""
        pieces = self._pieces.get((channel, kind), [])
        if len(pieces) == 1:
            return np.ascontiguousarray(pieces[0].ravel(), _TYPES[kind])
        if kind not in self._pools:
            parted = {key: got for key, got in self._pieces.items() if key[1] == kind and len(got) > 1}
            sizes = {key: sum(piece.size for piece in got) for key, got in parted.items()}
            pool = np.empty(sum(sizes.values()), _TYPES[kind])
            at = 0
            for key, size in sizes.items():
                np.concatenate([piece.ravel() for piece in parted[key]], out=pool[at : at + size])
                self._pools[kind, key[0]] = pool[at : at + size]
                at += size
            self._pools[kind] = pool
        return self._pools.get((kind, channel), np.zeros(0, _TYPES[kind]))


def keep_columns(
    path: Path,
    file: str,
    folder: Path | None,
    stated: str,
    progress: Progress,
    read: Callable[[Columns, str], Capture],
) -> Capture:
    """The capture stored in `folder` where it is still that of `path`, else what `read` makes of new columns.

    `stated`: what the capture depends on beside the file's bytes.  `read` gets the columns, in memory without a folder,
    and the stamp to finish them with; where it fails nothing of them is left.
    """
    stamp = f"{stamp_file(path)} {stated}".rstrip()
    stored = None if folder is None else open_stored(folder, stamp, file)
    if stored is not None:
        return stored
    columns = Columns(folder, progress)
    try:
        return read(columns, stamp)
    except BaseException:
        columns.drop()
        raise


def open_stored(folder: Path, stamp: str, file: str) -> Capture | None:
    """The capture stored in a folder, or None where there is none, or one of another file or format."""
    try:
        head = json.loads((folder / "capture.json").read_text(encoding="utf-8"))
        if head.get("format") != FORMAT or head.get("stamp") != stamp:
            return None
        head["file"] = file
        return _build(head, lambda channel, kind: _mapped(folder, channel, kind))
    except (OSError, ValueError, KeyError):
        with suppress(OSError):
            shutil.rmtree(folder)
        return None


def _mapped(folder: Path | None, channel: int, kind: str) -> Column:
    assert folder is not None
    path = folder / f"{channel}.{kind}"
    if not path.exists() or not path.stat().st_size:
        return np.zeros(0, _TYPES[kind])
    return np.memmap(path, _TYPES[kind], "r")


def _build(head: dict[str, Any], column: Any, with_overviews: bool = True) -> Capture:
    channels: list[Channel] = []
    for k, row in enumerate(head["channels"]):
        words = (row["width"] + 63) // 64
        channels.append(
            Channel(
                tuple(row["names"]),
                ChannelKind(row["kind"]),
                row["width"],
                column(k, "times"),
                column(k, "levels"),
                column(k, "value").reshape(-1, words),
                column(k, "unknown").reshape(-1, words),
                column(k, "reals"),
                row["bits"],
                overviews.build_overview(partial(column, k)) if with_overviews else None,
            )
        )
        if channels[-1].num_changes != row["changes"]:
            raise ValueError(f"channel {k} has {channels[-1].num_changes} changes stored, not {row['changes']}")
    return Capture(
        head["file"],
        tuple(channels),
        Span(head["begin"]),
        Span(head["end"]),
        tuple(head["notes"]),
        tuple(Gap(Span(a), None if b is None else Span(b)) for a, b in head["gaps"]),
        None if head["step"] is None else Span(head["step"]),
        head["breaks_off"],
    )


def describe_channel(names: Sequence[str], kind: ChannelKind, width: int, bits: str, changes: int) -> dict[str, Any]:
    """A row of `capture.json` about a channel."""
    return {"names": list(names), "kind": str(kind), "width": width, "bits": bits, "changes": changes}

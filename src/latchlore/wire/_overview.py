"""Overviews of channels: what their changes come to in ever larger buckets, so that any stretch is drawn at once.

A bucket of the first layer sums up `CHANGES` changes, one of each further layer `FOLD` buckets of the layer below, up
to a single one.  The layers stand one behind the other, the first one first.  A hundred bytes of columns get about
five of overview.
"""

from __future__ import annotations

import io
from contextlib import ExitStack
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from latchlore.wire import _overviewkernel as kernel
from latchlore.wire._capture import ChannelKind

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path
    from typing import IO

    import numpy.typing as npt

    from latchlore.wire._capture import Channel, Levels, Times

    Column = npt.NDArray[Any]
    Reader = Callable[[str, int, int], Column]

PIECE = kernel.CHANGES * kernel.FOLD**4
"""Changes, or buckets, that are summed up at a time."""
TYPES = {"spans": "<i8", "marks": "u1", "extremes": "<f8", "flags": "u1"}


class Overview(NamedTuple):
    """The buckets of a channel, all layers one behind the other.

    `spans`: shape (buckets, 3): time of the first change, time of the last one, number of edges, that is of changes
    to another value than before.  `marks`: shape (buckets,): bit 0 a 0 is among its levels, bit 1 a 1, bit 2 an
    unknown one, bit 3 high impedance; bits 4 and 5 the level of its last change.  A vector counts as 0 where all its
    bits are known, else as unknown; a quantity as 0.  `extremes`: shape (buckets, 2), least and largest quantity of a
    REAL channel, else no rows.  `flags`: shape (changes,): the level of every change as above, with 128 where it is an
    edge; empty for a LOGIC channel, whose levels tell both.
    """

    spans: Times
    marks: Levels
    extremes: npt.NDArray[np.float64]
    flags: Levels


def layer_sizes(changes: int) -> list[int]:
    """Buckets in each layer, the first one first; none where there are no changes."""
    sizes: list[int] = []
    if changes:
        sizes.append(-(-changes // kernel.CHANGES))
        while sizes[-1] > 1:
            sizes.append(-(-sizes[-1] // kernel.FOLD))
    return sizes


def columns_of(kind: ChannelKind) -> tuple[str, ...]:
    """The columns that the overview of such a channel has."""
    more = {ChannelKind.LOGIC: (), ChannelKind.VECTOR: ("flags",), ChannelKind.REAL: ("extremes", "flags")}
    return ("spans", "marks", *more[kind])


def write_overview(folder: Path, number: int, row: Mapping[str, Any], types: Mapping[str, str]) -> None:
    """Write the overview of a stored channel beside its columns, a piece at a time.

    `row` describes the channel as `capture.json` does, `types` the numbers of each column.
    """
    kind, words = ChannelKind(row["kind"]), (row["width"] + 63) // 64
    wide = {"value": words, "unknown": words}

    def read(name: str, begin: int, end: int) -> Column:
        size = wide.get(name, 1)
        item = np.dtype(types[name]).itemsize
        found = np.fromfile(folder / f"{number}.{name}", types[name], (end - begin) * size, offset=begin * size * item)
        return found.reshape(-1, size) if name in wide else found

    with ExitStack() as stack:
        files: dict[str, IO[bytes]] = {
            name: stack.enter_context((folder / f"{number}.{name}").open("w+b")) for name in columns_of(kind)
        }
        _fill(kind, row["changes"], read, files)


def make_overview(channel: Channel) -> Overview:
    """The overview of a channel in memory."""

    def read(name: str, begin: int, end: int) -> Column:
        column: Column = getattr(channel, name)[begin:end]
        return column

    files = {name: io.BytesIO() for name in columns_of(channel.kind)}
    _fill(channel.kind, channel.num_changes, read, dict(files))
    return build_overview(lambda name: np.frombuffer(files[name].getvalue() if name in files else b"", TYPES[name]))


def build_overview(column: Callable[[str], Column]) -> Overview:
    """The overview from its columns, each flat."""
    return Overview(column("spans").reshape(-1, 3), column("marks"), column("extremes").reshape(-1, 2), column("flags"))


def _fill(kind: ChannelKind, changes: int, read: Reader, files: Mapping[str, IO[bytes]]) -> None:
    """Sum up the changes that `read` gives (column, begin, end) into the files, layer by layer."""
    for begin in range(0, changes, PIECE):
        end = min(changes, begin + PIECE)
        codes, changed, reals = _codes(kind, read, begin, end)
        if "flags" in files:
            files["flags"].write((codes | changed << 7).astype("u1").tobytes())
        room = _room(-(-(end - begin) // kernel.CHANGES), kind)
        kernel.fold_changes(read("times", begin, end), codes, changed, reals, *room)
        _write(files, room)
    below = 0  # buckets of the lower layers
    for size, larger in zip(layer_sizes(changes), layer_sizes(changes)[1:], strict=False):
        for begin in range(0, larger, PIECE // kernel.FOLD):
            end = min(larger, begin + PIECE // kernel.FOLD)
            first, last = begin * kernel.FOLD, min(size, end * kernel.FOLD)
            room = _room(end - begin, kind)
            kernel.fold_buckets(*_read_back(files, kind, below + first, last - first), *room)
            _write(files, room)
        below += size


def _room(buckets: int, kind: ChannelKind) -> tuple[Column, Column, Column]:
    quantities = buckets if kind is ChannelKind.REAL else 0
    return np.empty((buckets, 3), np.int64), np.empty(buckets, np.uint8), np.empty((quantities, 2), np.float64)


def _write(files: Mapping[str, IO[bytes]], room: tuple[Column, Column, Column]) -> None:
    for name, column in zip(("spans", "marks", "extremes"), room, strict=True):
        if name in files:
            files[name].seek(0, io.SEEK_END)
            files[name].write(column.astype(TYPES[name], copy=False).tobytes())


def _read_back(files: Mapping[str, IO[bytes]], kind: ChannelKind, begin: int, count: int) -> list[Column]:
    found = []
    for name, room in zip(("spans", "marks", "extremes"), _room(count, kind), strict=True):
        row = room.nbytes // count
        if row:
            files[name].seek(begin * row)
            room[:] = np.frombuffer(files[name].read(count * row), TYPES[name]).reshape(room.shape)
        found.append(room)
    return found


def _codes(kind: ChannelKind, read: Reader, begin: int, end: int) -> tuple[Column, Column, Column]:
    """Levels, edges and quantities of some changes; the one before them is read as well, to tell an edge."""
    before = max(0, begin - 1)
    reals: Column = np.empty(0, np.float64)
    if kind is ChannelKind.LOGIC:
        codes: Column = read("levels", before, end)
        differ = codes[1:] != codes[:-1]
    elif kind is ChannelKind.REAL:
        reals = read("reals", before, end)
        codes = np.zeros(len(reals), np.uint8)
        differ = reals[1:] != reals[:-1]
    else:
        value, unknown = read("value", before, end), read("unknown", before, end)
        codes = np.where(unknown.any(1), 2, 0).astype(np.uint8)
        differ = ((value[1:] != value[:-1]) | (unknown[1:] != unknown[:-1])).any(1)
    changed = np.concatenate([[0], differ]).astype(np.uint8)
    own = begin - before
    return codes[own:], changed[own:], reals[own:]

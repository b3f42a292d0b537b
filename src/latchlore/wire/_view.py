"""Any stretch of a capture as what a drawing of it needs: single edges where they are few, else columns of pixels."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from latchlore.base import BadInput, Origin
from latchlore.wire import _overviewkernel as kernel
from latchlore.wire import _viewwording as words
from latchlore.wire._capture import ChannelKind
from latchlore.wire._overview import layer_sizes

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from latchlore.wire._capture import Capture, Channel, Levels, Times

WIDTH_MOST = 16_384
CHANNELS_MOST = 128
EDGES_MOST = 7_000
"""So many single edges are given, all channels together; as JSON about 20 bytes each."""
COLUMNS_MOST = 22_000
"""So many columns are given, all channels together; as JSON about 8 bytes each."""
_EDGE_WEIGHT = {ChannelKind.LOGIC: 1, ChannelKind.VECTOR: 3, ChannelKind.REAL: 2}
_COLUMN_WEIGHT = {ChannelKind.LOGIC: 1, ChannelKind.VECTOR: 1, ChannelKind.REAL: 5}
NEAR = 4
"""An edge within this part of a column of its border may count for the column beside it."""
BUCKETS_A_COLUMN = 4
"""A walk begins with about so many buckets a column."""
_DIGITS = 24
_TIME_MOST = 2**62


@dataclass(frozen=True, slots=True, eq=False)
class ChannelView:
    """One channel in a stretch, in one of two forms.

    `before`: its value as the stretch begins, empty where nothing says it.  `edges`: its changes to another value in
    the stretch.  *Single*: `times` (offsets from the stretch's begin) and `values` hold every edge; `columns` is 0.
    *Columns*: the stretch is cut into `columns` parts of equal length; `seen` holds for each the levels the line has
    in it or brings into it, as bits (1 low, 2 high, 4 unknown, 8 high impedance; of a vector 1 all bits known, 4 some
    unknown; of a quantity 1; 0 nothing known), `counts` its edges, and of a REAL channel `extremes` its least and
    largest quantity.  `near_ps`: an edge so near to the border of two columns may count for the one before it; the sum
    of `counts` is exact.
    """

    name: str
    kind: ChannelKind
    before: str
    edges: int
    times: tuple[int, ...] = ()
    values: tuple[str, ...] = ()
    columns: int = 0
    seen: Levels = field(default_factory=lambda: np.zeros(0, np.uint8))
    counts: Times = field(default_factory=lambda: np.zeros(0, np.int64))
    extremes: npt.NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 2)))
    near_ps: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A stretch of a capture, `start_ps` to `end_ps` (not itself), its channels in the order asked for."""

    capture: Capture
    start_ps: int
    end_ps: int
    channels: tuple[ChannelView, ...]


def view(capture: Capture, channel_names: Sequence[str], start_ps: int, end_ps: int, width_px: int) -> View:
    """What a drawing `width_px` pixels wide needs to show the channels from `start_ps` to `end_ps`, at any zoom.

    Times are whole picoseconds on the capture's clock; the stretch may reach beyond the capture, where nothing is
    known.  A channel with no more edges than half the pixels (and within the channel's share of `EDGES_MOST`) comes
    with every single edge, to the picosecond; any other in columns, at most one a pixel, with its levels and number of
    edges.  So a channel never has more than one value a pixel, and the whole, as JSON (`view_to_plain`), stays under
    200 kB; with many channels columns are wider than a pixel.  The time it takes depends on the pixels, hardly on the
    capture: a capture opened from its kept columns (`open_capture`, `read_vcd`, ...) is drawn at once; of one in memory
    the overview is made at the first call.  Ask again for each stretch; nothing is kept between calls.

    Refuses: names the capture does not have, more than 128 channels, an empty stretch, widths below 1 or above 16384.
    """
    if not 1 <= width_px <= WIDTH_MOST:
        raise BadInput(Origin(capture.file), words.WIDTH.format(most=WIDTH_MOST, width=width_px))
    if len(channel_names) > CHANNELS_MOST:
        raise BadInput(Origin(capture.file), words.MANY.format(most=CHANNELS_MOST, count=len(channel_names)))
    if end_ps <= start_ps:
        raise BadInput(Origin(capture.file), words.EMPTY.format(start=start_ps, end=end_ps))
    if not -_TIME_MOST <= start_ps < end_ps <= _TIME_MOST:
        raise BadInput(Origin(capture.file), words.TOO_LONG.format(most=_TIME_MOST, start=start_ps, end=end_ps))
    channels = [capture.get_channel(name) for name in channel_names]
    viewer = _Viewer(capture, start_ps, end_ps, width_px, max(1, len(channels)))
    return View(capture, start_ps, end_ps, tuple(viewer.look(channel) for channel in channels))


class _Viewer:
    """One stretch, and how much each channel may give of it."""

    def __init__(self, capture: Capture, start: int, end: int, width: int, channels: int) -> None:
        self.capture, self.start, self.end, self.width = capture, start, end, width
        self.edges_share, self.columns_share = EDGES_MOST // channels, COLUMNS_MOST // channels

    def look(self, channel: Channel) -> ChannelView:
        if not channel.num_changes:
            return ChannelView(channel.name, channel.kind, "", 0)
        spans, marks, extremes, flags = self.capture.get_overview(channel)
        begins = np.concatenate([[0], np.cumsum(layer_sizes(channel.num_changes))])
        first = kernel.find_change(channel.times, spans, begins, self.start)
        last = kernel.find_change(channel.times, spans, begins, self.end)
        before = _text(channel, first - 1) if first else ""
        if first == last:
            return ChannelView(channel.name, channel.kind, before, 0)
        if last - first <= min(self.width // 2, self.edges_share // _EDGE_WEIGHT[channel.kind]):
            return self._single(channel, first, last, before)
        return self._columns(channel, first, last, before, (spans, marks, extremes, flags, begins))

    def _single(self, channel: Channel, first: int, last: int, before: str) -> ChannelView:
        every = channel.times[first:last].tolist()
        if channel.kind is ChannelKind.LOGIC:
            texts = ["01xz"[level] for level in channel.levels[first:last].tolist()]
        else:
            texts = [_text(channel, k) for k in range(first, last)]
        pairs = [
            (time - self.start, text)
            for time, text, was in zip(every, texts, [before, *texts], strict=False)
            if text != was
        ]
        times, values = tuple(time for time, _ in pairs), tuple(text for _, text in pairs)
        begins_here = int(bool(times) and not before)  # a value that nothing comes before is no edge
        return ChannelView(channel.name, channel.kind, before, len(times) - begins_here, times, values)

    def _columns(self, channel: Channel, first: int, last: int, before: str, parts: Any) -> ChannelView:
        spans, marks, extremes, flags, begins = parts
        length = self.end - self.start
        num = max(1, min(self.width, self.columns_share // _COLUMN_WEIGHT[channel.kind], length))
        borders = np.array([self.start + length * k // num for k in range(num + 1)], np.int64)
        layer, size = 0, 1
        while layer < len(begins) - 1 and (last - first) // size > BUCKETS_A_COLUMN * num:
            size *= kernel.FOLD if layer else kernel.CHANGES
            layer += 1
        seen, counts = np.zeros(num, np.uint8), np.zeros(num, np.int64)
        ends = np.full((num if channel.kind is ChannelKind.REAL else 0, 2), np.nan)
        near = length // num // NEAR
        logic = channel.kind is ChannelKind.LOGIC
        kernel.fill_columns(
            *(channel.times, channel.levels if logic else flags, not logic, channel.reals),
            *(spans, marks, extremes, begins, first, last, layer, borders, near, seen, counts, ends),
        )
        seen[borders[:-1] > self.capture.end.picoseconds] = 0
        edges = int(counts.sum())
        return ChannelView(
            channel.name, channel.kind, before, edges, columns=num, seen=seen, counts=counts, extremes=ends,
            near_ps=near if layer else 0,
        )  # fmt: skip


def _text(channel: Channel, index: int) -> str:
    """A value in few letters: a level, a vector in hexadecimal (in binary where bits are unknown), a quantity."""
    if channel.kind is ChannelKind.REAL:
        return f"{channel.reals[index]:.6g}"
    text = channel.text(index)
    if channel.kind is ChannelKind.LOGIC:
        return text
    if "x" not in text and "z" not in text:
        text = f"{int(text, 2):0{(len(text) + 3) // 4}X}"
    return text if len(text) <= _DIGITS else text[: _DIGITS - 1] + "…"


def view_to_plain(drawn: View) -> dict[str, Any]:
    """A stretch as plain values for JSON, under 200 kB.

    ``start_ps``, ``end_ps``, ``begin_ps`` and ``stop_ps`` of the capture, ``gaps_ps`` as [since, until or null], and
    for each channel ``name``, ``kind``, ``before``, ``edges`` and either ``times`` (offsets from ``start_ps``) with
    ``values`` (of a line one text, a letter an edge; else a list of texts), or ``columns`` with ``seen`` (one text, a
    hexadecimal digit a column), ``counts`` (a number a column), ``near_ps``, and of a quantity ``least`` and ``most``
    (null where nothing is known).  What each means is said in `ChannelView`.
    """
    capture = drawn.capture
    return {
        "start_ps": drawn.start_ps,
        "end_ps": drawn.end_ps,
        "begin_ps": capture.begin.picoseconds,
        "stop_ps": capture.end.picoseconds,
        "gaps_ps": [[g.since.picoseconds, None if g.until is None else g.until.picoseconds] for g in capture.gaps],
        "channels": [_channel_to_plain(one) for one in drawn.channels],
    }


def _channel_to_plain(one: ChannelView) -> dict[str, Any]:
    plain: dict[str, Any] = {"name": one.name, "kind": str(one.kind), "before": one.before, "edges": one.edges}
    if not one.columns:
        values: str | list[str] = "".join(one.values) if one.kind is ChannelKind.LOGIC else list(one.values)
        return {**plain, "times": list(one.times), "values": values}
    plain |= {
        "columns": one.columns,
        "seen": "".join("0123456789ABCDEF"[bits] for bits in one.seen.tolist()),
        "counts": one.counts.tolist(),
        "near_ps": one.near_ps,
    }
    if one.kind is ChannelKind.REAL:
        plain["least"], plain["most"] = ([_quantity(x) for x in side] for side in one.extremes.T.tolist())
    return plain


def _quantity(value: float) -> float | None:
    return float(f"{value:.5g}") if math.isfinite(value) else None

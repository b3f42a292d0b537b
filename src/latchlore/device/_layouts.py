"""Dot graphics whose layout no document tells: drawn under every hypothesis and ranked by what hangs together.

The measure is how many bits it takes to write each dot down when its four neighbours are known.  It does not change
when a whole picture is mirrored or turned over, so a content that cannot tell one layout from its mirror image leaves
both with the same figure; only known text, or a join between two passes of the head, tells them apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import lgamma, log, log2
from typing import TYPE_CHECKING, Any

from latchlore.base import Origin, Progress, Unsupported, no_progress
from latchlore.device._wording import describe_guess, describe_layout, describe_layouts

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from latchlore.device._reading import Reading

MAX_DATA = 1 << 20
MAX_UNIT_BYTES = 4
MAX_ROW_LENGTHS = 64
LEAST_ROW_BYTES = 4
"""Rows of fewer dots than 32 are not tried (a judgement): they would be the columns of one pass laid end to end."""

TIE_BITS = 16.0
"""Layouts that are no further apart than this are not told apart.

Neighbours are counted from both sides, so a bit here is worth less than a bit of evidence; the figure was set so that
of 400 pictures of a few rectangles (tests/deep) at most two are decided wrongly.
"""

_TEXT_ERRORS = 0.1
"""Share of dots in which a lettering may differ from our 5 by 7 letters and still count for the text."""


@dataclass(frozen=True, slots=True)
class Layout:
    """How blocks of data become dots.

    `by_column`: a unit of `unit_bytes` bytes is a column, the first byte uppermost, and each block is one pass of the
    head; else it is a row.  `high_first`: the highest bit is the uppermost (leftmost) dot.  `step`: dots that the paper
    is fed from one pass (or row) to the next.
    """

    by_column: bool
    high_first: bool
    unit_bytes: int
    step: int

    def __str__(self) -> str:
        return describe_layout(self)


@dataclass(frozen=True, slots=True)
class LayoutGuess:
    """A layout and how well the picture hangs together under it.

    `bits`: for all dots when their neighbours are known, less what the text explains; the fewer the better.
    `text_share`: share of the dots of the known text that are found at the best place, None where no text was given.
    `worse_by`: bits behind the best.
    """

    layout: Layout
    bits: float
    text_share: float | None
    worse_by: float

    def __str__(self) -> str:
        return describe_guess(self)


@dataclass(frozen=True, slots=True)
class LayoutRanking:
    """Every layout, best first, and what cannot be told.

    `tied`: those within 16 bits of the best, it included.  `same_picture`: the tied ones that make the very same
    picture as the best; `mirrored`: those that make its mirror image (left to right, top to bottom, or both).
    """

    guesses: tuple[LayoutGuess, ...]
    tied: tuple[Layout, ...]
    same_picture: tuple[Layout, ...]
    mirrored: tuple[Layout, ...]

    @property
    def is_decided(self) -> bool:
        """Whether one layout stands alone."""
        return len(self.tied) == 1

    def __str__(self) -> str:
        return describe_layouts(self)


def rank_layouts(
    blocks: Sequence[bytes],
    steps: Sequence[int] = (),
    text: str = "",
    progress: Progress = no_progress,
) -> LayoutRanking:
    """Rank every layout of the data of dot graphics, one block for each command, in the order sent.

    `steps`: the line steps in dots that are possible between passes of columns; default around the height of a column.
    `text`: lettering known to stand somewhere in the picture.  Refuses no data at all, and more than a megabyte.
    """
    size = sum(map(len, blocks))
    if not size or size > MAX_DATA:
        words = f"a layout is sought for 1 to {MAX_DATA} bytes of graphics, not {size}"
        raise Unsupported(Origin("the graphics"), words)
    layouts = list(iter_layouts(blocks, steps))
    scored = []
    for count, layout in enumerate(layouts):
        progress(count, len(layouts), "trying layouts")
        scored.append((layout, *_score(blocks, layout, text)))
    least = min(bits for _, bits, _ in scored)
    guesses = [LayoutGuess(layout, bits, share, bits - least) for layout, bits, share in scored]
    guesses.sort(key=lambda guess: (round(guess.bits, 6), not guess.layout.by_column, guess.layout.unit_bytes))
    tied = [guess.layout for guess in guesses if guess.worse_by <= TIE_BITS]
    same, mirrored = _alike(blocks, tied)
    return LayoutRanking(tuple(guesses), tuple(tied), same, mirrored)


def data_blocks(reading: Reading, command_name: str) -> tuple[bytes, ...]:
    """The data of every span of a command, in stream order.  Refuses a command without data."""
    command = reading.device.get_command(command_name)
    if not command.pattern.data_names:
        raise Unsupported(command.citation.origin, f"{command_name!r} carries no data")
    name = command.pattern.data_names[-1]
    return tuple(
        reading.data[slice(*span.data[name])] for span in reading if span.command is command and name in span.data
    )


def iter_layouts(blocks: Sequence[bytes], steps: Sequence[int] = ()) -> Iterator[Layout]:
    """Every layout that the lengths of the blocks allow: columns of 1 to 4 bytes, rows of 4 bytes or more."""
    lengths = {len(block) for block in blocks if block}
    for unit in range(1, MAX_UNIT_BYTES + 1):
        if all(length % unit == 0 for length in lengths):
            height = 8 * unit
            for step in steps or (height - 1, height, height + 1, height + 2, 3 * height // 2):
                yield from (Layout(True, high, unit, step) for high in (True, False))
    shortest = min(lengths)
    fitting = [unit for unit in range(LEAST_ROW_BYTES, shortest + 1) if all(length % unit == 0 for length in lengths)]
    if len(lengths) > 1:
        fitting.append(0)
    for unit in fitting[-MAX_ROW_LENGTHS:]:
        yield from (Layout(False, high, unit, 1) for high in (True, False))


def draw_layout(blocks: Sequence[bytes], layout: Layout) -> Any:
    """The picture as an array (rows, columns) of 0 and 1; passes that overlap are printed over each other."""
    import numpy as np

    pieces, places = _pieces(blocks, layout)
    height = max((top + piece.shape[0] for piece, top in zip(pieces, places, strict=True)), default=0)
    width = max((piece.shape[1] for piece in pieces), default=0)
    picture = np.zeros((height, width), dtype=np.uint8)
    for piece, top in zip(pieces, places, strict=True):
        picture[top : top + piece.shape[0], : piece.shape[1]] |= piece
    return picture


def _pieces(blocks: Sequence[bytes], layout: Layout) -> tuple[list[Any], list[int]]:
    """Each block as an array of dots, and the row at which it begins."""
    import numpy as np

    pieces, places, top = [], [], 0
    for block in blocks:
        if not block:
            continue
        bits = np.unpackbits(
            np.frombuffer(block, dtype=np.uint8), bitorder="big" if layout.high_first else "little"
        ).reshape(-1, 8 * (layout.unit_bytes or len(block)))
        pieces.append(bits.T if layout.by_column else bits)
        places.append(top)
        top += layout.step if layout.by_column else layout.step * len(bits)
    return pieces, places


def _score(blocks: Sequence[bytes], layout: Layout, text: str) -> tuple[float, float | None]:
    import numpy as np

    picture = np.pad(draw_layout(blocks, layout), 1)
    above, below, left, right = picture[:-2, 1:-1], picture[2:, 1:-1], picture[1:-1, :-2], picture[1:-1, 2:]
    around = above * 8 + below * 4 + left * 2 + right
    counts = np.zeros(32, dtype=np.int64)
    used = _used_bits(blocks, layout.high_first)
    for piece, top in zip(*_pieces(blocks, layout), strict=True):
        contexts = around[top : top + piece.shape[0], : piece.shape[1]] * 2 + piece
        lines = np.resize(used, piece.shape[0 if layout.by_column else 1])
        contexts = contexts[lines] if layout.by_column else contexts[:, lines]
        counts += np.bincount(contexts.ravel(), minlength=32)
    bits = sum(_cost(int(counts[2 * k]), int(counts[2 * k + 1])) for k in range(16))
    if not text:
        return bits, None
    share, gain = _find_text(picture[1:-1, 1:-1], text)
    return bits - gain, share


def _used_bits(blocks: Sequence[bytes], high_first: bool) -> Any:
    """Which of the eight dots of a byte are ever printed, in the order of the dots; the others belong to no layout."""
    import numpy as np

    every = 0
    for block in blocks:
        for byte in set(block):
            every |= byte
    return np.array([bool(every >> (7 - k if high_first else k) & 1) for k in range(8)])


def _cost(zeros: int, ones: int) -> float:
    """Bits for so many zeros and ones in any order when their share is learnt as one goes (each counts a half)."""
    start = 2 * lgamma(0.5) - lgamma(1.0)
    return (start - lgamma(zeros + 0.5) - lgamma(ones + 0.5) + lgamma(zeros + ones + 1.0)) / log(2)


def _find_text(picture: Any, text: str) -> tuple[float, float]:
    """The best share of the text's dots found at one place, and the bits that the text explains there."""
    import numpy as np

    letters = _lettering(text)
    rows, columns = picture.shape[0] - letters.shape[0] + 1, picture.shape[1] - letters.shape[1] + 1
    if rows < 1 or columns < 1:
        return 0.0, 0.0
    shape = picture.shape
    signs = np.fft.rfft2(2.0 * picture - 1, shape) * np.conj(np.fft.rfft2(2.0 * letters - 1, shape))
    agreement = np.fft.irfft2(signs, shape)[:rows, :columns]
    share = (float(agreement.max()) / letters.size + 1) / 2
    wrong = max(1 - share, 1e-9)
    if wrong > _TEXT_ERRORS:
        return share, 0.0
    entropy = -wrong * log2(wrong) - (1 - wrong) * log2(1 - wrong)
    return share, max(0.0, letters.size * (1 - entropy) - log2(rows * columns))


def _lettering(text: str) -> Any:
    """The text in our own 5 by 7 letters, cells 6 dots wide."""
    import numpy as np

    from latchlore.device._font import UNKNOWN_GLYPH, find_glyph

    picture = np.zeros((7, 6 * len(text) - 1), dtype=np.uint8)
    for index, char in enumerate(text):
        for y, row in enumerate(find_glyph(char) or UNKNOWN_GLYPH):
            for x in range(5):
                picture[y, 6 * index + x] = row >> (4 - x) & 1
    return picture


def _alike(blocks: Sequence[bytes], tied: list[Layout]) -> tuple[tuple[Layout, ...], tuple[Layout, ...]]:
    """Which of the tied layouts make the best one's picture, and which its mirror image."""
    best = draw_layout(blocks, tied[0])
    same, mirrored = [], []
    for layout in tied[1:]:
        picture = draw_layout(blocks, layout)
        if picture.shape != best.shape:
            continue
        if (picture == best).all():
            same.append(layout)
        elif any((picture == other).all() for other in (best[::-1], best[:, ::-1], best[::-1, ::-1])):
            mirrored.append(layout)
    return tuple(same), tuple(mirrored)

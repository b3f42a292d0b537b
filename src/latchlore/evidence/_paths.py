"""A captured sequence looked up in the program's tree: which paths write it, and so what the status bits were."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import ByteSequence, ByteTree, Explainer, InputBit, Path, find_reach
from latchlore.evidence import wording
from latchlore.evidence._relations import Side

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from latchlore.base import InputKind, Reach

CERTAIN = 0.95
"""A merged sequence below this confidence is too doubtful to contradict a program."""

DOUBTED = 0.002
"""A doubt of a merge from which on a path of the program that settles it is believed before a contradiction.

A judgement: were the merge right, it would be a strange accident that the program sends just what the merge doubts, of
all that it could send; and a contradiction needs an image misread or a log of something else, which are rare too.
"""

NEAR_STEPS = 200_000
"""So many steps at most are spent on all doubts of a sequence together, as many as on the sequence itself."""

MAX_PATHS = 64


@dataclass(frozen=True, slots=True)
class Lookup:
    """What came out: the side, the sentence, and what follows for the status bits.

    `held`: the input bits fixed in every explaining path, with their level; where no path writes just the sequence,
    those that every path fixes which settles a doubt of the merge.
    """

    side: Side
    words: str
    follows: tuple[str, ...] = ()
    paths: tuple[Path, ...] = ()
    held: tuple[tuple[InputBit, int], ...] = ()


def explain_sequence(sequence: ByteSequence, tree: ByteTree, sent_to: Callable[[InputKind, int], bool]) -> Lookup:
    """Look a sequence up in a tree; `sent_to` tells which writes carry its bytes (the data register)."""
    explainer = Explainer(tree, sent_to)
    found = explainer.explain(sequence.data, MAX_PATHS)
    paths: tuple[Path, ...] = found
    whole = tuple(path for path in paths if path.ends is not None)
    if paths:
        # a path that ends where the log ends explains it better than one that would have sent more
        paths = whole or paths
        held = common_bits(paths) if found.is_complete else ()  # other paths may have had other levels
        follows = []
        if held:
            follows.append(wording.bits_were(held))
        if not whole:
            follows.append(wording.GOES_ON)
        if len(paths) >= MAX_PATHS:
            follows.append(wording.many_paths(MAX_PATHS))
        elif not found.is_complete:
            follows.append(wording.SEARCH_GIVEN_UP)
        return Lookup(Side.AGREE, wording.path_found(tree.entry, len(paths)), tuple(follows), paths, held)
    near = nearest(sequence, explainer)
    if near.sequences:
        held = held_by_all(near.sequences, explainer) if near.is_complete else ()
        follows = [wording.likely(near.sequences), *([wording.bits_were(held)] if held else [])]
        return Lookup(Side.APART, wording.path_near(1, len(near.sequences)), tuple(follows), held=held)
    if not found.is_complete or not near.is_complete:
        return Lookup(Side.APART, wording.SEARCH_GIVEN_UP)
    if not tree.is_exhausted:
        return Lookup(Side.APART, wording.PATH_NOT_FOLLOWED)
    if sequence.confidence < CERTAIN:
        return Lookup(Side.APART, wording.doubtful(sequence.confidence))
    return Lookup(Side.CLASH, wording.PATH_NOT_FOUND)


def common_bits(paths: Sequence[Path]) -> tuple[tuple[InputBit, int], ...]:
    """Input bits that every path fixes to the same level, in their own order."""
    fixed = [path.held_bits() for path in paths]
    shared = {bit: level for bit, level in fixed[0].items() if all(one.get(bit) == level for one in fixed[1:])}
    return tuple(sorted(shared.items()))


def held_by_all(sequences: Sequence[bytes], explainer: Explainer) -> tuple[tuple[InputBit, int], ...]:
    """Input bits that every path of every one of the sequences fixes to one level; none where a search was given up."""
    paths: list[Path] = []
    for data in sequences:
        found = explainer.explain(data, MAX_PATHS)
        if not found.is_complete:
            return ()
        every: tuple[Path, ...] = found
        paths += tuple(path for path in every if path.ends is not None) or every
    return common_bits(paths) if paths else ()


@dataclass(frozen=True, slots=True)
class Near:
    """Sequences of the program beside a captured one; `is_complete`: every doubt of the merge was followed up."""

    sequences: tuple[bytes, ...]
    is_complete: bool


def nearest(sequence: ByteSequence, explainer: Explainer) -> Near:
    """Sequences of the program that differ from the captured one only where the merge itself doubts.

    Tried are single changes: a byte replaced by one of its alternatives, a byte left out, and (where the merge says
    that one may be missing) any byte put in.  What no walk allows, whatever its conditions, is not tried; the rest,
    the likeliest first, within `NEAR_STEPS`.
    """
    reach = find_reach(explainer.tree, sequence.data, explainer.belongs)
    doubts = sorted(_doubts(sequence, reach), key=lambda doubt: -doubt[0])
    found: dict[bytes, None] = {}
    left = NEAR_STEPS
    is_complete = True
    for _, one in doubts:
        if left <= 0:
            return Near(tuple(found), is_complete=False)
        paths = explainer.explain(one, 1, left)
        left -= paths.steps
        if paths:
            found[one] = None
        elif not paths.is_complete:
            is_complete = False
    return Near(tuple(found), is_complete)


def _doubts(sequence: ByteSequence, reach: Reach) -> Iterator[tuple[float, bytes]]:
    """Each single change that the merge doubts and a walk may allow, with its probability."""
    data = sequence.data
    for k, item in enumerate(sequence.items):
        for value, chance in item.alternatives:
            if reach.replaced.get(value, 0) >> k & 1:
                yield chance, data[:k] + bytes([value]) + data[k + 1 :]
        gone = 1 - item.confidence - sum(chance for _, chance in item.alternatives)
        if gone > DOUBTED and reach.left_out >> k & 1:
            yield gone, data[:k] + data[k + 1 :]
        if item.missing_before > DOUBTED:
            for value, places in sorted(reach.put_in.items()):
                if places >> k & 1:
                    yield item.missing_before, data[:k] + bytes([value]) + data[k:]
    if sequence.missing_after > DOUBTED:
        for value, places in sorted(reach.put_in.items()):
            if places >> len(data) & 1:
                yield sequence.missing_after, data + bytes([value])

"""A captured sequence looked up in the program's tree: which paths write it, and so what the status bits were."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.base import ByteSequence, ByteTree, InputBit, Path
from latchlore.evidence import wording
from latchlore.evidence._relations import Side

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from latchlore.base import InputKind

CERTAIN = 0.95
"""A merged sequence below this confidence is too doubtful to contradict a program."""

DOUBTED = 0.002
"""A doubt of a merge from which on a path of the program that settles it is believed before a contradiction.

A judgement: were the merge right, it would be a strange accident that the program sends just what the merge doubts, of
all that it could send; and a contradiction needs an image misread or a log of something else, which are rare too.
"""

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
    found = tree.explain(sequence.data, sent_to, MAX_PATHS)
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
    near = nearest(sequence, tree, sent_to)
    if near:
        held = held_by_all(near[1], tree, sent_to)
        follows = [wording.likely(near[1]), *([wording.bits_were(held)] if held else [])]
        return Lookup(Side.APART, wording.path_near(near[0], len(near[1])), tuple(follows), held=held)
    if not found.is_complete:
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


def held_by_all(
    sequences: Sequence[bytes], tree: ByteTree, sent_to: Callable[[InputKind, int], bool]
) -> tuple[tuple[InputBit, int], ...]:
    """Input bits that every path of every one of the sequences fixes to one level; none where a search was given up."""
    paths: list[Path] = []
    for data in sequences:
        found = tree.explain(data, sent_to, MAX_PATHS)
        if not found.is_complete:
            return ()
        every: tuple[Path, ...] = found
        paths += tuple(path for path in every if path.ends is not None) or every
    return common_bits(paths) if paths else ()


def nearest(
    sequence: ByteSequence, tree: ByteTree, sent_to: Callable[[InputKind, int], bool], max_tries: int = 2000
) -> tuple[int, tuple[bytes, ...]] | None:
    """Sequences of the program that differ from the captured one only where the merge itself doubts.

    Tried are single changes: a byte replaced by one of its alternatives, a byte left out, and (where the merge says
    that one may be missing) any byte put in.  Returns (1, the sequences that have a path), or None.
    """
    data = sequence.data
    tries: list[bytes] = []
    for k, item in enumerate(sequence.items):
        tries += [data[:k] + bytes([value]) + data[k + 1 :] for value, _ in item.alternatives]
        if item.confidence < 1 - DOUBTED:
            tries.append(data[:k] + data[k + 1 :])
        if item.missing_before > DOUBTED:
            tries += [data[:k] + bytes([value]) + data[k:] for value in sorted(tree.possible_bytes(sent_to))]
    if sequence.missing_after > DOUBTED:
        tries += [data + bytes([value]) for value in sorted(tree.possible_bytes(sent_to))]
    found = tuple(dict.fromkeys(one for one in tries[:max_tries] if tree.explain(one, sent_to, 1)))
    return (1, found) if found else None

"""Which commands the program can send: each pattern is asked once of each tree, however many manuals have it."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from latchlore.base import ByteTree, InputKind, SignalRole

Pattern = tuple[frozenset[int], ...]


class Sender:
    """What the trees of a program write to the data register; `data` are the roles that say where that is.

    `is_exhausted`: whether every path of every tree was followed, so that "never" may be said.
    """

    def __init__(self, trees: Sequence[ByteTree], data: Sequence[SignalRole]) -> None:
        @functools.cache
        def is_data(kind: InputKind, address: int) -> bool:
            return any(role.kind is kind and address in role.addresses for role in data)

        self._is_data: Callable[[InputKind, int], bool] = is_data
        self._trees = [(tree, tree.possible_bytes(is_data)) for tree in trees]
        self._known: dict[Pattern, bool] = {}
        self.is_exhausted = all(tree.is_exhausted for tree in trees)

    def can_send(self, pattern: Pattern) -> bool:
        """Whether some tree may write the pattern's bytes one after another."""
        found = self._known.get(pattern)
        if found is None:
            found = self._known[pattern] = any(
                # A tree that has no byte at all for one of the places need not be walked.
                all(able & wanted for wanted in pattern) and tree.can_emit(pattern, self._is_data)
                for tree, able in self._trees
            )
        return found

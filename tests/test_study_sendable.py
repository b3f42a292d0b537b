"""What the program can send, over many trees and patterns, against every string that a walk writes."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from latchlore.base import AddressSet, ByteTree, InputKind, SignalRole
from latchlore.study._sendable import Sender
from tests.test_base_bytetree import DATA, trees, windows

ROLES = (
    SignalRole("DATA", InputKind.MEMORY, AddressSet.of((DATA,), 16), "write"),
    SignalRole("DATA", InputKind.PORT, AddressSet.of((0xC802,), 16), "write"),
)
patterns = st.lists(st.frozensets(st.integers(1, 6), min_size=1, max_size=3), min_size=1, max_size=3).map(tuple)


@settings(max_examples=200, deadline=None)
@given(st.lists(trees(), min_size=1, max_size=3), st.lists(patterns, min_size=1, max_size=6))
def test_can_send(several: list[ByteTree], asked: list[tuple[frozenset[int], ...]]) -> None:
    """The first answer and the remembered one are those of the strings; writes elsewhere and at ports do not count."""
    sender = Sender(several, ROLES)
    for pattern in (*asked, *reversed(asked)):
        size = len(pattern)
        wanted = any(
            len(text) >= size and all(value in one for value, one in zip(text[-size:], pattern, strict=True))
            for tree in several
            for text in windows(tree, size)
        )
        assert sender.can_send(pattern) == wanted
    assert sender.is_exhausted == all(tree.is_exhausted for tree in several)

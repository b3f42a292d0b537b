"""Which joints differ between two versions of a board: nets are told by their pins, not by their names."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.base import Origin
    from latchlore.board._board import Board, Net, PinAt


@dataclass(frozen=True, slots=True)
class Joint:
    """A net of which pins go or come; `net` is the new name, or the old one of a net that is gone."""

    net: str
    goes: tuple[PinAt, ...]
    comes: tuple[PinAt, ...]
    old_origin: Origin | None
    new_origin: Origin | None

    @property
    def words(self) -> str:
        """``net sel: u3.1 goes, u3.2 comes``."""
        parts = [f"{', '.join(str(at) for at in pins)} {verb}" for verb, pins in self._verbs() if pins]
        return f"net {self.net}: {', '.join(parts)}"

    def _verbs(self) -> tuple[tuple[str, tuple[PinAt, ...]], ...]:
        many = (len(self.goes) > 1, len(self.comes) > 1)
        return (("go" if many[0] else "goes", self.goes), ("come" if many[1] else "comes", self.comes))


def iter_joints(old: Board, new: Board) -> Iterator[Joint]:
    """Every net that differs, in the new board's order, then nets that are gone.

    A net of the new board continues the net of the old one with which it shares most pins (ground and supply always
    themselves); the larger share takes precedence, then the order of the files.
    """
    before, after = list(old.nets), list(new.nets)
    taken = _continued(before, after)
    for b, net in enumerate(after):
        one = before[taken[b]] if b in taken else None
        found = _joint(one, net)
        if found is not None:
            yield found
    gone = set(range(len(before))) - set(taken.values())
    for a in sorted(gone):
        found = _joint(before[a], None)
        if found is not None:
            yield found


def _continued(before: list[Net], after: list[Net]) -> dict[int, int]:
    owner = {at: a for a, net in enumerate(before) for at in net.pins}
    shares: dict[tuple[int, int], int] = {}
    for b, net in enumerate(after):
        for at in net.pins:
            if at in owner:
                shares[owner[at], b] = shares.get((owner[at], b), 0) + 1
    rails = {net.name: a for a, net in enumerate(before) if net.name in ("gnd", "vcc")}
    taken = {b: rails[net.name] for b, net in enumerate(after) if net.name in rails}
    used = set(rails.values())
    closed = {b for b, net in enumerate(after) if net.name in ("gnd", "vcc")}
    order = sorted(shares, key=lambda pair: (-shares[pair], before[pair[0]].name != after[pair[1]].name, *pair))
    for a, b in order:
        if a not in used and b not in taken and b not in closed:
            taken[b] = a
            used.add(a)
    return taken


def _joint(old: Net | None, new: Net | None) -> Joint | None:
    before = set(old.pins) if old is not None else set()
    after = set(new.pins) if new is not None else set()
    goes, comes = tuple(sorted(before - after)), tuple(sorted(after - before))
    if not goes and not comes:
        return None
    name = new.name if new is not None else old.name if old is not None else ""
    return Joint(name, goes, comes, old.origin if old is not None else None, new.origin if new is not None else None)

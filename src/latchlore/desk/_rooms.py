"""The rooms of the desk, in the order in which the pages list them.

A room is a file `_room_NAME.py` with one function `routes(desk)`; a new one is one more line here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.desk import (
    _room_board,
    _room_devices,
    _room_enter,
    _room_paper,
    _room_program,
    _room_record,
    _room_table,
    _room_wire,
    wording,
)
from latchlore.desk._desk import Room

if TYPE_CHECKING:
    from starlette.routing import Route

    from latchlore.desk._desk import Desk

_MADE = (
    ("", _room_table),
    ("board", _room_board),
    ("program", _room_program),
    ("wire", _room_wire),
    ("paper", _room_paper),
    ("devices", _room_devices),
    ("record", _room_record),
    ("enter", _room_enter),
)

ROOMS = tuple(Room(path, *wording.ROOMS[path or "table"]) for path, _ in _MADE)


def routes(desk: Desk) -> list[Route]:
    """All addresses of all rooms."""
    return [route for _, room in _MADE for route in room.routes(desk)]

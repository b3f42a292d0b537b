"""The board witness: parts, nets, decode and register map."""

from latchlore.board._board import (
    Board,
    Connector,
    ConnectorPin,
    Cycle,
    Direction,
    Doubt,
    Net,
    Part,
    PinAt,
    Pull,
    Strap,
)
from latchlore.board._catalogue import FAMILIES, find_type, get_type, iter_types, split_type
from latchlore.board._decode import decode
from latchlore.board._electrical import Electrical, electrical_of, fan_out, get_electrical, margins, pull_up_range
from latchlore.board._levels import Levels
from latchlore.board._netfile import parse_board, parse_netlist, read_board
from latchlore.board._parts import Block, Capture, PartType, Pin, Role, Timing
from latchlore.board._registermap import (
    Conflict,
    PinDrive,
    Reach,
    Register,
    RegisterBit,
    RegisterKind,
    RegisterMap,
    Trouble,
)
from latchlore.board.testify import data_registers, register_roles, testify

__all__ = [
    "FAMILIES",
    "Block",
    "Board",
    "Capture",
    "Conflict",
    "Connector",
    "ConnectorPin",
    "Cycle",
    "Direction",
    "Doubt",
    "Electrical",
    "Levels",
    "Net",
    "Part",
    "PartType",
    "Pin",
    "PinAt",
    "PinDrive",
    "Pull",
    "Reach",
    "Register",
    "RegisterBit",
    "RegisterKind",
    "RegisterMap",
    "Role",
    "Strap",
    "Timing",
    "Trouble",
    "data_registers",
    "decode",
    "electrical_of",
    "fan_out",
    "find_type",
    "get_electrical",
    "get_type",
    "iter_types",
    "margins",
    "parse_board",
    "parse_netlist",
    "pull_up_range",
    "read_board",
    "register_roles",
    "split_type",
    "testify",
]

"""Figures of tracing: how sure a reading is, and which pins belong together by what they do.

All of them are *common practice* of two-layer boards with 74-series logic, set down by hand; nothing here was fitted
to a particular board.  A row of `COMPANY` says, for a pin of one kind, how its net is likely to be headed: shares of
one whole, each spread over the pins of that kind on the board.  A net's *head* is the pin that gives it its level.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final


class Kind(StrEnum):
    """What a pin is to its net.  The order is that of heads: a net is headed by its earliest kind."""

    GROUND = "ground"
    SUPPLY = "supply"
    DECODED = "decoder output"
    GATED = "gate output"
    STORED = "output of a store"
    HOST_DATA = "host data line"
    HOST_ADDRESS = "host address line"
    HOST_CONTROL = "host control line"
    DRIVER = "three-state output"
    BOTH_WAYS = "two-way pin"
    OPEN_COLLECTOR = "open-collector output"
    PLUG = "connector pin"
    UNKNOWN = "pin of an unknown chip"
    LEGS = "leg of a passive part"
    STRAP = "strap pin"
    DATA_IN = "data input of a store"
    DRIVER_IN = "data input of a driver"
    SELECT = "select input"
    COMPARED = "compared input"
    ENABLE = "enable input"
    CLOCK = "clock input"
    CLEAR = "clear or load input"
    GATE_IN = "gate input"
    IDLE = "pin without connection"


K = Kind

COMPANY: Final[dict[Kind, dict[Kind, float]]] = {
    K.GROUND: {K.GROUND: 0.995},
    K.SUPPLY: {K.SUPPLY: 0.995},
    K.HOST_DATA: {K.GATED: 0.005, K.STORED: 0.005},
    K.HOST_ADDRESS: {K.GATED: 0.003},
    K.HOST_CONTROL: {K.GATED: 0.06, K.STORED: 0.02, K.HOST_CONTROL: 0.01, K.SUPPLY: 0.01, K.GROUND: 0.01},
    K.PLUG: {
        K.STORED: 0.22, K.GATED: 0.14, K.DECODED: 0.02, K.GROUND: 0.10, K.SUPPLY: 0.02, K.HOST_DATA: 0.02,
        K.HOST_CONTROL: 0.02, K.HOST_ADDRESS: 0.01, K.PLUG: 0.01, K.DRIVER: 0.10, K.BOTH_WAYS: 0.05,
        K.OPEN_COLLECTOR: 0.08,
    },
    K.DRIVER: {K.HOST_DATA: 0.60, K.DRIVER: 0.08, K.HOST_CONTROL: 0.03},
    K.BOTH_WAYS: {K.HOST_DATA: 0.50, K.DRIVER: 0.12, K.BOTH_WAYS: 0.10, K.STORED: 0.02},
    K.OPEN_COLLECTOR: {K.HOST_CONTROL: 0.20, K.OPEN_COLLECTOR: 0.10, K.HOST_DATA: 0.02},
    K.UNKNOWN: {
        K.HOST_DATA: 0.12, K.HOST_ADDRESS: 0.10, K.HOST_CONTROL: 0.08, K.PLUG: 0.05, K.STORED: 0.08, K.GATED: 0.12,
        K.DECODED: 0.06, K.GROUND: 0.10, K.SUPPLY: 0.10, K.DRIVER: 0.05, K.UNKNOWN: 0.02,
    },
    K.LEGS: {
        K.SUPPLY: 0.35, K.GROUND: 0.15, K.GATED: 0.06, K.STORED: 0.06, K.PLUG: 0.12, K.HOST_CONTROL: 0.02,
        K.OPEN_COLLECTOR: 0.10, K.LEGS: 0.05,
    },
    K.STRAP: {
        K.GROUND: 0.40, K.SUPPLY: 0.08, K.HOST_CONTROL: 0.06, K.DECODED: 0.04, K.GATED: 0.05, K.STORED: 0.05,
        K.LEGS: 0.05, K.STRAP: 0.02, K.HOST_ADDRESS: 0.05,
    },
    K.DATA_IN: {
        K.OPEN_COLLECTOR: 0.02, K.HOST_CONTROL: 0.02, K.HOST_DATA: 0.48, K.STORED: 0.12, K.GATED: 0.10,
        K.PLUG: 0.06, K.GROUND: 0.03, K.SUPPLY: 0.05,
        K.BOTH_WAYS: 0.04, K.DRIVER: 0.05, K.DECODED: 0.01,
    },
    K.DRIVER_IN: {
        K.OPEN_COLLECTOR: 0.02, K.DRIVER: 0.08, K.DECODED: 0.02, K.PLUG: 0.31, K.STORED: 0.20, K.GATED: 0.11,
        K.STRAP: 0.05, K.HOST_DATA: 0.06, K.HOST_ADDRESS: 0.03,
        K.GROUND: 0.06, K.SUPPLY: 0.03, K.BOTH_WAYS: 0.02,
    },
    K.SELECT: {
        K.HOST_ADDRESS: 0.68, K.STORED: 0.10, K.HOST_CONTROL: 0.08, K.GATED: 0.05, K.GROUND: 0.05, K.SUPPLY: 0.02,
    },
    K.COMPARED: {
        K.HOST_ADDRESS: 0.40, K.DECODED: 0.03, K.PLUG: 0.03, K.HOST_CONTROL: 0.03, K.STRAP: 0.20, K.GROUND: 0.10,
        K.SUPPLY: 0.08, K.STORED: 0.06, K.GATED: 0.03,
    },
    K.ENABLE: {
        K.OPEN_COLLECTOR: 0.03, K.BOTH_WAYS: 0.01, K.DRIVER: 0.03, K.GATED: 0.28, K.DECODED: 0.26, K.GROUND: 0.16,
        K.HOST_CONTROL: 0.13, K.SUPPLY: 0.06, K.HOST_ADDRESS: 0.04,
        K.STORED: 0.03,
    },
    K.CLOCK: {
        K.OPEN_COLLECTOR: 0.03, K.BOTH_WAYS: 0.01, K.DRIVER: 0.03, K.GATED: 0.33, K.DECODED: 0.26,
        K.HOST_CONTROL: 0.16, K.STORED: 0.10, K.PLUG: 0.06, K.GROUND: 0.02,
        K.SUPPLY: 0.01,
    },
    K.CLEAR: {
        K.DRIVER: 0.02, K.SUPPLY: 0.32, K.HOST_CONTROL: 0.22, K.GATED: 0.20, K.DECODED: 0.10, K.STORED: 0.05,
        K.GROUND: 0.06,
        K.PLUG: 0.02,
    },
    K.GATE_IN: {
        K.OPEN_COLLECTOR: 0.03, K.BOTH_WAYS: 0.01, K.GATED: 0.25, K.DECODED: 0.12, K.DRIVER: 0.05, K.STORED: 0.14,
        K.HOST_CONTROL: 0.18, K.HOST_ADDRESS: 0.08, K.PLUG: 0.06,
        K.GROUND: 0.05, K.SUPPLY: 0.04, K.HOST_DATA: 0.01,
    },
    K.IDLE: {K.GROUND: 0.01, K.SUPPLY: 0.01},
}  # fmt: skip
"""Shares of heads for each kind of pin; what is missing to one is the share of a net that it heads itself."""

INPUTS: Final = (
    K.DATA_IN, K.DRIVER_IN, K.SELECT, K.COMPARED, K.ENABLE, K.CLOCK, K.CLEAR, K.GATE_IN,
)  # fmt: skip
"""Kinds that want a driver."""

DRIVES: Final = tuple(Kind)[: tuple(Kind).index(K.STRAP) + 1]
"""Kinds that give a net its level, or may."""

SPENDS: Final = (K.DECODED, K.GATED, K.STORED, K.DRIVER, K.BOTH_WAYS, K.OPEN_COLLECTOR, K.PLUG)
"""Kinds whose net usually has one or two loads."""

LOADED: Final = 0.4
"""How likely one of `SPENDS` gets a further load, against one that has none yet."""

SELDOM: Final = 0.01
"""Least share of an input's net for every kind of driver, against the table."""

STRAY: Final = 0.002
"""The same for every other pair of kinds."""

UNDRIVEN: Final = 0.03
"""Share of inputs that nothing drives."""

TOGETHER: Final = 0.0001
"""Share of inputs that stand in the net of one other input that nothing drives."""

TABLE_WEIGHS: Final = 12.0
"""Pins of a kind that the table counts for beside what is seen on the board itself."""

KIND_WEIGHS: Final = 2.0
"""Pins of a port that its kind's shares count for beside what is seen of the port itself."""

IN_ORDER: Final = 4.0
"""How much likelier a host's data or address line goes to the pin of a port that has its place in the order."""

OWN_SECTION: Final = 0.05
"""How much seldomer an output feeds an input of its own section than any other."""

IN_STEP: Final = 30.0
"""How much likelier a joint becomes when its neighbours of the same two ports are joined in step."""

IN_REVERSE: Final = 5.0
MOST_STEP: Final = 60.0
"""Most that all joints of two ports together add."""

SAME_PORTS: Final = 2.0
SAME_PORT_TWICE: Final = 0.03
"""Two pins of one port on one net: rare, save for spare sections tied together."""

NEAR: Final = 1.6
"""Parts side by side, against parts at two ends of the board (1 / NEAR), for nets that are no bus."""

MISSED_BEEP: Final = 0.004
"""Share of joints that a sweep passes over: a dirty pin, a beep not typed."""

ASK_AT_MOST: Final = 4
"""Readings between two groups that find nothing, after which the guide asks no more."""

FALSE_BEEP: Final = 0.0006
"""Share of pins not joined that a sweep names: the neighbour's number typed, a slipped probe."""

JOINT_OHMS: Final = 2.0
"""Most ohms that are copper and the meter's own leads; above it a reading is no joint."""

BACKED: Final = 10.0
"""How much likelier a joint is where a strip over one of its ends and a row beside was heard too."""

JOINT_HOLDS: Final = 1.25
"""Missed beeps that a joint is believed against, beyond its own likelihood, when the likeliest wrong reading is named.

Fitted on invented boards (`tests/traceboards.py`, seeds 700 to 739 and 816 to 850).
"""

SLIPPED: Final = 2.7
"""How much likelier a silence is wrong where the pin beside beeped in the same sweep: its number typed instead.

Seen on the same boards.
"""

STOP_BELOW: Final = 0.0005
"""The guide stops where no sweep is expected to find this many joints."""

BELIEVED: Final = 0.9
"""Nets do not rest on a joint that is less likely than this."""

SURE: Final = 0.99
"""A joint less likely than this is read once more, and doubted where that did not help."""

STAYS: Final = 1.3
"""How much more a strip is worth where it lies already."""

RING_WORTH: Final = 1.0
"""Bits that closing a ring is worth to a sweep that would have been made anyhow."""

CONFIRM_AT_ONCE: Final = 0.8
"""A joint less likely than this after its reading is read again before anything else."""

BITS_OF_AN_ACTION: Final = 1.8
LAST_LOOKS: Final = 0.25
"""What an action tells on average, and looks a pin that find next to nothing: for the estimate of the actions left."""

SHOWN_SLOPE: Final = 0.72
SHOWN_SHIFT: Final = -0.55
"""Log odds that are shown, of those reckoned: fitted on invented boards (`tests/traceboards.py`, seeds 100 to 111).

The reckoning takes pins as independent that are not, and so is too sure.  `scripts/bench trace` shows the curve on
other boards.
"""

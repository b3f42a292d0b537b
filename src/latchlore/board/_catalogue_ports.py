"""Programmable port chips and serial chips as catalogue rows, built from their facts; and the 8212.

Each register inside is a block of its own: it takes the data pins where the chip is written with that register
selected, and drives them where it is read.  Pins that a program can turn round are driven by their latch, as far as a
program has said so.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from latchlore.board import _functions as f
from latchlore.board._levels import fall, mux
from latchlore.board._parts import Capture, PartType, Role, Timing
from latchlore.board._rows import Does, row
from latchlore.board.chipfacts import CHIPS

if TYPE_CHECKING:
    from collections.abc import Callable

    from latchlore.board._chipparts import Chip, Inner

_DATA = " ".join(f"D{k}" for k in range(8))
_Z = Role.THREE_STATE
_OC = Role.OPEN_COLLECTOR


def _keep(_before: Any, _now: Any, state: Any) -> Any:
    """Nothing in one access forces the state."""
    return state


def _bus_pins(chip: Chip) -> list[str]:
    bus = chip.bus
    strobes = [bus.clock, bus.rw] if bus.clock else [*bus.reads, *bus.writes]
    return [*bus.high, *bus.low, *chip.selects, *strobes]


def _condition(chip: Chip, inner: Inner) -> Callable[[dict[str, Any]], Any]:
    """Selected, with this register's code on the select pins; without the strobes."""
    bus = chip.bus
    wanted = [(pin, 1) for pin in bus.high] + [(pin, 0) for pin in bus.low]
    wanted += [(pin, int(c)) for pin, c in zip(chip.selects, inner.code, strict=True) if c != "x"]

    def holds(at: dict[str, Any]) -> Any:
        return f.all_of(*(at[pin] if level else ~at[pin] for pin, level in wanted))

    return holds


def _enable(chip: Chip, inner: Inner) -> Callable[..., Any]:
    """Where the register drives the data pins."""
    pins, holds, bus = _bus_pins(chip), _condition(chip, inner), chip.bus

    def enable(*i: Any) -> Any:
        at = dict(zip(pins, i, strict=False))
        if bus.clock:
            return holds(at) & at[bus.clock] & at[bus.rw]
        return holds(at) & f.any_of(*(~at[pin] if pin[0] == "/" else at[pin] for pin in bus.reads))

    return enable


def _captures(chip: Chip, inner: Inner, bits: list[tuple[int, int]]) -> tuple[Capture, ...]:
    """State bit by data bit: (state, data bit); the data pins stand first among the inputs, the bus pins after."""
    pins, holds, bus = _bus_pins(chip), _condition(chip, inner), chip.bus

    def taken(strobe: str) -> Callable[..., Any]:
        def enable(*i: Any) -> Any:
            at = dict(zip(pins, i[8:], strict=False))
            if bus.clock:
                return holds(at) & ~at[bus.rw]
            others = [at[p] if p[0] == "/" else ~at[p] for p in bus.writes if p != strobe]
            return f.all_of(holds(at), *others)

        return enable

    found = []
    for strobe in [bus.clock] if bus.clock else bus.writes:
        timing = Timing.RISE if strobe[0] == "/" else Timing.FALL
        clock = 8 + pins.index(strobe)
        found += [Capture(state, bit, clock, timing, taken(strobe)) for state, bit in bits]
    return tuple(found)


def _shown(inner: Inner, first: int) -> Callable[..., Any]:
    """What a read shows: the state, but for the bits that show a pin (inputs from `first` on)."""

    def function(inputs: Any, state: Any) -> Any:
        values = list(state)
        for k, (bit, _, inverted) in enumerate(inner.shows):
            values[bit] = ~inputs[first + k] if inverted else inputs[first + k]
        return tuple(values)

    return function


def _register_blocks(chip: Chip, inner: Inner) -> list[Does]:
    common = " ".join(_bus_pins(chip))
    count = len(_bus_pins(chip))
    name, names = f"{inner.name}", inner.bits
    if inner.port:
        # A program's word goes to the latch behind the pins, a read shows the pins.
        have = [k for k in range(8) if f"{inner.port}{k}" in chip.pins.split()]
        ports = " ".join(f"{inner.port}{k}" for k in have)
        spare = [k for k in range(8) if k not in have]

        def pins(*i: Any) -> Any:
            return i[count : count + len(have)]

        shown = " ".join(f"D{k}" for k in range(8) if k not in spare)
        return [Does(f"{common} {ports}", shown, pins, _Z, _enable(chip, inner), inner=name, masked=chip.masked)]
    more: dict[str, Any] = {"states": 8, "step": _keep, "inner": name, "bits": names, "masked": chip.masked}
    captures = _captures(chip, inner, [(k, k) for k in range(8)]) if "w" in inner.access else ()
    if "r" not in inner.access:
        return [Does(f"{_DATA} {common}", "", lambda _i, _s: (), captures=captures, **more)]
    enable = _enable(chip, inner)
    seen = " ".join(pin for _, pin, _ in inner.shows)
    if not captures:
        return [Does(f"{common} {seen}", _DATA, _shown(inner, count), _Z, enable, **more)]
    return [
        Does(
            f"{_DATA} {common}",
            _DATA,
            f.show_state,
            _Z,
            lambda *i: enable(*i[8:]),
            captures=captures,
            **more,
        )
    ]


def _port_blocks(chip: Chip) -> list[Does]:
    """The latch of every port, behind the pins: one block however many registers reach it."""
    common = " ".join(_bus_pins(chip))
    found = []
    for stem in dict.fromkeys(inner.port for inner in chip.inners if inner.port):
        have = [k for k in range(8) if f"{stem}{k}" in chip.pins.split()]
        captures: list[Capture] = []
        name = ""
        for inner in chip.inners:
            if inner.port == stem:
                name = name or inner.name
                captures += _captures(chip, inner, [(n, k) for n, k in enumerate(have)])
        found.append(
            Does(
                f"{_DATA} {common}",
                " ".join(f"{stem}{k}" for k in have),
                f.show_state,
                _Z,
                states=len(have),
                step=_keep,
                captures=tuple(captures),
                inner=name,
                programmed=True,
                masked=chip.masked,
            )
        )
    return found


def _single_blocks(chip: Chip) -> list[Does]:
    """Output pins by themselves: set by one bit of a register, or by what goes on inside."""
    common = " ".join(_bus_pins(chip))
    found = []
    driven = set()
    for inner in chip.inners:
        for bit, pin, inverted, _ in inner.drives:
            driven.add(pin)
            found.append(
                Does(
                    f"{_DATA} {common}",
                    pin,
                    f.show_inverted if inverted else f.show_state,
                    _Z if pin in chip.both else Role.OUTPUT,
                    states=1,
                    step=_keep,
                    captures=_captures(chip, inner, [(0, bit)]),
                    inner=pin,
                    programmed=pin in chip.both,
                    masked=chip.masked,
                )
            )
    free = [(pin, pin) for pin in chip.both if pin in chip.pins.split() and pin not in driven]
    for pin, shows in (*chip.outputs, *free):
        drive = _OC if pin in chip.open_drain else _Z if pin in chip.both else Role.OUTPUT
        more: dict[str, Any] = {"states": 1, "step": _keep, "inner": shows, "programmed": pin in chip.both}
        found.append(Does(common, pin, f.show_state, drive, **more))
    return found


def _chip_row(chip: Chip) -> PartType:
    blocks = [block for inner in chip.inners for block in _register_blocks(chip, inner)]
    return row(
        chip.name,
        chip.title,
        chip.pins,
        blocks,
        _port_blocks(chip),
        _single_blocks(chip),
        source=chip.source,
        analog=chip.analog,
    )


# --- 8212 (Intel; pins 1-8 and 17-24 read in a public header, 9-16 from memory; modes read in two teaching pages) ---

_8212_BUS = "/DS1 DS2 MD STB /CLR"


def _open_8212(ds1: Any, ds2: Any, md: Any, stb: Any) -> Any:
    """MD low: the strobe opens the latch; MD high: the select does."""
    return (~md & stb) | (md & ~ds1 & ds2)


def _step_8212(_before: Any, now: Any, state: Any) -> Any:
    """D, /DS1, DS2, MD, STB, /CLR."""
    gate = _open_8212(*now[1:5])
    return (mux(gate, state[0] & now[5], now[0]),)


def _enable_8212(*i: Any) -> Any:
    """MD high: always on; else where selected."""
    return i[3] | (~i[1] & i[2])


def _step_request(before: Any, now: Any, state: Any) -> Any:
    """The service request: asked where the strobe falls, answered by the select and by clear."""
    asked = fall(before[3], now[3]) | state[0]
    return (asked & ~(~now[0] & now[1]) & now[4],)


def _show_request(now: Any, state: Any) -> Any:
    return (~(state[0] | (~now[0] & now[1])),)


_8212_CAPTURES = (
    Capture(0, 0, 4, Timing.HIGH, lambda *i: ~i[3]),
    Capture(0, 0, 1, Timing.LOW, lambda *i: i[3] & i[2]),
    Capture(0, 0, 2, Timing.HIGH, lambda *i: i[3] & ~i[1]),
)

PORTS: tuple[PartType, ...] = (
    *(_chip_row(chip) for chip in CHIPS.values()),
    row(
        "8212",
        "8-bit latch port with service request",
        "/DS1 MD DI1 DO1 DI2 DO2 DI3 DO3 DI4 DO4 STB GND DS2 /CLR DO5 DI5 DO6 DI6 DO7 DI7 DO8 DI8 /INT VCC",
        [
            Does(
                f"DI{k} {_8212_BUS}",
                f"DO{k}",
                f.show_state,
                _Z,
                _enable_8212,
                1,
                _step_8212,
                _8212_CAPTURES,
            )
            for k in range(1, 9)
        ],
        Does(_8212_BUS, "/INT", _show_request, states=1, step=_step_request),
        source="Intel 8212; pins 9 to 16 from memory",
    ),
)

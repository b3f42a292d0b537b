"""Random boards to be traced, and a bench that answers readings of them; all invented.

The boards are drawn from common practice (a host bus, decoders, latches, drivers, glue), without use of the guide's
table of pin roles: sources are drawn by what the pin's name is for, with free draws in between.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import TYPE_CHECKING

from latchlore.board import PinAt, Role, get_type, parse_board
from latchlore.board.tracing import MeterReading

if TYPE_CHECKING:
    from latchlore.board import Board

GATES = ("7400", "7402", "7404", "7408", "7410", "7411", "7420", "7427", "7430", "7432", "7486", "7414", "7438", "7406")
STORES = ("7474", "74174", "74175", "74273", "74374", "74374", "74273", "74259", "74161", "74393", "74164", "74123")
DECODERS = ("74138", "74139", "74154", "74138", "7442", "74688", "7485")
DRIVERS = ("74244", "74240", "74367", "74125", "74541", "74245", "74157", "74153", "74251")
CONTROLS = ("rw", "phi2", "devsel", "iosel", "reset", "irq", "rdy", "nmi")


@dataclass(frozen=True)
class Drawn:
    """A board's parts list, and its nets as they truly are."""

    board: Board
    nets: tuple[frozenset[PinAt], ...]

    @property
    def num_pins(self) -> int:
        """Pins of all chips and connectors."""
        return sum(len(p.type.pins) for p in self.board.parts) + sum(c.size for c in self.board.connectors)


class _Maker:
    def __init__(self, seed: int, num_chips: int | None) -> None:
        self.rng = rng = random.Random(seed)
        self.count = num_chips or rng.randint(6, 20)
        self.nets: dict[str, set[PinAt]] = {"gnd": set(), "vcc": set()}
        self.outputs: list[tuple[str, str]] = []  # (net, kind of source)
        self.fan: dict[str, int] = {}

    def types(self) -> list[str]:
        rng = self.rng
        kinds = [DECODERS, STORES, DRIVERS] + [
            rng.choices((GATES, STORES, DRIVERS, DECODERS), (5, 3, 3, 1))[0] for _ in range(self.count - 3)
        ]
        return [rng.choice(kind) for kind in kinds]

    def draw(self) -> Drawn:
        rng = self.rng
        lines = ["board drawn at random"]
        chips = self.types()
        for k, name in enumerate(chips, 1):
            spot = f"{'abcd'[(k - 1) % 4]}{(k - 1) // 4 + 1}"
            lines.append(f"part u{k} {name} {spot}")
        lines += self.host() + self.plug()
        for k, name in enumerate(chips, 1):
            self.add_outputs(f"u{k}", name)
        for k, name in enumerate(chips, 1):
            self.add_inputs(f"u{k}", name)
        self.add_plug_pins()
        nets = tuple(frozenset(pins) for pins in self.nets.values() if len(pins) > 1)
        del rng
        return Drawn(parse_board("\n".join(lines), "board/drawn.nets"), nets)

    def host(self) -> list[str]:
        rng = self.rng
        controls = rng.sample(CONTROLS, 6)
        signals = [f"a{k}" for k in range(16)] + [f"d{k}" for k in range(8)] + controls
        lines = ["plug p1 34 host"]
        for number, signal in enumerate(signals, 1):
            lines.append(f"pin p1.{number} {signal} both")
            self.nets[signal] = {PinAt("p1", number)}
        for number, rail in ((31, "gnd"), (32, "vcc"), (33, "gnd"), (34, "vcc")):
            lines.append(f"pin p1.{number} {rail}")
            self.nets[rail].add(PinAt("p1", number))
        self.controls = controls
        return lines

    def plug(self) -> list[str]:
        self.plug_size = self.rng.choice((14, 20, 26))
        for number in range(1, self.plug_size + 1):
            self.nets[f"j1-{number}"] = {PinAt("j1", number)}
        self.plug_in = set(self.rng.sample(range(1, self.plug_size + 1), self.plug_size // 3))
        return [f"plug j1 {self.plug_size} peripheral"]

    def add_outputs(self, chip: str, name: str) -> None:
        row = get_type(name)
        kind = "decoder" if name in DECODERS else "store" if name in STORES else "gate"
        for pin in row.pins:
            at = PinAt(chip, pin.number)
            if pin.role in (Role.GROUND, Role.POWER):
                self.nets["gnd" if pin.role is Role.GROUND else "vcc"].add(at)
            elif pin.role in (Role.OUTPUT, Role.OPEN_COLLECTOR):
                self.nets[str(at)] = {at}
                self.outputs.append((str(at), kind))
        three = [pin.number for pin in row.pins if pin.role in (Role.THREE_STATE, Role.BOTH)]
        self.add_buses(chip, name, three)

    def add_buses(self, chip: str, name: str, three: list[int]) -> None:
        """Three-state pins of a chip: the data bus in order, or lines of their own."""
        rng = self.rng
        order = three if name == "74245" else sorted(three, key=lambda n: get_type(name).pin(n).name.strip("/"))
        for start in range(0, len(order), 8):
            group = order[start : start + 8]
            if rng.random() < 0.65 and not (name == "74245" and start):
                offset = rng.randrange(9 - len(group)) if rng.random() < 0.3 else 0
                for k, number in enumerate(group):
                    self.nets[f"d{k + offset}"].add(PinAt(chip, number))
            else:
                for number in group:
                    at = PinAt(chip, number)
                    self.nets[str(at)] = {at}
                    self.outputs.append((str(at), "store"))

    def source(self, *wanted: str) -> str:
        """A net to drive an input: of one of the wanted kinds, seldom any at all."""
        rng = self.rng
        kind = rng.choice(wanted)
        if rng.random() < 0.08:
            kind = rng.choice(("gate", "store", "decoder", "control", "address", "plug"))
        if kind in ("gnd", "vcc"):
            return kind
        if kind == "address":
            return f"a{rng.randrange(16)}"
        if kind == "data":
            return f"d{rng.randrange(8)}"
        if kind == "control":
            return rng.choice(self.controls)
        if kind == "plug":
            return f"j1-{rng.choice(sorted(self.plug_in))}"
        nets = [net for net, what in self.outputs if what == kind] or [net for net, _ in self.outputs]
        fresh = [net for net in nets if not self.fan.get(net)]
        net = rng.choice(fresh if fresh and rng.random() < 0.7 else nets)
        self.fan[net] = self.fan.get(net, 0) + 1
        return net

    def add_inputs(self, chip: str, name: str) -> None:
        row, rng = get_type(name), self.rng
        inputs = [pin for pin in row.pins if pin.role is Role.INPUT]
        data = [p for p in inputs if p.name.strip("/0123456789") in ("D", "A", "P") or p.name[0] in "DP"]
        bus = rng.random()
        if name in ("74273", "74374", "74174", "74175", "74688") and bus < 0.75:
            letter = "a" if name == "74688" else "d"
            offset = rng.choice((0, 8)) if name == "74688" else 0
            for k, pin in enumerate(sorted(data, key=lambda p: p.name)):
                self.nets[f"{letter}{k + offset}"].add(PinAt(chip, pin.number))
            inputs = [p for p in inputs if p not in data]
        low = rng.randrange(12)
        spare = rng.random() < 0.5
        for pin in inputs:
            net = self.input_net(name, pin.name.strip("/"), low, spare)
            if net is not None:
                self.nets[net].add(PinAt(chip, pin.number))

    def input_net(self, name: str, pin: str, low: int, spare: bool) -> str | None:
        rng = self.rng
        if name in DECODERS and pin in ("A", "B", "C", "D", "1A", "1B", "2A", "2B"):
            return f"a{low + 'ABCD'.index(pin[-1])}" if rng.random() < 0.75 else self.source("address", "store", "gnd")
        if name in GATES or name in ("7485", "74688"):
            if spare and pin[0] in "46" and rng.random() < 0.6:
                return rng.choice(("gnd", "vcc", None))
            return self.source("gate", "gate", "gate", "decoder", "store", "control", "control", "address", "plug")
        if "CLK" in pin or "CP" in pin:
            return self.source("gate", "decoder", "control", "store")
        if "CLR" in pin or "PRE" in pin or "LOAD" in pin:
            return self.source("vcc", "vcc", "control", "gate")
        if "G" in pin or pin in ("OC", "EI", "ENP", "ENT", "DIR"):
            return self.source("gate", "gate", "decoder", "decoder", "control", "gnd", "gnd")
        if name in DRIVERS:
            return self.source("plug", "plug", "store", "gate")
        return self.source("data", "store", "gate", "plug", "vcc")

    def add_plug_pins(self) -> None:
        rng = self.rng
        for number in sorted(set(range(1, self.plug_size + 1)) - self.plug_in):
            at = PinAt("j1", number)
            net = rng.choice(("gnd", "gnd", None)) if rng.random() < 0.3 else self.source("store", "store", "gate")
            if net is not None:
                del self.nets[f"j1-{number}"]
                self.nets[net].add(at)


def draw(seed: int, num_chips: int | None = None) -> Drawn:
    """A random board of 6 to 20 chips, or of so many."""
    return _Maker(seed, num_chips).draw()


class Bench:
    """Answers readings of a board, a share `wrong` of the actions with a mistake (and says which)."""

    def __init__(self, drawn: Drawn, wrong: float = 0.0, seed: int = 0) -> None:
        self.rng = random.Random(seed)
        self.wrong = wrong
        self.net = {at: k for k, pins in enumerate(drawn.nets) for at in pins}
        self.mistaken: set[frozenset[PinAt]] = set()

    def joined(self, one: PinAt, other: PinAt) -> bool:
        """Whether two pins are truly joined."""
        return one in self.net and self.net[one] == self.net.get(other)

    def read(self, held: PinAt, row: tuple[PinAt, ...], strip: tuple[PinAt, ...] = ()) -> MeterReading:
        """A sweep; a mistake is a beep not typed, the next pin typed instead, or a beep from nowhere."""
        holds = strip or (held,)
        beeps = [at for at in row if any(self.joined(one, at) for one in holds)]
        if self.rng.random() < self.wrong:
            changed = set(beeps)
            if beeps:
                lost = self.rng.choice(beeps)
                changed.discard(lost)
                if self.rng.random() < 0.5 and len(row) > 1:
                    k = row.index(lost)
                    changed.add(row[k + 1] if k + 1 < len(row) else row[k - 1])
            else:
                changed.add(self.rng.choice(row))
            for at in changed ^ set(beeps):
                self.mistaken.update(frozenset((one, at)) for one in holds)
            beeps = [at for at in row if at in changed]
        return MeterReading(held, row, tuple(beeps), strip=strip)


def wrong_joints(drawn: Drawn, label: dict[PinAt, int]) -> tuple[int, int]:
    """Joints that nets as concluded have too many, and too few (as merges of nets)."""
    truth = {at: k for k, pins in enumerate(drawn.nets) for at in pins}
    pieces: dict[int, set[object]] = {}
    parts: dict[object, set[int]] = {}
    for at, group in label.items():
        pieces.setdefault(group, set()).add(truth.get(at, at))
        parts.setdefault(truth.get(at, at), set()).add(group)
    return (sum(len(s) - 1 for s in pieces.values()), sum(len(s) - 1 for s in parts.values()))

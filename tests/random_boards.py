"""Random boards for the tests: net files with gates, decoders, latches, buffers and what joins them."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

GATES: dict[str, list[tuple[tuple[int, ...], int]]] = {
    "7400": [((1, 2), 3), ((4, 5), 6), ((9, 10), 8), ((12, 13), 11)],
    "7402": [((2, 3), 1), ((5, 6), 4), ((8, 9), 10), ((11, 12), 13)],
    "7404": [((1,), 2), ((3,), 4), ((5,), 6), ((9,), 8), ((11,), 10), ((13,), 12)],
    "7408": [((1, 2), 3), ((4, 5), 6), ((9, 10), 8), ((12, 13), 11)],
    "7410": [((1, 2, 13), 12), ((3, 4, 5), 6), ((9, 10, 11), 8)],
    "7411": [((1, 2, 13), 12), ((3, 4, 5), 6), ((9, 10, 11), 8)],
    "7420": [((1, 2, 4, 5), 6), ((9, 10, 12, 13), 8)],
    "7421": [((1, 2, 4, 5), 6), ((9, 10, 12, 13), 8)],
    "7427": [((1, 2, 13), 12), ((3, 4, 5), 6), ((9, 10, 11), 8)],
    "7430": [((1, 2, 3, 4, 5, 6, 11, 12), 8)],
    "7432": [((1, 2), 3), ((4, 5), 6), ((9, 10), 8), ((12, 13), 11)],
    "7486": [((1, 2), 3), ((4, 5), 6), ((9, 10), 8), ((12, 13), 11)],
}
"""Input pins and output pin of each gate, from the makers' pin diagrams."""

DATA_LINES = tuple(f"d{k}" for k in range(8))
OCTAL_IN, OCTAL_OUT = (3, 4, 7, 8, 13, 14, 17, 18), (2, 5, 6, 9, 12, 15, 16, 19)
BUFFER_IN, BUFFER_OUT = (2, 4, 6, 8, 17, 15, 13, 11), (18, 16, 14, 12, 3, 5, 7, 9)


@dataclass
class Maker:
    """A random board as net lines, and the same as pins by net for the simulator."""

    seed: int
    lines: int
    random: random.Random = field(init=False)
    text: list[str] = field(default_factory=list)
    nets: dict[str, list[str]] = field(default_factory=dict)
    parts: dict[str, str] = field(default_factory=dict)
    signals: list[str] = field(default_factory=list)
    pulled: set[str] = field(default_factory=set)
    loose: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Seed, so that a failing board can be made again."""
        self.random = random.Random(self.seed)

    def part(self, kind: str) -> str:
        """Place one more part."""
        name = f"u{len(self.parts) + 1}"
        self.parts[name] = kind
        return name

    def join(self, net: str, pin: str) -> None:
        """Put a pin on a net."""
        self.nets.setdefault(net, []).append(pin)

    def gate(self, sources: list[str]) -> str:
        """One random gate package with every section in use; gives the net of its first output."""
        kind = self.random.choice(list(GATES))
        name, outputs = self.part(kind), []
        for inputs, output in GATES[kind]:
            for pin in inputs:
                self.join(self.random.choice(sources), f"{name}.{pin}")
            net = f"n{name[1:]}-{output}"
            self.join(net, f"{name}.{output}")
            outputs.append(net)
        self.loose += outputs
        return outputs[0]

    def decoder(self, sources: list[str]) -> list[str]:
        """A '138 on random lines with the clock at its enable; gives its output nets."""
        name = self.part("74138")
        low = self.random.sample(sources, 5)
        for pin, net in zip((1, 2, 3, 4, 5), low, strict=True):
            self.join(net, f"{name}.{pin}")
        self.join("phi2", f"{name}.6")
        outputs = []
        for pin in (15, 14, 13, 12, 11, 10, 9, 7):
            net = f"n{name[1:]}-{pin}"
            self.join(net, f"{name}.{pin}")
            outputs.append(net)
        return outputs

    def latch(self, clock: str, data: list[str]) -> None:
        """An octal latch or flip-flop on the data lines, its outputs on the connector."""
        kind = self.random.choice(("74374", "74374", "74273"))
        name = self.part(kind)
        self.join("gnd" if kind == "74374" else "vcc", f"{name}.1")
        self.join(clock, f"{name}.11")
        for line, d, q in zip(data, OCTAL_IN, OCTAL_OUT, strict=True):
            self.join(line, f"{name}.{d}")
            net = f"{name}q{q}"
            self.join(net, f"{name}.{q}")
            self.signals.append(f"{net} out")

    def buffer(self, enable: str, data: list[str]) -> None:
        """An octal buffer from connector signals, some of them through inverters, to the data lines."""
        name = self.part(self.random.choice(("74244", "74240")))
        self.join(enable, f"{name}.1")
        self.join(enable, f"{name}.19")
        inverter = self.part("7404")
        spare = [(1, 2), (3, 4), (5, 6)]
        for line, a, y in zip(data, BUFFER_IN, BUFFER_OUT, strict=True):
            self.join(line, f"{name}.{y}")
            kind = self.random.choice(("signal", "signal", "inverted", "tie", "open"))
            if kind == "open":
                continue
            if kind == "tie":
                self.join(self.random.choice(("gnd", "vcc")), f"{name}.{a}")
                continue
            signal = f"{name}s{a}"
            self.signals.append(f"{signal} in")
            if kind == "inverted" and spare:
                source, output = spare.pop()
                self.join(signal, f"{inverter}.{source}")
                self.join(f"{name}i{a}", f"{inverter}.{output}")
                self.join(f"{name}i{a}", f"{name}.{a}")
            else:
                self.join(signal, f"{name}.{a}")

    def build(self, *, unknowns: int, buffered: bool) -> str:
        """The net file of a whole board."""
        address = [f"a{k}" for k in range(self.lines)]
        sources = [*address, "rw", *(f"unk{k}" for k in range(unknowns))]
        for _ in range(self.random.randint(1, 3)):
            self.gate(sources)
            sources = [*address, "rw", *self.loose, *(f"unk{k}" for k in range(unknowns))]
        outputs = self.decoder(sources)
        if self.random.random() < 0.5:
            outputs += self.decoder(sources)
        data = [f"d{k}" for k in range(8)]
        if buffered:
            data = self.transceiver()
        for net in self.random.sample(outputs, 2):
            self.latch(net, data)
        for net in self.random.sample(outputs, 2):
            self.buffer(net, data)
        if self.random.random() < 0.5:
            self.wired(outputs)
        return self.write(unknowns)

    def transceiver(self) -> list[str]:
        """A '245 between the host's data lines and the board's, turned round by rw, always on."""
        name = self.part("74245")
        self.join("rw", f"{name}.1")
        self.join("gnd", f"{name}.19")
        inner = []
        for k in range(8):
            self.join(f"d{k}", f"{name}.{18 - k}")
            self.join(f"b{k}", f"{name}.{2 + k}")
            inner.append(f"b{k}")
        return inner

    def wired(self, outputs: list[str]) -> None:
        """Open-collector inverters joined at their outputs, pulled up, on the connector."""
        name = self.part("7405")
        for source, output in ((1, 2), (3, 4)):
            self.join(self.random.choice(outputs), f"{name}.{source}")
            self.join("wired", f"{name}.{output}")
        self.pulled.add("wired")
        self.signals.append("wired out")

    def write(self, unknowns: int) -> str:
        """The lines of the net file; `unk` nets stand for lines that come from outside with a level nobody knows."""
        lines = [f"cycle memory read {self.lines} rw high phi2 up", f"cycle memory write {self.lines} rw low phi2 up"]
        lines += [f"part {name} {kind}" for name, kind in self.parts.items()]
        lines += ["plug p1 60 host", "plug j1 60 printer"]
        host = [f"a{k}" for k in range(self.lines)] + ["rw", "phi2"]
        host += [f"unk{k}" for k in range(unknowns)]
        lines += [f"pin p1.{k} {signal} in" for k, signal in enumerate(host, 1)]
        lines += [f"pin p1.{k} d{k - 40} both" for k in range(40, 48)]
        for k, words in enumerate(self.signals, 1):
            lines.append(f"pin j1.{k} {words}")
            self.join(words.split()[0], f"j1.{k}")
        for net, pins in sorted(self.nets.items()):
            if net == "gnd":
                lines.append(f"tie low {' '.join(pins)}")
            elif net == "vcc":
                lines.append(f"tie high {' '.join(pins)}")
            elif len(pins) > 1 or net in host or net in self.pulled or net in DATA_LINES:
                lines.append(f"net {net} {' '.join(pins)}")
        lines += [f"pull up {net}" for net in sorted(self.pulled)]
        return "\n".join([*lines, "done all", ""])

"""Random small boards with every way data can take to the host, and the same boards traced in part or completed."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.random_boards import BUFFER_IN, BUFFER_OUT, GATES, OCTAL_IN, OCTAL_OUT, Maker

if TYPE_CHECKING:
    from collections.abc import Iterator

CONTROLS: dict[str, tuple[int, ...]] = {
    "74138": (1, 2, 3, 4, 5, 6),
    "74245": (1, 19),
    "74640": (1, 19),
    "74244": (1, 19),
    "74240": (1, 19),
    "74125": (1, 4),
    "74374": (11,),
    "7403": (1, 4),
    **{kind: tuple(pin for inputs, _ in sections for pin in inputs) for kind, sections in GATES.items()},
}
"""Pins that decide whether something is on, taken or chosen, from the makers' pin diagrams."""

PINS = {"74138": 16, "74245": 20, "74640": 20, "74244": 20, "74240": 20, "74125": 14, "74374": 20}
BITS = 2
"""Data lines in use; more would only be the same again."""


@dataclass(frozen=True)
class Cut:
    """A board whose `cut` pins have been left out of their nets."""

    maker: Maker
    cut: tuple[str, ...]

    def text(self, joined: dict[str, str] | None = None) -> str:
        """The net file: traced in part, or with each cut pin on the net given for it."""
        maker = self.maker
        kept = dict(maker.nets)
        gone = set(self.cut)
        left = {net: [pin for pin in pins if pin not in gone] for net, pins in kept.items()}
        nets = {net: pins for net, pins in left.items() if pins}
        for pin, net in (joined or {}).items():
            nets.setdefault(net, []).append(pin)
        maker.nets = nets
        text = maker.write(0)
        maker.nets = kept
        if joined is not None:
            return text
        written = set(re.findall(r"u\d+\.\d+", text))
        partly = {pin.split(".")[0] for pin in self.cut}
        rows = ["done " + " ".join(name for name in maker.parts if name not in partly)]
        for name in sorted(partly):
            size = PINS.get(maker.parts[name], 14)
            pins = [f"{name}.{k}" for k in range(1, size + 1) if k not in (size // 2, size)]
            free = [pin for pin in pins if pin not in written and pin not in gone]
            rows += [f"open {' '.join(free)}"] if free else []
        return text.replace("done all\n", "\n".join(rows) + "\n")

    def completions(self, most: int) -> Iterator[dict[str, str]]:
        """What the cut pins may be joined to: a rail, any address or control line, the net they were cut from.

        No more than about `most`, spread evenly over all.
        """
        address = [f"a{k}" for k in range(self.maker.lines)]
        options = []
        for pin in self.cut:
            true = next(net for net, pins in self.maker.nets.items() if pin in pins)
            options.append(tuple(dict.fromkeys([true, "gnd", "vcc", *address, "rw", "phi2"])))
        every = list(itertools.product(*options))
        for choice in every[:: max(1, len(every) // most)]:
            yield dict(zip(self.cut, choice, strict=True))


def make_cut(seed: int, lines: int, cuts: int, *, series: tuple[str, ...] = ()) -> Cut:
    """A board of `lines` address lines with `cuts` pins not traced.

    `series`: the transceivers between the host and the inner bus, from the host inwards.  ``always`` is on for good,
    ``card`` is enabled by a decoder or an address line, ``gate`` is a three-state buffer in the read way alone.
    """
    maker = Maker(seed, lines)
    address = [f"a{k}" for k in range(lines)]
    maker.gate([*address, "rw"])
    outputs = _decoder(maker, address) + _decoder(maker, address)
    data = [f"d{k}" for k in range(BITS)]
    for depth, kind in enumerate(series):
        data = _through(maker, kind, depth, data, [*address, *outputs])
    if series and maker.random.random() < 0.3:
        maker.pulled |= set(data)
    for _ in range(2):
        _inputs(maker, maker.random.choice(outputs), data)
    _collector(maker, maker.random.choice(outputs), data[0])
    _latch(maker, maker.random.choice(outputs), data)
    maker.join("strobe", f"{maker.part('7408')}.3")
    maker.join(maker.random.choice(outputs), f"u{len(maker.parts)}.1")
    maker.join("vcc", f"u{len(maker.parts)}.2")
    maker.signals.append("strobe out")
    able = sorted(
        pin
        for net, pins in maker.nets.items()
        for pin in pins
        if (owner := pin.split(".")[0]) in maker.parts
        and int(pin.split(".")[1]) in CONTROLS[maker.parts[owner]]
        and net not in ("strobe", *maker.pulled)
        and not net.startswith(("u", "d", "b"))
    )
    return Cut(maker, tuple(maker.random.sample(able, cuts)))


def _decoder(maker: Maker, address: list[str]) -> list[str]:
    """A '138 on three address lines that the clock turns on, perhaps with a gate's output as well; four outputs."""
    name = maker.part("74138")
    enables = [maker.random.choice(["gnd", "gnd", *address, maker.random.choice(maker.loose)]), "gnd"]
    for pin, net in zip((1, 2, 3, 4, 5, 6), [*maker.random.sample(address, 3), *enables, "phi2"], strict=True):
        maker.join(net, f"{name}.{pin}")
    outputs = []
    for pin in (15, 14, 13, 12):
        maker.join(f"n{name[1:]}-{pin}", f"{name}.{pin}")
        outputs.append(f"n{name[1:]}-{pin}")
    return outputs


def _through(maker: Maker, kind: str, depth: int, data: list[str], enables: list[str]) -> list[str]:
    """One thing in series on the data lines; gives the nets behind it."""
    inner = [f"b{depth}-{k}" for k in range(len(data))]
    if kind == "gate":
        name = maker.part("74125")
        enable = maker.random.choice(enables)
        for outer, behind, (g, a, y) in zip(data, inner, ((1, 2, 3), (4, 5, 6)), strict=True):
            maker.join(enable, f"{name}.{g}")
            maker.join(behind, f"{name}.{a}")
            maker.join(outer, f"{name}.{y}")
        return inner
    name = maker.part(maker.random.choice(("74245", "74640")))
    maker.join("rw", f"{name}.1")
    maker.join("gnd" if kind == "always" else maker.random.choice(enables), f"{name}.19")
    for k, (outer, behind) in enumerate(zip(data, inner, strict=True)):
        maker.join(outer, f"{name}.{18 - k}")
        maker.join(behind, f"{name}.{2 + k}")
    return inner


def _inputs(maker: Maker, enable: str, data: list[str]) -> None:
    name = maker.part(maker.random.choice(("74244", "74240")))
    maker.join(enable, f"{name}.1")
    maker.join(enable, f"{name}.19")
    for line, a, y in zip(data, BUFFER_IN, BUFFER_OUT, strict=False):
        maker.join(line, f"{name}.{y}")
        maker.join(f"{name}s{a}", f"{name}.{a}")
        maker.signals.append(f"{name}s{a} in")


def _collector(maker: Maker, select: str, line: str) -> None:
    """A signal through an open-collector NAND that a decoder's output, turned over, lets through."""
    inverter, name = maker.part("7404"), maker.part("7403")
    maker.join(select, f"{inverter}.1")
    maker.join(f"{inverter}on", f"{inverter}.2")
    maker.join(f"{inverter}on", f"{name}.1")
    maker.join(f"{name}s2", f"{name}.2")
    maker.join(line, f"{name}.3")
    maker.signals.append(f"{name}s2 in")


def _latch(maker: Maker, clock: str, data: list[str]) -> None:
    name = maker.part("74374")
    maker.join("gnd", f"{name}.1")
    maker.join(clock, f"{name}.11")
    for line, d, q in zip(data, OCTAL_IN, OCTAL_OUT, strict=False):
        maker.join(line, f"{name}.{d}")
        maker.join(f"{name}q{q}", f"{name}.{q}")
        maker.signals.append(f"{name}q{q} out")

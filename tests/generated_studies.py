"""Studies with a known truth, for the calibration of weighing: invented boards, drivers, logs and manuals.

Everything is invented.  A study is drawn from a seed: a card with a small decode, a data and a control latch and a
status buffer; a driver for just that card (6502 in memory, Z80 at ports); logs of what the driver sends, with losses;
manuals that state what is true.  `generated_plants.draw` plants mistakes into it.

Nothing here calls the program under test: addresses, senses, levels and times of the truth come from the drawing.
"""

from __future__ import annotations

import json
import random
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from tests.generated_code import Code, Ports, code_6502, code_z80, width_6502, width_z80

if TYPE_CHECKING:
    from pathlib import Path

NETS = "board/card.nets"
ROM = "program/rom.bin"
LOG = "wire/burst.log"
TOML = "study.toml"
OUTPUTS = (15, 14, 13, 12, 11, 10, 9, 7)  # of a '138, in the order of its inputs
LATCH_IN, LATCH_OUT = (3, 4, 7, 8, 13, 14, 17, 18), (2, 5, 6, 9, 12, 15, 16, 19)  # of a '374
BUFFER_IN, BUFFER_OUT = (2, 4, 6, 8, 17, 15, 13, 11), (18, 16, 14, 12, 3, 5, 7, 9)  # of a '244
INVERTERS = ((1, 2), (3, 4), (5, 6), (9, 8), (11, 10), (13, 12))  # of a '04
HIGH_PINS = (1, 2, 13)  # inputs of the first gate of a '10
SIGNALS = ("BUSY", "PAPER-OUT", "FAULT", "SELECT", "ACK")
MEANINGS = {
    "0D": "return to the left", "0A": "feed one line", "0C": "feed one page", "0E": "wide letters",
    "0F": "narrow letters", "07": "ring the bell", "1B 45": "bold letters", "1B 46": "plain letters",
    "1B 34": "sloping letters", "1B 2D": "underlined letters",
}  # fmt: skip
OTHER_MEANINGS = ("start a new set of tabs", "turn the ribbon to red", "wait for a key", "forget all settings")


@dataclass
class Bit:
    """What one status bit follows: a signal or strap (`source`), a tie (`level`), or nothing."""

    source: str = ""
    inverted: bool = False
    level: int | None = None


@dataclass
class Row:
    """A row of a connector or manual: signal, direction, and the level that makes its name true."""

    signal: str
    direction: str
    active: int | None = None


@dataclass
class Manual:
    """What a manual states; `pages` gives every row its place."""

    file: str
    pins: dict[int, Row]
    least_ns: int
    bits: int
    commands: dict[str, str]

    def pin_name(self, number: int) -> str:
        """The name of a pin row as a statement."""
        return f"{self.file}: J1 pin {number} (page 3, row {number})"

    def level_name(self, signal: str) -> str:
        """The name of the level in a signal's pin row."""
        number = next(k for k, row in self.pins.items() if row.signal == signal)
        return f"{self.file}: signal {signal} (page 3, row {number})"


@dataclass
class Plant:
    """A mistake: its kind, the subjects of which one at least must be contradicted, and the wrong statements.

    `follows`: subjects that may be contradicted by it as well.
    """

    kind: str
    subjects: tuple[str, ...]
    wrong: frozenset[str]
    follows: tuple[str, ...] = ()


@dataclass
class Drawn:
    """A study: the truth, and beside it what the files state (the same until something is planted)."""

    seed: int
    random: random.Random = field(init=False)
    cpu: str = ""
    high: list[int] = field(default_factory=list)
    low: int = 0
    select: tuple[int, int] = (0, 1)
    index: dict[str, int] = field(default_factory=dict)
    used: dict[str, int] = field(default_factory=dict)
    bits: list[Bit] = field(default_factory=list)
    plug: dict[int, Row] = field(default_factory=dict)
    straps: dict[str, int] = field(default_factory=dict)
    strobe_bit: int = 0
    strobe_inverted: bool = False
    lines: int = 8
    is_buffered: bool = False
    delay: int = 5
    clock: Fraction = Fraction(1)
    bursts: list[bytes] = field(default_factory=list)
    sent: bytes = b""
    code: Code = field(default_factory=lambda: Code(0))
    runs: list[bytes] = field(default_factory=list)
    commands: dict[str, str] = field(default_factory=dict)
    manuals: list[Manual] = field(default_factory=list)
    claims: dict[str, tuple[bytes, bool]] = field(default_factory=dict)
    said_claims: dict[str, bool] = field(default_factory=dict)
    said_high: list[int] = field(default_factory=list)
    said_low: int = 0
    said_bits: list[Bit] = field(default_factory=list)
    said_plug: dict[int, Row] = field(default_factory=dict)
    said_straps: dict[str, int] = field(default_factory=dict)
    said_lines: int = 8
    said_image: bytes = b""
    said_busy_role: bool | None = None
    said_strobe_inverted: bool = False
    said_buffer: str = "74ls244"
    said_latch: str = "74ls374"
    said_clock: Fraction = Fraction(1)
    plants: list[Plant] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Draw the truth, then state it."""
        self.random = random.Random(self.seed)
        self.draw_card()
        self.draw_program()
        self.draw_documents()
        self.state()

    # ------------------------------------------------------------------ the truth

    def draw_card(self) -> None:
        """Decode, registers, status bits, plug."""
        r = self.random
        self.cpu, self.is_buffered = r.choice(("6502", "z80")), r.random() < 0.5
        upper = list(range(9, 16)) if self.cpu == "6502" else list(range(2, 8))
        r.shuffle(upper)
        self.high, self.low = sorted(upper[:3]), upper[3]
        first, second = r.sample(range(4 if self.cpu == "6502" else 2), 2)
        self.select = (first, second)
        data, control = r.sample(range(4), 2)
        self.index = {"data": data, "control": control, "status": r.randrange(4)}
        self.used = {name: self.draw_address(index) for name, index in self.index.items()}
        self.strobe_bit, self.strobe_inverted = r.randrange(8), r.random() < 0.5
        kinds = ["BUSY", *r.sample(SIGNALS[1:], r.randint(0, 3)), *["W1", "W2"][: r.randint(0, 2)]]
        kinds += [r.choice(("tie", "open")) for _ in range(8 - len(kinds))]
        r.shuffle(kinds)
        spare = len(INVERTERS) - 2  # one for the strobe, one for what a plant may want
        for kind in kinds:
            if kind == "open":
                self.bits.append(Bit())
            elif kind == "tie":
                self.bits.append(Bit(level=r.randrange(2)))
            else:
                inverted = spare > 0 and r.random() < 0.5 and not kind.startswith("W")
                spare -= inverted
                self.bits.append(Bit(kind, inverted))
        self.straps = {bit.source: r.randrange(2) for bit in self.bits if bit.source.startswith("W")}
        names = ["STROBE", *(f"DATA{k}" for k in range(1, 9)), *(b.source for b in self.bits if b.source in SIGNALS)]
        pins = r.sample(range(1, 21), len(names))
        for number, name in sorted(zip(pins, names, strict=True)):
            level = None if name.startswith("DATA") else r.randrange(2)
            self.plug[number] = Row(name, "in" if name in SIGNALS else "out", level)

    def draw_address(self, index: int) -> int:
        """An address of a register, one of its mirrors."""
        width = 16 if self.cpu == "6502" else 8
        address = self.random.getrandbits(width)
        for line in self.high:
            address |= 1 << line
        for line, level in ((self.low, 0), (self.select[0], index & 1), (self.select[1], index >> 1)):
            address = address & ~(1 << line) | level << line
        return address

    def pattern(self, index: int) -> tuple[int, int]:
        """(care, value) of a register's addresses."""
        lines = [*((line, 1) for line in self.high), (self.low, 0)]
        lines += [(self.select[0], index & 1), (self.select[1], index >> 1)]
        return sum(1 << line for line, _ in lines), sum(level << line for line, level in lines)

    def active(self, signal: str) -> int:
        """The level of the pin that makes a signal true."""
        return next(row.active for row in self.plug.values() if row.signal == signal) or 0

    def number(self, signal: str) -> int:
        """The pin of a signal."""
        return next(k for k, row in self.plug.items() if row.signal == signal)

    def bit_of(self, source: str) -> int:
        """The status bit that follows a signal or strap."""
        return next(k for k, bit in enumerate(self.bits) if bit.source == source)

    def draw_program(self) -> None:
        """The driver, what it sends with the straps as they are, and what a lossy listener heard of it."""
        r = self.random
        self.delay, self.clock = r.randint(2, 40), Fraction(r.choice((1, 2, 4)))
        text = [r.choice((0x0D, 0x0A, 0x0C, 0x0E, 0x1B, 0x45, *range(0x30, 0x5B))) for _ in range(40)]
        cut, end = r.randint(4, 16), r.randint(4, 16)
        self.bursts = [bytes(text[:cut]), bytes(text[cut : cut + end])]
        mask = sum(1 << self.bit_of(name) for name in self.straps)
        value = r.getrandbits(8) & mask
        levels = sum(level << self.bit_of(name) for name, level in self.straps.items())
        if not mask:
            del self.bursts[1]
        self.sent = self.bursts[int(bool(mask) and levels == value)]
        busy = self.bits[self.bit_of("BUSY")]
        goes_on = (1 - self.active("BUSY")) ^ busy.inverted
        on = self.active("STROBE") ^ self.strobe_inverted
        strobe = (on << self.strobe_bit, (1 - on) << self.strobe_bit)
        used = self.used
        ports = Ports(
            used["data"], used["control"], used["status"], *strobe, 1 << self.bit_of("BUSY"), goes_on, mask, value,
            self.delay,
        )  # fmt: skip
        self.code = (code_6502 if self.cpu == "6502" else code_z80)(self.draw_load(), ports, self.bursts)
        loss = r.choice((0.0, 0.05, 0.1, 0.2))
        count = r.randint(8, 14) if loss else r.randint(1, 6)
        self.runs = [self.heard(loss) or self.sent for _ in range(count)]

    def heard(self, loss: float) -> bytes:
        """What a listener makes of it that loses bytes, and now and then hears one twice."""
        r = self.random
        kept = (byte for byte in self.sent if r.random() >= loss)
        return b"".join(bytes([byte] * (2 if loss and r.random() < 0.01 else 1)) for byte in kept)

    def draw_load(self) -> int:
        """A page of memory that the card does not answer to."""
        while True:
            load = self.random.randrange(0x10, 0xFF) << 8
            answers = all(load >> line & 1 for line in self.high) and not load >> self.low & 1
            if self.cpu == "z80" or not answers:
                return load

    def width_ps(self) -> int:
        """How long the strobe lasts."""
        cycles = (width_6502 if self.cpu == "6502" else width_z80)(self.delay)
        return int(cycles * 10**6 / self.clock)

    def draw_documents(self) -> None:
        """Manuals that state what is true, and a label's claim."""
        r = self.random
        self.commands = {code: MEANINGS[code] for code in sorted(r.sample(sorted(MEANINGS), r.randint(3, 6)))}
        least = int(self.width_ps() * r.uniform(0.1, 0.9)) // 1000
        for k in range(r.randint(0, 3)):
            pins = {number: Row(row.signal, row.direction, row.active) for number, row in self.plug.items()}
            self.manuals.append(Manual(f"documents/guide-{k}.toml", pins, least, 8, dict(self.commands)))
        pattern = bytes(r.choice((0x1B, 0x45, 0x0E, 0x41, 0x42)) for _ in range(r.randint(1, 3)))
        if r.random() < 0.5:
            self.claims["a code of old"] = (pattern, any(pattern in burst for burst in self.bursts))

    # ------------------------------------------------------------------ what is stated, and what is wrong in it

    def state(self) -> None:
        """State the truth."""
        self.said_high, self.said_low = list(self.high), self.low
        self.said_bits = [Bit(bit.source, bit.inverted, bit.level) for bit in self.bits]
        self.said_plug = {k: Row(row.signal, row.direction, row.active) for k, row in self.plug.items()}
        self.said_straps, self.said_lines = dict(self.straps), self.lines
        self.said_strobe_inverted = self.strobe_inverted
        self.said_image, self.said_clock = bytes(self.code.data), self.clock
        self.said_claims = {name: happens for name, (_, happens) in self.claims.items()}
        if self.random.random() < 0.5:
            self.said_busy_role = self.bits[self.bit_of("BUSY")].inverted
        if self.random.random() < 0.3:
            for row in self.said_plug.values():
                row.active = None

    def levels_known(self) -> bool:
        """Whether somebody states the levels of BUSY and STROBE."""
        return bool(self.manuals) or any(row.active is not None for row in self.said_plug.values())

    def buffer_pin(self, bit: int) -> str:
        """The input of the status buffer for a bit."""
        return f"u6.{BUFFER_IN[bit]}"

    # ------------------------------------------------------------------ the files

    def write(self, folder: Path) -> None:
        """The study folder."""
        files = {NETS: self.nets(), TOML: self.toml(), LOG: self.log()}
        files |= {manual.file: manual_text(manual) for manual in self.manuals}
        files |= {"documents/label.toml": label_text(self.said_claims)} if self.said_claims else {}
        for name, text in files.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(text)
        (folder / ROM).parent.mkdir(parents=True, exist_ok=True)
        (folder / ROM).write_bytes(self.said_image)

    def nets(self) -> str:
        """The net file as stated."""
        lines = ["# INVENTED", "host 6502" if self.cpu == "6502" else "host z80 8"]
        lines += [
            "part u1 74ls10", "part u2 74ls138", "part u4 74ls374", f"part u5 {self.said_latch}",
            f"part u6 {self.said_buffer}", "part u7 74ls04", "plug j1 20 printer",
        ]  # fmt: skip
        lines += ["part u3 74ls245"] if self.is_buffered else []
        for number, row in sorted(self.said_plug.items()):
            level = {None: "", 0: " low", 1: " high"}[row.active]
            lines.append(f"pin j1.{number} {row.signal.lower()} {row.direction}{level}")
        lines += self.decode_nets() + self.data_nets() + self.status_nets()
        return "\n".join([*lines, "done all", ""])

    def decode_nets(self) -> list[str]:
        """Address lines, gate, decoder."""
        pins: dict[str, list[str]] = {}
        for line, pin in zip(self.said_high, HIGH_PINS, strict=True):
            pins.setdefault(f"a{line}", []).append(f"u1.{pin}")
        pins.setdefault(f"a{self.said_low}", []).append("u2.5")
        pins.setdefault(f"a{self.select[0]}", []).append("u2.1")
        pins.setdefault(f"a{self.select[1]}", []).append("u2.2")
        lines = [f"net {name} {' '.join(found)}" for name, found in pins.items()]
        lines.append(f"net sel u1.12 u2.4{' u3.19' * self.is_buffered}")
        turn = " u3.1" * self.is_buffered
        if self.cpu == "6502":
            lines += [f"net rw u2.3{turn}", "net phi2 u2.6"]
        else:
            lines += [f"net wr u2.3{turn}", "net iorq u7.13", "net going u7.12 u2.6"]
        for name, clock in (("data", "u4.11"), ("control", "u5.11")):
            lines.append(f"net y-{name} u2.{OUTPUTS[self.index[name]]} {clock}")
        lines.append(f"net y-status u2.{OUTPUTS[4 + self.index['status']]} u6.1 u6.19")
        return lines

    def data_nets(self) -> list[str]:
        """The data lines, both latches, the strobe."""
        lines = ["tie low u4.1 u5.1"]
        for k in range(8):
            inner = f"u4.{LATCH_IN[k]} u5.{LATCH_IN[k]} u6.{BUFFER_OUT[k]}"
            lines += [f"net d{k} u3.{18 - k}", f"net c{k} u3.{2 + k} {inner}"] if self.is_buffered else []
            lines += [] if self.is_buffered else [f"net d{k} {inner}"]
            if k < self.said_lines:
                lines.append(f"net q{k} u4.{LATCH_OUT[k]} j1.{self.number(f'DATA{k + 1}')}")
            else:
                lines.append(f"open u4.{LATCH_OUT[k]} j1.{self.number(f'DATA{k + 1}')}")
        at = f"j1.{self.number('STROBE')}"
        out = f"u5.{LATCH_OUT[self.strobe_bit]}"
        if self.said_strobe_inverted:
            return [*lines, f"net k {out} u7.11", f"net strobe u7.10 {at}"]
        return [*lines, f"net strobe {out} {at}"]

    def status_nets(self) -> list[str]:
        """What each status bit is wired to, as stated."""
        lines: list[str] = []
        spare = list(INVERTERS[:4])
        for k, bit in enumerate(self.said_bits):
            pin = self.buffer_pin(k)
            if bit.source.startswith("W"):
                name = bit.source.lower()
                lines += [f"strap {name} {'open' if self.said_straps[bit.source] else 'joined'}"]
                lines += [f"net n{name} {name}.1 {pin}", f"pull up n{name} 4k7", f"tie low {name}.2"]
            elif bit.source:
                at = f"j1.{self.number(bit.source)}"
                if bit.inverted:
                    source, output = spare.pop(0)
                    lines += [f"net s{k} {at} u7.{source}", f"net i{k} u7.{output} {pin}"]
                else:
                    lines.append(f"net s{k} {at} {pin}")
            elif bit.level is not None:
                lines.append(f"tie {'high' if bit.level else 'low'} {pin}")
            else:
                lines.append(f"open {pin}")
        stated = {bit.source for bit in self.said_bits}
        lines += [f"open j1.{k}" for k, row in self.plug.items() if row.signal in SIGNALS and row.signal not in stated]
        return lines

    def toml(self) -> str:
        """study.toml."""
        port = "" if self.cpu == "6502" else "port "
        digits = 4 if self.cpu == "6502" else 2
        lines = [
            'title = "A generated study (invented)"', "invented = true", "[program]", f'cpu = "{self.cpu.upper()}"',
            f'clock = "{self.said_clock} MHz"', 'ram = ["0000-00FF"]', "[[image]]", f'file = "{ROM}"',
            f'load = "{self.code.load:04X}"', "[[entry]]", 'name = "burst"', f'address = "{self.code.load:04X}"',
            'sequence = "burst"', "[[log]]", f'file = "{LOG}"', 'sequence = "burst"', 'runs = "line"', 'base = "hex"',
            "[[role]]", 'role = "data"', 'signal = "DATA"', f'at = "{port}{self.used["data"]:0{digits}X}"',
        ]  # fmt: skip
        if self.said_busy_role is not None:
            at = f"{port}{self.used['status']:0{digits}X} bit {self.bit_of('BUSY')}"
            lines += ["[[role]]", 'role = "busy"', 'signal = "BUSY"', f'at = "{at}"']
            lines += [f"inverted = {str(self.said_busy_role).lower()}"]
        for name, (code, _) in self.claims.items():
            lines += ["[[look_for]]", f'name = "{name}"', f'code = "{code.hex(" ").upper()}"']
        return "\n".join(lines) + "\n"

    def log(self) -> str:
        """One run a line."""
        return "# INVENTED\n" + "".join(f"{run.hex(' ').upper()}\n" for run in self.runs)


def manual_text(manual: Manual) -> str:
    """A manual as a device table."""
    lines = [
        f'title = "{manual.file[10:-5]} (invented)"', f'device = "{manual.file[10:-5]}"', 'kind = "manual"',
        "invented = true", 'connector = "J1"', "pin = [",
    ]  # fmt: skip
    for number, row in sorted(manual.pins.items()):
        seen = {"in": "out", "out": "in"}[row.direction]
        level = "" if row.active is None else f', active = "{"high" if row.active else "low"}"'
        cited = f"page = 3, row = {number}"
        lines.append(f'    {{ number = "{number}", signal = "{row.signal}", direction = "{seen}"{level}, {cited} }},')
    lines += ["]", "timing = ["]
    lines += [f'    {{ what = "strobe width", least = "{manual.least_ns} ns", page = 4, row = 1 }},', "]"]
    for k, (code, meaning) in enumerate(manual.commands.items(), 1):
        lines += ["[[command]]", f'pattern = "{code}"', f"meaning = {json.dumps(meaning)}", "page = 5", f"row = {k}"]
    return "\n".join([*lines, "[interface]", f"data_bits = {manual.bits}", "page = 2", ""])


def label_text(claims: dict[str, bool]) -> str:
    """A label that claims what was sent."""
    lines = ['title = "A label (invented)"', 'device = "the printer"', 'kind = "label"', "invented = true"]
    for name, happens in claims.items():
        lines += ["[[claim]]", f'about = "{name}"', f'says = "{"once sent" if happens else "never sent"}"', "page = 1"]
        lines += [f'emission = "{name}"', f"happens = {str(happens).lower()}"]
    return "\n".join(lines) + "\n"

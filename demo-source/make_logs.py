"""Make the demonstration's logs and its capture: run its program through its card, a listener on the plug.

    python demo-source/make_logs.py [FOLDER]        (default: the packaged study's wire/)

Everything it needs is computed from the study's own files: the image, the net file's decode, the straps as they stand.
The listener and its seed are invented.  The same files come out every time; the tests compare them byte for byte.
"""

from __future__ import annotations

import random
import sys
from dataclasses import dataclass, field
from pathlib import Path

from listener import Listener

from latchlore.base import AddressSet, BitKind, BitSense, SubjectKind, Words
from latchlore.board import decode, parse_netlist
from latchlore.board.testify import testify
from latchlore.demo import demo_folder
from latchlore.program import Image, run

SEED = 1982
NUM_RUNS = 12
CYCLE_NS = 800  # 5/4 MHz
RESET, READING = 0xF800, 0xF95B
TIDE = {0xE200: 0x37, 0xE201: 0x04, 0xE202: 0x01}  # 4.37 m, rising, the minute has not struck
PINS = {"PAPER-OUT": 0, "FAULT": 1}  # levels with nothing but a listener on the plug; BUSY is the listener's own
STRAP_READS = {"open": 1, "joined": 0}  # both lead to ground and have a pull-up
BUSY_NS = 1_000  # from the strobe to the listener's BUSY
FLOATING = 1  # what an open 74LS input reads as


TICK_NS = 100  # the borrowed recorder of levels notes every change to a tenth of a microsecond
SIGNS = "!#%&()*+,-"  # identifier codes of the VCD file, one a line


@dataclass(slots=True)
class Recorder:
    """The levels of the plug's lines as a recorder notes them: every change, at the next tick of its clock."""

    levels: dict[str, int] = field(default_factory=dict)
    changes: list[tuple[int, str, int]] = field(default_factory=list)  # (tick, line, level)

    def see(self, now_ns: int, line: str, level: int) -> None:
        """A line takes a level."""
        if self.levels.get(line) != level:
            self.levels[line] = level
            self.changes.append((-(-now_ns // TICK_NS), line, level))

    def text(self) -> str:
        """The changes as a value change dump (IEEE 1364), times from the first change on."""
        lines = list(dict.fromkeys(line for _, line, _ in self.changes))
        sign = dict(zip(lines, SIGNS, strict=True))
        out = [CAPTURE_TEXT, *(f"$var wire 1 {sign[line]} {line.lower()} $end" for line in lines)]
        out += ["$upscope $end", "$enddefinitions $end"]
        start, last = self.changes[0][0], None
        for tick, line, level in sorted(self.changes, key=lambda one: one[0]):
            if tick != last:
                out.append(f"#{tick - start}")
                last = tick
            out.append(f"{level}{sign[line]}")
        return "\n".join([*out, f"#{self.changes[-1][0] - start + 1000}"]) + "\n"


@dataclass(slots=True)
class Card:
    """The card as its net file decodes: which register an address reaches, and what each of its bits is."""

    registers: dict[tuple[str, str], AddressSet] = field(default_factory=dict)  # (lowest address, direction)
    bits: dict[tuple[str, str, int], BitSense] = field(default_factory=dict)
    straps: dict[str, int] = field(default_factory=dict)

    @classmethod
    def of_study(cls, folder: Path) -> Card:
        """Read every net file of a study."""
        texts = [(path.read_text(), f"board/{path.name}") for path in sorted((folder / "board").glob("*.nets"))]
        board = parse_netlist(texts)
        card = cls()
        for one in testify(board, decode(board)):
            match one.subject.kind, one.subject.key, one.value:
                case SubjectKind.REGISTER, (_, address, direction), AddressSet() as addresses:
                    card.registers[address, direction] = addresses
                case SubjectKind.BIT, (_, address, direction, bit), BitSense() as sense:
                    card.bits[address, direction, int(bit)] = sense
                case SubjectKind.STRAP, (name,), Words() as words:
                    card.straps[name.upper()] = STRAP_READS[words.text]
        return card

    @property
    def addresses(self) -> AddressSet:
        """Everything the card answers to."""
        found = AddressSet.of(())
        for one in self.registers.values():
            found |= one
        return found

    def pins_after(self, address: int, value: int) -> dict[str, int]:
        """Levels that a write sets."""
        levels: dict[str, int] = {}
        for (lowest, direction), addresses in self.registers.items():
            if direction == "write" and address in addresses:
                for bit in range(8):
                    sense = self.bits.get((lowest, direction, bit))
                    if sense is not None and sense.kind is BitKind.FOLLOWS:
                        levels[sense.source] = value >> bit & 1 ^ sense.inverted
        return levels

    def read(self, address: int, levels: dict[str, int]) -> int:
        """The byte a read gives."""
        [lowest] = [low for (low, way), found in self.registers.items() if way == "read" and address in found]
        return sum(self._level(self.bits[lowest, "read", bit], levels) << bit for bit in range(8))

    def _level(self, sense: BitSense, levels: dict[str, int]) -> int:
        if sense.kind is BitKind.FOLLOWS:
            return {**self.straps, **levels}[sense.source] ^ sense.inverted
        return FLOATING if sense.level is None else sense.level


def listen(
    folder: Path, card: Card, listener: Listener, entry: int, instructions: int, recorder: Recorder | None = None
) -> Listener:
    """Run the program from an entry, with the listener on the plug, and perhaps a recorder of its levels."""
    image = Image.from_bytes((folder / "program" / "marram.bin").read_bytes(), 0xF800, "program/marram.bin")
    wires = {f"DATA{k}": 0 for k in range(1, 9)} | {"STROBE": 1}

    seen = recorder or Recorder()
    for name, level in {**wires, "BUSY": 0}.items():
        seen.see(0, name, level)
    busy_until = 0

    def follow(now: int) -> None:
        """BUSY falls by itself when the listener has put its byte away."""
        nonlocal busy_until
        if busy_until and busy_until <= now:
            seen.see(busy_until, "BUSY", 0)
            busy_until = 0

    def read(address: int, cycle: int) -> int:
        follow(cycle * CYCLE_NS)
        if address in TIDE:
            return TIDE[address]
        return card.read(address, PINS | {"BUSY": int(listener.is_busy(cycle * CYCLE_NS))})

    def write(address: int, value: int, cycle: int) -> None:
        nonlocal busy_until
        now = cycle * CYCLE_NS
        levels = card.pins_after(address, value)
        follow(now)
        listener.wires(now, data_byte(wires))
        if wires["STROBE"] and not levels.get("STROBE", 1):
            listener.strobe(now)
            if listener.holds_busy:
                busy_until = listener.deaf_until
                seen.see(now + BUSY_NS, "BUSY", 1)
        wires.update((name, level) for name, level in levels.items() if name in wires)
        for name, level in wires.items():
            seen.see(now, name, level)

    devices = card.addresses | AddressSet.of(TIDE)
    result = run([image], entry, devices, read=read, write=write, instructions=instructions)
    follow((result.cycles + 10**6) * CYCLE_NS)
    listener.wires((result.cycles + 10**6) * CYCLE_NS, data_byte(wires))
    return listener


def data_byte(wires: dict[str, int]) -> int:
    """The byte on the plug's data wires; DATA1 is the lowest."""
    return sum(wires[f"DATA{k}"] << (k - 1) for k in range(1, 9))


def make_logs(folder: Path) -> dict[str, str]:
    """The text of each log, by file name."""
    card = Card.of_study(folder)
    chance = random.Random(SEED)
    runs = [listen(folder, card, Listener(chance), RESET, 14_000).caught for _ in range(NUM_RUNS)]
    single = listen(folder, card, Listener(chance, holds_busy=True), READING, 40_000).caught
    lines = [" ".join(f"{byte:02X}" for _, byte in caught) for caught in runs]
    start = single[0][0]
    times = " ".join(f"{byte:02X}@{(at - start) // 1000}us" for at, byte in single)
    recorder = Recorder()
    listen(folder, card, Listener(chance, holds_busy=True), READING, 40_000, recorder)
    return {
        "plug.vcd": recorder.text(),
        "power-on.log": BURST + "\n".join(lines) + "\n",
        "tide-line.log": READING_TEXT + times + "\n",
    }


BURST = f"""\
# INVENTED for the demonstration.  The power-on burst of card no. 0417, recorder switched on {NUM_RUNS} times.
# Listener borrowed from the school; its BUSY wire not connected, BUSY held low at the plug.  It loses bytes.
numbers: hex
runs: line

"""
CAPTURE_TEXT = """\
$comment INVENTED for the demonstration.  The lines of the plug while one reading was printed, the listener holding
BUSY; noted by a borrowed recorder to a tenth of a microsecond. $end
$timescale 100 ns $end
$scope module plug $end"""
READING_TEXT = """\
# INVENTED for the demonstration.  One reading, once; this time the listener held BUSY.
numbers: hex
runs: file

"""


def main() -> None:
    """Write the logs."""
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else demo_folder() / "wire"
    target.mkdir(parents=True, exist_ok=True)
    for name, text in make_logs(demo_folder()).items():
        (target / name).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()

"""A large study, all of it invented: 50 images that drive the demonstration's card, 20 manuals, 5,000 readings of a
meter and 5,000 bytes of a listener.

The card is the demonstration's, its nets taken away and read back pin by pin; each image has a line of text and a
routine of its own for one byte, at mirrors drawn at random; the manuals are the demonstration's two under other names.
"""

from __future__ import annotations

import random
import re
from itertools import pairwise
from typing import TYPE_CHECKING

from latchlore.board import parse_board
from latchlore.demo import demo_folder

if TYPE_CHECKING:
    from pathlib import Path

IMAGES, DOCUMENTS, READINGS, RUNS, LOGGED = 50, 20, 5_000, 10, 500
IMAGE_SIZE = 0x400
FIRST, GAP, BEHIND = 0x0400, 0xA800, 0xC000
"""Images lie from FIRST up to the card's registers at GAP, and again from BEHIND on."""

DROPPED = re.compile(r"(net|tie|open|done|pull)\b")
RAILS = {"low": "j1.44", "high": "j1.1"}


def write_large_study(folder: Path, seed: int = 1) -> Path:
    """The study's folder; the same seed gives the same bytes."""
    dice = random.Random(seed)
    for name in ("board", "program", "documents", "wire"):
        (folder / name).mkdir(parents=True)
    lines = ['title = "A large study (invented)"', "invented = true", "[program]", 'cpu = "6502"', 'clock = "5/4 MHz"']
    for number in range(IMAGES):
        lines += _image(folder, number, dice)
    for role in ("data", "strobe", "busy", "paper-out", "fault"):
        lines += ["[[role]]", f'role = "{role}"', f'signal = "{role.upper()}"']
    lines += ["[[log]]", 'file = "wire/long.log"', 'sequence = "long"', 'runs = "line"']
    (folder / "study.toml").write_text("\n".join(lines) + "\n", "utf-8")
    _documents(folder)
    _readings(folder, dice)
    text = bytes(dice.choice(b"ABCDEFGHIJKLMNOPQRSTUVWXYZ 0123456789") for _ in range(LOGGED))
    runs = [bytes(one for one in text if dice.random() > 0.02).hex(" ").upper() for _ in range(RUNS)]
    (folder / "wire" / "long.log").write_text("\n".join(runs) + "\n", "utf-8")
    return folder


def _image(folder: Path, number: int, dice: random.Random) -> list[str]:
    """One image and its two entries: a line of text, and a character in A."""
    load = FIRST + number * IMAGE_SIZE
    if load >= GAP:
        load += BEHIND - GAP
    to_data, control, status = (dice.choice(pages) << 8 | low for pages, low in _MIRRORS)
    message = bytes(dice.choice(b"ABCDEFGHIJKLMNOPQRSTUVWXYZ") for _ in range(dice.randrange(10, 40))) + b"\r\n\0"
    code = _routine(load, to_data, control, status, dice.randrange(3, 9), message)
    rest = bytes(dice.randrange(256) for _ in range(IMAGE_SIZE - len(code)))
    (folder / "program" / f"rom{number:02}.bin").write_bytes(code + rest)
    return [
        *("[[image]]", f'file = "program/rom{number:02}.bin"', f'load = "{load:04X}"'),
        *("[[entry]]", f'name = "line {number}"', f'address = "{load:04X}"'),
        *("[[entry]]", f'name = "character {number}"', f'address = "{load + CHARACTER:04X}"'),
    ]


_PAGES = (0xA8, 0xA9, 0xAA, 0xAB, 0xB8, 0xB9, 0xBA, 0xBB)
_MIRRORS = ((_PAGES, 0x08), (_PAGES, 0x10), (_PAGES, 0x17))
CHARACTER = 11


def _routine(load: int, data: int, control: int, status: int, width: int, message: bytes) -> bytes:
    """LDX #0; line: LDA text,X; BEQ done; JSR send; INX; BNE line ... with a polling loop on bit 6."""

    def word(value: int) -> bytes:
        return value.to_bytes(2, "little")

    send = load + 24
    line = b"".join(
        (
            b"\xa2\x00",  # 0: LDX #0
            b"\xbd" + word(load + 64),  # 2: LDA text,X
            b"\xf0\x03",  # 5: BEQ 10
            b"\x4c" + word(load + 56),  # 7: JMP 56
            b"\x60",  # 10: RTS
        )
    )
    character = b"".join(
        (
            b"\x29\x7f",  # 11: AND #7F
            b"\xc9\x20",  # 13: CMP #20
            b"\x90\x03",  # 15: BCC 20
            b"\x20" + word(send),  # 17: JSR send
            b"\x60\xea\xea\xea",  # 20: RTS
        )
    )
    sender = b"".join(
        (
            b"\x2c" + word(status),  # 24: BIT status
            b"\x50\xfb",  # 27: BVC 24
            b"\x8d" + word(data),  # 29: STA data
            b"\xa9\x03\x8d" + word(control),  # 32: LDA #3; STA control
            b"\xa0" + bytes([width]) + b"\x88\xd0\xfd",  # 37: LDY #width; 39: DEY; BNE 39
            b"\xa9\x02\x8d" + word(control),  # 42: LDA #2; STA control
            b"\x60",  # 47: RTS
        )
    )
    loop = b"\x20" + word(send) + b"\xe8" + b"\x4c" + word(load + 2)  # 56: JSR send; INX; JMP 2
    code = line + character + sender
    assert len(code) == 48
    return (code.ljust(56, b"\xea") + loop).ljust(64, b"\xea") + message


def _documents(folder: Path) -> None:
    """The two manuals under other names."""
    sources = [(demo_folder() / "documents" / f"quill-24{name}.toml").read_text("utf-8") for name in ("", "g")]
    for number in range(DOCUMENTS):
        text = re.sub(r'(?m)^device = ".*"', f'device = "Quill {number} (invented)"', sources[number % 2])
        (folder / "documents" / f"quill-{number:02}.toml").write_text(text, "utf-8")


def _readings(folder: Path, dice: random.Random) -> None:
    """The card without its nets, and what a meter says between its pins."""
    text = (demo_folder() / "board" / "card.nets").read_text("utf-8")
    parts = "\n".join(line for line in text.split("\n") if not DROPPED.match(line))
    (folder / "board" / "card.nets").write_text(parts, "utf-8")
    nets = [sorted(str(pin) for pin in net.pins) for net in parse_board(text, "card.nets").nets]
    tied = {rail: {pin} for rail, pin in RAILS.items()}
    for level, pins in re.findall(r"(?m)^tie (low|high) (.*)$", text):
        tied[level] |= set(pins.split())
    nets += [sorted(pins) for pins in tied.values()]
    of = {pin: number for number, net in enumerate(nets) for pin in net}
    pairs = [(first, second) for net in nets for first, second in pairwise(net)] * 2
    pins = sorted(of)
    while len(pairs) < READINGS:
        first, second = dice.sample(pins, 2)
        pairs.append((first, second))
    dice.shuffle(pairs)
    lines = [f"{'joined' if of[one] == of[other] else 'apart'} {one} {other}" for one, other in pairs[:READINGS]]
    (folder / "board" / "card.readings").write_text("\n".join(lines) + "\n", "utf-8")

"""Studies for the stand-in's tests: bench case "two status tests", and a host that waits for an acknowledge pulse."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

# A: LDA C801; AND #F0; CMP #30; BNE A; LDA #41; STA C800; RTS
# B: LDA C801; CMP #3F; BNE B; LDA #42; STA C800; RTS
# C: BIT C801; BMI C; LDA #43; STA C800; RTS
CASE_18 = (
    ("A", "AD01C8 29F0 C930 D0F7 A941 8D00C8 60"),
    ("B", "AD01C8 C93F D0F9 A942 8D00C8 60"),
    ("C", "2C01C8 30FB A943 8D00C8 60"),
)
# the byte in A: STA C800; LDA #0; STA C802; LDA #1; STA C802; wait: BIT C801; BMI wait; RTS
ACKNOWLEDGED = "8D00C8 A900 8D02C8 A901 8D02C8 2C01C8 30FB 60"

STUDY = """\
title = "{title}"
invented = true

[program]
cpu = "6502"
clock = "1 MHz"
"""

ROLE = """
[[role]]
role = "{role}"
signal = "{signal}"
at = "{at}"
"""

DOCUMENT = """\
title = "Guide (invented)"
device = "Invented printer"
kind = "manual"
invented = true
timing = [
    {{ what = "acknowledge width", least = "{least}", signal = "ACK", page = 3, row = 1 }},
]
"""


def write_case_18(folder: Path, routines: tuple[tuple[str, str], ...] = CASE_18) -> Path:
    """Three drivers that share a status register at C801, nothing else known."""
    text = STUDY.format(title="Two status tests") + '\n[devices]\naddresses = ["C800-C803"]\n'
    for number, (name, code) in enumerate(routines):
        load = 0xE000 + 0x100 * number
        text += _image(folder, name, code, load)
    text += ROLE.format(role="data", signal="DATA", at="C800")
    (folder / "study.toml").write_text(text, "utf-8")
    return folder


def write_acknowledged(folder: Path, least: str = "") -> Path:
    """A host that sends the byte in A and waits for a low pulse of ACK at C801 bit 7; `least`: its stated width."""
    text = STUDY.format(title="A host that waits for ACK") + '\n[devices]\naddresses = ["C800-C803"]\n'
    text += _image(folder, "send", ACKNOWLEDGED, 0xE000)
    for role, signal, at in (
        ("data", "DATA", "C800"),
        ("strobe", "STROBE", "C802 bit 0"),
        ("acknowledge", "ACK", "C801 bit 7"),
    ):
        text += ROLE.format(role=role, signal=signal, at=at)
    (folder / "study.toml").write_text(text, "utf-8")
    if least:
        (folder / "documents").mkdir(exist_ok=True)
        (folder / "documents" / "guide.toml").write_text(DOCUMENT.format(least=least), "utf-8")
    return folder


def _image(folder: Path, name: str, code: str, load: int) -> str:
    (folder / "program").mkdir(parents=True, exist_ok=True)
    (folder / "program" / f"{name}.bin").write_bytes(bytes.fromhex(code))
    return (
        f'\n[[image]]\nfile = "program/{name}.bin"\nload = "{load:04X}"\n'
        f'\n[[entry]]\nname = "{name}"\naddress = "{load:04X}"\n'
    )

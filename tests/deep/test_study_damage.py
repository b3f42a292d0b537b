"""The demonstration study, damaged at random: it is weighed or refused, and Latchlore itself is never at fault."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from latchlore.base import FAULT
from latchlore.cli import run
from tests.demos import lay_demo

TEXTS = (".toml", ".nets", ".log")
WORDS = [
    "",
    "#",
    "=",
    '"',
    "[",
    "]]",
    "0",
    "-1",
    "1e9",
    "FF",
    "x",
    "é",
    "\x00",
    "none",
    "1 2 3",
    "u99.99",
    "any",
    "true",
]


def damage(dice: random.Random, text: str) -> str:
    """A few lines dropped, doubled, swapped, cut, or with a word put in or taken out."""
    lines = text.splitlines()
    for _ in range(dice.randint(1, 3)):
        if not lines:
            break
        at = dice.randrange(len(lines))
        words = lines[at].split(" ")
        match dice.randrange(6):
            case 0:
                del lines[at]
            case 1:
                lines.insert(at, lines[dice.randrange(len(lines))])
            case 2:
                other = dice.randrange(len(lines))
                lines[at], lines[other] = lines[other], lines[at]
            case 3:
                lines[at] = lines[at][: dice.randrange(len(lines[at]) + 1)]
            case 4:
                words[dice.randrange(len(words))] = dice.choice(WORDS)
                lines[at] = " ".join(words)
            case _:
                words.insert(dice.randrange(len(words) + 1), dice.choice(WORDS))
                lines[at] = " ".join(words)
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("seed", range(60))
def test_damaged_study(
    tmp_path: Path, tmp_path_factory: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch, seed: int,
) -> None:  # fmt: skip
    """One text file of the study is damaged; the command ends with a status that is not a fault of its own."""
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path_factory.getbasetemp() / "cache"))
    folder = lay_demo(tmp_path / "demo")
    dice = random.Random(seed)
    path = dice.choice(sorted(path for path in folder.rglob("*") if path.suffix in TEXTS))
    path.write_text(damage(dice, path.read_text("utf-8")), "utf-8")
    status = run(["weigh", str(folder)])
    printed = capsys.readouterr()
    assert status != FAULT.exit_code, f"{path.relative_to(folder)}: {printed.err}"
    assert status == 0 or printed.err or printed.out

"""Write the demonstration's findings and their history: demo-source/make_record.py [STUDY] (default: the packaged one).

Invented, like all of the demonstration.  The findings are added and accepted by the commands a researcher would type,
on the study as it stood on the day: at first the two wires of BUSY's inverter are taken for one.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path

from latchlore.cli import run

DEMO = Path(__file__).parent.parent / "src" / "latchlore" / "demo"
TRACED = ("net busy     j2.10 u10.3\nnet nbusy    u10.4 u9.15\n", "pull up busy 4k7\n")
MISTAKEN = ("net busy     j2.10 u9.15\n", "pull up busy 4k7\nopen u10.4\ntie low u10.3\n")
INVENTED = "# INVENTED for the demonstration, by demo-source/make_record.py.\n"
HEADING = "# Findings: sentences, and what they rest on (docs/record.md).\n"
FIRST_DAY, SECOND_DAY, THIRD_DAY = "2026-04-11", "2026-04-12", "2026-05-02"


def main(study: Path) -> int:
    """Write findings.toml and history.txt of the study anew."""
    with tempfile.TemporaryDirectory() as place:
        os.environ["LATCHLORE_CACHE"] = str(Path(place) / "cache")
        work = Path(place) / "study"
        shutil.copytree(study, work, ignore=shutil.ignore_patterns("__pycache__", "findings.toml", "history.txt"))
        nets = work / "board" / "card.nets"
        traced = nets.read_text("utf-8")
        mistaken = traced
        for right, wrong in zip(TRACED, MISTAKEN, strict=True):
            assert right in mistaken
            mistaken = mistaken.replace(right, wrong)
        nets.write_text(mistaken, "utf-8")
        (work / "findings.toml").write_text(INVENTED + HEADING, "utf-8")  # the history names its lines
        record(
            work, "add", "waits-for-busy",
            "The card waits until the printer's BUSY is low, and only then sends a byte.",
            *on("signal BUSY", "A810 (read) bit 6"), *day(FIRST_DAY),
            "--because", "the polling loop at F868, and the level in both manuals",
        )  # fmt: skip
        record(
            work, "add", "strobe-long-enough",
            "The strobe lasts long enough for both printers, the dot version too.",
            *on("strobe width", "finding waits-for-busy"), *day(FIRST_DAY),
        )  # fmt: skip
        nets.write_text(traced, "utf-8")
        record(
            work, "accept", *day(SECOND_DAY), "--because",
            "between J2 pin 10 and U9 pin 15 there are two gates' pins, not one wire: U10 pins 3 and 4, touched again "
            "from both ends",
        )  # fmt: skip
        record(
            work, "add", "headed-strip", "At power-on the recorder heads its strip, in letters and not in dots.",
            *on("sequence power-on"), *day(SECOND_DAY),
        )  # fmt: skip
        record(
            work, "add", "no-tide-in-dots",
            "This program never drew the tide in dots; the label must mean another one.",
            *on("dot-drawn tide curve"), *day(THIRD_DAY),
            "--because", "every path was followed, and no row of dots is among what can be sent",
        )  # fmt: skip
        shutil.copy(work / "findings.toml", study)
        (study / "history.txt").write_text(INVENTED + (work / "history.txt").read_text("utf-8"), "utf-8")
    return 0


def on(*subjects: str) -> list[str]:
    """What a finding rests on."""
    return [word for subject in subjects for word in ("--on", subject)]


def day(date: str) -> tuple[str, str]:
    """The date of an entry."""
    return ("--date", date)


def record(study: Path, verb: str, *more: str) -> None:
    """One command."""
    status = run(["record", verb, str(study), *more])
    if status:
        sys.exit(status)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]) if len(sys.argv) > 1 else DEMO))

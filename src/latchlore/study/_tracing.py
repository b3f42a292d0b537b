"""A board being traced at the bench: the study's readings, the guide, and every answer kept as it is given."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin
from latchlore.study._load import load_study
from latchlore.study._write import write_whole

if TYPE_CHECKING:
    from pathlib import Path

    from latchlore.board import Board
    from latchlore.board.tracing import MeterReading, Proposal, TraceReport
    from latchlore.study._study import Study

DEFAULT_FILE = "board/trace.readings"
READS = ("sweep", "joined", "apart", "ohms", "diode")
"""Statements of a readings file that are readings."""

SETS = ("hold", "press", "lifted", "side")
"""Statements that say how the readings below them are taken."""


class Tracing:
    """One board and its readings; answers go to `file`, a path from the study's folder.

    `text` is the content of that file as it is on disk.
    """

    def __init__(self, study: Study, file: str, *, strips: bool = True) -> None:
        from latchlore.board import parse_netlist

        self.folder = study.folder
        self.file = file
        self.strips = strips
        self.board: Board = parse_netlist([(one.text, one.file) for one in study.nets])
        self.others = [(one.text, one.file) for one in study.readings if one.file != file]
        self.text = next((one.text for one in study.readings if one.file == file), "")
        if self.text and not self.text.endswith("\n"):
            self.text += "\n"
        self.readings: tuple[MeterReading, ...] = ()
        self._start()

    def _start(self) -> None:
        from latchlore.board.tracing import Guide

        self.readings = self._read(self.text)
        self.guide = Guide(self.board, self.readings, strips=self.strips)
        self.proposal: Proposal = self.guide.propose()

    def _read(self, text: str) -> tuple[MeterReading, ...]:
        from latchlore.board.tracing import parse_all_readings

        return parse_all_readings([*self.others, (text, self.file)], self.board)

    def use_strips(self, strips: bool) -> None:
        """Propose a strip across one side from now on, or no more."""
        self.strips = strips
        self.guide.strips = strips
        self.proposal = self.guide.propose()

    def answer(self, typed: str) -> None:
        """Take the answer to the proposal, or any statement of a readings file, and keep it on disk.

        Empty: nothing beeped.  For a row the pins that beeped, and ``ohms PIN VALUE`` or ``diode PIN``; for a single
        pin ``y``, ``ohms VALUE`` or ``diode``.  Refuses what a readings file refuses, and changes nothing then.
        """
        words = typed.lower().split()
        if words and words[0] in (*READS, *SETS) and not self._is_answer(words):
            self._keep([" ".join(words)])
            return
        if self.proposal.held is None:
            raise BadInput(Origin(self.file), f"nothing is proposed that {typed!r} could answer")
        self._keep(self._lines(words))

    def _is_answer(self, words: list[str]) -> bool:
        """Whether ``ohms`` or ``diode`` begins an answer: the words after it name no pin with its part."""
        return self.proposal.held is not None and words[0] in ("ohms", "diode") and not any("." in w for w in words[2:])

    def _lines(self, words: list[str]) -> list[str]:
        asked = self.proposal
        if len(asked.row) == 1 and asked.row_word == str(asked.row[0].pin):
            pair = f"{asked.held} {asked.row[0]}"
            if not words or words == ["n"]:
                return [f"apart {pair}"]
            if words in (["y"], [asked.row_word]):
                return [f"joined {pair}"]
            if words[0] in ("ohms", "diode") and len(words) == (2 if words[0] == "ohms" else 1):
                return [f"{' '.join(words)} {pair}"]
            raise BadInput(
                Origin(self.file), f"the answer for one pin is y, ohms VALUE, diode or nothing, not {' '.join(words)!r}"
            )
        how = f"press {asked.strip_row}" if asked.strip else f"hold {asked.held}"
        held = [] if self._in_force(("hold", "press")) == how else [how]
        return [*held, " ".join(["sweep", asked.owner, asked.row_word, *words])]

    def _in_force(self, kinds: tuple[str, ...]) -> str:
        """The last line of one of these statements in the file."""
        for line in reversed(self.text.splitlines()):
            words = line.split("#", 1)[0].split()
            if words and words[0] in kinds:
                return " ".join(words)
        return ""

    def _keep(self, lines: list[str]) -> None:
        text = self.text + "".join(f"{line}\n" for line in lines)
        readings = self._read(text)
        self._write(text)
        for reading in readings[len(self.readings) :]:
            self.guide.take(reading)
        self.readings = readings
        self.proposal = self.guide.propose()

    def undo(self) -> str:
        """Take back the last reading of the file, on disk too; the line taken back, empty where there is none."""
        lines = self.text.splitlines(keepends=True)
        for k in range(len(lines) - 1, -1, -1):
            words = lines[k].split("#", 1)[0].split()
            if words and words[0] in READS:
                line = lines.pop(k)
                self._write("".join(lines))
                self._start()
                return line.strip()
        return ""

    def _write(self, text: str) -> None:
        path = self.folder / self.file
        write_whole(path, text.encode("utf-8"))
        self.text = text

    def report(self) -> TraceReport:
        """What is not done, what is doubted, and what is likely wrong."""
        from latchlore.board.tracing import report_on

        return report_on(self.board, self.readings, self.proposal)


def open_tracing(folder: Path, file: str = "", *, strips: bool = True) -> Tracing:
    """Begin or go on tracing the board of a study.

    `file` is the readings file that answers go to, by default the study's only one, or board/trace.readings.
    Refuses a study without a net file (the parts list), and what the readers of its files refuse.
    """
    study = load_study(folder)
    if not study.nets:
        words = "the study has no net file; write the parts list first: board/NAME.nets (docs/net-file.md)"
        raise BadInput(Origin("board"), words)
    known = [one.file for one in study.readings]
    chosen = file or (known[0] if len(known) == 1 else DEFAULT_FILE)
    if not chosen.startswith("board/") or chosen.count("/") != 1 or not chosen.endswith(".readings"):
        raise BadInput(Origin(chosen), f"a readings file is board/NAME.readings, not {chosen!r}")
    return Tracing(study, chosen, strips=strips)

"""Text in lines for a terminal: headings, paragraphs, rows, and the sentences that every answer ends with."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.cli import wording
from latchlore.cli._letters import harmless
from latchlore.cli._terminal import Terminal
from latchlore.cli._text import plain_letters, wrap

if TYPE_CHECKING:
    from collections.abc import Iterable

    from latchlore.study import AskedProgram

BOLD = "1"
FAINT = "2"
WARN = "1;31"


class Page:
    """Lines under construction."""

    def __init__(self, width: int | None = None) -> None:
        self.terminal = Terminal.of_stdout(width)
        self.lines: list[str] = []

    def tint(self, text: str, code: str) -> str:
        """Coloured where that is understood."""
        return f"\x1b[{code}m{text}\x1b[0m" if code and self.terminal.tinted else text

    def head(self, title: str, asked: AskedProgram) -> None:
        """What is asked of whom."""
        self.say(title, code=BOLD)
        self.say(f"of {asked.title}; {asked.cpu}")
        if asked.is_invented:
            self.say(wording.INVENTED)

    def heading(self, text: str) -> None:
        """A heading with room above."""
        self.gap()
        self.say(text, code=BOLD)

    def gap(self) -> None:
        """An empty line, never two."""
        if self.lines and self.lines[-1]:
            self.lines.append("")

    def say(self, text: str, indent: int = 0, hang: int = 2, code: str = "") -> None:
        """A paragraph."""
        for line in wrap(text, self.terminal.width, " " * indent, " " * (indent + hang)):
            self.lines.append(self.tint(line, code))

    def row(self, label: str, text: str, code: str = "") -> None:
        """Text behind a label; further lines stand below the text."""
        first, *rest = wrap(text, max(self.terminal.width - len(label), 30), "", "")
        self.lines.append(self.tint(f"{harmless(label)}{first}", code))
        self.lines += [self.tint(f"{'':{len(label)}}{line}", code) for line in rest]

    def points(self, heading: str, sentences: Iterable[str], code: str = "") -> None:
        """A heading and a list, if there is anything to list."""
        texts = list(dict.fromkeys(sentences))
        if texts:
            self.heading(heading)
            for text in texts:
                for line in wrap(text, self.terminal.width, "  - ", "    "):
                    self.lines.append(self.tint(line, code))

    def text(self) -> str:
        """Everything, ending in a line feed."""
        text = "\n".join(line.rstrip() for line in self.lines).rstrip("\n") + "\n"
        return text if self.terminal.marks else plain_letters(text)

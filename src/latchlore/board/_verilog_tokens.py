"""Verilog text to tokens with their lines (IEEE 1364-2001, clauses 2 and 19).

Why an own reader: the packaged parsers read the whole language and bring a preprocessor to run or tens of megabytes
for it, while a board needs the dozen statements of the structural subset, every mistake at once in the words of the
other board files, and the place of each connection.  That the subset is read and written rightly is checked with a
simulator that shares nothing with this reader.
"""

from __future__ import annotations

import re
from typing import NamedTuple


class Token(NamedTuple):
    """One token: kind is ``name``, ``number``, ``text`` or ``mark``; `line` from 1."""

    kind: str
    text: str
    line: int


class Bad(Exception):
    """One mistake at a line; collected by the parser, never shown as it is."""

    def __init__(self, line: int, words: str) -> None:
        super().__init__(words)
        self.line, self.words = line, words


_TOKEN = re.compile(
    r"""(?P<space>[ \t\r\f]+|//[^\n]*)
    |(?P<newline>\n)
    |(?P<block>/\*.*?\*/)
    |\\(?P<escaped>[!-~]+)(?=\s|$)
    |(?P<name>[A-Za-z_][A-Za-z0-9_$]*)
    |(?P<number>[0-9_]*\ *'[sS]?[bBoOdDhH]\ *[0-9a-fA-FxXzZ?_]+|[0-9][0-9_]*)
    |"(?P<text>(?:[^"\\\n]|\\.)*)"
    |(?P<directive>`[A-Za-z_]\w*)
    |(?P<mark>\(\*(?!\s*\))|\*\)|[()\[\]{}:;,.=\#*@?~&|^+\-!<>/%$])
    """,
    re.VERBOSE | re.DOTALL,
)
_SKIPPED_LINES = ("`timescale", "`default_nettype", "`celldefine", "`endcelldefine", "`resetall")


def read_tokens(text: str) -> tuple[list[Token], list[Bad]]:
    """All tokens in order, and what is no token at all; a directive's line is skipped where it changes no wire."""
    tokens: list[Token] = []
    wrong: list[Bad] = []
    at, line = 0, 1
    while at < len(text):
        found = _TOKEN.match(text, at)
        if found is None:
            wrong.append(Bad(line, f"character {text[at]!r} begins nothing that Verilog knows"))
            at += 1
            continue
        at = found.end()
        kind = found.lastgroup or ""
        if kind == "newline":
            line += 1
        elif kind == "block":
            line += found[0].count("\n")
        elif kind == "directive":
            if found[0] not in _SKIPPED_LINES:
                wrong.append(Bad(line, f"directive {found[0]!r} is not read; only parts and wires are"))
            end = text.find("\n", at)
            at = len(text) if end < 0 else end
        elif kind == "escaped":
            tokens.append(Token("name", found["escaped"], line))
        elif kind == "text":
            tokens.append(Token("text", re.sub(r"\\(.)", r"\1", found["text"]), line))
        elif kind != "space":
            tokens.append(Token(kind, found[0], line))
    return tokens, wrong

"""Text from files made harmless for a terminal."""

from __future__ import annotations


def harmless(text: str) -> str:
    r"""The text with each control or invisible letter written out, such as ``\x1b``; line ends stay."""
    if text.isprintable():
        return text
    return "".join(
        letter if letter.isprintable() or letter == "\n" else letter.encode("unicode_escape").decode("ascii")
        for letter in text.replace("\t", " ")
    )

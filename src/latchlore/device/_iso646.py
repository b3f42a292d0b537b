"""National versions of ISO 646: what stands in the twelve positions that a nation may choose.

Source: ISO International Register of Coded Character Sets (the registration is named in each row) and the national
standards named there; checked against the converter of the C library.  Names are those under which the registered
sets are known to that converter.  Printers of the time often differ from the standard of their own country: what a
device prints belongs into its own table, with the page of its manual.
"""

from __future__ import annotations

from typing import NamedTuple

POSITIONS = (0x23, 0x24, 0x40, 0x5B, 0x5C, 0x5D, 0x5E, 0x60, 0x7B, 0x7C, 0x7D, 0x7E)
"""The positions of national use, in the order of the characters below."""


class NationalVersion(NamedTuple):
    """A version of ISO 646: its name, the characters of the twelve positions, and the standard behind it."""

    name: str
    characters: str
    standard: str


VERSIONS = (
    NationalVersion("ISO646-US", "#$@[\\]^`{|}~", "ISO-IR 6, ANSI X3.4"),
    NationalVersion("ISO646-CA", "#$àâçêîôéùèû", "ISO-IR 121, CSA Z243.4 no. 1"),
    NationalVersion("ISO646-CA2", "#$àâçêÉôéùèû", "ISO-IR 122, CSA Z243.4 no. 2"),
    NationalVersion("ISO646-CN", "#¥@[\\]^`{|}‾", "ISO-IR 57, GB 1988"),
    NationalVersion("ISO646-CU", "#¤@¡Ñ]¿`´ñ[¨", "ISO-IR 151, NC 99-10"),
    NationalVersion("ISO646-DE", "#$§ÄÖÜ^`äöüß", "ISO-IR 21, DIN 66003"),
    NationalVersion("ISO646-DK", "#$@ÆØÅ^`æøå~", "DS 2089"),
    NationalVersion("ISO646-ES", "£$§¡Ñ¿^`°ñç~", "ISO-IR 17"),
    NationalVersion("ISO646-ES2", "#$•¡ÑÇ¿`´ñç¨", "ISO-IR 85"),
    NationalVersion("ISO646-FI", "#¤@ÄÖÅ^`äöå‾", "ISO-IR 10, SFS 4017"),
    NationalVersion("ISO646-FR", "£$à°ç§^µéùè¨", "ISO-IR 69, NF Z 62-010 (1982)"),
    NationalVersion("ISO646-FR1", "£$à°ç§^`éùè¨", "ISO-IR 25, NF Z 62-010 (1973)"),
    NationalVersion("ISO646-GB", "£$@[\\]^`{|}‾", "ISO-IR 4, BS 4730"),
    NationalVersion("ISO646-HU", "#¤ÁÉÖÜ^áéöü˝", "ISO-IR 86, MSZ 7795/3"),
    NationalVersion("ISO646-IT", "£$§°çé^ùàòèì", "ISO-IR 15"),
    NationalVersion("ISO646-JP", "#$@[¥]^`{|}‾", "ISO-IR 14, JIS C 6220-1969"),
    NationalVersion("ISO646-KR", "#$@[₩]^`{|}~", "KS C 5636"),
    NationalVersion("ISO646-NO", "#$@ÆØÅ^`æøå‾", "ISO-IR 60, NS 4551 version 1"),
    NationalVersion("ISO646-NO2", "§$@ÆØÅ^`æøå|", "ISO-IR 61, NS 4551 version 2"),
    NationalVersion("ISO646-PT", "#$§ÃÇÕ^`ãçõ°", "ISO-IR 16"),
    NationalVersion("ISO646-PT2", "#$´ÃÇÕ^`ãçõ~", "ISO-IR 84"),
    NationalVersion("ISO646-SE", "#¤@ÄÖÅ^`äöå‾", "ISO-IR 10, SEN 850200 annex B"),
    NationalVersion("ISO646-SE2", "#¤ÉÄÖÅÜéäöåü", "ISO-IR 11, SEN 850200 annex C"),
    NationalVersion("ISO646-YU", "#$ŽŠĐĆČžšđćč", "ISO-IR 141, JUS I.B1.002"),
)

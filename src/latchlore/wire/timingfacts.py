"""Published timing of parallel interfaces: figures of printers and hosts, a row a document.

Each row names its document and page; figures are limits in nanoseconds (least, most), None where there is no limit.
"Strobe low" and the like are named as `FIGURES` of the timing.  Rows are for testing a capture against; they are not
the standard IEEE 1284 itself, whose text is not quoted here.
"""

from __future__ import annotations

from typing import NamedTuple

from latchlore.base import Span


class TimingRow(NamedTuple):
    """One document's figures: name → (least, most) in nanoseconds."""

    document: str
    page: str
    figures: dict[str, tuple[int | None, int | None]]


TIMING_ROWS = (
    TimingRow(
        "Epson FX-890/FX-2190 service manual",
        "p. 24, table 1-26",
        {
            "data set-up": (500, None),
            "strobe width": (500, None),
            "data hold": (500, None),
            "strobe to busy": (None, 500),
            "acknowledge width": (500, 10_000),
            "busy end to strobe": (0, None),
            "acknowledge end to busy end": (0, None),
        },
    ),
    TimingRow(
        "Fujitsu PrintPartner 20W manual",
        "p. 5-11, compatible mode",
        {
            "data set-up": (500, None),
            "strobe width": (500, None),
            "data hold": (500, None),
            "strobe to busy": (None, 500),
        },
    ),
    TimingRow(
        "Fujitsu manual (older)",
        "pp. D-6, D-7",
        {
            "data set-up": (1000, None),
            "strobe width": (1000, None),
            "data hold": (1000, None),
            "strobe to busy": (None, 1000),
        },
    ),
    TimingRow(
        "SMSC FDC37C669 data sheet (a host)",
        "p. 157, parallel port FIFO timing",
        {
            "data set-up": (600, None),
            "strobe width": (600, None),
            "data hold": (450, None),
            "strobe to busy": (None, 500),
            "busy end to strobe": (680, None),
        },
    ),
    TimingRow("Epson LX-80 manual", "appendix I", {"strobe width": (500, None)}),
    TimingRow(
        "NCR Decision Mate V manual", "p. 2-65", {"strobe width": (1000, None), "acknowledge width": (2500, 10_000)}
    ),
)

LEAST_STILL = Span.of(
    ns=min(
        least
        for row in TIMING_ROWS
        for name in ("data set-up", "data hold")
        if (least := row.figures.get(name, (None, None))[0]) is not None
    )
)
"""For so long data stands on either side of the edge that takes it, by every row that says so."""

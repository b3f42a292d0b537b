"""How to cite the dossier and the documents behind it: as text, and as CSL-JSON for programs that keep references.

The text has the elements of ISO 690:2021 in its order (creator, title, medium, edition, date, extent, identifier,
where it is held); the order is *from memory*.  CSL-JSON is the input data of the Citation Style Language 1.0.2, its
types and variables as that specification's appendices list them.  A date stands only where a file of the study states
one.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Any, NamedTuple

from latchlore.dossier import wording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.device import Device
    from latchlore.dossier._parts import Parts
    from latchlore.dossier._sources import Source
    from latchlore.evidence import Table

CSL_TYPES = {"manual": "book", "service manual": "book", "letter": "personal_communication", "photograph": "graphic"}
"""Kind of a document → type of CSL 1.0.2 (appendix III); every other kind is a ``document``."""


class Reference(NamedTuple):
    """One reference as text: what stands before the title, the title (in italics), and the rest."""

    before: str
    title: str
    rest: str
    file: str

    @property
    def text(self) -> str:
        """All of it in one line."""
        return f"{self.before}{self.title}{self.rest}"


def sum_of(sources: Sequence[Source]) -> str:
    """SHA-256 over the study: over one line for each of its files by name, the file's own SHA-256, two spaces, name.

    These are the lines that the program ``sha256sum`` of POSIX systems prints, so anybody can work it out again.
    """
    lines = "".join(f"{one.sha256}  {one.file}\n" for one in sorted(sources, key=lambda one: one.file) if one.sha256)
    return hashlib.sha256(lines.encode()).hexdigest()


def date_of(parts: Parts) -> str:
    """The date that the study states, else the last day of its history or of an outcome; empty where it has none."""
    if parts.date:
        return parts.date
    days = [past.change.day for past in parts.findings.history] if parts.findings is not None else []
    if parts.questions is not None:
        days += [step.seen.on for one in parts.questions.questions for step in one.steps]
    return max((day for day in days if day), default="")


def cite_dossier(table: Table, parts: Parts, digest: str) -> Reference:
    """How the dossier itself is cited."""
    before = f"{'; '.join(parts.authors)}. " if parts.authors else ""
    invented = wording.CITE_INVENTED if table.invented else ""
    date = date_of(parts) or wording.NO_DATE
    return Reference(before, table.title, f"{wording.CITE_MEDIUM}{invented}. {date}. {wording.CITE_SUM}{digest}.", "")


def cite_document(device: Device) -> Reference:
    """How one document is cited; what it does not state is left out."""
    rest = f" [{device.kind}]" if device.kind else ""
    parts = [
        rest,
        f"{device.edition} edition" if device.edition else "",
        device.date or wording.NO_DATE,
        f"{device.pages} {'page' if device.pages == 1 else 'pages'}" if device.pages else "",
        f"Scan: SHA-256 {device.sha256}" if device.sha256 else "",
        f"Held by: {device.holder}" if device.holder else "",
    ]
    return Reference("", device.title, f"{'. '.join(part for part in parts if part)}.", device.file)


def csl_items(table: Table, parts: Parts, digest: str) -> list[dict[str, Any]]:
    """The dossier, then every document, as items of CSL-JSON."""
    first: dict[str, Any] = {"id": "dossier", "type": "dataset", "title": table.title}
    if parts.authors:
        first["author"] = [{"literal": name} for name in parts.authors]
    first |= {"version": f"SHA-256 {digest}", **_issued(date_of(parts))}
    if table.invented:
        first["note"] = wording.INVENTED
    return [first, *map(_document, parts.devices)]


def _document(device: Device) -> dict[str, Any]:
    item: dict[str, Any] = {
        "id": device.document,
        "type": CSL_TYPES.get(device.kind, "document"),
        "title": device.title,
    }
    if device.kind:
        item["genre"] = device.kind
    if device.edition:
        item["edition"] = device.edition
    item |= _issued(device.date)
    if device.pages:
        item["number-of-pages"] = device.pages
    if device.holder:
        item["archive"] = device.holder
    if device.note:
        item["note"] = device.note
    return item


def _issued(date: str) -> dict[str, Any]:
    """A date as CSL writes it; one that is not written as year, month and day is given as it stands."""
    if not date:
        return {}
    parts = date.split("-")
    if len(parts) <= 3 and all(part.isascii() and part.isdigit() for part in parts):
        return {"issued": {"date-parts": [[int(part) for part in parts]]}}
    return {"issued": {"literal": date}}

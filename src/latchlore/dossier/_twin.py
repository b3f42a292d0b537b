"""The dossier for programs: the table, and all that the page shows besides it, as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from latchlore.board import mating_to_plain
from latchlore.device import comparison_to_plain, device_to_plain
from latchlore.dossier import wording
from latchlore.dossier._citation import cite_dossier, date_of, sum_of
from latchlore.dossier._devices import compare_documents
from latchlore.dossier._names import CITATIONS, SCHEMA
from latchlore.evidence import could_change, grade_of_row, record_to_plain, stand_in_to_plain, table_to_plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.dossier._parts import Parts
    from latchlore.dossier._sources import Source
    from latchlore.evidence import Table
    from latchlore.study import AskedProgram

    Plain = dict[str, Any]

FORMAT = "latchlore-dossier"
VERSION = 1
"""Rises when a key changes its meaning or goes; keys may be added without it."""

MARK = f'"format": "{FORMAT}"'


def dossier_to_plain(table: Table, parts: Parts, sources: Sequence[Source]) -> Plain:
    """Everything that the page says, in one fixed order of keys; what a study does not have has no key."""
    from latchlore.study import questions_to_plain

    digest = sum_of(sources)
    plain: Plain = {
        "format": FORMAT,
        "version": VERSION,
        "schema": SCHEMA,
        "study": {
            "title": table.title,
            "about": parts.about.strip(),
            "authors": list(parts.authors),
            "date": date_of(parts) or None,
            "invented": table.invented,
            "sha256": digest,
        },
        "cite": {"text": cite_dossier(table, parts, digest).text, "csl_json": CITATIONS},
        "table": table_to_plain(table),
        "grades": [
            {
                "subject": str(row.subject),
                "grade": grade_of_row(row).value,
                "could_change": list(could_change(row, table.heard)),
            }
            for row in table.rows
        ],
        "sources": [{"file": one.file, "size": one.size, "sha256": one.sha256 or None} for one in sources],
        "cautions": [caution._asdict() for caution in wording.CAUTIONS],
    }
    if parts.program is not None:
        plain["program"] = _program(parts.program)
    if parts.devices:
        plain["devices"] = [device_to_plain(device) for device in parts.devices]
    comparison = compare_documents(parts.devices)
    if comparison is not None:
        plain["variants"] = comparison_to_plain(comparison)
    if parts.board is not None and parts.board.matings:
        plain["matings"] = [mating_to_plain(mating) for mating in parts.board.matings]
    if parts.questions is not None:
        plain["questions"] = questions_to_plain(parts.questions, parts.questions.questions)
    if parts.stand_in is not None:
        plain["stand_in"] = stand_in_to_plain(parts.stand_in)
    if parts.findings is not None:
        plain["record"] = record_to_plain(parts.findings.judged, parts.findings.history)
    return plain


def _program(program: AskedProgram) -> Plain:
    clock = program.clock
    return {
        "cpu": program.cpu,
        "clock": None if clock is None else {"hertz": str(clock.hertz), "tolerance_ppm": clock.tolerance_ppm},
        "images": [{"file": image.file, "load": image.load, "bytes": len(image.data)} for image in program.images],
        "entries": [{"name": entry.name, "address": entry.address} for entry in program.entries],
        "registers": [
            {
                "name": one.name,
                "space": one.kind.value,
                "direction": one.direction,
                "lowest": one.addresses.lowest,
                "count": one.addresses.count,
            }
            for one in program.registers
        ],
    }

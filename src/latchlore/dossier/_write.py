"""The dossier on disk: one page, its twin for programs, whole or not at all."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, no_progress
from latchlore.board import mating_to_plain
from latchlore.dossier import wording
from latchlore.dossier._boardview import iter_board_origins
from latchlore.dossier._render import look_file, templates
from latchlore.dossier._sections import Material, make_sections
from latchlore.dossier._sources import anchors_of, cited_by, read_sources
from latchlore.dossier._view import row_anchors, view_table
from latchlore.evidence import record_to_plain, table_to_plain

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from latchlore.base import Progress
    from latchlore.dossier._boardview import BoardView
    from latchlore.dossier._findings import Findings
    from latchlore.dossier._paper import Picture
    from latchlore.evidence import Table

PAGE = "index.html"
TWIN = "dossier.json"
FORMAT = "latchlore-dossier"
VERSION = 1
MARK = f'"format": "{FORMAT}"'


def write_dossier(
    folder: Path,
    table: Table,
    target: Path,
    *,
    pictures: Sequence[Picture] = (),
    board: BoardView | None = None,
    findings: Findings | None = None,
    loads: Mapping[str, int] | None = None,
    progress: Progress = no_progress,
) -> tuple[str, ...]:
    """Write the page and its twin for the study in `folder` to `target`; the names of the files written.

    `loads`: image file → address of its first byte, so that addresses can be shown.  The same study gives the same
    bytes.  Refuses a target inside the study (or around it), and one that holds anything but an earlier dossier;
    then nothing is written.
    """
    from latchlore.study import write_files

    _check_target(folder, target)
    files = render_dossier(
        folder, table, pictures=pictures, board=board, findings=findings, loads=loads or {}, progress=progress
    )
    _check_target(folder, target)
    target.mkdir(parents=True, exist_ok=True)
    write_files(target, files)
    return tuple(files)


def render_dossier(
    folder: Path,
    table: Table,
    *,
    pictures: Sequence[Picture] = (),
    board: BoardView | None = None,
    findings: Findings | None = None,
    loads: Mapping[str, int],
    progress: Progress = no_progress,
) -> dict[str, bytes]:
    """The files of the dossier: name → bytes."""
    from markupsafe import Markup

    besides = [origin for picture in pictures for origin in picture.origins]
    besides += iter_board_origins(board) if board is not None else ()
    cited = cited_by(table, besides)
    sources = read_sources(folder, cited, loads, progress)
    material = Material(table, sources, tuple(pictures), row_anchors(table), anchors_of(cited), board, findings)
    page = (
        templates()
        .get_template("dossier.html")
        .render(
            view=view_table(table, material.link_to_origin),
            sections=make_sections(material),
            link_to=material.link_to,
            look=Markup(look_file("look.css")),
            drawn=Markup,
            witness_words={witness.value: words for witness, words in wording.WITNESS_WORDS.items()},
        )
    )
    twin = {
        "format": FORMAT,
        "version": VERSION,
        "table": table_to_plain(table),
        "sources": [{"file": one.file, "size": one.size, "sha256": one.sha256 or None} for one in sources],
        "cautions": [caution._asdict() for caution in wording.CAUTIONS],
    }
    if board is not None and board.matings:
        twin["matings"] = [mating_to_plain(mating) for mating in board.matings]
    if findings is not None:
        twin["record"] = record_to_plain(findings.judged, findings.history)
    return {
        PAGE: f"{page.rstrip()}\n".encode(),
        TWIN: f"{json.dumps(twin, indent=1, ensure_ascii=False)}\n".encode(),
    }


def _check_target(folder: Path, target: Path) -> None:
    place, study = target.resolve(), folder.resolve()
    origin = Origin(str(target))
    if place == study or place.is_relative_to(study):
        raise BadInput(origin, "a dossier is not written into the study's own folder; name another folder")
    if study.is_relative_to(place):
        raise BadInput(origin, "the study lies in this folder; name another folder")
    if not target.exists() and not target.is_symlink():
        return
    if not target.is_dir():
        raise BadInput(origin, "is not a folder")
    foreign = sorted(path.name for path in target.iterdir() if not path.name.startswith(".latchlore-"))
    if not foreign:
        return
    known = {PAGE, TWIN}
    other = [name for name in foreign if name not in known]
    if other:
        raise BadInput(origin, f"holds {other[0]!r}, which is no part of a dossier; name a folder of its own")
    twin = target / TWIN
    if not twin.is_file() or MARK not in twin.read_text("utf-8", "replace")[:200]:
        raise BadInput(origin, f"holds {foreign[0]!r}, which is not of an earlier dossier; name a folder of its own")

"""The dossier on disk: one page, its twin for programs with the schema, and the references; whole or not at all."""

from __future__ import annotations

import json
from importlib import resources
from typing import TYPE_CHECKING, Any

from latchlore.base import BadInput, Origin, no_progress
from latchlore.dossier import wording
from latchlore.dossier._asked import iter_question_origins
from latchlore.dossier._boardview import iter_board_origins
from latchlore.dossier._citation import csl_items, sum_of
from latchlore.dossier._devices import iter_device_origins
from latchlore.dossier._findings import iter_errata
from latchlore.dossier._handover import iter_handover_origins, time_handover
from latchlore.dossier._names import CITATIONS, PAGE, SCHEMA, TWIN
from latchlore.dossier._parts import Parts
from latchlore.dossier._render import look_file, templates
from latchlore.dossier._sections import Material, byline, make_sections
from latchlore.dossier._sources import anchors_of, cited_by, read_sources
from latchlore.dossier._trees import grow_trees, iter_tree_origins
from latchlore.dossier._twin import FORMAT, MARK, dossier_to_plain
from latchlore.dossier._view import row_anchors, view_table

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from latchlore.base import Progress
    from latchlore.dossier._trees import Grown
    from latchlore.evidence import Table
    from latchlore.program import Handshake

NOTHING = Parts()


def write_dossier(
    folder: Path, table: Table, target: Path, parts: Parts = NOTHING, *, progress: Progress = no_progress
) -> tuple[str, ...]:
    """Write the page and what goes with it for the study in `folder` to `target`; the names of the files written.

    The same study gives the same bytes.  Refuses a target inside the study (or around it), and one that holds anything
    but an earlier dossier; then nothing is written.
    """
    from latchlore.study import write_files

    _check_target(folder, target)
    files = render_dossier(folder, table, parts, progress=progress)
    _check_target(folder, target)
    target.mkdir(parents=True, exist_ok=True)
    write_files(target, files)
    return tuple(files)


def render_dossier(
    folder: Path, table: Table, parts: Parts = NOTHING, *, progress: Progress = no_progress
) -> dict[str, bytes]:
    """The files of the dossier: name → bytes."""
    from markupsafe import Markup

    trees = grow_trees(table, parts.program)
    handshake = time_handover(trees, parts.program)
    cited = cited_by(table, _iter_besides(parts, trees, handshake))
    sources = read_sources(folder, cited, parts.loads, progress)
    material = Material(table, sources, row_anchors(table), anchors_of(cited), parts, trees, handshake)
    digest = sum_of(sources)
    page = (
        templates()
        .get_template("dossier.html")
        .render(
            title=table.title,
            mark=FORMAT,
            byline=byline(parts),
            about=[" ".join(text.split()) for text in parts.about.split("\n\n") if text.strip()],
            view=view_table(table, material.link_to_origin),
            sections=make_sections(material),
            link_to=material.link_to,
            link_to_file=material.link_to_file,
            look=Markup(look_file("look.css")),
            drawn=Markup,
            witness_words={witness.value: words for witness, words in wording.WITNESS_WORDS.items()},
            twin=TWIN,
            schema=SCHEMA,
            citations=CITATIONS,
        )
    )
    return {
        PAGE: f"{page.rstrip()}\n".encode(),
        TWIN: _json(dossier_to_plain(table, parts, sources)),
        SCHEMA: schema_text().encode(),
        CITATIONS: _json(csl_items(table, parts, digest)),
    }


def schema_text() -> str:
    """The published JSON Schema of the twin, as it is shipped and written beside each."""
    return (resources.files("latchlore.dossier") / "schema" / SCHEMA).read_text("utf-8")


def _json(plain: Any) -> bytes:
    return f"{json.dumps(plain, indent=1, ensure_ascii=False)}\n".encode()


def _iter_besides(parts: Parts, trees: Sequence[Grown], handshake: Handshake | None) -> Iterator[Origin]:
    """Every place that a section leads to besides those of the table."""
    for picture in parts.pictures:
        yield from picture.origins
    if parts.board is not None:
        yield from iter_board_origins(parts.board)
    yield from iter_device_origins(parts.devices)
    yield from iter_tree_origins(trees, parts.program)
    yield from iter_handover_origins(handshake, parts.program)
    if parts.questions is not None:
        yield from iter_question_origins(parts.questions)
    if parts.findings is not None:
        yield from (past.origin for past in iter_errata(parts.findings))


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
    known = {PAGE, TWIN, SCHEMA, CITATIONS}
    other = [name for name in foreign if name not in known]
    if other:
        raise BadInput(origin, f"holds {other[0]!r}, which is no part of a dossier; name a folder of its own")
    twin = target / TWIN
    if not twin.is_file() or MARK not in twin.read_text("utf-8", "replace")[:200]:
        raise BadInput(origin, f"holds {foreign[0]!r}, which is not of an earlier dossier; name a folder of its own")

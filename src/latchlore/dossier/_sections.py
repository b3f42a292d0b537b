"""The dossier's sections, one function each; a section that has nothing to say is left out."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from latchlore.base import ByteSequence, ByteTree, SubjectKind
from latchlore.dossier import wording
from latchlore.dossier._boardview import board_picture, view_matings, way_pictures
from latchlore.dossier._findings import view_findings
from latchlore.dossier._handshake import draw_handshake, shape_of
from latchlore.dossier._registers import draw_registers, draw_ribbons
from latchlore.dossier._sequence import draw_sequence, missing_everywhere
from latchlore.dossier._timing import draw_timing
from latchlore.dossier._view import view_table
from latchlore.evidence import Standing, describe_places
from latchlore.program import pick_handshake

if TYPE_CHECKING:
    from collections.abc import Callable

    from latchlore.base import Origin, Subject, Testimony
    from latchlore.dossier._boardview import BoardView
    from latchlore.dossier._findings import Findings
    from latchlore.dossier._paper import Picture
    from latchlore.dossier._sources import Source
    from latchlore.evidence import Row, Table


class Figure(NamedTuple):
    """A drawing, the sentence below it, and (text, link) of where it leads."""

    drawing: str
    words: str
    links: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the page: `template` shows it, with `figures` and whatever else it needs in `data`."""

    key: str
    template: str
    figures: tuple[Figure, ...] = ()
    data: Any = None

    @property
    def title(self) -> str:
        """Its heading."""
        return wording.SECTION_TITLES[self.key]

    @property
    def lead(self) -> str:
        """The sentence below the heading, may be empty."""
        return wording.SECTION_LEADS.get(self.key, "")


@dataclass(frozen=True, slots=True)
class Material:
    """What sections are made from; `rows` and `places` hold the page's anchors."""

    table: Table
    sources: tuple[Source, ...]
    pictures: tuple[Picture, ...]
    rows: dict[Subject, str]
    places: dict[Origin, str]
    board: BoardView | None = None
    findings: Findings | None = None

    def link_to(self, subject: Subject) -> str:
        """Where a subject's row stands on the page."""
        return f"#{self.rows[subject]}"

    def link_to_origin(self, origin: Origin) -> str:
        """Where an origin is listed on the page."""
        return f"#{self.places[origin]}"


def make_sections(material: Material) -> tuple[Section, ...]:
    """All sections that have something to say, in the page's order."""
    made = (make(material) for make in SECTIONS)
    return tuple(section for section in made if section is not None)


def _findings(material: Material) -> Section | None:
    if material.findings is None or not material.findings.judged:
        return None
    return Section("findings", "findings.html", data=view_findings(material.findings, material.rows))


def _contradictions(material: Material) -> Section | None:
    view = view_table(material.table, material.link_to_origin, (Standing.CONTRADICTED,))
    return Section("contradictions", "contradictions.html", data=view) if view.rows else None


def _matings(material: Material) -> Section | None:
    if material.board is None or not material.board.matings:
        return None
    return Section("matings", "matings.html", data=view_matings(material.board, material.link_to_origin))


def _ways(material: Material) -> Section | None:
    pictures = () if material.board is None else way_pictures(material.board)
    return Section("ways", "ways.html", data=pictures) if pictures else None


def _board(material: Material) -> Section | None:
    if material.board is None:
        return None
    drawing, nets = board_picture(material.board)
    return Section("board", "board.html", data=(drawing, nets)) if drawing else None


def _registers(material: Material) -> Section | None:
    registers = draw_registers(material.table, material.link_to)
    ribbons = draw_ribbons(material.table, material.link_to)
    figures = [Figure(registers, wording.SECTION_LEADS["register map"])] if registers else []
    figures += [Figure(ribbon, wording.SECTION_LEADS["ribbons"]) for ribbon in ribbons]
    return Section("registers", "figures.html", tuple(figures)) if figures else None


def _links(material: Material, row: Row, testimony: Testimony) -> tuple[tuple[str, str], ...]:
    """To the subject's row, then to each place that the testimony rests on."""
    places = [
        (text, material.link_to_origin(origin))
        for text, origin in zip(describe_places(testimony.origins), testimony.origins, strict=True)
    ]
    return ((str(row.subject), material.link_to(row.subject)), *places)


def _sequences(material: Material) -> Section | None:
    figures = []
    for row in material.table.rows:
        for one in row.testimonies:
            if row.subject.kind is SubjectKind.SEQUENCE and isinstance(one.value, ByteSequence):
                name = row.subject.key[0]
                runs = f"{one.value.num_runs} run{'s' * (one.value.num_runs != 1)}"
                words = f"“{name}”, {one.witness.value}: {one.value.confidence:.1%} sure as a whole, from {runs}"
                links = _links(material, row, one)
                gaps = missing_everywhere(one.value)
                if gaps is not None:
                    words += f"; at every place a byte may be missing ({gaps:.0%} at most)"
                figures.append(Figure(draw_sequence(name, one.value), words, links))
    return Section("sequences", "figures.html", tuple(figures)) if figures else None


def _handshake(material: Material) -> Section | None:
    drawn: dict[object, tuple[str, list[str], tuple[tuple[str, str], ...]]] = {}
    for row in material.table.rows:
        for one in row.testimonies:
            if isinstance(one.value, ByteTree) and (events := pick_handshake(one.value)):
                links = _links(material, row, one)
                known = drawn.setdefault(shape_of(events), (draw_handshake(events), [], links))
                known[1].append(str(row.subject))
    figures = [
        Figure(picture, f"From the paths of {', '.join(names)}", links) for picture, names, links in drawn.values()
    ]
    return Section("handshake", "figures.html", tuple(figures)) if figures else None


def _times(material: Material) -> Section | None:
    figures = []
    for row in material.table.rows:
        drawing = draw_timing(row)
        if drawing:
            words = f"{row.subject}: {row.standing.value}; {row.reason}"
            figures.append(Figure(drawing, words, ((str(row.subject), material.link_to(row.subject)),)))
    return Section("times", "figures.html", tuple(figures)) if figures else None


def _paper(material: Material) -> Section | None:
    figures = []
    for picture in material.pictures:
        data = base64.b64encode(picture.png).decode("ascii")
        links = tuple((str(origin), material.link_to_origin(origin)) for origin in picture.origins)
        figures.append((picture, data, links))
    return Section("paper", "paper.html", data=figures) if figures else None


def _subjects(material: Material) -> Section:
    return Section("subjects", "subjects.html", data=view_table(material.table, material.link_to_origin))


def _open(material: Material) -> Section | None:
    silent = [
        (str(row.subject), material.link_to(row.subject)) for row in material.table.iter_standing(Standing.SILENT)
    ]
    return (
        Section("open", "open.html", data=(silent, material.table.not_done))
        if silent or material.table.not_done
        else None
    )


def _cautions(_: Material) -> Section:
    return Section("cautions", "cautions.html", data=(wording.COMPUTED_ONLY, wording.CAUTIONS, wording.DEFERS))


def _sources(material: Material) -> Section:
    return Section("sources", "sources.html", data=material.sources)


SECTIONS: tuple[Callable[[Material], Section | None], ...] = (
    _findings,
    _contradictions,
    _matings,
    _registers,
    _ways,
    _board,
    _sequences,
    _handshake,
    _times,
    _paper,
    _subjects,
    _open,
    _cautions,
    _sources,
)
"""The page's sections in order; a new one is one more function here."""

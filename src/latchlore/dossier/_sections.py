"""The dossier's sections, one function each; a section that has nothing to say is left out."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from latchlore.base import ByteSequence, ByteTree, SubjectKind, Witness
from latchlore.dossier import wording
from latchlore.dossier._asked import view_questions
from latchlore.dossier._boardview import board_picture, view_matings, way_pictures
from latchlore.dossier._citation import cite_document, cite_dossier, date_of, sum_of
from latchlore.dossier._devices import view_devices, view_variants
from latchlore.dossier._findings import view_errata, view_findings
from latchlore.dossier._handover import view_handover
from latchlore.dossier._handshake import draw_handshake, shape_of
from latchlore.dossier._names import CITATIONS
from latchlore.dossier._parts import Parts
from latchlore.dossier._registers import draw_registers, draw_ribbons
from latchlore.dossier._sequence import draw_sequence, missing_everywhere
from latchlore.dossier._standin import view_stand_in
from latchlore.dossier._standings import asked_subjects, view_grades
from latchlore.dossier._timing import draw_timing
from latchlore.dossier._trees import view_trees
from latchlore.dossier._view import view_table
from latchlore.evidence import Standing, describe_places
from latchlore.program import pick_handshake

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from latchlore.base import Origin, Subject, Testimony
    from latchlore.dossier._citation import Reference
    from latchlore.dossier._sources import Source
    from latchlore.dossier._trees import Grown
    from latchlore.evidence import Row, Table
    from latchlore.program import Handshake


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
    rows: dict[Subject, str]
    places: dict[Origin, str]
    parts: Parts
    trees: tuple[Grown, ...] = ()
    handshake: Handshake | None = None

    def link_to(self, subject: Subject) -> str:
        """Where a subject's row stands on the page."""
        return f"#{self.rows[subject]}"

    def link_to_origin(self, origin: Origin) -> str:
        """Where an origin is listed on the page."""
        return f"#{self.places[origin]}"

    def link_to_file(self, file: str) -> str:
        """Where a file is listed on the page."""
        return next(f"#{one.anchor}" for one in self.sources if one.file == file)

    def link_to_files(self, origins: Iterable[Origin]) -> tuple[tuple[str, str], ...]:
        """(file, link) of every file that the origins lie in, by name."""
        return tuple((file, self.link_to_file(file)) for file in sorted({origin.file for origin in origins}))


def make_sections(material: Material) -> tuple[Section, ...]:
    """All sections that have something to say, in the page's order."""
    made = (make(material) for make in SECTIONS)
    return tuple(section for section in made if section is not None)


def _findings(material: Material) -> Section | None:
    findings = material.parts.findings
    if findings is None or not findings.judged:
        return None
    return Section("findings", "findings.html", data=view_findings(findings, material.rows))


def _grades(material: Material) -> Section | None:
    asked = asked_subjects(material.parts.questions, material.parts.asked)
    grades = view_grades(material.table, material.link_to, asked)
    return Section("grades", "grades.html", data=grades) if grades else None


def _contradictions(material: Material) -> Section | None:
    view = view_table(material.table, material.link_to_origin, (Standing.CONTRADICTED,))
    return Section("contradictions", "contradictions.html", data=view) if view.rows else None


def _matings(material: Material) -> Section | None:
    board = material.parts.board
    if board is None or not board.matings:
        return None
    return Section("matings", "matings.html", data=view_matings(board, material.link_to_origin))


def _ways(material: Material) -> Section | None:
    board = material.parts.board
    pictures = () if board is None else way_pictures(board)
    return Section("ways", "ways.html", data=(pictures, _board_files(material))) if pictures else None


def _board(material: Material) -> Section | None:
    board = material.parts.board
    if board is None:
        return None
    drawing, nets = board_picture(board)
    return Section("board", "board.html", data=(drawing, nets, _board_files(material))) if drawing else None


def _board_files(material: Material) -> tuple[tuple[str, str], ...]:
    """The files that the board was read from."""
    said = (one for row in material.table.rows for one in row.testimonies if one.witness is Witness.BOARD)
    return material.link_to_files(origin for one in said for origin in one.origins)


def _registers(material: Material) -> Section | None:
    registers = draw_registers(material.table, material.link_to)
    ribbons = draw_ribbons(material.table, material.link_to)
    kinds = (SubjectKind.REGISTER, SubjectKind.BIT)
    said = (one for row in material.table.rows if row.subject.kind in kinds for one in row.testimonies)
    files = material.link_to_files(origin for one in said for origin in one.origins)
    figures = [Figure(registers, wording.SECTION_LEADS["register map"], files)] if registers else []
    figures += [Figure(ribbon, wording.SECTION_LEADS["ribbons"], files) for ribbon in ribbons]
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
    view = view_handover(material.handshake, material.parts.program, material.link_to_origin)
    return Section("handshake", "handshake.html", tuple(figures), view) if figures or view else None


def _times(material: Material) -> Section | None:
    figures = []
    for row in material.table.rows:
        drawing = draw_timing(row)
        if drawing:
            words = f"{row.subject}: {row.standing.value}; {row.reason}"
            places = dict.fromkeys(link for one in row.testimonies for link in _links(material, row, one))
            figures.append(Figure(drawing, words, tuple(places)))
    return Section("times", "figures.html", tuple(figures)) if figures else None


def _paper(material: Material) -> Section | None:
    figures = []
    for picture in material.parts.pictures:
        data = base64.b64encode(picture.png).decode("ascii")
        links = tuple((str(origin), material.link_to_origin(origin)) for origin in picture.origins)
        figures.append((picture, data, links))
    return Section("paper", "paper.html", data=figures) if figures else None


def _trees(material: Material) -> Section | None:
    def link(row: Row) -> str:
        return material.link_to(row.subject)

    trees = view_trees(material.trees, material.parts.program, link, material.link_to_origin)
    return Section("trees", "trees.html", data=trees) if trees[0] else None


def _commands(material: Material) -> Section | None:
    devices = view_devices(material.parts.devices, material.link_to_origin)
    return Section("commands", "commands.html", data=devices) if devices else None


def _variants(material: Material) -> Section | None:
    view = view_variants(material.parts.devices, material.table, material.link_to_origin)
    return None if view is None else Section("variants", "variants.html", data=view)


def _stand_in(material: Material) -> Section | None:
    stand_in = material.parts.stand_in
    if stand_in is None or not (stand_in.status or stand_in.answering):
        return None
    return Section("standin", "standin.html", data=view_stand_in(stand_in, material.rows))


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


def _questions(material: Material) -> Section | None:
    questions = material.parts.questions
    if questions is None:
        return None
    return Section("questions", "questions.html", data=view_questions(questions, material.link_to_origin))


def _errata(material: Material) -> Section | None:
    findings = material.parts.findings
    errata = () if findings is None else view_errata(findings, material.link_to_origin)
    return Section("errata", "errata.html", data=errata) if errata else None


def _cautions(_: Material) -> Section:
    return Section("cautions", "cautions.html", data=(wording.COMPUTED_ONLY, wording.CAUTIONS, wording.DEFERS))


def _sources(material: Material) -> Section:
    return Section("sources", "sources.html", data=material.sources)


class CiteView(NamedTuple):
    """How to cite: the dossier itself, where its date is from, what its sum is, and the documents."""

    own: Reference
    date_from: str
    sum_is: str
    documents: tuple[Reference, ...]
    file: str


def byline(parts: Parts) -> str:
    """Authors and date, as far as the study has them."""
    return ", ".join(part for part in ("; ".join(parts.authors), date_of(parts)) if part)


def _cite(material: Material) -> Section:
    parts = material.parts
    own = cite_dossier(material.table, parts, sum_of(material.sources))
    source = "stated" if parts.date else "record" if date_of(parts) else ""
    documents = tuple(map(cite_document, parts.devices))
    view = CiteView(own, wording.DATE_FROM[source], wording.SUM_IS, documents, CITATIONS)
    return Section("cite", "cite.html", data=view)


SECTIONS: tuple[Callable[[Material], Section | None], ...] = (
    _findings,
    _contradictions,
    _grades,
    _questions,
    _matings,
    _registers,
    _ways,
    _board,
    _sequences,
    _handshake,
    _times,
    _trees,
    _commands,
    _variants,
    _paper,
    _stand_in,
    _subjects,
    _open,
    _errata,
    _cautions,
    _cite,
    _sources,
)
"""The page's sections in order; a new one is one more function here."""

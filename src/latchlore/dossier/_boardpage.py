"""One page about a board alone: register map, address ribbon, ways of the bits, the board with its nets."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from latchlore.base import BadInput, Origin
from latchlore.board import bit_ways, mating_to_plain, way_to_plain
from latchlore.dossier import wording
from latchlore.dossier._boardview import BoardView, board_picture, view_matings, way_anchor, way_pictures
from latchlore.dossier._registers import draw_registers, draw_ribbons
from latchlore.dossier._render import look_file, templates

if TYPE_CHECKING:
    from pathlib import Path

    from latchlore.base import Subject
    from latchlore.evidence import Table

MARK = "latchlore board page"
"""Stands in the page's head, so that a page of ours may be written over."""


class _Section(NamedTuple):
    key: str
    template: str
    title: str
    lead: str
    data: object
    figures: tuple[object, ...] = ()


class _Figure(NamedTuple):
    drawing: str
    words: str
    links: tuple[tuple[str, str], ...] = ()


def render_board_page(view: BoardView) -> bytes:
    """The page, which needs no other file and no script; the same board gives the same bytes."""
    from markupsafe import Markup

    sections = [section for section in _sections(view) if section is not None]
    page = (
        templates()
        .get_template("boardpage.html")
        .render(
            title=view.board.title or view.board.file,
            mark=MARK,
            sections=sections,
            look=Markup(look_file("look.css")),
            drawn=Markup,
        )
    )
    return f"{page.rstrip()}\n".encode()


def write_board_page(target: Path, page: bytes) -> None:
    """Write the page whole or not at all.  Refuses a place that holds anything but an earlier page."""
    from latchlore.study import write_whole

    place = Origin(str(target))
    if target.is_dir():
        raise BadInput(place, "is a folder; name a file for the page")
    if not target.parent.is_dir():
        raise BadInput(place, "there is no such folder to write it in")
    if target.exists() and MARK.encode() not in target.read_bytes()[:1000]:
        raise BadInput(place, "exists and is no page of this command; name another file")
    write_whole(target, page)


def board_page_to_plain(view: BoardView) -> dict[str, Any]:
    """What the page draws, as data: register map, ways, nets, matings."""
    registers = []
    if view.registers is not None:
        for register in view.registers.registers:
            space, address, direction = register.key
            ways = [way_to_plain(way) for way in bit_ways(view.registers, register)]
            registers.append({"space": space, "address": address, "direction": direction, "ways": ways})
    return {
        "format": "latchlore-board-page",
        "version": 1,
        "title": view.board.title,
        "registers": registers,
        "nets": [{"net": net.name, "pins": [str(at) for at in net.pins]} for net in view.board.nets],
        "parts": [{"part": part.name, "type": part.marking} for part in view.board.parts],
        "matings": [mating_to_plain(mating) for mating in view.matings],
    }


def _sections(view: BoardView) -> list[_Section | None]:
    return [_matings(view), _registers(view), _ways(view), _board(view)]


def _section(key: str, template: str, data: object, figures: tuple[object, ...] = ()) -> _Section:
    return _Section(key, template, wording.SECTION_TITLES[key], wording.SECTION_LEADS.get(key, ""), data, figures)


def _matings(view: BoardView) -> _Section | None:
    if not view.matings:
        return None

    def link(_: Origin) -> str:
        return "#matings"

    return _section("matings", "matings.html", view_matings(view, link))


def _registers(view: BoardView) -> _Section | None:
    table = _table(view)
    if table is None:
        return None

    def link(subject: Subject) -> str:
        return f"#{way_anchor(subject.key)}"

    figures = [_Figure(draw_registers(table, link), wording.SECTION_LEADS["register map"])]
    figures += [_Figure(ribbon, wording.SECTION_LEADS["ribbons"]) for ribbon in draw_ribbons(table, link)]
    return _section("registers", "figures.html", None, tuple(figures)) if figures[0].drawing else None


def _table(view: BoardView) -> Table | None:
    """What the board says, with no other witness beside it."""
    from latchlore.board import testify
    from latchlore.evidence import weigh

    if view.registers is None:
        return None
    return weigh(testify(view.board, view.registers), title=view.board.title, invented=False)


def _ways(view: BoardView) -> _Section | None:
    pictures = way_pictures(view)
    return _section("ways", "ways.html", (pictures, ())) if pictures else None


def _board(view: BoardView) -> _Section | None:
    drawing, nets = board_picture(view)
    return _section("board", "board.html", (drawing, nets, ())) if drawing else None

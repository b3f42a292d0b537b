"""What the pages show of the board itself: its picture, the ways of its bits, and what it is put together with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from latchlore.board import Harm, bit_ways, describe_figures, describe_pins, matingwording
from latchlore.dossier._boardpicture import draw_board, net_anchors
from latchlore.dossier._waypicture import draw_ways

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from latchlore.base import Origin
    from latchlore.board import Board, Mating, RegisterMap, Way

    LinkToOrigin = Callable[[Origin], str]

SHOWN = 5
"""Findings of a wrong way that stand on the page; the rest is counted."""

SHADES = {Harm.UNSAFE: "unsafe", Harm.UNKNOWN: "unknown", Harm.SAFE: "safe"}


@dataclass(frozen=True, slots=True)
class BoardView:
    """A board with its register map (None where it could not be decoded) and its matings."""

    board: Board
    registers: RegisterMap | None
    matings: tuple[Mating, ...]


class NetLine(NamedTuple):
    """A net in the list below the board's picture."""

    name: str
    href: str
    pins: str


class FindingView(NamedTuple):
    """One finding: where, what, and what would tell."""

    severity: str
    where: str
    words: str
    reading: str
    places: tuple[tuple[str, str], ...]


class WayView(NamedTuple):
    """One way of putting connectors together; `more` counts the findings left out; `levels` a line each."""

    name: str
    others: str
    verdict: str
    shade: str
    works: str
    findings: tuple[FindingView, ...]
    more: int
    levels: tuple[str, ...]


class MatingView(NamedTuple):
    """A mating: cautions first, then the ways."""

    name: str
    verdict: str
    shade: str
    cautions: tuple[str, ...]
    missing: tuple[str, ...]
    ways: tuple[WayView, ...]
    bounds: tuple[str, ...]


def find_board(folder: Path) -> BoardView | None:
    """The board of a study folder; None where it has none.  Refuses what the readers of its files refuse."""
    from latchlore.study import load_study

    return view_board(folder) if load_study(folder).nets else None


def view_board(place: Path) -> BoardView:
    """The board of a study folder with its matings, or that of a net file.

    Refuses a study without a board, and what the readers of its files refuse.
    """
    from latchlore.base import Unsupported
    from latchlore.board import decode
    from latchlore.study import load_board, load_study, mate_study, study_board

    matings: tuple[Mating, ...] = ()
    if place.is_dir():
        study = load_study(place)
        board = study_board(study)
        matings = mate_study(study, board) if study.matings else ()
    else:
        board = load_board(place)
    try:
        return BoardView(board, decode(board), matings)
    except Unsupported:  # the table says that it could not be decoded
        return BoardView(board, None, matings)


def board_picture(view: BoardView) -> tuple[str, tuple[NetLine, ...]]:
    """The picture of the board, and its nets with the anchors that light them."""
    anchors = net_anchors(view.board)
    nets = tuple(
        NetLine(net.name, f"#{anchors[net.name]}", ", ".join(str(at) for at in net.pins)) for net in view.board.nets
    )
    return draw_board(view.board), nets


def way_pictures(view: BoardView) -> tuple[tuple[str, str, str], ...]:
    """(anchor, name, picture) for each register that has a bit with a way, in register order."""
    if view.registers is None:
        return ()
    pictures = []
    for register in view.registers.registers:
        space, address, direction = register.key
        name = f"{'port' if space == 'port' else 'register'} {address} ({direction})"
        drawing = draw_ways(name, bit_ways(view.registers, register))
        if drawing:
            pictures.append((way_anchor((space, address, direction)), name, drawing))
    return tuple(pictures)


def way_anchor(key: tuple[str, ...]) -> str:
    """The anchor of a register's ways."""
    return f"ways-{'-'.join(key[:3])}".lower()


def view_matings(view: BoardView, link: LinkToOrigin) -> tuple[MatingView, ...]:
    """Every mating as the page shows it: within a way, danger first."""
    return tuple(
        MatingView(
            mating.name,
            matingwording.HARM_WORDS[mating.harm.value],
            SHADES[mating.harm],
            matingwording.CAUTIONS,
            mating.missing,
            tuple(_way(mating, way, link, whole=k == 0) for k, way in enumerate(_danger_first(mating))),
            mating.bounds,
        )
        for mating in view.matings
    )


def _danger_first(mating: Mating) -> list[Way]:
    """The right way, then the wrong ones, unsafe ones before those that cannot be told and safe ones."""
    return [mating.right, *sorted(mating.ways[1:], key=lambda way: list(Harm).index(way.harm))]


def _way(mating: Mating, way: Way, link: LinkToOrigin, *, whole: bool) -> WayView:
    shown = way.findings if whole else way.findings[:SHOWN]
    return WayView(
        way.name,
        ", ".join(way.names[1:]),
        matingwording.HARM_WORDS[way.harm.value],
        SHADES[way.harm],
        matingwording.WORKS_WORDS[way.works.value],
        tuple(
            FindingView(
                one.severity.value,
                describe_pins(mating, one.pins),
                one.words,
                one.reading,
                tuple((str(origin), link(origin)) for origin in one.origins) if whole else (),
            )
            for one in shown
        ),
        len(way.findings) - len(shown),
        tuple(f"{describe_pins(mating, pins)}: {describe_figures(one)}" for pins, one in way.figures) if whole else (),
    )


def iter_board_origins(view: BoardView) -> Iterator[Origin]:
    """Every place that the board's sections cite besides the table's."""
    for mating in view.matings:
        for one in mating.right.findings:
            yield from one.origins

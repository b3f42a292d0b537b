"""The study's matings: what the board's connectors are put together with, from the files of mating/."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin
from latchlore.study._withdrawn import without_statements

if TYPE_CHECKING:
    from pathlib import Path

    from latchlore.board import Board, Connector, ConnectorPin, Mating, PinsFrom
    from latchlore.study._study import Study

NO_BOARD = "a mating needs the net file of the study's own board, in board/"


def mate_study(study: Study, board: Board | None) -> tuple[Mating, ...]:
    """Every mating of the study, by file name.  `board`: the study's own, None where it has none.

    Refuses all mistakes of the files together, and matings without a board.
    """
    from latchlore.board import mate_all, parse_board

    if board is None:
        if study.matings:
            raise BadInput(study.matings[0].origin, NO_BOARD)
        return ()
    mistakes: list[tuple[Origin, str]] = []
    others: list[Board] = []
    for file in study.matings:
        try:
            others.append(_with_documents(study, parse_board(file.text, file.file)))
        except BadInput as error:
            mistakes += error.mistakes
    try:
        found = mate_all(board, tuple(others))
    except BadInput as error:
        mistakes += error.mistakes
    if mistakes:
        raise BadInput.of_all(mistakes)
    return found


_DIRECTIONS = {"in": "in", "out": "out", "both": "both", "supply": "power", "ground": "ground", "none": "none"}
"""A document's direction of a pin → that of the connector table; a shield is no ground, and stays unknown."""


def _with_documents(study: Study, board: Board) -> Board:
    """The board with the pins that its file takes from documents; what the file itself describes goes before."""
    from dataclasses import replace

    plugs = list(board.connectors)
    for wanted in board.bench.pins_from:
        index = next(k for k, plug in enumerate(plugs) if plug.name == wanted.connector)
        plug = plugs[index]
        told = {pin.number for pin in plug.pins}
        more = [pin for pin in _document_pins(study, wanted, plug) if pin.number not in told]
        plugs[index] = replace(plug, pins=tuple(sorted((*plug.pins, *more), key=lambda pin: pin.number)))
    return replace(board, connectors=tuple(plugs))


def _document_pins(study: Study, wanted: PinsFrom, plug: Connector) -> list[ConnectorPin]:
    from latchlore.board import ConnectorPin, Direction
    from latchlore.device import read_device

    file = next((one for one in study.documents if one.stem.lower() == wanted.document), None)
    if file is None:
        known = ", ".join(repr(one.stem) for one in study.documents) or "none"
        raise BadInput(wanted.origin, f"there is no document {wanted.document!r} in documents/; there are {known}")
    rows = read_device(file.raw, file.file).pins
    names = sorted({row.connector for row in rows})
    if len(names) != 1:
        rows = tuple(row for row in rows if row.connector.lower() == plug.name)
    if not rows:
        words = f"{file.file} has no pin table" if not names else f"{file.file} has pins of {', '.join(names)}"
        raise BadInput(wanted.origin, f"{words}, none of {plug.name!r}")
    found = []
    for row in rows:
        if not (row.number.isascii() and row.number.isdigit() and 1 <= int(row.number) <= plug.size):
            words = f"{row.citation.origin} has pin {row.number!r}, and {plug.name!r} has pins 1 to {plug.size}"
            raise BadInput(wanted.origin, words)
        if row.direction in _DIRECTIONS:
            direction = Direction(_DIRECTIONS[row.direction])
            active = {"high": 1, "low": 0}.get(row.active)
            signal = "-".join(row.signal.lower().split())
            found.append(ConnectorPin(int(row.number), signal, direction, active, row.citation.origin))
    return found


def study_board(study: Study) -> Board:
    """The study's own board.  Refuses a study without one."""
    if not study.nets:
        raise BadInput(Origin("board"), "the study has no net file; write one: board/NAME.nets (docs/net-file.md)")
    return _board_of(study, "")


def _board_of(study: Study, before: str) -> Board:
    """The board as its net files state it and its readings complete it; origins begin with `before`."""
    from latchlore.board import parse_netlist

    board = parse_netlist([(one.text, f"{before}{one.file}") for one in study.nets])
    if not study.readings:
        return without_statements(board, study)
    from latchlore.board.tracing import conclude, parse_all_readings

    files = [(one.text, f"{before}{one.file}") for one in study.readings]
    return without_statements(conclude(board, parse_all_readings(files, board)).board, study)


def load_board(place: Path) -> Board:
    """The board of a study folder, or of one net file.  Origins begin with the place as it was named.

    Refuses a file that cannot be read, and whatever the net file's reader refuses.
    """
    from latchlore.board import read_board
    from latchlore.study._load import load_study

    if place.is_dir():
        study = load_study(place)
        study_board(study)  # refuses a study without one
        return _board_of(study, f"{place}/")
    try:
        raw = place.read_bytes()
    except OSError as error:
        raise BadInput(
            Origin(str(place)), f"cannot be read ({(error.strerror or 'no reason given').lower()})"
        ) from error
    return read_board(raw, str(place))


def mate_folder(folder: Path) -> tuple[Mating, ...]:
    """The matings of a study folder.  Refuses a study that has none."""
    from latchlore.study._load import load_study

    study = load_study(folder)
    if not study.matings:
        raise BadInput(
            Origin("mating"), "the study states no mating; write one: mating/NAME.nets (docs/mating.md of latchlore)"
        )
    return mate_study(study, study_board(study))

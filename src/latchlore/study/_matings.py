"""The study's matings: what the board's connectors are put together with, from the files of mating/."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin

if TYPE_CHECKING:
    from pathlib import Path

    from latchlore.board import Board, Mating
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
            others.append(parse_board(file.text, file.file))
        except BadInput as error:
            mistakes += error.mistakes
    try:
        found = mate_all(board, tuple(others))
    except BadInput as error:
        mistakes += error.mistakes
    if mistakes:
        raise BadInput.of_all(mistakes)
    return found


def study_board(study: Study) -> Board:
    """The study's own board.  Refuses a study without one."""
    from latchlore.board import parse_netlist

    if not study.nets:
        raise BadInput(Origin("board"), "the study has no net file; write one: board/NAME.nets (docs/net-file.md)")
    return parse_netlist([(one.text, one.file) for one in study.nets])


def load_board(place: Path) -> Board:
    """The board of a study folder, or of one net file.  Origins begin with the place as it was named.

    Refuses a file that cannot be read, and whatever the net file's reader refuses.
    """
    from latchlore.board import parse_netlist, read_board
    from latchlore.study._load import load_study

    if place.is_dir():
        study = load_study(place)
        study_board(study)  # refuses a study without one
        return parse_netlist([(one.text, f"{place}/{one.file}") for one in study.nets])
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

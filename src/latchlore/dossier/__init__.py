"""The published page, and the look that it shares with the desk."""

from latchlore.dossier._alone import stand_alone
from latchlore.dossier._boardpage import board_page_to_plain, render_board_page, write_board_page
from latchlore.dossier._boardview import (
    BoardView,
    board_picture,
    find_board,
    view_board,
    view_matings,
    way_pictures,
)
from latchlore.dossier._devices import view_devices, view_variants
from latchlore.dossier._excerpt import Excerpt, Line, find_file, read_excerpt
from latchlore.dossier._findings import Findings
from latchlore.dossier._handshake import draw_handshake
from latchlore.dossier._paper import Picture, draw_papers
from latchlore.dossier._parts import Parts, gather_parts
from latchlore.dossier._registers import draw_registers, draw_ribbons
from latchlore.dossier._render import look_file, templates
from latchlore.dossier._sources import cited_by, image_loads, iter_files
from latchlore.dossier._tree import draw_tree
from latchlore.dossier._view import TableView, row_anchors, view_table
from latchlore.dossier._wirepictures import draw_figures, draw_runs
from latchlore.dossier._write import render_dossier, schema_text, write_dossier

__all__ = [
    "BoardView",
    "Excerpt",
    "Findings",
    "Line",
    "Parts",
    "Picture",
    "TableView",
    "board_page_to_plain",
    "board_picture",
    "cited_by",
    "draw_figures",
    "draw_handshake",
    "draw_papers",
    "draw_registers",
    "draw_ribbons",
    "draw_runs",
    "draw_tree",
    "find_board",
    "find_file",
    "gather_parts",
    "image_loads",
    "iter_files",
    "look_file",
    "read_excerpt",
    "render_board_page",
    "render_dossier",
    "row_anchors",
    "schema_text",
    "stand_alone",
    "templates",
    "view_board",
    "view_devices",
    "view_matings",
    "view_table",
    "view_variants",
    "way_pictures",
    "write_board_page",
    "write_dossier",
]

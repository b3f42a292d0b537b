"""The documents' witness: command tables, streams and paper."""

from latchlore.device._alignment import Gap
from latchlore.device._c0 import C0, Control, byte_name, column_row
from latchlore.device._carrying import Carrier, Usable, UsableCommand, check_carrier
from latchlore.device._charsets import (
    CharacterSet,
    Decider,
    Exclusion,
    PrintedSample,
    explain_print,
    find_set,
    get_set,
    set_names,
)
from latchlore.device._comparing import DeviceComparison, Trait, TraitStanding, compare_devices
from latchlore.device._device import (
    Citation,
    Claim,
    Command,
    Device,
    Figures,
    Graphics,
    Mode,
    PaperForm,
    Parameter,
    Pin,
    SentBytes,
    Setting,
    Switch,
    Timing,
)
from latchlore.device._doubts import Doubt, DoubtEffect, DoubtfulReading, SpanDoubt, read_sequence
from latchlore.device._explaining import Explanation, RuledOut, explain_stream
from latchlore.device._facts import TIMES
from latchlore.device._families import Family, order_family
from latchlore.device._feeding import Feed, check_feed
from latchlore.device._figures import Edit, FittedLine, FittedRow, Inconsistency, check_figures, fit_line
from latchlore.device._forms import (
    comparison_to_plain,
    doubts_to_plain,
    explanations_to_plain,
    family_to_plain,
    losses_to_plain,
    ranking_to_plain,
    stream_to_plain,
    usable_to_plain,
)
from latchlore.device._layouts import (
    Layout,
    LayoutGuess,
    LayoutRanking,
    data_blocks,
    draw_layout,
    iter_layouts,
    rank_layouts,
)
from latchlore.device._losses import Loss, LossReport, OtherReading, find_losses
from latchlore.device._paper import Dot, Paper, Piece, open_paper
from latchlore.device._picture import draw_tile, iter_tiles, png_pieces, size_px, svg_text, write_png
from latchlore.device._read import read_device
from latchlore.device._reading import Reading, SpanState, StreamSpan, choose_switches, read_stream
from latchlore.device._redundancy import check_document
from latchlore.device._traces import traceless_bytes
from latchlore.device._transcripts import import_table
from latchlore.device.testify import DATA_WIDTH, testify

__all__ = [
    "C0",
    "DATA_WIDTH",
    "TIMES",
    "Carrier",
    "CharacterSet",
    "Citation",
    "Claim",
    "Command",
    "Control",
    "Decider",
    "Device",
    "DeviceComparison",
    "Dot",
    "Doubt",
    "DoubtEffect",
    "DoubtfulReading",
    "Edit",
    "Exclusion",
    "Explanation",
    "Family",
    "Feed",
    "Figures",
    "FittedLine",
    "FittedRow",
    "Gap",
    "Graphics",
    "Inconsistency",
    "Layout",
    "LayoutGuess",
    "LayoutRanking",
    "Loss",
    "LossReport",
    "Mode",
    "OtherReading",
    "Paper",
    "PaperForm",
    "Parameter",
    "Piece",
    "Pin",
    "PrintedSample",
    "Reading",
    "RuledOut",
    "SentBytes",
    "Setting",
    "SpanDoubt",
    "SpanState",
    "StreamSpan",
    "Switch",
    "Timing",
    "Trait",
    "TraitStanding",
    "Usable",
    "UsableCommand",
    "byte_name",
    "check_carrier",
    "check_document",
    "check_feed",
    "check_figures",
    "choose_switches",
    "column_row",
    "compare_devices",
    "comparison_to_plain",
    "data_blocks",
    "doubts_to_plain",
    "draw_layout",
    "draw_tile",
    "explain_print",
    "explain_stream",
    "explanations_to_plain",
    "family_to_plain",
    "find_losses",
    "find_set",
    "fit_line",
    "get_set",
    "import_table",
    "iter_layouts",
    "iter_tiles",
    "losses_to_plain",
    "open_paper",
    "order_family",
    "png_pieces",
    "rank_layouts",
    "ranking_to_plain",
    "read_device",
    "read_sequence",
    "read_stream",
    "set_names",
    "size_px",
    "stream_to_plain",
    "svg_text",
    "testify",
    "traceless_bytes",
    "usable_to_plain",
    "write_png",
]

"""Continuity readings and the tracing guide: the face of what a meter says."""

from latchlore.board._readings import MeterReading, parse_all_readings, parse_readings, read_readings, row_of, text_of
from latchlore.board._sanded import PossibleType, possible_types
from latchlore.board._trace_guide import Aim, Guide, Proposal, propose
from latchlore.board._trace_nets import Disagreement, Joint, TracedNets, conclude, is_doubted

__all__ = [
    "Aim",
    "Disagreement",
    "Guide",
    "Joint",
    "MeterReading",
    "PossibleType",
    "Proposal",
    "TracedNets",
    "conclude",
    "is_doubted",
    "parse_all_readings",
    "parse_readings",
    "possible_types",
    "propose",
    "read_readings",
    "row_of",
    "text_of",
]

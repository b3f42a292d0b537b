"""Continuity readings and the tracing guide: the face of what a meter says."""

from latchlore.board._readings import MeterReading, parse_all_readings, parse_readings, read_readings, row_of, text_of
from latchlore.board._sanded import PossibleType, possible_types
from latchlore.board._trace_guide import Aim, Guide, Proposal, propose
from latchlore.board._trace_nets import Disagreement, Joint, TracedNets, conclude, is_doubted
from latchlore.board._trace_report import OpenSection, ReportWords, TraceReport, describe_report, report_on

__all__ = [
    "Aim",
    "Disagreement",
    "Guide",
    "Joint",
    "MeterReading",
    "OpenSection",
    "PossibleType",
    "Proposal",
    "ReportWords",
    "TraceReport",
    "TracedNets",
    "conclude",
    "describe_report",
    "is_doubted",
    "parse_all_readings",
    "parse_readings",
    "possible_types",
    "propose",
    "read_readings",
    "report_on",
    "row_of",
    "text_of",
]

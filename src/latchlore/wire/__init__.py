"""The wire witness: logs, captures and the merging of lossy runs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.wire._buslog import Access, BusLog, parse_bus_log, written_bytes
from latchlore.wire._bytelog import MAX_LOG_BYTES, Layout, Log, Numbers, Run, parse_log, read_log
from latchlore.wire._compare import (
    Difference,
    HostRule,
    RampReport,
    Step,
    compare_streams,
    explain_host,
)
from latchlore.wire._filestamp import stamp_file
from latchlore.wire._needed import runs_for_counts, runs_for_order, runs_needed
from latchlore.wire._results import AlignedRun, Alternative, Extra, ExtraKind, Flip, Merge, Outlier, Rates, Repeat
from latchlore.wire.timingfacts import TIMING_ROWS, TimingRow

if TYPE_CHECKING:
    from latchlore.wire._activity import Activity, measure_activity
    from latchlore.wire._buscycles import BusLines, BusReading, read_bus
    from latchlore.wire._capture import Capture, Channel, ChannelKind, Gap
    from latchlore.wire._follow import HeardPiece, LogFollower, follow_log
    from latchlore.wire._handshake import ParallelReading, Seen, read_parallel
    from latchlore.wire._linealign import Paired, describe_pairing, judge_lines
    from latchlore.wire._linefaults import (
        LineFaults,
        LineHints,
        LineRule,
        NearRule,
        Rule,
        compare_lines,
        find_hints,
        find_text_convention,
    )
    from latchlore.wire._lines import Concluded, Latch, ParallelLines
    from latchlore.wire._listen import Heard, Port, listen, open_port
    from latchlore.wire._listener import (
        Belief,
        HostTimes,
        Listener,
        Poller,
        Prediction,
        Search,
        least_delay,
        least_depth,
        most_service,
        next_setting,
        predict_misses,
        propose_settings,
        simulate_listener,
        weigh_listeners,
    )
    from latchlore.wire._listenerfit import (
        BETTER,
        LITTLE_LOSS,
        NO_LISTENER,
        TOO_SURE,
        ending_pause,
        over_chance,
        ramp_indices,
        weigh_either_way,
    )
    from latchlore.wire._merge import merge
    from latchlore.wire._order import count_order
    from latchlore.wire._peerfigures import FigurePair, compare_figures
    from latchlore.wire._peerresults import Pauses, PeerReport, PeerStep, Shift, Verdict
    from latchlore.wire._peers import compare_peers
    from latchlore.wire._propose import Proposal, propose_lines
    from latchlore.wire._serial import Framing, Parity, SerialReading, read_serial
    from latchlore.wire._tables import PackedMap, TableMap, Thresholds, read_packed, read_table
    from latchlore.wire._timing import FIGURES, Figure, Violation, measure_handshake
    from latchlore.wire._toplain import (
        belief_to_plain,
        bus_to_plain,
        capture_to_plain,
        differences_to_plain,
        figures_to_plain,
        lines_to_plain,
        merge_to_plain,
        peers_to_plain,
        prediction_from_plain,
        prediction_to_plain,
        proposal_to_plain,
        reading_to_plain,
        serial_to_plain,
    )
    from latchlore.wire._vcd import read_vcd
    from latchlore.wire._view import ChannelView, View, view, view_to_plain

__all__ = [
    "BETTER",
    "FIGURES",
    "LITTLE_LOSS",
    "MAX_LOG_BYTES",
    "NO_LISTENER",
    "TIMING_ROWS",
    "TOO_SURE",
    "Access",
    "Activity",
    "AlignedRun",
    "Alternative",
    "Belief",
    "BusLines",
    "BusLog",
    "BusReading",
    "Capture",
    "Channel",
    "ChannelKind",
    "ChannelView",
    "Concluded",
    "Difference",
    "Extra",
    "ExtraKind",
    "Figure",
    "FigurePair",
    "Flip",
    "Framing",
    "Gap",
    "Heard",
    "HeardPiece",
    "HostRule",
    "HostTimes",
    "Latch",
    "Layout",
    "LineFaults",
    "LineHints",
    "LineRule",
    "Listener",
    "Log",
    "LogFollower",
    "Merge",
    "NearRule",
    "Numbers",
    "Outlier",
    "PackedMap",
    "Paired",
    "ParallelLines",
    "ParallelReading",
    "Parity",
    "Pauses",
    "PeerReport",
    "PeerStep",
    "Poller",
    "Port",
    "Prediction",
    "Proposal",
    "RampReport",
    "Rates",
    "Repeat",
    "Rule",
    "Run",
    "Search",
    "Seen",
    "SerialReading",
    "Shift",
    "Step",
    "TableMap",
    "Thresholds",
    "TimingRow",
    "Verdict",
    "View",
    "Violation",
    "belief_to_plain",
    "bus_to_plain",
    "capture_to_plain",
    "compare_figures",
    "compare_lines",
    "compare_peers",
    "compare_streams",
    "count_order",
    "describe_pairing",
    "differences_to_plain",
    "ending_pause",
    "explain_host",
    "figures_to_plain",
    "find_hints",
    "find_text_convention",
    "follow_log",
    "judge_lines",
    "least_delay",
    "least_depth",
    "lines_to_plain",
    "listen",
    "measure_activity",
    "measure_handshake",
    "merge",
    "merge_to_plain",
    "most_service",
    "next_setting",
    "open_port",
    "over_chance",
    "parse_bus_log",
    "parse_log",
    "peers_to_plain",
    "predict_misses",
    "prediction_from_plain",
    "prediction_to_plain",
    "proposal_to_plain",
    "propose_lines",
    "propose_settings",
    "ramp_indices",
    "read_bus",
    "read_log",
    "read_packed",
    "read_parallel",
    "read_serial",
    "read_table",
    "read_vcd",
    "reading_to_plain",
    "runs_for_counts",
    "runs_for_order",
    "runs_needed",
    "serial_to_plain",
    "simulate_listener",
    "stamp_file",
    "view",
    "view_to_plain",
    "weigh_either_way",
    "weigh_listeners",
    "written_bytes",
]

_LAZY = {  # these need numba or numpy, which are slow to load
    **dict.fromkeys(("BusLines", "BusReading", "read_bus"), "_buscycles"),
    "Capture": "_capture",
    "Channel": "_capture",
    "ChannelKind": "_capture",
    "Concluded": "_lines",
    "FIGURES": "_timing",
    "Figure": "_timing",
    "Framing": "_serial",
    "Gap": "_capture",
    "Latch": "_lines",
    "ParallelLines": "_lines",
    "ParallelReading": "_handshake",
    **dict.fromkeys(("Paired", "describe_pairing", "judge_lines"), "_linealign"),
    **dict.fromkeys(
        (
            "LineFaults",
            "LineHints",
            "LineRule",
            "NearRule",
            "Rule",
            "compare_lines",
            "find_hints",
            "find_text_convention",
        ),
        "_linefaults",
    ),
    **dict.fromkeys(
        (
            *("Belief", "HostTimes", "Listener", "Poller", "Prediction", "Search", "least_delay", "most_service"),
            *(
                "least_depth",
                "next_setting",
                "predict_misses",
                "propose_settings",
                "simulate_listener",
                "weigh_listeners",
            ),
        ),
        "_listener",
    ),
    **dict.fromkeys(
        (
            "BETTER",
            "LITTLE_LOSS",
            "NO_LISTENER",
            "TOO_SURE",
            "ending_pause",
            "over_chance",
            "ramp_indices",
            "weigh_either_way",
        ),
        "_listenerfit",
    ),
    "PackedMap": "_tables",
    **dict.fromkeys(("Activity", "measure_activity"), "_activity"),
    **dict.fromkeys(("Proposal", "propose_lines"), "_propose"),
    "Parity": "_serial",
    **dict.fromkeys(("FigurePair", "compare_figures"), "_peerfigures"),
    **dict.fromkeys(("Pauses", "PeerReport", "PeerStep", "Shift", "Verdict"), "_peerresults"),
    "compare_peers": "_peers",
    "Seen": "_handshake",
    "SerialReading": "_serial",
    **dict.fromkeys(("Heard", "Port", "listen", "open_port"), "_listen"),
    **dict.fromkeys(("HeardPiece", "LogFollower", "follow_log"), "_follow"),
    "TableMap": "_tables",
    "Thresholds": "_tables",
    **dict.fromkeys(
        (
            "belief_to_plain",
            "bus_to_plain",
            "capture_to_plain",
            "differences_to_plain",
            "figures_to_plain",
            "lines_to_plain",
            "merge_to_plain",
            "peers_to_plain",
            "prediction_from_plain",
            "prediction_to_plain",
            "proposal_to_plain",
            "reading_to_plain",
            "serial_to_plain",
        ),
        "_toplain",
    ),
    "Violation": "_timing",
    "count_order": "_order",
    "measure_handshake": "_timing",
    "merge": "_merge",
    "read_packed": "_tables",
    "read_table": "_tables",
    "read_parallel": "_handshake",
    "read_serial": "_serial",
    "read_vcd": "_vcd",
    **dict.fromkeys(("ChannelView", "View", "view", "view_to_plain"), "_view"),
}


def __getattr__(name: str) -> object:
    if name not in _LAZY:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    import importlib

    return getattr(importlib.import_module(f"{__name__}.{_LAZY[name]}"), name)

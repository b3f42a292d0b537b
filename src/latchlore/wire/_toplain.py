"""Readings, times and comparisons as plain values for JSON; times are whole picoseconds."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING, Any

from latchlore.wire._listenerwording import NO_CHANCE, NO_PREDICTION

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from latchlore.base import SpanLimit, SpanRange
    from latchlore.wire._buscycles import BusReading
    from latchlore.wire._capture import Capture
    from latchlore.wire._compare import Difference
    from latchlore.wire._handshake import ParallelReading
    from latchlore.wire._lines import Concluded, ParallelLines
    from latchlore.wire._listener import Belief, Prediction
    from latchlore.wire._peerfigures import FigurePair
    from latchlore.wire._peerresults import Pauses, PeerReport
    from latchlore.wire._propose import Proposal
    from latchlore.wire._results import Merge
    from latchlore.wire._serial import SerialReading
    from latchlore.wire._timing import Figure

    Rows = Callable[[Iterator[dict[str, Any]]], list[dict[str, Any]]]
    """What makes the list of a long column's rows: `list`, or what reads them one by one as they are written."""

SHARES = (5, 50, 95)
"""The percentiles that are shown."""
BROKEN_MOST = 1_000_000
"""So many moments at which a limit is broken are given, the first ones; how many there are is told beside them."""


def capture_to_plain(capture: Capture) -> dict[str, Any]:
    """What a capture holds."""
    return {
        "file": capture.file,
        "begin_ps": capture.begin.picoseconds,
        "end_ps": capture.end.picoseconds,
        "step_ps": None if capture.step is None else capture.step.picoseconds,
        "channels": [
            {"names": list(c.names), "kind": str(c.kind), "width": c.width, "bits": c.bits, "values": c.num_changes}
            for c in capture.channels
        ],
        "gaps_ps": [[g.since.picoseconds, None if g.until is None else g.until.picoseconds] for g in capture.gaps],
        "notes": list(capture.notes),
    }


def lines_to_plain(lines: ParallelLines | None) -> dict[str, Any] | None:
    """Which lines are what."""
    if lines is None:
        return None
    return {
        "data": list(lines.data),
        "strobe": lines.strobe,
        "strobe_active": lines.strobe_active,
        "busy": lines.busy,
        "busy_active": lines.busy_active,
        "acknowledge": lines.ack,
        "acknowledge_active": lines.ack_active,
        "latch": None if lines.latch is None else str(lines.latch),
    }


def proposal_to_plain(proposal: Proposal) -> dict[str, Any]:
    """What lines may be, and what each does."""
    return {
        "lines": lines_to_plain(proposal.lines),
        "order_decided": proposal.order_decided,
        "reasons": list(proposal.reasons),
        "activity": [
            {"name": a.name, "edges": a.edges, "high": a.high, "pulses": a.pulses, "width_ps": a.width_ps}
            for a in proposal.activity
        ],
    }


def _concluded(found: Concluded | None) -> dict[str, Any] | None:
    return None if found is None else {"value": found.value, "why": found.why}


def reading_to_plain(reading: ParallelReading, rows: Rows = list) -> dict[str, Any]:
    """The bytes of a parallel handshake."""
    return {
        "file": reading.file,
        "bytes": rows(
            {
                "value": int(reading.values[k]),
                "doubt": int(reading.doubt[k]),
                "since_ps": int(reading.since[k]),
                "until_ps": int(reading.until[k]),
                "seen": ("strobe", "counted", "ringing")[reading.seen[k]],
            }
            for k in range(len(reading.values))
        ),
        "complete": reading.complete,
        "complete_why": reading.complete_why,
        "strobe_active": _concluded(reading.strobe_active),
        "busy_active": _concluded(reading.busy_active),
        "acknowledge_active": _concluded(reading.ack_active),
        "latch": _concluded(reading.latch),
        "notes": list(reading.notes),
    }


def range_to_plain(span: SpanRange) -> list[int]:
    """Two bounds in picoseconds."""
    return [span.least.picoseconds, span.most.picoseconds]


def figures_to_plain(figures: Mapping[str, Figure], limits: Mapping[str, SpanLimit], source: str) -> dict[str, Any]:
    """Times of a handshake with their percentiles, against limits where there are any."""
    rows: list[dict[str, Any]] = []
    for name, figure in figures.items():
        row: dict[str, Any] = {"figure": name, **_figure(figure)}
        if name in limits:
            row["limit"] = str(limits[name])
            row["broken"], row["cannot_be_told"] = figure.judge(limits[name])
            shown = islice(figure.iter_broken(limits[name]), BROKEN_MOST)
            row["broken_at_ps"] = [int(figure.moments[k]) for k in shown]
        rows.append(row)
    return {"limits_from": source or None, "figures": rows}


def _figure(figure: Figure) -> dict[str, Any]:
    return {
        "count": figure.count,
        "slack_ps": figure.slack,
        "least_ps": range_to_plain(figure.least),
        "most_ps": range_to_plain(figure.most),
        "percentiles_ps": {str(share): range_to_plain(figure.percentile(share)) for share in SHARES},
    }


def serial_to_plain(reading: SerialReading, rows: Rows = list) -> dict[str, Any]:
    """The bytes of a serial line."""
    return {
        "file": reading.file,
        "line": reading.line,
        "bit_time_ps": reading.bit_time.picoseconds,
        "rate": reading.rate_words,
        "idle": _concluded(reading.idle),
        "framing": str(reading.framing),
        "undecided": [str(c.framing) for c in reading.undecided],
        "bytes": rows(
            {
                "value": int(reading.values[k]),
                "start_ps": int(reading.starts[k]),
                "parity_wrong": bool(reading.parity_wrong[k]),
                "stop_wrong": bool(reading.stop_wrong[k]),
                "unsure": bool(reading.unsure[k]),
            }
            for k in range(len(reading.values))
        ),
        "notes": list(reading.notes),
    }


def bus_to_plain(reading: BusReading, rows: Rows = list) -> dict[str, Any]:
    """Bus cycles."""
    return {
        "file": reading.file,
        "cycles": rows(
            {
                "when_ps": int(reading.when[k]),
                "address": int(reading.address[k]),
                "address_doubt": int(reading.address_doubt[k]),
                "value": int(reading.value[k]),
                "value_doubt": int(reading.value_doubt[k]),
                "writes": bool(reading.writes[k]),
                "port": bool(reading.ports[k]),
            }
            for k in range(reading.count)
        ),
        "notes": list(reading.notes),
    }


def merge_to_plain(merge: Merge) -> dict[str, Any]:
    """A merge with its doubts, its runs aligned under it."""
    sequence = merge.sequence
    return {
        "bytes": [
            {
                "value": item.value,
                "confidence": round(item.confidence, 6),
                "alternatives": [[value, round(chance, 6)] for value, chance in item.alternatives],
                "missing_before": round(item.missing_before, 6),
            }
            for item in sequence.items
        ],
        "missing_after": round(sequence.missing_after, 6),
        "whole": round(sequence.confidence, 6),
        "runs": sequence.num_runs,
        "repeats": [
            {"start": r.start, "value": r.value, "counts": [[n, round(p, 6)] for n, p in r.counts]}
            for r in merge.repeats
        ],
        "alternatives": [
            {"bytes": list(a.data), "chance": round(a.probability, 6), "words": a.words} for a in merge.alternatives
        ],
        "aligned": [
            {
                "run": a.run,
                "columns": list(a.columns),
                "changed": a.num_flipped,
                "extras": [{"byte": e.index, "after": e.after, "kind": str(e.kind)} for e in a.extras],
            }
            for a in merge.aligned
        ],
        "outliers": [{"run": o.run, "words": o.words} for o in merge.outliers],
        "loss": merge.rates.loss,
        "double": merge.rates.double,
        "further_runs": merge.further_runs,
        "truncated": merge.truncated,
        "notes": list(merge.notes),
    }


def differences_to_plain(differences: Iterable[Difference]) -> list[dict[str, Any]]:
    """Steps from what was sent to what arrived."""
    return [
        {
            "step": str(d.step),
            "sent_at": d.sent_at,
            "got_at": d.got_at,
            "sent": d.sent,
            "got": d.got,
            "first": d.first,
            "last": d.last,
            "words": str(d),
        }
        for d in differences
    ]


def prediction_to_plain(prediction: Prediction) -> dict[str, Any]:
    """What a listener misses and doubles."""
    return {
        "loss": round(prediction.loss, 6),
        "missed": [round(chance, 6) for chance in prediction.missed],
        "doubled": [round(chance, 6) for chance in prediction.doubled],
    }


def prediction_from_plain(plain: object) -> tuple[float, ...]:
    """The chances of missing each byte from what a listener's prediction was printed as.  Refuses anything else."""
    missed = plain.get("missed") if isinstance(plain, dict) else None
    if not isinstance(missed, list) or not missed:
        raise ValueError(NO_PREDICTION)
    for k, chance in enumerate(missed):
        if isinstance(chance, bool) or not isinstance(chance, int | float) or not 0 <= chance <= 1:
            raise ValueError(NO_CHANCE.format(index=k, value=chance))
    return tuple(float(chance) for chance in missed)


def belief_to_plain(belief: Belief, inside: float) -> dict[str, Any]:
    """What runs tell of a listener."""
    return {
        "inside": inside,
        "intervals_ps": {
            name: range_to_plain(belief.interval(name, inside))
            for name in ("latency", "service", "turn", *(("jitter",) if "jitter" in belief.cell else ()))
        },
        "best": {
            "latency_ps": belief.best.latency.picoseconds,
            "service_ps": belief.best.service.picoseconds,
            "jitter_ps": belief.best.jitter.picoseconds,
            "depth": belief.best.depth,
        },
        "fit": round(belief.fit, 6),
    }


def peers_to_plain(report: PeerReport, figures: Sequence[FigurePair]) -> dict[str, Any]:
    """Two recordings side by side; `wrong` is 0 for the first, 1 for the second, null where it cannot be told."""
    return {
        "pairs": report.pairs,
        "steps": [
            {
                "first_at": step.first_at,
                "second_at": step.second_at,
                "first": step.first,
                "second": step.second,
                "anywhere": [step.low, step.high],
                "verdict": str(step.verdict),
                "wrong": step.wrong,
                "words": str(step),
            }
            for step in report.steps
        ],
        "pace": None if report.pace is None else [report.pace.numerator, report.pace.denominator],
        "pauses_ps": [_pauses(pauses) for pauses in report.pauses],
        "shifts_ps": [
            {
                "first_at": shift.first_at,
                "second_at": shift.second_at,
                "first": shift.first.picoseconds,
                "second": shift.second.picoseconds,
            }
            for shift in report.shifts
        ],
        "handshake": [
            {
                "figure": pair.name,
                "first": None if pair.first is None else _figure(pair.first),
                "second": None if pair.second is None else _figure(pair.second),
                "differs": pair.differs,
                "apart": pair.is_apart,
            }
            for pair in figures
        ],
    }


def _pauses(pauses: Pauses | None) -> dict[str, int] | None:
    if pauses is None:
        return None
    shares = (("least", pauses.least), ("5", pauses.p5), ("50", pauses.p50), ("95", pauses.p95), ("most", pauses.most))
    return {"count": pauses.count, **{name: span.picoseconds for name, span in shares}}

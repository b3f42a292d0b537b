"""Answers of the device wing as plain values (docs/device-json.md), for JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from latchlore.device._comparing import TraitStanding
from latchlore.device._paper import Dot
from latchlore.device._patterns import set_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.device._carrying import UsableCommand
    from latchlore.device._charsets import PrintedSample
    from latchlore.device._comparing import DeviceComparison, Trait
    from latchlore.device._doubts import DoubtfulReading
    from latchlore.device._explaining import Explanation
    from latchlore.device._families import Family
    from latchlore.device._feeding import Feed
    from latchlore.device._figures import Inconsistency
    from latchlore.device._layouts import Layout, LayoutRanking
    from latchlore.device._losses import LossReport
    from latchlore.device._losslikely import Candidate
    from latchlore.device._paper import Paper
    from latchlore.device._reading import Reading, StreamSpan
    from latchlore.device._sources import ShownPage, Source, TextHit
    from latchlore.device._survey import LossSurvey


def comparison_to_plain(comparison: DeviceComparison) -> dict[str, Any]:
    """Devices, and each trait with its values and places."""
    return {
        "devices": [{"name": d.name, "document": d.title, "file": d.file} for d in comparison.devices],
        "counts": {standing.value: len(comparison.of_standing(standing)) for standing in TraitStanding},
        "traits": traits_to_plain(comparison.traits),
    }


def marks_to_plain(paper: Paper, byte: int) -> dict[str, Any]:
    """A byte and where its marks are, in millimetres from the paper's upper left corner."""
    dots = paper.dots_of(byte)
    half = paper.form.dot / 2
    places = [paper.position_mm(dot) for dot in dots]
    x, y = paper.stands_at(byte)
    stands = paper.position_mm(Dot(x, y, byte))
    box = None
    if places:
        across, along = ([place[axis] for place in places] for axis in (0, 1))
        box = {"left": float(min(across) - half), "right": float(max(across) + half)}
        box |= {"top": float(min(along) - half), "bottom": float(max(along) + half)}
    return {
        "byte": byte,
        "value": paper.reading.data[byte],
        "span": list(paper.reading.bounds(paper.reading.find_span(byte))),
        "dots": [[float(axis) for axis in place] for place in places],
        "mm": box,
        "stands_mm": {"across": float(stands[0]), "along": float(stands[1])},
    }


def traits_to_plain(traits: Sequence[Trait]) -> list[dict[str, Any]]:
    """Traits with their values and places, device by device."""
    return [
        {
            "kind": trait.kind,
            "name": trait.name,
            "standing": trait.standing.value,
            "values": list(trait.values),
            "may_also_read": [list(others) for others in trait.others],
            "places": [None if origin is None else str(origin) for origin in trait.origins],
        }
        for trait in traits
    ]


def family_to_plain(family: Family) -> dict[str, Any]:
    """Orders by device names; changes are counted as in `order_family`, in halves."""
    names = [device.name for device in family.comparison.devices]
    return {
        "inferred": True,
        "changes": family.cost / 2,
        "next_best_changes": None if family.next_cost is None else family.next_cost / 2,
        "all_orders_listed": family.is_all,
        "orders": [
            {"devices": [names[index] for index in order], "dates_agree": family.agrees_with_dates(order)}
            for order in family.orders
        ],
        "changes_between": [[distance / 2 for distance in row] for row in family.distances],
    }


def usable_to_plain(found: Sequence[UsableCommand]) -> list[dict[str, Any]]:
    """Each command over a carrier."""
    return [
        {
            "command": one.command.name,
            "pattern": str(one.command.pattern),
            "usable": one.usable.value,
            "lacking_bits": [bit for bit in range(8) if one.lacking >> bit & 1],
            "reasons": list(one.reasons),
            "place": str(one.command.citation.origin),
        }
        for one in found
    ]


def explanations_to_plain(found: Sequence[Explanation]) -> list[dict[str, Any]]:
    """Each device, best first."""
    return [
        {
            "device": one.device.name,
            "file": one.device.file,
            "explains": one.explains,
            "ruled_out": None
            if one.ruled_out is None
            else {
                "place": one.ruled_out.place,
                "byte": one.ruled_out.byte,
                "span_start": one.ruled_out.start,
                "why": one.ruled_out.why,
            },
            "unexplained_bytes": one.unexplained,
            "missing_at_end": one.missing,
            "settings": [dict(way) for way in one.settings],
            "remarks": [{"place": place, "words": words} for place, words in one.remarks],
            "unused_rows": [command.name for command in one.unused],
        }
        for one in found
    ]


def stream_to_plain(reading: Reading) -> dict[str, Any]:
    """A reading: every span, and the rows that were not used."""
    return {
        "device": reading.device.name,
        "file": reading.device.file,
        "switches": dict(reading.switches),
        "num_bytes": len(reading.data),
        "unexplained_bytes": reading.num_unexplained,
        "spans": [_span_to_plain(span) for span in reading],
        "unused_rows": [command.name for command in reading.never_used],
    }


def _span_to_plain(span: StreamSpan) -> dict[str, Any]:
    return {
        "start": span.start,
        "end": span.end,
        "state": span.state.value,
        "bytes": span.raw.hex(" ").upper(),
        "command": None if span.command is None else span.command.name,
        "meaning": None if span.command is None else span.command.meaning,
        "place": None if span.command is None else str(span.command.citation.origin),
        "values": dict(span.values),
        "data": {name: list(bounds) for name, bounds in span.data.items()},
        "missing": span.missing,
        "changes": dict(span.changes),
        "remarks": list(span.remarks),
    }


def losses_to_plain(report: LossReport) -> dict[str, Any]:
    """Losses with their other readings; columns count from 1."""
    return {
        "num_seen": report.num_seen,
        "num_sent": report.num_sent,
        "losses": [
            {
                "start": loss.start,
                "end": loss.end,
                "command": loss.command.name,
                "number": loss.number,
                "missing": loss.missing,
                "present": loss.present,
                "count": loss.count,
                "taken_for_data": loss.absorbed.hex(" ").upper(),
                "columns": None
                if loss.gap is None
                else {
                    "missing": [place + 1 for place in loss.gap.sure],
                    "perhaps": [place + 1 for place in loss.gap.possible],
                    "neighbour_has": loss.gap.values.hex(" ").upper(),
                },
                "doubted_by_the_merge": list(loss.marked),
                "others": [{"missing": other.missing, "bits_worse": round(other.bits, 1)} for other in loss.others],
            }
            for loss in report.losses
        ],
    }


def survey_to_plain(survey: LossSurvey) -> dict[str, Any]:
    """Complaints with the places of a loss that explain them, and places where a loss would leave no trace."""
    return {
        "complaints": [
            {
                "start": one.start,
                "end": one.end,
                "spans": one.num,
                "explained_by_a_byte_lost": [
                    {"first": place.first, "end": place.end, "of": set_text(place.values)} for place in one.places
                ],
                "likeliest_first": [_candidate_to_plain(candidate) for candidate in one.candidates],
            }
            for one in survey.troubles
        ],
        "without_trace": [
            {"first": one.first, "end": one.end, "reads_as": [way.value for way in one.ways], "until": one.until}
            for one in survey.hidden
        ],
    }


def _candidate_to_plain(one: Candidate) -> dict[str, Any]:
    return {
        "first": one.first,
        "end": one.end,
        "of": set_text(one.values),
        "command": one.command.name,
        "share": round(one.share, 6),
        "likeliest_values": [{"value": value, "times_elsewhere": count} for value, count in one.likely],
        "rows_elsewhere": {"of_this_kind": one.num_row, "all": one.num_spans},
        "behind_the_row_in_front": {"of_this_kind": one.num_behind, "all": one.num_before},
    }


def doubts_to_plain(found: DoubtfulReading) -> dict[str, Any]:
    """Each doubtful place with what it could change, and how sure each span is."""
    return {
        "doubts": [
            {
                "place": doubt.place,
                "byte_missing": doubt.is_missing,
                "probability": round(doubt.probability, 6),
                "effects": [
                    {
                        "values": list(effect.values),
                        "probability": round(effect.probability, 6),
                        "first": effect.first,
                        "until": effect.until,
                        "returns": effect.returns,
                        "same_spans": effect.same_spans,
                    }
                    for effect in doubt.effects
                ],
            }
            for doubt in found.doubts
        ],
        "exact_until": found.exact_until,
        "spans": [{"stands": round(span.stands, 6), "exact": round(span.exact, 6)} for span in found.spans],
    }


def ranking_to_plain(ranking: LayoutRanking) -> dict[str, Any]:
    """Layouts, best first, and which of them cannot be told apart."""
    return {
        "inferred": True,
        "decided": ranking.is_decided,
        "tied": [_layout_to_plain(layout) for layout in ranking.tied],
        "same_picture": [_layout_to_plain(layout) for layout in ranking.same_picture],
        "mirrored": [_layout_to_plain(layout) for layout in ranking.mirrored],
        "layouts": [
            {
                **_layout_to_plain(guess.layout),
                "bits": round(guess.bits, 3),
                "bits_behind": round(guess.worse_by, 3),
                "text_share": guess.text_share,
            }
            for guess in ranking.guesses
        ],
    }


def _layout_to_plain(layout: Layout) -> dict[str, Any]:
    return {
        "by": "columns" if layout.by_column else "rows",
        "highest_bit_first": layout.high_first,
        "bytes": layout.unit_bytes or None,
        "step": layout.step,
    }


def sources_to_plain(sources: Sequence[Source]) -> list[dict[str, Any]]:
    """The register of documents."""
    return [
        {
            "document": source.device.document,
            "title": source.device.title,
            "device": source.device.name,
            "kind": source.device.kind,
            "edition": source.device.edition,
            "date": source.device.date,
            "holder": source.device.holder,
            "scan": source.device.scan,
            "state": source.state.value,
            "sha256": source.sha256,
            "pages_scanned": source.num_pages,
            "pages_with_text": source.text_pages,
            "remarks": list(source.remarks),
        }
        for source in sources
    ]


def hits_to_plain(hits: Sequence[TextHit]) -> list[dict[str, Any]]:
    """Words found in scans."""
    return [
        {
            "document": hit.device.document,
            "page": hit.page,
            "sheet": hit.sheet,
            "excerpt": hit.excerpt,
            "read_off_by": hit.read_by or None,
        }
        for hit in hits
    ]


def page_to_plain(shown: ShownPage) -> dict[str, Any]:
    """A page beside its row; the picture's bytes are not in it."""
    picture = shown.picture
    return {
        "place": str(shown.citation.origin),
        "page": shown.page,
        "sheet": shown.sheet,
        "page_text": shown.text.text,
        "read_off_by": shown.text.read_by or None,
        "picture": None
        if picture is None
        else {"kind": picture.kind, "width": picture.width, "height": picture.height, "whence": picture.whence},
    }


def sample_to_plain(sample: PrintedSample) -> dict[str, Any]:
    """Sets that explain a print, sets that do not, and the bytes that decide."""
    return {
        "possible": list(sample.possible),
        "excluded": [
            {"set": one.name, "byte": one.code, "seen": one.seen, "would_print": one.printed} for one in sample.excluded
        ],
        "deciders": [
            {
                "byte": one.code,
                "outcomes": [{"character": character, "sets": list(names)} for character, names in one.outcomes],
            }
            for one in sample.deciders
        ],
    }


def slips_to_plain(slips: Sequence[Inconsistency]) -> list[dict[str, Any]]:
    """Places where a document contradicts itself, with the evidence and the smallest edits, best first."""
    return [
        {
            "place": str(one.origin),
            "words": one.words,
            "evidence": list(one.evidence),
            "edits": [
                {
                    "place": str(edit.origin),
                    "key": edit.key,
                    "old": edit.old,
                    "new": edit.new,
                    "digits": edit.digits,
                    "unlike": edit.unlike,
                    "reason": edit.reason,
                }
                for edit in one.edits
            ],
        }
        for one in slips
    ]


def feed_to_plain(feed: Feed) -> dict[str, Any]:
    """A rate; times in picoseconds."""
    return {
        "command": feed.command.name,
        "verdict": feed.verdict,
        "bytes": feed.num_bytes,
        "byte_ps": [feed.per_byte.least.picoseconds, feed.per_byte.most.picoseconds],
        "limited_by": feed.limited_by,
        "takes_ps": [feed.takes.least.picoseconds, feed.takes.most.picoseconds],
        "period_ps": feed.period.picoseconds,
        "longest_byte_ps": str(feed.longest_byte_ps),
    }

"""Sentences of the device wing."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from latchlore.device._c0 import byte_name
from latchlore.device._patterns import set_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from latchlore.base import AddressSet
    from latchlore.device._carrying import UsableCommand, UsableKind
    from latchlore.device._comparing import Trait
    from latchlore.device._doubts import Doubt
    from latchlore.device._explaining import Explanation
    from latchlore.device._families import Family
    from latchlore.device._feeding import Feed
    from latchlore.device._layouts import Layout, LayoutGuess, LayoutRanking
    from latchlore.device._losses import Loss, OtherReading
    from latchlore.device._losslikely import Candidate
    from latchlore.device._reading import StreamSpan
    from latchlore.device._sources import Source, TextHit
    from latchlore.device._survey import HiddenLoss, LostAt, Trouble

FIRST = "{event} first"
EITHER_WAY = "either way"
LEFT_OPEN = "left open"
GRAPHICS_IN_TEXT = "[{count} bytes of dots]"


def describe_span(span: StreamSpan) -> str:
    """One line on a span: place, bytes, meaning, parameters, remarks."""
    shown = " ".join(f"{byte:02X}" for byte in span.raw[:12]) + (" ..." if len(span.raw) > 12 else "")
    words = span.command.meaning if span.command else "not explained"
    if span.command is not None and span.command.effect == "print":
        letters = "".join(" " if byte == 0x20 else byte_name(byte) for byte in span.raw[:40])
        words += f" {letters!r}" + (" ..." if len(span.raw) > 40 else "")
    if span.values:
        words += " (" + ", ".join(f"{name} = {value}" for name, value in span.values.items()) + ")"
    if span.missing:
        words += f"; the stream ends {span.missing} byte{'s' if span.missing != 1 else ''} short, or more"
    if span.changes:
        words += "; " + ", ".join(f"{name}: {value}" for name, value in span.changes.items())
    for remark in span.remarks:
        words += f"; {remark}"
    return f"{span.start:04X}: {shown}: {words}"


def hex_text(data: bytes) -> str:
    """``1B 4B`` for two bytes."""
    return " ".join(f"{byte:02X}" for byte in data)


def describe_loss(loss: Loss) -> str:
    """One line on a loss: which span, how many bytes, where, and what else is possible."""
    words = (
        f"{loss.start:04X}: {loss.command.meaning}, number {loss.number}: {loss.missing} of {loss.count} bytes missing"
    )
    words += ", position unknown" if loss.gap is None else f": {loss.gap}"
    if loss.marked:
        places = ", ".join(f"{place:04X}" for place in loss.marked)
        words += f"; the merge doubts the place in front of {places}"
    if loss.absorbed:
        words += f"; a plain reading takes {hex_text(loss.absorbed)} behind for data"
    if loss.others:
        words += f"; otherwise {', '.join(str(other) for other in loss.others[:3])}"
    return words


def describe_trouble(trouble: Trouble) -> str:
    """One line on complaints and the places where one lost byte explains them."""
    many = f"{trouble.num} complaints" if trouble.num != 1 else "a complaint"
    words = f"{trouble.start:04X} to {trouble.end:04X}: {many}"
    if not trouble.places:
        return f"{words}; no single lost byte explains {'them' if trouble.num != 1 else 'it'}"
    shown = [_lost_at(place) for place in trouble.places[:MAX_PLACES]]
    if len(trouble.places) > MAX_PLACES:
        shown.append(f"or at {sum(one.end - one.first for one in trouble.places[MAX_PLACES:])} more places")
    words += f", explained by one byte lost in front of {', '.join(shown)}"
    if len(trouble.candidates) > 1:
        rest = len(trouble.candidates) - MAX_CANDIDATES
        likeliest = "; ".join(map(str, trouble.candidates[:MAX_CANDIDATES]))
        words += f"; likeliest first: {likeliest}" + (f"; and {rest} less likely" if rest > 0 else "")
    return words


def describe_candidate(one: Candidate) -> str:
    """One line on a way to mend a complaint, and what speaks for it."""
    words = f"{_share(one.share)}: in front of {_stretch(one.first, one.end)} {_likely(one)}: {one.command.meaning}"
    elsewhere = f"{one.num_row} of {one.num_spans} rows elsewhere"
    if one.num_before:
        elsewhere += f", {one.num_behind} of {one.num_before} behind the row in front"
    return f"{words} ({elsewhere})"


def _share(share: float) -> str:
    """A share of what is possible; never said to be all or nothing where it is not."""
    if 0.999 < share < 1:
        return "over 99.9%"
    return "under 0.1%" if share < 0.001 else f"{share:.1%}"


def _likely(one: Candidate) -> str:
    """The values of the byte, the likeliest first where some were seen."""
    if len(one.values) == 1:
        return set_text(one.values)
    seen = [f"{value:02X} ({count} times elsewhere)" for value, count in one.likely if count]
    rest = "any value" if len(one.values) == 256 else set_text(one.values)
    return f"one of {rest}" + (f", likeliest {', '.join(seen)}" if seen else "")


def _stretch(first: int, end: int) -> str:
    return f"{first:04X}" + (f" to {end - 1:04X}" if end - first > 1 else "")


MAX_PLACES = 8
MAX_CANDIDATES = 3


def _lost_at(place: LostAt) -> str:
    where = _stretch(place.first, place.end)
    values = "any value" if len(place.values) == 256 else set_text(place.values)
    return f"{where} ({values})"


def describe_hidden_loss(loss: HiddenLoss) -> str:
    """One line on places where a loss would leave no trace, and why."""
    last = loss.end - 1
    where = f"{loss.first:04X}" + (f" to {last:04X}" if last > loss.first else "")
    words = f"in front of {where}: the stream reads as well with {', or '.join(loss.ways)}"
    return words + (f" (the readings meet at {loss.until:04X})" if loss.until > loss.end else "")


def describe_other(other: OtherReading) -> str:
    """Another reading of a span with a loss, and how much worse it is."""
    worse = f"{other.bits:.0f} bits worse"
    return f"{other.missing} missing ({worse})" if other.missing else f"none missing ({worse})"


def describe_doubt(doubt: Doubt) -> str:
    """One line on a doubtful place: how probable, and what it could change."""
    what = "a byte may be missing in front" if doubt.is_missing else "the byte may be another"
    words = f"{doubt.place:04X}: {what} ({doubt.probability:.1%})"
    for effect in doubt.effects[:3]:
        shown = hex_text(bytes(effect.values[:4])) + (
            f" and {len(effect.values) - 4} more" if effect.values[4:] else ""
        )
        if effect.same_spans:
            words += f"; {shown}: the same spans"
        elif effect.first == effect.until:
            words += f"; {shown}: one more span, the others unchanged"
        else:
            behind = "" if effect.returns else ", to the end of the stream"
            words += f"; {shown}: reads otherwise from {effect.first:04X} to {effect.until:04X}{behind}"
    return words


SILENT = "-"


def describe_trait(trait: Trait) -> str:
    """One line on a trait: what each device's document says."""
    said = " | ".join(
        SILENT if value is None else " ".join((value, *(f"(or reads {other})" for other in others)))
        for value, others in zip(trait.values, trait.others, strict=True)
    )
    return f"{trait.kind} {trait.name}: {said} ({trait.standing})"


def switch_text(name: str) -> str:
    """A switch by its name, as a statement about its position is called."""
    return f"switch {name!r}"


def describe_condition(name: str, wanted: str, stands: str | None, stated_at: str) -> str:
    """Under which setting a row holds, and how the switch stands; `stated_at`: empty where the factory set it."""
    only = f"only while {name} is {wanted}"
    if stands is None:
        return f"{only}, and how it stands is not told: state it under [switches] in study.toml"
    whose = f"stated at {stated_at}" if stated_at else "set in the factory"
    return f"{only}, as {whose}" if stands == wanted else f"{only}, and it is {stands}, as {whose}"


def describe_conditions(settings: Mapping[str, str]) -> str:
    """Settings under which a row holds, such as ``line end CR LF``; empty where it holds under all."""
    return ", ".join(f"{name} {value}" for name, value in sorted(settings.items()))


def describe_bit(number: int, says: object) -> str:
    """A bit and what it follows."""
    return f"bit {number}: {says}"


def describe_addresses(addresses: AddressSet) -> str:
    """The addresses of a register in runs, ``C800-C803, C810``; two digits each where there are only 8 lines."""
    digits = (addresses.width + 3) // 4
    runs: list[list[int]] = []
    for address in addresses.iter_addresses():
        if runs and runs[-1][1] == address - 1:
            runs[-1][1] = address
        else:
            runs.append([address, address])
    return ", ".join(f"{a:0{digits}X}" if a == b else f"{a:0{digits}X}-{b:0{digits}X}" for a, b in runs)


def describe_explanation(one: Explanation) -> str:
    """One line on a device and a stream."""
    words = one.device.name
    out = one.ruled_out
    if out is None:
        words += ": explains every byte"
    else:
        words += f": ruled out by byte {out.place:04X}, {out.byte:02X}: {out.why}"
        words += f"; {one.unexplained} bytes in all are not explained"
    if one.settings:
        ways = " or ".join(", ".join(f"{name} = {value}" for name, value in way.items()) for way in one.settings)
        words += f"; with the switches {ways}"
    if one.missing:
        words += f"; the stream ends at least {one.missing} short"
    if one.remarks:
        words += f"; {len(one.remarks)} values outside what the document allows"
    return words


def describe_usable(one: UsableCommand) -> str:
    """One line on a command over a carrier: ``dot columns: no: needs bit 7, which is not carried``."""
    words = f"{one.command.meaning}: {one.usable}"
    if one.lacking:
        words += f": needs {_bits(one.lacking)}, which {'is' if one.lacking.bit_count() == 1 else 'are'} not carried"
    return words + (f" ({'; '.join(one.reasons)})" if one.reasons else "")


def _bits(mask: int) -> str:
    bits = [str(bit) for bit in reversed(range(8)) if mask >> bit & 1]
    return f"bit{'s' if len(bits) > 1 else ''} {', '.join(bits)}"


def describe_compatibility(kinds: Sequence[UsableKind]) -> str:
    """One sentence: ``text yes, dot graphics no: needs bit 7, which this carrier does not carry``."""
    words = []
    for one in kinds:
        told = f"{one.kind} {one.usable}"
        if one.usable == "partly":
            told += f" ({one.num_whole} of {one.num_rows} wholly)"
        if one.lacking:
            told += f": need{'s' if one.kind == 'text' else ''} {_bits(one.lacking)}, which this carrier does not carry"
        words.append(told)
    return "; ".join(words)


def describe_feed(feed: Feed) -> str:
    """One line on a rate."""
    return (
        f"{feed.command.meaning}: {feed.verdict}: {feed.num_bytes} bytes at {feed.per_byte} each ({feed.limited_by}) "
        f"take {feed.takes}; the mechanism gives {feed.period}"
    )


def describe_family(family: Family) -> str:
    """The orders, as an inference."""
    devices = family.comparison.devices
    lines = [f"Inferred, not recorded: {family.cost / 2:g} changes in all (what only one speaks of counts half)"]
    for order in family.orders:
        steps = [devices[order[0]].name]
        for one, two in pairwise(order):
            steps.append(f"({family.distances[one][two] / 2:g}) {devices[two].name}")
        agrees = family.agrees_with_dates(order)
        dated = {None: "", True: "; the dates agree", False: "; the dates do not agree"}[agrees]
        lines.append(" - ".join(steps) + dated)
    if not family.is_all:
        lines.append("and further orders of the same cost")
    if family.next_cost is not None:
        lines.append(f"the next best order needs {family.next_cost / 2:g}")
    return "\n".join(lines)


def describe_layout(layout: Layout) -> str:
    """One layout in words."""
    side = ("top" if layout.by_column else "left") if layout.high_first else ("bottom" if layout.by_column else "right")
    many = "s" if layout.unit_bytes != 1 else ""
    if layout.by_column:
        what = f"columns of {layout.unit_bytes} byte{many}"
        return f"{what}, highest bit at the {side}, {layout.step} dots from pass to pass"
    length = f"of {layout.unit_bytes} byte{many}" if layout.unit_bytes else "as long as their block"
    return f"rows {length}, highest bit at the {side}"


def describe_guess(guess: LayoutGuess) -> str:
    """A layout and its figures."""
    words = f"{guess.layout}: {guess.bits:.0f} bits"
    if guess.worse_by > 0:
        words += f", {guess.worse_by:.0f} behind"
    if guess.text_share is not None:
        words += f"; {guess.text_share:.0%} of the text's dots at its best place"
    return words


def describe_layouts(ranking: LayoutRanking) -> str:
    """The best layout, or what cannot be told apart and why."""
    best = ranking.guesses[0]
    if ranking.is_decided:
        return f"{best.layout}; the next is {ranking.guesses[1].worse_by:.0f} bits behind"
    lines = [f"not decided between {len(ranking.tied)} layouts:"]
    for layout in ranking.tied:
        why = ""
        if layout in ranking.same_picture:
            why = " (the same picture: the content is symmetric)"
        elif layout in ranking.mirrored:
            why = " (the mirror image; only known text tells them apart)"
        lines.append(f"{layout}{why}")
    return "\n".join(lines)


def describe_source(source: Source) -> str:
    """One line of the register."""
    device = source.device
    words = f"{device.document}: {device.title}"
    told = [device.kind, device.edition, device.date, f"held by {device.holder}" if device.holder else ""]
    words += f" ({', '.join(one for one in told if one)}); {source.state.value}"
    if source.num_pages is not None:
        words += (
            f"; {source.num_pages} page{'s' if source.num_pages != 1 else ''} scanned, {source.text_pages} with text"
        )
    return words + "".join(f"; {remark}" for remark in source.remarks)


def describe_hit(hit: TextHit) -> str:
    """One line on words found."""
    how = f" (read off the picture by {hit.read_by})" if hit.read_by else ""
    return f"{hit.device.document}, page {hit.page}{how}: {hit.excerpt}"

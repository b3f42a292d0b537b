"""What the repair of dumps says, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

STRAIGHT = "every line in its place"


def listed(names: Sequence[str]) -> str:
    """``A3``, ``A3 and A4``, ``A3, A4 and A5``."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def inverted_lines(letter: str, mask: int) -> list[str]:
    """Words for the lines that are the other way up."""
    names = [f"{letter}{line}" for line in range(mask.bit_length()) if mask >> line & 1]
    return [f"{listed(names)} inverted"] if names else []


def moved_lines(letter: str, lines: Sequence[int]) -> list[str]:
    """Words for the lines that are carried by others, one part for each cycle, lowest line first."""
    parts: list[str] = []
    seen: set[int] = set()
    for start, source in enumerate(lines):
        if start == source or start in seen:
            continue
        cycle = [start]
        while lines[cycle[-1]] != start:
            cycle.append(lines[cycle[-1]])
        seen.update(cycle)
        if len(cycle) == 2:
            parts.append(f"{letter}{cycle[0]} and {letter}{cycle[1]} swapped")
            continue
        steps = [f"{letter}{line} at {letter}{lines[line]}" for line in cycle]
        parts.append(f"{letter}{start} is read at {letter}{source}, {', '.join(steps[1:])}")
    return parts


AS_STORED = "as stored"
INVERTED = "inverted"


def always(level: int) -> str:
    """A line that does not move."""
    return f"stuck at {level}"


def carries(other: int, *, inverted: bool = False) -> str:
    """A line that carries another's bit."""
    return f"carries D{other}{' inverted' if inverted else ''}"


def joined_with(other: int, level: int) -> str:
    """A line shorted to another."""
    return f"joined with D{other}, a {'high' if level else 'low'} wins"


def line_fault(line: int, readings: Sequence[str], telling: int) -> str:
    """One data line compared with known bytes."""
    if not readings:
        return f"D{line}: no single line explains it"
    rest = f"; or {'; or '.join(readings[1:])}" if len(readings) > 1 and readings[0] != AS_STORED else ""
    if readings[0] == AS_STORED:
        return f"D{line}: as stored" + ("" if telling == 2 else " (seen at one level only, so this shows little)")
    return f"D{line}: {readings[0]} ({count(telling, 'byte')} show it){rest}"


def count(number: int, thing: str) -> str:
    """``1 byte``, ``2,048 bytes``."""
    return f"{number:,} {thing}{'' if number == 1 else 's'}"


def differing(number: int) -> str:
    """``1 bit differs``, ``12 bits differ``."""
    return f"{count(number, 'bit')} {'differs' if number == 1 else 'differ'}"


def fault(kind: str, lines: Sequence[int], level: int, telling: int) -> str:
    """One fault of a dump, with what it means for the reader."""
    names = [f"{'D' if 'data' in kind else 'A'}{line}" for line in lines]
    match kind:
        case "not selected":
            blank = "the chip was not selected, or it is blank" if level == 0xFF else "the chip was not selected"
            return f"all {count(telling, 'byte')} read {level:02X}h: {blank}"
        case "address echo":
            return "every byte equals the low byte of its address: nothing drove the bus"
        case "constant data line":
            seven = " (or the content uses seven bits only)" if (lines[0], level) == (7, 0) else ""
            return f"{names[0]} is {level} in all {count(telling, 'different byte')}: stuck{seven}"
        case "equal data lines":
            return f"{listed(names)} agree in all {count(telling, 'different byte')}: joined"
        case "opposite data lines":
            return f"{listed(names)} differ in all {count(telling, 'different byte')}: one drives the other inverted"
        case "dead address line":
            return (
                f"{names[0]} changes nothing ({count(telling, 'telling byte')}): the line is dead, or the chip has "
                f"half the size; if dead, half the content is missing and the dump cannot say which half"
            )
        case _:
            return (
                f"{listed(names)} act as one, a {'high' if level else 'low'} wins ({count(telling, 'telling byte')}): "
                f"joined; half the content is missing"
            )


SAME_READS = "every read gives the same bytes"


def bad_line(line: int, level: int, errors: int) -> str:
    """A read in which one data line did not make contact."""
    return f"bad contact: D{line} reads {level} where the others read {1 - level} ({count(errors, 'bit')})"


def bad_stretch(errors: int, first: int, last: int) -> str:
    """A read that went wrong on several lines."""
    return f"bad contact: {count(errors, 'bit')} differ from all others between {first:04X} and {last:04X}"


def two_reads(unstable: int) -> str:
    """Two reads and no way to choose."""
    return f"{differing(unstable)}, and two reads cannot tell noise from fading; read the chip again"


def fading(unstable: int, mostly_one: int, margin: int) -> str:
    """Why AND."""
    return (
        f"the same bits waver again and again, as zeros of a fading EPROM do ({count(unstable, 'weak bit')}, "
        f"{mostly_one:,} of them mostly 1; {margin:,} bits of evidence): a zero read once is a zero"
    )


def noise(unstable: int, margin: int) -> str:
    """Why the majority."""
    return (
        f"zeros and ones flip alike and seldom twice, as a noisy contact makes them ({count(unstable, 'weak bit')}; "
        f"{margin:,} bits of evidence)"
    )


def no_rule(unstable: int, margin: int) -> str:
    """Neither."""
    return (
        f"{differing(unstable)}, too few to tell noise from fading ({margin:,} bits of evidence); read the chip again"
    )


STATED = "the wiring is stated, so nothing was searched"
NOT_SEARCHED = "no wiring was looked for"
LOST = "content is missing, so no wiring was searched; mend the contact and read the chip again"
NOTHING_KNOWN = "too little of it reads as code or text to compare wirings"


def not_a_power(size: int) -> str:
    """A size that no chip has."""
    return f"{count(size, 'byte')} are no power of two, so no wiring was searched; give each chip's image alone"


def wrong_size(size: int, least: int, most: int) -> str:
    """Too small or too large to search."""
    return f"wirings are searched for {least:,} to {most:,} bytes, not {size:,}"


def verdict(lead: int, known: int, margin: int, least_known: int, *, is_decided: bool) -> str:
    """How far the winner leads."""
    if is_decided:
        return f"the likeliest wiring leads by {lead:,} bits, {known:,} by code and text alone"
    if lead < margin:
        return f"the likeliest wiring leads by {lead:,} bits only; {margin} are asked for"
    if known <= least_known:
        return f"the likeliest wiring leads by {lead:,} bits, but the runner-up reads better as code and text"
    return f"the likeliest wiring leads by {lead:,} bits, but some lines are open"


def half_decided(kind: str) -> str:
    """One kind of lines is sure, the other is not."""
    other = "address" if kind == "data" else "data"
    return f"the {kind} lines are decided; only the {other} lines are open"


def proposal(wiring: str, cpu: str | None, bits: int, known: int) -> str:
    """Head line of a proposal."""
    return (
        f"{wiring} (read as {f'{cpu} code' if cpu else 'text and tables'}: {bits:,} bits, {known:,} by what is known)"
    )


def open_lines(lines: Sequence[str]) -> str:
    """Lines that could as well be otherwise."""
    return f"open: {listed(lines)} could be inverted or swapped at little cost"


def alike(low: int, high: int) -> str:
    """Lines whose exchange shows nowhere."""
    return f"A{low} and A{high} may change places: the image stays the same"


def hex_line(at: int, data: bytes) -> str:
    """``0100  20 34 12 ...  text`` with a dot for what is no character; empty where there is no data."""
    text = "".join(chr(byte) if 0x20 <= byte < 0x7F else "." for byte in data)
    return f"{at:04X}  {data.hex(' ').upper():47}  {text}" if data else ""


def no_statement(text: str) -> str:
    """Words that state no wiring."""
    return f"a line's repair is 'A6 inverted', 'A0 and A1 swapped' or 'D3 is read at D4, D4 at D3', not {text!r}"


def no_such_line(name: str, letter: str, lines: int) -> str:
    """A line that the chip does not have."""
    if not lines:
        return f"there is no {name}: address lines are told apart only where the size is a power of two"
    return f"there is no {name}: the lines of this chip are {letter}0 to {letter}{lines - 1}"


def mixed_lines(line: str, source: str) -> str:
    """An address line that is said to come from a data line."""
    return f"{line} cannot be read at {source}: address and data lines do not mix"


def line_again(name: str) -> str:
    """A line stated twice."""
    return f"{name} is stated twice"


def shared_line(both: Sequence[str], source: str) -> str:
    """Two lines read at one."""
    return f"{listed(both)} would both be read at {source}; each line is read at one of its own"


def stated_rule(rule: str, unstable: int) -> str:
    """A rule that the reader of the chip states."""
    return f"{rule} as stated; {differing(unstable)} between the reads"

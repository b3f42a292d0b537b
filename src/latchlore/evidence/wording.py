"""The sentences of weighing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.base import describe_place

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import (
        AddressSet,
        BitSense,
        InputBit,
        InputKind,
        PinsRead,
        SpanLimit,
        SpanRange,
        Statement,
        Testimony,
        Witness,
        Words,
    )

SAME_ADDRESSES = "the addresses are the same"
ADDRESSES_WITHIN = "every address used is a mirror of this register"
ADDRESSES_SHARED = "one names some of the addresses that the other names"
OTHER_ADDRESSES = "they name different addresses: mirrors of one register, or two registers; a board would tell"
WAITS_ON_NOTHING = "the program waits for a bit that is wired to nothing"
BRANCHES_ON_NOTHING = "the program looks at a bit that is wired to nothing: what it reads is chance"
PULSES_NOTHING = "the program pulses a bit that is wired to nothing"
NEITHER_USES_IT = "the bit carries no signal and no path looks at it, which does not confirm it"
SAME_SENSE = "the bit follows the same signal in the same sense"
SAME_SIGNAL = "the same signal is named; the document does not tell its sense"
SAME_LIMIT = "the same limit is stated"
SAME_WORDS = "the same is stated"
SAME_EFFECT = "the same effect, in other words"
SAME_EMISSION = "both say the same"
EMISSION_DENIED = "one says that it is sent, the other that it never is"
MAY_BE_SENT = "the program may send it; that it ever did is not told by that"
SAME_LEVEL = "the same level is stated"
LEVELS_DIFFER = "opposite levels are stated"
SAME_SEQUENCE = "the sequences are the same"
SAME_WIDTH = "the same width is stated"
SAME_PIN = "the same signal is named"


def lines_not_told(named: int, whole: int) -> str:
    """A list of addresses with fewer lines than the board looks at."""
    return f"the addresses are named by {named} lines, and the board looks at {whole}: the others may fit"


def addresses_shared(shared: AddressSet) -> str:
    """Two lists of addresses that overlap."""
    return f"both name {shared}, and each names others; a board would tell which of them are mirrors"


def waits_on_tied(level: int | None, wanted: int) -> str:
    """A polling loop on a tied bit."""
    return f"the bit is tied to {level}, but the program waits until it is {wanted}"


def wired_and_used(source: str) -> str:
    """A bit that is wired and looked at."""
    return f"the program looks at the bit that carries {source}, which confirms neither the signal nor its sense"


def senses_differ(first: BitSense, second: BitSense) -> str:
    """Two different ends of one bit."""
    return f"one follows the bit to {first}, the other to {second}"


def limit_met(actual: SpanRange | SpanLimit, limit: SpanLimit) -> str:
    """A time that keeps a limit."""
    return f"{actual} keeps the limit of {limit}"


def limit_broken(actual: SpanRange | SpanLimit, limit: SpanLimit) -> str:
    """A time that breaks a limit."""
    return f"{actual} breaks the limit of {limit}"


def limit_open(actual: SpanRange | SpanLimit, limit: SpanLimit) -> str:
    """A time that may keep a limit or not."""
    return f"{actual} may keep the limit of {limit} or not"


def times_overlap(first: SpanRange, second: SpanRange) -> str:
    """Two times that can be the same."""
    return f"{first} and {second} can be the same time"


def times_differ(first: SpanRange, second: SpanRange) -> str:
    """Two times that cannot be the same."""
    return f"{first} and {second} cannot be the same time"


def words_differ(first: str, second: str) -> str:
    """Two statements that differ."""
    return f"one says {first!r}, the other {second!r}"


def bit_names_differ(sense: str, named: str) -> str:
    """What a bit is wired to against the name that a document gives it."""
    return f"one follows the bit to {sense}, the other names it {named!r}"


def effects_differ(first: Words, second: Words) -> str:
    """Two statements of different effect; where the words are the same, by the effects."""
    if first.meaning != second.meaning:
        return words_differ(first.text, second.text)
    return f"both say {first.text!r}, but one means {first.effect}, the other {second.effect}"


def sequences_differ(first: bytes, second: bytes) -> str:
    """Two sequences, at their first difference."""
    place = next(
        (k for k, (a, b) in enumerate(zip(first, second, strict=False)) if a != b), min(len(first), len(second))
    )
    shown = [f"{data[place]:02X}h" if place < len(data) else "the end" for data in (first, second)]
    return f"they differ from byte {place + 1} on: {shown[0]} against {shown[1]}"


def width_enough(carried: int, needed: int) -> str:
    """A card that carries enough lines."""
    return f"{carried} data lines carry the {needed} bits that the device looks at"


OR_MORE = "or more"
"""Ends the words of a width that is a least one."""


def width_open(carried: int, needed: int) -> str:
    """A card of which not all data lines have been traced."""
    return f"the device looks at {needed} bits; {carried} data lines arrive, and more may: not all are traced"


def width_short(carried: int, needed: int) -> str:
    """A card that carries too few lines."""
    return f"the device looks at {needed} bits, but only {carried} data lines arrive"


def pins_differ(first: str, second: str) -> str:
    """A pin with two signals."""
    return f"one puts {first!r} on this pin, the other {second!r}"


def only_one(one: Testimony) -> str:
    """A subject with one voice."""
    return f"only {source_words(one)} speaks about it"


def only_one_kind(one: Testimony) -> str:
    """A subject whose voices come from one witness."""
    return f"only {source_words(one)} speaks about it, more than once"


NOBODY = "nobody speaks about it: an open question"
NOT_TRACED = "nobody can tell yet: the bit has not been traced to its end"
NOTHING_COMPARED = "the statements are about different sides of it; none confirms another"


def source_words(one: Testimony) -> str:
    """Who speaks: a wing, or a document by its file."""
    from latchlore.base import Witness

    return f"{one.origins[0].file}" if one.witness is Witness.DOCUMENTS else f"the {one.witness.value}"


def if_wrong(one: Statement, witness: Witness) -> str:
    """What it would mean if a statement were wrong, where no sense of a signal is at stake."""
    from latchlore.base import StatementKind, Witness

    meanings = {
        StatementKind.JOINT: f"{one.about} are not joined",
        StatementKind.BUS_JOINT: f"{one.about} are not joined",
        StatementKind.OPEN: f"a joint of {one.about} was missed",
        StatementKind.LEVEL: f"the level stated of {one.about} is wrong",
        StatementKind.POSITION: f"{one.about} is or was in another position",
        StatementKind.NAME: f"{one.about} carries something else",
        StatementKind.INSTRUCTION: f"{one.about} is misread",
        StatementKind.LINE: f"{one.about} comes in elsewhere, or the other way round",
        StatementKind.PART: f"{one.about} is another part",
    }
    by_witness = {
        Witness.BOARD: "a connection was traced wrongly",
        Witness.PROGRAM: "the image is misread there, or belongs to another version",
        Witness.WIRE: "the log is wrong there, or was taken from something else",
        Witness.DOCUMENTS: "the document is wrong there, or speaks of another variant",
    }
    if one.kind is StatementKind.ROW and witness is not Witness.DOCUMENTS:  # a role, or the clock
        return f"{one.file} is wrong about {one.about}"
    return meanings.get(one.kind, by_witness[witness])


SHOWN_READINGS = 4


def read_again(readings: Sequence[PinsRead]) -> str:
    """The readings of a meter to do again, each with its place and pins."""
    more = len(readings) - SHOWN_READINGS
    shown = ", ".join(str(one) for one in readings[:SHOWN_READINGS])
    return f"read again: {shown}" + (f" and {more} more" if more > 0 else "")


def signal_story(signal: str, sense: str, goes_on_at: int, pin: int, active: int, *, fits: bool) -> str:
    """Board, program and stated level of one status signal, and whether they fit."""
    level = "high" if pin else "low"
    stated = "high" if active else "low"
    story = (
        f"the bit is {sense} and the program goes on when it is {goes_on_at}, so it goes on while {signal} is {level}; "
        f"{signal} is stated to be true when {stated}"
    )
    return story if fits else f"{story}, so it would send at the wrong time"


def pulse_story(signal: str, sense: str, pulsed_at: int, pin: int, active: int, *, fits: bool) -> str:
    """Board, program and the level of a signal that is pulsed, and whether they fit."""
    level = "high" if pin else "low"
    told = "high" if active else "low"
    story = (
        f"the bit is {sense} and the program pulses it at {pulsed_at}, so {signal} is {level} during the pulse; "
        f"{signal} is said to be true when {told}"
    )
    return story if fits else f"{story}, so it would be true all the time but for the pulse"


def inverted_pulse(place: str) -> str:
    """A repair on the program's side, of a bit that is written."""
    return f"the value written at {place} is misread, or another bit of it is the signal's"


def missed_inverter(between: str) -> str:
    """A repair on the board's side; `between` names the two pins."""
    return f"an inverter was missed between {between}"


def other_part_inverts(part: str) -> str:
    """A repair on the board's side: the part."""
    return f"{part} is another part, which inverts or does not"


def inverted_peripheral(signal: str, level: int) -> str:
    """A repair on the documents' side."""
    return f"the peripheral meant here has {signal} the other way round: true when {'low' if level else 'high'}"


def inverted_branch(place: str) -> str:
    """A repair on the program's side."""
    return f"the branch after the read at {place} is misread: the opposite branch opcode differs from it in one bit"


GOES_ON = "the program goes on to send more after this; the log may end early"
PATH_NOT_FOLLOWED = "no path found so far writes this sequence, but not every path was followed"
SEARCH_GIVEN_UP = "the search for paths that write this sequence was given up before its end; there may be others"
PATH_NOT_FOUND = "no path of the program writes this sequence, and every path was followed"


def path_found(entry: int, number: int) -> str:
    """A sequence that the program can send."""
    ways = "one path" if number == 1 else f"{number} paths"
    return f"{ways} from {entry:04X} write{'s' if number == 1 else ''} exactly this sequence"


def bits_were(held: tuple[tuple[InputBit, int], ...]) -> str:
    """What the status bits must have been: bytes where all eight bits are known, else bit by bit."""
    groups: dict[tuple[InputKind, int, int, str], dict[int, int]] = {}
    for bit, level in held:
        groups.setdefault((bit.kind, bit.address, bit.turn, bit.name), {})[bit.bit] = level
    parts = []
    for (kind, address, turn, name), levels in groups.items():
        place = name or describe_place(kind, address)
        read = f" (read {turn + 1})" if turn >= 0 else ""
        if set(levels) == set(range(8)):
            parts.append(f"{place} was {sum(level << bit for bit, level in levels.items()):02X}{read}")
        else:
            parts.append(f"{place} " + ", ".join(f"bit {bit} was {level}" for bit, level in levels.items()) + read)
    return "so " + "; ".join(parts)


def many_paths(limit: int) -> str:
    """A search that was cut."""
    return f"{limit} or more paths explain it; the search ended there"


def path_near(edits: int, number: int) -> str:
    """A sequence that the program can send with a small change where the merge doubts."""
    ways = "one sequence" if number == 1 else f"{number} sequences"
    return f"no path writes exactly this, but {ways} of the program differ{'s' if number == 1 else ''} in {edits} byte"


def likely(sequences: tuple[bytes, ...]) -> str:
    """The sequences of the program next to the captured one."""
    shown = " or ".join(one.hex(" ").upper() for one in sequences[:3])
    return f"the program would send {shown}" + (f" or {len(sequences) - 3} others" if len(sequences) > 3 else "")


def doubtful(confidence: float) -> str:
    """A sequence too doubtful to contradict."""
    return f"no path writes this sequence, but the merge itself trusts it only to {confidence:.0%}"


def leans(statements: Sequence[Statement], subject: str) -> str:
    """An agreement that would be gone with what a contradiction elsewhere makes suspect."""
    named = " and ".join(f"{one.about} ({one.origin})" for one in statements)
    return f"leans on {named}, suspected for the contradiction about {subject}"


def none_answered(one: Testimony, named: AddressSet) -> str:
    """Addresses that someone names, of which the board selects none."""
    from latchlore.base import Witness

    who = "document" if one.witness is Witness.DOCUMENTS else one.witness.value
    return f"the board answers to none of the addresses that the {who} names: {named}"


def not_answered(one: Testimony, surplus: AddressSet) -> str:
    """Addresses that someone names and the board's complete decode does not select."""
    from latchlore.base import Witness

    who = "document" if one.witness is Witness.DOCUMENTS else one.witness.value
    return f"the {who} names addresses that the board does not answer to: {surplus}"


LEVEL_FROM_LOG = (
    "looked up which paths of the program write the logged sequence, and what their conditions have in common"
)


LEVEL_FROM_DOUBTS = (
    "no path of the program writes just the logged sequence; looked up which paths settle a single doubt of its merge, "
    "and what their conditions have in common"
)


def when_logged(sequence: str) -> str:
    """When a level held that follows from a log."""
    return f"when {sequence!r} was logged"


def same_bit_level(level: int) -> str:
    """Two witnesses that find the same level."""
    return f"the same level, {level}"


def bit_levels_differ(first: str, second: str) -> str:
    """Two witnesses that find opposite levels."""
    return f"{first}, but {second}"

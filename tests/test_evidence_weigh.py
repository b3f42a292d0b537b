"""Weighing: standings, reasons and repairs by kind of value."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.base import (
    ActiveLevel,
    AddressSet,
    Arm,
    BitLevel,
    BitSense,
    BitUse,
    ByteSequence,
    ByteTable,
    ByteTree,
    Choice,
    Condition,
    CycleRange,
    Emission,
    InputBit,
    InputKind,
    Leaf,
    LeafKind,
    Node,
    Origin,
    SequenceByte,
    Span,
    SpanLimit,
    SpanRange,
    Statement,
    StatementKind,
    Strength,
    Subject,
    SubjectKind,
    Testimony,
    Value,
    Witness,
    Words,
    Write,
)
from latchlore.evidence import Row, Standing, together, weigh

BOARD = Origin.at_line("board/card.nets", 12)
CODE = Origin.at_address("program/rom.bin", 0x0303)
LOG = Origin.at_line("wire/burst.log", 3)


def manual(name: str = "a", page: int = 1) -> Origin:
    """A page of a document."""
    return Origin.at_line(f"documents/{name}.toml", page, f"page {page}")


def say(
    subject: Subject, value: Value, witness: Witness, origin: Origin, strength: Strength = Strength.COMPUTED
) -> Testimony:
    """One testimony."""
    return Testimony(subject, value, witness, (origin,), "set down for the test", strength)


JOINT = Statement("board/card.nets", "u5.2", StatementKind.JOINT, "U5 pin 2 and J1 pin 11", BOARD)
PART = Statement("board/card.nets", "part u5", StatementKind.PART, "U5 (74ls125)", BOARD)
BRANCH = Statement("program/rom.bin", "at 0303", StatementKind.INSTRUCTION, "the instruction at 0303", CODE)


def resting(one: Testimony, *statements: Statement) -> Testimony:
    """The same, falling with each of the statements."""
    return replace(one, falls_with=tuple((statement,) for statement in statements))


def row_of(*said: Testimony) -> Row:
    """The only row of the weighed testimonies."""
    table = weigh(said, title="t", invented=True, sent_to=lambda _kind, address: address == 0xC800)
    assert len(table.rows) == 1
    return table.rows[0]


REGISTER = Subject(SubjectKind.REGISTER, ("memory", "C800", "write"))


def test_registers_agree() -> None:
    """A program that touches one mirror confirms the board's register."""
    board = say(REGISTER, AddressSet.parse("1100 1xxx xxxx xxx0"), Witness.BOARD, BOARD)
    program = say(REGISTER, AddressSet.of([0xC8F0]), Witness.PROGRAM, CODE)
    row = row_of(program, board)
    assert row.standing is Standing.AGREED
    assert row.testimonies == (board, program)
    assert row.reason == "every address used is a mirror of this register"


def test_registers_too_long() -> None:
    """A published port list that is too long (bench case) is contradicted, and the surplus ports are named."""
    board = say(REGISTER, AddressSet.of([203, 219, 235, 251], 8), Witness.BOARD, BOARD)
    ports = AddressSet.of([203, 207, 219, 223, 235, 239, 251, 255], 8)
    stated = say(REGISTER, ports, Witness.DOCUMENTS, manual(), Strength.STATED)
    row = row_of(board, stated)
    assert row.standing is Standing.CONTRADICTED
    assert row.reason == "the document names addresses that the board does not answer to: 11xx 1111"
    assert [repair.withdrawn for repair in row.repairs] == [(1,), (0,)]


def test_registers_wrong() -> None:
    """Sets of which neither holds the other name what lies outside of each."""
    board = say(REGISTER, AddressSet.of([1, 2], 8), Witness.BOARD, BOARD)
    program = say(REGISTER, AddressSet.of([2, 4], 8), Witness.PROGRAM, CODE)
    row = row_of(board, program)
    assert row.standing is Standing.CONTRADICTED
    assert row.reason == "the program names addresses that the board does not answer to: 0000 0100"


SIGNAL = Subject(SubjectKind.SIGNAL, ("BUSY",))


@pytest.mark.parametrize(
    ("inverted", "goes_on_at", "active", "fits"),
    [(True, 1, 1, True), (False, 1, 1, False), (False, 0, 1, True), (True, 1, 0, False), (False, 1, 0, True)],
)
def test_signal_story(*, inverted: bool, goes_on_at: int, active: int, fits: bool) -> None:
    """Polarity agreement (bench case): any two of board, program and stated level fix the third."""
    row = row_of(
        say(SIGNAL, BitSense.follows("BUSY", inverted=inverted), Witness.BOARD, BOARD),
        say(SIGNAL, BitUse(goes_on_at=goes_on_at), Witness.PROGRAM, CODE),
        say(SIGNAL, ActiveLevel(active), Witness.DOCUMENTS, manual()),
    )
    assert row.standing is (Standing.AGREED if fits else Standing.CONTRADICTED)


def test_signal_story_wrong() -> None:
    """With the inverter removed the two repairs of the bench are offered: missed inverter, inverted peripheral."""
    row = row_of(
        resting(say(SIGNAL, BitSense.follows("BUSY"), Witness.BOARD, BOARD), JOINT, PART),
        resting(say(SIGNAL, BitUse(goes_on_at=1), Witness.PROGRAM, CODE), BRANCH),
        say(SIGNAL, ActiveLevel(1), Witness.DOCUMENTS, manual(), Strength.STATED),
    )
    assert row.reason == (
        "the bit is BUSY and the program goes on when it is 1, so it goes on while BUSY is high; "
        "BUSY is stated to be true when high, so it would send at the wrong time"
    )
    assert [repair.words for repair in row.repairs] == [
        "an inverter was missed between U5 pin 2 and J1 pin 11",
        "the peripheral meant here has BUSY the other way round: true when low",
        "the branch after the read at 0303 is misread: the opposite branch opcode differs from it in one bit",
        "U5 (74ls125) is another part, which inverts or does not",
    ]
    assert [[str(one) for one in repair.statements] for repair in row.repairs] == [
        ["board/card.nets: u5.2"],
        ["documents/a.toml: 1 (page 1)"],
        ["program/rom.bin: at 0303"],
        ["board/card.nets: part u5"],
    ]


PULSED = Subject(SubjectKind.SIGNAL, ("STROBE",))


@pytest.mark.parametrize(
    ("inverted", "pulsed_at", "active", "fits"),
    [(True, 1, 0, True), (True, 0, 0, False), (False, 0, 0, True), (False, 0, 1, False), (True, 0, 1, True)],
)
def test_pulse_story(*, inverted: bool, pulsed_at: int, active: int, fits: bool) -> None:
    """A bit through an inverter that is 1 for the pulse makes the pin low for it (level of the pin: bit XOR parity)."""
    row = row_of(
        say(PULSED, BitSense.follows("STROBE", inverted=inverted), Witness.BOARD, BOARD),
        say(PULSED, BitUse(pulsed_at=pulsed_at), Witness.PROGRAM, CODE),
        say(PULSED, ActiveLevel(active), Witness.WIRE, LOG),
    )
    assert row.standing is (Standing.AGREED if fits else Standing.CONTRADICTED)


def test_pulse_story_wrong() -> None:
    """A missed inverter on the strobe's way, a value misread, a manual of another device, another gate."""
    row = row_of(
        resting(say(PULSED, BitSense.follows("STROBE"), Witness.BOARD, BOARD), JOINT, PART),
        resting(say(PULSED, BitUse(pulsed_at=1), Witness.PROGRAM, CODE), BRANCH),
        say(PULSED, ActiveLevel(0), Witness.DOCUMENTS, manual(), Strength.STATED),
    )
    assert row.reason == (
        "the bit is STROBE and the program pulses it at 1, so STROBE is high during the pulse; "
        "STROBE is said to be true when low, so it would be true all the time but for the pulse"
    )
    assert [repair.words for repair in row.repairs] == [
        "an inverter was missed between U5 pin 2 and J1 pin 11",
        "the peripheral meant here has STROBE the other way round: true when high",
        "the value written at 0303 is misread, or another bit of it is the signal's",
        "U5 (74ls125) is another part, which inverts or does not",
    ]


def test_role_wrong() -> None:
    """What study.toml states of the program's side is named as such: no image need be misread for it."""
    place = Origin.at_line("study.toml", 19, "role[1]")
    role = Statement("study.toml", "role DATA", StatementKind.ROW, "where the program sees DATA", place)
    register = Subject(SubjectKind.REGISTER, ("memory", "C800", "write"))
    row = row_of(
        say(register, AddressSet.of_range(0xC800, 0xC80F), Witness.BOARD, BOARD),
        replace(say(register, AddressSet.of([0xD800]), Witness.PROGRAM, place), falls_with=((role,),)),
    )
    words = {str(repair.statements[0]): repair.words for repair in row.repairs}
    assert words["study.toml: role DATA"] == "study.toml is wrong about where the program sees DATA"


def test_leaning() -> None:
    """A row that agrees only with what a contradiction elsewhere makes suspect says so; confirmed by others, not."""
    bit, near, far = PULSED, Subject(SubjectKind.STRAP, ("w1",)), Subject(SubjectKind.STRAP, ("w2",))
    wired = say(near, BitLevel(1, "when logged"), Witness.BOARD, BOARD)
    logged = say(near, BitLevel(1, "when logged"), Witness.WIRE, LOG)
    table = weigh(
        [
            resting(say(bit, BitSense.follows("STROBE"), Witness.BOARD, BOARD), JOINT, PART),
            say(bit, BitUse(pulsed_at=1), Witness.PROGRAM, CODE),
            say(bit, ActiveLevel(0), Witness.DOCUMENTS, manual("a")),
            say(bit, ActiveLevel(0), Witness.DOCUMENTS, manual("b")),
            resting(wired, JOINT),
            logged,
            *(replace(one, subject=far) for one in (resting(wired, JOINT), logged)),
            say(far, BitLevel(1, "when logged"), Witness.PROGRAM, CODE),
        ],
        title="t",
        invented=True,
    )
    rows = {row.subject: row for row in table.rows}
    assert [rows[subject].standing for subject in (bit, near, far)] == [
        Standing.CONTRADICTED, Standing.AGREED, Standing.AGREED,
    ]  # fmt: skip
    first = [[str(one) for one in repair.statements] for repair in rows[bit].repairs[:2]]
    assert first == [["board/card.nets: part u5"], ["board/card.nets: u5.2"]]  # what holds others up is less suspect
    assert rows[near].follows == (
        f"leans on U5 pin 2 and J1 pin 11 (board/card.nets:12), suspected for the contradiction about {bit}",
    )
    assert rows[far].follows == ()


def test_pulse_of_nothing() -> None:
    """A pulse of a bit that is wired to nothing is told; it proves nothing."""
    bit = Subject(SubjectKind.BIT, ("memory", "C802", "write", "0"))
    row = row_of(
        say(bit, BitSense.unconnected(), Witness.BOARD, BOARD), say(bit, BitUse(pulsed_at=1), Witness.PROGRAM, CODE)
    )
    assert row.standing is Standing.SINGLE
    assert row.reason == "the program pulses a bit that is wired to nothing"


BIT = Subject(SubjectKind.BIT, ("memory", "C801", "read", "3"))


@pytest.mark.parametrize(
    ("sense", "use", "standing", "reason"),
    [
        (
            BitSense.unconnected(),
            BitUse(goes_on_at=1),
            Standing.CONTRADICTED,
            "the program waits for a bit that is wired to nothing",
        ),
        (
            BitSense.unconnected(),
            BitUse(),
            Standing.SINGLE,
            "the bit carries no signal and no path looks at it, which does not confirm it",
        ),
        (
            BitSense.tied(0),
            BitUse(goes_on_at=1),
            Standing.CONTRADICTED,
            "the bit is tied to 0, but the program waits until it is 1",
        ),
        (
            BitSense.follows("W1"),
            BitUse(branches=True),
            Standing.SINGLE,
            "the program looks at the bit that carries W1, which confirms neither the signal nor its sense",
        ),
        (
            BitSense.unconnected(),
            BitUse(branches=True),
            Standing.SINGLE,
            "the program looks at a bit that is wired to nothing: what it reads is chance",
        ),
        (
            BitSense.follows("W1"),
            BitUse(),
            Standing.SINGLE,
            "the statements are about different sides of it; none confirms another",
        ),
    ],
)
def test_bits(sense: BitSense, use: BitUse, standing: Standing, reason: str) -> None:
    """What a bit is wired to meets how the program looks at it."""
    row = row_of(say(BIT, sense, Witness.BOARD, BOARD), say(BIT, use, Witness.PROGRAM, CODE))
    assert (row.standing, row.reason) == (standing, reason)


def test_untraced_bit_is_silent() -> None:
    """Not done is not "no": an untraced bit is an open question."""
    row = row_of(say(BIT, BitSense.unknown("u3.12 is not traced"), Witness.BOARD, BOARD))
    assert row.standing is Standing.SILENT


STROBE = Subject(SubjectKind.TIMING, ("strobe width",))


def test_timing() -> None:
    """32 cycles at 1 MHz keep a minimum of 500 ns, break 33 us, and leave 32 us open when the clock is unsure."""
    width = say(STROBE, SpanRange(Span.of(us="31.9"), Span.of(us="32.1")), Witness.PROGRAM, CODE)
    for least, standing in (
        (Span.of(ns=500), Standing.AGREED),
        (Span.of(us=33), Standing.CONTRADICTED),
        (Span.of(us=32), Standing.SINGLE),
    ):
        row = row_of(width, say(STROBE, SpanLimit(least=least), Witness.DOCUMENTS, manual(), Strength.STATED))
        assert row.standing is standing


def test_timing_without_most() -> None:
    """A pulse of at least 24 us keeps a minimum of 10 us, breaks a maximum of 20 us, and leaves 30 us open."""
    width = say(STROBE, SpanLimit(least=Span.of(us=24)), Witness.PROGRAM, CODE)
    for limit, standing in (
        (SpanLimit(least=Span.of(us=10)), Standing.AGREED),
        (SpanLimit(most=Span.of(us=20)), Standing.CONTRADICTED),
        (SpanLimit(least=Span.of(us=30)), Standing.SINGLE),
        (SpanLimit(least=Span.of(us=10), most=Span.of(us=90)), Standing.SINGLE),
    ):
        row = row_of(width, say(STROBE, limit, Witness.DOCUMENTS, manual(), Strength.STATED))
        assert row.standing is standing


def test_documents_against_each_other() -> None:
    """Two manuals with one code and two meanings contradict each other; each withdrawal is a repair."""
    code = Subject(SubjectKind.COMMAND, ("1B 4B",))
    first = say(code, Words("wide on"), Witness.DOCUMENTS, manual("a", 12), Strength.STATED)
    second = say(code, Words("draw dots"), Witness.DOCUMENTS, manual("b", 9), Strength.GUESSED)
    row = row_of(first, second)
    assert row.standing is Standing.CONTRADICTED
    assert row.reason == "one says 'wide on', the other 'draw dots'"
    assert [repair.withdrawn for repair in row.repairs] == [(1,), (0,)], "the weaker statement is withdrawn first"
    same = row_of(first, say(code, Words("Wide  ON"), Witness.DOCUMENTS, manual("b", 9), Strength.STATED))
    assert same.standing is Standing.AGREED
    twice = row_of(first, say(code, Words("wide on"), Witness.DOCUMENTS, manual("a", 13), Strength.STATED))
    assert twice.standing is Standing.SINGLE, "one document that says it twice is one voice"


@pytest.mark.parametrize(
    ("first", "second", "standing", "reason"),
    [
        (
            Words("return to the left", "carriage return; followed by nothing"),
            Words("the head goes back to column 1", "carriage return; followed by nothing"),
            Standing.AGREED,
            "the same effect, in other words",
        ),
        (
            Words("draw dots", "columns; followed by counted"),
            Words("draw dots", "rows; followed by counted"),
            Standing.CONTRADICTED,
            "both say 'draw dots', but one means columns; followed by counted, the other rows; followed by counted",
        ),
        (Words("wide", "wide: on; followed by nothing"), Words("Wide"), Standing.AGREED, "the same is stated"),
        (
            Words("wide", "wide: on"),
            Words("bold", "bold: on"),
            Standing.CONTRADICTED,
            "one says 'wide', the other 'bold'",
        ),
    ],
)
def test_effects(first: Words, second: Words, standing: Standing, reason: str) -> None:
    """Commands are compared by what they do where both tables know it, else by their words."""
    code = Subject(SubjectKind.COMMAND, ("0D",))
    row = row_of(
        say(code, first, Witness.DOCUMENTS, manual("a"), Strength.STATED),
        say(code, second, Witness.DOCUMENTS, manual("b"), Strength.STATED),
    )
    assert (row.standing, row.reason) == (standing, reason)


def test_width() -> None:
    """A card with 7 lines cannot carry what needs 8 bits; needs of two devices do not clash."""
    width = Subject(SubjectKind.WIDTH, ("data width",))
    card = say(width, Words("7 bits"), Witness.BOARD, BOARD)
    need8 = say(width, Words("8 bits"), Witness.DOCUMENTS, manual("b"), Strength.STATED)
    need7 = say(width, Words("7 bits"), Witness.DOCUMENTS, manual("a"), Strength.STATED)
    row = row_of(card, need7, need8)
    assert row.standing is Standing.CONTRADICTED
    assert row.reason == "the device looks at 8 bits, but only 7 data lines arrive"
    assert row_of(card, need7).standing is Standing.AGREED


def test_emission() -> None:
    """A label's claim against an exhausted search is a contradiction; against an unfinished one it is not."""
    subject = Subject(SubjectKind.EMISSION, ("dot drawing",))
    label = say(subject, Emission(happens=True), Witness.DOCUMENTS, manual("label"), Strength.STATED)
    never = say(subject, Emission(False, ("all 31 paths followed",)), Witness.PROGRAM, CODE)
    unsure = say(subject, Emission(None, ("bound reached",)), Witness.PROGRAM, CODE)
    assert row_of(label, never).standing is Standing.CONTRADICTED
    assert row_of(label, unsure).standing is Standing.SINGLE


def straps_tree(*, finished: bool = True) -> ByteTree:
    """Two straps choose between 1B 40, 1B 40 0D and 1B 40 0D 0A."""
    first, second = (InputBit(InputKind.MEMORY, 0xC801, bit) for bit in (0, 1))

    def write(value: int) -> Write:
        return Write(InputKind.MEMORY, 0xC800, ByteTable.constant(value), CycleRange.exactly(10))

    end = Leaf(LeafKind.RETURNED, "RTS", 0xF020) if finished else Leaf(LeafKind.BOUND, "1000 nodes", 0xF020)
    return ByteTree(
        (
            Node(
                (write(0x1B), write(0x40)),
                Choice((Arm(Condition.of_bit(first, 0), 1), Arm(Condition.of_bit(first, 1), 2))),
            ),
            Node((), end),
            Node((write(0x0D),), Choice((Arm(Condition.of_bit(second, 0), 1), Arm(Condition.of_bit(second, 1), 3)))),
            Node((write(0x0A),), end),
        ),
        0xF000,
    )


BURST = Subject(SubjectKind.SEQUENCE, ("power-on",))


def test_sequence_explained() -> None:
    """A captured sequence finds its path, and the path says what the status bits were."""
    row = row_of(
        say(BURST, ByteSequence.certain(bytes.fromhex("1B400D")), Witness.WIRE, LOG, Strength.MEASURED),
        say(BURST, straps_tree(), Witness.PROGRAM, CODE),
    )
    assert row.standing is Standing.AGREED
    assert row.reason == "one path from F000 writes exactly this sequence"
    assert row.follows == ("so C801 bit 0 was 1, bit 1 was 0",)


def test_sequence_wrong() -> None:
    """A sequence that no path writes contradicts an exhausted search only."""
    said = say(BURST, ByteSequence.certain(b"\x1b\x41"), Witness.WIRE, LOG, Strength.MEASURED)
    row = row_of(said, say(BURST, straps_tree(), Witness.PROGRAM, CODE))
    assert row.standing is Standing.CONTRADICTED
    assert row.reason == "no path of the program writes this sequence, and every path was followed"
    row = row_of(said, say(BURST, straps_tree(finished=False), Witness.PROGRAM, CODE))
    assert row.standing is Standing.SINGLE
    assert row.reason == "no path found so far writes this sequence, but not every path was followed"


def test_sequence_doubtful() -> None:
    """Where the merge itself doubts a byte, the program's sequence beside it is shown and nothing is contradicted."""
    items = (
        SequenceByte(0x1B, 1.0),
        SequenceByte(0x44, 0.6, ((0x40, 0.4),)),
        SequenceByte(0x0D, 1.0),
    )
    row = row_of(
        say(BURST, ByteSequence(items, 0.6, 3), Witness.WIRE, LOG, Strength.MEASURED),
        say(BURST, straps_tree(), Witness.PROGRAM, CODE),
    )
    assert row.standing is Standing.SINGLE
    assert row.follows == ("the program would send 1B 40 0D", "so C801 bit 0 was 1, bit 1 was 0")


def test_asked_but_silent() -> None:
    """A subject that the researcher asks about stands in the table even when nobody speaks."""
    asked = Subject(SubjectKind.TIMING, ("acknowledge width",))
    table = weigh((), title="t", invented=False, asked=(asked,))
    assert [(row.subject, row.standing, row.reason) for row in table.rows] == [
        (asked, Standing.SILENT, "nobody speaks about it: an open question")
    ]


def test_rows_in_order() -> None:
    """Pin 10 comes after pin 9, registers before bits before signals; the order of hearing does not matter."""
    said = [say(Subject(SubjectKind.PIN, ("j1", number)), Words("x"), Witness.BOARD, BOARD) for number in ("10", "9")]
    said += [say(SIGNAL, ActiveLevel(1), Witness.BOARD, BOARD), say(BIT, BitUse(), Witness.PROGRAM, CODE)]
    tables = [weigh(order, title="t", invented=True) for order in (said, said[::-1])]
    assert tables[0] == tables[1]
    assert [str(row.subject) for row in tables[0].rows] == ["C801 (read) bit 3", "signal BUSY", "j1 pin 9", "j1 pin 10"]


@given(st.lists(st.frozensets(st.integers(0, 6), min_size=1, max_size=3), min_size=1, max_size=5))
def test_together_of_single(clashes: list[frozenset[int]]) -> None:
    """Every set meets every clash, none holds another, and no smaller one was missed (brute force over all subsets)."""
    found = together([[frozenset({str(k)}) for k in sorted(clash)] for clash in clashes], most=7)
    everything = [frozenset(c) for n in range(1, 8) for c in combinations(range(7), n)]
    hitting = [one for one in everything if all(one & clash for clash in clashes)]
    minimal = {one for one in hitting if not any(other < one for other in hitting)}
    assert {frozenset(map(int, one)) for one in found} == minimal


Choices = st.lists(st.frozensets(st.sampled_from("abcdefg"), min_size=1, max_size=3), min_size=1, max_size=3)


@given(st.lists(Choices, min_size=1, max_size=4))
def test_together(each: list[list[frozenset[str]]]) -> None:
    """A set ends all where it holds a choice of each; all least ones are found (brute force over all subsets)."""
    everything = [frozenset(c) for n in range(1, 8) for c in combinations("abcdefg", n)]
    ending = [one for one in everything if all(any(choice <= one for choice in choices) for choices in each)]
    minimal = {one for one in ending if not any(other < one for other in ending)}
    assert set(together(each, most=7)) == minimal

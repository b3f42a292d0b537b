"""The errors' texts and fields, origins in words, testimony that cannot be built without an origin."""

from __future__ import annotations

import pytest

from latchlore.base import (
    FAULT,
    INTERRUPTED,
    OUTCOME,
    ActiveLevel,
    AddressSet,
    BadInput,
    BitSense,
    BitUse,
    ByteSequence,
    Contradiction,
    Emission,
    Origin,
    SequenceByte,
    Span,
    Strength,
    StudyError,
    Subject,
    SubjectKind,
    Testimony,
    UnknownName,
    Unsupported,
    Witness,
    Words,
    no_progress,
    outcome_of,
)

PLACE, OTHER = Origin.at_line("board/card.nets", 58), Origin.at_line("board/card.nets", 41)


def test_bad_input() -> None:
    """One line a mistake, place first; the fields hold the pairs; it is a ValueError and a StudyError."""
    error = BadInput(PLACE, "net 'IOSTB' already has a driver", (OTHER, "the other one"))
    assert str(error) == "board/card.nets:58: net 'IOSTB' already has a driver\nboard/card.nets:41: the other one"
    assert error.mistakes == ((PLACE, "net 'IOSTB' already has a driver"), (OTHER, "the other one"))
    assert isinstance(error, ValueError)
    assert isinstance(error, StudyError)
    assert str(BadInput.of_all(error.mistakes)) == str(error)


def test_bad_input_wrong() -> None:
    """An error about nothing cannot be built."""
    with pytest.raises(ValueError, match=r"^not enough values to unpack \(expected at least 1, got 0\)$"):
        BadInput.of_all([])


def test_unknown_name() -> None:
    """The names that would do are listed, if there are any."""
    assert str(UnknownName("part 'U3' has no pin 'G3'", ("A", "Y"))) == (
        "part 'U3' has no pin 'G3'; known are 'A', 'Y'"
    )
    assert str(UnknownName("there is no entry 'x'")) == "there is no entry 'x'"
    assert isinstance(UnknownName("x"), LookupError)


def test_contradiction_and_unsupported() -> None:
    """Both places of a conflict; the place and the words of a gap."""
    assert str(Contradiction("bit 7 is BUSY", PLACE, OTHER)) == (
        "board/card.nets:58: bit 7 is BUSY; but see board/card.nets:41"
    )
    assert str(Unsupported(PLACE, "part 'X' is not modelled")) == "board/card.nets:58: part 'X' is not modelled"
    assert isinstance(Unsupported(PLACE, "x"), NotImplementedError)


def test_outcome() -> None:
    """Each error has an exit code of its own, none of them success; a fault of ours is told from a user's mistake."""
    errors = [BadInput(PLACE, "x"), UnknownName("x"), Contradiction("x", PLACE, OTHER), Unsupported(PLACE, "x")]
    codes = [outcome_of(error).exit_code for error in errors]
    assert len(set(codes)) == 4
    assert 0 not in {outcome.exit_code for outcome in OUTCOME.values()}
    assert outcome_of(ZeroDivisionError()) is FAULT
    assert outcome_of(KeyboardInterrupt()) is INTERRUPTED
    assert FAULT.exit_code not in codes


@pytest.mark.parametrize(
    ("origin", "text"),
    [
        (Origin("a.bin"), "a.bin"),
        (Origin.at_line("a.nets", 58, "U4"), "a.nets:58 (U4)"),
        (Origin.at_byte("a.bin", 0x1C), "a.bin byte 001Ch"),
        (Origin.at_address("a.bin", 0xC801), "a.bin at C801"),
        (Origin.at_time("a.vcd", Span.of(us="41.25")), "a.vcd at 41.25 us"),
        (Origin.on_page("a.toml", "page 12, row 3"), "a.toml (page 12, row 3)"),
    ],
)
def test_origin_text(origin: Origin, text: str) -> None:
    """A place in words, by how it is counted."""
    assert str(origin) == text


def test_subject_text() -> None:
    """Each kind of subject reads as a researcher would say it."""
    texts = {
        Subject(SubjectKind.REGISTER, ("memory", "C800", "write")): "register C800 (write)",
        Subject(SubjectKind.REGISTER, ("port", "84", "read")): "port 84 (read)",
        Subject(SubjectKind.BIT, ("memory", "C801", "read", "7")): "C801 (read) bit 7",
        Subject(SubjectKind.BIT, ("port", "84", "read", "7")): "port 84 (read) bit 7",
        Subject(SubjectKind.PIN, ("J2", "11")): "J2 pin 11",
        Subject(SubjectKind.COMMAND, ("1B 4B",)): "code 1B 4B",
        Subject(SubjectKind.TIMING, ("strobe width",)): "strobe width",
        Subject(SubjectKind.SEQUENCE, ("power-on",)): "sequence power-on",
        Subject(SubjectKind.SIGNAL, ("BUSY",)): "signal BUSY",
    }
    assert {subject: str(subject) for subject in texts} == texts


def test_testimony_wrong() -> None:
    """Testimony without an origin or a method cannot be built."""
    subject = Subject(SubjectKind.NOTE, ("paper",))
    with pytest.raises(ValueError, match=r"^testimony about paper needs an origin$"):
        Testimony(subject, Words("57 mm"), Witness.DOCUMENTS, (), "read", Strength.STATED)
    with pytest.raises(ValueError, match=r"^testimony about paper needs a method$"):
        Testimony(subject, Words("57 mm"), Witness.DOCUMENTS, (PLACE,), "", Strength.STATED)


def test_value_texts() -> None:
    """The small values in words."""
    texts = [
        (BitSense.follows("BUSY"), "BUSY"),
        (BitSense.follows("BUSY", inverted=True), "NOT BUSY"),
        (BitSense.tied(1), "always 1"),
        (BitSense.unconnected(), "wired to nothing"),
        (BitSense.unknown(), "not known"),
        (BitSense.unknown("behind U9"), "not known (behind U9)"),
        (BitUse(), "never looked at"),
        (BitUse(1), "waits until it is 1"),
        (BitUse(None, True), "chooses a path"),
        (BitUse(0, True, ("stays", "leaves")), "waits until it is 0, chooses (0: stays; 1: leaves)"),
        (ActiveLevel(1), "true when high"),
        (ActiveLevel(0), "true when low"),
        (Emission(True), "sent"),
        (Emission(False, ("all entries", "10 leaves")), "never sent (all entries; 10 leaves)"),
        (Emission(None), "cannot be told"),
        (Words("8 bits"), "8 bits"),
        (ByteSequence.certain(b"\x1b@"), "1B 40 (100.0% from 1 run)"),
        (ByteSequence((SequenceByte(10, 0.5),), 0.5, 3), "0A (50.0% from 3 runs)"),
        (AddressSet.of((5,), 3), "101"),
    ]
    assert [str(value) for value, _ in texts] == [text for _, text in texts]
    assert Words(" 8  Bits ").meaning == Words("8 bits").meaning
    assert ByteSequence.certain(b"abc").data == b"abc"


def test_no_progress() -> None:
    """Reporting to nobody does nothing."""
    assert no_progress(1, 2, "words") is None  # type: ignore[func-returns-value]  # the point

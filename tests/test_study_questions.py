"""Questions of a study: rivals, trials, outcomes, what the wings foresee, and every refusal with its line."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from latchlore.base import BadInput, Contradiction, UnknownName
from latchlore.demo import demo_folder
from latchlore.study import (
    plan_outcome_withdrawal,
    read_questions,
    record_outcome,
    write_edit,
    write_files,
)
from latchlore.study._foretell import changed_text

if TYPE_CHECKING:
    from pathlib import Path

QUESTION = """\
# Everything here is invented.
[[question]]
name = "disease"
text = "Has the patient the disease?"
unit = "marks"

[[question.rival]]
name = "ill"
weight = 1

[[question.rival]]
name = "well"
weight = 99

[[question.trial]]
name = "test"
hazard = "reading"
outcomes = ["positive", "negative"]
times = 2

[question.trial.chances]
ill = [95, 5]
well = [0.05, 0.95]
"""
"""MacKay (2003), example 2.3, as a question."""

NETS = """\
host 6502
part u1 74ls138
part u2 74ls244
part u3 74ls04
plug j1 6
pin j1.1 busy in high
pin j1.2 fault in low
tie high u1.6
tie low u1.4 u1.5
net a15 u1.3
net a14 u1.2
net a13 u1.1
net sel u1.7 u2.1 u2.19
net busy j1.1 u3.1
net nbusy u3.2 u2.2
net d7 u2.18
net fault j1.2 u2.4
net d6 u2.16
strap w1 open
net cfg u2.6 w1.1
pull up cfg 4k7
tie low w1.2
net d5 u2.14
done all
"""
"""A status buffer that answers reads of E000 to FFFF: bit 7 is NOT busy, bit 6 fault, bit 5 strap w1."""


def _study(folder: Path, questions: str, nets: str = "") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / "study.toml").write_text('title = "s"\n[[question]]\ntext = "Who?"\n', "utf-8")
    (folder / "questions.toml").write_text(questions, "utf-8")
    if nets:
        (folder / "board").mkdir(exist_ok=True)
        (folder / "board" / "card.nets").write_text(nets, "utf-8")
    return folder


def test_read_questions(tmp_path: Path) -> None:
    """Weights, chances in percent or parts of one, and the question that only study.toml asks."""
    asked, bare = read_questions(_study(tmp_path / "s", QUESTION)).questions
    assert asked.now == pytest.approx((0.01, 0.99))
    assert asked.prospects[0].foreseen == pytest.approx((0.059, 0.941))
    assert asked.prospects[0].after[0] == pytest.approx((0.16102, 0.83898), abs=1e-5)
    assert asked.decided is not None
    assert asked.decided.name == "well"
    assert (bare.text, bare.rivals, bare.reach) == ("Who?", (), None)


def test_record_outcome(tmp_path: Path) -> None:
    """An outcome is added behind every byte that was there, with its doubt; the weights follow Bayes' rule."""
    folder = _study(tmp_path / "s", QUESTION + "# no line feed at the end")
    before = (folder / "questions.toml").read_bytes()
    record_outcome(folder, "test", "positive", sure=100, on="2026-11-26", note='a "mark"\\')
    after = (folder / "questions.toml").read_bytes()
    assert after.startswith(before)
    assert after[len(before) :].decode() == (
        '\n\n[[outcome]]\ntrial = "test"\nsaw = "positive"\nsure = 100\non = "2026-11-26"\nnote = "a \\"mark\\"\\\\"\n'
    )
    asked = read_questions(folder).questions[0]
    assert asked.now[0] == pytest.approx(0.0095 / 0.059)
    assert asked.steps[0].foreseen == pytest.approx(0.059)
    assert asked.prospects[0].trial.times == 1
    again = record_outcome(folder, "test", "positive", sure=80).questions[0]
    ill, well = 0.95 * 0.8 + 0.05 * 0.2, 0.05 * 0.8 + 0.95 * 0.2  # in doubt as in Pearl (1988), section 2.2.2
    assert again.now[0] == pytest.approx(0.0095 * ill / (0.0095 * ill + 0.0495 * well))
    assert again.prospects == ()


def test_record_outcome_wrong(tmp_path: Path) -> None:
    """An unknown trial or outcome, one too many: nothing is written."""
    folder = _study(tmp_path / "s", QUESTION + '[[outcome]]\ntrial = "test"\nsaw = "positive"\n' * 2)
    before = (folder / "questions.toml").read_bytes()
    with pytest.raises(UnknownName, match=r"^there is no trial 'tset'; known are 'test'$"):
        record_outcome(folder, "tset", "positive", sure=90)
    with pytest.raises(UnknownName, match=r"^trial 'test' has no outcome 'pos'; known are 'positive', 'negative'$"):
        record_outcome(folder, "test", "pos", sure=90)
    words = "questions.toml:31 (outcome[3]): trial 'test' may be done 2 times (`times`), and this is one more"
    with pytest.raises(BadInput, match=f"^{re.escape(words)}$"):
        record_outcome(folder, "test", "negative", sure=90)
    assert (folder / "questions.toml").read_bytes() == before
    (folder / "questions.toml").unlink()
    with pytest.raises(
        BadInput, match=r"^questions.toml: the study has no questions.toml; write one \(docs/questions.md\)$"
    ):
        record_outcome(folder, "test", "negative", sure=90)


def test_record_outcome_beside_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What somebody else wrote between reading and writing is not overwritten."""
    folder = _study(tmp_path / "s", QUESTION)

    def late(root: Path, files: dict[str, bytes], before: dict[str, bytes | None]) -> None:
        (folder / "questions.toml").write_text(f"{QUESTION}# theirs\n", "utf-8")
        write_files(root, files, before)

    monkeypatch.setattr("latchlore.study._write.write_files", late)
    words = "questions.toml: was changed meanwhile by another process; nothing is written, try again"
    with pytest.raises(BadInput, match=f"^{re.escape(words)}$"):
        record_outcome(folder, "test", "positive", sure=90)
    assert (folder / "questions.toml").read_text("utf-8") == f"{QUESTION}# theirs\n"


def test_withdrawn(tmp_path: Path) -> None:
    """An outcome withdrawn counts no more and may be done again; it stays in the file."""
    text = QUESTION + '[[outcome]]\ntrial = "test"\nsaw = "positive"\nwithdrawn = "wrong phial"\n'
    asked = read_questions(_study(tmp_path / "s", text)).questions[0]
    assert asked.now == pytest.approx((0.01, 0.99))
    assert asked.prospects[0].trial.times == 2
    assert [(one.saw, one.withdrawn) for one in asked.set_aside] == [("positive", "wrong phial")]


def test_impossible(tmp_path: Path) -> None:
    """An outcome that no rival allows is kept, and stops the weighing with its place."""
    text = QUESTION.replace("[95, 5]", "[100, 0]").replace("[0.05, 0.95]", "[1, 0]")
    folder = _study(tmp_path / "s", text)
    words = (
        "questions.toml:25 (outcome[1]): no rival allows that 'test' showed 'negative', with "
        "what was seen before: "
        "a rival is missing, or chances of 0 are too bold; but see questions.toml"
    )
    with pytest.raises(Contradiction, match=f"^{re.escape(words)}$"):
        record_outcome(folder, "test", "negative", sure=100)
    assert 'saw = "negative"' in (folder / "questions.toml").read_text("utf-8")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            "[95, 5]",
            "[95, 15]",
            "22 (question[1].trial[1].chances.ill): the chances of rival 'ill' add up to 1 or to 100, not to 110",
        ),
        (
            "[95, 5]",
            "[95, 4, 1]",
            "22 (question[1].trial[1].chances.ill): rival 'ill' needs 2 chances, one an outcome, not 3",
        ),
        ("ill = [95, 5]\n", "", "21 (question[1].trial[1].chances): there are no chances for rival 'ill'"),
        (
            "well = [0",
            "wel = [0",
            "21 (question[1].trial[1].chances): there are no chances for rival 'well'\n"
            "questions.toml:23 (question[1].trial[1].chances.wel): question 'disease' has no "
            "rival 'wel'; its rivals are 'ill', 'well'",
        ),
        (
            "[95, 5]",
            "[-5, 105]",
            "22 (question[1].trial[1].chances.ill[1]): input should be greater than or equal to 0, not -5\n"
            "questions.toml:22 (question[1].trial[1].chances.ill[2]): input should be less than "
            "or equal to 100, not 105",
        ),
        (
            '"reading"',
            '"risky"',
            "17 (question[1].trial[1].hazard): a hazard is 'power-off', 'reading', 'writing' or "
            "'precious', not 'risky'",
        ),
        (
            "times = 2",
            "times = 0",
            "19 (question[1].trial[1].times): input should be greater than or equal to 1, not 0",
        ),
        ("weight = 99", "weight = 0", "13 (question[1].rival[2].weight): input should be greater than 0, not 0"),
        (
            'name = "well"',
            'name = "ill"',
            "12 (question[1].rival[2].name): rival 'ill' is there twice; first at "
            "questions.toml:8 (question[1].rival[1].name)\n"
            "questions.toml:23 (question[1].trial[1].chances.well): question 'disease' has no "
            "rival 'well'; its rivals are 'ill', 'ill'",
        ),
        (
            'outcomes = ["positive", "negative"]',
            'outcomes = ["positive"]',
            "15 (question[1].trial[1]): a trial with chances has two outcomes or more",
        ),
        (
            "times = 2",
            'joined = ["u1.1", "u1.2"]',
            "15 (question[1].trial[1]): a trial has one of chances, joined, read, send or "
            "listener, not chances and joined",
        ),
        (
            "times = 2",
            "doubt = 5",
            "15 (question[1].trial[1]): doubt belongs to a computed trial; stated chances hold it already",
        ),
        ('unit = "marks"', "colour = 1", "5 (question[1].colour): key 'colour' is not known here"),
        (
            '[[question.rival]]\nname = "well"\nweight = 99\n',
            "",
            "2 (question[1]): a question has two rivals or more to be decided between, not 1",
        ),
        (
            "well = [0.05, 0.95]",
            'well = [0.05, 0.95]\n[[outcome]]\ntrial = "tast"\nsaw = "x"',
            "25 (outcome[1].trial): there is no trial 'tast'; there are 'test'",
        ),
        (
            "well = [0.05, 0.95]",
            'well = [0.05, 0.95]\n[[outcome]]\ntrial = "test"\nsaw = "x"',
            "26 (outcome[1].saw): trial 'test' has no outcome 'x'; its outcomes are 'positive', 'negative'",
        ),
        (
            "well = [0.05, 0.95]",
            'well = [0.05, 0.95]\n[[outcome]]\ntrial = "test"\nsaw = "positive"\non = "26.11."',
            "27 (outcome[1].on): a date is year, month and day, such as '2026-11-26', not '26.11.'",
        ),
    ],
)
def test_read_questions_wrong(old: str, new: str, words: str, tmp_path: Path) -> None:
    """Each mistake with file, line, key, rule and value; several at once."""
    assert old in QUESTION
    with pytest.raises(BadInput) as caught:
        read_questions(_study(tmp_path / "s", QUESTION.replace(old, new, 1)))
    assert str(caught.value) == f"questions.toml:{words}"


BOARD_QUESTION = """\
[[question]]
name = "q"
text = "What lies behind bit 7?"
[[question.rival]]
name = "as traced"
[[question.rival]]
name = "no inverter"
board = ["net nbusy j1.1 u3.1 u2.2", "drop net busy", "open u3.2"]
[[question.rival]]
name = "strap"
board = ["strap w1 joined"]
[[question.trial]]
name = "meter"
hazard = "power-off"
joined = ["j1.1", "u2.2"]
doubt = 0
[[question.trial]]
name = "read bit 7"
hazard = "reading"
doubt = 0
read = { bit = "E000 bit 7", signal = "BUSY", level = 1 }
[[question.trial]]
name = "read bit 5"
hazard = "reading"
doubt = 10
read = { bit = "E000 bit 5" }
[[question.trial]]
name = "read bit 6"
hazard = "reading"
read = { bit = "E000 bit 6" }
"""


def test_board_foretells(tmp_path: Path) -> None:
    """A net laid otherwise and a strap set otherwise: what a meter finds and a read gives follows from the nets.

    By hand from the net file: bit 7 is behind one inverter (busy high reads 0), without it reads 1; an open strap to
    ground with a pull-up reads 1, a fitted one 0; nothing is said of fault, so bit 6 may be either.
    """
    (asked, _) = read_questions(_study(tmp_path / "s", BOARD_QUESTION, NETS)).questions
    tables = {one.trial.name: one.trial.chances for one in asked.trials}
    assert tables["meter"] == ((0, 1), (1, 0), (0, 1))
    assert tables["read bit 7"] == ((1, 0), (0, 1), (1, 0))
    assert [row[0] for row in tables["read bit 5"]] == pytest.approx([0.05, 0.05, 0.95])
    assert tables["read bit 6"] == ((0.5, 0.5),) * 3
    assert asked.get_trial("meter").told == (
        "j1.1 and u2.2 are apart",
        "j1.1 and u2.2 are joined",
        "j1.1 and u2.2 are apart",
    )
    assert asked.get_trial("read bit 7").told[:2] == (
        "read E000 bit 7 follows NOT busy",
        "read E000 bit 7 follows busy",
    )
    assert [one.trial.name for one in asked.prospects] == ["meter", "read bit 7", "read bit 5", "read bit 6"]
    assert asked.reach is not None
    assert asked.reach.can_decide is True


@pytest.mark.parametrize("place", ["1000 bit 7", "read 1000 bit 7", "port 1000 bit 7"])
def test_board_foretells_unanswered(place: str, tmp_path: Path) -> None:
    """A read that no part of the board answers may give anything, and the sentence says so once."""
    (asked, _) = read_questions(_study(tmp_path / "s", BOARD_QUESTION.replace("E000 bit 6", place), NETS)).questions
    trial = asked.get_trial("read bit 6")
    assert trial.trial.chances == ((0.5, 0.5),) * 3
    wanted = f"read {place.removeprefix('read ')} is answered by nothing: it may be 0 or 1"
    assert trial.told == (wanted,) * 3


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            '"strap w1 joined"',
            '"strap w1 fitted"',
            "11 (question[1].rival[3].board): the board of rival 'strap': "
            "strap 'w1' is open, joined, 1-2, 2-3 or unknown, not 'fitted' (board/card.nets:19)",
        ),
        (
            '"strap w1 joined"',
            '"drop net bus"',
            "11 (question[1].rival[3].board): the board has no statement 'net bus' that could be dropped",
        ),
        (
            '"strap w1 joined"',
            '"w1"',
            "11 (question[1].rival[3].board[1]): a change of the board is a statement of a net file, such as "
            "'strap w1 joined', or 'drop net sel', not 'w1'",
        ),
        (
            '"u2.2"]\ndoubt',
            '"u2.99"]\ndoubt',
            "15 (question[1].trial[1].joined): the board of rival 'as traced' has no pin 'u2.99'",
        ),
        ('["j1.1", "u2.2"]', '["j1.1"]', "12 (question[1].trial[1]): a meter joins two pins, not 1"),
        (
            ", level = 1",
            "",
            "21 (question[1].trial[2].read): a signal is held at a level: `signal` and `level` belong together",
        ),
        (
            '"E000 bit 7"',
            '"E000"',
            "21 (question[1].trial[2].read.bit): what is read is one bit of a register, such as "
            "'C801 bit 7', not 'E000'",
        ),
    ],
)
def test_board_foretells_wrong(old: str, new: str, words: str, tmp_path: Path) -> None:
    """A rival's board that cannot be read, a pin that is not there, a bit that is none."""
    assert old in BOARD_QUESTION
    with pytest.raises(BadInput) as caught:
        read_questions(_study(tmp_path / "s", BOARD_QUESTION.replace(old, new, 1), NETS))
    assert str(caught.value) == f"questions.toml:{words}"


def test_no_board_wrong(tmp_path: Path) -> None:
    """Trials computed from the board need one; the others are still named."""
    with pytest.raises(BadInput) as caught:
        read_questions(_study(tmp_path / "s", BOARD_QUESTION))
    assert str(caught.value).split("\n")[0] == (
        "questions.toml:12 (question[1].trial[1]): trial 'meter' is computed from the board, "
        "and the study has no net "
        "file in board/"
    )
    assert len(caught.value.mistakes) == 4


LISTENERS = """\
[[question]]
name = "l"
text = "A loop or an interrupt?"
[[question.rival]]
name = "loop"
listener = { service = "40 us" }
[[question.rival]]
name = "slow loop"
listener = { service = "60 us" }
[[question.trial]]
name = "ramp"
hazard = "writing"
doubt = 0
listener = { period = "47 us", count = 8 }
"""


def test_listener_foretells(tmp_path: Path) -> None:
    """Another service time: ready again before the next strobe, or only before the one after.

    By hand: strobes come at 0, 47, 94, ... us; who is ready 40 us after a strobe hears all, who needs 60 us misses
    every second one, byte 1 first.  Telling the two apart is worth 1 bit.
    """
    folder = _study(tmp_path / "s", LISTENERS)
    asked = read_questions(folder).questions[0]
    assert asked.trials[0].trial.outcomes == ("byte 1 heard", "byte 1 missed")
    assert asked.trials[0].trial.chances == ((1, 0), (0, 1))
    assert asked.prospects[0].bits == pytest.approx(1)
    after = record_outcome(folder, "ramp", "byte 1 missed", sure=99).questions[0]
    assert after.now == pytest.approx((0.01, 0.99))
    even = read_questions(_study(tmp_path / "t", LISTENERS.replace("count = 8", "byte = 2"))).questions[0]
    assert not even.prospects[0].tells


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            'listener = { service = "40 us" }',
            "",
            "4 (question[1].rival[1]): rival 'loop' has no `listener`, from which trial 'ramp' is computed",
        ),
        (
            '"40 us" }',
            '"40 us", reads = "50 us" }',
            "6 (question[1].rival[1].listener): the listener of rival 'loop': "
            "a listener reads the port before it is ready again: reads after 50 us, ready after 40 us",
        ),
        (
            '"47 us"',
            '"47"',
            "14 (question[1].trial[1].listener.period): a time is a number and one of ps, ns, us, ms, s, not '47'",
        ),
        ("count = 8", "byte = 30", "14 (question[1].trial[1].listener): bytes are counted from 0 to 29, not 30"),
        (
            "count = 8",
            "count = 0",
            "14 (question[1].trial[1].listener.count): input should be greater than or equal to 1, not 0",
        ),
    ],
)
def test_listener_foretells_wrong(old: str, new: str, words: str, tmp_path: Path) -> None:
    """A rival without a listener, one that cannot be, a byte that is not sent."""
    assert old in LISTENERS
    with pytest.raises(BadInput) as caught:
        read_questions(_study(tmp_path / "s", LISTENERS.replace(old, new, 1)))
    assert str(caught.value) == f"questions.toml:{words}"


TABLES = """\
[[question]]
name = "t"
text = "Which table?"
[[question.rival]]
name = "old"
document = "quill-24"
[[question.rival]]
name = "new"
document = "quill-24g"
[[question.trial]]
name = "feed"
hazard = "writing"
doubt = 0
send = "06 41 16 50 04"
[[question.trial]]
name = "print"
hazard = "writing"
doubt = 0
send = "41 42 0A"
"""


def _documents(folder: Path) -> None:
    (folder / "documents").mkdir(parents=True)
    for name in ("quill-24.toml", "quill-24g.toml"):
        (folder / "documents" / name).write_bytes((demo_folder() / "documents" / name).read_bytes())


def test_tables_foretell(tmp_path: Path) -> None:
    """Another row of a command table: by hand from the demonstration's two manuals.

    06h sets wide letters in the one and underlined ones in the other, and only the later has a row 16 50 n; the
    letters and the line feed are the same, so they tell nothing.
    """
    _documents(tmp_path / "s")
    asked = read_questions(_study(tmp_path / "s", TABLES)).questions[0]
    feed = asked.get_trial("feed")
    assert feed.trial.outcomes == ("as quill-24", "as quill-24g", "otherwise")
    assert feed.trial.chances == ((1, 0, 0), (0, 1, 0))
    assert feed.told == (
        "quill-24: wide: on; print 'A'; 16 50 04 not explained",
        "quill-24g: underlined: on; print 'A'; feed (n = 4)",
    )
    assert asked.get_trial("print").trial.outcomes == ("as quill-24 or quill-24g", "otherwise")
    assert [(one.trial.name, one.tells) for one in asked.prospects] == [("feed", True), ("print", False)]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            'document = "quill-24"\n',
            "",
            "4 (question[1].rival[1]): rival 'old' has no `document`, from which trial 'feed' is computed\n"
            "questions.toml:4 (question[1].rival[1]): rival 'old' has no `document`, from which "
            "trial 'print' is computed",
        ),
        (
            '"06 41 16 50 04"',
            '"06 any"',
            "14 (question[1].trial[1].send): what is sent is bytes of one value each, such as '1B 4B 41', not '06 any'",
        ),
        (
            '"writing"',
            '"power-off"',
            "10 (question[1].trial[1]): a trial with `send` is done under power: the hazard is 'reading', "
            "'writing' or 'precious', not 'power-off'",
        ),
        (
            'send = "06 41 16 50 04"',
            'joined = ["a.1", "b.1"]',
            "10 (question[1].trial[1]): a meter joins pins with the power off: "
            "the hazard is 'power-off', not 'writing'",
        ),
        (
            '"quill-24g"',
            '"quill-25"',
            "9 (question[1].rival[2].document): there is no document 'quill-25' in documents/; "
            "there are 'quill-24', 'quill-24g'",
        ),
    ],
)
def test_tables_foretell_wrong(old: str, new: str, words: str, tmp_path: Path) -> None:
    """A rival without a document, bytes that are not stated, a hazard that does not fit."""
    assert old in TABLES
    _documents(tmp_path / "s")
    with pytest.raises(BadInput) as caught:
        read_questions(_study(tmp_path / "s", TABLES.replace(old, new, 1)))
    assert str(caught.value) == f"questions.toml:{words}"


def test_part_in_the_socket(tmp_path: Path) -> None:
    """Another part in a socket: a 74LS240 in the place of the 74LS244 inverts (TI data book, SDLS144; from memory)."""
    text = BOARD_QUESTION.replace('"strap w1 joined"', '"part u2 74ls240"')
    asked = read_questions(_study(tmp_path / "s", text, NETS)).questions[0]
    assert asked.get_trial("read bit 7").trial.chances == ((1, 0), (0, 1), (0, 1))


def test_not_known(tmp_path: Path) -> None:
    """A strap of unknown position, or a pin that is not traced: a meter may find either."""
    text = BOARD_QUESTION.replace('["j1.1", "u2.2"]', '["w1.1", "w1.2"]').replace("strap w1 joined", "strap w1 unknown")
    asked = read_questions(_study(tmp_path / "s", text, NETS)).questions[0]
    assert asked.trials[0].trial.chances == ((0, 1), (0, 1), (0.5, 0.5))
    text = BOARD_QUESTION.replace('["j1.1", "u2.2"]', '["j1.1", "u2.8"]')
    asked = read_questions(_study(tmp_path / "t", text, NETS.replace("done all", "done u1 u3"))).questions[0]
    assert asked.trials[0].trial.chances == ((0.5, 0.5),) * 3


def test_changed_text() -> None:
    """Statements take the place of those about the same thing; lines keep their numbers; the rest is left over."""
    text = "net sel u1.1 u2.1 # the select\nmore sel u3.1\npull up sel 4k7\nnet x u1.2 u2.2\n"
    assert changed_text(text, ["net sel u1.1 u4.1", "pull up sel 1k", "drop net x"]) == (
        "net sel u1.1 u4.1\n\npull up sel 1k\n\n",
        [],
    )
    assert changed_text(text, ["net y u5.1 u5.2", "drop net z"]) == (text, ["net y u5.1 u5.2", "drop net z"])


def test_plan_outcome_withdrawal(tmp_path: Path) -> None:
    """An outcome taken back stays in its place with the reason, and the weights are as they were before it."""
    study = _study(tmp_path / "s", QUESTION)
    record_outcome(study, "test", "positive", sure=100, on="2026-11-26")
    text = (study / "questions.toml").read_text("utf-8") + "# kept\n"
    (study / "questions.toml").write_text(text, "utf-8")
    edit = plan_outcome_withdrawal(study, 1, "wrong\npatient")
    assert edit.words == "withdraw an outcome of test"
    write_edit(study, edit)
    after = text.replace('on = "2026-11-26"\n', 'on = "2026-11-26"\nwithdrawn = "wrong patient"\n')
    assert (study / "questions.toml").read_text("utf-8") == after
    asked = read_questions(study).questions[0]
    assert asked.now == pytest.approx((0.01, 0.99))
    assert [one.withdrawn for one in asked.set_aside] == ["wrong patient"]


def test_plan_outcome_withdrawal_wrong(tmp_path: Path) -> None:
    """What is not there, was withdrawn before, or has no reason is refused."""
    study = _study(tmp_path / "s", QUESTION)
    with pytest.raises(UnknownName, match=r"^questions\.toml has no outcome number 1; it has 0$"):
        plan_outcome_withdrawal(study, 1, "why")
    record_outcome(study, "test", "positive", sure=100)
    with pytest.raises(UnknownName, match=r"^say why: it is kept beside what is withdrawn$"):
        plan_outcome_withdrawal(study, 1, " \n")
    write_edit(study, plan_outcome_withdrawal(study, 1, "why"))
    with pytest.raises(BadInput, match=r"^questions\.toml:25 \(outcome\[1\]\): this outcome is withdrawn already$"):
        plan_outcome_withdrawal(study, 1, "again")
    (study / "questions.toml").unlink()
    with pytest.raises(BadInput, match=r"^questions\.toml: the study has no questions\.toml; write one"):
        plan_outcome_withdrawal(study, 1, "why")

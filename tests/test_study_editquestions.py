"""Questions and trials typed in: what is written, what follows from it, and every mistake at once by its place."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from latchlore.base import BadInput, Origin, UnknownName, Unsupported
from latchlore.study import (
    new_study,
    open_questions,
    plan_question,
    plan_trial,
    read_questions,
    write_edit,
    write_files,
)
from tests.demos import lay_demo

if TYPE_CHECKING:
    from pathlib import Path

ASKED = {"name": "disease", "text": "Has the patient  the disease?", "enough": "90 %", "unit": "marks"}
RIVALS = [{"name": "ill"}, {}, {"name": "not ill", "weight": "99", "says": "healthy"}]
TEST = {"name": "test", "hazard": "reading", "how": "Take blood.\nTwice.", "times": "2", "cost": "0.5"}
OUTCOMES = [
    {"name": "positive", "if rival 1": "95", "if rival 2": "", "if rival 3": "0.05"},
    {"name": ""},
    {"name": "negative", "if rival 1": "5 %", "if rival 3": "0.95"},
]
"""MacKay (2003), example 2.3, as it would be typed, with rows left empty."""

WRITTEN = """\
[[question]]
name = "disease"
text = "Has the patient the disease?"
enough = 90
unit = "marks"

[[question.rival]]
name = "ill"

[[question.rival]]
name = "not ill"
says = "healthy"
weight = 99

[[question.trial]]
name = "test"
how = \"\"\"
Take blood.
Twice.\"\"\"
hazard = "reading"
cost = 0.5
times = 2
outcomes = ["positive", "negative"]
chances = { ill = [95, 5], "not ill" = [0.05, 0.95] }
"""


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """A new study."""
    new_study(tmp_path / "study")
    (tmp_path / "study/questions.toml").unlink(missing_ok=True)
    return tmp_path / "study"


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """The demonstration."""
    return lay_demo(tmp_path / "demo")


def test_plan_question(study: Path) -> None:
    """The file is made; the trial foresees what MacKay computes: P(ill | positive) = 0.16 (example 2.3)."""
    edit, number = plan_question(study, ASKED, RIVALS, TEST, OUTCOMES)
    assert (number, edit.words) == (1, "ask the question disease")
    assert not (study / "questions.toml").exists()
    write_edit(study, edit)
    assert (study / "questions.toml").read_text() == WRITTEN
    (question,) = read_questions(study).questions
    (prospect,) = question.prospects
    assert [round(one, 2) for one in prospect.after[0]] == [0.16, 0.84]
    second, number = plan_question(study, {"name": "b", "text": "B?"}, [{"name": "x"}, {"name": "y"}], {}, [])
    write_edit(study, second)
    assert number == 2
    added = (
        '\n[[question]]\nname = "b"\ntext = "B?"\n\n[[question.rival]]\nname = "x"\n\n[[question.rival]]\nname = "y"\n'
    )
    assert (study / "questions.toml").read_text() == WRITTEN + added
    assert [(one.name, one.rivals) for one in open_questions(study)] == [
        ("disease", ("ill", "not ill")),
        ("b", ("x", "y")),
    ]


def test_plan_question_computed(demo: Path) -> None:
    """Rivals with a board or a document of their own: the trial is foretold from them."""
    before = (demo / "questions.toml").read_text()
    ways: list[tuple[list[dict[str, str]], dict[str, str], tuple[str, ...]]] = [
        (
            [{"name": "open"}, {"name": "joined", "board": "strap w2 joined\n\n"}],
            {"hazard": "power-off", "first pin": "w2.1", "second pin": "w2.2", "doubt": "10"},
            ("joined", "apart"),
        ),
        (
            [
                {"name": "as traced"},
                {"name": "none", "board": "net busy j2.10 u10.3 u9.15\ndrop net nbusy\nopen u10.4"},
            ],
            {"hazard": "reading", "bit": "A810 bit 6", "signal": "busy", "level": "1"},
            ("0", "1"),
        ),
        (
            [{"name": "wide", "document": "quill-24"}, {"name": "underlined", "document": "quill-24g"}],
            {"hazard": "precious", "send": "06 41 42 0D", "caution": "One line."},
            ("as quill-24", "as quill-24g", "otherwise"),
        ),
    ]
    for k, (rivals, trial, outcomes) in enumerate(ways):
        edit, number = plan_question(
            demo, {"name": f"typed {k}", "text": f"T{k}?"}, rivals, {"name": f"t{k}", **trial}, []
        )
        write_edit(demo, edit)
        question = read_questions(demo).questions[number - 1]
        assert question.trials[0].trial.outcomes == outcomes
        assert question.prospects[0].bits > 0.1
    assert (demo / "questions.toml").read_text().startswith(before)
    joined = read_questions(demo).questions[4].trials[0]
    chances = [[round(one, 9) for one in row] for row in joined.trial.chances]
    assert chances == [[0.05, 0.95], [0.95, 0.05]]  # the doubt of 10 percent, shared out on two outcomes


PAIR = [{"name": "a"}, {"name": "b"}]
WRONG: list[tuple[dict[str, str], list[dict[str, str]], dict[str, str], list[dict[str, str]], str]] = [
    (
        {},
        [],
        {},
        [],
        "the question (name): is needed, and is empty\n"
        "the question (text): is needed, and is empty\n"
        "rival 1 (name): a question has two rivals or more to be decided between, not 0",
    ),
    (
        {"name": "inverter", "text": "T?", "enough": "x"},
        [{"weight": "0"}, {"name": "a", "weight": "-1"}, {"name": "a"}],
        {"name": "meter on W2", "cost": "0"},
        [
            {"name": "q", "if rival 1": "90", "if rival 2": "", "if rival 3": "5"},
            {"name": "q", "if rival 1": "10", "if rival 2": "101", "if rival 3": "5"},
        ],
        "the question (name): question 'inverter' is there already; take another name\n"
        "the question (enough): a number is written as 2 or 0.5, not 'x'\n"
        "rival 1 (name): is needed, and is empty\n"
        "rival 1 (weight): input should be greater than 0, not 0\n"
        "rival 2 (weight): input should be greater than 0, not -1\n"
        "rival 3 (name): rival 'a' is there twice; first in rival 2\n"
        "the trial (name): trial 'meter on W2' is there already; take another name\n"
        "the trial (hazard): a hazard is 'power-off', 'reading', 'writing' or 'precious', not ''\n"
        "the trial (cost): input should be greater than 0, not 0\n"
        "outcome 1 (if rival 2): is needed, and is empty\n"
        "outcome 1 (if rival 3): the chances of rival 'number 3' add up to 1 or to 100, not to 10\n"
        "outcome 2 (name): the outcomes of a trial have names of their own\n"
        "outcome 2 (if rival 2): a chance is 0 to 100 percent, or 0 to 1, not '101'",
    ),
    (
        {"name": "q", "text": "T?", "enough": "40"},
        PAIR,
        {"name": "m", "hazard": "reading"},
        [{"name": "x", "if rival 1": "60", "if rival 2": "60", "if rival 3": "1"}],
        "the question (enough): input should be greater than 50, not 40\n"
        "outcome 1 (if rival 3): rival 3 is not filled in, and has a chance: '1'\n"
        "outcome 2 (name): a trial with chances has two outcomes or more",
    ),
    (
        {"name": "q", "text": "T?"},
        PAIR,
        {"name": "m", "hazard": "reading", "doubt": "5"},
        [{"name": "x", "if rival 1": "60", "if rival 2": "60"}, {"name": "", "if rival 1": "60", "if rival 2": "60"}],
        "the trial (doubt): doubt belongs to a computed trial; stated chances hold it already\n"
        "outcome 1 (if rival 1): the chances of rival 'a' add up to 1 or to 100, not to 120\n"
        "outcome 1 (if rival 2): the chances of rival 'b' add up to 1 or to 100, not to 120\n"
        "outcome 2 (name): is needed, and is empty",
    ),
    (
        {"name": "q", "text": "T?"},
        [{"name": "a", "board": "net busy j2.10 u10.3 u9.15\nfoo"}, {"name": "b", "board": "drop net nothere"}],
        {"name": "m", "hazard": "reading", "first pin": "j2.10", "times": "1.5"},
        [],
        "the trial (hazard): a meter joins pins with the power off: the hazard is 'power-off', not 'reading'\n"
        "the trial (times): input should be a valid integer, not 1.5\n"
        "the trial (second pin): is needed, and is empty",
    ),
    (
        {"name": "q", "text": "T?"},
        [{"name": "a", "board": "net busy j2.10 u10.3 u9.15\nfoo"}, {"name": "b", "board": "drop net nothere"}],
        {"name": "m", "hazard": "power-off", "first pin": "j2.10", "second pin": "u9.15"},
        [],
        "rival 1 (board): a change of the board is a statement of a net file, such as 'strap w1 joined', or "
        "'drop net sel', not 'foo'\n"
        "rival 2 (board): the board has no statement 'net nothere' that could be dropped",
    ),
    (
        {"name": "q", "text": "T?"},
        PAIR,
        {"name": "m", "hazard": "power-off", "first pin": "j2.10", "second pin": "zz.1"},
        [],
        "the trial (second pin): the board of rival 'a' has no pin 'zz.1'",
    ),
    (
        {"name": "q", "text": "T?"},
        [{"name": "a"}, {"name": "b", "document": "nope"}],
        {"name": "m", "hazard": "power-off", "send": "06 41", "cost": "x"},
        [],
        "rival 1 (document): rival 'a' has no `document`, from which trial 'm' is computed\n"
        "rival 2 (document): there is no document 'nope' in documents/; there are 'keepers-letter', 'museum-label', "
        "'quill-24', 'quill-24g'\n"
        "the trial (hazard): a trial with `send` is done under power: the hazard is 'reading', 'writing' or "
        "'precious', not 'power-off'\n"
        "the trial (cost): a number is written as 2 or 0.5, not 'x'",
    ),
    (
        {"name": "q", "text": "T?"},
        PAIR,
        {"name": "m", "hazard": "loud", "bit": "zz", "signal": "busy"},
        [],
        "the trial (hazard): a hazard is 'power-off', 'reading', 'writing' or 'precious', not 'loud'\n"
        "the trial (bit): a place is an address and perhaps a bit, such as 'C801 bit 7', not 'zz'\n"
        "the trial (signal): a signal is held at a level: `signal` and `level` belong together",
    ),
    (
        {"name": "q", "text": "T?"},
        PAIR,
        {"name": "m", "hazard": "reading", "bit": "C801 bit 7", "send": "00"},
        [],
        "the trial: one of these is filled in: outcomes with their chances, two pins and a meter, a register bit, "
        "bytes that are sent, a ramp and a listener; here it is a register bit and bytes that are sent",
    ),
    (
        {"name": "q\0", "text": "T" * 4001},
        PAIR,
        {"caution": "x"},
        [],
        "the question (name): holds the sign 00h, which no text holds\n"
        "the question (text): has 4001 letters; at most 4000 are taken here, an editor takes the rest\n"
        "the trial: one of these is filled in: outcomes with their chances, two pins and a meter, a register bit, "
        "bytes that are sent, a ramp and a listener; here it is nothing\n"
        "the trial (name): is needed, and is empty\n"
        "the trial (hazard): a hazard is 'power-off', 'reading', 'writing' or 'precious', not ''",
    ),
    (
        {"name": "q", "text": "T?"},
        [{"says": "x"}, {"name": "number 1"}, {"name": "number 1"}],
        {"name": "m", "hazard": "reading"},
        [
            {"name": "", "if rival 1": "50", "if rival 2": "50", "if rival 3": "50"},
            {"name": "number 1", "if rival 1": "50", "if rival 2": "50", "if rival 3": "40"},
        ],
        "rival 1 (name): is needed, and is empty\n"
        "rival 3 (name): rival 'number 1' is there twice; first in rival 2\n"
        "outcome 1 (name): is needed, and is empty\n"
        "outcome 1 (if rival 3): the chances of rival 'number 3' add up to 1 or to 100, not to 90",
    ),
    (
        {"name": "q", "text": "T?"},
        [{"name": "number 2"}],
        {},
        [],
        "rival 2 (name): a question has two rivals or more to be decided between, not 1",
    ),
    (
        {"name": "q", "text": "T?"},
        [{"name": str(k)} for k in range(21)],
        {},
        [],
        "rival 21 (name): at most 20 are taken here, an editor takes the rest",
    ),
]


@pytest.mark.parametrize(("question", "rivals", "trial", "outcomes", "told"), WRONG)
def test_plan_question_wrong(
    question: dict[str, str],
    rivals: list[dict[str, str]],
    trial: dict[str, str],
    outcomes: list[dict[str, str]],
    told: str,
    demo: Path,
) -> None:
    """All mistakes are told at once, in the order in which the parts are typed; nothing is written."""
    before = (demo / "questions.toml").read_bytes()
    with pytest.raises(BadInput, match=f"^{re.escape(told)}$"):
        plan_question(demo, question, rivals, trial, outcomes)
    assert (demo / "questions.toml").read_bytes() == before


def test_plan_question_overtaken(study: Path) -> None:
    """What somebody else writes meanwhile stays, and what was typed is refused."""
    edit, _ = plan_question(study, ASKED, RIVALS, {}, [])
    (study / "questions.toml").write_text("# theirs\n")
    with pytest.raises(BadInput, match=r"^questions\.toml: "):
        write_edit(study, edit)
    assert (study / "questions.toml").read_text() == "# theirs\n"


def test_plan_trial(demo: Path) -> None:
    """A trial goes behind those of its question; every line that was there stays."""
    before = (demo / "questions.toml").read_text()
    ramp = {"name": "ramp at 41 us", "hazard": "writing", "period": "41 us", "byte": "3"}
    edit, number = plan_trial(demo, "listener", ramp, [])
    assert (number, edit.words) == (4, "add the trial ramp at 41 us to the question listener")
    added = (
        '\n[[question.trial]]\nname = "ramp at 41 us"\nhazard = "writing"\nlistener = { period = "41 us", byte = 3 }\n'
    )
    assert edit.files["questions.toml"].decode() == before + added
    rows = [{"name": "x", "if rival 1": "1", "if rival 2": "0"}, {"name": "y", "if rival 1": "0", "if rival 2": "1"}]
    edit, number = plan_trial(demo, "inverter", {"name": "look", "hazard": "power-off"}, rows)
    stated = (
        '\n[[question.trial]]\nname = "look"\nhazard = "power-off"\noutcomes = ["x", "y"]\n'
        'chances = { "as traced" = [1, 0], "no inverter" = [0, 1] }\n'
    )
    head = '\n[[question]]\nname = "W2"\n'
    assert edit.files["questions.toml"].decode() == before.replace(head, stated + head)
    write_edit(demo, edit)
    assert [one.trial.name for one in read_questions(demo).questions[number - 1].trials][-1] == "look"


@pytest.mark.parametrize(
    ("name", "trial", "told"),
    [
        (
            "inverter",
            {"name": "m", "hazard": "power-off", "period": "4 us"},
            "the trial (hazard): a trial with `listener` is done under power: the hazard is 'reading', 'writing' or "
            "'precious', not 'power-off'\n"
            "the trial (period): rival 'as traced' has no `listener`, from which trial 'm' is computed\n"
            "the trial (period): rival 'no inverter' has no `listener`, from which trial 'm' is computed",
        ),
        (
            "listener",
            {"name": "ramp at 40 us", "hazard": "writing", "period": "x", "count": "3", "byte": "7"},
            "the trial (name): trial 'ramp at 40 us' is there already; take another name\n"
            "the trial (period): a time is a number and one of ps, ns, us, ms, s, not 'x'\n"
            "the trial (byte): bytes are counted from 0 to 2, not 7",
        ),
        (
            "listener",
            {"name": "r", "hazard": "writing", "period": "0 us"},
            "the trial (period): a period is longer than nothing, not 0 ps",
        ),
        (
            "listener",
            {},
            "the trial: one of these is filled in: outcomes with their chances, two pins and a meter, a register bit, "
            "bytes that are sent, a ramp and a listener; here it is nothing\n"
            "the trial (name): is needed, and is empty\n"
            "the trial (hazard): a hazard is 'power-off', 'reading', 'writing' or 'precious', not ''",
        ),
    ],
)
def test_plan_trial_wrong(name: str, trial: dict[str, str], told: str, demo: Path) -> None:
    """Every mistake of a trial by its field."""
    with pytest.raises(BadInput, match=f"^{re.escape(told)}$"):
        plan_trial(demo, name, trial, [])


def test_plan_trial_file_wrong(study: Path) -> None:
    """A question that is not there, a file that cannot be read, and one whose question takes no headers."""
    with pytest.raises(UnknownName, match=r"^questions\.toml has no question 'x'$"):
        plan_trial(study, "x", TEST, [])
    write_files(study, {"questions.toml": b"[[question]]\nname = 7\ntext = 'x'\n"}, {})
    with pytest.raises(BadInput, match=r"^questions\.toml:2 \(question\[1\]\.name\): a name is text in quotes, not 7$"):
        plan_trial(study, "x", TEST, [])
    with pytest.raises(BadInput, match=r"^questions\.toml:2 \(question\[1\]\.name\): a name is text in quotes, not 7$"):
        plan_question(study, ASKED, RIVALS, {}, [])
    braces = b"question = [{ name = 'x', text = 'y', rival = [{ name = 'a' }, { name = 'b' }] }]\n"
    (study / "questions.toml").write_bytes(braces)
    rows = [{"name": "p", "if rival 1": "1", "if rival 2": "0"}, {"name": "q", "if rival 1": "0", "if rival 2": "1"}]
    told = r"^questions\.toml: cannot be changed here without touching more than was asked; change the file as text$"
    with pytest.raises(Unsupported, match=told):
        plan_trial(study, "x", TEST, rows)
    (study / "questions.toml").write_bytes(b"[[question]]\nname = 'x'\ntext = 'y'\n")
    none = r"^the question: a question has two rivals or more to be decided between, not 0$"
    with pytest.raises(BadInput, match=none):
        plan_trial(study, "x", {"name": "m", "hazard": "reading", "bit": "C801 bit 7"}, [])


ANY = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60)
@given(texts=st.lists(ANY, min_size=9, max_size=9), number=st.sampled_from(["", "1", "-3", "1e9", "٣", "5 %", "0.25"]))
def test_any_text(texts: list[str], number: str, study: Path) -> None:
    """Whatever is typed, it is refused with places, or what is written is read back (tomllib is the referee)."""
    question = {"name": texts[0], "text": texts[1], "unit": texts[2], "enough": number}
    rivals = [{"name": texts[3], "says": texts[4], "weight": number}, {"name": texts[5]}]
    trial = {"name": texts[6], "hazard": "reading", "how": texts[7], "times": number}
    rows = [
        {"name": texts[8], "if rival 1": "1", "if rival 2": "0"},
        {"name": "-", "if rival 1": "0", "if rival 2": "1"},
    ]
    told: tuple[tuple[Origin, str], ...] = ()
    try:
        edit, _ = plan_question(study, question, rivals, trial, rows)
    except BadInput as error:
        told = error.mistakes
    if told:
        assert {place.file.partition(" ")[0] for place, _ in told} <= {"the", "rival", "outcome"}
        return
    data: dict[str, Any] = tomllib.loads(edit.files["questions.toml"].decode())
    (row,) = data["question"]
    assert row["name"] == " ".join(texts[0].split())
    assert [one["name"] for one in row["rival"]] == [" ".join(texts[3].split()), " ".join(texts[5].split())]
    assert row["trial"][0]["outcomes"] == [" ".join(texts[8].split()), "-"]

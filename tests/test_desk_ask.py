"""Asking on the desk, in-process: a question and its trials are written and shown, and what is refused stays typed."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from latchlore.desk import make_app
from latchlore.evidence.trialwording import CAUTIONS, HAZARDS
from tests.marram import ROM, lay_study, marram_table
from tests.test_desk_record import QUESTIONS

if TYPE_CHECKING:
    from pathlib import Path

    from httpx2 import Response

TOKEN = "a-secret-of-the-test"
PORT = 8119
BASE = f"http://127.0.0.1:{PORT}"
RUDE = "<script>alert(1)</script>\"'&"

ASKED = {
    "name": "W3",
    "text": "Was W3 joined?",
    "rivals-count": "3",
    "rival-name-0": "open",
    "rival-weight-0": "3",
    "rival-name-2": "joined",
    "rival-says-2": "someone <moved> it",
    "enough": "90",
    "unit": "hours",
}
TRIAL = {
    "trial-name": "look at W3",
    "trial-how": "With a loupe.\r\nTouch nothing.",
    "trial-hazard": "power-off",
    "trial-cost": "0.5",
    "outcomes-count": "2",
    "outcome-name-0": "solder",
    "outcome-if-rival-1-0": "10",
    "outcome-if-rival-3-0": "80",
    "outcome-name-1": "no solder",
    "outcome-if-rival-1-1": "90",
    "outcome-if-rival-3-1": "20",
}
WRITTEN = """\
[[question]]
name = "W3"
text = "Was W3 joined?"
enough = 90
unit = "hours"

[[question.rival]]
name = "open"
weight = 3

[[question.rival]]
name = "joined"
says = "someone <moved> it"

[[question.trial]]
name = "look at W3"
how = \"\"\"
With a loupe.
Touch nothing.\"\"\"
hazard = "power-off"
cost = 0.5
outcomes = ["solder", "no solder"]
chances = { open = [10, 90], joined = [80, 20] }
"""


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """An invented study that asks something in study.toml."""
    folder = lay_study(tmp_path / "study")
    (folder / "questions.toml").unlink(missing_ok=True)
    return folder


@pytest.fixture
def client(study: Path) -> TestClient:
    """A browser on the desk's own address."""
    app = make_app(study, token=TOKEN, weigh=lambda *_: marram_table(), loads=lambda _: {ROM: 0xF000}, port=PORT)
    return TestClient(app, base_url=BASE, raise_server_exceptions=False, headers={"origin": BASE})


def _post(client: TestClient, path: str, **sent: str) -> Response:
    return client.post(f"/{TOKEN}/{path}", data=sent)


def _get(client: TestClient, path: str = "record") -> str:
    """A page, once the questions on it are weighed."""
    while True:
        text = client.get(f"/{TOKEN}/{path}").text
        if "are being weighed" not in text:
            return text


def _words(text: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", text)).split())


def _held(text: str, name: str) -> str:
    """What a field of the page holds."""
    area = re.search(rf'<textarea id="{name}"[^>]*>\n?(.*?)</textarea>', text, re.DOTALL)
    found = area or re.search(rf'<input id="{name}"[^>]* value="([^"]*)"', text)
    assert found is not None, name
    return html.unescape(found[1])


def _beside(text: str, name: str) -> str:
    """What is told beside a field; the field points to it."""
    field = re.search(rf'<(?:input|textarea|select|fieldset)[^>]* (?:id|aria-describedby)="{name}[^>]*>', text)
    assert field is not None, name
    assert f'aria-describedby="{name}-error' in text
    told = re.search(rf'<p class="field-error" id="{name}-error">(.*?)</p>', text)
    assert told is not None, name
    return html.unescape(told[1])


def test_question(client: TestClient, study: Path) -> None:
    """A question with its first trial is written, shown with what the trial will show, and taken back by Undo."""
    answer = _post(client, "record-question", **ASKED, **TRIAL)
    assert answer.history[0].headers["location"] == "record#question-1"
    assert (study / "questions.toml").read_text() == WRITTEN
    shown = _words(_get(client))
    assert "Was W3 joined? W3 in questions.toml:1" in shown
    assert "open – 75.0% 75.0%" in shown
    assert "joined someone <moved> it 25.0% 25.0%" in shown
    assert "Next: look at W3 power off" in shown
    assert "outcome if open if joined in all then solder 10.0% 80.0% 27.5% open 27.3%, joined 72.7%" in shown
    assert " ".join(CAUTIONS["power-off"].split()) in shown
    _post(client, "undo", back="record")
    assert not (study / "questions.toml").exists()


def test_question_wrong(client: TestClient, study: Path) -> None:
    """Every mistake is told at once above the form and beside its field; what was typed is still there."""
    (study / "questions.toml").write_text(QUESTIONS)
    sent = {
        **ASKED,
        **TRIAL,
        "name": "w2",
        "rival-weight-0": "many",
        "trial-hazard": "",
        "outcome-if-rival-3-1": "10",
        "rival-board-2": "strap w3 joined\r\nstrap w4 open",
    }
    answer = _post(client, "record-question", **sent)
    assert answer.status_code == 422
    (mistakes,) = re.findall(r'<ul class="mistakes">(.*?)</ul>', answer.text, re.DOTALL)
    hazards = "a hazard is 'power-off', 'reading', 'writing' or 'precious', not ''"
    assert [_words(one) for one in re.findall("<li>.*?</li>", mistakes)] == [
        "the question (name) : question 'w2' is there already; take another name",
        "rival 1 (weight) : a number is written as 2 or 0.5, not 'many'",
        f"the trial (hazard) : {hazards}",
        "outcome 1 (if rival 3) : the chances of rival 'joined' add up to 1 or to 100, not to 90",
    ]
    assert re.findall(r'href="#([^"]*)"', mistakes) == [
        "name",
        "rival-weight-0",
        "trial-hazard",
        "outcome-if-rival-3-0",
    ]
    assert _beside(answer.text, "name") == "question 'w2' is there already; take another name"
    assert _beside(answer.text, "rival-weight-0") == "a number is written as 2 or 0.5, not 'many'"
    assert _beside(answer.text, "trial-hazard") == hazards
    assert "add up to 1 or to 100, not to 90" in _beside(answer.text, "outcome-if-rival-3-0")
    assert answer.text.count('class="field-error"') == 4
    for name, value in sent.items():
        if name not in {"rivals-count", "outcomes-count", "trial-hazard"}:
            assert _held(answer.text, name) == value.replace("\r\n", "\n"), name
    assert (study / "questions.toml").read_text() == QUESTIONS
    broken = "[[question]]\nname = 7\n"
    (study / "questions.toml").write_text(broken)
    late = _post(client, "record-question", **ASKED)
    assert "questions.toml:2 (question[1].name) : a name is text in quotes, not 7" in _words(late.text)
    assert _held(late.text, "text") == ASKED["text"]
    assert (study / "questions.toml").read_text() == broken


def test_cautions_where_a_trial_is_entered(client: TestClient, study: Path) -> None:
    """Beside each hazard that can be chosen stands its caution, tied to it."""
    (study / "questions.toml").write_text(QUESTIONS)
    for path in ("record-question", "record-trial?question=w2"):
        text = client.get(f"/{TOKEN}/{path}").text
        for key, name in HAZARDS.items():
            field = re.search(rf'value="{key}"[^>]* aria-describedby="([^"]*)"> {name}</label>', text)
            assert field is not None, key
            (note,) = re.findall(rf'id="{field[1]}">(.*?)</div>', text)
            assert _words(note) == " ".join(f"Caution {CAUTIONS[key]}".split())


def test_more_rows(client: TestClient, study: Path) -> None:
    """More rivals are more columns of chances, with what was typed; there is an end to it."""
    answer = _post(client, "record-question", **ASKED, **TRIAL, more="rivals")
    assert answer.status_code == 200
    assert '"if joined, row 1"' in answer.text
    assert '"if rival 5, row 2"' in answer.text
    assert 'name="rivals-count" value="5"' in answer.text
    assert 'name="outcomes-count" value="2"' in answer.text
    assert _held(answer.text, "outcome-if-rival-3-1") == "20"
    assert 'value="power-off" checked' in answer.text
    many = _post(client, "record-question", **{**ASKED, "rivals-count": "9999"}, more="outcomes")
    assert 'name="rivals-count" value="20"' in many.text
    assert 'value="rivals" formnovalidate' not in many.text
    assert not (study / "questions.toml").exists()


def test_question_of_the_study(client: TestClient, study: Path) -> None:
    """A question of study.toml without rivals leads to the form, which holds its text."""
    with (study / "study.toml").open("a") as file:
        file.write('\n[[question]]\ntext = "Who \\"moved\\" W3?"\n')
    text = _get(client)
    (href,) = re.findall(r'href="(record-question\?[^"]*)"', text)
    assert _held(client.get(f"/{TOKEN}/{html.unescape(href)}").text, "text") == 'Who "moved" W3?'


def test_trial(client: TestClient, study: Path) -> None:
    """A trial is added behind those of its question; the form names the rivals, and the record shows it."""
    (study / "questions.toml").write_text(QUESTIONS)
    assert 'href="record-trial?question=w2"' in _get(client)
    page = client.get(f"/{TOKEN}/record-trial?question=w2").text
    assert '"if open, row 1"' in page
    assert '"if joined, row 2"' in page
    rows = {**TRIAL, "outcome-if-rival-2-0": "80", "outcome-if-rival-2-1": "20"}
    sent = {name: text for name, text in rows.items() if "rival-3" not in name}
    answer = _post(client, "record-trial", question="w2", **sent)
    assert answer.history[0].headers["location"] == "record#question-1"
    added = "\n" + WRITTEN[WRITTEN.index("[[question.trial]]") :]
    assert (study / "questions.toml").read_text() == QUESTIONS + added
    assert "look at W3 power off" in _words(_get(client))


def test_trial_wrong(client: TestClient, study: Path) -> None:
    """Mistakes stand beside their fields, also where no way is filled in; an unknown question is not found."""
    (study / "questions.toml").write_text(QUESTIONS)
    sent = {"question": "w2", "trial-name": "meter on W2", "trial-hazard": "reading", "trial-cost": "0"}
    answer = _post(client, "record-trial", **sent)
    assert answer.status_code == 422
    assert _beside(answer.text, "trial-name") == "trial 'meter on W2' is there already; take another name"
    assert _beside(answer.text, "trial-cost") == "input should be greater than 0, not 0"
    assert _beside(answer.text, "outcome-name-0") == (
        "one of these is filled in: outcomes with their chances, two pins and a meter, a register bit, bytes that are "
        "sent, a ramp and a listener; here it is nothing"
    )
    assert 'value="reading" checked' in answer.text
    pins = {**sent, "trial-first-pin": "w2.1", "trial-second-pin": "w2.9"}
    assert "the hazard is 'power-off', not 'reading'" in _beside(
        _post(client, "record-trial", **pins).text, "trial-hazard"
    )
    for unknown in ("", "nobody"):
        gone = client.get(f"/{TOKEN}/record-trial", params={"question": unknown})
        assert gone.status_code == 404
        assert f"questions.toml has no question {unknown!r}; known are 'w2'" in _words(gone.text)
    assert (study / "questions.toml").read_text() == QUESTIONS


def test_script_stays_text(client: TestClient, study: Path) -> None:
    """Script in every field is shown as text, refused or kept."""
    fields = re.findall(r' name="([^"]*)"', client.get(f"/{TOKEN}/record-question").text)
    assert len(fields) > 30
    refused = _post(client, "record-question", **dict.fromkeys(fields, RUDE))
    words = dict.fromkeys(("name", "text", "unit", "rival-says-0", "trial-name", "trial-how", "trial-caution"), RUDE)
    names = {"rival-name-0": RUDE, "rival-name-2": f"{RUDE} 2", "outcome-name-0": RUDE}
    kept = _post(client, "record-question", **{**ASKED, **TRIAL, **words, **names})
    assert RUDE in (study / "questions.toml").read_text().replace('\\"', '"')
    pages = [refused.text, kept.text, _get(client), client.get(f"/{TOKEN}/record-question", params={"text": RUDE}).text]
    pages.append(client.get(f"/{TOKEN}/record-trial", params={"question": RUDE}).text)
    pages.append(_post(client, "record-trial", question=RUDE, **dict.fromkeys(fields, RUDE)).text)
    pages.append(client.get(f"/{TOKEN}/record-trial", params={"question": f"{RUDE}x"}).text)
    for text in pages:
        assert "<script>alert" not in text
    assert "&lt;script&gt;alert" in pages[4]


def test_long_input(client: TestClient, study: Path) -> None:
    """Too long a text is refused beside its field, with its length; so are more rows than the form shows."""
    answer = _post(client, "record-question", **{**ASKED, "rival-says-2": "x" * 200_000})
    assert answer.status_code == 422
    told = "has 200000 letters; at most 4000 are taken here, an editor takes the rest"
    assert _beside(answer.text, "rival-says-2") == told
    assert _held(answer.text, "rival-says-2") == "x" * 200_000
    assert not (study / "questions.toml").exists()

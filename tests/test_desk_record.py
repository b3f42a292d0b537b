"""The record room in-process: findings and questions shown with their places, and everything that can be entered."""

from __future__ import annotations

import re
import time
from typing import TYPE_CHECKING
from urllib.parse import urlencode

import pytest
from starlette.testclient import TestClient

from latchlore.base import BadInput, Origin
from latchlore.desk import make_app
from latchlore.evidence.trialwording import CAUTIONS
from latchlore.study import read_questions, sheet_text
from tests.marram import ROM, lay_study, marram_table

if TYPE_CHECKING:
    from pathlib import Path

    from httpx2 import Response

    from latchlore.evidence import Table

TOKEN = "a-secret-of-the-test"
PORT = 8113
BASE = f"http://127.0.0.1:{PORT}"
RUDE = "<script>alert(1)</script>\"'&"

QUESTIONS = """\
# kept: the head
[[question]]
name = "w2"
text = "Was W2 open?"

[[question.rival]]
name = "open"

[[question.rival]]
name = "joined"

[[question.trial]]
name = "meter on W2"
how = "Touch both ends."
hazard = "power-off"
cost = 1
times = 2
outcomes = ["beep", "silence"]
chances = { open = [0, 100], joined = [90, 10] }

[[question.trial]]
name = "ask the keeper"
hazard = "precious"
caution = "He tires soon."
outcomes = ["yes", "no"]
chances = { open = [40, 60], joined = [60, 40] }
"""


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """An invented study with a question."""
    folder = lay_study(tmp_path / "study")
    (folder / "questions.toml").write_text(QUESTIONS)
    return folder


@pytest.fixture
def client(study: Path) -> TestClient:
    """A browser on the desk's own address."""
    app = make_app(study, token=TOKEN, weigh=lambda *_: marram_table(), loads=lambda _: {ROM: 0xF000}, port=PORT)
    return TestClient(app, base_url=BASE, raise_server_exceptions=False, headers={"origin": BASE})


def _post(client: TestClient, path: str, **sent: str) -> Response:
    return client.post(f"/{TOKEN}/{path}", data=sent)


def _shown(client: TestClient, path: str = "record") -> str:
    """The page's words without tags, each blank one."""
    text = client.get(f"/{TOKEN}/{path}").text
    while "are being weighed" in text:  # the page would ask again by itself
        text = client.get(f"/{TOKEN}/{path}").text
    return " ".join(re.sub(r"<[^>]*>", " ", text).split())


def _add(client: TestClient, name: str = "busy", **more: str) -> Response:
    sent = {"name": name, "sentence": "It waits.", "grounds-count": "3", "on-0": "code 1B 4B", "day": "2026-11-26"}
    return _post(client, "record-add", **{**sent, **more})


def test_empty_record(client: TestClient) -> None:
    """Without findings the page says how the first one is made, and the questions stand with the trial to do next."""
    text = _shown(client)
    assert "No finding is written down yet. Add the first one" in text
    assert "Was W2 open?" in text
    assert "Next: meter on W2" in text
    assert "After it: ask the keeper" in text  # more hazard, whatever it tells


def test_cautions_beside_trials(client: TestClient) -> None:
    """Each trial shows the caution of its hazard, then its own; so does its sheet."""
    text = _shown(client).replace("&#39;", "'")
    assert text.index("Next: meter on W2") < text.index(" ".join(CAUTIONS["power-off"].split()))
    assert text.index("ask the keeper") < text.index(" ".join(CAUTIONS["precious"].split())) < text.index("He tires")
    sheet = _shown(client, "record-sheet?" + urlencode({"trial": "ask the keeper"})).replace("&#39;", "'")
    assert " ".join(CAUTIONS["precious"].split()) in sheet


def test_add_finding(client: TestClient, study: Path) -> None:
    """A finding is written with its history, shown with its grade and links to what it rests on, and can be undone."""
    answer = _add(client, **{"says-0": "draw", "because": "read twice"})
    assert answer.status_code == 200
    assert answer.url.path == f"/{TOKEN}/record"
    assert "The finding" not in answer.text
    assert '<a href="./#on-code-1b-4b">code 1B 4B</a>, which must say “draw”' in answer.text
    assert "place?file=documents%2Fquill-guide.toml" in answer.text
    assert (
        'rests_on = ["code 1B 4B"]\nsays = { "code 1B 4B" = "draw" }\nsentence = '
        in (study / "findings.toml").read_text()
    )
    assert (
        "\tread twice\t" in (study / "history.txt").read_text()
        or "; read twice\t" in (study / "history.txt").read_text()
    )
    assert "Last change: add finding busy" in " ".join(answer.text.split())
    undone = _post(client, "undo", back="record")
    assert undone.url.path == f"/{TOKEN}/record"
    assert not (study / "findings.toml").exists()
    assert not (study / "history.txt").exists()


def test_way_back(client: TestClient) -> None:
    """From a row of the table, and from a place, one step leads to the findings that rest on it."""
    _add(client)
    link = '<a href="record#finding-busy">busy</a>'
    table = client.get(f"/{TOKEN}/").text
    row = table[table.index('id="on-code-1b-4b"') :]
    assert link in row[: row.index("</tbody>")]
    assert link in client.get(f"/{TOKEN}/place?file=documents/quill-guide.toml&as=line&at=4&detail=page+12,+row+3").text
    assert link not in client.get(f"/{TOKEN}/place?file=wire/power-on.log&as=line&at=1").text


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"name": "Big Name"}, "a name is up to 60 small letters, digits and hyphens in quotes, such as 'busy-line'"),
        ({"on-0": "code FF"}, "code FF"),
        ({"on-0": ""}, "list should have at least 1 item"),
        ({"sentence": " "}, "a text in quotes is expected, with at least one letter"),
        ({"day": "yesterday"}, "a date is year-month-day, such as 2026-11-26, not 'yesterday'"),
    ],
)
def test_add_finding_wrong(sent: dict[str, str], words: str, client: TestClient, study: Path) -> None:
    """What is refused is said above the form, which still holds what was typed; nothing is written."""
    answer = _add(client, **sent, because="typed once")
    assert answer.status_code in (404, 422)
    assert words in answer.text.replace("&#39;", "'").replace("&quot;", '"')
    assert 'value="typed once"' in answer.text
    assert not (study / "findings.toml").exists()


def test_add_finding_to_broken_study(study: Path) -> None:
    """While the study cannot be read, a finding is refused with the reason, and is still in the form."""

    def broken(*_: object) -> Table:
        raise BadInput(Origin.at_line("wire/power-on.log", 2), "'1Z' is not a byte")

    app = make_app(study, token=TOKEN, weigh=broken, loads=lambda _: {}, port=PORT)
    client = TestClient(app, base_url=BASE, raise_server_exceptions=False, headers={"origin": BASE})
    answer = _add(client, because="typed once")
    assert answer.status_code == 422
    assert "&#39;1Z&#39; is not a byte" in answer.text
    assert 'value="typed once"' in answer.text
    assert not (study / "findings.toml").exists()


def test_add_finding_while_weighing(study: Path) -> None:
    """What is sent while the study is being weighed waits for the table, and is not lost."""

    def slow(*_: object) -> Table:
        time.sleep(0.5)  # longer than a page waits
        return marram_table()

    app = make_app(study, token=TOKEN, weigh=slow, loads=lambda _: {}, port=PORT)
    client = TestClient(app, base_url=BASE, raise_server_exceptions=False, headers={"origin": BASE})
    assert "is being weighed" in client.get(f"/{TOKEN}/record-add").text
    (study / "wire/power-on.log").write_text("1B 40\n")  # weighed anew
    _add(client)
    assert 'name = "busy"' in (study / "findings.toml").read_text()


def test_more_rows(client: TestClient) -> None:
    """More rows are given with everything still in the form; absurd numbers of them are not."""
    answer = _add(client, more="1", because="kept")
    assert answer.text.count('name="on-') == 7
    assert 'value="code 1B 4B"' in answer.text
    assert 'value="kept"' in answer.text
    assert _add(client, more="1", **{"grounds-count": "999"}).text.count('name="on-') == 200
    assert _add(client, more="1", **{"grounds-count": "x"}).text.count('name="on-') == 7


def test_changed_findings(client: TestClient, study: Path) -> None:
    """A finding that changed says so, with the old and the new; accepting writes it into the history, once."""
    _add(client)
    file = study / "findings.toml"
    file.write_text(file.read_text().replace("It waits.", "It waits long."))
    text = _shown(client)
    assert "1 of 1 findings is no longer as accepted: busy" in text
    assert "sentence: was “It waits.”, is “It waits long.”" in text
    answer = _post(client, "record-accept", day="2026-11-27", because="looked again")
    assert "no longer as accepted" not in answer.text
    assert "1 erratum" in answer.text
    assert "2026-11-27\tbusy\tsentence\tIt waits.\tIt waits long.\t" in (study / "history.txt").read_text()
    before = (study / "history.txt").read_bytes()
    _post(client, "record-accept", day="2026-11-27")
    assert (study / "history.txt").read_bytes() == before


def test_withdraw(client: TestClient, study: Path) -> None:
    """A withdrawn finding stays to be read; without a reason, or twice, it is refused."""
    _add(client)
    refused = _post(client, "record-withdraw", name="busy", day="2026-11-27", because=" ")
    assert refused.status_code == 404
    assert "say why" in refused.text
    answer = _post(client, "record-withdraw", name="busy", day="2026-11-27", because="another card")
    assert '<span class="grade">withdrawn</span>' in answer.text
    assert "record-withdraw" not in answer.text
    again = _post(client, "record-withdraw", name="busy", day="2026-11-27", because="again")
    assert again.status_code == 422
    assert "withdrawn already" in again.text
    assert _post(client, "record-withdraw", name="nobody", day="2026-11-27", because="x").status_code == 404


def test_sheet(client: TestClient, study: Path) -> None:
    """The sheet on the page and the one to keep are what the library prints."""
    found = read_questions(study)
    expected = sheet_text(found.title, found.questions[0], found.questions[0].get_trial("meter on W2"))
    asked = urlencode({"trial": "meter on W2"})
    assert client.get(f"/{TOKEN}/record-sheet.txt?{asked}").text == expected
    text = client.get(f"/{TOKEN}/record-sheet?{asked}").text
    assert expected.rstrip() in text.replace("&#39;", "'").replace("&#34;", '"')


def test_sheet_wrong(client: TestClient) -> None:
    """A trial that is not there is named with those that are."""
    answer = client.get(f"/{TOKEN}/record-sheet?trial=no+such")
    assert answer.status_code == 404
    assert (
        "there is no trial &#39;no such&#39;; known are &#39;meter on W2&#39;, &#39;ask the keeper&#39;" in answer.text
    )
    assert client.get(f"/{TOKEN}/record-sheet.txt").status_code == 404


def test_outcome(client: TestClient, study: Path) -> None:
    """An outcome is added to the file, every byte of which stays, and moves the weights; it can be withdrawn again."""
    answer = _post(client, "record-sheet", trial="meter on W2", saw="silence", sure="99", day="2026-11-26", note="a\nb")
    assert answer.url.path == f"/{TOKEN}/record"
    text = (study / "questions.toml").read_text()
    assert text.startswith(QUESTIONS)
    assert 'saw = "silence"\nsure = 99\non = "2026-11-26"\nnote = "a b"\n' in text
    # Bayes' rule by hand: (.99*1 + .01*0) against (.99*.1 + .01*.9), both from one half: .99/(.99+.108) = 90.16 %.
    assert "open 90.2%, joined 9.8%" in _shown(client)
    withdrawn = _post(client, "record-unsay", number="1", because="wrong strap")
    assert "withdrawn (wrong strap) and counts no more" in withdrawn.text
    assert (study / "questions.toml").read_text() == text + 'withdrawn = "wrong strap"\n'
    again = _post(client, "record-unsay", number="1", because="x")
    assert "this outcome is withdrawn already" in again.text


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"saw": ""}, "trial 'meter on W2' has no outcome ''; known are 'beep', 'silence'"),
        ({"sure": "0"}, "how sure you are is percent, above 0 to 100, not '0'"),
        ({"sure": "many"}, "how sure you are is percent, above 0 to 100, not 'many'"),
        ({"day": "today"}, "a date is year, month and day, such as '2026-11-26', not 'today'"),
    ],
)
def test_outcome_wrong(sent: dict[str, str], words: str, client: TestClient, study: Path) -> None:
    """What is refused is said, the note is still there, and nothing is written."""
    good = {"trial": "meter on W2", "saw": "beep", "sure": "95", "day": "2026-11-26", "note": "kept"}
    answer = _post(client, "record-sheet", **{**good, **sent})
    assert words in answer.text.replace("&#39;", "'")
    assert 'value="kept"' in answer.text
    assert (study / "questions.toml").read_text() == QUESTIONS


@pytest.mark.parametrize("number", ["", "0", "2", "-1", "1e3", "²"])
def test_unsay_wrong(number: str, client: TestClient, study: Path) -> None:
    """An outcome that is not there cannot be withdrawn."""
    assert _post(client, "record-unsay", number=number, because="x").status_code == 404
    assert (study / "questions.toml").read_text() == QUESTIONS


def test_impossible_outcome(client: TestClient, study: Path) -> None:
    """What no rival allows is kept; the page then says so, and still shows the findings."""
    (study / "questions.toml").write_text(QUESTIONS.replace("[90, 10]", "[0, 100]"))
    _add(client)
    _post(client, "record-sheet", trial="meter on W2", saw="beep", sure="100", day="2026-11-26")
    text = _shown(client)
    assert "no rival allows that &#39;meter on W2&#39; showed &#39;beep&#39;" in text
    assert "It waits." in text


def test_filled_sheet(client: TestClient, study: Path) -> None:
    """A sheet that comes back is read; what it leaves empty is the default, and the day the form's."""
    sheet = client.get(f"/{TOKEN}/record-sheet.txt?{urlencode({'trial': 'meter on W2'})}").text
    filled = sheet.replace("[ ] silence", "[x] silence").replace("note: __", "note: twice __")
    answer = _post(client, "record-filled", sheet=filled, day="2026-11-25")
    assert answer.url.path == f"/{TOKEN}/record"
    added = (study / "questions.toml").read_text().removeprefix(QUESTIONS)
    assert added == (
        '\n[[outcome]]\ntrial = "meter on W2"\nsaw = "silence"\nsure = 95\non = "2026-11-25"\nnote = "twice"\n'
    )


def test_filled_sheet_as_file(client: TestClient, study: Path) -> None:
    """A sheet may come back as a file; where it is refused, its text is in the form."""
    sheet = client.get(f"/{TOKEN}/record-sheet.txt?{urlencode({'trial': 'meter on W2'})}").text
    day = {"day": "2026-11-25"}
    empty = client.post(f"/{TOKEN}/record-filled", data=day, files={"file": ("s.txt", sheet.encode())})
    assert empty.status_code == 422
    assert "BENCH SHEET" in empty.text
    filled = sheet.replace("[ ] beep", "[x] beep").encode()
    client.post(f"/{TOKEN}/record-filled", data=day, files={"file": ("s.txt", filled)})
    assert 'saw = "beep"' in (study / "questions.toml").read_text()
    raw = client.post(f"/{TOKEN}/record-filled", data={"day": "x"}, files={"file": ("s.txt", b"\xff\x00")})
    assert raw.status_code == 422


def test_history(client: TestClient) -> None:
    """Every line of the history is there, each a step from its place."""
    _add(client)
    text = client.get(f"/{TOKEN}/record").text
    assert "The whole history, 4 lines" in text
    assert text.count("place?file=history.txt&amp;as=line") == 4


def test_filled_sheet_wrong(client: TestClient, study: Path) -> None:
    """A sheet without a mark is refused with its text still in the form."""
    sheet = client.get(f"/{TOKEN}/record-sheet.txt?{urlencode({'trial': 'meter on W2'})}").text
    answer = _post(client, "record-filled", sheet=sheet, day="2026-11-25")
    assert answer.status_code == 422
    assert "no box is marked; put an x into one: [x]" in answer.text
    assert "BENCH SHEET" in answer.text
    assert (study / "questions.toml").read_text() == QUESTIONS


def test_broken_files(client: TestClient, study: Path) -> None:
    """A part that cannot be read says where; the other part is shown."""
    (study / "findings.toml").write_text("[[finding]]\nname = 7\n")
    text = _shown(client)
    assert "findings.toml:2 (finding[1].name)" in text
    assert "Was W2 open?" in text
    (study / "findings.toml").unlink()
    (study / "questions.toml").write_text("[[question]]\nname = 7\n")
    text = _shown(client)
    assert "questions.toml:2 (question[1].name)" in text
    assert "No finding is written down yet." in text


def test_script_stays_text(client: TestClient, study: Path) -> None:
    """Script in every field of every form is shown as text, whether it is kept or refused."""
    answers = [
        _add(client, sentence=RUDE, because=RUDE, **{"says-0": RUDE}),
        _add(client, "rude", sentence=RUDE, because=RUDE),
        _post(client, "record-sheet", trial="meter on W2", saw=RUDE, sure=RUDE, day=RUDE, note=RUDE),
        _post(client, "record-sheet", trial=RUDE, saw="beep"),
        _post(client, "record-sheet", trial="meter on W2", saw="beep", sure="9", day="2026-11-26", note=RUDE),
        _post(client, "record-unsay", number="1", because=RUDE),
        _post(client, "record-withdraw", name=RUDE, because=RUDE, day="2026-11-26"),
        _post(client, "record-withdraw", name="rude", because=RUDE, day="2026-11-26"),
        _post(client, "record-accept", because=RUDE, day=RUDE),
        _post(client, "record-filled", sheet=RUDE, day=RUDE),
        client.get(f"/{TOKEN}/record-add?on={RUDE}"),
        client.get(f"/{TOKEN}/record"),
    ]
    assert RUDE.split('"', maxsplit=1)[0] in (study / "findings.toml").read_text()
    for answer in answers:
        assert "<script>alert" not in answer.text
        assert "&lt;script&gt;" in answer.text or answer.status_code == 404


def test_nothing_by_get(client: TestClient, study: Path) -> None:
    """Reading changes no file, whatever is asked."""
    before = {path: path.read_bytes() for path in study.rglob("*") if path.is_file()}
    for path in ("record", "record-add?name=x&sentence=y", "record-filled?sheet=x", "record-sheet?trial=meter+on+W2"):
        assert client.get(f"/{TOKEN}/{path}").status_code == 200
    for path in ("record-withdraw?name=x", "record-accept", "record-unsay?number=1"):
        assert client.get(f"/{TOKEN}/{path}").status_code == 404
    assert {path: path.read_bytes() for path in study.rglob("*") if path.is_file()} == before

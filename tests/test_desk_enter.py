"""Entering on the desk, in-process: every form writes what it says, keeps what was typed, and loses nobody's work."""

from __future__ import annotations

import html
import os
import re
import tomllib
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import pytest
from starlette.testclient import TestClient

from latchlore.desk import make_app
from latchlore.study import new_study, weigh_study

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from httpx2 import Response

TOKEN = "a-secret-of-the-test"
PORT = 8117
BASE = f"http://127.0.0.1:{PORT}"
RUDE = "<script>alert(1)</script>\"'&"
NETS = "board card (invented)\nhost 6502\npart u1 74ls138\npart u2 74ls00\n"
MANUAL = """\
title = "Guide (invented)"   # kept
device = "Quill"
kind = "manual"

[[command]]   # kept too
pattern = "0D"
meaning = "return"
keys = "CR"
"""
TABLE = {
    "name": "manual",
    "title": "Guide (invented)",
    "device": "Quill",
    "kind": "manual",
    "rows-count": "4",
    "pattern-0": "0D",
    "meaning-0": "return",
    "does-0": "carriage return",
    "page-0": "11",
    "pattern-2": "20..7E",
    "meaning-2": "print",
    "does-2": "print",
}


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """A new study."""
    new_study(tmp_path / "found")
    return tmp_path / "found"


@pytest.fixture
def client(study: Path) -> Iterator[TestClient]:
    """A browser on the desk's own address."""
    app = make_app(study, token=TOKEN, weigh=weigh_study, loads=lambda _: {}, port=PORT)
    with TestClient(app, base_url=BASE, raise_server_exceptions=False, headers={"origin": BASE}) as opened:
        yield opened


def _post(client: TestClient, path: str, files: Any = None, **sent: str) -> Response:
    return client.post(f"/{TOKEN}/{path}", data=sent, files=files)


def _get(client: TestClient, path: str) -> str:
    """A page that needs the weighing, once that is done."""
    while True:
        answer = client.get(f"/{TOKEN}/{path}")
        if "The study is being weighed" not in answer.text and "are being weighed" not in answer.text:
            return answer.text


def _words(text: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", text)).split())


def _held(text: str, name: str) -> str:
    """What a field of the page holds."""
    area = re.search(rf'<textarea id="{name}"[^>]*>\n?(.*?)</textarea>', text, re.DOTALL)
    line = re.search(rf'name="{name}"[^>]* value="([^"]*)"', text)
    found = area or line
    assert found is not None, name
    return html.unescape(found[1])


def _files(study: Path) -> dict[str, bytes]:
    return {str(path.relative_to(study)): path.read_bytes() for path in study.rglob("*") if path.is_file()}


def test_empty_study(client: TestClient) -> None:
    """The table of an empty study says what is missing and leads to the forms."""
    text = _get(client, "")
    assert "This study holds nothing yet" in text
    for href in ("enter", "enter-run", "enter-document", "enter-file?kind=image", "edit?file=board/card.nets"):
        assert f'href="{href}"' in text
        assert client.get(f"/{TOKEN}/{href}").status_code == 200
    assert "the wire says nothing so far" in _words(text)


def test_run(client: TestClient, study: Path) -> None:
    """A pasted run is a log, is shown at once, gets further runs, and is taken back by Undo, step by step."""
    answer = _post(client, "enter-run", name="power-on", bytes="16 5A 0D\r\n16 0D\r\n", note="invented")
    assert answer.url.path == f"/{TOKEN}/enter"
    assert "Kept: paste 2 runs into wire/power-on.log" in _words(answer.text)
    assert (study / "wire/power-on.log").read_text() == "# invented\n16 5A 0D\n16 0D\n"
    table = _words(_get(client, ""))
    assert "sequence power-on" in table
    assert "the wire says nothing so far" not in table
    _post(client, "enter-run", into="wire/power-on.log", bytes="16 5A 0D")
    assert (study / "wire/power-on.log").read_text().endswith("16 0D\n16 5A 0D\n")
    _post(client, "undo", back="enter")
    assert (study / "wire/power-on.log").read_text().endswith("16 5A 0D\n16 0D\n")
    assert _post(client, "undo", back="enter").url.path == f"/{TOKEN}/enter"
    assert not (study / "wire/power-on.log").exists()


def test_run_wrong(client: TestClient, study: Path) -> None:
    """A wrong paste is refused with its line, is still in the form, and nothing is written."""
    before = _files(study)
    answer = _post(client, "enter-run", name="power-on", bytes="16 5A\n16 ZZ\n", note="the evening")
    assert answer.status_code == 422
    assert "what you pasted:2 : 'ZZ' is not a byte" in _words(answer.text)
    assert _held(answer.text, "bytes") == "16 5A\n16 ZZ\n"
    assert _held(answer.text, "note") == "the evening"
    assert _files(study) == before


def test_document(client: TestClient, study: Path) -> None:
    """A manual's table is typed in; rows left empty are no rows."""
    answer = _post(client, "enter-document", **TABLE)
    assert "Kept: make documents/manual.toml with 2 rows" in _words(answer.text)
    data = tomllib.loads((study / "documents/manual.toml").read_text())
    assert [row["pattern"] for row in data["command"]] == ["0D", "20..7E"]
    assert data["command"][0]["page"] == 11
    assert "code 0D" in _words(_get(client, ""))
    assert "documents/manual.toml" in _words(client.get(f"/{TOKEN}/enter").text)


def test_document_wrong(client: TestClient, study: Path) -> None:
    """A row that breaks a rule is named, and every row is still in the form."""
    before = _files(study)
    answer = _post(client, "enter-document", **{**TABLE, "pattern-2": "2G"})
    assert answer.status_code == 422
    assert "row 2 (pattern) : part '2G' is not understood" in _words(answer.text)
    assert _held(answer.text, "pattern-2") == "2G"
    assert _held(answer.text, "meaning-0") == "return"
    assert '<option value="carriage return" selected>' in answer.text
    assert _files(study) == before
    half = _post(client, "enter-document", **TABLE, **{"paper-columns": "24"})
    assert "key 'head_dots' is missing" in _words(half.text)
    assert _held(half.text, "paper-columns") == "24"


def test_row(client: TestClient, study: Path) -> None:
    """A row is changed where it stands, with all comments kept; another is added behind it."""
    file = study / "documents/manual.toml"
    file.write_text(MANUAL)
    page = client.get(f"/{TOKEN}/enter-row?file=documents/manual.toml&number=1").text
    assert _held(page, "meaning") == "return"
    seen = _held(page, "seen")
    answer = _post(
        client, "enter-row", file="documents/manual.toml", number="1", seen=seen, pattern="0D", meaning="to the left"
    )
    assert answer.url.path == f"/{TOKEN}/enter-row"
    assert file.read_text() == MANUAL.replace('"return"', '"to the left"')
    _post(client, "enter-row", file="documents/manual.toml", number="", pattern="0A", meaning="feed", does="line feed")
    assert file.read_text().startswith(MANUAL.replace('"return"', '"to the left"'))
    assert file.read_text().endswith('[[command]]\npattern = "0A"\nmeaning = "feed"\ndoes = "line feed"\n')


def test_row_wrong(client: TestClient, study: Path) -> None:
    """A row changed meanwhile is refused with both texts; sent again after that, it takes its place among theirs."""
    file = study / "documents/manual.toml"
    file.write_text(MANUAL)
    page = client.get(f"/{TOKEN}/enter-row?file=documents/manual.toml&number=1").text
    theirs = MANUAL.replace('keys = "CR"', 'keys = "RETURN"').replace("Guide", "Their guide")
    file.write_text(theirs)
    sent = {"file": "documents/manual.toml", "number": "1", "pattern": "0D", "meaning": "mine"}
    answer = _post(client, "enter-row", **sent, seen=_held(page, "seen"))
    assert answer.status_code == 409
    assert file.read_text() == theirs
    assert "was changed meanwhile; nothing is written, and both texts are shown" in _words(answer.text)
    assert "Their guide" in answer.text
    assert "meaning: mine" in answer.text
    assert _held(answer.text, "meaning") == "mine"
    again = _post(client, "enter-row", **sent, seen=_held(answer.text, "seen"))
    assert again.status_code == 200
    assert file.read_text() == theirs.replace('"return"', '"mine"')
    for wrong in ("study.toml", "documents/none.toml", "../x.toml", ""):
        assert client.get(f"/{TOKEN}/enter-row?file={wrong}").status_code == 404


def test_row_out(client: TestClient, study: Path) -> None:
    """What would go is shown first; then just that goes, and Undo brings it back."""
    _post(client, "enter-document", **TABLE)
    file = study / "documents/manual.toml"
    before = file.read_text()
    goes = '\n[[command]]\npattern = "20..7E"\nmeaning = "print"\ndoes = "print"\n'
    rows = client.get(f"/{TOKEN}/enter-row?file=documents/manual.toml").text
    assert "enter-row-out?file=documents%2Fmanual.toml&amp;number=2" in rows
    page = _get(client, "enter-row-out?file=documents/manual.toml&number=2")
    assert f'aria-labelledby="goes">\n{html.escape(goes, quote=False).replace(chr(34), "&#34;")}</pre>' in page
    assert file.read_text() == before
    answer = _post(client, "enter-row-out", file="documents/manual.toml", number="2", seen=_held(page, "seen"))
    assert answer.url.path == f"/{TOKEN}/enter-row"
    assert file.read_text() == before.replace(goes, "")
    _post(client, "undo", back="enter")
    assert file.read_text() == before


def test_row_out_wrong(client: TestClient, study: Path) -> None:
    """A row that changed since it was shown, or on which a finding rests, stays; so does all of a hand-written file."""
    _post(client, "enter-document", **TABLE)
    file = study / "documents/manual.toml"
    sent = {"file": "documents/manual.toml", "number": "1"}
    page = _get(client, "enter-row-out?file=documents/manual.toml&number=1")
    file.write_text(file.read_text().replace('"return"', '"return of the carriage"'))
    late = _post(client, "enter-row-out", **sent, seen=_held(page, "seen"))
    assert late.status_code == 422
    told = "documents/manual.toml : was changed meanwhile; nothing is taken out: look again at what would go"
    assert told in _words(late.text)
    assert "return of the carriage" in late.text
    finding = '[[finding]]\nname = "cr"\nrests_on = ["code 0D"]\nsentence = "It returns."\n'
    (study / "findings.toml").write_text(finding)
    _get(client, "")
    held = _post(client, "enter-row-out", **sent, seen=_held(late.text, "seen"))
    assert (
        "findings.toml:3 (finding[1].rests_on[1]) : finding 'cr' rests on 'code 0D', of which this row speaks; "
        "withdraw the finding first" in _words(held.text)
    )
    assert "return of the carriage" in file.read_text()
    file.write_text(MANUAL)
    text = _get(client, "enter-row-out?file=documents/manual.toml&number=1")
    assert "documents/manual.toml:1 (a comment): holds what the desk's forms do not write" in _words(text)
    for number in ("", "0", "9", "-1", RUDE):
        answer = _post(client, "enter-row-out", file="documents/manual.toml", number=number)
        assert answer.status_code == 404
        assert "<script>alert" not in answer.text
    for other in ("study.toml", "../x.toml", RUDE, ""):
        assert _post(client, "enter-row-out", file=other, number="1").status_code == 404
    assert file.read_text() == MANUAL


def test_readings(client: TestClient, study: Path) -> None:
    """Readings go to the readings file, with the caution beside the form; wrong ones are named by their line."""
    refused = _post(client, "enter-readings", file="board/trace.readings", readings="joined u1.3 u2.5")
    assert "the study has no net file" in _words(refused.text)
    (study / "board/card.nets").write_text(NETS)
    page = _words(client.get(f"/{TOKEN}/enter-readings").text)
    assert "the machine is off, unplugged, and the board out of it" in page
    wrong = _post(client, "enter-readings", file="board/trace.readings", readings="joined u1.3 u2.5\njoined u9.1 u1.2")
    assert "what you typed:2" in _words(wrong.text)
    assert _held(wrong.text, "readings") == "joined u1.3 u2.5\njoined u9.1 u1.2"
    answer = _post(client, "enter-readings", file="board/trace.readings", readings="joined u1.3 u2.5")
    assert "Kept: enter 1 reading in board/trace.readings" in _words(answer.text)
    assert (study / "board/trace.readings").read_text() == "joined u1.3 u2.5\n"


def test_note_and_about(client: TestClient, study: Path) -> None:
    """Notes stand in their file; the title stands on every page."""
    _post(client, "enter-note", note="Coffee on page 19.", day="2026-11-26")
    assert (study / "notes.txt").read_text().endswith("\n2026-11-26\nCoffee on page 19.\n")
    page = client.get(f"/{TOKEN}/enter-about").text
    seen = _held(page, "seen")
    before = (study / "study.toml").read_text()
    _post(client, "enter-about", title="The card", about="One\ntwo", seen=seen)
    after = (study / "study.toml").read_text()
    assert tomllib.loads(after) == {"title": "The card", "about": "One\ntwo"}
    assert before.count("#") == after.count("#")
    assert "The card" in _get(client, "")
    late = _post(client, "enter-about", title="Late", about="", seen=seen)
    assert late.status_code == 409
    assert _held(late.text, "title") == "Late"
    assert (study / "study.toml").read_text() == after


def test_file(client: TestClient, study: Path) -> None:
    """A file lands in the folder of its kind; what comes next is said; one that is there is not replaced unasked."""
    image = ("ROM.bin", bytes(range(256)), "application/octet-stream")
    answer = _post(client, "enter-file", {"content": image}, kind="image", name="rom.bin")
    assert (study / "program/rom.bin").read_bytes() == bytes(range(256))
    assert 'file = "program/rom.bin"\nload = "infer"' in html.unescape(answer.text)
    again = _post(client, "enter-file", {"content": ("rom.bin", b"x", "")}, kind="image", name="")
    assert again.status_code == 422
    assert "program/rom.bin : is there already" in _words(again.text)
    _post(client, "enter-file", {"content": ("rom.bin", b"x", "")}, kind="image", replace="yes")
    assert (study / "program/rom.bin").read_bytes() == b"x"
    _post(client, "undo", back="enter")
    assert (study / "program/rom.bin").read_bytes() == bytes(range(256))


def test_image_listed(client: TestClient, study: Path) -> None:
    """An image may be listed in the same step, and one Undo takes both back."""
    before = (study / "study.toml").read_bytes()
    rom = {"content": ("rom.bin", bytes(2048), "")}
    wrong = _post(client, "enter-file", rom, kind="image", list="yes", load="somewhere")
    assert wrong.status_code == 422
    assert _held(wrong.text, "load") == "somewhere"
    _post(client, "enter-file", rom, kind="image", list="yes", load="E000", cpu="6502")
    assert b'file = "program/rom.bin"\nload = "E000"\n' in (study / "study.toml").read_bytes()
    _post(client, "undo", back="enter")
    assert (study / "study.toml").read_bytes() == before
    assert not (study / "program/rom.bin").exists()


@pytest.mark.parametrize("name", ["../x.bin", "..", "/tmp/x.bin", ".hidden", "a\\b.bin", "a\0b", RUDE, "x" * 300])
def test_file_wrong(name: str, client: TestClient, study: Path) -> None:
    """A hostile name goes nowhere, whether it is typed or the file's own."""
    before = _files(study.parent)
    typed = _post(client, "enter-file", {"content": ("rom.bin", b"x", "")}, kind="image", name=name)
    own = _post(client, "enter-file", {"content": (name, b"x", "")}, kind="image")
    assert typed.status_code == 404
    assert "<script>alert" not in typed.text + own.text
    made = set(_files(study.parent)) - set(before)
    assert made <= {"found/program/a%00b"}  # as the test's client writes that name
    assert _post(client, "enter-file", kind="image", name="a.bin").status_code == 404


def test_text(client: TestClient, study: Path) -> None:
    """A file is changed as text, and a new one made; what was on the disk comes back as it was."""
    (study / "board/card.nets").write_bytes(NETS.replace("\n", "\r\n").encode())
    page = client.get(f"/{TOKEN}/edit?file=board/card.nets").text
    assert _held(page, "text") == NETS
    changed = NETS + "net a u1.3 u2.5\n"
    _post(client, "edit", file="board/card.nets", text=changed.replace("\n", "\r\n"), seen=_held(page, "seen"))
    assert (study / "board/card.nets").read_bytes() == changed.replace("\n", "\r\n").encode()
    _post(client, "edit", file="new/deep.txt", text="\nnew\n", seen="")
    assert (study / "new/deep.txt").read_text() == "\nnew\n"
    assert _held(client.get(f"/{TOKEN}/edit?file=new/deep.txt").text, "text") == "\nnew\n"


def test_text_overtaken(client: TestClient, study: Path) -> None:
    """Two sides write: the page shows both, keeps ours, and keeps theirs on the disk until we say so."""
    page = client.get(f"/{TOKEN}/edit?file=study.toml").text
    (study / "study.toml").write_text('title = "theirs"\n')
    answer = _post(client, "edit", file="study.toml", text='title = "ours"\n', seen=_held(page, "seen"))
    assert answer.status_code == 409
    assert (study / "study.toml").read_text() == 'title = "theirs"\n'
    assert "study.toml as it is now" in _words(answer.text)
    assert 'title = "theirs"' in html.unescape(answer.text)
    assert _held(answer.text, "text") == 'title = "ours"\n'
    _post(client, "edit", file="study.toml", text='title = "both"\n', seen=_held(answer.text, "seen"))
    assert (study / "study.toml").read_text() == 'title = "both"\n'
    _post(client, "undo", back="enter")
    assert (study / "study.toml").read_text() == 'title = "theirs"\n'
    page = client.get(f"/{TOKEN}/edit?file=study.toml").text
    (study / "study.toml").unlink()
    gone = _post(client, "edit", file="study.toml", text='title = "ours"\n', seen=_held(page, "seen"))
    assert "study.toml : is no longer there; nothing is written" in _words(gone.text)
    assert _held(gone.text, "text") == 'title = "ours"\n'


@pytest.mark.parametrize("file", ["../secret.txt", "link.txt", "/etc/hostname", ".latchlore-change", "history.txt", ""])
def test_text_outside(file: str, client: TestClient, study: Path) -> None:
    """Nothing outside of the study is shown or written, and the history is not changed as text."""
    (study.parent / "secret.txt").write_text("the secret")
    (study / "history.txt").write_text("# kept\n")
    os.symlink(study.parent / "secret.txt", study / "link.txt")
    for answer in (
        client.get(f"/{TOKEN}/edit?file={file}"),
        _post(client, "edit", file=file, text="x", seen=""),
        _post(client, "edit", file=file, text="x", seen="0" * 64),
    ):
        assert answer.status_code in (404, 422), file
        assert "the secret" not in answer.text
    assert (study.parent / "secret.txt").read_text() == "the secret"
    assert (study / "history.txt").read_text() == "# kept\n"


def test_broken_study_is_mended(client: TestClient, study: Path) -> None:
    """A mistake leads to its place, from there to the text, and the study can be read again."""
    (study / "study.toml").write_text("title = 7\n")
    text = _get(client, "")
    assert "study.toml:1 (title)" in _words(text)
    (place,) = re.findall(r'href="(place\?[^"]+)"', text)
    assert 'href="edit?file=study.toml"' in _get(client, html.unescape(place))
    page = client.get(f"/{TOKEN}/edit?file=study.toml").text
    _post(client, "edit", file="study.toml", text='title = "mended"\n', seen=_held(page, "seen"))
    assert "mended" in _get(client, "")


def test_name_that_is_no_text(client: TestClient, study: Path) -> None:
    """A file whose name is not UTF-8 keeps no page from being shown."""
    (study / os.fsdecode(b"wire/\xff.log")).write_bytes(b"16 5A\n")
    for path in ("", "enter", "enter-run", "enter-document", "enter-readings", "record", "record-add"):
        assert "A fault of Latchlore" not in _get(client, path), path
    assert "study.toml" in client.get(f"/{TOKEN}/enter").text


def test_script_stays_text(client: TestClient, study: Path) -> None:
    """Script in every field of every form, in names and in files, is shown as text."""
    (study / "documents/manual.toml").write_text(MANUAL.replace('"return"', '"""<script>alert(1)</script>"""'))
    (study / "wire/<b>x.log").write_text("16 5A\n")
    (study / "board/card.nets").write_text(NETS)
    answers = [
        _post(client, "enter-run", name=RUDE, bytes=RUDE, note=RUDE, into=RUDE, numbers=RUDE, runs=RUDE),
        _post(client, "enter-run", name="a", bytes="16 5A", note=RUDE),
        _post(client, "enter-document", **dict.fromkeys(TABLE, RUDE)),
        _post(client, "enter-document", **{**TABLE, "name": "b", "title": RUDE, "device": RUDE, "meaning-0": RUDE}),
        _post(client, "enter-row", file=RUDE, number=RUDE, pattern=RUDE),
        _post(client, "enter-row", file="documents/manual.toml", number="", pattern=RUDE, meaning=RUDE),
        _post(client, "enter-row", file="documents/manual.toml", number="", pattern="0A", meaning=RUDE, quote=RUDE),
        _post(client, "enter-readings", file=RUDE, readings=RUDE, note=RUDE),
        _post(client, "enter-readings", file="board/trace.readings", readings=RUDE),
        _post(client, "enter-note", note=RUDE, day=RUDE),
        _post(client, "enter-about", title=RUDE, about=RUDE, seen=RUDE),
        _post(client, "edit", file=RUDE, text=RUDE, seen=RUDE),
        _post(client, "edit", file="rude.txt", text=RUDE, seen=""),
        _post(client, "enter-file", {"content": (RUDE, b"x", "")}, kind=RUDE, name=RUDE),
        client.get(f"/{TOKEN}/enter", params={"kept": "scan", "file": RUDE, "sum": RUDE}),
        client.get(f"/{TOKEN}/edit?file=rude.txt"),
        client.get(f"/{TOKEN}/enter-row?file=documents/manual.toml"),
    ]
    about = client.get(f"/{TOKEN}/enter-about").text
    answers.append(_post(client, "enter-about", title=RUDE, about=RUDE, seen=_held(about, "seen")))
    shown = [answer.text for answer in answers] + [_get(client, path) for path in ("", "enter", "record", "paper")]
    for text in shown:
        assert "<script>alert" not in text
        assert "<b>x" not in text
    assert RUDE in (study / "rude.txt").read_text()


def test_nothing_by_get(client: TestClient, study: Path) -> None:
    """Reading changes no file, whatever is asked."""
    before = _files(study)
    for path in (
        "enter-run?name=a&bytes=16",
        "enter-note?note=x",
        "enter-about?title=x",
        "edit?file=a.txt&text=x",
        "record-question?name=a&text=x",
    ):
        assert client.get(f"/{TOKEN}/{path}").status_code == 200
    assert _files(study) == before


def test_other_page_wrong(client: TestClient, study: Path) -> None:
    """A form on a page from elsewhere changes nothing."""
    before = _files(study)
    for path in ("enter-run", "enter-document", "enter-note", "edit", "enter-file", "record-add", "record-question"):
        answer = client.post(f"/{TOKEN}/{path}", data={"name": "a"}, headers={"origin": "http://evil.example"})
        assert answer.status_code == 403
    assert _files(study) == before


FORM_TYPE = "application/x-www-form-urlencoded"
ODD = [
    (FORM_TYPE, b"\xff\xfe=%ff%fe&name=%00&bytes=%80"),
    (FORM_TYPE, b"&".join(b"name=a" for _ in range(20_000))),
    (FORM_TYPE, b"bytes=" + b"1B+" * 2_000_000),
    (FORM_TYPE, b"note=" + b"x" * (2 << 20) + b"&text=" + b"x" * (2 << 20) + b"&file=a.txt&title=" + b"y" * (2 << 20)),
    (FORM_TYPE, b"text=%ED%A0%80&note=%ED%A0%80&file=a.txt&seen=&day=%ED%A0%80&title=%ED%A0%80"),
    (FORM_TYPE, b"number=" + b"9" * 5000 + b"&rows-count=" + b"9" * 5000 + b"&sure=" + b"9" * 5000),
    ("multipart/form-data", b"no boundary"),
    ("multipart/form-data; boundary=x", b"--x\r\nbroken"),
    ("multipart/form-data; boundary=x", b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\n' * 1200 + b"--x--"),
    ("application/json", b'{"name": "a"}'),
    ("", b"name=a"),
]


FORMS = (
    "enter-run enter-document enter-note enter-about enter-file edit enter-row enter-readings record-add record-filled"
    " record-unsay record-question record-trial enter-row-out"
)


@pytest.mark.parametrize("path", FORMS.split())
def test_odd_bodies(path: str, client: TestClient, study: Path) -> None:
    """Whatever is sent is refused without a fault, changes nothing that was there, and the desk goes on working."""
    before = _files(study)
    for kind, body in ODD:
        answer = client.post(f"/{TOKEN}/{path}", content=body, headers={"content-type": kind})
        assert answer.status_code < 500, (kind, body[:40])
        assert "A fault of Latchlore" not in answer.text
    after = _files(study)
    assert {file: after[file] for file in before} == before
    assert all(file in {"a.txt", "notes.txt"} for file in set(after) - set(before))
    assert client.get(f"/{TOKEN}/enter").status_code == 200


def test_many_at_once(client: TestClient, study: Path) -> None:
    """Sixteen pastes at the same moment: each is kept whole or refused whole, and told which."""
    _post(client, "enter-run", name="a", bytes="16 5A", runs="line")

    def paste(k: int) -> int:
        return _post(client, "enter-run", into="wire/a.log", bytes=f"16 {k:02X}").status_code

    with ThreadPoolExecutor(16) as pool:
        codes = list(pool.map(paste, range(16)))
    kept = (study / "wire/a.log").read_text().splitlines()[2:]
    assert set(codes) <= {200, 422}
    assert sorted(kept) == [f"16 {k:02X}" for k, code in enumerate(codes) if code == 200]

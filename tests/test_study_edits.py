"""Changes planned for a study's files: what is written, what is refused, and that nobody's work is lost."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latchlore.base import BadInput, StudyError, UnknownName
from latchlore.study import (
    Edit,
    Overtaken,
    check_path,
    content_of,
    digest_of,
    document_files,
    load_study,
    log_files,
    new_study,
    open_about,
    open_text,
    plan_about,
    plan_document,
    plan_log,
    plan_note,
    plan_readings,
    plan_row,
    plan_runs,
    plan_text,
    plan_upload,
    readings_files,
    rows_of,
    weigh_study,
    with_image,
    write_edit,
)

LOG = "16 5A 0D\n16 0D\n"
NETS = "board card (invented)\nhost 6502\npart u1 74ls138\npart u2 74ls00\n"


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """A new study, as `latchlore new` makes it."""
    new_study(tmp_path / "found")
    return tmp_path / "found"


def _written(study: Path, edit: Edit) -> str:
    write_edit(study, edit)
    (file,) = edit.files
    return (study / file).read_text()


def _message(edit: object) -> str:
    with pytest.raises(StudyError) as error:
        edit()  # type: ignore[operator]
    return str(error.value)


def test_plan_log(study: Path) -> None:
    """A pasted log is a file of its own, with what was stated about it above; it is a study by itself."""
    edit = plan_log(study, "power-on", "\r\n16 5A 0D\r\n16 0D\r\n\r\n", numbers="hex", runs="line", note="at the\ncard")
    assert edit.words == "paste 2 runs into wire/power-on.log"
    assert _written(study, edit) == "# at the card\nnumbers: hex\nruns: line\n16 5A 0D\n16 0D\n"
    assert str(weigh_study(study).rows[0].subject) == "sequence power-on"
    assert log_files(study) == ("wire/power-on.log",)


def test_plan_log_without_folder(tmp_path: Path) -> None:
    """A study that has no folder for logs gets one."""
    assert _written(tmp_path, plan_log(tmp_path, "a", LOG)) == LOG
    assert load_study(tmp_path).logs[0].sequence == "a"


def test_plan_log_wrong(study: Path) -> None:
    """A paste is checked first: its lines are counted as pasted, and names and kinds have rules."""
    assert _message(lambda: plan_log(study, "a", "16 5A\n16 ZZ\n", note="n")) == (
        "what you pasted:2: 'ZZ' is not a byte; a byte is 00 to FF in hexadecimal or 0 to 255 in decimal"
    )
    assert _message(lambda: plan_log(study, "a", "")) == "wire/a.log: the log holds no byte and no run"
    assert "every number of this log could be hexadecimal or decimal" in _message(lambda: plan_log(study, "a", "10 20"))
    assert _message(lambda: plan_log(study, "a", LOG, runs="page")) == (
        "numbers are hex, decimal or left open, runs line, block, file or left open, not '' and 'page'"
    )
    write_edit(study, plan_log(study, "a", LOG))
    for name in ("a", "A", "a.log", "a.LOG"):
        assert _message(lambda name=name: plan_log(study, name, LOG)).endswith(
            "is there already; take another name, or say that it may be replaced"
        )


@pytest.mark.parametrize(
    "name",
    ["", ".", "..", ".hidden", "a/../b", "a/b/c/d", "/etc/x", "a\\b", "a:b", "<b>", "a\0b", "a\nb", "-rf", " a", "CON",
     "nul.log", "lpt1.txt", "x" * 81, "\u202ea", "é" * 79 + "\U0001f4a1" * 20, "\ud800"],
)  # fmt: skip
def test_names_wrong(name: str, study: Path) -> None:
    """Names that lead elsewhere, hide, or cannot be handed on are refused, and nothing is made."""
    before = sorted(study.rglob("*"))
    with pytest.raises(UnknownName, match=r"^a (name|path) "):
        plan_log(study, name, LOG)
    assert sorted(study.rglob("*")) == before


def test_names_of_paths_wrong() -> None:
    """The history is only ever added to, and folders are few."""
    assert _message(lambda: check_path("history.txt")) == (
        "the history is only ever added to; it is not changed as text"
    )
    assert _message(lambda: check_path("a/b/c/d/e")) == "a path has at most 4 parts, not 'a/b/c/d/e'"
    for name in ("a.", "a ", "wire/a./b"):
        assert "does not end with a dot or a blank" in _message(lambda name=name: check_path(name))
    assert check_path("wire/Größe 2.log") == "wire/Größe 2.log"


def test_plan_runs(study: Path) -> None:
    """Runs go to the end of a log in its own manner; every byte that was there stays."""
    (study / "wire/a.log").write_text("# first\nruns: line\n16 5A 0D", "utf-8")
    edit = plan_runs(study, "wire/a.log", "16 5A 0D\n16 0D", note="another evening")
    assert edit.words == "paste 2 runs into wire/a.log"
    assert _written(study, edit) == "# first\nruns: line\n16 5A 0D\n# another evening\n16 5A 0D\n16 0D\n"
    (study / "wire/b.log").write_bytes(b"runs: block\r\n16\r\n5A\r\n")
    edit = plan_runs(study, "wire/b.log", "16\n5A")
    write_edit(study, edit)
    assert (study / "wire/b.log").read_bytes() == b"runs: block\r\n16\r\n5A\r\n\r\n16\r\n5A\r\n"
    assert edit.words == "paste 1 run into wire/b.log"


def test_plan_runs_wrong(study: Path) -> None:
    """What is no run, or would change the runs above, is refused by its line; so is a log that is one run."""
    (study / "wire/a.log").write_text("16 5A 0D\n")
    assert _message(lambda: plan_runs(study, "wire/a.log", "16\nfrog", note="n")) == (
        "what you pasted:2: 'frog' is not a byte; a byte is 00 to FF in hexadecimal or 0 to 255 in decimal"
    )
    assert _message(lambda: plan_runs(study, "wire/c.log", "16")) == (
        "the study has no byte log 'wire/c.log'; known are 'wire/a.log'"
    )
    assert "the study has no byte log '../a.log'" in _message(lambda: plan_runs(study, "../a.log", "16"))
    (study / "wire/a.log").write_text("runs: file\n16 5A 0D\n")
    assert _message(lambda: plan_runs(study, "wire/a.log", "16")) == (
        "wire/a.log: is one run as a whole; put the next run into a log of its own"
    )
    (study / "wire/a.log").write_text("0A 0B 0C 0D 0E 0F 10 11\n")  # one line of eight: a listing, when more follow
    assert _message(lambda: plan_runs(study, "wire/a.log", "12 13 14 15 16 17 18 19")) == (
        "wire/a.log: with these lines the runs above them would be read in another way; say what a run is in the log's "
        "first line, such as 'runs: line'"
    )


def test_two_writers_wrong(study: Path) -> None:
    """What another wrote between the plan and the writing is not overwritten."""
    (study / "wire/a.log").write_text(LOG)
    edit = plan_runs(study, "wire/a.log", "16")
    (study / "wire/a.log").write_text("# by hand\n" + LOG)
    with pytest.raises(BadInput, match=r"^wire/a\.log: was changed meanwhile by another process; nothing is written"):
        write_edit(study, edit)
    assert (study / "wire/a.log").read_text() == "# by hand\n" + LOG


HEAD = {"title": "Guide (invented)", "device": "Quill", "kind": "manual", "edition": ""}
ROWS = [
    {"pattern": "0D", "meaning": "return", "does": "carriage return", "page": "11", "row": "2"},
    {"pattern": "20..7E", "meaning": "print", "does": "print", "page": "B-3", "doubt": "smudged"},
]
PAPER = {
    "head_dots": "144",
    "dot_x": "0.33 mm",
    "dot_y": "0.35 mm",
    "columns": "24",
    "cell_dots": "6",
    "line_feed": "9",
}


def test_plan_document(study: Path) -> None:
    """A manual's table is typed in; numbers are numbers, and the paper is there where the manual tells it."""
    edit = plan_document(study, "quill", HEAD, ROWS, PAPER)
    assert edit.words == "make documents/quill.toml with 2 rows"
    data = tomllib.loads(_written(study, edit))
    assert data["command"][0] == {
        "pattern": "0D", "meaning": "return", "does": "carriage return", "page": 11, "row": 2
    }  # fmt: skip
    assert data["command"][1]["page"] == "B-3"
    assert data["paper"]["head_dots"] == 144
    assert data["title"] == "Guide (invented)"
    assert "edition" not in data
    assert document_files(study) == ("documents/quill.toml",)
    assert {str(row.subject) for row in weigh_study(study).rows} == {"code 0D", "code 20..7E"}


def test_plan_document_wrong(study: Path) -> None:
    """A row that breaks a rule is named by its number and column; nothing is made."""
    assert _message(lambda: plan_document(study, "q", HEAD, [ROWS[0], {"pattern": "1G", "meaning": "x"}])) == (
        "row 2 (pattern): part '1G' is not understood; a byte is two upper-case hexadecimal digits, not '1G'"
    )
    assert _message(lambda: plan_document(study, "q", {**HEAD, "kind": "rumour"}, ROWS)).startswith(
        "documents/q.toml (kind): this is one of manual, "
    )
    assert _message(lambda: plan_document(study, "q", HEAD, [{"pattern": "0D"}])) == ("row 1: key 'meaning' is missing")
    assert document_files(study) == ()


def test_plan_row(study: Path) -> None:
    """A row is added behind the others, or changed in its place; comments and other keys stay."""
    file = study / "documents/quill.toml"
    file.write_text(
        'title = "G"  # kept\ndevice = "Q"\nkind = "manual"\n\n[[command]]\n'
        'pattern = "0D"\nmeaning = "return"  # kept\n'
        'keys = "CR"\n\n# kept: the paper\n[interface]\ndata_bits = 8\n'
    )
    raw = file.read_bytes()
    added = _written(study, plan_row(study, "documents/quill.toml", None, ROWS[1]))
    assert added == raw.decode().replace(
        'keys = "CR"\n',
        'keys = "CR"\n\n[[command]]\npattern = "20..7E"\n'
        'meaning = "print"\ndoes = "print"\npage = "B-3"\ndoubt = "smudged"\n',
    )
    row = {**rows_of(added.encode(), "x")[0], "meaning": "return to the left", "page": "3"}
    seen = digest_of(content_of(study, "documents/quill.toml"))
    edit = plan_row(study, "documents/quill.toml", 1, row, seen)
    assert edit.words == "change row 1 of documents/quill.toml"
    assert _written(study, edit) == added.replace(
        'meaning = "return"  # kept\nkeys = "CR"\n', 'meaning = "return to the left"  # kept\nkeys = "CR"\npage = 3\n'
    )


def test_plan_row_wrong(study: Path) -> None:
    """A row that was changed meanwhile is refused with both sides; so is what the table's reader refuses."""
    write_edit(study, plan_document(study, "quill", HEAD, ROWS))
    file = "documents/quill.toml"
    with pytest.raises(Overtaken, match=r"^documents/quill\.toml: was changed meanwhile; nothing is written") as error:
        plan_row(study, file, 1, {"pattern": "0D", "meaning": "mine"}, "0" * 64)
    assert error.value.theirs == (study / file).read_text()
    assert error.value.ours == "pattern: 0D\nmeaning: mine"
    assert _message(lambda: plan_row(study, file, 3, {"pattern": "0D"})) == f"{file} has no command row 3; it has 2"
    assert _message(lambda: plan_row(study, "documents/none.toml", 1, {})) == (
        "the study has no device table 'documents/none.toml'"
    )
    for other in ("study.toml", "documents/../study.toml", "../x.toml", "documents/.x.toml"):
        assert _message(lambda other=other: plan_row(study, other, None, ROWS[0])) == (
            f"the study has no device table {other!r}"
        )
    assert "row 3" in _message(lambda: plan_row(study, file, None, {"pattern": "0D", "meaning": "twice"}))


def test_plan_readings(study: Path) -> None:
    """Readings go to the end of their file, which is made where it is not there."""
    (study / "board/card.nets").write_text(NETS)
    assert readings_files(study) == ("board/trace.readings",)
    edit = plan_readings(study, "board/trace.readings", "joined u1.3 u2.5\n\napart u1.3 u2.6\n", note="first evening")
    assert edit.words == "enter 2 readings in board/trace.readings"
    assert _written(study, edit) == "# first evening\njoined u1.3 u2.5\napart u1.3 u2.6\n"
    again = plan_readings(study, "board/trace.readings", "joined u1.4 u2.1")
    assert again.words == "enter 1 reading in board/trace.readings"
    assert _written(study, again).endswith("apart u1.3 u2.6\njoined u1.4 u2.1\n")


def test_plan_readings_wrong(study: Path) -> None:
    """Statements that break a rule are named by the lines typed; without parts there is nothing to read against."""
    assert _message(lambda: plan_readings(study, "board/a.readings", "joined u1.3 u2.5")) == (
        "board: the study has no net file; write the parts list first: board/NAME.nets (docs/net-file.md)"
    )
    (study / "board/card.nets").write_text(NETS)
    assert _message(lambda: plan_readings(study, "board/a.readings", "joined u1.3 u2.5\njoined u9.1 u1.1")).startswith(
        "what you typed:2: "
    )
    for file in ("study.toml", "board/a.nets", "board/x/a.readings", "../a.readings"):
        assert _message(lambda file=file: plan_readings(study, file, "joined u1.3 u2.5")) == (
            f"a readings file is board/NAME.readings, not {file!r}"
        )
    assert _message(lambda: plan_readings(study, "board/a.readings", " \n")) == (
        "type at least one reading, such as 'joined u1.3 u2.5'"
    )


def test_plan_text(study: Path) -> None:
    """A file comes back as it was typed, its line ends as they were."""
    (study / "board/card.nets").write_bytes(b"board a\r\npart u1 74ls00\r\n")
    opened = open_text(study, "board/card.nets")
    assert opened.text == "board a\npart u1 74ls00\n"
    edit = plan_text(study, opened.file, opened.text + "part u2 74ls00\n", opened.seen)
    write_edit(study, edit)
    assert (study / "board/card.nets").read_bytes() == b"board a\r\npart u1 74ls00\r\npart u2 74ls00\r\n"
    assert (
        plan_text(study, opened.file, open_text(study, opened.file).text, open_text(study, opened.file).seen).files
        == {}
    )
    assert _written(study, plan_text(study, "board/new.txt", "new\n", "")) == "new\n"


def test_plan_text_wrong(study: Path, tmp_path: Path) -> None:
    """Neither side's work is lost; nothing outside is shown; what would not come back as it was is left alone."""
    opened = open_text(study, "study.toml")
    (study / "study.toml").write_text('title = "theirs"\n')
    with pytest.raises(Overtaken) as error:
        plan_text(study, "study.toml", "ours", opened.seen)
    assert (error.value.theirs, error.value.ours) == ('title = "theirs"\n', "ours")
    (study / "study.toml").unlink()
    with pytest.raises(Overtaken, match=r"^study\.toml: is no longer there; nothing is written$") as gone:
        plan_text(study, "study.toml", "ours", opened.seen)
    assert gone.value.theirs is None
    assert "is there already" in _message(lambda: plan_text(study, "wire/about.txt", "x", ""))
    (tmp_path / "secret.txt").write_text("secret")
    (study / "link.txt").symlink_to(tmp_path / "secret.txt")
    for file in ("link.txt", "../secret.txt"):
        assert "secret" not in _message(lambda file=file: open_text(study, file)).replace("secret.txt", "")
        told = _message(lambda file=file: plan_text(study, file, "x", "1" * 64))
        assert "secret" not in told.replace("secret.txt", "")
    (study / "mixed.txt").write_bytes(b"a\r\nb\n")
    assert _message(lambda: open_text(study, "mixed.txt")).startswith("mixed.txt: its lines end in several ways")
    (study / "raw.bin").write_bytes(b"\x00\x01")
    assert _message(lambda: open_text(study, "raw.bin")) == "raw.bin:1: holds the sign 00h, which no text holds"
    assert "0Bh" in _message(lambda: plan_text(study, "new.txt", "a\x0b", ""))
    (study / "long.txt").write_bytes(b"x" * ((1 << 20) + 1))
    assert "has 1048577 bytes" in _message(lambda: open_text(study, "long.txt"))


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"], include_characters="\n\t"), max_size=200))
def test_plan_text_any(text: str) -> None:
    """Any text is kept as it was typed, and shown again as it is kept."""
    import tempfile

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        write_edit(folder, plan_text(folder, "a.txt", text, ""))
        if not text.startswith("\ufeff"):
            assert open_text(folder, "a.txt").text == text


def test_plan_note(study: Path) -> None:
    """Notes stand under their days, and are no evidence."""
    write_edit(study, plan_note(study, "The coffee is on page 19.", "2026-11-26"))
    assert _written(study, plan_note(study, "So is the tea.\nBoth.", "2026-11-27")) == (
        "# Notes of this study.  Nothing is concluded from them.\n\n2026-11-26\nThe coffee is on page 19.\n"
        "\n2026-11-27\nSo is the tea.\nBoth.\n"
    )
    assert load_study(study).unread == ()
    assert _message(lambda: plan_note(study, " ", "2026-11-27")) == "a note holds at least one word"


def test_plan_about(study: Path) -> None:
    """Title and purpose are set in study.toml, every comment of which stays."""
    before = (study / "study.toml").read_text()
    title, about, seen = open_about(study)
    assert (title, about) == ("A study without a name", "")
    text = _written(study, plan_about(study, "The card", 'Two lines:\n"this" one.', seen))
    assert tomllib.loads(text) == {"title": "The card", "about": 'Two lines:\n"this" one.'}
    assert [line for line in text.split("\n") if "#" in line] == [line for line in before.split("\n") if "#" in line]
    with pytest.raises(Overtaken):
        plan_about(study, "Late", "", seen)
    assert _message(lambda: plan_about(study, " ", "", open_about(study)[2])) == (
        "a study has a title of at least one letter"
    )


def test_plan_upload(study: Path) -> None:
    """A file goes to the folder of its kind as it is; one that is there stays, unless it is said to be replaced."""
    edit = plan_upload(study, "image", "rom.bin", b"\x00\xff")
    write_edit(study, edit)
    assert edit.words == "bring the image program/rom.bin"
    assert (study / "program/rom.bin").read_bytes() == b"\x00\xff"
    assert _message(lambda: plan_upload(study, "image", "rom.bin", b"x")).startswith(
        "program/rom.bin: is there already"
    )
    write_edit(study, plan_upload(study, "image", "rom.bin", b"x", may_replace=True))
    assert (study / "program/rom.bin").read_bytes() == b"x"
    assert list(plan_upload(study, "scan", "Guide.PDF", b"%PDF").files) == ["documents/Guide.PDF"]
    assert list(plan_upload(study, "byte log", "a.log", LOG.encode()).files) == ["wire/a.log"]


def test_with_image(study: Path) -> None:
    """A brought image is listed, with what is known of it; the rest of study.toml stays; nothing is listed twice."""
    before = (study / "study.toml").read_text()
    edit = with_image(study, plan_upload(study, "image", "rom.bin", b"\x00\xff"), "E000", "6502")
    write_edit(study, edit)
    text = (study / "study.toml").read_text()
    assert text.startswith(before)
    assert tomllib.loads(text)["program"] == {"cpu": "6502"}
    assert tomllib.loads(text)["image"] == [{"file": "program/rom.bin", "load": "E000"}]
    again = plan_upload(study, "image", "rom.bin", b"x", may_replace=True)
    assert with_image(study, again, "F000") == again
    write_edit(study, with_image(study, plan_upload(study, "image", "other.bin", b"x")))
    assert tomllib.loads((study / "study.toml").read_text())["image"][1] == {
        "file": "program/other.bin", "load": "infer"
    }  # fmt: skip


def test_with_image_wrong(study: Path) -> None:
    """An address that is none is refused before anything is written."""
    edit = plan_upload(study, "image", "rom.bin", b"x")
    assert "'somewhere'" in _message(lambda: with_image(study, edit, "somewhere"))
    (study / "study.toml").write_text("title = = 1\n")
    assert _message(lambda: with_image(study, edit)).startswith("study.toml:1: not TOML: ")
    assert not (study / "program/rom.bin").exists()


def test_plan_upload_wrong(study: Path) -> None:
    """What would be read as something else, is too large or empty, or breaks its reader's rules is refused."""
    assert _message(lambda: plan_upload(study, "wish", "a", b"x")) == (
        "there is no kind of file 'wish'; known are 'image', 'capture', 'byte log', 'scan', 'net file'"
    )
    assert "ends in one of .pdf, .txt, .png, .jpg, .jpeg, .tif, .tiff, not 'a.toml'" in _message(
        lambda: plan_upload(study, "scan", "a.toml", b"x")
    )
    assert "would be read as another kind of file" in _message(lambda: plan_upload(study, "image", "a.log", b"x"))
    assert _message(lambda: plan_upload(study, "image", "a", b"")) == (
        "program/a: has 0 bytes; here it may have 1 to 16777216"
    )
    assert _message(lambda: plan_upload(study, "image", "r" * 81, b"x")).startswith("a name is up to 80 letters")
    assert "not a byte" in _message(lambda: plan_upload(study, "byte log", "a.log", b"frog"))
    for name in ("../x.pdf", "/x.pdf", ".x.pdf", "a/../../x.pdf", "x\\y.pdf"):
        with pytest.raises(UnknownName):
            plan_upload(study, "scan", name, b"x")
    assert [path.name for path in study.parent.iterdir()] == ["found"]


def test_write_edit_wrong(study: Path, tmp_path: Path) -> None:
    """A folder that is a link out of the study takes nothing."""
    (tmp_path / "out").mkdir()
    (study / "link").symlink_to(tmp_path / "out")
    with pytest.raises(BadInput, match=r"^link/sub/a\.txt: a path goes down from the study's folder, not "):
        write_edit(study, Edit("x", {"link/sub/a.txt": b"x"}, {"link/sub/a.txt": None}))
    with pytest.raises(BadInput, match=r"^\.\./a\.txt: a path goes down from the study's folder, not '\.\./a\.txt'$"):
        write_edit(study, Edit("x", {"../a.txt": b"x"}, {}))
    assert list((tmp_path / "out").iterdir()) == []

"""Files changed as text, notes, the study's title, and files that are brought from elsewhere."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from latchlore.base import BadInput, Origin, UnknownName, append_table, check_toml, decode_text, read_toml, set_keys
from latchlore.study import _editwords as words
from latchlore.study._edit import Edit, Overtaken, content_of, digest_of
from latchlore.study._editnames import check_path, place_for
from latchlore.study._load import STUDY_FILE
from latchlore.study._paths import LIMITS, NOTES, StudyFolder

if TYPE_CHECKING:
    from pathlib import Path

MAX_TEXT = 1 << 20
"""Bytes of a file that is changed as text; longer ones are for an editor."""


class TextFile(NamedTuple):
    """A file as it is shown to be changed: its text with lines that end in a line feed, and what tells its state."""

    file: str
    text: str
    seen: str


class Kind(NamedTuple):
    """A kind of file that is brought: the folder it goes to, the endings it may have (none: any), its most bytes."""

    sub: str
    endings: tuple[str, ...]
    most: int


KINDS = {
    "image": Kind("program", (), LIMITS["image"]),
    "capture": Kind("wire", (".vcd", ".csv", ".raw", ".bin", ".txt"), 30 << 20),
    "byte log": Kind("wire", (".log",), LIMITS["byte log"]),
    "scan": Kind("documents", (".pdf", ".txt", ".png", ".jpg", ".jpeg", ".tif", ".tiff"), 30 << 20),
    "net file": Kind("board", (".nets", ".v"), LIMITS["net file"]),
}
"""What may be brought, by its name for people."""


def open_text(folder: Path, file: str) -> TextFile:
    """A file of the study to be changed as text.

    Refuses a name as `check_path` does, a file that is not there, is not text, is longer than a mebibyte, or whose
    lines end in several ways (they would not come back as they were).
    """
    check_path(file)
    opened = StudyFolder(folder)
    if not opened.holds(file):
        raise UnknownName(words.NO_FILE.format(file=file))
    raw = opened.read(file, "study file").raw
    return TextFile(file, _plain(raw, file)[0], digest_of(raw))


def plan_text(folder: Path, file: str, text: str, seen: str) -> Edit:
    """A file as it was typed; `seen` is what `open_text` gave, empty for a new file.

    Lines end as they did.  Refuses (`Overtaken`) a file that was changed since it was shown.
    """
    check_path(file)
    if seen == "":
        sub, _, name = file.rpartition("/")
        place_for(folder, sub, name, "")
    raw = content_of(folder, file)
    if digest_of(raw) != seen:
        raise Overtaken(file, raw, text)
    newline = _plain(raw, file)[1] if raw is not None else "\n"
    content = _encoded(file, text.replace("\r\n", "\n").replace("\n", newline))
    if content == raw:
        return Edit(words.CHANGE_TEXT.format(file=file), {}, {})
    told = words.CHANGE_TEXT if raw is not None else words.NEW_TEXT
    return Edit(told.format(file=file), {file: content}, {file: raw})


def plan_note(folder: Path, text: str, day: str) -> Edit:
    """A note at the end of notes.txt, under its day; nothing is concluded from it."""
    text = text.strip()
    if not text:
        raise UnknownName(words.EMPTY_NOTE)
    entry = _encoded(NOTES, f"\n{' '.join(day.split())}\n{text}\n")
    raw = content_of(folder, NOTES)
    before = words.NOTES_HEAD.encode() if raw is None else raw
    gap = b"" if before.endswith(b"\n") else b"\n"
    return Edit(words.NOTE, {NOTES: before + gap + entry}, {NOTES: raw})


def plan_about(folder: Path, title: str, about: str, seen: str) -> Edit:
    """The study's title and what it is about, in study.toml; all else of the file stays.

    `seen`: what `open_about` gave.  Refuses (`Overtaken`) a file that was changed since.
    """
    raw = content_of(folder, STUDY_FILE)
    if digest_of(raw) != seen:
        raise Overtaken(STUDY_FILE, raw, f"title: {title}\nabout: {about}")
    title, about = " ".join(title.split()), about.strip()
    if not title:
        raise UnknownName(words.NO_TITLE)
    _encoded(STUDY_FILE, title + about)
    content = set_keys(raw or b"", STUDY_FILE, (), {"title": title, "about": about})
    return Edit(words.ABOUT, {} if content == raw else {STUDY_FILE: content}, {STUDY_FILE: raw})


def open_about(folder: Path) -> tuple[str, str, str]:
    """Title, what the study is about, and what tells the state of study.toml.  Refuses a file that is not TOML."""
    raw = content_of(folder, STUDY_FILE)
    data = read_toml(raw, STUDY_FILE).data if raw is not None else {}
    return str(data.get("title", "")), str(data.get("about", "")), digest_of(raw)


def plan_upload(folder: Path, kind: str, name: str, content: bytes, *, may_replace: bool = False) -> Edit:
    """A file that is brought, in the folder of its kind; its bytes are not changed.

    Refuses a kind that is not of `KINDS`, a name as `check_path` does or of another kind, more bytes than such a file
    may have, none, a byte log that its reader refuses, and a file that is there unless it may be replaced.
    """
    if kind not in KINDS:
        raise UnknownName(words.NO_SUCH_KIND.format(kind=kind), KINDS)
    sub, endings, most = KINDS[kind]
    if endings and not name.casefold().endswith(endings):
        raise UnknownName(words.NO_ENDING.format(kind=kind, name=name, endings=", ".join(endings)))
    file = place_for(folder, sub, name, "", may_replace=may_replace)
    if kind in {"scan", "image"}:
        _check_is_no_table(file)
    if not 0 < len(content) <= most:
        raise BadInput(Origin(file), words.SIZE.format(size=len(content), most=most))
    if kind == "byte log":
        from latchlore.wire import parse_log

        parse_log(content, file)
    if kind == "net file":
        decode_text(content, file)
    return Edit(words.UPLOAD.format(kind=kind, file=file), {file: content}, {file: content_of(folder, file)})


def with_image(folder: Path, edit: Edit, load: str = "", cpu: str = "") -> Edit:
    """A brought image, and its entry in study.toml; one that is listed there already stays as it is.

    `load`: its first address as a study writes it, `cpu`: the processor, which is written only where the study names
    none yet; empty: to be found.  Refuses what the rules of study.toml refuse.
    """
    from latchlore.study._layout import StudyTable

    (file,) = edit.files
    raw = content_of(folder, STUDY_FILE)
    data = read_toml(raw or b"", STUDY_FILE).data
    images = data.get("image", [])
    if isinstance(images, list) and any(isinstance(one, dict) and one.get("file") == file for one in images):
        return edit
    text = raw or b""
    if "program" not in data:
        gap = b"" if not text or text.endswith(b"\n") else b"\n"
        text = set_keys(text + gap + b"\n[program]\n", STUDY_FILE, ("program",), {"cpu": cpu.strip() or "infer"})
    text = append_table(text, STUDY_FILE, "image", {"file": file, "load": load.strip() or "infer"})
    check_toml(StudyTable, read_toml(text, STUDY_FILE))
    return Edit(edit.words, {**edit.files, STUDY_FILE: text}, {**edit.before, STUDY_FILE: raw})


def _check_is_no_table(file: str) -> None:
    if file.casefold().endswith((".toml", ".nets", ".log", ".v")):
        raise UnknownName(words.NO_TABLE_HERE.format(file=file))


def _plain(raw: bytes, file: str) -> tuple[str, str]:
    """The text with lines that end in a line feed, and how they ended."""
    if len(raw) > MAX_TEXT:
        raise BadInput(Origin(file), words.TOO_LONG.format(size=len(raw), most=MAX_TEXT))
    text = decode_text(raw, file)
    if text.startswith("\ufeff"):
        raise BadInput(Origin.at_line(file, 1), words.MARKED)
    pairs = text.count("\r\n")
    if text.count("\r") != pairs or (pairs and text.count("\n") != pairs):
        raise BadInput(Origin(file), words.MIXED_ENDS)
    text = text.replace("\r\n", "\n")
    _check_letters(file, text)
    return text, "\r\n" if pairs else "\n"


def _encoded(file: str, text: str) -> bytes:
    """The bytes of a text that was typed.  Refuses more than a mebibyte, and signs that no text holds."""
    content = text.encode("utf-8", "replace")
    if len(content) > MAX_TEXT:
        raise BadInput(Origin(file), words.TOO_LONG.format(size=len(content), most=MAX_TEXT))
    _check_letters(file, text)
    return content


def _check_letters(file: str, text: str) -> None:
    """Refuse signs that no text holds, with the line."""
    for number, line in enumerate(text.split("\n"), 1):
        for sign in line:
            if (ord(sign) < 32 and sign not in "\t\r\f\x1b") or sign == "\x7f":
                raise BadInput(Origin.at_line(file, number), words.NO_TEXT.format(code=ord(sign)))

"""The documents behind the tables: register, text search, the page of a row."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
from typing import TYPE_CHECKING

import pytest

from latchlore.base import BadInput, UnknownName
from latchlore.device import Device, ScanState, cited_page, find_text, read_device, register_sources

if TYPE_CHECKING:
    from pathlib import Path

PAGES = (["Quill 24 guide", "Contents"], ["ESC K n draws", "n dot columns."], ["Pins and signals"])


def write_pdf(pages: tuple[list[str], ...]) -> bytes:
    """A PDF of lines of text, its objects and cross-reference table laid out as ISO 32000-1, 7.5 says."""
    kids = " ".join(f"{4 + 2 * k} 0 R" for k in range(len(pages)))
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        f"<< /Type /Pages /Kids [{kids}] /Count {len(pages)} >>".encode(),
        b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
    ]
    for k, lines in enumerate(pages):
        shown = " ".join(f"({line}) Tj T*" for line in lines)
        content = f"BT /F1 12 Tf 14 TL 72 720 Td {shown} ET".encode()
        objects.append(
            f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents {5 + 2 * k} 0 R "
            "/Resources << /Font << /F1 3 0 R >> >> >>".encode()
        )
        objects.append(b"<< /Length %d >>\nstream\n%s\nendstream" % (len(content), content))
    made = bytearray(b"%PDF-1.4\n")
    places = []
    for number, body in enumerate(objects, 1):
        places.append(len(made))
        made += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    start = len(made)
    made += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    made += b"".join(b"%010d 00000 n \n" % place for place in places)
    made += b"trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (len(objects) + 1, start)
    return bytes(made)


def make(scan: str = "documents/quill.pdf", more: str = "") -> Device:
    """A table whose one row cites page 12, the second sheet of a scan that begins with page 11."""
    head = f'title = "Guide"\ndevice = "Quill"\nkind = "manual"\nscan_first_page = 11\nscan = "{scan}"\n{more}'
    row = '[[command]]\npattern = "1B 4B n d*n"\nname = "dots"\nmeaning = "dots"\npage = 12\nrow = 3\n'
    return read_device((head + row).encode(), "documents/quill.toml")


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """A study's folder with the scan, as a PDF and as text."""
    (tmp_path / "documents").mkdir()
    (tmp_path / "documents" / "quill.pdf").write_bytes(write_pdf(PAGES))
    (tmp_path / "documents" / "quill.txt").write_text("\f".join("\n".join(lines) for lines in PAGES) + "\f")
    return tmp_path


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="no second reader of PDF here")
def test_pdf_of_the_tests(study: Path) -> None:
    """The PDF that the tests write is one: another program reads the same text from it."""
    told = subprocess.run(
        ["pdftotext", "-raw", str(study / "documents" / "quill.pdf"), "-"], capture_output=True, text=True, check=True
    )
    assert [page.split() for page in told.stdout.split("\f")[:3]] == [" ".join(lines).split() for lines in PAGES]


def test_register_sources(study: Path) -> None:
    """The register says whether the scan is the one meant, and where pages lack."""
    actual = hashlib.sha256((study / "documents" / "quill.pdf").read_bytes()).hexdigest()
    right = make(more=f'sha256 = "{actual}"\npages = 13\n')
    wrong = make(more=f'sha256 = "{"0" * 64}"\npages = 48\n')
    found = register_sources([right, wrong, make(), make("documents/lost.pdf"), make("")], study)
    assert [one.state for one in found] == [
        ScanState.AGREES,
        ScanState.DIFFERS,
        ScanState.UNPROVED,
        ScanState.MISSING,
        ScanState.NONE,
    ]
    assert (found[0].num_pages, found[0].text_pages, found[0].sha256) == (3, 3, actual)
    assert str(found[0]) == "quill: Guide (manual); the checksum agrees; 3 pages scanned, 3 with text"
    assert found[1].remarks == ("the scan ends with page 13; the document has 48 pages",)
    assert found[3].remarks == ("documents/lost.pdf is not there",)


@pytest.mark.parametrize("scan", ["documents/quill.pdf", "documents/quill.txt"])
def test_find_text(study: Path, scan: str) -> None:
    """Words are found over the end of a line and whatever their capitals, with their page."""
    (hit,) = find_text([make(scan)], study, "DRAWS  n dot")
    assert (hit.page, hit.sheet, hit.excerpt) == (12, 2, "ESC K n draws n dot columns.")
    assert str(hit) == "quill, page 12: ESC K n draws n dot columns."
    assert find_text([make(scan)], study, "curve") == ()
    assert find_text([make("documents/lost.pdf")], study, "draws") == ()


@pytest.mark.parametrize("scan", ["documents/quill.pdf", "documents/quill.txt"])
def test_cited_page(study: Path, scan: str) -> None:
    """The page that a row cites, counted from the printed number of the first."""
    device = make(scan)
    assert cited_page(device, device.commands[0].citation, study).split() == [
        "ESC",
        "K",
        "n",
        "draws",
        "n",
        "dot",
        "columns.",
    ]


@pytest.mark.parametrize(
    ("reader", "how"),
    [(None, "it cannot be searched"), ("tesseract 5.3.0", "it can be read off them by tesseract 5.3.0")],
)
def test_pictures_only(study: Path, monkeypatch: pytest.MonkeyPatch, reader: str | None, how: str) -> None:
    """A scan without text says so, and what there is to read it with."""
    monkeypatch.setattr("latchlore.device._sources.reader_version", lambda: reader)
    (study / "documents" / "blank.pdf").write_bytes(write_pdf(([], [])))
    (source,) = register_sources([make("documents/blank.pdf")], study)
    assert source.remarks == (f"the scan holds no text, only pictures; {how}",)


def test_sources_wrong(study: Path) -> None:
    """What cannot be read or is not there is named."""
    with pytest.raises(
        BadInput,
        match=r"^documents/quill\.toml \(scan\): the scan stays inside the study's folder, unlike '\.\./secret\.pdf'$",
    ):
        register_sources([make("../secret.pdf")], study)
    (study / "documents" / "bad.pdf").write_bytes(b"%PDF-1.4\nnothing")
    with pytest.raises(BadInput, match=r"^documents/bad\.pdf: the PDF cannot be read: \w.*$"):
        register_sources([make("documents/bad.pdf")], study)
    (study / "documents" / "bad.txt").write_bytes(b"ab\xff")
    with pytest.raises(
        BadInput, match=r"^documents/bad\.txt byte 0002h: a scan is a PDF, a picture, or a text file in UTF-8$"
    ):
        register_sources([make("documents/bad.txt")], study)
    with pytest.raises(UnknownName, match=r"^there are no words to look for$"):
        find_text([make()], study, "  ")


def test_cited_page_wrong(study: Path) -> None:
    """A page that the scan does not hold, a scan that is not there, a row without a page."""
    device = make()
    far = read_device(
        b'title = "t"\ndevice = "d"\nkind = "note"\nscan = "documents/quill.pdf"\n'
        b'[[command]]\npattern = "0A"\nmeaning = "x"\npage = 9\n'
        b'[[command]]\npattern = "0D"\nmeaning = "y"\n',
        "documents/far.toml",
    )
    with pytest.raises(UnknownName, match=r"^documents/quill\.pdf holds pages 1 to 3, not page 9$"):
        cited_page(far, far.commands[0].citation, study)
    with pytest.raises(UnknownName, match=r"^documents/far\.toml:9 \(command\[2\]\) cites no numbered page$"):
        cited_page(far, far.commands[1].citation, study)
    with pytest.raises(UnknownName, match=r"^document 'quill': the scan is not there$"):
        cited_page(make("documents/lost.pdf"), device.commands[0].citation, study)

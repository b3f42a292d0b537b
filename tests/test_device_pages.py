"""Pages of scans beside their rows: pictures out of a PDF, pictures themselves, text read off them."""

from __future__ import annotations

import hashlib
import io
import shutil
from typing import TYPE_CHECKING

import pytest
from PIL import Image, ImageDraw, ImageFont

from latchlore.base import BadInput, UnknownName
from latchlore.cli import run
from latchlore.device import (
    Device,
    ScanState,
    ShownPage,
    find_text,
    read_picture,
    reader_version,
    register_sources,
    show_page,
)
from tests.test_device_sources import PAGES, make, write_pdf

if TYPE_CHECKING:
    from pathlib import Path

READER = reader_version()
LINES = ("Quill 24 guide", "ESC K n draws n dot columns", "Code 1B 4B 08")


def picture(lines: tuple[str, ...], size: tuple[int, int] = (900, 260), mode: str = "L") -> Image.Image:
    """A page as a scanner would see it: black letters on white."""
    page = Image.new(mode, size, 255 if mode == "L" else "white")
    for row, line in enumerate(lines):
        ImageDraw.Draw(page).text((40, 30 + 70 * row), line, fill=0, font=ImageFont.load_default(40))
    return page


def file_of(page: Image.Image, kind: str, **more: object) -> bytes:
    """The picture as a file that Pillow, a general imaging library, writes."""
    made = io.BytesIO()
    page.save(made, kind, **more)
    return made.getvalue()


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """A study with a PDF of pictures, pictures, and a folder of pictures."""
    documents = tmp_path / "documents"
    (documents / "pages").mkdir(parents=True)
    first, second = picture(("Cover",)), picture(LINES)
    (documents / "pictures.pdf").write_bytes(file_of(first, "PDF", save_all=True, append_images=[second]))
    (documents / "one.png").write_bytes(file_of(second, "PNG"))
    (documents / "one.tif").write_bytes(file_of(second, "TIFF"))
    (documents / "pages" / "p1.png").write_bytes(file_of(first, "PNG"))
    (documents / "pages" / "p2.jpg").write_bytes(file_of(second, "JPEG"))
    (documents / "quill.pdf").write_bytes(write_pdf(PAGES))
    return tmp_path


def shown(study: Path, scan: str, *, read_pictures: bool = False) -> ShownPage:
    """The page of the row of `make`: printed page 12, the scan's second."""
    device = make(scan)
    return show_page(device, device.commands[0].citation, study, read_pictures=read_pictures)


def test_show_page_of_text(study: Path) -> None:
    """A page of text has no picture, and its text is its own."""
    page = shown(study, "documents/quill.pdf")
    assert (page.page, page.sheet, page.picture, page.text.read_by) == (12, 2, None, "")
    assert page.text.text.split() == " ".join(PAGES[1]).split()


@pytest.mark.parametrize("scan", ["documents/pictures.pdf", "documents/pages"])
def test_show_page_of_pictures(study: Path, scan: str) -> None:
    """The picture that the PDF's page holds, or the folder's second picture, is the page that was put in."""
    page = shown(study, scan)
    assert page.picture is not None
    assert (page.picture.width, page.picture.height, page.text.text.strip()) == (900, 260, "")
    seen = Image.open(io.BytesIO(page.picture.data)).convert("L")
    wanted = picture(LINES)
    differences = [abs(a - b) for a, b in zip(seen.tobytes(), wanted.tobytes(), strict=True)]
    assert sum(differences) / len(differences) < 3  # JPEG keeps the picture only nearly
    assert scan in page.picture.whence


@pytest.mark.parametrize(("name", "kind"), [("one.png", "image/png"), ("one.tif", "image/png")])
def test_show_page_that_is_a_picture(study: Path, name: str, kind: str) -> None:
    """A picture is a scan of one page; what no browser shows becomes PNG, dot for dot."""
    device = make(f"documents/{name}", "").commands[0].citation
    one = make(f"documents/{name}")
    with pytest.raises(UnknownName, match=rf"^documents/{name} holds pages 11 to 11, not page 12$"):
        show_page(one, device, study)
    (study / "documents" / "both").mkdir()
    for number in (1, 2):
        (study / "documents" / "both" / f"{number}-{name}").write_bytes((study / "documents" / name).read_bytes())
    page = shown(study, "documents/both")
    assert page.picture is not None
    assert page.picture.kind == kind
    assert Image.open(io.BytesIO(page.picture.data)).tobytes() == picture(LINES).tobytes()


def test_register_of_pictures(study: Path) -> None:
    """A folder's checksum is that of its pictures one behind the other; a scan without text is remarked."""
    files = [(study / "documents" / "pages" / name).read_bytes() for name in ("p1.png", "p2.jpg")]
    total = hashlib.sha256(b"".join(files)).hexdigest()
    (source,) = register_sources([make("documents/pages", f'sha256 = "{total}"\n')], study)
    assert (source.state, source.num_pages, source.text_pages) == (ScanState.AGREES, 2, 0)
    how = f"it can be read off them by {READER}" if READER else "it cannot be searched"
    assert source.remarks == (f"the scan holds no text, only pictures; {how}",)


def test_pictures_wrong(study: Path) -> None:
    """A broken picture and a folder without pictures are named."""
    (study / "documents" / "pages" / "p2.jpg").write_bytes(b"\xff\xd8nothing")
    with pytest.raises(BadInput, match=r"^documents/pages/p2\.jpg: the picture cannot be read: \w.*$"):
        shown(study, "documents/pages")
    (study / "documents" / "empty").mkdir()
    with pytest.raises(
        BadInput, match=r"^documents/empty: a folder of pages holds pictures \(\.png, .*\); here is none$"
    ):
        shown(study, "documents/empty")


def test_without_reader(study: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the program is not installed nothing is read off pictures, and asking for it says so."""
    monkeypatch.setattr(shutil, "which", lambda name: None)
    page = shown(study, "documents/pages", read_pictures=True)
    assert (page.text.text, page.text.read_by) == ("", "")
    assert page.picture is not None
    words = r"^text is read off pictures by tesseract, which is not installed here$"
    with pytest.raises(UnknownName, match=words):
        read_picture(page.picture)
    with pytest.raises(UnknownName, match=words):
        find_text([make("documents/pages")], study, "dot columns", read_pictures=True)


NEEDS_READER = pytest.mark.skipif(
    READER is None, reason="tesseract is not installed here: no text is read off pictures"
)


@NEEDS_READER
@pytest.mark.parametrize("scan", ["documents/pictures.pdf", "documents/pages"])
def test_read_off_a_picture(study: Path, scan: str) -> None:
    """Text is read off a page's picture, marked with the program's version, and found by a search that asks for it."""
    page = shown(study, scan, read_pictures=True)
    assert page.text.read_by == READER
    assert "draws n dot columns" in " ".join(page.text.text.split())
    device = make(scan)
    assert find_text([device], study, "dot columns") == ()
    (hit,) = find_text([device], study, "DOT columns", read_pictures=True)
    assert (hit.page, hit.sheet, hit.read_by) == (12, 2, READER)
    assert f"page 12 (read off the picture by {READER}): " in str(hit)


@NEEDS_READER
def test_own_text_goes_first(study: Path) -> None:
    """A page that holds its text is never read off a picture."""
    device: Device = make()
    (hit,) = find_text([device], study, "dot columns", read_pictures=True)
    assert hit.read_by == ""


def test_picture_from_the_command_line(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The page's picture is told of and written out as it is; it is not written over."""
    table = study / "documents" / "quill.toml"
    table.write_text(
        'title = "Guide"\ndevice = "Quill"\nkind = "manual"\nscan = "documents/pages"\n'
        '[[command]]\npattern = "1B 4B n d*n"\nname = "dots"\nmeaning = "dots"\npage = 2\n'
    )
    asked = ["device", "sources", str(table), "--row", "dots", "--picture"]
    out = study / "page.jpg"
    assert run([*asked, str(out)]) == 0
    assert "its picture: 900 by 260 pixels, documents/pages/p2.jpg" in " ".join(capsys.readouterr().out.split())
    assert out.read_bytes() == (study / "documents" / "pages" / "p2.jpg").read_bytes()
    assert run([*asked, str(out)]) == 2
    assert "exists; name another file" in capsys.readouterr().err
    assert run([*asked, str(study / "page.png")]) == 2
    assert "this picture's name ends in .jpg, not 'page.png'" in " ".join(capsys.readouterr().err.split())

"""The pages of a scan: text that the file holds, pictures of pages, and text read off a picture where tesseract is.

A scan is a PDF, a text file (form feeds part its pages), one picture, or a folder of pictures, whose pages are its
files in the order of their names.
"""

from __future__ import annotations

import hashlib
import io
import re
import shutil
import subprocess
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from latchlore.base import BadInput, Origin, UnknownName, Unsupported

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

MAX_SCAN_BYTES = 1 << 30
MAX_PICTURE_PIXELS = 200_000_000
PICTURES = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".bmp", ".gif", ".webp")
READER = "tesseract"
"""The program that reads text off pictures, as it is packaged by the system; nothing is read where it is not there."""

_OWN_FORMATS = {"PNG": "image/png", "JPEG": "image/jpeg"}
_SECONDS = 120


@dataclass(frozen=True, slots=True)
class PagePicture:
    """A picture of a page: the file's bytes, its kind (``image/png`` or ``image/jpeg``), width and height in pixels.

    `whence`: where it comes from, in words.
    """

    data: bytes
    kind: str
    width: int
    height: int
    whence: str


@dataclass(frozen=True, slots=True)
class PageText:
    """The text of a page.  `read_by`: empty where the file holds it, else the program that read it off the picture."""

    text: str
    read_by: str = ""


def is_picture(path: Path) -> bool:
    """Whether a path is a picture by its name."""
    return path.suffix.lower() in PICTURES


def picture_files(folder: Path) -> tuple[Path, ...]:
    """The pictures of a folder, which are the pages, in the order of their names."""
    return tuple(sorted(path for path in folder.iterdir() if path.is_file() and is_picture(path)))


def page_texts(path: Path, shown: str) -> tuple[str, ...]:
    """The text that the scan itself holds, page by page; empty for pictures.  `shown`: the scan's name in messages."""
    if path.is_dir():
        files = picture_files(path)
        if not files:
            raise BadInput(Origin(shown), f"a folder of pages holds pictures ({', '.join(PICTURES)}); here is none")
        return ("",) * len(files)
    stat = path.stat()
    if stat.st_size > MAX_SCAN_BYTES:
        raise Unsupported(Origin(shown), f"scans up to {MAX_SCAN_BYTES} bytes are read, not {stat.st_size}")
    return _read_pages(path, shown, stat.st_mtime_ns)


@lru_cache(maxsize=16)
def _read_pages(path: Path, shown: str, changed_ns: int) -> tuple[str, ...]:  # noqa: ARG001 - a key of the cache
    """The text of each page."""
    if path.suffix.lower() == ".pdf":
        return tuple(_pdf_pages(path, shown))
    if is_picture(path):
        return ("",)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        words = "a scan is a PDF, a picture, or a text file in UTF-8"
        raise BadInput(Origin.at_byte(shown, error.start), words) from error
    return tuple(text.removesuffix("\f").split("\f"))


def _open_pdf(path: Path, shown: str) -> Any:
    import logging

    import pypdf

    logging.getLogger("pypdf").setLevel(logging.CRITICAL)  # what it cannot mend it raises
    reader = pypdf.PdfReader(path)
    if reader.is_encrypted and not reader.decrypt(""):
        raise Unsupported(Origin(shown), "the PDF is locked; attach one that is not")
    return reader


def _pdf_pages(path: Path, shown: str) -> Iterator[str]:
    from pypdf.errors import PyPdfError

    try:
        for page in _open_pdf(path, shown).pages:
            yield page.extract_text()
    except (PyPdfError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise _unreadable(shown, error) from error


def _unreadable(shown: str, error: Exception) -> BadInput:
    if isinstance(error, BadInput):
        return error
    return BadInput(Origin(shown), f"the PDF cannot be read: {' '.join(str(error).split())}")


def page_picture(path: Path, shown: str, sheet: int) -> PagePicture | None:
    """The picture of a page (`sheet` from 1): the largest that a PDF's page holds, or the scan itself.

    None where there is none: a page of mere text.  A PDF's page is not drawn.  Pictures that are neither PNG nor JPEG
    become PNG.
    """
    if path.is_dir():
        file = picture_files(path)[sheet - 1]
        return _picture(file.read_bytes(), f"{shown}/{file.name}")
    if is_picture(path):
        return _picture(path.read_bytes(), shown)
    if path.suffix.lower() != ".pdf":
        return None
    found = [_picture(data, f"{shown}, sheet {sheet}") for data in _pdf_pictures(path, shown, sheet)]
    return max(found, key=lambda picture: picture.width * picture.height, default=None)


def _pdf_pictures(path: Path, shown: str, sheet: int) -> list[bytes]:
    from pypdf.errors import PyPdfError

    try:
        return [bytes(image.data) for image in _open_pdf(path, shown).pages[sheet - 1].images]
    except (PyPdfError, ValueError, KeyError, TypeError, AttributeError, RecursionError, OSError) as error:
        raise _unreadable(shown, error) from error


def _picture(data: bytes, whence: str) -> PagePicture:
    from PIL import Image

    try:
        with Image.open(io.BytesIO(data)) as image:
            width, height = image.size
            if width * height > MAX_PICTURE_PIXELS:
                words = f"pictures of up to {MAX_PICTURE_PIXELS} pixels are shown, not of {width} by {height}"
                raise Unsupported(Origin(whence), words)
            if image.format in _OWN_FORMATS:
                image.load()
                return PagePicture(data, _OWN_FORMATS[image.format], width, height, whence)
            made = io.BytesIO()
            plain = image if image.mode in ("1", "L", "P", "RGB") else image.convert("RGB")
            plain.save(made, "PNG")
            return PagePicture(made.getvalue(), "image/png", width, height, whence)
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as error:
        raise BadInput(Origin(whence), f"the picture cannot be read: {' '.join(str(error).split())}") from error


def reader_version() -> str | None:
    """The program that reads text off pictures, with its version, such as ``tesseract 5.3.0``; None where it is not."""
    place = shutil.which(READER)
    return None if place is None else _version(place)


@lru_cache(maxsize=4)
def _version(place: str) -> str | None:
    try:
        told = subprocess.run([place, "--version"], capture_output=True, text=True, timeout=_SECONDS, check=True)
    except (OSError, subprocess.SubprocessError):
        return None
    match = re.match(r"tesseract v?(\d[\w.]*)", told.stdout or told.stderr)
    return f"{READER} {match[1]}" if match else None


def read_picture(picture: PagePicture) -> PageText:
    """The text that tesseract reads off a picture, marked with the program and its version.

    Text read off a picture is a guess: its digits are checked against the picture before they count.  Refuses where the
    program is not installed.
    """
    version = reader_version()
    if version is None:
        raise UnknownName(f"text is read off pictures by {READER}, which is not installed here")
    return PageText(_read_off(hashlib.sha256(picture.data).hexdigest(), version, picture.data), version)


_known: dict[tuple[str, str], str] = {}
_MAX_KNOWN = 512


def _read_off(checksum: str, version: str, data: bytes) -> str:
    """Read once; the same picture is not read twice."""
    key = (checksum, version)
    if key not in _known:
        command = [READER, "stdin", "stdout", "--psm", "6"]  # one block of text, so that a table's rows stay rows
        try:
            told = subprocess.run(command, input=data, capture_output=True, timeout=_SECONDS, check=True)
        except (OSError, subprocess.SubprocessError) as error:
            said = getattr(error, "stderr", b"") or b""
            words = " ".join(said.decode("utf-8", "replace").split()[:30]) or str(error)
            raise Unsupported(Origin(READER), f"the picture was not read: {words}") from error
        if len(_known) >= _MAX_KNOWN:
            _known.clear()
        _known[key] = told.stdout.decode("utf-8", "replace").removesuffix("\f")
    return _known[key]

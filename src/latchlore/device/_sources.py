"""The documents behind the tables: whether the attached scan is the one meant, what its text says, the page of a row.

What a scan may be, and how its pages are read, is in _pages.py.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, Progress, UnknownName, no_progress
from latchlore.device._pages import (
    PagePicture,
    PageText,
    page_picture,
    page_texts,
    picture_files,
    read_picture,
    reader_version,
)
from latchlore.device._wording import describe_hit, describe_source

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from latchlore.device._device import Citation, Device

_AROUND = 40
_PAGE = re.compile(r"page ([^,]+)")


class ScanState(StrEnum):
    """How the scan of a document stands."""

    NONE = "no scan is named"
    MISSING = "the scan is not there"
    UNPROVED = "no checksum is stated"
    AGREES = "the checksum agrees"
    DIFFERS = "the checksum differs"


@dataclass(frozen=True, slots=True)
class Source:
    """One document in the register.

    `sha256`: of the scan that is there, else empty.  `num_pages`: pages of the scan, None where there is none.
    `text_pages`: how many of them hold text.  `remarks`: what does not agree with the table.
    """

    device: Device
    state: ScanState
    sha256: str
    num_pages: int | None
    text_pages: int
    remarks: tuple[str, ...]

    def __str__(self) -> str:
        return describe_source(self)


@dataclass(frozen=True, slots=True)
class TextHit:
    """Words found in a scan.  `page`: as printed, if the table states the printed number of the scan's first page
    rightly; `sheet`: from 1.  `excerpt`: the words with what stands around them.  `read_by`: the program that read them
    off a picture, empty where the scan holds them as text.
    """

    device: Device
    page: int
    sheet: int
    excerpt: str
    read_by: str = ""

    def __str__(self) -> str:
        return describe_hit(self)


@dataclass(frozen=True, slots=True)
class ShownPage:
    """A page beside the row that cites it.  `page`: as printed; `sheet`: from 1; `picture`: None where none is held."""

    device: Device
    citation: Citation
    page: int
    sheet: int
    text: PageText
    picture: PagePicture | None


def register_sources(devices: Sequence[Device], folder: Path, progress: Progress = no_progress) -> tuple[Source, ...]:
    """The register of the documents, scans compared with what the tables state.  `folder`: the study's."""
    found = []
    for count, device in enumerate(devices):
        progress(count, len(devices), f"reading the scan of {device.document}")
        found.append(_source(device, folder))
    return tuple(found)


def _source(device: Device, folder: Path) -> Source:
    path = _scan_path(device, folder)
    if path is None:
        return Source(device, ScanState.NONE, "", None, 0, ())
    if not path.exists():
        return Source(device, ScanState.MISSING, "", None, 0, (f"{device.scan} is not there",))
    pages = page_texts(path, device.scan)
    actual = _checksum(path)
    state = ScanState.UNPROVED
    remarks = []
    if device.sha256:
        state = ScanState.AGREES if device.sha256 == actual else ScanState.DIFFERS
    last = device.scan_first_page + len(pages) - 1
    if device.pages is not None and last < device.pages:
        remarks.append(f"the scan ends with page {last}; the document has {device.pages} pages")
    texts = sum(bool(page.strip()) for page in pages)
    if not texts:
        reader = reader_version()
        how = f"it can be read off them by {reader}" if reader else "it cannot be searched"
        remarks.append(f"the scan holds no text, only pictures; {how}")
    return Source(device, state, actual, len(pages), texts, tuple(remarks))


def _checksum(path: Path) -> str:
    """SHA-256 of the file; of a folder that of its pictures' bytes one behind the other, in the order of names."""
    total = hashlib.sha256()
    for file in picture_files(path) if path.is_dir() else (path,):
        with file.open("rb") as opened:
            while block := opened.read(1 << 20):
                total.update(block)
    return total.hexdigest()


def _scan_path(device: Device, folder: Path) -> Path | None:
    """The scan's path.  Refuses one that leads out of the study's folder."""
    if not device.scan:
        return None
    path = (folder / device.scan).resolve()
    if not path.is_relative_to(folder.resolve()):
        words = f"the scan stays inside the study's folder, unlike {device.scan!r}"
        raise BadInput(Origin(device.file, detail="scan"), words)
    return path


def find_text(
    devices: Sequence[Device],
    folder: Path,
    words: str,
    progress: Progress = no_progress,
    *,
    read_pictures: bool = False,
) -> tuple[TextHit, ...]:
    """Every place in the scans where words stand, in the order of the documents and pages.

    Capitals and the breaking of lines do not matter.  Scans that are not there are passed over; see `register_sources`.
    `read_pictures`: pages without text of their own are read off their pictures, where tesseract is installed; hits on
    them are marked.  Refuses empty words.
    """
    sought = _flat(words)
    if not sought:
        raise UnknownName("there are no words to look for")
    found: list[TextHit] = []
    for count, device in enumerate(devices):
        progress(count, len(devices), f"searching {device.document}")
        path = _scan_path(device, folder)
        if path is None or not path.exists():
            continue
        for index in range(len(page_texts(path, device.scan))):
            page = _page_text(path, device.scan, index + 1, read_pictures)
            text = _flat(page.text)
            for match in re.finditer(re.escape(sought), text, re.IGNORECASE):
                excerpt = text[max(0, match.start() - _AROUND) : match.end() + _AROUND]
                hit = TextHit(device, device.scan_first_page + index, index + 1, excerpt.strip(), page.read_by)
                found.append(hit)
    return tuple(found)


def _page_text(path: Path, shown: str, sheet: int, read_pictures: bool) -> PageText:
    """The text of a page, read off its picture where it has none of its own and that is asked for."""
    own = page_texts(path, shown)[sheet - 1]
    if own.strip() or not read_pictures:
        return PageText(own)
    picture = page_picture(path, shown, sheet)
    return PageText(own) if picture is None else read_picture(picture)


def cited_page(device: Device, citation: Citation, folder: Path) -> str:
    """The text of the page that a row cites.  Refuses a row without a numbered page, and a scan without that page."""
    path, sheet = _cited_sheet(device, citation, folder)
    return page_texts(path, device.scan)[sheet - 1]


def show_page(device: Device, citation: Citation, folder: Path, *, read_pictures: bool = True) -> ShownPage:
    """The page that a row cites, to be shown beside the row: its text, and its picture where the scan holds one.

    A page without text of its own is read off its picture where tesseract is installed (and `read_pictures`); the text
    is marked with the program and its version.  Refuses a row without a numbered page, and a scan without that page.
    """
    path, sheet = _cited_sheet(device, citation, folder)
    picture = page_picture(path, device.scan, sheet)
    can_read = read_pictures and picture is not None and reader_version() is not None
    text = _page_text(path, device.scan, sheet, can_read)
    return ShownPage(device, citation, device.scan_first_page + sheet - 1, sheet, text, picture)


def _cited_sheet(device: Device, citation: Citation, folder: Path) -> tuple[Path, int]:
    """The scan and the sheet (from 1) that a row cites."""
    match = _PAGE.match(citation.origin.detail)
    if match is None or not match[1].isdigit():
        raise UnknownName(f"{citation.origin} cites no numbered page")
    path = _scan_path(device, folder)
    if path is None or not path.exists():
        state = ScanState.NONE if path is None else ScanState.MISSING
        raise UnknownName(f"document {device.document!r}: {state.value}")
    pages = page_texts(path, device.scan)
    index = int(match[1]) - device.scan_first_page
    if not 0 <= index < len(pages):
        last = device.scan_first_page + len(pages) - 1
        raise UnknownName(f"{device.scan} holds pages {device.scan_first_page} to {last}, not page {match[1]}")
    return path, index + 1


def _flat(text: str) -> str:
    return " ".join(text.split())

"""The documents behind the tables: whether the attached scan is the one meant, what its text says, the page of a row.

A scan is a PDF or a text file (form feeds part its pages).  Only text that the file itself holds is read; a PDF of
pictures has none.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, Progress, UnknownName, Unsupported, no_progress
from latchlore.device._wording import describe_hit, describe_source

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from latchlore.device._device import Citation, Device

MAX_SCAN_BYTES = 1 << 30
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
    rightly; `sheet`: from 1.  `excerpt`: the words with what stands around them.
    """

    device: Device
    page: int
    sheet: int
    excerpt: str

    def __str__(self) -> str:
        return describe_hit(self)


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
    if not path.is_file():
        return Source(device, ScanState.MISSING, "", None, 0, (f"{device.scan} is not there",))
    with path.open("rb") as file:
        actual = hashlib.file_digest(file, "sha256").hexdigest()
    state = ScanState.UNPROVED
    remarks = []
    if device.sha256:
        state = ScanState.AGREES if device.sha256 == actual else ScanState.DIFFERS
    pages = _pages(path, device.scan)
    last = device.scan_first_page + len(pages) - 1
    if device.pages is not None and last < device.pages:
        remarks.append(f"the scan ends with page {last}; the document has {device.pages} pages")
    texts = sum(bool(page.strip()) for page in pages)
    if not texts:
        remarks.append("the scan holds no text, only pictures; it cannot be searched")
    return Source(device, state, actual, len(pages), texts, tuple(remarks))


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
    devices: Sequence[Device], folder: Path, words: str, progress: Progress = no_progress
) -> tuple[TextHit, ...]:
    """Every place in the scans where words stand, in the order of the documents and pages.

    Capitals and the breaking of lines do not matter.  Scans that are not there are passed over; see `register_sources`.
    Refuses empty words.
    """
    sought = _flat(words)
    if not sought:
        raise UnknownName("there are no words to look for")
    found: list[TextHit] = []
    for count, device in enumerate(devices):
        progress(count, len(devices), f"searching {device.document}")
        path = _scan_path(device, folder)
        if path is None or not path.is_file():
            continue
        for index, page in enumerate(_pages(path, device.scan)):
            text = _flat(page)
            for match in re.finditer(re.escape(sought), text, re.IGNORECASE):
                excerpt = text[max(0, match.start() - _AROUND) : match.end() + _AROUND]
                found.append(TextHit(device, device.scan_first_page + index, index + 1, excerpt.strip()))
    return tuple(found)


def cited_page(device: Device, citation: Citation, folder: Path) -> str:
    """The text of the page that a row cites.  Refuses a row without a numbered page, and a scan without that page."""
    match = _PAGE.match(citation.origin.detail)
    if match is None or not match[1].isdigit():
        raise UnknownName(f"{citation.origin} cites no numbered page")
    path = _scan_path(device, folder)
    if path is None or not path.is_file():
        state = ScanState.NONE if path is None else ScanState.MISSING
        raise UnknownName(f"document {device.document!r}: {state.value}")
    pages = _pages(path, device.scan)
    index = int(match[1]) - device.scan_first_page
    if not 0 <= index < len(pages):
        last = device.scan_first_page + len(pages) - 1
        raise UnknownName(f"{device.scan} holds pages {device.scan_first_page} to {last}, not page {match[1]}")
    return pages[index]


def _flat(text: str) -> str:
    return " ".join(text.split())


def _pages(path: Path, shown: str) -> tuple[str, ...]:
    stat = path.stat()
    if stat.st_size > MAX_SCAN_BYTES:
        raise Unsupported(Origin(shown), f"scans up to {MAX_SCAN_BYTES} bytes are read, not {stat.st_size}")
    return _read_pages(path, shown, stat.st_mtime_ns)


@lru_cache(maxsize=16)
def _read_pages(path: Path, shown: str, changed_ns: int) -> tuple[str, ...]:  # noqa: ARG001 - a key of the cache
    """The text of each page."""
    if path.suffix.lower() == ".pdf":
        return tuple(_pdf_pages(path, shown))
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        words = "a scan is a PDF or a text file in UTF-8"
        raise BadInput(Origin.at_byte(shown, error.start), words) from error
    return tuple(text.removesuffix("\f").split("\f"))


def _pdf_pages(path: Path, shown: str) -> Iterator[str]:
    import logging

    import pypdf
    from pypdf.errors import PyPdfError

    logging.getLogger("pypdf").setLevel(logging.CRITICAL)  # what it cannot mend it raises
    try:
        reader = pypdf.PdfReader(path)
        if reader.is_encrypted and not reader.decrypt(""):
            raise Unsupported(Origin(shown), "the PDF is locked; attach one that is not")
        for page in reader.pages:
            yield page.extract_text()
    except (PyPdfError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        if isinstance(error, BadInput):
            raise
        raise BadInput(Origin(shown), f"the PDF cannot be read: {' '.join(str(error).split())}") from error

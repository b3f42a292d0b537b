"""The dossier on disk: whole, the same every time, never over what is not its own."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest

from latchlore.base import BadInput, Origin, Subject, SubjectKind
from latchlore.dossier import Parts, Picture, render_dossier, write_dossier
from latchlore.evidence import Row, Standing, Table, table_to_plain
from tests.marram import FILES, LABEL, ROM, lay_study, marram_table

if TYPE_CHECKING:
    from pathlib import Path

LOADS = {ROM: 0xF000}
FILE_NAMES = ("index.html", "dossier.json", "dossier.schema.json", "citations.json")
# The smallest PNG of one grey dot, made by hand from the chunks that PNG (ISO/IEC 15948) demands.
DOT = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108000000003a7e9b55"
    "0000000a49444154789c6368000000820081dd436af40000000049454e44ae426082"
)


class _Page(HTMLParser):
    """What a page links to, fetches, and names."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.fetched: list[str] = []
        self.tags: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note the attributes that matter."""
        named = dict(attrs)
        self.tags.append(tag)
        if named.get("id"):
            self.ids.append(str(named["id"]))
        href = named.get("href")
        if href is not None:
            (self.links if tag in {"a", "use"} else self.fetched).append(href)
        if named.get("src"):
            self.fetched.append(str(named["src"]))


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """The study's files."""
    return lay_study(tmp_path / "study")


def _page(study: Path, table: Table | None = None) -> str:
    files = render_dossier(study, table or marram_table(), Parts(loads=LOADS))
    return files["index.html"].decode("utf-8")


def test_write_dossier(study: Path, tmp_path: Path) -> None:
    """Four files appear; the twin holds the table and the true checksums of the study's files."""
    target = tmp_path / "out" / "dossier"
    assert write_dossier(study, marram_table(), target, Parts(loads=LOADS)) == FILE_NAMES
    assert sorted(path.name for path in target.iterdir()) == sorted(FILE_NAMES)
    twin = json.loads((target / "dossier.json").read_text("utf-8"))
    assert twin["table"] == table_to_plain(marram_table())
    sums = {one["file"]: one["sha256"] for one in twin["sources"]}
    assert sums == {name: hashlib.sha256((study / name).read_bytes()).hexdigest() for name in (*FILES, ROM)}


def test_write_dossier_again(study: Path, tmp_path: Path) -> None:
    """Written over itself it is the same to the byte, and a changed table replaces what tells of it."""
    target = tmp_path / "dossier"
    write_dossier(study, marram_table(), target, Parts(loads=LOADS))
    first = {path.name: path.read_bytes() for path in target.iterdir()}
    write_dossier(study, marram_table(), target, Parts(loads=LOADS))
    assert {path.name: path.read_bytes() for path in target.iterdir()} == first
    write_dossier(study, Table("Another", False, (), ()), target, Parts(loads=LOADS))
    assert b"Another" in (target / "index.html").read_bytes()
    assert b"Another" in (target / "dossier.json").read_bytes()


def test_dossier_folds_bits(study: Path) -> None:
    """Bits that say the same are one row of the page, still reached by each bit's own link; the twin keeps them all."""
    table = marram_table()
    one = next(row for row in table.rows if row.subject.kind is SubjectKind.BIT)
    space, address, direction, _ = one.subject.key
    rows = []
    for bit in range(8):
        subject = Subject(SubjectKind.BIT, (space, address, direction, str(bit)))
        said = tuple(replace(each, subject=subject) for each in one.testimonies)
        rows.append(replace(one, subject=subject, testimonies=said))
    folded = replace(table, rows=tuple(rows))
    text = _page(study, folded)
    assert text.count('<tbody id="') == 1
    assert "B481 (read) bits 0-7</span>" in text
    assert {f"on-b481-read-bit-{bit}" for bit in range(8)} <= set(_Page(text).ids)
    assert len(json.loads(render_dossier(study, folded, Parts(loads=LOADS))["dossier.json"])["table"]["rows"]) == 8


def test_write_dossier_same_elsewhere(tmp_path: Path) -> None:
    """The same study in another folder gives the same bytes: no date, no path of this machine."""
    one = render_dossier(lay_study(tmp_path / "one"), marram_table(), Parts(loads=LOADS))
    two = render_dossier(lay_study(tmp_path / "two"), marram_table(), Parts(loads=LOADS))
    assert one == two
    assert str(tmp_path).encode() not in b"".join(one.values())


@pytest.mark.parametrize(
    ("where", "words"),
    [
        ("study", "a dossier is not written into the study's own folder; name another folder"),
        ("study/new/deep", "a dossier is not written into the study's own folder; name another folder"),
        (".", "the study lies in this folder; name another folder"),
        ("file", "is not a folder"),
        ("foreign", "holds 'letter.txt', which is no part of a dossier; name a folder of its own"),
        ("other-page", "holds 'index.html', which is not of an earlier dossier; name a folder of its own"),
    ],
)
def test_write_dossier_wrong(where: str, words: str, study: Path, tmp_path: Path) -> None:
    """A target in or around the study, or one that holds what is not ours, is refused and stays as it is."""
    (tmp_path / "file").write_text("x")
    (tmp_path / "foreign").mkdir()
    (tmp_path / "foreign" / "letter.txt").write_text("x")
    (tmp_path / "other-page").mkdir()
    (tmp_path / "other-page" / "index.html").write_text("<p>mine</p>")
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    with pytest.raises(BadInput) as caught:
        write_dossier(study, marram_table(), tmp_path / where, Parts(loads=LOADS))
    assert caught.value.mistakes == ((Origin(str(tmp_path / where)), words),)
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before
    assert not (study / "new").exists()


def test_page_is_self_contained(study: Path) -> None:
    """Nothing is fetched from anywhere, no script runs, and every link leads to a place on the page or to the twin."""
    page = _Page(_page(study))
    assert [one for one in page.fetched if not one.startswith("data:")] == []
    assert "script" not in page.tags
    inner = [link[1:] for link in page.links if link.startswith("#")]
    assert [link for link in page.links if not link.startswith("#")] == [
        "citations.json",
        "dossier.json",
        "dossier.schema.json",
        "citations.json",
    ]
    assert set(inner) - set(page.ids) == set()
    assert len(page.ids) == len(set(page.ids))


def test_page_links_every_value_to_its_origin(study: Path) -> None:
    """Each place of each testimony is a link, and where it leads the place is named and shown."""
    text = _page(study)
    for row in marram_table().rows:
        for one in row.testimonies:
            for origin in one.origins:
                shown = str(origin).replace("&", "&amp;")
                match = re.search(rf'<a class="place" href="#(place-\d+)">{re.escape(shown)}</a>', text)
                assert match is not None, shown
                assert re.search(rf'<p [^>]*id="{match[1]}"[^>]*><span class="where">{re.escape(shown)}</span>', text)
    assert "[12]" in text  # the byte at F012 of the image is 12h: the image counts up from 00 at F000


def test_page_escapes(study: Path, tmp_path: Path) -> None:
    """Text from files never becomes part of the page's own code, wherever it stands."""
    rude = '<script>alert("x")</script>\'"&'
    base = marram_table()
    rows = tuple(Row(row.subject, row.testimonies, row.standing, rude, row.repairs, (rude,)) for row in base.rows)
    (study / LABEL).write_text(rude, "utf-8")
    text = _page(study, Table(rude, True, rows, base.heard, (rude,)))
    assert "<script" not in text
    assert "<b>select" not in text
    assert "&lt;script&gt;" in text


def test_page_without_much(tmp_path: Path) -> None:
    """A study of one silent subject still gives a page, without the sections that have nothing to say."""
    (tmp_path / "s").mkdir()
    row = marram_table().rows[-1]
    assert row.standing is Standing.SILENT
    text = _page(tmp_path / "s", Table("Small", False, (row,), ()))
    assert re.findall(r'<section id="([a-z]+)"', text) == [
        "grades",
        "subjects",
        "open",
        "cautions",
        "cite",
        "sources",
    ]
    assert "invented" not in text.partition("<body")[2]


def test_page_with_paper(study: Path) -> None:
    """A picture of the strip is inlined, with its words for whom it cannot be seen, and links to its origin."""
    picture = Picture("The strip", "one grey dot", DOT, (Origin.at_line(LABEL, 1),))
    files = render_dossier(study, marram_table(), Parts(pictures=(picture,), loads=LOADS))
    text = files["index.html"].decode("utf-8")
    assert 'src="data:image/png;base64,iVBORw0KGgo' in text
    assert 'alt="one grey dot"' in text
    assert {link[1:] for link in _Page(text).links if link.startswith("#")} <= set(_Page(text).ids)


def test_page_cautions(study: Path) -> None:
    """Each step at the bench has its caution, and the page defers to local codes and licensed practice."""
    text = " ".join(_page(study).split())
    for step in ("a meter or a listener is connected", "two connectors are put", "powered", "inserted", "driven"):
        assert re.search(rf"<dt>Before [^<]*{step}", text), step
    assert "Local electrical codes and the practice of licensed people come first" in text

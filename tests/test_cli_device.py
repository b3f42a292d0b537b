"""The commands of `latchlore device`, as they are typed."""

from __future__ import annotations

import json
import shlex
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image

import latchlore
from latchlore.cli import run
from latchlore.device import Layout, read_device
from tests.test_device_layouts import curve, write
from tests.test_device_losses import PRINT, ROWS, WEDGE, row_of
from tests.test_device_sources import PAGES, write_pdf
from tests.test_device_variants import DOTS, STEP, TEXT

if TYPE_CHECKING:
    from collections.abc import Iterator

PAPER = '[paper]\nhead_dots = 144\ndot_x = "0.33 mm"\ndot_y = "0.36 mm"\ncolumns = 24\ncell_dots = 6\nline_feed = 10\n'


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LATCHLORE_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def tables(tmp_path: Path) -> list[str]:
    """Three invented devices: text only, with a line step, with dot graphics on paper as well."""
    paths = []
    for name, parts in (("a", TEXT), ("b", TEXT + STEP), ("c", TEXT + STEP + DOTS + PAPER)):
        path = tmp_path / f"{name}.toml"
        path.write_text(f'title = "Guide"\ndevice = "{name.upper()}"\nkind = "manual"\ninvented = true\n{parts}')
        paths.append(str(path))
    return paths


@pytest.fixture
def strip(tmp_path: Path) -> tuple[str, str]:
    """A stream of three rows with two bytes of the second lost, and its table."""
    (tmp_path / "strip.toml").write_text(ROWS + PRINT)
    whole = row_of(WEDGE) * 3
    (tmp_path / "strip.bin").write_bytes(whole[:21] + whole[23:])
    return str(tmp_path / "strip.bin"), str(tmp_path / "strip.toml")


def plain(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    """What a command prints as JSON."""
    assert run(["device", *arguments, "--json"]) == 0
    told: dict[str, Any] = json.loads(capsys.readouterr().out)
    return told


def test_read(strip: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    """Spans in text and JSON; losses where they are asked for."""
    assert run(["device", "read", *strip, "--losses"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "7 spans; 0 bytes that no row explains" in out
    assert "Losses inside counted data: 40 bytes seen, 42 sent if these are all" in out
    assert "000E: row of dots, number 2: 2 of 8 bytes missing: columns 4, 5, 08 10 in the neighbouring row" in out
    told = plain(capsys, "read", *strip, "--losses", "--no-neighbours")
    assert told["format"] == "latchlore-device-reading"
    (loss,) = told["lost"]["losses"]
    assert (loss["missing"], loss["count"], loss["columns"], loss["taken_for_data"]) == (2, 8, None, "0D 0A")
    assert [span["stands"] for span in told["spans"]] == [1.0] * 7


def test_read_survey(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A code without its count: the complaint, the place and the values that explain it, and what would not show."""
    (tmp_path / "strip.toml").write_text(ROWS + PRINT)
    lossy = row_of(WEDGE)
    (tmp_path / "strip.bin").write_bytes(lossy[:1] + lossy[2:])
    asked = (str(tmp_path / "strip.bin"), str(tmp_path / "strip.toml"), "--losses")
    assert run(["device", "read", *asked]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Complaints, and where one lost byte explains them - 0000 to 000B: 8 complaints" in out
    assert " complaints, explained by one byte lost in front of 0001 (64)" in out
    assert "Where a lost byte would leave no trace, and why" in out
    (complaint,) = plain(capsys, "read", *asked)["lost"]["complaints"]
    assert complaint["explained_by_a_byte_lost"] == [{"first": 1, "end": 2, "of": "64"}]


def test_read_log(tmp_path: Path, tables: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """The runs of a log are merged, and what they doubt is carried through."""
    log = tmp_path / "runs.log"
    log.write_text("41 42 43 0D 0A 44 45 46 0D 0A\n\n41 42 43 0D 0A 45 46 0D 0A\n")
    told = plain(capsys, "read", str(log), tables[0])
    assert bytes.fromhex("".join(span["bytes"] for span in told["spans"])) == b"ABC\r\nDEF\r\n"
    assert told["doubts"]
    assert all(0 < span["stands"] <= 1 for span in told["spans"])


def test_explain(tmp_path: Path, tables: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Who explains a stream, and what rules the others out."""
    stream = tmp_path / "stream.bin"
    stream.write_bytes(b"AB\x1bK\x02\xff\x01\r\n")
    assert run(["device", "explain", str(stream), *tables]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "These explain it - C: explains every byte" in out
    assert "B: ruled out by byte 0003, 4B: no row goes on with 4B behind 1B" in out
    told = plain(capsys, "explain", str(stream), *tables)
    assert [(one["device"], one["explains"]) for one in told["devices"]] == [("C", True), ("B", False), ("A", False)]


def test_compare(tables: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """What differs, the family, and what a card of seven bits can use."""
    assert run(["device", "compare", *tables[:2], "--family", "--carried", "7F"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Only one speaks of it - command 1B 41: - | 1B 41 p1=byte: line step by p1 (one)" in out
    assert "A - (0.5) B" in out
    told = plain(capsys, "compare", *tables, "--family", "--carried", "7F")
    assert told["counts"]["one"] == 13
    assert told["family"]["orders"] == [{"devices": ["A", "B", "C"], "dates_agree": None}]
    assert told["usable"][2][-1] == {
        "command": "dots",
        "pattern": "1B 4B n data*n",
        "usable": "no",
        "lacking_bits": [7],
        "reasons": ["n = 80..FF cannot be made", "the dots of bit 7 would stay blank"],
        "place": "c.toml:22 (command[5])",
    }


def test_paper(tmp_path: Path, tables: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """A PNG and an SVG of one strip, at its true size."""
    stream = tmp_path / "stream.bin"
    stream.write_bytes(b"TIDE\r\n\x1bK\x02\xff\x01\r\n")
    for name, begins in (("strip.png", b"\x89PNG\r\n\x1a\n"), ("strip.svg", b"<svg ")):
        assert run(["device", "paper", str(stream), tables[2], "-o", str(tmp_path / name)]) == 0
        assert f"Wrote {tmp_path / name}: a strip of 53.5 by " in capsys.readouterr().out
        assert (tmp_path / name).read_bytes().startswith(begins)
    told = plain(capsys, "paper", str(stream), tables[2], "-o", str(tmp_path / "strip.png"))
    assert told["not_drawn"] == []


def test_paper_of_a_stretch(tmp_path: Path, tables: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """A stretch of a long strip is drawn alone; one that is not there is refused and nothing written."""
    stream, picture = tmp_path / "stream.bin", tmp_path / "part.png"
    stream.write_bytes(b"TIDE\r\n" * 90)
    asked = ["device", "paper", str(stream), tables[2], "-o", str(picture), "--from"]
    assert run([*asked, "100mm", "--to", "4.5in"]) == 0
    with Image.open(picture) as image:
        assert image.size == (429, 115)  # 14.3 mm of 53.52 mm, 8 pixels a millimetre
    picture.unlink()
    assert run([*asked, "1000mm"]) == 3
    assert "none begins at 1000 mm" in capsys.readouterr().err
    assert not picture.exists()
    assert run([*asked, "half"]) == 2
    assert "'half': a length is a number or a fraction and mm or in" in " ".join(capsys.readouterr().err.split())


def test_paper_by_the_cable(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A pin that asks for line feeds: lines spaced twice are counted and the place that asks is named."""
    table = tmp_path / "p.toml"
    way = 'auto_line_feed = { pin = "14", is = "low" }\n[[pin]]\nnumber = "14"\nsignal = "AUTO FEED"\n'
    table.write_text(f'title = "Guide"\ndevice = "P"\nkind = "manual"\n{TEXT}{PAPER}{way}')
    stream = tmp_path / "stream.bin"
    stream.write_bytes(b"A\r\nB\r\n")
    asked = ["paper", str(stream), str(table), "-o", str(tmp_path / "strip.png")]
    assert run(["device", *asked, "--pin", "14=low"]) == 0
    assert "fed twice: 2 line feeds follow a carriage return that feeds a line by itself (pin 14 = low)" in (
        capsys.readouterr().out
    )
    told = plain(capsys, *asked)
    assert (told["auto_line_feed_by"], told["fed_twice"]) == ([], 0)
    assert run(["device", *asked, "--pin", "14=up"]) == 2
    assert "pin 14 is high or low, not 'up'" in capsys.readouterr().err


def test_marks(tmp_path: Path, tables: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """From a byte to its marks and back; by hand: an underscore's dots are in row 6 of 0.36 mm, 3 mm from the edge."""
    stream = tmp_path / "stream.bin"
    stream.write_bytes(b"\r\n_")
    asked = ("marks", str(stream), tables[2])
    told = plain(capsys, *asked, "--byte", "2")["bytes"][0]
    assert (told["byte"], told["span"], len(told["dots"])) == (2, [2, 3], 5)
    assert told["mm"] == pytest.approx({"left": 3, "right": 3 + 5 * 0.33, "top": 3 + 16 * 0.36, "bottom": 9.09})
    back = plain(capsys, *asked, "--at", "3.2mm", "8.9mm")["bytes"]
    assert [one["byte"] for one in back] == [2]
    assert run(["device", *asked, "--at", "20mm", "1mm"]) == 0
    assert "no dot covers this place" in capsys.readouterr().out
    assert run(["device", *asked, "--byte", "1"]) == 0
    assert "0001: 0A: leaves no mark; the head stands at 3.17 mm across, 3.17 mm along" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ((), "either --byte or --at says what is sought"),
        (("--byte", "3"), "the stream has 3 bytes (hexadecimal), none at 3"),
        (("--byte", "x"), "an offset is a hexadecimal number, not 'x'"),
        (("--at", "5", "3mm"), "'5': a length is a number or a fraction and mm or in"),
    ],
)
def test_marks_wrong(
    tmp_path: Path, tables: list[str], capsys: pytest.CaptureFixture[str], more: tuple[str, ...], words: str
) -> None:
    """What cannot be sought is refused in words."""
    stream = tmp_path / "stream.bin"
    stream.write_bytes(b"\r\n_")
    assert run(["device", "marks", str(stream), tables[2], *more]) == 2
    assert words in " ".join(capsys.readouterr().err.split())


def test_layout(tmp_path: Path, tables: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """The layout of a picture in three passes is found; one pass is not decided without its text."""
    layout = Layout(True, True, 1, 8)
    stream = tmp_path / "curve.bin"
    for rows, text, decided in ((144, "", True), (8, "", False)):
        blocks = write(curve(96, rows), layout)
        stream.write_bytes(b"".join(b"\x1bK\x60" + block + b"\r\n" for block in blocks))
        told = plain(capsys, "layout", str(stream), tables[2], "dots", "--step", "8", "--text", text)
        assert told["decided"] is decided
        if decided:
            assert told["tied"] == [{"by": "columns", "highest_bit_first": True, "bytes": 1, "step": 8}]
    assert run(["device", "layout", str(stream), tables[2], "dots", "--step", "8"]) == 0
    assert "only known text tells them apart" in " ".join(capsys.readouterr().out.split())


def test_import(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A transcription becomes a table that is read; it is not written over."""
    (tmp_path / "t.csv").write_text("pattern,meaning,does\n20..7E,print,print\n0A,feed,line feed\n")
    asked = ["device", "import", str(tmp_path / "t.csv"), "--title", "Guide", "--device", "Quill"]
    assert run(asked) == 0
    shown = capsys.readouterr().out
    assert [c.effect for c in read_device(shown.encode(), "t.toml").commands] == ["print", "line feed"]
    assert run([*asked, "-o", str(tmp_path / "t.toml")]) == 0
    assert capsys.readouterr().out == f"Wrote {tmp_path / 't.toml'}: 2 commands\n"
    assert (tmp_path / "t.toml").read_text() == shown
    assert run([*asked, "-o", str(tmp_path / "t.toml")]) == 2
    assert "exists; name another file" in capsys.readouterr().err


def test_sets(tables: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Bench case: 5B printed as Ä and 5C as Ö; the American set is out, and a byte that decides is named."""
    assert run(["device", "sets", "--seen", "5B=Ä", "--seen", "5C=Ö"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "ISO646-US: 5B would print [, not Ä" in out
    told = plain(capsys, "sets", tables[0], "--seen", "5B=Ä", "--seen", "5C=Ö")
    assert {"ISO646-DE", "ISO646-SE", "ISO646-SE2"} <= set(told["possible"])
    assert "ISO646-GB" not in told["possible"]
    assert "A (a.toml)" in [one["set"] for one in told["excluded"]]
    assert {0x5D, 0x24, 0x40} <= {one["byte"] for one in told["deciders"]}
    assert run(["device", "sets", "--seen", "Ä"]) == 2
    assert "such as 5B=Ä, not 'Ä'" in " ".join(capsys.readouterr().err.split())


def test_check(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A slip with the edit that would mend it, and a document that agrees with itself."""
    head = 'title = "Guide"\ndevice = "Q"\nkind = "manual"\n'
    row = '[[command]]\npattern = "18 4B n"\nmeaning = "dots"\ndecimal = "27 75"\nkeys = "ESC K"\n'
    (tmp_path / "a.toml").write_text(head + row)
    (tmp_path / "b.toml").write_text(head + row.replace("18 4B", "1B 4B"))
    both = [str(tmp_path / name) for name in ("a.toml", "b.toml")]
    assert run(["device", "check", *both]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert (
        "byte 1 of 'dots': pattern 18 = 18, decimal 27 = 1B, keys ESC = 1B; perhaps pattern 1B for 18 at a.toml:4"
        in out
    )
    assert "nothing that is said twice differs" in out
    told = plain(capsys, "check", *both)["documents"]
    assert [len(one["slips"]) for one in told] == [1, 0]
    assert (told[0]["slips"][0]["edits"][0]["new"], told[0]["slips"][0]["edits"][0]["unlike"]) == ("1B", 0)


def test_feed(tables: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """By hand: 149 bytes at 400 to 410 us take 59.6 to 61.09 ms; a line each 60 ms leaves it open."""
    asked = [
        "feed",
        tables[2],
        "dots",
        "--byte",
        "400 us..410 us",
        "--period",
        "60 ms",
        "--value",
        "n=144",
        "--more",
        "2",
    ]
    assert run(["device", *asked]) == 0
    assert capsys.readouterr().out == (
        "dot graphics: open: 149 bytes at 400 us to 410 us each (host) take 59.6 ms to 61.09 ms; "
        "the mechanism gives 60 ms\n"
    )
    told = plain(capsys, *asked)
    assert (told["verdict"], told["takes_ps"]) == ("open", [59_600_000_000, 61_090_000_000])


def test_sources(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The register, words found, and the page beside a row; the study's folder is found from the table's."""
    folder = tmp_path / "documents"
    folder.mkdir()
    (folder / "quill.pdf").write_bytes(write_pdf(PAGES))
    (folder / "quill.toml").write_text(
        'title = "Guide"\ndevice = "Quill"\nkind = "manual"\nscan = "documents/quill.pdf"\n'
        '[[command]]\npattern = "1B 4B n d*n"\nname = "dots"\nmeaning = "dot columns"\npage = 2\n'
    )
    asked = ("sources", str(folder / "quill.toml"), "--find", "dot columns", "--row", "dots")
    assert run(["device", *asked]) == 0
    out = capsys.readouterr().out
    assert "quill: Guide (manual); no checksum is stated; 3 pages scanned, 3 with text" in out
    assert "quill, page 2: ESC K n draws n dot columns." in out
    assert "1B 4B: dot columns (quill.toml:5 (page 2))" in out
    assert "  | n dot columns." in out
    told = plain(capsys, *asked)
    assert [hit["page"] for hit in told["found"]] == [2]
    assert told["row"]["page_text"].split() == ["ESC", "K", "n", "draws", "n", "dot", "columns."]


def test_page_is_walked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Every command of docs/device-table.md works as it is printed, with the demonstration's two tables."""
    page = (Path(__file__).parent.parent / "docs" / "device-table.md").read_text("utf-8")
    commands = [line for line in page.splitlines() if line.startswith("latchlore device ")]
    assert {shlex.split(line)[2] for line in commands} == {"read", "paper", "marks", "compare", "explain", "feed"}
    documents = next(Path(latchlore.__file__).parent.rglob("quill-24.toml")).parent
    for name in ("quill-24", "quill-24g"):
        shutil.copy(documents / f"{name}.toml", tmp_path)
    (tmp_path / "strip.bin").write_bytes(b"TIDE 3.41 M\r\n" + b"\x16D" + bytes(range(18)) + b"\r\n")
    monkeypatch.chdir(tmp_path)
    for line in commands:
        capsys.readouterr()
        assert run(shlex.split(line)[1:]) == 0, line
        assert capsys.readouterr().out
    assert (tmp_path / "strip.png").is_file()


def _keys(value: object) -> Iterator[str]:
    """Every key, but not those that a table gives its own names."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            if key not in ("values", "data", "changes", "switches"):
                yield from _keys(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _keys(inner)


def test_schema_is_documented(
    tmp_path: Path, tables: list[str], strip: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Every key of every answer stands in docs/device-json.md."""
    page = (Path(__file__).parent.parent / "docs" / "device-json.md").read_text("utf-8")
    (tmp_path / "runs.log").write_text("41 42 43 0D 0A 44 45 46 0D 0A\n\n41 42 43 0D 0A 45 46 0D 0A\n")
    (tmp_path / "dots.bin").write_bytes(b"\x1bK\x04abcd\x1bK\x04efgh\x01")
    dots, picture = str(tmp_path / "dots.bin"), str(tmp_path / "dots.svg")
    told = [
        plain(capsys, "read", *strip, "--losses"),
        plain(capsys, "read", str(tmp_path / "runs.log"), tables[0]),
        plain(capsys, "paper", dots, tables[2], "-o", picture),
        plain(capsys, "marks", dots, tables[2], "--byte", "3"),
        plain(capsys, "layout", dots, tables[2], "dots"),
        plain(capsys, "compare", *tables, "--family", "--carried", "7F"),
        plain(capsys, "explain", dots, *tables),
        plain(capsys, "feed", tables[2], "dots", "--byte", "1 us", "--period", "1 ms", "--value", "n=8"),
        plain(capsys, "check", *tables),
        plain(capsys, "sets", "--seen", "5B=Ä"),
        plain(capsys, "sources", tables[0], "--find", "dots"),
    ]
    assert len({answer["format"] for answer in told}) == 10
    assert sorted({key for answer in told for key in _keys(answer) if f"`{key}`" not in page}) == []


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["compare", "a.toml"], 5, "latchlore: a.toml: a comparison needs two devices\n"),
        (["compare", "a.toml", "b.toml", "--carried", "7"], 2, "a mask is two hexadecimal digits, such as 7F, not '7'"),
        (["read", "s.bin", "a.toml", "--switch", "x"], 2, "a switch is NAME=SETTING, not 'x'"),
        (
            ["read", "s.bin", "a.toml", "--switch", "x=y"],
            3,
            "latchlore: document 'a' has no switch 'x'\n",
        ),
        (["paper", "s.bin", "c.toml", "-o", "x.gif"], 2, "a picture's name ends in .png or .svg, not 'x.gif'"),
        (
            ["paper", "s.bin", "a.toml", "-o", "x.png"],
            5,
            "latchlore: a.toml:1: no paper can be drawn without a [paper] section: head, pitches, cell and line feed\n",
        ),
        (["layout", "s.bin", "c.toml", "feed"], 5, "latchlore: c.toml:13 (command[3]): 'feed' carries no data\n"),
        (
            ["import", "a.toml", "--title", "t", "--device", "d"],
            2,
            "latchlore: a.toml:1: column 'title = \"Guide\"' is not known; known are pattern, name, meaning",
        ),
        (["feed", "c.toml", "dots", "--byte", "1", "--period", "1 ms"], 2, "a time is a number and one of ps, ns, us"),
        (
            ["feed", "c.toml", "dots", "--byte", "2 us..1 us", "--period", "1 ms"],
            2,
            "the least time 2 us is above the most 1 us",
        ),
        (
            ["feed", "c.toml", "dots", "--byte", "1 us", "--period", "1 ms"],
            5,
            "latchlore: c.toml:22 (command[5]): the length of 'dots' depends on n; state it\n",
        ),
        (["explain", "none.bin", "a.toml"], 6, "latchlore: none.bin: No such file or directory\n"),
    ],
)
def test_device_wrong(
    arguments: list[str],
    status: int,
    words: str,
    tmp_path: Path,
    tables: list[str],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What is asked wrongly is refused with its status; nothing is written."""
    assert tables
    (tmp_path / "s.bin").write_bytes(b"A")
    monkeypatch.chdir(tmp_path)
    assert run(["device", *arguments]) == status
    assert words in capsys.readouterr().err
    assert not list(tmp_path.glob("x.*"))

"""The twin for programs: it keeps the published schema, the schema tells of all of it, and its references are right."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import warnings
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from latchlore.cli import run
from latchlore.dossier import schema_text
from latchlore.study import add_finding, record_outcome

SCHEMA: dict[str, Any] = json.loads(schema_text())
DAY = "2026-11-26"
EXAMS = Path(__file__).resolve().parent.parent / "exams"


def demo(folder: Path) -> Path:
    """The demonstration study as it is shipped."""
    shutil.copytree(str(resources.files("latchlore") / "demo"), folder, ignore=shutil.ignore_patterns("*.py", "__*"))
    return folder


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The demonstration with a finding, an outcome and an author, and its dossier."""
    place = tmp_path_factory.mktemp("twin")
    study = demo(place / "study")
    add_finding(study, ("busy", "The code waits while BUSY is high."), ["signal BUSY"], {}, DAY)
    record_outcome(study, "meter on W2", "apart", sure=90, on="2026-11-27")
    file = study / "study.toml"
    file.write_text(f'authors = ["A. Keeper"]\n{file.read_text("utf-8")}', "utf-8")
    assert run(["dossier", str(study), "-o", str(place / "out")]) == 0
    return study, place / "out"


def twin_of(out: Path) -> dict[str, Any]:
    """The twin as any program reads it."""
    twin: dict[str, Any] = json.loads((out / "dossier.json").read_text("utf-8"))
    return twin


CARD = """title = "Card notes"
device = "card"
kind = "note"
invented = true
[[order]]
first_to_last = [["data set", "strobe begins"]]
either = [["busy ends", "acknowledge ends"]]
page = 1
[[register]]
address = "A810"
direction = "read"
page = 2
bits = [{ bit = 6, signal = "BUSY", inverted = true }, { bit = 5, signal = "PAPER-OUT", doubt = "smudged" }]
"""


def test_orders_and_registers(tmp_path: Path) -> None:
    """What a document says of orders and registers stands in the twin, which keeps the schema, and on the page."""
    study = demo(tmp_path / "study")
    (study / "documents" / "card.toml").write_text(CARD, "utf-8")
    assert run(["dossier", str(study), "-o", str(tmp_path / "out")]) == 0
    twin = twin_of(tmp_path / "out")
    assert [(one.json_path, one.message) for one in jsonschema.Draft202012Validator(SCHEMA).iter_errors(twin)] == []
    text = json.dumps(twin)
    assert '"before": [["data set", "strobe begins"]], "either": [["acknowledge ends", "busy ends"]]' in text
    assert '"address": "A810", "space": "memory", "direction": "read"' in text
    page = (tmp_path / "out" / "index.html").read_text("utf-8")
    assert "data set, then strobe begins; acknowledge ends and busy ends either way" in page
    assert "A810 (read) bit 6" in page
    assert "NOT BUSY" in page


def test_schema_is_one() -> None:
    """The shipped file is a JSON Schema of the draft 2020-12, by the library's own check."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_twin_keeps_the_schema(written: tuple[Path, Path]) -> None:
    """The twin is valid (checked by the jsonschema library), and names the schema that lies beside it."""
    _, out = written
    twin = twin_of(out)
    assert [(one.json_path, one.message) for one in jsonschema.Draft202012Validator(SCHEMA).iter_errors(twin)] == []
    assert (out / twin["schema"]).read_text("utf-8") == schema_text()


def test_schema_tells_of_everything(written: tuple[Path, Path]) -> None:
    """No key of the twin is left undescribed: it is still valid where every object forbids unknown keys."""
    _, out = written
    twin = twin_of(out)
    assert {"program", "devices", "variants", "matings", "questions", "record"} <= set(twin)
    closed = _closed(SCHEMA)
    assert [(one.json_path, one.message) for one in jsonschema.Draft202012Validator(closed).iter_errors(twin)] == []


@pytest.mark.parametrize("exam", ["pc-parallel-1981", "printer-cable-pin-14", "strobe-width", "part-or-date"])
def test_schema_tells_of_exams(exam: str, tmp_path: Path) -> None:
    """Boards, matings and documents of the exams, which were not made for the schema, are described by it as well."""
    assert run(["dossier", str(EXAMS / exam / "study"), "-o", str(tmp_path / "out")]) == 0
    validator = jsonschema.Draft202012Validator(_closed(SCHEMA))
    assert [(one.json_path, one.message) for one in validator.iter_errors(twin_of(tmp_path / "out"))] == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), "other"),
        (("study", "sha256"), "12"),
        (("study", "date"), "soon"),
        (("table", "rows", 0, "standing"), "true"),
        (("table", "rows", 0, "testimonies", 0, "origins"), []),
        (("devices", 2, "commands", 0, "parameters"), None),
        (("questions", "questions", 0, "rivals", 0, "now"), 1.5),
        (("cautions",), []),
    ],
)
def test_twin_keeps_the_schema_wrong(path: tuple[str | int, ...], value: object, written: tuple[Path, Path]) -> None:
    """A twin that breaks one rule is not valid, so that validity means something."""
    twin = twin_of(written[1])
    at: Any = twin
    for step in path[:-1]:
        at = at[step]
    at[path[-1]] = value
    assert not jsonschema.Draft202012Validator(SCHEMA).is_valid(twin)


def test_sum_by_another_program(written: tuple[Path, Path]) -> None:
    """The study's sum is what `sha256sum` makes of the lines that `sha256sum` prints for its files, by name."""
    program = shutil.which("sha256sum")
    if program is None:
        pytest.skip("no sha256sum on this machine")
    study, out = written
    twin = twin_of(out)
    names = [one["file"] for one in twin["sources"]]
    assert names == sorted(
        str(path.relative_to(study)) for path in study.rglob("*") if path.name[0] != "." and path.is_file()
    )
    lines = subprocess.run([program, *names], cwd=study, capture_output=True, check=True).stdout
    total = subprocess.run([program], input=lines, capture_output=True, check=True).stdout.split()[0].decode()
    assert twin["study"]["sha256"] == total
    assert total in twin["cite"]["text"]


def test_cite(written: tuple[Path, Path]) -> None:
    """Creator, title, medium, date, identifier, in this order; the date is the last that the study's files name."""
    twin = twin_of(written[1])
    assert twin["study"]["date"] == "2026-11-27"
    assert twin["cite"]["text"] == (
        "A. Keeper. The strip printer card of the Marram tide recorder [dossier and data set]. Invented for "
        f"demonstration. 2026-11-27. Study SHA-256: {twin['study']['sha256']}."
    )


def test_citations(written: tuple[Path, Path]) -> None:
    """The dossier, then every document; authors as they stand, dates as the documents state them."""
    items = json.loads((written[1] / "citations.json").read_text("utf-8"))
    assert [(one["id"], one["type"]) for one in items] == [
        ("dossier", "dataset"),
        ("keepers-letter", "personal_communication"),
        ("museum-label", "document"),
        ("quill-24", "book"),
        ("quill-24g", "book"),
    ]
    assert items[0]["author"] == [{"literal": "A. Keeper"}]
    assert items[0]["issued"] == {"date-parts": [[2026, 11, 27]]}
    assert items[1]["issued"] == {"date-parts": [[1996, 10, 3]]}  # the letter's own date, documents/keepers-letter.toml


def test_citations_by_the_published_lists(written: tuple[Path, Path]) -> None:
    """Every type and variable stands in the lists of the Citation Style Language, which the citeproc package ships."""
    lists = resources.files("citeproc") / "data" / "schema" / "schemas" / "styles"
    items = json.loads((written[1] / "citations.json").read_text("utf-8"))
    for name, used in (
        ("csl-types.rnc", {one["type"] for one in items}),
        ("csl-variables.rnc", {key for one in items for key in one} - {"id", "type"}),
    ):
        known = set(re.findall(r'"([a-z_-]+)"', (lists / name).read_text("utf-8")))
        assert len(known) > 20
        assert used - known == set()


def test_citations_by_another_program(written: tuple[Path, Path]) -> None:
    """A citation formatter (citeproc, with the one style that it ships) reads all references: title and year."""
    from citeproc import Citation, CitationItem, CitationStylesBibliography, CitationStylesStyle, formatter
    from citeproc.source.json import CiteProcJSON

    items = json.loads((written[1] / "citations.json").read_text("utf-8"))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of what the program does not do yet
        style = CitationStylesStyle("harvard-cite-them-right", validate=False)
        made = CitationStylesBibliography(style, CiteProcJSON(items), formatter.plain)
        for one in items:
            made.register(Citation([CitationItem(one["id"])]))
        texts = [str(text) for text in made.bibliography()]
    assert len(texts) == len(items)
    for text, one, year in zip(texts, items, ("2026", "1996", "1994", "1982", "1983"), strict=True):
        assert one["title"].split(" (")[0] in text
        assert f"({year})" in text


def test_cite_without_date(tmp_path: Path) -> None:
    """Where no file of the study states a date, none is given, and the page says so."""
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "strip.log").write_text("1B 40 0D 0A\n")
    assert run(["dossier", str(tmp_path / "study"), "-o", str(tmp_path / "out")]) == 0
    twin = twin_of(tmp_path / "out")
    assert twin["study"]["date"] is None
    assert twin["cite"]["text"].startswith("study [dossier and data set]. [no date]. Study SHA-256: ")
    assert "The study's files state no date." in " ".join(
        (tmp_path / "out" / "index.html").read_text().split()
    ).replace("&#39;", "'")
    assert "issued" not in json.loads((tmp_path / "out" / "citations.json").read_text())[0]


def _closed(schema: Any) -> Any:
    """The same schema, where every object that lists its keys allows no others."""
    if isinstance(schema, list):
        return [_closed(one) for one in schema]
    if not isinstance(schema, dict):
        return schema
    made = {key: _closed(value) for key, value in schema.items()}
    if isinstance(schema.get("properties"), dict) and "type" in schema:
        made["additionalProperties"] = False
    return made

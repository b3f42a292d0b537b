"""What the documents say."""

from __future__ import annotations

from latchlore import device as wing
from latchlore.base import (
    ActiveLevel,
    Emission,
    Origin,
    Span,
    SpanLimit,
    Strength,
    Subject,
    SubjectKind,
    Witness,
    Words,
)

TEXT = """
title = "Guide"
device = "Quill"
kind = "manual"
pages = 48
connector = "J2"
[interface]
data_bits = 7
page = 40
[[command]]
pattern = "1B 4B n data*n"
meaning = "draw n dot columns"
page = 12
row = 3
quote = "ESC K n"
[[command]]
pattern = "1B 4{8B}"
meaning = "wide"
page = 13
[[pin]]
number = "1"
signal = "STROBE"
direction = "in"
active = "low"
page = 41
[[timing]]
what = "strobe width"
least = "500 ns"
most = "50 us"
page = 42
doubt = "the figure is smudged"
[[timing]]
what = "acknowledge width"
typical = "12 us"
[[sequence]]
name = "power-on"
bytes = "1B 40"
[[claim]]
about = "curve"
says = "The strip once showed a dot-drawn curve."
emission = "dot-drawn curve"
happens = true
[[claim]]
about = "paper"
says = "silver"
"""


def test_testify() -> None:
    """Each row becomes a statement about its subject, with page and row, the doubt lowering its strength."""
    said = wing.testify([wing.read_device(TEXT.encode(), "documents/quill.toml")])
    found = {one.subject: one for one in said}
    assert {one.witness for one in said} == {Witness.DOCUMENTS}
    dots = found[Subject(SubjectKind.COMMAND, ("1B 4B",))]
    assert (dots.value, str(dots.origins[0])) == (
        Words("draw n dot columns"),
        "documents/quill.toml:10 (page 12, row 3)",
    )
    assert dots.note == "printed: ESC K n"
    assert dots.method == "command row of the manual 'Guide'"
    wide = found[Subject(SubjectKind.COMMAND, ("1B 48",))]
    assert (wide.strength, wide.note) == (Strength.GUESSED, "the code may also read 1B 4B")
    assert found[Subject(SubjectKind.PIN, ("J2", "1"))].value == Words("STROBE, in")
    assert found[Subject(SubjectKind.SIGNAL, ("STROBE",))].value == ActiveLevel(0)
    width = found[Subject(SubjectKind.TIMING, ("strobe width",))]
    assert width.value == SpanLimit(Span.of(ns=500), Span.of(us=50))
    assert (width.strength, width.note) == (Strength.GUESSED, "doubt: the figure is smudged")
    assert found[Subject(SubjectKind.WIDTH, ("data width needed",))].value == Words("7 bits")
    assert str(found[Subject(SubjectKind.SEQUENCE, ("power-on",))].value).startswith("1B 40")
    emission = found[Subject(SubjectKind.EMISSION, ("dot-drawn curve",))]
    assert emission.value == Emission(True, ("The strip once showed a dot-drawn curve.",))
    assert found[Subject(SubjectKind.NOTE, ("paper",))].value == Words("silver")
    assert found[Subject(SubjectKind.NOTE, ("acknowledge width (typical)",))].value == Words("typically 12 us")
    assert len(said) == 10


def test_two_manuals_meet() -> None:
    """Two documents that disagree on one code speak about the same subject, in the order given."""
    texts = [TEXT, TEXT.replace("draw n dot columns", "cut the paper")]
    said = wing.testify([wing.read_device(text.encode(), f"documents/{i}.toml") for i, text in enumerate(texts)])
    dots = [one for one in said if one.subject == Subject(SubjectKind.COMMAND, ("1B 4B",))]
    assert [str(one.value) for one in dots] == ["draw n dot columns", "cut the paper"]
    assert wing.testify([]) == ()


def test_effects_of_commands() -> None:
    """What a command does, one for one with the table's effects: the demonstration's codes."""
    from latchlore.demo import demo_folder

    file = demo_folder() / "documents" / "quill-24.toml"
    said = wing.testify([wing.read_device(file.read_bytes(), "documents/quill-24.toml")])
    effects = {
        one.subject.key[0]: one.value.effect
        for one in said
        if one.subject.kind is SubjectKind.COMMAND and isinstance(one.value, Words)
    }
    assert effects == {
        "20..7E": "print; followed by 1 byte",
        "0D": "carriage return; underlined: off; wide: off; followed by nothing",
        "0A": "line feed; followed by nothing",
        "06": "wide: on; followed by nothing",
        "16 5A": "reset; followed by nothing",
        "16 4C": "line step; followed by 1 byte",
        "16 44": "rows; rows of all its data, high bit first, feed 1; followed by counted",
    }


def test_testify_commands_under_switches() -> None:
    """Of two rows of one code the one in force is weighed, by the factory or as stated; the other is a note."""
    row = '[[command]]\npattern = "0D"\nmeaning = "{}"\nwhen_switch = {{ "line end" = "{}" }}\n'
    text = (
        'title = "Guide"\ndevice = "Quill"\nkind = "manual"\ninvented = true\n'
        '[[switch]]\nname = "line end"\nlevers = ["1"]\nfactory = "CR"\n'
        'settings = [{ levers = "off", is = "CR" }, { levers = "on", is = "CR LF" }]\n'
        + row.format("return", "CR")
        + row.format("return and feed", "CR LF")
    )
    device = wing.read_device(text.encode(), "documents/guide.toml")
    made = [(str(one.subject), str(one.value)) for one in wing.testify([device])]
    assert made == [("code 0D", "return"), ("code 0D while line end CR LF", "return and feed")]
    on = wing.StatedSwitch("line end", "CR LF", Origin.at_line("study.toml", 2))
    stated = [(str(one.subject), str(one.value)) for one in wing.testify([device], [on])]
    assert stated == [("code 0D while line end CR", "return"), ("code 0D", "return and feed")]

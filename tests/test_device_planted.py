"""Errors planted into documents that agree with themselves: each kind is found, and its own mending is proposed.

Documents are made up at random and check clean; then one character is changed.  What is counted is said in each test;
nothing of the checks was set by these documents.
"""

from __future__ import annotations

import random
import re
from typing import NamedTuple

import pytest

from latchlore.base import BadInput
from latchlore.device import Inconsistency, check_document, read_device
from latchlore.device._lookalikes import looks_alike

HEX = "0123456789ABCDEF"
HEAD = 'title = "Notice"\ndevice = "Quill"\nkind = "notice"\n'
NAMES = {27: "ESC", 28: "FS", 29: "GS", 30: "RS", 31: "US"}


class Planted(NamedTuple):
    """A clean document, the document with the error, and the change: text with the error, text that was right."""

    clean: str
    wrong: str
    old: str
    new: str


def misprint(text: str, rng: random.Random, digits: str = "0123456789") -> str | None:
    """The text with one digit read as its double; None where no digit has one."""
    places = [(i, new) for i, old in enumerate(text) for new in digits if looks_alike(old, new)]
    if not places:
        return None
    place, new = rng.choice(places)
    return text[:place] + new + text[place + 1 :]


def command_text(code: tuple[int, int], texts: dict[str, str]) -> str:
    """A command row with its code in three notations, some of them replaced."""
    told = {
        "pattern": f"{code[0]:02X} {code[1]:02X}",
        "decimal": f"{code[0]} {code[1]}",
        "keys": f"{NAMES[code[0]]} {chr(code[1])}",
        **texts,
    }
    return f'[[command]]\nmeaning = "m{code[0]:X}{code[1]:X}"\n' + "".join(f'{k} = "{v}"\n' for k, v in told.items())


def plant_notation(rng: random.Random) -> Planted | None:
    """One digit of a code's hexadecimal or decimal notation."""
    codes = rng.sample([(a, b) for a in NAMES for b in range(0x41, 0x5B)], 12)
    key = rng.choice(("pattern", "decimal"))
    place = rng.randrange(12)
    right = f"{codes[place][1]:02X}" if key == "pattern" else str(codes[place][1])
    wrong = misprint(right, rng, HEX if key == "pattern" else HEX[:10])
    if wrong is None:
        return None
    first = f"{codes[place][0]:02X}" if key == "pattern" else str(codes[place][0])
    rows = [command_text(code, {}) for code in codes]
    clean = HEAD + "".join(rows)
    rows[place] = command_text(codes[place], {key: f"{first} {wrong}"})
    return Planted(clean, HEAD + "".join(rows), wrong, right)


def table_text(columns: list[str], rows: list[list[str]], more: str) -> str:
    """A table of figures."""
    shown = ", ".join(f'"{name}"' for name in columns)
    cells = ",\n".join("[" + ", ".join(f'"{cell}"' for cell in row) + "]" for row in rows)
    return f'{HEAD}[[table]]\nname = "t"\ncolumns = [{shown}]\n{more}rows = [\n{cells}\n]\n'


def plant_cell(rng: random.Random, columns: list[str], rows: list[list[str]], column: int, more: str) -> Planted | None:
    """One digit of a cell."""
    place = rng.randrange(len(rows))
    right = rows[place][column]
    wrong = misprint(right, rng, HEX if "hex" in columns[column] else HEX[:10])
    if wrong is None:
        return None
    changed = [list(row) for row in rows]
    changed[place][column] = wrong
    return Planted(table_text(columns, rows, more), table_text(columns, changed, more), wrong, right)


def plant_twin(rng: random.Random) -> Planted | None:
    """One digit of a number that stands in decimal and in hexadecimal, the rows lying on a line."""
    step, start = rng.randrange(17, 90), rng.randrange(100, 900)
    rows = [[str(x), str(start + step * x), f"{start + step * x:X}"] for x in range(1, 9)]
    more = 'kinds = ["decimal", "decimal", "hex"]\nsame = [["word", "word hex"]]\nline = { value = "word", by = "x" }\n'
    return plant_cell(rng, ["x", "word", "word hex"], rows, rng.choice((1, 2)), more)


def plant_line(rng: random.Random) -> Planted | None:
    """One digit of a value on a line of eight rows."""
    step, start = rng.randrange(11, 90), rng.randrange(100, 900)
    rows = [[str(x), str(start + step * x)] for x in range(1, 9)]
    return plant_cell(rng, ["x", "word"], rows, 1, 'line = { value = "word", by = "x" }\n')


def plant_order(rng: random.Random) -> Planted | None:
    """One digit of a sorted column, by which it is no longer sorted."""
    numbers = sorted(rng.sample(range(100, 999), 9))
    planted = plant_cell(rng, ["n"], [[str(n)] for n in numbers], 0, 'rising = ["n"]\n')
    if planted is None:
        return None
    changed = [int(cell) for cell in re.findall(r'\["(\d+)"\]', planted.wrong)]
    return planted if changed != sorted(changed) else None


def plant_switch(rng: random.Random) -> Planted:
    """One lever of a full table of switches."""
    size = rng.choice((2, 3, 4))
    levers = [[("off", "on")[number >> bit & 1] for bit in range(size)] for number in range(1 << size)]
    rng.shuffle(levers)

    def text(rows: list[list[str]]) -> str:
        settings = ", ".join(f'{{ levers = "{" ".join(row)}", is = "v{k}" }}' for k, row in enumerate(rows))
        names = ", ".join(f'"{k + 1}"' for k in range(size))
        return f'{HEAD}[[switch]]\nname = "rate"\nlevers = [{names}]\nsettings = [{settings}]\n'

    changed = [list(row) for row in levers]
    row, lever = rng.randrange(len(levers)), rng.randrange(size)
    changed[row][lever] = "on" if changed[row][lever] == "off" else "off"
    return Planted(text(levers), text(changed), " ".join(changed[row]), " ".join(levers[row]))


def plant_count(rng: random.Random) -> Planted | None:
    """One digit of the count of bytes that fill a row of the head's dots."""
    count = rng.randrange(8, 99)
    wrong = misprint(str(count), rng)
    if wrong is None or wrong.startswith("0"):
        return None
    paper = f'[paper]\nhead_dots = {8 * count}\ndot_x = "0.3 mm"\ndot_y = "0.3 mm"\ncolumns = {8 * count // 6}\n'
    paper += "cell_dots = 6\nline_feed = 9\n"
    row = '[[command]]\nmeaning = "row"\ndoes = "rows"\npattern = "16 d*{n}"\n'
    row += '[command.graphics]\ndata = "d"\nleft = "high"\n'
    return Planted(
        HEAD + paper + row.replace("{n}", str(count)), HEAD + paper + row.replace("{n}", wrong), wrong, str(count)
    )


def plant_pin(rng: random.Random) -> Planted | None:
    """One digit of a pin's number, by which another pin stands twice."""
    size = rng.randrange(14, 37)
    place = rng.randrange(size)
    wrong = misprint(str(place + 1), rng)
    if wrong is None or not 1 <= int(wrong) <= size or wrong.startswith("0"):
        return None

    def text(numbers: list[str]) -> str:
        return HEAD + "".join(f'[[pin]]\nnumber = "{n}"\nsignal = "S{k}"\n' for k, n in enumerate(numbers))

    numbers = [str(k + 1) for k in range(size)]
    return Planted(
        text(numbers), text([wrong if k == place else n for k, n in enumerate(numbers)]), wrong, str(place + 1)
    )


KINDS = {
    "a code in three notations": plant_notation,
    "a number given twice": plant_twin,
    "a value on a line": plant_line,
    "a sorted column": plant_order,
    "a switch table": plant_switch,
    "bytes against dots": plant_count,
    "a pin list": plant_pin,
}


class Score(NamedTuple):
    """Of `planted` errors: found; right edit among those proposed; as good as the first; the only one so good."""

    planted: int
    found: int
    among: int
    first: int
    alone: int


def best_edits(found: tuple[Inconsistency, ...]) -> list[tuple[str, str]]:
    """The edits that are as good as the first of each inconsistency: as few digits, as much alike."""
    return [
        (edit.old, edit.new)
        for one in found
        for edit in one.edits
        if (edit.unlike, edit.digits) <= (one.edits[0].unlike, one.edits[0].digits)
    ]


def score_kind(kind: str, number: int) -> Score:
    """Plant errors of one kind into so many documents; each document must check clean without its error."""
    rng = random.Random(kind)
    planted = found = among = first = alone = 0
    while planted < number:
        one = KINDS[kind](rng)
        if one is None:
            continue
        assert check_document(read_device(one.clean.encode(), "documents/n.toml")) == ()
        planted += 1
        try:
            slips = check_document(read_device(one.wrong.encode(), "documents/n.toml"))
        except BadInput as refused:  # the misprint made a code another row's: the first way out is the right one
            told = re.search(r"both fit [0-9A-F ]+; '[0-9A-F]{2} ([0-9A-F]{2})' in line", str(refused))
            found += 1
            among += told is not None and told[1] == one.new
            first += told is not None and told[1] == one.new
            alone += told is not None and told[1] == one.new
            continue
        found += bool(slips)
        change = (one.old, one.new)
        among += change in [(edit.old, edit.new) for slip in slips for edit in slip.edits]
        first += change in best_edits(slips)
        alone += set(best_edits(slips)) == {change}
    return Score(planted, found, among, first, alone)


@pytest.mark.parametrize("kind", KINDS)
def test_planted_errors_are_found(kind: str) -> None:
    """Every planted look-alike is found, and none of the edits proposed is better than its own mending.

    In a sorted column a misprint that keeps the order is not counted as planted: nothing could tell it.
    """
    score = score_kind(kind, 25)
    assert (score.found, score.among, score.first) == (25, 25, 25)


def collision(rng: random.Random) -> tuple[str, str, str] | None:
    """A document in which a misprint makes two codes the same, the row with the slip, and its text that was right."""
    codes = rng.sample(range(0x20, 0xF0), 10)
    texts = [f"1B {code:02X} n" for code in codes]
    row = rng.randrange(10)
    wrong = misprint(f"{codes[row]:02X}", rng, HEX)
    if wrong is None or int(wrong, 16) in codes:
        return None
    texts[(row + 1) % 10] = f"1B {wrong} n"
    right = texts[row]
    texts[row] = f"1B {wrong} n"
    rows = "".join(f'[[command]]\npattern = "{text}"\nmeaning = "m{k}"\n' for k, text in enumerate(texts))
    return HEAD + rows, texts[row], right


def test_planted_collisions_are_refused_with_the_way_out() -> None:
    """A look-alike that makes two rows the same is refused, and the right code is among those that part them."""
    rng, seen, shown = random.Random(7), 0, 0
    while seen < 40:
        made = collision(rng)
        if made is None:
            continue
        text, wrong, right = made
        with pytest.raises(
            BadInput, match=rf"pattern '{wrong}' overlaps '{wrong}' in line \d+: both fit 1B"
        ) as refused:
            read_device(text.encode(), "documents/n.toml")
        seen += 1
        told = str(refused.value)
        assert " would not" in told
        shown += f"'{right}'" in told or " more would not" in told
    assert shown == 40


def test_collision_by_hand() -> None:
    """8 for B: the row whose decimal code says otherwise is named first."""
    text = HEAD + '[[command]]\npattern = "1B 48"\nmeaning = "home"\n'
    text += '[[command]]\npattern = "1B 48"\nmeaning = "dots"\ndecimal = "27 75"\n'
    with pytest.raises(
        BadInput,
        match=r"^documents/n\.toml:8 \(command\[2\]\.pattern\): pattern '1B 48' overlaps '1B 48' in line 4: both fit "
        r"1B 48; '1B 4B' in line 7 \(B for 8, as its code in the other notations says\) or ",
    ):
        read_device(text.encode(), "documents/n.toml")

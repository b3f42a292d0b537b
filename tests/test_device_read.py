"""Reading a device table, and what is refused."""

from __future__ import annotations

import re

import pytest

from latchlore.base import BadInput, Span, SpanLimit, UnknownName
from latchlore.device import read_device

FILE = "documents/quill-a.toml"
HEAD = 'title = "Guide"\ndevice = "Quill"\nkind = "manual"\npages = 48\n'
PAPER = '[paper]\nhead_dots = 144\ndot_x = "0.33 mm"\ndot_y = "0.36 mm"\ncolumns = 24\ncell_dots = 6\nline_feed = 10\n'
DOTS = '[[command]]\npattern = "1B 4B n data*n"\nmeaning = "dots"\ndoes = "columns"\n'
GRAPHICS = '[command.graphics]\ndata = "data"\ntop = "high"\n'


def test_read_device() -> None:
    """A row knows its place in the file and in the document."""
    text = HEAD + '[[command]]\npattern = "1B 4B"\nmeaning = "x"\npage = 12\nrow = 3\ndoubt = "smudged"\n'
    device = read_device(text.encode(), FILE)
    assert str(device.commands[0].citation.origin) == "documents/quill-a.toml:5 (page 12, row 3)"
    assert device.commands[0].citation.doubt == "smudged"
    assert device.document == "quill-a"


def test_read_device_smallest() -> None:
    """A file that holds one statement is a whole device table."""
    text = 'title = "Label"\ndevice = "Quill"\nkind = "label"\n[[claim]]\nabout = "paper"\nsays = "silver"\n'
    assert read_device(text.encode(), FILE).claims[0].says == "silver"


def test_doubtful_time() -> None:
    """A doubtful digit of a time leaves further limits."""
    text = HEAD + '[[timing]]\nwhat = "strobe width"\nleast = "{17}00 ns"\n'
    timing = read_device(text.encode(), FILE).timings[0]
    assert timing.limit == SpanLimit(Span.of(ns=100), None)
    assert timing.others == (SpanLimit(Span.of(ns=700), None),)


def test_get_command_wrong() -> None:
    """A name that is not in the table is refused with those that are."""
    device = read_device((HEAD + '[[command]]\npattern = "0A"\nmeaning = "feed"\n').encode(), FILE)
    assert device.get_command("feed").code == "0A"
    with pytest.raises(UnknownName, match=r"^document 'quill-a' has no command 'dots'; known are 'feed'$"):
        device.get_command("dots")


BROKEN = [
    ("not TOML", "title = ", r"documents/quill-a\.toml:1: not TOML: invalid value"),
    ("no kind", 'title = "x"\ndevice = "y"\n', r"documents/quill-a\.toml:1: key 'kind' is missing"),
    (
        "unknown kind",
        'title = "x"\ndevice = "y"\nkind = "book"\n',
        r"documents/quill-a\.toml:3 \(kind\): this is one of manual, .*, note, not 'book'",
    ),
    (
        "unknown event",
        HEAD + '[[order]]\nfirst_to_last = [["data set", "strobe falls"]]\n',
        r"documents/quill-a\.toml:6 \(order\[1\]\.first_to_last\[1\]\[2\]\): this is one of busy looked at, .*, "
        r"acknowledge looked at, not 'strobe falls'",
    ),
    (
        "order of nothing",
        HEAD + "[[order]]\npage = 3\n",
        r"documents/quill-a\.toml:5 \(order\[1\]\): an order has 'first_to_last' or 'either'",
    ),
    (
        "order against the meaning of its words",
        HEAD + '[[order]]\nfirst_to_last = [["strobe ends", "data set"]]\n',
        r"documents/quill-a\.toml:5 \(order\[1\]\): these cannot each come before the next, all around: "
        r"data set, strobe ends",
    ),
    (
        "order and none",
        HEAD + '[[order]]\nfirst_to_last = [["busy ends", "acknowledge ends"]]\n'
        'either = [["acknowledge ends", "busy ends"]]\n',
        r"documents/quill-a\.toml:5 \(order\[1\]\): 'acknowledge ends' and 'busy ends' have an order and cannot come "
        r"either way",
    ),
    (
        "bad address",
        HEAD + '[[register]]\naddress = "c801h"\ndirection = "read"\n',
        r"documents/quill-a\.toml:6 \(register\[1\]\.address\): an address is up to four upper-case hexadecimal "
        r"digits, such as C801, C800-C803 or port 90, not 'c801h'",
    ),
    (
        "doubtful address that is none as read",
        HEAD + '[[register]]\naddress = "C80{G1}"\ndirection = "read"\n',
        r"documents/quill-a\.toml:6 \(register\[1\]\.address\): an address is up to four upper-case hexadecimal "
        r"digits, such as C801, C800-C803 or port 90, not 'C80\{G1\}'",
    ),
    (
        "bit above 7",
        HEAD + '[[register]]\naddress = "C801"\ndirection = "read"\nbits = [{ bit = 8, unused = true }]\n',
        r"documents/quill-a\.toml:8 \(register\[1\]\.bits\[1\]\.bit\): this is a number from 0 to 7, or a doubtful "
        r"digit such as '\{76\}', not 8",
    ),
    (
        "doubtful bit above 7 as read",
        HEAD + '[[register]]\naddress = "C801"\ndirection = "read"\nbits = [{ bit = "{87}", unused = true }]\n',
        r"documents/quill-a\.toml:8 \(register\[1\]\.bits\[1\]\.bit\): this is a number from 0 to 7, or a doubtful "
        r"digit such as '\{76\}', not '\{87\}'",
    ),
    (
        "doubtful event that is none",
        HEAD + '[[order]]\nfirst_to_last = [["data set", "strobe {begins|falls}"]]\n',
        r"documents/quill-a\.toml:6 \(order\[1\]\.first_to_last\[1\]\[2\]\): this is one of busy looked at, .*, "
        r"acknowledge looked at, not 'strobe \{begins\|falls\}'",
    ),
    (
        "braces of a doubtful word",
        HEAD + '[[order]]\nfirst_to_last = [["data set", "strobe {begins"]]\n',
        r"documents/quill-a\.toml:6 \(order\[1\]\.first_to_last\[1\]\[2\]\): doubtful words are written "
        r"\{begins\|ends\}, not 'strobe \{begins'",
    ),
    (
        "setting that the switch of a register does not have",
        HEAD + '[[register]]\naddress = "C801"\ndirection = "read"\nwhen_switch = { base = "D8" }\n',
        r"documents/quill-a\.toml:8 \(register\[1\]\.when_switch\.base\): there is no switch 'base'",
    ),
    (
        "setting that the switch of an order does not have",
        HEAD + '[[switch]]\nname = "base"\nlevers = ["1"]\nsettings = [{ levers = "on", is = "C8" }]\n'
        '[[order]]\neither = [["busy begins", "strobe ends"]]\nwhen_switch = { base = "D8" }\n',
        r"documents/quill-a\.toml:11 \(order\[1\]\.when_switch\.base\): switch 'base' has no setting 'D8'",
    ),
    (
        "bit without an end",
        HEAD + '[[register]]\naddress = "C801"\ndirection = "read"\nbits = [{ bit = 7 }]\n',
        r"documents/quill-a\.toml:8 \(register\[1\]\.bits\[1\]\): a bit has one of 'signal', 'always' and 'unused'",
    ),
    (
        "two senses",
        HEAD + '[[register]]\naddress = "C801"\ndirection = "read"\n'
        'bits = [{ bit = 7, signal = "BUSY", inverted = true, when_true = 1 }]\n',
        r"documents/quill-a\.toml:8 \(register\[1\]\.bits\[1\]\): a bit has 'inverted' \(against its pin\) or "
        r"'when_true' \(against its name\), not both",
    ),
    (
        "bit twice",
        HEAD + '[[register]]\naddress = "C801"\ndirection = "read"\n'
        "bits = [{ bit = 7, always = 1 }, { bit = 7, unused = true }]\n",
        r"documents/quill-a\.toml:5 \(register\[1\]\): bit 7 stands twice",
    ),
    (
        "register twice",
        HEAD + '[[register]]\naddress = "C801"\ndirection = "read"\n[[register]]\naddress = "C801-C802"\n'
        'direction = "read"\n',
        r"documents/quill-a\.toml:9 \(register\[2\]\.address\): register C801-C802 \(read\) stands already in row 1",
    ),
    (
        "sense without a pin",
        HEAD + '[[register]]\naddress = "C801"\ndirection = "read"\n'
        'bits = [{ bit = 7, signal = "BUSY", when_true = 1 }]\n',
        r"documents/quill-a\.toml:8 \(register\[1\]\.bits\[1\]\.when_true\): 'when_true' needs the level of the pin: "
        r"a \[\[pin\]\] row of signal 'BUSY' with 'active'",
    ),
    (
        "page of a bit",
        HEAD + '[[register]]\naddress = "C801"\ndirection = "read"\nbits = [{ bit = 7, always = 1, page = 49 }]\n',
        r"documents/quill-a\.toml:8 \(register\[1\]\.bits\[1\]\.page\): page 49 does not exist; the document has 48 "
        r"pages",
    ),
    ("unknown key", HEAD + "colour = 1\n", r"documents/quill-a\.toml:5 \(colour\): key 'colour' is not known here"),
    (
        "bad pattern",
        HEAD + '[[command]]\npattern = "1b"\nmeaning = "x"\n',
        r"documents/quill-a\.toml:6 \(command\[1\]\.pattern\): part '1b' is not understood; "
        r"a byte is two upper-case hexadecimal digits, not '1b'",
    ),
    (
        "count of itself",
        HEAD + '[[command]]\npattern = "1B n*n"\nmeaning = "x"\n',
        r"documents/quill-a\.toml:6 \(command\[1\]\.pattern\): count of 'n' refers to itself, not '1B n\*n'",
    ),
    (
        "same pattern twice",
        HEAD + '[[command]]\npattern = "0A"\nmeaning = "x"\n[[command]]\npattern = "0A"\nmeaning = "y"\n',
        r"documents/quill-a\.toml:9 \(command\[2\]\.pattern\): pattern '0A' overlaps '0A' in line 5: both fit 0A"
        r"; '04' in line 5 \(4 for A\) or 'CA' in line 5 \(C for 0\) or 'DA' in line 5 \(D for 0\) or 3 more would not",
    ),
    (
        "one pattern begins another",
        HEAD + '[[command]]\npattern = "1B n"\nmeaning = "x"\n[[command]]\npattern = "1B 4B m"\nmeaning = "y"\n',
        r"documents/quill-a\.toml:9 \(command\[2\]\.pattern\): "
        r"pattern '1B 4B m' overlaps '1B n' in line 5: both fit 1B 4B"
        r"; '13 n' in line 5 \(3 for B\) or '18 n' in line 5 \(8 for B\) or "
        r"'7B n' in line 5 \(7 for 1\) or 3 more would not",
    ),
    (
        "data against bytes",
        HEAD + '[[command]]\npattern = "02 d->03"\nmeaning = "x"\n[[command]]\npattern = "02 07"\nmeaning = "y"\n',
        r"documents/quill-a\.toml:9 \(command\[2\]\.pattern\): "
        r"pattern '02 07' overlaps '02 d->03' in line 5: both fit 02 data"
        r"; 'C2 d->03' in line 5 \(C for 0\) or 'D2 d->03' in line 5 \(D for 0\) or "
        r"'C2 07' in line 8 \(C for 0\) or 1 more would not",
    ),
    (
        "cell wider than the head",
        HEAD + PAPER.replace("cell_dots = 6", "cell_dots = 200"),
        r"documents/quill-a\.toml:10 \(paper\.cell_dots\): a cell of 200 dots is wider than the head of 144 dots",
    ),
    (
        "line wider than the head",
        HEAD + PAPER.replace("columns = 24", "columns = 25"),
        r"documents/quill-a\.toml:9 \(paper\.columns\): 25 cells of 6 dots are wider than the head of 144 dots",
    ),
    (
        "narrow cell",
        HEAD + PAPER.replace("cell_dots = 6", "cell_dots = 4"),
        r"documents/quill-a\.toml:10 \(paper\.cell_dots\): a cell of 4 dots is too narrow for characters 5 dots wide",
    ),
    (
        "a length without unit",
        HEAD + PAPER.replace("0.33 mm", "0.33"),
        r"documents/quill-a\.toml:7 \(paper\.dot_x\): a length is a number or a fraction and mm or in, "
        r"such as '0\.33 mm' or '1/72 in', not '0\.33'",
    ),
    (
        "a length that is a float",
        HEAD + PAPER.replace('"0.33 mm"', "0.33"),
        r"documents/quill-a\.toml:7 \(paper\.dot_x\): this is text in quotes, not 0\.33",
    ),
    (
        "paper narrower than the head",
        HEAD + PAPER + 'width = "40 mm"\n',
        r"documents/quill-a\.toml:12 \(paper\.width\): the head's 144 dots do not fit on paper of 40 mm",
    ),
    (
        "a page beyond the document",
        HEAD + "[interface]\ndata_bits = 8\npage = 49\n",
        r"documents/quill-a\.toml:7 \(interface\.page\): page 49 does not exist; the document has 48 pages",
    ),
    (
        "page nought",
        HEAD + "[interface]\npage = 0\n",
        r"documents/quill-a\.toml:6 \(interface\.page\): pages are counted from 1, not 0",
    ),
    (
        "a page in quotes",
        HEAD + '[interface]\npage = "12"\n',
        r"documents/quill-a\.toml:6 \(interface\.page\): a page that is a number stands without quotes, not '12'",
    ),
    (
        "graphics missing",
        HEAD + DOTS,
        r"documents/quill-a\.toml:8 \(command\[1\]\.does\): a row that does 'columns' needs \[command\.graphics\]",
    ),
    (
        "graphics without data",
        HEAD + DOTS + GRAPHICS.replace('"data"', '"dots"'),
        r"documents/quill-a\.toml:10 \(command\[1\]\.graphics\.data\): the pattern has no data 'dots'",
    ),
    (
        "too many dots",
        HEAD + DOTS + GRAPHICS + "dots = 9\n",
        r"documents/quill-a\.toml:12 \(command\[1\]\.graphics\.dots\): 9 dots do not fit into 1 bytes",
    ),
    (
        "a parameter that is not there",
        HEAD + '[[command]]\npattern = "1B"\nmeaning = "x"\nparameters.n = { least = 1 }\n',
        r"documents/quill-a\.toml:8 \(command\[1\]\.parameters\.n\): the pattern has no parameter 'n'",
    ),
    (
        "least above most",
        HEAD + '[[command]]\npattern = "1B n"\nmeaning = "x"\nparameters.n = { least = 9, most = 1 }\n',
        r"documents/quill-a\.toml:8 \(command\[1\]\.parameters\.n\): least 9 is above most 1",
    ),
    (
        "an amount without use",
        HEAD + '[[command]]\npattern = "1B n"\nmeaning = "x"\namount = "n"\n',
        r"documents/quill-a\.toml:5 \(command\[1\]\): "
        r"a row that does None has an amount only with 'feed', 'line step' or 'form length'",
    ),
    (
        "an unknown mode",
        HEAD + '[[command]]\npattern = "1B"\nmeaning = "x"\nsets = { bold = "on" }\n',
        r"documents/quill-a\.toml:8 \(command\[1\]\.sets\.bold\): there is no mode 'bold'; "
        r"known are 'auto line feed', 'character set', 'inverse', 'tall', 'underlined', 'wide'",
    ),
    (
        "an unknown value of a mode",
        HEAD + '[[command]]\npattern = "1B"\nmeaning = "x"\nsets = { wide = "yes" }\n',
        r"documents/quill-a\.toml:8 \(command\[1\]\.sets\.wide\): mode 'wide' has no value 'yes'",
    ),
    (
        "a mode twice",
        HEAD + '[[mode]]\nname = "wide"\nvalues = ["a", "b"]\nstart = "c"\n',
        r"documents/quill-a\.toml:6 \(mode\[1\]\.name\): mode 'wide' is declared already\n"
        r"documents/quill-a\.toml:8 \(mode\[1\]\.start\): start 'c' is not among the values 'a', 'b'",
    ),
    (
        "an unknown switch",
        HEAD + '[[command]]\npattern = "1B"\nmeaning = "x"\nwhen_switch = { S1 = "on" }\n',
        r"documents/quill-a\.toml:8 \(command\[1\]\.when_switch\.S1\): there is no switch 'S1'",
    ),
    (
        "wrong number of levers",
        HEAD + '[[switch]]\nname = "S"\nlevers = ["1", "2"]\nfactory = "x"\nsettings = [{ levers = "on", is = "y" }]\n',
        r"documents/quill-a\.toml:8 \(switch\[1\]\.factory\): factory setting 'x' is not among the settings\n"
        r"documents/quill-a\.toml:9 \(switch\[1\]\.settings\[1\]\.levers\): switch 'S' has 2 levers, not 1",
    ),
    (
        "an unknown national version",
        HEAD + '[characters]\nset = "ISO646-XX"\n',
        r"documents/quill-a\.toml:6 \(characters\.set\): "
        r"there is no national version of ISO 646 named 'ISO646-XX'; known are ISO646-US, .*",
    ),
    (
        "an unknown time",
        HEAD + '[[timing]]\nwhat = "strobe-width"\nleast = "1 us"\n',
        r"documents/quill-a\.toml:6 \(timing\[1\]\.what\): this is one of data set-up, .*, byte period, "
        r"not 'strobe-width'",
    ),
    (
        "a time without limit",
        HEAD + '[[timing]]\nwhat = "strobe width"\n',
        r"documents/quill-a\.toml:5 \(timing\[1\]\): a figure has 'least', 'most' or 'typical'",
    ),
    (
        "least time above most",
        HEAD + '[[timing]]\nwhat = "strobe width"\nleast = "1 us"\nmost = "500 ns"\n',
        r"documents/quill-a\.toml:5 \(timing\[1\]\): least 1 us is above most 500 ns",
    ),
    (
        "a claim without its sense",
        HEAD + '[[claim]]\nabout = "x"\nsays = "y"\nemission = "z"\n',
        r"documents/quill-a\.toml:5 \(claim\[1\]\): 'emission' and 'happens' stand together or not at all",
    ),
    (
        "a row with a cell too few",
        HEAD + '[[table]]\nname = "t"\ncolumns = ["a", "b"]\nrows = [["1"]]\n',
        r"documents/quill-a\.toml:8 \(table\[1\]\.rows\[1\]\): table 't' has 2 columns; this row has 1",
    ),
    (
        "a printed sequence that is none",
        HEAD + '[[sequence]]\nname = "s"\nbytes = "1B4"\n',
        r"documents/quill-a\.toml:7 \(sequence\[1\]\.bytes\): bytes are pairs of upper-case hexadecimal digits "
        r"with spaces between, such as '1B 40', not '1B4'",
    ),
    (
        "a checksum that is none",
        HEAD + 'sha256 = "12"\n',
        r"documents/quill-a\.toml:5 \(sha256\): a SHA-256 checksum has 64 hexadecimal digits, not '12'",
    ),
    (
        "a date that is none",
        HEAD + 'date = "March 1982"\n',
        r"documents/quill-a\.toml:5 \(date\): a date is written 1982, 1982-03 or 1982-03-14, not 'March 1982'",
    ),
]


@pytest.mark.parametrize(("what", "text", "words"), BROKEN, ids=[row[0] for row in BROKEN])
def test_read_device_wrong(what: str, text: str, words: str) -> None:
    """A broken file is refused with file, line, key and rule."""
    with pytest.raises(BadInput, match=f"^{words}$"):
        read_device(text.encode(), FILE)


def test_read_device_wrong_all_at_once() -> None:
    """Every mistake of a file is reported, in file order."""
    text = HEAD + 'colour = 1\n[[command]]\npattern = "ZZ"\nmeaning = "x"\n[[pin]]\nnumber = 1\n'
    with pytest.raises(BadInput) as caught:
        read_device(text.encode(), FILE)
    assert [origin.number for origin, _ in caught.value.mistakes] == [5, 7, 9]


def test_no_overlap_in_different_modes() -> None:
    """The same code may mean two things in two modes, under two switch settings, and where one row gives way."""
    text = (
        HEAD
        + '[[mode]]\nname = "font"\nvalues = ["a", "b"]\nstart = "a"\n'
        + "".join(
            f'[[command]]\npattern = "0{i}"\nmeaning = "{m}"\nwhen = {{ font = "{m}" }}\n'
            for i, m in [(1, "a"), (1, "b")]
        )
        + '[[command]]\npattern = "1B 4B"\nmeaning = "x"\n'
        + '[[command]]\npattern = "1B n"\nmeaning = "other"\notherwise = true\n'
    )
    assert len(read_device(text.encode(), FILE).commands) == 4


def test_message_has_no_traceback_words() -> None:
    """A message names nothing of the checking library."""
    with pytest.raises(BadInput) as caught:
        read_device(b"title = 5\n", FILE)
    assert not re.search(r"pydantic|Error|Traceback", str(caught.value))

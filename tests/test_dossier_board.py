"""Pictures of a board: what is drawn is what the nets and the decode say, well formed, the same every time."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

from latchlore.board import StepKind, bit_ways, decode, parse_board
from latchlore.dossier import look_file
from latchlore.dossier._boardpicture import draw_board, net_anchors
from latchlore.dossier._waypicture import draw_ways

STUDY = Path(__file__).resolve().parent.parent / "exams" / "pc-parallel-1981" / "study"
PC = parse_board(next((STUDY / "board").glob("*.nets")).read_text("utf-8"), "pc.nets")


def test_draw_ways() -> None:
    """One lane a way: as many circles as inversions, parts from outside to the data line, the published end."""
    found = decode(PC)
    ways = bit_ways(found, found.register(0x3BE, "write"))
    drawing = ET.fromstring(draw_ways("port 03BE (write)", ways))
    words = [text.text for text in drawing.iter("text")]
    assert "j1.1 strobe" in words
    assert "1 is low, turned over 1x" in words
    assert "1 is high, turned over 2x" in words  # init, bit 2: not inverted, published
    circles = [one for one in drawing.iter("circle") if one.get("class") == "bubble"]
    inversions = sum(step.inverts is True and step.kind is not StepKind.ENABLES for way in ways for step in way.steps)
    assert len(circles) == inversions == 6  # strobe 1, autofeed 1, init 2, select-in 1, enable of irq7 1
    places = {text.text: float(text.get("x", "nan")) for text in drawing.iter("text") if text.text in ("u6", "u7")}
    assert places["u7"] < places["u6"]


def test_draw_ways_empty() -> None:
    """Without a way there is no picture."""
    assert draw_ways("nothing", ()) == ""


# --- the board ---


def test_draw_board() -> None:
    """Every pin of every part is drawn, leads to its net, and the net's lit form holds each of its pins once."""
    drawing = ET.fromstring(draw_board(PC))
    anchors = net_anchors(PC)
    groups = {group.get("id"): group for group in drawing.iter("g")}
    assert set(groups) == set(anchors.values())
    for net in PC.nets:
        lit = [box for box in groups[anchors[net.name]].iter("rect") if box.get("class") == "net-pin"]
        assert len(lit) == len(net.pins), net.name
        title = groups[anchors[net.name]].find("title")
        assert title is not None
        assert title.text == f"net {net.name}: {', '.join(str(at) for at in net.pins)}"
    links = [link.get("href", "") for link in drawing.iter("a")]
    assert {link[1:] for link in links} == set(anchors.values())
    joined = sum(len(net.pins) for net in PC.nets)
    assert len(links) == joined
    pins = [box for box in drawing.iter("rect") if (box.get("class") or "").startswith("pin")]
    sizes = sum(len(part.type.pins) for part in PC.parts)
    described = sum(len(plug.pins) for plug in PC.connectors)
    assert len(pins) == sizes + described


def test_draw_board_untraced() -> None:
    """A pin that is not traced is told from one that is connected to nothing, in words and in shape."""
    board = parse_board("part u1 74ls04\nplug j1 2\nnet a j1.1 u1.1\nopen u1.2\n", "x.nets")
    drawing = ET.fromstring(draw_board(board))
    told = {
        title.text: box.get("class")
        for box in drawing.iter("rect")
        for title in box.iter("title")
        if title.text is not None
    }
    assert told["u1.1 1A: net a, with j1.1"] == "pin"
    assert told["u1.2 1Y: connected to nothing"] == "pin loose"
    assert told["u1.3 2A: not traced"] == "pin untraced"


def test_draw_board_empty() -> None:
    """A connector alone is no board to draw."""
    assert draw_board(parse_board("plug j1 2\n", "x.nets")) == ""


def test_draw_board_hostile() -> None:
    """Names from files are escaped, and nets whose names look alike keep anchors of their own."""
    board = parse_board(
        'part u1 74ls00 "><script>\nnet a+b u1.1 u1.2\nnet a-b u1.4 u1.5\nnet <&> u1.9 u1.10\n', "x.nets"
    )
    anchors = list(net_anchors(board).values())
    assert len(set(anchors)) == 3
    text = draw_board(board)
    ET.fromstring(text)
    assert "<script" not in text


def test_every_class_has_a_look() -> None:
    """Every class that the pictures use stands in the look, which has light, dark and print."""
    look = look_file("look.css")
    found = decode(PC)
    texts = [draw_board(PC), *(draw_ways("x", bit_ways(found, register)) for register in found.registers)]
    used = {name for text in texts for value in re.findall(r'class="([^"]*)"', text) for name in value.split()}
    plain = {"picture", "passes", "stores", "enables", "ends", "plug", "strap", "follows"}
    assert [name for name in sorted(used - plain) if not re.search(rf"\.{name}\b", look)] == []

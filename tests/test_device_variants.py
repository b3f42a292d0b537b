"""Several devices side by side: differences, explanations, carriers, rates, families."""

from __future__ import annotations

import random
from itertools import pairwise, permutations

import pytest

from latchlore.base import Span, SpanRange, UnknownName, Unsupported
from latchlore.device import (
    Carrier,
    Device,
    TraitStanding,
    Usable,
    check_carrier,
    check_feed,
    compare_devices,
    describe_compatibility,
    explain_stream,
    order_family,
    read_device,
    sum_up_carrier,
    telling_commands,
)

TEXT = (
    '[[command]]\npattern = "20..7E"\nmeaning = "print"\ndoes = "print"\n'
    '[[command]]\npattern = "0D"\nmeaning = "return"\ndoes = "carriage return"\n'
    '[[command]]\npattern = "0A"\nmeaning = "feed"\ndoes = "line feed"\n'
)
STEP = '[[command]]\npattern = "1B 41 n"\nmeaning = "line step"\ndoes = "line step"\namount = "n"\n'
DOTS = (
    '[[command]]\npattern = "1B 4B n data*n"\nname = "dots"\nmeaning = "dot graphics"\ndoes = "columns"\n'
    '[command.graphics]\ndata = "data"\ntop = "high"\n'
)
DOTS_7 = DOTS.replace('top = "high"', 'top = "low"\ndots = 7')
PIN = '[[pin]]\nnumber = "{}"\nsignal = "{}"\ndirection = "in"\n'


def make(name: str, *parts: str, date: str = "") -> Device:
    """A document of these parts, invented."""
    head = f'title = "{name}"\ndevice = "{name}"\nkind = "manual"\ninvented = true\n'
    head += f'date = "{date}"\n' if date else ""
    return read_device((head + "".join(parts)).encode(), f"documents/{name.lower()}.toml")


@pytest.fixture(scope="module")
def quills() -> tuple[Device, Device, Device]:
    """Text only; with a line step; with dot graphics as well."""
    return (
        make("A", TEXT, PIN.format(1, "STROBE")),
        make("B", TEXT, STEP, PIN.format(1, "STROBE")),
        make("C", TEXT, STEP, DOTS, PIN.format(1, "ACK")),
    )


# -- comparison


def test_compare_devices(quills: tuple[Device, Device, Device]) -> None:
    """What all say, what several, what one, and where two differ; each leads to its place."""
    comparison = compare_devices(quills)
    standing = {(t.kind, t.name): t.standing for t in comparison.traits if t.kind != "character"}
    assert standing == {
        ("command", "20..7E"): TraitStanding.COMMON,
        ("command", "0D"): TraitStanding.COMMON,
        ("command", "0A"): TraitStanding.COMMON,
        ("command", "1B 41"): TraitStanding.SOME,
        ("command", "1B 4B"): TraitStanding.ONE,
        ("pin", "connector 1"): TraitStanding.DIFFERS,
    }
    (pin,) = comparison.of_standing(TraitStanding.DIFFERS)
    assert str(pin) == "pin connector 1: STROBE, in | STROBE, in | ACK, in (differs)"
    assert [str(origin).split(":")[0] for origin in pin.origins] == [f"documents/{n}.toml" for n in "abc"]
    assert [trait.name for trait in comparison.changes(0, 1)] == ["1B 41"]


def test_compare_devices_names_do_not_matter() -> None:
    """What a parameter is called is no difference; its bits are."""
    one = make("A", TEXT, STEP)
    two = make("B", TEXT, STEP.replace(" n", " step").replace('"n"', '"step"'))
    three = make("C", TEXT, STEP.replace("41 n", "41 %0aaaaaaa").replace('"n"', '"a"'))
    assert all(trait.standing is TraitStanding.COMMON for trait in compare_devices([one, two]).traits)
    (differs,) = compare_devices([one, three]).of_standing(TraitStanding.DIFFERS)
    assert differs.name == "1B 41"


def test_compare_devices_words_do_not_matter() -> None:
    """Two documents that describe one change of a mode in their own words do not differ."""
    row = '[[command]]\npattern = "0E"\nmeaning = "{}"\nsets = {{ wide = "on" }}\n'
    (trait,) = compare_devices([make("A", row.format("wide")), make("B", row.format("WIDE letters"))]).traits
    assert trait.standing is TraitStanding.COMMON
    assert trait.values[0] == "0E: nothing on the paper, sets wide on"


def test_compare_devices_doubt() -> None:
    """Where a doubtful digit may read the same, nothing is said to differ."""
    row = '[[command]]\npattern = "1B 50 {}"\nmeaning = "pitch"\n'
    sure, doubtful = make("A", row.format("n=00..0D")), make("B", row.format("n=00..0{8D}"))
    (trait,) = compare_devices([sure, doubtful]).traits
    assert trait.standing is TraitStanding.OPEN
    timing = '[[timing]]\nwhat = "strobe width"\nleast = "{}"\n'
    two = [make("A", timing.format("700 ns")), make("B", timing.format("{17}00 ns"))]
    assert [trait.standing for trait in compare_devices(two).traits] == [TraitStanding.OPEN]


def test_compare_devices_doubtful_code() -> None:
    """A doubtful digit of a code puts the row beside the one that it may be, and nothing is said to differ."""
    row = '[[command]]\npattern = "1B {} n"\nmeaning = "pitch"\n'
    [trait] = compare_devices([make("A", row.format("4B")), make("B", row.format("4{8B}"))]).traits
    assert (trait.name, trait.standing) == ("1B 4B", TraitStanding.OPEN)
    assert str(trait) == (
        "command 1B 4B: 1B 4B p1=byte: pitch | 1B 48 p1=byte: pitch (or reads 1B 4B p1=byte: pitch) (open)"
    )
    assert order_family(compare_devices([make("A", row.format("4B")), make("B", row.format("4{8B}"))])).cost == 0
    both = compare_devices([make("A", row.format("4{7B}")), make("B", row.format("4{8B}"))]).traits
    assert [(trait.name, trait.standing) for trait in both] == [("1B 48", TraitStanding.OPEN)]
    three = [make(name, row.format(digits)) for name, digits in (("A", "48"), ("B", "4{8B}"), ("C", "4B"))]
    assert [(trait.name, trait.standing) for trait in compare_devices(three).traits] == [
        ("1B 48", TraitStanding.SOME),  # it cannot be both, so it stands where it was printed
        ("1B 4B", TraitStanding.ONE),
    ]


REGISTER = '[[register]]\naddress = "{}"\ndirection = "read"\nbits = [{{ bit = {}, signal = "BUSY", inverted = {} }}]\n'
ORDER = '[[order]]\nfirst_to_last = [["data set", "strobe {}", "busy begins"]]\n'


def test_compare_devices_registers_and_orders() -> None:
    """Registers by their lowest address, bit by bit; orders by pairs of events."""
    devices = [
        make("A", REGISTER.format("C801, C802", 7, "true"), ORDER.format("ends")),
        make("B", REGISTER.format("C801", 7, "false"), ORDER.format("begins")),
    ]
    assert [str(trait) for trait in compare_devices(devices).traits] == [
        "register C801 (read): C801-C802 | C801 (differs)",
        "register C801 (read) bit 7: NOT BUSY | BUSY (differs)",
        "order data set and busy begins: data set first | data set first (common)",
        "order strobe ends and busy begins: strobe ends first | - (one)",
        "order data set and strobe begins: - | data set first (one)",
        "order strobe begins and busy begins: - | strobe begins first (one)",
    ]


def test_compare_devices_registers_and_orders_in_doubt() -> None:
    """Where a doubtful digit or word may read the same, nothing is said to differ, whatever it is that is doubtful."""
    sure = make("A", REGISTER.format("C801", 7, "true"), ORDER.format("ends"))
    doubtful = make("B", REGISTER.format("C80{71}", '"{67}"', "true"), ORDER.format("{begins|ends}"))
    found = {trait.name: trait for trait in compare_devices([sure, doubtful]).traits}
    assert {name: trait.standing for name, trait in found.items()} == {
        "C801 (read)": TraitStanding.OPEN,
        "C801 (read) bit 7": TraitStanding.OPEN,
        "data set and busy begins": TraitStanding.COMMON,
        "strobe ends and busy begins": TraitStanding.OPEN,
        "data set and strobe begins": TraitStanding.ONE,
        "strobe begins and busy begins": TraitStanding.ONE,
    }
    assert found["C801 (read) bit 7"].values[1] == "C807 (read) bit 6: NOT BUSY"
    other = make("C", REGISTER.format("C80{71}", '"{67}"', "false"))
    bits = compare_devices([sure, other]).of_standing(TraitStanding.DIFFERS)
    assert [trait.name for trait in bits] == ["C801 (read) bit 7"]  # no reading of the digits mends the sense


def test_compare_devices_registers_under_switches() -> None:
    """A row that holds under one setting is compared with rows under the same."""
    switch = '[[switch]]\nname = "base"\nlevers = ["1"]\nsettings = [{ levers = "on", is = "low" }]\n'
    under = REGISTER.format("C801", 7, "true") + 'when_switch = {{ base = "low" }}\n'.format()
    [_, *rows] = compare_devices([make("A", switch, under), make("B", REGISTER.format("C801", 7, "true"))]).traits
    assert [(trait.name, trait.standing) for trait in rows] == [
        ("C801 (read) (base low)", TraitStanding.ONE),
        ("C801 (read) (base low) bit 7", TraitStanding.ONE),
        ("C801 (read)", TraitStanding.ONE),
        ("C801 (read) bit 7", TraitStanding.ONE),
    ]


def test_compare_devices_wrong(quills: tuple[Device, Device, Device]) -> None:
    """One device is not compared with itself."""
    with pytest.raises(Unsupported, match=r"^documents/a\.toml: a comparison needs two devices$"):
        compare_devices(quills[:1])


# -- which device a stream was meant for


def test_explain_stream(quills: tuple[Device, Device, Device]) -> None:
    """The first byte that rules each one out; the one that explains all stands first."""
    data = b"AB\x1bA\x0a\r\n\x1bK\x02\xff\x01\r\n"
    best, second, third = explain_stream(quills, data)
    assert (best.device.name, best.explains, best.unexplained) == ("C", True, 0)
    assert (second.device.name, third.device.name) == ("B", "A")
    assert second.ruled_out is not None
    assert third.ruled_out is not None
    assert (second.ruled_out.place, second.ruled_out.why) == (8, "no row goes on with 4B behind 1B")
    assert (third.ruled_out.place, third.ruled_out.why) == (2, "no row begins with 1B")
    assert str(best) == "C: explains every byte"
    assert str(third).startswith("A: ruled out by byte 0002, 1B: no row begins with 1B; ")


def test_explain_stream_switches() -> None:
    """A device is ruled out only where it is under every setting of the switches that its rows depend on."""
    switch = (
        '[[switch]]\nname = "mode"\nlevers = ["1"]\nfactory = "old"\n'
        'settings = [{ levers = "off", is = "old" }, { levers = "on", is = "new" }]\n'
    )
    device = make("A", TEXT, STEP + 'when_switch = { mode = "new" }\n', switch)
    (found,) = explain_stream([device], b"A\x1bA\x09")
    assert found.explains
    assert found.settings == ({"mode": "new"},)
    (stated,) = explain_stream([device], b"A\x1bA\x09", {"mode": "old"})
    assert stated.ruled_out is not None
    assert stated.ruled_out.place == 1


def test_explain_stream_mode() -> None:
    """The mode in force stands beside the byte."""
    mode = '[[mode]]\nname = "font"\nvalues = ["text", "dots"]\nstart = "text"\n'
    rows = (
        '[[command]]\npattern = "20..7E"\nmeaning = "print"\nwhen = { font = "text" }\n'
        '[[command]]\npattern = "0E"\nmeaning = "dots"\nsets = { font = "dots" }\n'
    )
    (found,) = explain_stream([make("A", mode, rows)], b"A\x0eA")
    assert found.ruled_out is not None
    assert found.ruled_out.why == "no row begins with 41 (while font is dots)"


def test_explain_stream_first_byte_is_right(quills: tuple[Device, Device, Device]) -> None:
    """Cut in front of the byte named, the stream is explained or only incomplete; with it, it is not."""
    rng = random.Random(2)
    for _ in range(60):
        data = b"".join(
            rng.choice((b"AB", b"\r\n", b"\x1bA\x05", b"\x1bK\x01\x80", b"\x1b", b"\x81")) for _ in range(8)
        )
        for found in explain_stream(quills, data):
            if found.ruled_out is None:
                continue
            place = found.ruled_out.place
            (before,) = explain_stream([found.device], data[:place])
            (through,) = explain_stream([found.device], data[: place + 1])
            assert before.explains
            assert not through.explains


def test_telling_commands(quills: tuple[Device, Device, Device]) -> None:
    """Text alone does not tell the three apart; a line step or dots would."""
    assert all(one.explains for one in explain_stream(quills, b"AB\r\n"))
    assert [trait.name for trait in telling_commands(quills)] == ["1B 41", "1B 4B"]
    assert telling_commands(quills[:1]) == ()


# -- carriers


def test_check_carrier(quills: tuple[Device, Device, Device]) -> None:
    """Text yes, dot graphics no: needs bit 7, which this card does not carry."""
    checked = {one.command.name: one for one in check_carrier(quills[2], Carrier(0x7F))}
    assert {name: one.usable for name, one in checked.items()} == {
        "print": Usable.YES,
        "return": Usable.YES,
        "feed": Usable.YES,
        "line step": Usable.PARTLY,
        "dots": Usable.NO,
    }
    assert checked["dots"].lacking == 0x80
    assert str(checked["dots"]) == (
        "dot graphics: no: needs bit 7, which is not carried "
        "(n = 80..FF cannot be made; the dots of bit 7 would stay blank)"
    )


def test_compatibility_in_one_sentence(quills: tuple[Device, Device, Device]) -> None:
    """Text yes, dot graphics no, and which bit they need; a row that passes in part is counted."""
    kinds = sum_up_carrier(check_carrier(quills[2], Carrier(0x7F)))
    assert [(one.kind, one.usable, one.lacking) for one in kinds] == [
        ("text", Usable.YES, 0),
        ("moving", Usable.PARTLY, 0x80),
        ("dot graphics", Usable.NO, 0x80),
    ]
    assert describe_compatibility(kinds) == (
        "text yes; moving partly (2 of 3 wholly): need bit 7, which this carrier does not carry; "
        "dot graphics no: need bit 7, which this carrier does not carry"
    )


# Two published printer ports of home computers, pin by pin.  Amstrad CPC: gryzor.info, "Connector: Printer port"
# (34-way edge numbered as 36 pins: 1 strobe, 2 to 8 D0 to D6, 9, 14, 16, 19 to 26, 28 and 33 ground, 11 busy).  MSX:
# MSX2 Technical Handbook, chapter 5, section 4, figure 5.20 (1 strobe, 2 to 9 D0 to D7, 11 busy, 14 ground).
CPC_GROUNDS = (9, 14, 16, *range(19, 27), 28, 33)
CPC_PINS = {1: "STROBE", **{k + 2: f"D{k}" for k in range(7)}, 11: "BUSY", **dict.fromkeys(CPC_GROUNDS, "GND")}
MSX_PINS = {1: "STROBE", **{k + 2: f"D{k}" for k in range(8)}, 11: "BUSY", 14: "GND"}


def pin_list(pins: dict[int, str]) -> str:
    """A pin table as in a document."""
    return "".join(f'[[pin]]\nnumber = "{number}"\nsignal = "{signal}"\n' for number, signal in pins.items())


def test_exam_one_cable_for_two_ports() -> None:
    """The published answer: pins 1 to 8 and 11 agree (14 is ground at both); pin 9 is ground here and D7 there."""
    comparison = compare_devices([make("CPC", pin_list(CPC_PINS)), make("MSX", pin_list(MSX_PINS))])
    common = {int(trait.name.split()[1]) for trait in comparison.of_standing(TraitStanding.COMMON)}
    assert common == {*range(1, 9), 11, 14}
    (different,) = comparison.of_standing(TraitStanding.DIFFERS)
    assert (different.name, different.values) == ("connector 9", ("GND", "D7"))
    assert {trait.values[1] for trait in comparison.of_standing(TraitStanding.ONE)} == {None}


def test_exam_seven_bit_port() -> None:
    """The published answer for a port of seven bits with its eighth pin grounded: the code 8Fh cannot arrive."""
    carrier = Carrier(0x7F, 0)
    assert (carrier.carries(0x8F), carrier.carries(0x0F), carrier.lacking(0x8F)) == (False, True, 0x80)


def test_check_carrier_seven_dots() -> None:
    """Graphics of seven dots in the low bits pass a card of seven bits, as far as the count does."""
    limit = "[command.parameters]\nn = { least = 1, most = 100 }\n"
    device = make("D", TEXT, DOTS_7.replace("[command.graphics]", limit + "[command.graphics]"))
    assert check_carrier(device, Carrier(0x7F))[-1].usable is Usable.YES
    assert check_carrier(device, Carrier(0x3F))[-1].usable is Usable.NO


def test_check_carrier_stuck_high() -> None:
    """A line that stands high lets through only bytes with that bit."""
    (escape,) = check_carrier(make("E", '[[command]]\npattern = "1B 40"\nmeaning = "reset"\n'), Carrier(0xBF, 0x40))
    assert (escape.usable, escape.lacking) == (Usable.NO, 0x40)
    assert str(escape) == "reset: no: needs bit 6, which is not carried (1B cannot be made)"


def test_check_carrier_everything() -> None:
    """Every command passes eight lines; and a carrier makes just the bytes it should."""
    assert all(one.usable is Usable.YES for one in check_carrier(make("C", TEXT, STEP, DOTS), Carrier(0xFF)))
    made = {carried & 0x7F | 0x80 for carried in range(256)}
    assert {byte for byte in range(256) if Carrier(0x7F, 0x80).carries(byte)} == made


def test_carrier_wrong() -> None:
    """A mask is a byte."""
    with pytest.raises(ValueError, match=r"^masks are 0 to 255, not 256 and 0$"):
        Carrier(256)


# -- rates


def test_check_feed(quills: tuple[Device, Device, Device]) -> None:
    """By hand: 3 + 144 + 2 bytes at 400 us are 59.6 ms, in time for a line each 60 ms; at 410 us (61.09 ms) not."""
    period = Span.of(ms=60)
    for least, most, verdict in ((400, 400, "keeps up"), (410, 410, "stalls"), (400, 410, "open")):
        feed = check_feed(
            quills[2], "dots", {"n": 144}, SpanRange(Span.of(us=least), Span.of(us=most)), period, more_bytes=2
        )
        assert (feed.num_bytes, feed.verdict) == (149, verdict)
    assert feed.takes == SpanRange(Span.of(us=59_600), Span.of(us=61_090))
    assert str(feed) == (
        "dot graphics: open: 149 bytes at 400 us to 410 us each (host) take 59.6 ms to 61.09 ms; "
        "the mechanism gives 60 ms"
    )


def test_check_feed_device_is_slower() -> None:
    """The device's own least byte period counts where it is the longer."""
    device = make("C", TEXT, DOTS, '[[timing]]\nwhat = "byte period"\nleast = "500 us"\n')
    feed = check_feed(device, "dots", {"n": 100}, SpanRange.exactly(Span.of(us=90)), Span.of(ms=50))
    assert feed.verdict == "stalls"
    assert feed.limited_by.startswith("device (documents/c.toml:")
    assert feed.takes.least == Span.of(us=51_500)


def test_check_feed_wrong(quills: tuple[Device, Device, Device]) -> None:
    """A length that is not known is asked for."""
    host, period = SpanRange.exactly(Span.of(us=1)), Span.of(ms=1)
    words = r"^documents/c\.toml:\d+ \(command\[5\]\): the length of 'dots' depends on n; state it$"
    with pytest.raises(Unsupported, match=words):
        check_feed(quills[2], "dots", {}, host, period)
    with pytest.raises(UnknownName, match=r"^document 'c' has no command 'curve'; known are "):
        check_feed(quills[2], "curve", {}, host, period)


# -- families


def test_order_family(quills: tuple[Device, Device, Device]) -> None:
    """By hand: A to B is one row only B has (half); B to C the same and one pin that differs: 0.5 + 1.5 changes."""
    family = order_family(compare_devices(quills))
    assert family.orders == ((0, 1, 2),)
    assert family.cost == 4
    assert str(family).splitlines() == [
        "Inferred, not recorded: 2 changes in all (what only one speaks of counts half)",
        "A - (0.5) B - (1.5) C",
        "the next best order needs 2.5",
    ]


def test_order_family_alternatives() -> None:
    """Devices that differ alike from each other leave every order; the dates are set beside them."""
    steps = [STEP, STEP.replace("41", "42"), STEP.replace("41", "43")]
    dates = ("1980", "1981", "1982")
    devices = [make(name, TEXT, step, date=date) for name, step, date in zip("ABC", steps, dates, strict=True)]
    family = order_family(compare_devices(devices))
    assert family.orders == ((0, 1, 2), (0, 2, 1), (1, 0, 2))
    assert family.next_cost is None
    assert [family.agrees_with_dates(order) for order in family.orders] == [True, False, False]


def test_order_family_every_order() -> None:
    """Against every permutation: the least cost, all orders of that cost, and the next cost."""
    rng = random.Random(4)
    for _ in range(8):
        rows = [STEP.replace("41", f"{0x41 + k:02X}") for k in range(5)]
        devices = [make(name, TEXT, *[row for row in rows if rng.random() < 0.5]) for name in "ABCDE"]
        family = order_family(compare_devices(devices))
        costs = {order: sum(family.distances[a][b] for a, b in pairwise(order)) for order in permutations(range(5))}
        least = min(costs.values())
        assert family.cost == least
        assert set(family.orders) == {order for order, cost in costs.items() if cost == least and order[0] < order[-1]}
        assert family.next_cost == min((cost for cost in costs.values() if cost > least), default=None)


def test_order_family_wrong() -> None:
    """More than twelve devices are refused."""
    comparison = compare_devices([make(f"Q{k}", TEXT) for k in range(13)])
    with pytest.raises(Unsupported, match=r"^documents/q0\.toml: an order is sought among up to 12 devices, not 13$"):
        order_family(comparison)

"""`latchlore device compare` and `explain`: several devices, and a stream that was meant for one of them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from latchlore.cli import wording
from latchlore.cli._device_asking import (
    BASE,
    FILE,
    JSON,
    STREAM,
    SWITCH,
    TABLE,
    WIDTH,
    open_sequence,
    open_tables,
    parse_settings,
    print_plain_device,
    titled_page,
)

if TYPE_CHECKING:
    from latchlore.base import Span
    from latchlore.cli._program_page import Page
    from latchlore.device import Carrier, DeviceComparison

COMMANDS = wording.DEVICE_COMMANDS


@click.command("compare", short_help=COMMANDS["compare"][1], epilog=wording.STATUSES)
@click.argument("tables", nargs=-1, required=True, type=FILE, metavar="TABLE TABLE...")
@click.option("--family", is_flag=True, help="Put them in the order of fewest changes (an inference).")
@click.option("--common", is_flag=True, help="List also what all of them say.")
@click.option("--carried", default="", metavar="MASK", help="Bits that a card or cable carries, such as 7F.")
@click.option("--rest", default="00", metavar="BYTE", help="How the other bits stand, such as 80; default 00.")
@JSON
@WIDTH
def compare_command(
    tables: tuple[Path, ...],
    family: bool,
    common: bool,
    carried: str,
    rest: str,
    as_json: bool,
    width: int | None,
) -> None:
    """Tell what several devices have in common, where they differ, and what only one of their documents says.

    With --carried, also what of each device a card or cable of fewer bits can use.
    """
    from latchlore.cli._program_asking import print_page
    from latchlore.device import (
        check_carrier,
        compare_devices,
        comparison_to_plain,
        describe_compatibility,
        family_to_plain,
        order_family,
        sum_up_carrier,
        usable_to_plain,
    )

    comparison = compare_devices(open_tables(tables))
    ordered = order_family(comparison) if family else None
    carrier = _carrier(carried, rest) if carried else None
    if as_json:
        plain = comparison_to_plain(comparison)
        if ordered is not None:
            plain["family"] = family_to_plain(ordered)
        if carrier is not None:
            plain["usable"] = [usable_to_plain(check_carrier(device, carrier)) for device in comparison.devices]
        print_plain_device("comparison", plain)
        return
    page = titled_page(width, "Devices compared", comparison.devices)
    _list_traits(page, comparison, common)
    if ordered is not None:
        page.heading("In the order of fewest changes")
        for line in str(ordered).splitlines():
            page.say(line, indent=2)
    if carrier is not None:
        for device in comparison.devices:
            usable = check_carrier(device, carrier)
            page.points(f"Over this carrier, of {device.name}", map(str, usable))
            page.say(f"In all: {describe_compatibility(sum_up_carrier(usable))}", indent=2)
    print_page(page)


def _list_traits(page: Page, comparison: DeviceComparison, common: bool) -> None:
    from latchlore.device import TraitStanding

    shown = [one for one in TraitStanding if common or one is not TraitStanding.COMMON]
    for standing in shown:
        page.points(wording.TRAIT_HEADINGS[standing.value], map(str, comparison.of_standing(standing)))
    if not common:
        page.gap()
        page.say(wording.traits_in_common(len(comparison.of_standing(TraitStanding.COMMON))))


def _carrier(carried: str, rest: str) -> Carrier:
    from latchlore.device import Carrier

    return Carrier(_mask(carried, "--carried"), _mask(rest, "--rest"))


def _mask(text: str, option: str) -> int:
    try:
        if len(text) == 2:
            return int(text, 16)
    except ValueError:
        pass
    raise click.BadParameter(f"a mask is two hexadecimal digits, such as 7F, not {text!r}", param_hint=option)


@click.command("explain", short_help=COMMANDS["explain"][1], epilog=wording.STATUSES)
@STREAM
@click.argument("tables", nargs=-1, required=True, type=FILE, metavar="TABLE...")
@SWITCH
@BASE
@JSON
@WIDTH
def explain_command(
    stream: Path, tables: tuple[Path, ...], switch: tuple[str, ...], base: str, as_json: bool, width: int | None
) -> None:
    """Say which devices explain STREAM, and the first byte that rules each other one out.

    Switches that are not stated are tried in every setting that a row depends on.
    """
    from latchlore.cli._program_asking import print_page
    from latchlore.cli._progress import ProgressLine
    from latchlore.device import explain_stream, explanations_to_plain, telling_commands, traits_to_plain

    devices = open_tables(tables)
    data = open_sequence(stream, base).data
    with ProgressLine() as progress:
        found = explain_stream(devices, data, parse_settings(switch), progress)
    telling = telling_commands([one.device for one in found if one.explains])
    if as_json:
        plain = {"stream": stream.name, "num_bytes": len(data), "devices": explanations_to_plain(found)}
        plain["would_tell_apart"] = traits_to_plain(telling)
        print_plain_device("explanation", plain)
        return
    page = titled_page(width, f"{stream.name}: {len(data)} bytes", devices)
    page.points("These explain it", (str(one) for one in found if one.explains))
    page.points("A stream that uses one of these would tell them apart", map(str, telling))
    page.points("These do not", (str(one) for one in found if not one.explains))
    print_page(page)


@click.command("feed", short_help=COMMANDS["feed"][1], epilog=wording.STATUSES)
@TABLE
@click.argument("name", metavar="COMMAND")
@click.option("--byte", "byte_time", required=True, metavar="LEAST..MOST", help="The host's time from byte to byte.")
@click.option("--period", required=True, metavar="TIME", help="The mechanism's time from one such command to the next.")
@click.option("--value", multiple=True, metavar="NAME=NUMBER", help="A parameter on which the length depends.")
@click.option("--more", type=click.IntRange(min=0), default=0, metavar="BYTES", help="Bytes sent with each, such as 2.")
@JSON
def feed_command(
    table: Path, name: str, byte_time: str, period: str, value: tuple[str, ...], more: int, as_json: bool
) -> None:
    """Say whether a host sends COMMAND fast enough for a mechanism that does not wait for it.

    The host's time is a figure such as '400 us' or a range such as '400 us..410 us'.
    """
    from latchlore.base import SpanRange
    from latchlore.device import check_feed, feed_to_plain

    least, _, most = byte_time.partition("..")
    low = _span(least, "--byte")
    high = _span(most, "--byte") if most else low
    if high < low:
        raise click.BadParameter(f"the least time {low} is above the most {high}", param_hint="--byte")
    values = {}
    for text in value:
        key, _, number = text.partition("=")
        if not number.isascii() or not number.isdigit():
            raise click.BadParameter(f"a value is NAME=NUMBER, not {text!r}", param_hint="--value")
        values[key] = int(number)
    (device,) = open_tables([table])
    feed = check_feed(device, name, values, SpanRange(low, high), _span(period, "--period"), more)
    if as_json:
        print_plain_device("feed", feed_to_plain(feed))
    else:
        click.echo(str(feed))


def _span(text: str, option: str) -> Span:
    from latchlore.base import Span

    try:
        return Span.parse(text.strip())
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint=option) from error

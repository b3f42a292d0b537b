"""`latchlore program drivers`: which routines touch which register."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording
from latchlore.cli._program_asking import asking, head_plain, open_asked, print_page, print_plain
from latchlore.cli._program_listing import FOLLOW

if TYPE_CHECKING:
    from latchlore.cli._program_page import Page
    from latchlore.program import CodeMap, Driver, Drivers, NamedRegister, Touch
    from latchlore.study import AskedProgram


@click.command("drivers", short_help=wording.PROGRAM_COMMANDS["drivers"][1], epilog=wording.STATUSES)
@asking
@FOLLOW
def drivers_command(as_json: bool, width: int | None, follow: bool, **options: Any) -> int:
    """Find the routines that touch a register, through all its mirrors.

    Nothing is run: every address that the code can put on the bus is sorted by register.  What reaches nothing but
    the register touches it; what reaches other places too may touch it; where the address cannot be told at all,
    that is said.  Where no device is stated, every address outside of the images is listed.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.program import find_drivers

    asked = open_asked(options)
    with ProgressLine() as progress:
        code = asked.code(follow=follow, progress=progress)
        drivers = find_drivers(code, asked.registers, asked.stated_devices, asked.seen(progress) if follow else ())
    if as_json:
        print_plain(drivers_plain(code, drivers, asked))
    else:
        print_page(drivers_page(code, drivers, asked, width))
    return 0


def drivers_page(code: CodeMap, drivers: Drivers, asked: AskedProgram, width: int | None) -> Page:
    """The answer as text."""
    from latchlore.cli._program_page import FAINT, WARN, Page
    from latchlore.program import access_verb, register_words

    page = Page(width)
    page.head("Drivers: which routines touch which register", asked)
    for driver in drivers.found:
        _driver_rows(page, code, driver)
    page.points("Registers that no reached code touches", (register_words(one) for one in drivers.untouched))
    page.points(
        "Where the address cannot be told",
        (f"{one.address:04X}: {one.text} {access_verb(kind)} somewhere" for one, kind in drivers.anywhere),
    )
    page.points("Not followed", (f"{one.address:04X}: {one.reason}" for one in code.not_followed), WARN)
    page.points("Taken for granted", code.assumptions, FAINT)
    return page


def _driver_rows(page: Page, code: CodeMap, driver: Driver) -> None:
    from latchlore.program import register_words, touch_words

    page.heading(register_words(driver.register))
    routines: dict[tuple[int, ...], list[Touch]] = {}
    for touch in driver.touches:
        routines.setdefault(touch.instruction.routines, []).append(touch)
    for starts, touches in sorted(routines.items()):
        names = ", ".join(code.name_of(start) for start in starts) or "no known routine"
        page.say(f"in {names}", 2)
        for touch in touches:
            one = touch.instruction
            page.row(f"    {one.address:04X}  {one.text:22}", touch_words(touch))
    if driver.reached_from:
        page.say(f"reached from {', '.join(code.name_of(entry) for entry in driver.reached_from)}", 2)


def drivers_plain(code: CodeMap, drivers: Drivers, asked: AskedProgram) -> dict[str, Any]:
    """The answer for programs."""
    return {
        **head_plain("drivers", asked),
        "registers": [
            {
                **register_plain(driver.register),
                "sure": driver.is_sure,
                "routines": [{"address": start, "name": code.entries.get(start, "")} for start in driver.routines],
                "reached_from": [{"address": at, "name": code.entries[at]} for at in driver.reached_from],
                "touches": [_touch_plain(touch, code) for touch in driver.touches],
            }
            for driver in drivers.found
        ],
        "untouched": [register_plain(register) for register in drivers.untouched],
        "cannot_be_told": [
            {"program_address": one.address, "text": one.text, "access": kind} for one, kind in drivers.anywhere
        ],
        "not_followed": [{"address": one.address, "reason": one.reason} for one in code.not_followed],
        "assumptions": list(code.assumptions),
    }


def register_plain(register: NamedRegister) -> dict[str, Any]:
    """A register by its name and addresses."""
    return {
        "name": register.name,
        "space": register.kind.value,
        "direction": register.direction,
        "lowest": register.addresses.lowest,
        "addresses": str(register.addresses),
        "count": register.addresses.count,
    }


def _touch_plain(touch: Touch, code: CodeMap) -> dict[str, Any]:
    from latchlore.program import touch_origin

    origin = touch_origin(code, touch)
    return {
        "program_address": touch.instruction.address,
        "text": touch.instruction.text,
        "routines": list(touch.instruction.routines),
        "access": touch.kind,
        "sure": touch.sure,
        "answered": touch.is_answered,
        "on_path": touch.on_path,
        "addresses": list(touch.addresses),
        "reach": list(touch.reach),
        "origin": str(origin),
    }

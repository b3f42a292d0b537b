"""`latchlore program handshake`: what a program does for one byte, in cycles and in time."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording
from latchlore.cli._program_asking import asking, head_plain, open_asked, print_page, print_plain
from latchlore.cli._program_tree import PICTURE, say_grounds

if TYPE_CHECKING:
    from latchlore.base import ByteTree, Clock, CycleRange
    from latchlore.cli._program_page import Page
    from latchlore.program import Handshake, Names, Pulse
    from latchlore.study import AskedProgram


@click.command("handshake", short_help=wording.PROGRAM_COMMANDS["handshake"][1], epilog=wording.STATUSES)
@asking
@PICTURE
def handshake_command(as_json: bool, width: int | None, picture: Path | None, **options: Any) -> int:
    """Print the events of one byte, and how wide the strobe is, how early the data, how fast the polling.

    Every figure is the least and the most over all paths from the entries, in cycles, and in time where a clock is
    stated (rounded outwards to whole picoseconds, its tolerance counted in).  Which bit is the strobe the board or
    a role says; else every bit that goes to one level and back is listed.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.program import Names, read_handshake

    asked = open_asked(options)
    wanted = asked.need_entries()
    with ProgressLine() as progress:
        trees = [asked.tree(entry, progress) for entry in wanted]
    handshake = read_handshake(trees, asked.roles, asked.registers)
    if picture is not None:
        _draw(picture, handshake)
    if as_json:
        print_plain(handshake_plain(handshake, trees, asked))
    else:
        print_page(handshake_page(handshake, trees, asked, Names(asked.registers, asked.roles), width))
    return 0


def _draw(file: Path, handshake: Handshake) -> None:
    from latchlore.base import BadInput, Origin
    from latchlore.dossier import draw_handshake, stand_alone
    from latchlore.study import write_whole

    if not handshake.moments:
        raise BadInput(Origin("--picture"), "no path writes to a device, so there is nothing to draw")
    write_whole(file, stand_alone(draw_handshake(tuple(one.event for one in handshake.moments))).encode())


def handshake_page(
    handshake: Handshake, trees: list[ByteTree], asked: AskedProgram, names: Names, width: int | None
) -> Page:
    """The handshake as text."""
    from latchlore.cli._program_page import Page
    from latchlore.program import event_words, polling_words, range_words

    page = Page(width)
    page.head("Handshake", asked)
    page.say(f"clock {asked.clock}" if asked.clock is not None else "no clock is stated: cycles only")
    page.heading("One byte, waits taken as over")
    told = [range_words(one.since, asked.clock) for one in handshake.moments]
    for one, since in zip(handshake.moments, told, strict=True):
        label = f"  {one.event.program_address:04X}  {since:>{max(map(len, told))}}  "
        page.row(label, event_words(one.event, names))
    if not handshake.moments:
        page.say("no path writes to a device", 2)
    if handshake.figures:
        page.heading("Least and most over all paths")
        for figure in handshake.figures:
            places = ", ".join(f"{place:04X}" for place in figure.places)
            page.row(f"  {figure.name:14}", f"{range_words(figure.cycles, asked.clock)}; edge at {places}")
    if handshake.pulses:
        page.heading("Bits that go to one level and back (nobody says which is the strobe)")
        for pulse in handshake.pulses:
            _pulse_rows(page, pulse, asked.clock)
    page.points("Polling", (polling_words(one, asked.clock, names) for one in handshake.pollings))
    say_grounds(page, trees)
    return page


def _pulse_rows(page: Page, pulse: Pulse, clock: Clock | None) -> None:
    from latchlore.base import describe_place
    from latchlore.program import range_words

    bits = ", ".join(str(bit) for bit in pulse.bits)
    name = f" ({pulse.register})" if pulse.register else ""
    plural = "s" if len(pulse.bits) > 1 else ""
    page.say(f"{describe_place(pulse.kind, pulse.address)}{name} bit{plural} {bits}, at {pulse.timing.level}:", 2)
    timing = pulse.timing
    for label, cycles in (
        ("width", timing.width),
        ("set-up", timing.set_up),
        ("hold", timing.hold),
        ("period", timing.period),
    ):
        if cycles is not None:
            page.row(f"    {label:12}", range_words(cycles, clock))


def handshake_plain(handshake: Handshake, trees: list[ByteTree], asked: AskedProgram) -> dict[str, Any]:
    """The handshake for programs."""
    from latchlore.program import open_ends

    clock = asked.clock
    return {
        **head_plain("handshake", asked),
        "clock": None
        if clock is None
        else {"hertz": f"{clock.hertz}", "tolerance_ppm": clock.tolerance_ppm, "text": str(clock)},
        "events": [
            {
                "text": str(one.event),
                "program_address": one.event.program_address,
                "cycles": _range_plain(one.event.cycles, clock),
                "since_first": _range_plain(one.since, clock),
            }
            for one in handshake.moments
        ],
        "figures": [
            {"name": one.name, **_range_plain(one.cycles, clock), "places": list(one.places)}
            for one in handshake.figures
        ],
        "polling": [
            {
                "text": str(one.event),
                "places": list(one.places),
                "period": _range_plain(one.period, clock),
                "polls": one.polls,
                "time_out": None if one.time_out is None else _range_plain(one.time_out, clock),
            }
            for one in handshake.pollings
        ],
        "pulses": [_pulse_plain(one, clock) for one in handshake.pulses],
        "not_followed": open_ends(trees),
        "assumptions": list(dict.fromkeys(one for tree in trees for one in tree.assumptions)),
        "bounds": list(dict.fromkeys(one for tree in trees for one in tree.bounds)),
    }


def _pulse_plain(pulse: Pulse, clock: Clock | None) -> dict[str, Any]:
    timing = pulse.timing
    figures = {"width": timing.width, "set_up": timing.set_up, "hold": timing.hold, "period": timing.period}
    return {
        "register": pulse.register,
        "space": pulse.kind.value,
        "address": pulse.address,
        "bits": list(pulse.bits),
        "level": timing.level,
        **{name: None if cycles is None else _range_plain(cycles, clock) for name, cycles in figures.items()},
    }


def _range_plain(cycles: CycleRange, clock: Clock | None) -> dict[str, Any]:
    """Cycles, and picoseconds where a clock is stated; null: no most number."""
    from latchlore.base import CycleRange

    plain: dict[str, Any] = {"least": cycles.least, "most": cycles.most}
    if clock is None:
        return plain
    least = clock.span(CycleRange.exactly(cycles.least)).least.picoseconds
    most = None if cycles.most is None else clock.span(cycles).most.picoseconds
    return {**plain, "least_ps": least, "most_ps": most}

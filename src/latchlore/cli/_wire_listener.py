"""`latchlore wire listener`: which bytes a listener must miss, and what its misses tell of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from latchlore.cli import wording
from latchlore.cli._wire_asking import BASE, JSON, WIDTH

if TYPE_CHECKING:
    from latchlore.base import Span
    from latchlore.wire import HostTimes, Listener, Run

INSIDE, SURE = 0.9, 0.95
BUSY_CURE = "a BUSY line raised by hardware, which the host waits for: no loss, whatever the listener"


@click.command("listener", short_help=wording.WIRE_COMMANDS["listener"][1], epilog=wording.STATUSES)
@click.option("--period", required=True, metavar="TIME", help="From strobe to strobe, such as '47 us'.")
@click.option("--count", default=30, type=click.IntRange(1, 10_000), metavar="BYTES", help="Bytes sent; 30.")
@click.option("--strobe", "strobe", default="1 us", metavar="TIME", help="How long a strobe lasts; 1 us.")
@click.option("--setup", default="0 us", metavar="TIME", help="Data is put so long before the strobe.")
@click.option("--latency", default="0 us", metavar="TIME", help="From strobe to reaction, at least.")
@click.option(
    "--jitter",
    default="",
    metavar="TIME",
    help="The mean of what comes on top of the latency; 0 us, or with --heard and no depth looked for.",
)
@click.option("--service", default="", metavar="TIME", help="From reaction until it is ready again.")
@click.option("--reads", default="0 us", metavar="TIME", help="From reaction to reading the port.")
@click.option(
    "--depth",
    default=0,
    type=click.IntRange(0, 4096),
    metavar="COUNT",
    help="Strobes remembered while busy; an edge flag remembers 1.",
)
@click.option("--shortest", default="0 us", metavar="TIME", help="Shorter strobes are not noticed.")
@click.option(
    "--heard",
    type=click.Path(path_type=Path),
    metavar="LOG",
    help="Runs of a log in which every byte is its own number: tell latency and service from them.",
)
@click.option(
    "--also",
    multiple=True,
    metavar="TIME[,TIME...]=LOG",
    help="With --heard: runs of the same ramp at another pace, or with several pauses by turns.",
)
@BASE
@JSON
@WIDTH
def listener_command(
    period: str, count: int, strobe: str, setup: str, latency: str, jitter: str, service: str, reads: str, depth: int,
    shortest: str, heard: Path | None, also: tuple[str, ...], base: str, as_json: bool, width: int | None,
) -> None:  # fmt: skip
    """Tell which bytes a listener must miss or double when a host strobes at an even pace, and what would end it.

    With --heard the reverse: send a ramp (byte k has the value k), log it several times, and the figures that explain
    the misses are told with their 90 % intervals.
    """
    from latchlore.base import BadInput, Origin
    from latchlore.study import read_runs, set_kernel_cache
    from latchlore.wire import HostTimes, Listener

    set_kernel_cache()
    times = {name: _time(f"--{name}", text) for name, text in (
        ("period", period), ("strobe", strobe), ("setup", setup), ("latency", latency), ("jitter", jitter or "0 us"),
        ("reads", reads), ("shortest", shortest), ("service", service or reads),
    )}  # fmt: skip
    try:
        host = HostTimes.regular(count, times["period"], times["setup"], times["strobe"])
        listener = Listener(
            times["latency"],
            times["service"],
            times["jitter"],
            reads=times["reads"],
            depth=depth,
            shortest=times["shortest"],
        )
    except ValueError as error:
        raise BadInput(Origin("the listener"), str(error)) from error
    if heard is not None:
        trials = [(host, heard), *(_read_also(text, count, times["setup"], times["strobe"]) for text in also)]
        logs = [(one, path, read_runs([path], base)) for one, path in trials]
        _weigh(logs, listener, not jitter and not depth, as_json, width)
    elif also:
        raise BadInput(Origin("--also"), "goes with --heard")
    elif not service:
        raise BadInput(Origin("--service"), "is missing: state how long it is busy, or give runs with --heard")
    else:
        _predict(host, listener, as_json, width)


def _time(option: str, text: str) -> Span:
    from latchlore.study import span_of

    span = span_of(option, text)
    assert span is not None
    return span


def _predict(host: HostTimes, listener: Listener, as_json: bool, width: int | None) -> None:
    from latchlore.wire import least_delay, least_depth, most_service, predict_misses, prediction_to_plain

    told = predict_misses(host, listener)
    delay, service, depth = least_delay(host, listener), most_service(host, listener), least_depth(host, listener)
    if as_json:
        from latchlore.cli._program_asking import print_plain

        print_plain({
            "format": "latchlore-wire-listener", "version": 1, **prediction_to_plain(told),
            "least_delay_ps": None if delay is None else delay.picoseconds,
            "most_service_ps": None if service is None else service.picoseconds,
            "least_depth": depth,
        })  # fmt: skip
        return
    from latchlore.cli._program_page import BOLD, Page

    page = Page(width)
    page.say(f"{told.loss:.1%} of {len(told.missed)} bytes are lost", code=BOLD)
    sure = ", ".join(str(k) for k in told.surely_missed)
    page.say(f"Missed for certain: {sure or 'none'}.", 2)
    maybe = [f"{k} ({chance:.0%})" for k, chance in enumerate(told.missed) if 1e-9 < chance <= 1 - 1e-9]
    if maybe:
        page.say(f"Missed at times: {', '.join(maybe)}.", 2)
    twice = [f"{k} ({chance:.0%})" for k, chance in enumerate(told.doubled) if chance > 1e-9]
    if twice:
        page.say(f"Read twice: {', '.join(twice)}.", 2)
    cures = []
    if told.loss > 0:
        cures.append(BUSY_CURE)
        if delay is not None:
            cures.append(f"a pause between bytes that is longer by {delay} or more")
        if service is not None:
            cures.append(f"a service of {service} or less")
        if depth is not None:
            cures.append(f"{depth} strobes remembered while busy, for {len(told.missed)} bytes in a row")
    page.points("What would end the loss", cures)
    click.echo(page.text(), nl=False, color=page.terminal.tinted)


def _read_also(text: str, count: int, setup: Span, width: Span) -> tuple[HostTimes, Path]:
    """A pace, or pauses by turns, and the log of what was heard at them."""
    from latchlore.base import BadInput, Origin
    from latchlore.wire import HostTimes

    pauses, equals, log = text.partition("=")
    if not equals or not log.strip():
        raise BadInput(
            Origin("--also"), f"is a time, or several by turns, and a log, such as '94 us=slow.log', not {text!r}"
        )
    try:
        turns = [_time("--also", pause.strip()) for pause in pauses.split(",")]
        return HostTimes.by_turns(count, turns, setup, width), Path(log.strip())
    except ValueError as error:
        raise error if isinstance(error, BadInput) else BadInput(Origin("--also"), str(error)) from error


def _weigh(
    logs: list[tuple[HostTimes, Path, list[Run]]], listener: Listener, any_jitter: bool, as_json: bool,
    width: int | None,
) -> None:  # fmt: skip
    from latchlore.base import BadInput, Origin, Span, SpanRange
    from latchlore.cli._progress import ProgressLine
    from latchlore.wire import (
        BETTER,
        LITTLE_LOSS,
        NO_LISTENER,
        TOO_SURE,
        Search,
        belief_to_plain,
        ending_pause,
        next_setting,
        over_chance,
        propose_settings,
        ramp_indices,
        weigh_either_way,
    )

    host = logs[0][0]
    turn = host.strobes[1] - host.strobes[0] if len(host.strobes) > 1 else 10**9
    search = Search(
        listener,
        SpanRange(Span(0), Span(2 * turn)),
        SpanRange(listener.reads, listener.reads + Span(4 * turn)),
        SpanRange(Span(0), Span(turn)) if any_jitter else None,
    )
    trials = []
    num_runs = 0
    for one, path, runs in logs:
        num_runs += len(runs)
        try:
            trials.append((one, [ramp_indices(run.data, len(host.strobes)) for run in runs]))
        except ValueError as error:
            raise BadInput(Origin(path.name), str(error)) from error
    try:
        with ProgressLine() as progress:
            belief = weigh_either_way(trials, search, progress)
            settings = propose_settings(host)
            best, gains = next_setting(belief, [setting for _, setting in settings])
    except ValueError as error:
        raise BadInput(Origin(logs[0][1].name), str(error)) from error
    better = over_chance(trials, belief)
    pause = ending_pause(belief, host, SURE) if better >= BETTER else None
    if as_json:
        from latchlore.cli._program_asking import print_plain

        print_plain({
            "format": "latchlore-wire-listener", "version": 1, **belief_to_plain(belief, INSIDE),
            "over_chance_nats": round(better, 6), "explained": better >= BETTER,
            "ending_pause_ps": None if pause is None else pause.picoseconds,
            "next": [{"words": one[0], "bits": round(bits, 6)} for one, bits in zip(settings, gains, strict=True)],
        })  # fmt: skip
        return
    from latchlore.cli._program_page import BOLD, Page

    page = Page(width)
    told = "one run tells" if num_runs == 1 else f"{num_runs} runs tell"
    page.say(f"What {told} of the listener, with 90 % each", code=BOLD)
    if better < BETTER:
        page.say(NO_LISTENER)
    figures = [("latency", "latency"), ("service", "service"), ("turn", "both together"), ("jitter", "jitter")]
    for name, label in figures if "jitter" in belief.cell else figures[:-1]:
        page.row(f"  {label:15}", str(belief.interval(name)))
    if listener.depth:
        page.say(TOO_SURE)
    page.say(
        "Looked for up to twice the period (latency) and four times (service), all as likely before"
        + (", the jitter at none and up to the period." if any_jitter else ".")
        + (
            ""
            if len(logs) > 1
            else "  Equal pauses tell latency and service together at best; a second log at "
            "another pace (--also) tells them apart."
        ),
    )
    if pause is not None:
        cures = [
            BUSY_CURE,
            f"a pause between bytes that is longer by {pause} or more: at most {LITTLE_LOSS:.1%} lost, with {SURE:.0%}",
        ]
        page.points("What would end the loss", cures)
    order = sorted(range(len(settings)), key=lambda k: (k != best, -gains[k], k))
    page.points(
        "To try next, by what the most telling byte of one run tells of the listener",
        [f"{settings[k][0]}: {max(0.0, gains[k]):.2f} bits" for k in order],
    )
    click.echo(page.text(), nl=False, color=page.terminal.tinted)

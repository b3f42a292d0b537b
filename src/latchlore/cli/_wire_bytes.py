"""`latchlore wire merge` and `faults`: what bytes show without a capture."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from latchlore.cli import wording
from latchlore.cli._wire_asking import BASE, JSON, PICTURE, WIDTH, hex_rows, write_picture
from latchlore.cli._wire_capture import print_plain_wire

if TYPE_CHECKING:
    from latchlore.cli._program_page import Page
    from latchlore.wire import Merge, Run

COMMANDS = wording.WIRE_COMMANDS
LOG = click.Path(path_type=Path)
COLUMNS = 24
"""Bytes of a run beside one another."""


@click.command("merge", short_help=COMMANDS["merge"][1], epilog=wording.STATUSES)
@click.argument("logs", nargs=-1, required=True, type=LOG, metavar="LOG...")
@click.option(
    "--listener",
    type=LOG,
    metavar="FILE",
    help="What 'wire listener --json' printed of host and listener: its chances of missing each byte are used.",
)
@click.option("--runs", "asked", default="", metavar="NUMBERS", help="Only these runs, such as 1,3-5.")
@BASE
@PICTURE
@JSON
@WIDTH
def merge_command(
    logs: tuple[Path, ...], listener: Path | None, asked: str, base: str, picture: Path | None, as_json: bool,
    width: int | None,
) -> None:  # fmt: skip
    """Merge the runs of byte logs of one transmission into what was most probably sent.

    Every run is shown under the result: a byte where it has one, - where it lost one, a small letter where it read
    another; a ? marks bytes of the result that are not 99 % certain.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.study import read_logs, set_kernel_cache
    from latchlore.wire import merge, merge_to_plain

    set_kernel_cache()
    read = read_logs(logs, base)
    runs = [run for log in read for run in log.runs]
    missed = () if listener is None else _read_missed(listener)
    only = _read_numbers(asked, len(runs)) if asked else None
    with ProgressLine() as progress:
        merged = merge(runs, progress, missed, only)
    if picture is not None:
        from latchlore.dossier import draw_runs

        write_picture(picture, draw_runs(merged, runs))
    if as_json:
        print_plain_wire("merge", merge_to_plain(merged))
        return
    taken = f"{len(runs)} run{'s' * (len(runs) != 1)}" if only is None else f"{len(only)} of {len(runs)} runs"
    page = _page(width, f"{taken} of {', '.join(path.name for path in logs)}")
    page.say(f"{len(merged.sequence.items)} bytes; the whole is right with {merged.sequence.confidence:.1%}")
    page.points("Notes", [*merged.notes, *(f"{log.file}: {log.read_as}" for log in read)])
    page.heading("The result, with the runs under it")
    _draw(page, merged, runs)
    likely = [f"{a.probability:.1%}: {a.words}" for a in merged.alternatives[:8]]
    page.points("Other sequences", likely)
    _print(page)


def _read_numbers(text: str, num_runs: int) -> tuple[int, ...]:
    """The runs named by numbers from 1 and ranges of them, as indices that rise."""
    from latchlore.base import BadInput, Origin

    found: set[int] = set()
    for part in text.split(","):
        first, dash, last = (piece.strip() for piece in part.partition("-"))
        ends = (first, last if dash else first)
        if not all(end.isascii() and end.isdigit() for end in ends):
            raise BadInput(Origin("--runs"), f"is numbers of runs and ranges of them, such as 1,3-5, not {text!r}")
        low, high = (int(end) for end in ends)
        if not 1 <= low <= high <= num_runs:
            raise BadInput(Origin("--runs"), f"the runs are 1 to {num_runs}, not {part.strip()!r}")
        found.update(range(low - 1, high))
    return tuple(sorted(found))


def _read_missed(path: Path) -> tuple[float, ...]:
    """The chances of missing each byte from what `latchlore wire listener --json` has printed."""
    from latchlore.base import BadInput, Origin
    from latchlore.wire import prediction_from_plain

    try:
        return prediction_from_plain(json.loads(path.read_text(encoding="utf-8")))
    except OSError as error:
        raise BadInput(Origin(path.name), f"cannot be read: {error.strerror}") from error
    except ValueError as error:
        raise BadInput(Origin(path.name), str(error)) from error


def _draw(page: Page, merged: Merge, runs: list[Run]) -> None:
    from latchlore.base import is_doubtful

    items = merged.sequence.items
    for at in range(0, len(items), COLUMNS):
        part = items[at : at + COLUMNS]
        page.gap()
        cells = [f"{one.value:02X}{'?' if is_doubtful(one.confidence) else ' '}" for one in part]
        page.lines.append(page.tint(f"{at:6}  {''.join(cells)}", "1"))
        for run in merged.aligned:
            shown: list[str] = []
            for column in range(at, at + len(part)):
                place = run.columns[column]
                byte = None if place is None else runs[run.run].data[place]
                same = byte == items[column].value
                shown.append("-- " if byte is None else f"{byte:02X} " if same else f"{byte:02x} ".lower())
            page.lines.append(f"{'run ' + str(run.run + 1):>6}  {''.join(shown)}")


@click.command("faults", short_help=COMMANDS["faults"][1], epilog=wording.STATUSES)
@click.argument("log", type=LOG, metavar="LOG")
@click.option("--sent", type=LOG, metavar="LOG", help="A log of what was sent, byte for byte.")
@BASE
@JSON
@WIDTH
def faults_command(log: Path, sent: Path | None, base: str, as_json: bool, width: int | None) -> None:
    """Find data lines that are stuck, bridged, swapped, inverted or floating, from the runs of a byte log.

    With what was sent beside it each line is explained; bytes that runs lost or read twice are left out of it.  From
    the bytes alone only what never moves, and what always moves together, can be seen.
    """
    from latchlore.base import BadInput, Origin
    from latchlore.study import read_one_run, read_runs, set_kernel_cache
    from latchlore.wire import describe_pairing, find_hints, find_text_convention, judge_lines

    set_kernel_cache()
    runs = [run for run in read_runs([log], base) if run.data]
    if not runs:
        raise BadInput(Origin(log.name), "the log has no byte")
    data = b"".join(run.data for run in runs)
    longest = max((run.data for run in runs), key=len)
    said: dict[str, tuple[str, ...]] = {}
    if sent is not None:
        known = read_one_run(sent, base).data
        try:
            faults, paired = judge_lines(known, [run.data for run in runs])
        except ValueError as error:
            raise BadInput(Origin(log.name), str(error)) from error
        pairing = describe_pairing(paired, len(known), len(runs))
        said["Lines against what was sent"] = (*pairing, *(faults.describe() or ("every line is its own",)))
    said["From the bytes alone"] = find_hints(data, longest).describe()
    said["As text"] = find_text_convention(longest)
    if as_json:
        keys = ("against_sent", "from_bytes", "as_text") if sent is not None else ("from_bytes", "as_text")
        print_plain_wire("faults", {key: list(texts) for key, texts in zip(keys, said.values(), strict=True)})
        return
    more = "" if len(runs) == 1 else f" of {len(runs)} runs, the longest below"
    page = _page(width, f"{log.name}: {len(data)} bytes{more}")
    page.lines += hex_rows(longest[:256], [True] * min(256, len(longest)))
    for heading, texts in said.items():
        page.points(heading, texts)
    _print(page)


def _page(width: int | None, title: str) -> Page:
    from latchlore.cli._program_page import BOLD, Page

    page = Page(width)
    page.say(title, code=BOLD)
    return page


def _print(page: Page) -> None:
    click.echo(page.text(), nl=False, color=page.terminal.tinted)

"""`latchlore program compare`: two versions by what they do to their devices."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording
from latchlore.cli._program_asking import JSON, STATED, WIDTH, head_plain, open_asked, print_page, print_plain
from latchlore.cli._program_bytes import example_plain, example_words

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from latchlore.base import ByteTree, InputKind
    from latchlore.cli._program_page import Page
    from latchlore.program import Comparison, Difference, Names
    from latchlore.study import AskedProgram

    Pairs = Sequence[tuple[str, ByteTree, ByteTree, Comparison]]

_VERSION = click.Path(path_type=Path)


def _stated(command: Callable[..., int]) -> Callable[..., int]:
    for decorate in reversed(STATED):
        command = decorate(command)
    return command


@click.command("compare", short_help=wording.PROGRAM_COMMANDS["compare"][1], epilog=wording.STATUSES)
@click.argument("first", type=_VERSION, metavar="FIRST")
@click.argument("second", type=_VERSION, metavar="SECOND")
@_stated
@click.option("--second-load", multiple=True, metavar="ADDRESS", help="Where SECOND lies; default as FIRST.")
@click.option(
    "--second-entry", multiple=True, metavar="ENTRY", help="Its entries, by the same names; default as FIRST."
)
@JSON
@WIDTH
def compare_command(
    first: Path,
    second: Path,
    as_json: bool,
    width: int | None,
    second_load: tuple[str, ...],
    second_entry: tuple[str, ...],
    **options: Any,
) -> int:
    """Compare two versions of a program, each a study or an image file, entry by entry.

    They are the same where, whatever the inputs, the same events come in the same order; where that breaks first is
    told, with the inputs that show it.  Bytes that moved and mirrors of a register do not matter; other cycles are
    listed apart.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.program import Names, compare_trees

    versions = [
        open_asked(_stated_for(first, options)),
        open_asked(
            _stated_for(
                second,
                {
                    **options,
                    "load": second_load or options["load"],
                    "entry": second_entry or options["entry"],
                },
            )
        ),
    ]
    by_name = [{entry.name: entry for entry in asked.need_entries()} for asked in versions]
    common = [name for name in by_name[0] if name in by_name[1]]
    alone = [name for name in (*by_name[0], *by_name[1]) if name not in common]
    _need_common(common, [list(names) for names in by_name])
    pairs = []
    with ProgressLine() as progress:
        for name in common:
            one, two = (asked.tree(names[name], progress) for asked, names in zip(versions, by_name, strict=True))
            pairs.append((name, one, two, compare_trees(one, two, _canon(versions))))
    if as_json:
        print_plain(compare_plain(pairs, alone, versions))
    else:
        registers = (*versions[1].registers, *versions[0].registers)
        names = Names(registers, (*versions[1].roles, *versions[0].roles))
        print_page(compare_page(pairs, alone, versions, names, width))
    return 0


def _stated_for(version: Path, options: dict[str, Any]) -> dict[str, Any]:
    """What the options say of a version: of a study, which states the rest itself, the entries only."""
    if not version.is_dir():
        return {**options, "sources": (version,)}
    from latchlore.study import Stated

    names = [name.rpartition("=")[0].strip() or name for name in options["entry"]]
    blank = Stated()
    nothing = {key: getattr(blank, key) for key in options if hasattr(blank, key)}
    return {**options, **nothing, "tolerance": 0, "entry": tuple(names), "sources": (version,)}


def _need_common(common: Sequence[str], names: Sequence[Sequence[str]]) -> None:
    from latchlore.base import UnknownName

    if not common:
        told = " and ".join(", ".join(repr(name) for name in one) for one in names)
        raise UnknownName(f"the versions have no entry in common: {told}; give both the same names (NAME=ADDRESS)")


def _canon(versions: Sequence[AskedProgram]) -> Callable[[InputKind, int], int]:
    """Mirrors of a register by its lowest address."""
    registers = [register for asked in versions for register in asked.registers]

    def canon(kind: InputKind, address: int) -> int:
        return next((one.addresses.lowest for one in registers if one.kind is kind and address in one), address)

    return canon


def compare_page(
    pairs: Pairs, alone: Sequence[str], versions: Sequence[AskedProgram], names: Names, width: int | None
) -> Page:
    """The comparison as text."""
    from latchlore.cli._program_page import BOLD, FAINT, Page
    from latchlore.cli._program_tree import say_grounds

    page = Page(width)
    page.say("Two versions compared by what they do", code=BOLD)
    for label, asked in zip(("first", "second"), versions, strict=True):
        files = ", ".join(f"{one.file} from {one.load:04X}" for one in asked.images)
        page.row(f"  {label:8}", f"{asked.title}; {asked.cpu}; {files}")
    if any(asked.is_invented for asked in versions):
        page.say(wording.INVENTED)
    for name, _, _, answer in pairs:
        page.heading(f"“{name}”: {answer}")
        for number, one in enumerate(answer.differences, 1):
            _difference_rows(page, number, one, names)
        for words in answer.not_compared:
            page.say(f"not compared: {words}", 2)
        if answer.num_times:
            page.say(f"{answer.num_times} event{'s' * (answer.num_times != 1)} in other cycles:", 2)
            for late in answer.times:
                page.row(
                    "    ",
                    f"{late.words}: {late.first} ({late.first_at:04X}), then {late.second} ({late.second_at:04X})",
                    FAINT,
                )
            if answer.num_times > len(answer.times):
                page.say(f"and {answer.num_times - len(answer.times)} more", 4)
    page.points("Entries that only one version has", alone)
    say_grounds(page, [tree for _, *trees, _ in pairs for tree in trees])
    return page


def _difference_rows(page: Page, number: int, one: Difference, names: Names) -> None:
    from latchlore.program import condition_words

    page.say(f"{number}. difference" + ("" if one.is_sure else ", if its conditions can hold together"), 2)
    page.row("     first   ", f"{one.first} (at {one.first_at:04X})")
    page.row("     second  ", f"{one.second} (at {one.second_at:04X})")
    told = [condition_words(condition, names) for condition in one.conditions]
    page.row("     where   ", "; ".join(told) or "always")
    if one.example:
        shown = ", ".join(example_words(example) for example in one.example)
        values = f": {one.values[0]:02X}, then {one.values[1]:02X}" if one.values is not None else ""
        page.row("     such as ", f"{shown}{values}")


def compare_plain(pairs: Pairs, alone: Sequence[str], versions: Sequence[AskedProgram]) -> dict[str, Any]:
    """The comparison for programs."""
    return {
        "format": "latchlore-program-compare",
        "version": 1,
        "versions": [head_plain("compare", asked) for asked in versions],
        "entries": [
            {
                "name": name,
                "same": answer.same,
                "verdict": str(answer),
                "differences": [
                    {
                        "first": one.first,
                        "second": one.second,
                        "first_at": one.first_at,
                        "second_at": one.second_at,
                        "conditions": [str(condition) for condition in one.conditions],
                        "example": [example_plain(example) for example in one.example],
                        "sure": one.is_sure,
                        "values": None if one.values is None else list(one.values),
                    }
                    for one in answer.differences
                ],
                "num_times": answer.num_times,
                "times": [
                    {
                        "words": one.words,
                        "first_at": one.first_at,
                        "second_at": one.second_at,
                        "first": {"least": one.first.least, "most": one.first.most},
                        "second": {"least": one.second.least, "most": one.second.most},
                    }
                    for one in answer.times
                ],
                "not_compared": list(answer.not_compared),
                "assumptions": [list(first.assumptions), list(second.assumptions)],
                "bounds": [list(first.bounds), list(second.bounds)],
            }
            for name, first, second, answer in pairs
        ],
        "alone": list(alone),
    }

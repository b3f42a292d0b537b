"""`latchlore program status`: what the drivers ask of a status register."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording
from latchlore.cli._program_asking import asking, head_plain, open_asked, print_page, print_plain
from latchlore.cli._program_tree import say_grounds

if TYPE_CHECKING:
    from latchlore.base import ByteTree
    from latchlore.cli._program_page import Page
    from latchlore.program import NamedRegister, StatusTests
    from latchlore.study import AskedProgram


def _byte(_: click.Context, __: click.Parameter, value: str) -> int:
    """Two hexadecimal digits as a number."""
    try:
        return bytes.fromhex(value)[0]
    except (ValueError, IndexError):
        raise click.BadParameter(f"a byte is two hexadecimal digits, such as FF, not {value!r}") from None


@click.command("status", short_help=wording.PROGRAM_COMMANDS["status"][1], epilog=wording.STATUSES)
@asking
@click.option("--register", required=True, metavar="ADDRESS", help="The status register that is read.")
@click.option("--data", multiple=True, metavar="ADDRESS", help="The register that is written; default the data's.")
@click.option("--undriven", callback=_byte, default="FF", metavar="BYTE", help="What a bus reads that nothing drives.")
def status_command(
    as_json: bool, width: int | None, register: str, data: tuple[str, ...], undriven: int, **options: Any
) -> int:
    """Ask every entry which status bytes let it send, which satisfy all at once, and who tests which bit.

    A byte satisfies an entry if, read every time, it surely leads to a write of the data.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.program import belongs_to_registers, status_tests

    asked = open_asked(options)
    wanted = asked.need_entries()
    with ProgressLine() as progress:
        trees = {entry.name: asked.tree(entry, progress) for entry in wanted}
    read = asked.read_register(register)
    sent = asked.asked_registers(data)
    answer = status_tests(trees, belongs_to_registers([read]), belongs_to_registers(sent), undriven=undriven)
    if as_json:
        print_plain(status_plain(answer, read, list(trees.values()), asked))
    else:
        print_page(status_page(answer, read, list(trees.values()), asked, width))
    return 0


def status_page(
    answer: StatusTests, register: NamedRegister, trees: list[ByteTree], asked: AskedProgram, width: int | None
) -> Page:
    """The answer as text."""
    from latchlore.cli._program_page import Page
    from latchlore.program import value_set

    page = Page(width)
    page.head(f"Status tests of {register}", asked)
    page.heading("Bytes that let an entry send")
    for test in answer.tests:
        told = value_set(set(test.satisfied_by), exhausted=True) if test.satisfied_by else "none"
        page.row(f"  “{test.name}”  ", told)
        if test.may_do:
            page.row("      ", f"other inputs decide for {value_set(set(test.may_do), exhausted=True)}")
        bits = ", ".join(str(bit) for bit in test.tested) or "none"
        page.row("      ", f"bits tested: {bits}" + ("" if test.is_exhausted else " (not all paths were followed)"))
    page.heading("All of them at once")
    page.say(value_set(set(answer.satisfy_all), exhausted=True) if answer.satisfy_all else "no byte", 2)
    undriven = ", ".join(answer.satisfied(answer.undriven)) or "none"
    page.say(f"an undriven bus ({answer.undriven:02X}) satisfies {undriven}", 2)
    page.heading("Bit by bit")
    for bit in answer.bits:
        testers = f"tested by {', '.join(bit.tested_by)}: " if bit.tested_by else ""
        page.row(f"  bit {bit.bit}  ", f"{testers}{bit.words}")
    say_grounds(page, trees)
    return page


def status_plain(
    answer: StatusTests, register: NamedRegister, trees: list[ByteTree], asked: AskedProgram
) -> dict[str, Any]:
    """The answer for programs."""
    from latchlore.cli._program_drivers import register_plain
    from latchlore.program import open_ends

    return {
        **head_plain("status", asked),
        "register": register_plain(register),
        "undriven": answer.undriven,
        "tests": [
            {
                "name": test.name,
                "satisfied_by": sorted(test.satisfied_by),
                "may": sorted(test.may_do),
                "tested_bits": list(test.tested),
                "exhausted": test.is_exhausted,
            }
            for test in answer.tests
        ],
        "satisfy_all": sorted(answer.satisfy_all),
        "bits": [
            {"bit": bit.bit, "tested_by": list(bit.tested_by), "level": bit.level, "words": bit.words}
            for bit in answer.bits
        ],
        "not_followed": open_ends(trees),
        "assumptions": list(dict.fromkeys(one for tree in trees for one in tree.assumptions)),
        "bounds": list(dict.fromkeys(one for tree in trees for one in tree.bounds)),
    }

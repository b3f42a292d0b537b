"""`latchlore board verilog`, `cases` and `word`: the board handed on, what is still possible, words of chips."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from latchlore.cli import wording

if TYPE_CHECKING:
    from collections.abc import Iterator

    from latchlore.board import Case


@click.command("verilog", short_help=wording.BOARD_COMMANDS["verilog"][1], epilog=wording.STATUSES)
@click.argument("study", type=click.Path(path_type=Path), metavar="STUDY")
@click.option("--no-stubs", is_flag=True, help="Leave out the empty modules of the chips, for models of your own.")
def verilog_command(study: Path, no_stubs: bool) -> None:
    """Print STUDY's board as structural Verilog.

    STUDY is a study folder, a net file or a Verilog file.  What Verilog has no words for stands in attributes, so that
    the text read back is the same board (docs/verilog.md).
    """
    from latchlore.board import write_verilog
    from latchlore.study import load_board

    click.echo(write_verilog(load_board(study), stubs=not no_stubs).encode(), nl=False)


@click.command("cases", short_help=wording.BOARD_COMMANDS["cases"][1], epilog=wording.STATUSES)
@click.argument("study", type=click.Path(path_type=Path), metavar="STUDY")
def cases_command(study: Path) -> None:
    """Print where each register of STUDY's board answers in every case that is still possible.

    Cases are the positions of straps that are not known and the levels of inputs that are not traced; an untraced input
    may in truth be joined to another net.  STUDY is a study folder, a net file or a Verilog file.
    """
    from latchlore.board import possible_maps
    from latchlore.study import load_board

    click.echo("\n".join(_case_lines(possible_maps(load_board(study)))))


def _case_lines(cases: tuple[Case, ...]) -> Iterator[str]:
    from latchlore.board import settle_registers

    if len(cases) == 1:
        yield wording.ONE_CASE
    for register in settle_registers(cases):
        yield wording.case_head(register.parts, register.space, register.direction)
        for case, addresses in zip(cases, register.by_case, strict=True):
            if len(cases) > 1:
                yield f"  {', '.join(case.assumes)}: {addresses if addresses else wording.NOWHERE}"
        certain = str(register.certain) if register.certain else wording.NOWHERE
        yield f"  {wording.IN_EVERY_CASE}: {certain}"
        if len(cases) > 1:
            yield f"  {wording.IN_SOME_CASE}: {register.possible}"


@click.command("word", short_help=wording.BOARD_COMMANDS["word"][1], epilog=wording.STATUSES)
@click.argument("chip", metavar="CHIP")
@click.argument("register", metavar="REGISTER", required=False)
@click.argument("words", nargs=-1, metavar="WORD|FIELD=MEANING")
def word_command(chip: str, register: str | None, words: tuple[str, ...]) -> None:
    """Say what words of a programmable chip's register mean, or which words say what is wanted.

    CHIP is a type such as 8255.  Without REGISTER its registers are listed, without words the register's fields and
    what they can say.  A WORD is hexadecimal: `board word 8255 control 82`.  FIELD=MEANING asks the other way round:
    `board word 6850 control "format=8N1" "clock divided by=16"`.
    """
    from latchlore.board import describe_word, find_type, find_words, get_chip, get_inner

    row = find_type(chip)
    facts = get_chip(row.name if row is not None else chip)
    if register is None:
        lines = [wording.register_line(one.name, one.code, facts.selects, one.access) for one in facts.inners]
        click.echo("\n".join([f"{facts.name}: {facts.title} ({facts.source})", *lines]))
        return
    inner = get_inner(facts, register)
    wishes = dict(word.split("=", 1) for word in words if "=" in word)
    for word in (word for word in words if "=" not in word):
        value = _word(word)
        said = describe_word(facts.name, register, value) or wording.NO_MEANING
        click.echo(f"{value:02X}  {said}")
    if wishes:
        found = find_words(facts.name, register, wishes)
        click.echo(" ".join(f"{one:02X}" for one in found) or wording.NO_WORD)
    if not words:
        for form in inner.forms:
            click.echo(wording.form_line(form.name, form.care, form.value))
            for field in form.fields:
                click.echo(wording.field_line(field.name, field.high, field.low, field.meanings))
        for k, name in enumerate(inner.bits):
            if name:
                click.echo(wording.field_line(name, k, k, ()))


def _word(text: str) -> int:
    digits = text.lower().removesuffix("h")
    if not 1 <= len(digits) <= 2 or set(digits) - set("0123456789abcdef"):
        raise click.UsageError(wording.no_word(text))
    return int(digits, 16)

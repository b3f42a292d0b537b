"""`latchlore program bytes`: what can ever be written to a register, and what never."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording
from latchlore.cli._program_asking import asking, head_plain, open_asked, print_page, print_plain
from latchlore.cli._program_drivers import register_plain
from latchlore.cli._program_tree import say_grounds

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from latchlore.base import ByteTree, InputKind
    from latchlore.cli._program_page import Page
    from latchlore.program import Example, NamedRegister, Names, Reach, Reaching, Sending, Witness
    from latchlore.study import AskedProgram, EntryPart

    Trees = Sequence[tuple[EntryPart, ByteTree]]
    Codes = Sequence[tuple[str, tuple[frozenset[int], ...]]]

VERDICTS = {True: "it may", False: "never", None: "cannot be told"}


@click.command("bytes", short_help=wording.PROGRAM_COMMANDS["bytes"][1], epilog=wording.STATUSES)
@asking
@click.option("--register", "registers", multiple=True, metavar="ADDRESS", help="Default: the data, or all written.")
@click.option(
    "--code", "codes", multiple=True, metavar="BYTES", help="May this be sent?  Such as '1B 4B', \"1B 'K' any\"."
)
def bytes_command(
    as_json: bool, width: int | None, registers: tuple[str, ...], codes: tuple[str, ...], **options: Any
) -> int:
    """Say which bytes a register can ever get, which inputs reach it, and whether a code may be sent.

    A code that may be sent comes with a path: the status bits on the way, and an example of whatever stays the same.
    "Never" is said only where every path was followed to its end, with what it takes for granted and its bounds.
    Without --code, a study's own [[look_for]] rows are asked.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.program import Names, tidy

    asked = open_asked(options)
    wanted = asked.need_entries()
    patterns = asked.codes(codes)
    with ProgressLine() as progress:
        trees = [(entry, tidy(asked.tree(entry, progress))) for entry in wanted]
    chosen = asked.asked_registers(registers)
    if as_json:
        print_plain(bytes_plain(trees, chosen, patterns, asked))
    else:
        print_page(bytes_page(trees, chosen, patterns, asked, Names(asked.registers, asked.roles), width))
    return 0


def bytes_page(
    trees: Trees, registers: Sequence[NamedRegister], codes: Codes, asked: AskedProgram, names: Names, width: int | None
) -> Page:
    """The answers as text."""
    from latchlore.cli._program_page import BOLD, Page
    from latchlore.program import belongs_to_registers, may_send, value_set, what_reaches

    page = Page(width)
    page.head("Bytes", asked)
    if not registers:
        page.say("no path from these entries writes to a device")
    for register in registers:
        page.heading(f"{register}: what can ever be written")
        for entry, tree in trees:
            values = tree.possible_bytes(belongs_to_registers([register]))
            if not values:
                told = "nothing" if tree.is_exhausted else "nothing on the paths that were followed"
                page.row(f"  “{entry.name}”  ", told)
                continue
            page.row(f"  “{entry.name}”  ", value_set(set(values), exhausted=tree.is_exhausted))
            reach = what_reaches(tree, belongs_to_registers([register]), asked.arguments(entry))
            for words in _reach_words(reach, names):
                page.row("      ", words)
    for name, pattern in codes:
        page.heading(f"May it send {name}?")
        for entry, tree in trees:
            answer = may_send(tree, pattern, belongs_to_registers(registers))
            page.row(f"  “{entry.name}”  ", VERDICTS[answer.happens], BOLD)
            grounds = answer.grounds[:2] if answer.happens is False else answer.grounds
            for words in grounds:
                page.row("      ", words)
            if answer.witness is not None:
                for words in _witness_words(answer.witness, names.of_tree(tree)):
                    page.row("      ", words)
    say_grounds(page, [tree for _, tree in trees])
    return page


def _reach_words(reach: Reach, names: Names) -> list[str]:
    """What reaches a register; inputs of one kind at neighbouring addresses that do the same are one line."""
    found: list[str] = []
    groups: list[list[Reaching]] = []
    for one in reach.found:
        last = groups[-1][-1] if groups else None
        same = last is not None and (last.kind, last.name, last.copies, last.decides) == (
            one.kind,
            one.name,
            one.copies,
            one.decides,
        )
        if same and last is not None and one.address == last.address + 1 and not one.name:
            groups[-1].append(one)
        else:
            groups.append([one])
    for group in groups:
        first = group[0]
        place = _place(first.kind, first.address, first.name)
        if len(group) > 1:
            place += f" to {group[-1].address:04X}"
        parts = []
        if first.copies:
            parts.append(f"reaches it ({_copies_words(first.copies)})")
        if first.decides:
            bits = _bit_list(first.decides)
            parts.append(f"decides by bit{'s' * (len(first.decides) > 1)} {bits} what is written")
        found.append(f"{place}: {', and '.join(parts)}")
    if reach.never:
        found.append(f"{', '.join(reach.never)}: never {'reach' if len(reach.never) > 1 else 'reaches'} it")
    if reach.untold:
        found.append(f"{', '.join(reach.untold)}: not seen to reach it; cannot be told")
    del names
    return found


def _place(kind: InputKind, address: int, name: str) -> str:
    from latchlore.base import InputKind, describe_place

    if name:
        return name
    return f"RAM {address:04X}" if kind is InputKind.CELL else describe_place(kind, address)


def _copies_words(copies: Sequence[tuple[int, int]]) -> str:
    """``bits 6-0 as they are``, ``bit 5 by 6-0``: which bits of the register follow which of the input."""
    by_out: dict[int, list[int]] = {}
    for source, out in copies:
        by_out.setdefault(out, []).append(source)
    groups: dict[tuple[int, ...], list[int]] = {}
    for out, sources in by_out.items():
        groups.setdefault(() if sources == [out] else tuple(sources), []).append(out)
    parts = []
    for others, outs in groups.items():
        how = f"by {_bit_list(others)}" if others else ("as they are" if len(outs) > 1 else "as it is")
        parts.append(f"bit{'s' * (len(outs) > 1)} {_bit_list(outs)} {how}")
    return "; ".join(parts)


def _bit_list(bits: Iterable[int]) -> str:
    """Bits from high to low, runs put together: ``7, 5-0``."""
    runs: list[list[int]] = []
    for bit in sorted(bits, reverse=True):
        if runs and bit == runs[-1][1] - 1:
            runs[-1][1] = bit
        else:
            runs.append([bit, bit])
    return ", ".join(str(high) if high == low else f"{high}-{low}" for high, low in runs)


def _witness_words(witness: Witness, names: Names) -> list[str]:
    """The path in a few lines: an example of what stays the same, then what the device has to say, then the writes."""
    from latchlore.base import HELD, Wait, Write
    from latchlore.program import condition_words, event_words

    example = [example_words(one) for one in witness.example()]
    lines = [f"for example with {', '.join(example)}"] if example else []
    asked = [one for one in witness.conditions if any(bit.turn != HELD for bit in one.bits)]
    lines += [f"with {condition_words(one, names)}" for one in asked]
    waits = dict.fromkeys(event_words(one, names) for one in witness.steps if isinstance(one, Wait))
    lines += list(waits)
    writes = [one for one in witness.steps if isinstance(one, Write)]
    lines.append(f"written at {', '.join(f'{one.program_address:04X}' for one in writes)}")
    return lines


def example_words(one: Example) -> str:
    """A byte with the levels that matter: ``A = 5A``."""
    masked = "" if one.mask in (0xFF, 0xFFFF) else f" (bits {_bit_list(k for k in range(16) if one.mask >> k & 1)})"
    return f"{_place(one.kind, one.address, one.name)} = {one.value:02X}{masked}"


def example_plain(one: Example) -> dict[str, Any]:
    """The same for programs."""
    return {"kind": one.kind.value, "address": one.address, "name": one.name, "value": one.value, "mask": one.mask}


def bytes_plain(trees: Trees, registers: Sequence[NamedRegister], codes: Codes, asked: AskedProgram) -> dict[str, Any]:
    """The answers for programs."""
    from latchlore.program import belongs_to_registers, may_send, open_ends, what_reaches

    found = []
    for register in registers:
        belongs = belongs_to_registers([register])
        entries = []
        for entry, tree in trees:
            reach = what_reaches(tree, belongs, asked.arguments(entry))
            entries.append(
                {
                    "name": entry.name,
                    "values": sorted(tree.possible_bytes(belongs)),
                    "exhausted": tree.is_exhausted,
                    "inputs": [
                        {
                            "kind": one.kind.value,
                            "address": one.address,
                            "name": one.name,
                            "copies": [list(pair) for pair in one.copies],
                            "decides": list(one.decides),
                        }
                        for one in reach.found
                    ],
                    "never": list(reach.never),
                    "cannot_be_told": list(reach.untold),
                }
            )
        found.append({**register_plain(register), "entries": entries})
    return {
        **head_plain("bytes", asked),
        "registers": found,
        "codes": [
            {
                "code": name,
                "pattern": [sorted(one) for one in pattern],
                "entries": [
                    {"name": entry.name, **_sending_plain(may_send(tree, pattern, belongs_to_registers(registers)))}
                    for entry, tree in trees
                ],
            }
            for name, pattern in codes
        ],
        "not_followed": open_ends([tree for _, tree in trees]),
        "assumptions": list(dict.fromkeys(one for _, tree in trees for one in tree.assumptions)),
        "bounds": list(dict.fromkeys(one for _, tree in trees for one in tree.bounds)),
    }


def _sending_plain(answer: Sending) -> dict[str, Any]:
    plain: dict[str, Any] = {
        "happens": answer.happens,
        "verdict": VERDICTS[answer.happens],
        "grounds": list(answer.grounds),
        "path": None,
    }
    if answer.witness is not None:
        plain["path"] = {
            "nodes": list(answer.witness.nodes),
            "steps": [str(step) for step in answer.witness.steps],
            "example": [example_plain(one) for one in answer.witness.example()],
        }
    return plain

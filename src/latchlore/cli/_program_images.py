"""`latchlore program image` and `latchlore program repair`: what a dump is, and what can be done about a bad one."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import Origin
    from latchlore.program import ImageReport, MergedReads, RepairReport, Wiring

FILES = click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
JSON = click.option("--json", "as_json", is_flag=True, help="Print the same as JSON.")


@click.command("image", short_help=wording.PROGRAM_COMMANDS["image"][1], epilog=wording.STATUSES)
@FILES
@click.option("--cpu", default=None, metavar="NAME", help="The processor, where it is known.")
@click.option("--load", default=None, metavar="ADDRESS", help="The address of the first byte, where it is known.")
@JSON
def image_command(files: tuple[Path, ...], cpu: str | None, load: str | None, as_json: bool) -> int:
    """Tell what each FILE is: form, size, fill, faults of the dump, texts, whose code it is and where it lies.

    What is found stands with the evidence for it, in bits; what is not sure is called undecided.
    """
    from latchlore.base import BadInput
    from latchlore.program import describe_image

    address = None if load is None else _address(load)
    reports: list[ImageReport] = []
    mistakes: list[tuple[Origin, str]] = []
    for file in files:
        try:
            reports.append(describe_image(file.read_bytes(), str(file), cpu=cpu, load=address))
        except BadInput as error:
            mistakes += error.mistakes
    if as_json:
        _print_json({"format": "latchlore-program-image", "version": 1, "images": [_plain(one) for one in reports]})
    else:
        for number, report in enumerate(reports):
            _say(("\n" if number else "") + str(report))
    if mistakes:
        raise BadInput.of_all(mistakes)
    return 0


def _address(text: str) -> int:
    from latchlore.base import BadInput, Origin
    from latchlore.study import parse_address

    try:
        return parse_address(text)
    except ValueError as error:
        raise BadInput(Origin("--load"), str(error)) from error


@click.command("repair", short_help=wording.PROGRAM_COMMANDS["repair"][1], epilog=wording.STATUSES)
@FILES
@click.option("--reads", is_flag=True, help="The files are reads of one chip: merge them first.")
@click.option(
    "--merge",
    type=click.Choice(["automatic", "majority", "AND"]),
    default="automatic",
    show_default=True,
    help="The rule for --reads.",
)
@click.option("--cpu", default=None, metavar="NAME", help="Compare with code of this processor only.")
@click.option("--top/--not-top", default=None, help="The chip ends at FFFF (where vectors may lie), or does not.")
@click.option("--line", "lines", multiple=True, metavar="WORDS", help="A line that is known: 'A6 inverted'.")
@click.option(
    "--known-wiring", multiple=True, type=click.Path(path_type=Path), metavar="NETS", help="The board's nets."
)
@click.option("--chip", default=None, metavar="PART", help="The chip's name in the net files.")
@click.option("--no-lines", is_flag=True, help="Look for no crossed or inverted lines.")
@click.option(
    "--write", "target", type=click.Path(path_type=Path), metavar="OUT", help="Write the image to a new file."
)
@click.option("--likeliest", is_flag=True, help="Write the likeliest image even where it is undecided.")
@JSON
def repair_command(
    files: tuple[Path, ...],
    reads: bool,
    merge: str,
    cpu: str | None,
    top: bool | None,
    lines: tuple[str, ...],
    known_wiring: tuple[Path, ...],
    chip: str | None,
    no_lines: bool,
    target: Path | None,
    likeliest: bool,
    as_json: bool,
) -> int:
    """Propose what can be done about a bad dump; the files stay as they are.

    Several reads of one chip are merged, faults named, and the wiring of the lines proposed that makes the dump read
    best, with its runner-up; where the lead is small it says undecided.  --write makes a new file and beside it a
    note of what was done.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.program import parse_rom, propose_repairs
    from latchlore.study import set_kernel_cache

    set_kernel_cache()
    if len(files) > 1 and not reads:
        raise click.UsageError("several files are several reads of one chip (--reads); repair chips one by one")
    if merge != "automatic" and not reads:
        raise click.UsageError("--merge belongs to --reads")
    if bool(known_wiring) != (chip is not None):
        raise click.UsageError("--known-wiring and --chip belong together: the board's net files, and the chip in them")
    if (bool(lines), bool(known_wiring), no_lines).count(True) > 1:
        raise click.UsageError("the wiring is known from --line or --known-wiring, or not looked for (--no-lines)")
    raw = [file.read_bytes() for file in files]
    dumps = [parse_rom(data, str(file)).filled().data for data, file in zip(raw, files, strict=True)]
    merged = _merge(dumps, files, merge) if reads else None
    dump = dumps[0] if merged is None else merged.image
    wiring = _known(lines, known_wiring, chip, len(dump))
    with ProgressLine() as progress:
        report = propose_repairs(
            dump, cpu=cpu, top=top, wiring=wiring, search=not no_lines, file=str(files[0]), progress=progress
        )
    if as_json:
        _print_json(_repair_plain(files, raw, merged, report))
    else:
        if merged is not None:
            _say(f"{merged}\n")
        _say(str(report))
        if report.winner is not None and not report.winner.wiring.is_straight:
            _say(f"\nIn study.toml:  repair = {_toml_list(str(report.winner.wiring).split('; '))}")
    if target is not None:
        _write(target, files, raw, merged, report, dump, likeliest=likeliest)
    return 0


def _merge(dumps: Sequence[bytes], files: Sequence[Path], rule: str) -> MergedReads:
    from latchlore.program import Rule, merge_reads

    return merge_reads(dumps, str(files[0]), None if rule == "automatic" else Rule(rule))


def _known(lines: Sequence[str], nets: Sequence[Path], chip: str | None, size: int) -> Wiring | None:
    """The wiring as stated, or as the board has it."""
    from latchlore.base import Origin
    from latchlore.board import parse_netlist
    from latchlore.program import Wiring
    from latchlore.study import chip_wiring

    if lines:
        return Wiring.parse(lines, size.bit_length() - 1 if size & (size - 1) == 0 else 0, Origin("--line"))
    if not nets or chip is None:
        return None
    board = parse_netlist([(file.read_text("utf-8"), str(file)) for file in nets])
    return chip_wiring(board, chip, size)


def _write(
    target: Path,
    files: Sequence[Path],
    raw: Sequence[bytes],
    merged: MergedReads | None,
    report: RepairReport,
    dump: bytes,
    *,
    likeliest: bool,
) -> None:
    """Write the image and the note of what was done.  Refuses what exists, and a guess that was not asked for."""
    from latchlore.base import BadInput, Origin
    from latchlore.study import write_whole

    note = target.with_name(f"{target.name}.txt")
    for path in (target, note):
        if path.exists():
            raise BadInput(Origin(str(path)), "is there already; a repaired image goes into a new file")
    why = [report.why] if report.winner is not None and not report.is_decided else []
    if merged is not None and merged.open_bits:
        why.append(f"{len(merged.open_bits)} bits are open")
    if why and not likeliest:
        words = "; ".join(why)
        raise BadInput(Origin(str(target)), f"nothing was written, for it is undecided: {words}; --likeliest writes it")
    image = dump if report.winner is None else report.winner.image
    lines = ["Made by latchlore program repair from"]
    lines += [_digest(file, data) for file, data in zip(files, raw, strict=True)]
    lines += ["", f"{target.name}  sha256 {hashlib.sha256(image).hexdigest()}", ""]
    lines += [] if merged is None else [str(merged), ""]
    lines += [str(report)]
    write_whole(target, image)
    write_whole(note, ("\n".join(lines) + "\n").encode())
    click.echo(f"latchlore: wrote {target} and {note.name}", err=True)


def _digest(file: Path, data: bytes) -> str:
    return f"  {file.name}  sha256 {hashlib.sha256(data).hexdigest()}"


def _say(text: str) -> None:
    from latchlore.cli._letters import harmless

    click.echo(harmless(text))


def _print_json(plain: dict[str, Any]) -> None:
    import json

    click.echo(f"{json.dumps(plain, indent=1, ensure_ascii=False)}\n".encode(), nl=False)


def _toml_list(parts: Sequence[str]) -> str:
    return f"[{', '.join(chr(34) + part + chr(34) for part in parts)}]"


def _plain(report: ImageReport) -> dict[str, Any]:
    """One image as plain data; addresses as four hexadecimal digits."""
    rom = report.rom
    places = [] if report.load_report is None else report.load_report.places
    guesses = [] if report.cpu_report is None else report.cpu_report.guesses
    return {
        "file": rom.file,
        "format": rom.kind,
        "bytes": rom.size,
        "stretches": [[f"{one.address:04X}", f"{one.last:04X}"] for one in rom.stretches],
        "start": None if rom.entry is None else f"{rom.entry:04X}",
        "notes": list(rom.notes),
        "faults": [str(fault) for fault in report.faults],
        "fills": [str(fill) for fill in report.fills],
        "texts": [{"offset": f"{text.offset:04X}", "text": text.text} for text in report.texts],
        "cpu": report.cpu,
        "cpus": [{"cpu": one.cpu, "bits": round(one.bits), "why": list(one.reasons)} for one in guesses],
        "cpu_open": "" if report.cpu_report is None else report.cpu_report.why,
        "load": None if report.load is None else f"{report.load:04X}",
        "header": report.skip,
        "places": [{"load": f"{one.load:04X}", "bits": round(one.bits), "why": list(one.reasons)} for one in places],
    }


def _repair_plain(
    files: Sequence[Path], raw: Sequence[bytes], merged: MergedReads | None, report: RepairReport
) -> dict[str, Any]:
    """What is proposed, as plain data."""
    reads = None
    if merged is not None:
        reads = {
            "rule": merged.rule.value,
            "why": merged.why,
            "dropped": [{"file": str(files[index]), "why": why} for index, why in merged.dropped],
            "weak": [str(bit) for bit in merged.weak],
            "open": [str(bit) for bit in merged.open_bits],
        }
    proposals = [
        None
        if one is None
        else {
            "wiring": str(one.wiring),
            "cpu": one.cpu,
            "bits": round(one.bits),
            "known_bits": round(one.known_bits),
            "sha256": hashlib.sha256(one.image).hexdigest(),
            "sample": list(one.sample),
        }
        for one in (report.winner, report.runner_up)
    ]
    return {
        "format": "latchlore-program-repair",
        "version": 1,
        "files": [
            {"file": str(file), "sha256": hashlib.sha256(data).hexdigest()}
            for file, data in zip(files, raw, strict=True)
        ],
        "reads": reads,
        "faults": [str(fault) for fault in report.faults],
        "decided": report.is_decided,
        "decided_lines": list(report.decided),
        "why": report.why,
        "likeliest": proposals[0],
        "runner_up": proposals[1],
        "open_lines": list(report.open_lines),
        "alike": [[f"A{low}", f"A{high}"] for low, high in report.alike],
    }

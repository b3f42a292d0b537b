"""`latchlore program listing`: every byte of the images, and what it is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from latchlore.cli import wording
from latchlore.cli._program_asking import asking, head_plain, notes_of, open_asked, print_page, print_plain

if TYPE_CHECKING:
    from latchlore.cli._program_page import Page
    from latchlore.program import Listing, Part
    from latchlore.study import AskedProgram

BYTES_COLUMNS = 15
TEXT_COLUMNS = 24
ROW_BYTES = 16
NARROW = 76
"""Below so many columns notes stand under their lines."""

FOLLOW = click.option(
    "--follow", is_flag=True, help="Also take for code where explored paths touch a device (needs device addresses)."
)


@click.command("listing", short_help=wording.PROGRAM_COMMANDS["listing"][1], epilog=wording.STATUSES)
@asking
@FOLLOW
@click.option("--only", multiple=True, metavar="RANGE", help="Print these addresses only, such as F800-F87F.")
def listing_command(as_json: bool, width: int | None, follow: bool, only: tuple[str, ...], **options: Any) -> int:
    """List every byte of the program: code in the mnemonics of the chip's maker, text, data, and what is not explained.

    Code is what jumps and calls lead to from the entries.  Each line says where it is called and jumped to from, and
    which registers it touches, by the names that the board or the study give.
    """
    from latchlore.cli._progress import ProgressLine
    from latchlore.program import find_drivers, make_listing

    asked = open_asked(options)
    with ProgressLine() as progress:
        code = asked.code(follow=follow, progress=progress)
        listing = make_listing(
            code, find_drivers(code, asked.registers, asked.stated_devices, asked.seen(progress) if follow else ())
        )
    if only:
        listing = listing.only(asked.ranges(only))
    if as_json:
        print_plain(listing_plain(listing, asked))
    else:
        print_page(listing_page(listing, asked, width))
    return 0


def listing_page(listing: Listing, asked: AskedProgram, width: int | None) -> Page:
    """The listing as text."""
    from latchlore.cli._program_page import FAINT, WARN, Page
    from latchlore.program import PartKind

    page = Page(width)
    page.head("Listing", asked)
    page.heading("Shares of the image")
    for kind, size in listing.shares.items():
        if size or kind in (PartKind.CODE, PartKind.REST):
            page.row(f"  {size:>7,}  {_percent(size, listing.size):>8}  ", kind.value)
    page.points(
        "Opcodes that the maker's table leaves blank", (f"{i.address:04X}: {i.text}" for i in listing.undocumented)
    )
    page.points("Not followed", (f"{one.address:04X}: {one.reason}" for one in listing.code.not_followed), WARN)
    page.points("Concluded from the files", notes_of(asked))
    page.points("Taken for granted", listing.code.assumptions, FAINT)
    for image, parts in listing.images:
        page.heading(f"{image.file}, {image.load:04X} to {image.last:04X}, {len(image.data):,} bytes")
        before: Part | None = None
        for part in parts:
            _part_rows(page, part, before)
            before = part
    return page


def _percent(size: int, whole: int) -> str:
    tenths = (size * 1000 + whole // 2) // whole if whole else 0
    return f"{tenths // 10}.{tenths % 10} %"


def _part_rows(page: Page, part: Part, before: Part | None) -> None:
    from latchlore.cli._program_page import BOLD, FAINT
    from latchlore.program import PartKind

    if part.entry or part.called_from or (before is not None and before.kind is not part.kind):
        page.gap()
    if part.entry:
        page.row(f"{part.address:04X}  ", f"entry “{part.entry}”", BOLD)
    for words, sites in (("called from", part.called_from), ("jumped to from", part.jumped_from)):
        if sites:
            page.row("      ", f"{words} {_places(sites)}", FAINT)
    note = "; ".join(part.notes)
    if part.instruction is not None:
        head = f"{part.address:04X}  {part.data.hex(' ').upper():{BYTES_COLUMNS}}"
        text = part.instruction.text
        if note and page.terminal.width < NARROW:
            page.row(head, text)
            page.row("        ", note)
        else:
            page.row(f"{head}{text:{TEXT_COLUMNS}}" if note else head, note or text)
        return
    size = f"{len(part.data):,} byte{'s' * (len(part.data) != 1)}"
    reads = f"; read by {_places(part.read_by)}" if part.read_by else ""
    more = f"; {note}" if note else ""
    label = f"{part.address:04X}  "
    match part.kind:
        case PartKind.TEXT:
            page.row(label, f"text, {size}{reads}: “{part.text}”{more}")
        case PartKind.FILL:
            page.row(label, f"{size} of {part.data[0]:02X}, up to {part.last:04X}{reads}{more}")
        case _:
            page.row(label, f"{part.kind.value}, {size}{reads}{more}")
            for at in range(0, len(part.data), ROW_BYTES):
                data = part.data[at : at + ROW_BYTES]
                letters = "".join(chr(byte) if 0x20 <= byte < 0x7F else "·" for byte in data)
                page.row(f"{part.address + at:04X}  {data.hex(' ').upper():{3 * ROW_BYTES}} ", letters)


def _places(addresses: tuple[int, ...]) -> str:
    shown = ", ".join(f"{address:04X}" for address in addresses[:8])
    return shown + (f" and {len(addresses) - 8} more" if len(addresses) > 8 else "")


def listing_plain(listing: Listing, asked: AskedProgram) -> dict[str, Any]:
    """The listing for programs."""
    return {
        **head_plain("listing", asked),
        "shares": {kind.name.lower(): size for kind, size in listing.shares.items()},
        "size": listing.size,
        "not_followed": [{"address": one.address, "reason": one.reason} for one in listing.code.not_followed],
        "undocumented": [one.address for one in listing.undocumented],
        "takes_inline": sorted(listing.code.takes_inline),
        "assumptions": list(listing.code.assumptions),
        "notes": list(notes_of(asked)),
        "parts": [{"file": image.file, **_part_plain(part)} for image, parts in listing.images for part in parts],
    }


def _part_plain(part: Part) -> dict[str, Any]:
    plain: dict[str, Any] = {
        "kind": part.kind.name.lower(),
        "address": part.address,
        "bytes": part.data.hex(" ").upper(),
        "text": part.text if part.instruction is None else part.instruction.text,
        "entry": part.entry,
        "called_from": list(part.called_from),
        "jumped_from": list(part.jumped_from),
        "read_by": list(part.read_by),
        "notes": list(part.notes),
    }
    if part.instruction is not None:
        plain |= {
            "documented": part.instruction.is_documented,
            "routines": list(part.instruction.routines),
            "calls": list(part.instruction.calls),
            "jumps": list(part.instruction.jumps),
        }
    return plain

"""The sentences about a study's images."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

CPU = "processor of the program"
NO_IMAGE = "there is no image to find it by"
NO_CPU_NO_PLACE = "the processor is not known, so no place was looked for"


def empty(file: str) -> str:
    """A file without a byte."""
    return f"image {file!r} is empty"


def wrong_size(file: str, size: int, stated: int) -> str:
    """Another size than stated."""
    kind = "truncated" if size < stated else "too long"
    return f"image {file!r} is {kind}: it has {size} bytes, and size says {stated}"


def past_the_end(file: str, size: int, last: int) -> str:
    """Larger than the space."""
    return f"image {file!r} of {size} bytes reaches {last:X}h; the last address is FFFF"


def overlap(file: str, other: str, first: int, last: int, listed: str) -> str:
    """Two images that are there at the same time."""
    return f"image {file!r} overlaps image {other!r} at {first:04X}-{last:04X}, listed at {listed}"


def no_load(file: str) -> str:
    """Raw bytes without a place."""
    return f"image {file!r} is raw bytes; key 'load' is missing: its address, or 'infer'"


def load_is_recorded(file: str, kind: str, first: int) -> str:
    """Nothing to find."""
    return f"image {file!r} is {kind} and states its addresses from {first:04X} on; leave 'load' out"


def load_differs(file: str, kind: str, first: int, load: int) -> str:
    """Two places stated."""
    return (
        f"image {file!r} is {kind} and begins at {first:04X}, and load says {load:04X}; leave 'load' out, or give it "
        f"for records that begin at 0000"
    )


def other_read(file: str, extent: tuple[int, int], first: str, first_extent: tuple[int, int]) -> str:
    """Reads of different chips; an extent is (bytes, address of the first one)."""
    held, wanted = (f"{size} bytes from {address:04X} on" for size, address in (extent, first_extent))
    return f"read {file!r} holds {held}, and read {first!r} {wanted}; reads of one chip cover the same addresses"


def reads_with_gaps(file: str) -> str:
    """Reads that are no whole chip."""
    return f"read {file!r} has gaps between its records; a read of a chip is one stretch"


def repair_with_gaps(file: str) -> str:
    """Lines of what is no whole chip."""
    return f"image {file!r} has gaps between its records; lines are put back in one stretch only"


def end_of(file: str) -> str:
    """Subject: a file that may have been cut off."""
    return f"end of {file}"


def reads_of(file: str) -> str:
    """Subject: how reads were merged."""
    return f"reads merged with {file}"


def open_bytes(file: str) -> str:
    """Subject: bytes that the reads leave open."""
    return f"open bytes of the reads merged with {file}"


def lines_of(file: str) -> str:
    """Subject: the lines between chip and dump."""
    return f"lines of {file}"


def place_of(file: str) -> str:
    """Subject: a load address."""
    return f"load address of {file}"


def merged_rule(rule: str, reads: int, dropped: int) -> str:
    """How reads were merged."""
    return f"{rule} of {reads - dropped} reads" + (f", {dropped} dropped" if dropped else "")


def dropped(file: str, why: str) -> str:
    """One read that was left out."""
    return f"{file} dropped: {why}"


def merged_why(why: str, lost: Sequence[str], weak: Sequence[str], count: int, unknown: int) -> str:
    """The reason, what was dropped, and the weak bits."""
    parts = [why, *lost]
    if weak:
        more = f" and {count - len(weak)} more" if count > len(weak) else ""
        parts.append(f"weak: {', '.join(weak)}{more}")
    if unknown:
        parts.append(f"{unknown} bytes stay open and are unknown to the program")
    return "; ".join(parts)


def repair_why(file: str, source: str) -> str:
    """Why lines were put back."""
    known = f"; known from {source}" if source else ""
    return f"stated{known}; the bytes of {file} stay as they are, the program is read with its lines put back"


def several_cpus(names: Sequence[str]) -> str:
    """Images of different processors."""
    return f"the images are code of different processors, {' and '.join(names)}"


def loads_at(load: int, skip: int) -> str:
    """A place that was found."""
    return f"{load:04X}" + (f", behind a header of {skip} bytes" if skip else "")


def place_open(reasons: Sequence[str]) -> str:
    """A place that was not."""
    return f"undecided, so the image is left out; state it; likeliest: {'; '.join(reasons)}"


def cannot_infer(file: str, words: str) -> str:
    """Nothing to find a place with."""
    return f"no load address can be found for image {file!r}: {words}"


def note_open(subject: str, why: str) -> str:
    """An open point, for the list of what is not done."""
    return f"{subject}: {why}"


def bank_unknown(entry: str, window: str, banks: Sequence[str]) -> str:
    """A window of which nobody says what it shows."""
    names = ", ".join(repr(bank) for bank in banks)
    return (
        f"from {entry!r}: nobody says which bank of {window!r} is there ({names}), so its bytes are unknown; "
        f"state it with banks"
    )


def entry_in_unknown_bank(entry: str, address: int, window: str, banks: Sequence[str]) -> str:
    """An entry whose own bytes are not known."""
    names = ", ".join(repr(bank) for bank in banks)
    return (
        f"{entry!r} was not followed: it lies at {address:04X} in {window!r}, and nobody says which bank is there "
        f"({names}); state it with banks"
    )


def entry_unplaced(entry: str, address: int) -> str:
    """An entry whose image has no place yet."""
    return f"{entry!r} was not followed: no image whose place is known holds {address:04X}"


def bank_assumed(window: str, bank: str) -> str:
    """What is taken for granted on the way."""
    return f"window {window!r} shows bank {bank!r} all along"


def window_unknown(window: str) -> str:
    """What is taken for granted on the way."""
    return f"window {window!r} shows some bank, the same all along, and nobody says which"


def no_window(window: str, known: Sequence[str]) -> str:
    """A window that no image names."""
    hint = f"windows: {', '.join(map(repr, known))}" if known else "no image names a window"
    return f"there is no window {window!r}; {hint}"


def no_bank(window: str, bank: str, known: Sequence[str]) -> str:
    """A bank that no image names."""
    return f"window {window!r} has no bank {bank!r}; it has {', '.join(map(repr, known))}"


def bank_again(window: str) -> str:
    """Two banks in one window."""
    return f"the bank of window {window!r} is stated twice"


def entry_nowhere(entry: str, address: int, where: str) -> str:
    """An entry outside of all images."""
    return f"entry {entry!r} at {address:04X} lies in no image; images: {where}"


NO_CPU = "the program was not followed: its processor is not known; state it as cpu"
METHOD_STATED = "as study.toml states"
METHOD_FOUND = "found in the bytes of the images"


def interrupt_outside(address: int) -> str:
    """An interrupt routine that no image holds."""
    return f"an interrupt routine at {address:04X} lies in no image"

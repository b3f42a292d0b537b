"""The sentences of a sweep."""

from __future__ import annotations

MAY, NEVER, SAME, DIFFERS, CANNOT_TELL = "may", "never", "same", "differs", "cannot be told"
SAME_OTHER_TIMES = "same, other times"

NOTHING_ASKED = "asks nothing; ask with --writes, --touches or --same-as"
NO_DEVICES = "no address is known to belong to a device; state them with --devices, or name a register to ask about"
EMPTY = "the file is empty"
FAULT = "this is a fault of Latchlore's own, not of the image"
OTHER_CODE = "a worker there runs other code of Latchlore; install the same version on every worker"
NO_CLUSTER = "sweeping on a cluster needs Latchlore's extra 'cluster': pip install 'latchlore[cluster]'"


def writes(text: str) -> str:
    """Heading."""
    return f"writes {text}"


def touches(text: str) -> str:
    """Heading."""
    return f"touches {text}"


def same_as(file: str) -> str:
    """Heading."""
    return f"same as {file}"


def difference(first: str, second: str) -> str:
    """What the reference does, and what the image does instead."""
    return f"{second}, and the other {first}"


def other_time(what: str, first: str, second: str) -> str:
    """The same event in other cycles."""
    return f"{what}: {second}, and the other {first}"


def no_reference(why: str) -> str:
    """An image to compare with that cannot be asked."""
    return f"cannot be compared with: {why}"


def touched(count: int) -> str:
    """Why it may."""
    return f"{count} {'instruction touches' if count == 1 else 'instructions touch'} it"


def exhausted(nodes: int, entry: int) -> str:
    """The bounds of a "never"."""
    return f"every path from {entry:04X} was followed to its end ({nodes} nodes)"


def not_followed(end: str) -> str:
    """Why it cannot be told."""
    return f"not followed: {end}"


def entry_outside(entry: int, where: str) -> str:
    """An entry that the image does not hold."""
    return f"entry {entry:04X} lies in no image; images: {where}"


def worker_died(times: int, code: int | None) -> str:
    """A row that could not be had."""
    how = "" if code is None else f" (signal {-code})" if code < 0 else f" (status {code})"
    return f"the process that asked this image died {times} times{how}"


def killed_there(reason: str) -> str:
    """A row that the cluster gave up."""
    return f"the cluster's workers died while asking this image: {reason}"


NO_WORKERS = "the cluster has been without workers for {seconds} seconds; rows that were there are kept in the journal"


def no_scheduler(reason: str) -> str:
    """Nobody answers at the address."""
    return f"no Dask scheduler answers there ({reason})"


def no_files(pattern: str) -> str:
    """An empty sweep."""
    return f"holds no file that fits {pattern!r}"


def too_large(size: int, limit: int) -> str:
    """A file that is no image."""
    return f"the file has {size} bytes; at most {limit} are read"


def cannot_read(reason: str) -> str:
    """A file the system refuses."""
    return f"cannot be read ({reason})"


LEADS_OUT = "leads out of the folder"


def asking(file: str) -> str:
    """Work in hand."""
    return f"asking {file}"


def stopped(done: int, total: int) -> str:
    """Interrupted."""
    return f"{done} of {total} rows are kept; the same command goes on from there"


def summary(total: int, counts: dict[str, int], kept: int) -> str:
    """The last line."""
    parts = [f"{number} {state}" for state, number in counts.items() if number]
    more = f"; {kept} rows were kept from before" if kept else ""
    return f"{total} images: {', '.join(parts)}{more}"

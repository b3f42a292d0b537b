"""The sentences of the commands."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

SUMMARY = "Turns the lore about an undocumented vintage peripheral interface into evidence."

COMMANDS = {
    "new": "Make a study folder with comments that explain each file.",
    "weigh": "Put the witnesses of a study side by side and print the table.",
    "record": "Keep findings, their grades, and the history of every change.",
    "ask": "List the open questions, the best next trial and what it will show; enter an outcome.",
    "standin": "Say what a stand-in for the lost peripheral must do, and make test vectors for it.",
    "board": "Ask a board alone: trace it with a meter, and ask what its nets say.",
    "program": "Ask a program alone: listing, drivers, tree, handshake, bytes, and more.",
    "wire": "Ask captures and logs alone: lines, bytes, times, faults, merges, listeners.",
    "device": "Ask manuals' tables alone: what a stream means, whom it was for, what it printed.",
    "dossier": "Write a study's table and pictures as one page to publish.",
    "desk": "Open a study as a local page that follows the files.",
    "demo": "Copy the demonstration study, weigh it and open its desk.",
    "completion": "Print the completion script for a shell.",
}
"""Command → what its line in the list says.  Kept here so that the list needs no command's module."""

BOARD_COMMANDS: dict[str, tuple[str, str]] = {
    "trace": ("_board_trace", "Trace a board with a meter: what to touch next; every answer is kept."),
    "mate": ("_board_mate", "Put connectors together in every way: what is safe, what is not, and why."),
    "compare": ("_board_compare", "Tell what differs between two versions of a board, as changed claims."),
    "map": ("_board_map", "Print the register map: addresses, mirrors, bits and what they follow."),
    "cases": ("_board_parts", "Print where each register answers in every case that is still possible."),
    "verilog": ("_board_parts", "Print the board as structural Verilog."),
    "word": ("_board_parts", "Say what words of a port chip's register mean, or which words say what is wanted."),
    "picture": ("_board_picture", "Draw the board, its register map, its addresses and the ways of its bits."),
}
"""Command of `latchlore board`, as in `PROGRAM_COMMANDS`."""

ONE_CASE = "Nothing is open: there is one case."
IN_EVERY_CASE = "in every case"
IN_SOME_CASE = "in some case"
NOWHERE = "nowhere"
NO_MEANING = "carries data; its bits have no meaning of their own"
NO_WORD = "no word says all this"


def case_head(parts: tuple[str, ...], space: str, direction: str) -> str:
    """The line above a register's cases."""
    return f"{', '.join(parts) or 'no part'}, {space} {direction}"


def register_line(name: str, code: str, selects: tuple[str, ...], access: str) -> str:
    """A register of a chip: how it is selected, and which way it goes."""
    where = " ".join(f"{pin}={level}" for pin, level in zip(selects, code, strict=True) if level != "x")
    ways = {"r": "read", "w": "write", "rw": "read and write"}[access]
    return f"  {name}: {where or 'selected with the chip'}, {ways}"


def form_line(name: str, care: int, value: int) -> str:
    """One way to read a word, and the bits that mark it."""
    marks = [f"bit {k} is {value >> k & 1}" for k in reversed(range(8)) if care >> k & 1]
    return f"{name} ({', '.join(marks)})" if marks else name


def field_line(name: str, high: int, low: int, meanings: tuple[str, ...]) -> str:
    """A field of a word, and what it can say by value."""
    bits = f"bit {low}" if high == low else f"bits {high} to {low}"
    said = "; ".join(f"{k} {meaning or 'not defined'}" for k, meaning in enumerate(meanings))
    return f"  {bits} {name}{f': {said}' if said else ''}"


def no_word(text: str) -> str:
    """What is no word of a register."""
    return f"a word is one byte in hexadecimal, such as 9B, or a wish such as 'port A=input', not {text!r}"


PROGRAM_COMMANDS: dict[str, tuple[str, str]] = {
    "image": ("_program_images", "Tell what a dump is: form, faults, texts, whose code, where it lies."),
    "repair": ("_program_images", "Merge reads, name faults, and propose how crossed or inverted lines lie."),
    "sweep": ("_program_sweep", "Ask a folder of images the same question, one row each."),
    "listing": ("_program_listing", "List every byte: code, text, data, and what is not explained."),
    "drivers": ("_program_drivers", "Find the routines that touch each register, through all mirrors."),
    "tree": ("_program_tree", "Follow every path and print which bits lead to which bytes."),
    "handshake": ("_program_handshake", "Print what is done for one byte, in cycles and in time."),
    "bytes": ("_program_bytes", "Say which bytes a register can ever get, from what, and whether a code can be sent."),
    "status": ("_program_status", "Say which status bytes satisfy all drivers, and who tests which bit."),
    "compare": ("_program_compare", "Compare two versions by what they do, not by their bytes."),
}
"""Command of `latchlore program` → the module of this package that holds it as ``NAME_command``, and its line.

One line registers a command; the module is imported only when the command is run.
"""

RECORD_COMMANDS: dict[str, tuple[str, str]] = {
    "list": ("_record_findings", "Print the findings with grades, grounds and errata."),
    "add": ("_record_findings", "Add a finding: a sentence, and what it rests on."),
    "check": ("_record_findings", "Tell which findings changed since they were accepted; nothing is written."),
    "accept": ("_record_findings", "Write what changed into the history: old, new, why, date, evidence."),
    "withdraw": ("_record_findings", "Withdraw a finding; what rests on it is unfounded."),
    "strike": ("_record_strike", "Withdraw one statement of the evidence; what stood on it weakens."),
    "restore": ("_record_strike", "Let a withdrawn statement count again."),
}
"""Command of `latchlore record`, as in `PROGRAM_COMMANDS`."""

WIRE_COMMANDS: dict[str, tuple[str, str]] = {
    "lines": ("_wire_capture", "Tell what each line of a capture does, and propose what it is."),
    "read": ("_wire_capture", "Read the bytes of a parallel handshake, and say which cannot be told."),
    "timing": ("_wire_capture", "Measure set-up, widths, hold and answers, and test them against stated figures."),
    "serial": ("_wire_capture", "Read an asynchronous serial line; bit time and framing are estimated."),
    "bus": ("_wire_bus", "Read a processor's bus cycles: which address got or gave which byte, when."),
    "listen": ("_wire_listen", "Take bytes from a port into a new run of a study, kept from the first byte."),
    "merge": ("_wire_bytes", "Merge lossy runs of one transmission into what was most probably sent."),
    "compare": ("_wire_compare", "Compare what arrived with what was sent, or two recordings with each other."),
    "faults": ("_wire_bytes", "Find stuck, bridged, swapped and inverted data lines from bytes."),
    "listener": ("_wire_listener", "Tell which bytes a listener must miss, and what its misses tell of it."),
}
"""Command of `latchlore wire`, as in `PROGRAM_COMMANDS`."""

DEVICE_COMMANDS: dict[str, tuple[str, str]] = {
    "read": ("_device_read", "Read a stream with a device's table; say what is doubtful and what was lost."),
    "paper": ("_device_paper", "Draw the paper that a stream leaves, at true proportions."),
    "marks": ("_device_paper", "Lead from a byte to its marks on the paper, or from a mark to its byte."),
    "layout": ("_device_read", "Rank how graphics without a description may become dots."),
    "compare": ("_device_compare", "Tell what several devices have in common and where they differ."),
    "explain": ("_device_compare", "Say which devices explain a stream, and what rules the others out."),
    "feed": ("_device_compare", "Say whether a host sends fast enough for a mechanism that does not wait."),
    "sources": ("_device_sources", "List the documents, search their scans, print the page beside a row."),
    "sets": ("_device_sets", "Say which character set explains a printed sample, and which byte decides."),
    "check": ("_device_check", "Find where documents contradict themselves; propose the smallest edits."),
    "import": ("_device_import", "Make a device table of a transcription in CSV."),
}
"""Command of `latchlore device`, as in `PROGRAM_COMMANDS`."""

TRAIT_HEADINGS = {
    "common": "All say the same",
    "open": "As printed they differ, but a doubtful digit may read the same",
    "differs": "They differ",
    "some": "Some say the same, the others nothing",
    "one": "Only one speaks of it",
}
NO_HITS = "nowhere in the text that the scans hold"
NO_LOSSES = "none found; what leaves no trace in the stream is not found here"


def hidden_losses(count: int) -> str:
    """The heading over places where a loss would not show."""
    return f"Where a lost byte would leave no trace, and why ({count} places)"


def traits_in_common(count: int) -> str:
    """How much is not listed."""
    return f"{count} {'things are' if count != 1 else 'thing is'} the same in all of them; --common lists them."


def estimated_from(place: int) -> str:
    """Where doubts meet."""
    return f"From {place:04X} on doubts meet, and the figures are estimates."


def further_spans(count: int) -> str:
    """What a list leaves out."""
    return f"and {count} more (--limit)"


def paper_drawn(path: str, across: float, along: float) -> str:
    """The picture and the strip's size."""
    return f"Wrote {path}: a strip of {across:.1f} by {along:.1f} mm"


def table_imported(path: str, count: int) -> str:
    """What was written."""
    return f"Wrote {path}: {count} command{'s' if count != 1 else ''}"


def not_drawn(meaning: str, count: int) -> str:
    """What a picture leaves out."""
    return f"  not drawn: {meaning} ({count} {'times' if count != 1 else 'time'})"


def fed_twice(count: int, reasons: Sequence[str]) -> str:
    """Double spacing and where it comes from."""
    who = " and ".join(reasons) or "a command of the host"
    return f"  fed twice: {count} line feeds follow a carriage return that feeds a line by itself ({who})"


def read_off(program: str) -> str:
    """What text read off a picture is worth."""
    return f"read off the picture by {program}: check every digit against the picture"


def page_picture(width: int, height: int, whence: str) -> str:
    """A picture of the page that may be written out."""
    return f"its picture: {width} by {height} pixels, {whence} (--picture FILE writes it)"


NO_SETS = "none of those known"


def set_excluded(name: str, code: str, seen: str, printed: str | None) -> str:
    """Why a set does not explain a print."""
    return f"{name}: {code} would print {printed or 'nothing'}, not {seen}"


NO_SLIPS = "nothing that is said twice differs; what is said once cannot be checked"
NO_MARK = "no dot covers this place"


def marks_of(byte: str, box: Mapping[str, float] | None, stands: Mapping[str, float], span: str) -> str:
    """One byte, where its marks are, and what it belongs to."""
    if box is None:
        where = f"leaves no mark; the head stands at {stands['across']:.2f} mm across, {stands['along']:.2f} mm along"
    else:
        where = f"{box['left']:.2f} to {box['right']:.2f} mm across, {box['top']:.2f} to {box['bottom']:.2f} mm along"
    return f"{byte}: {where}; in {span}"


STATUSES = """\
Exit status: 0 all well; 2 a file or the command has to be mended; 3 something named is not there; \
4 witnesses contradict one another; 5 something not modelled yet is needed; 6 the system refused to read or write; \
1 a fault of Latchlore's own; 130 stopped by the user; 141 the reader of the output went away."""

INVENTED = "Invented for demonstration: people, makers, machines and data."
NOBODY_YET = (
    "Nothing to weigh yet: a byte log in wire/, a net file in board/, a device table in documents/ or an image named "
    "in study.toml makes a beginning."
)
INTERRUPTED = "stopped; nothing was left half done"
FAULT = "this is a fault of Latchlore's own, not of your study"
FAULT_REPORT = "Please report the command and this line; LATCHLORE_DEBUG=1 in the environment shows where it happened."
FAULT_REPORT_DEBUG = "Please report the command and the lines above."

NOT_EMPTY = "exists and is not an empty folder; name another folder"
DEMO_DIFFERS = (
    "exists and is not an untouched copy of the demonstration; open it with `latchlore desk`, or name another folder"
)
DEMO_COPIED = "The demonstration study is now in {folder} (its people, makers, machines and data are invented)."
DEMO_FOUND = "The demonstration study in {folder} is an untouched copy (its people, makers and data are invented)."
DEMO_NEXT = "Open its desk with:  latchlore desk {typed}"

NEW_MADE = (
    "{folder} is ready; study.toml explains itself.\nEnter what you have on its desk:  latchlore desk {typed}\n"
    "Weigh it with:                    latchlore weigh {typed}"
)
BOARD_DRAWN = "Wrote {page}"
DOSSIER_MADE = "Wrote {files} to {folder}"


def ends_also(others: int) -> str:
    """Behind a repair: other contradictions that it ends as well."""
    return f" (ends {others} other contradiction{'s' * (others != 1)} too)"

"""The sentences of the program witness."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import Clock, CycleRange

PROGRESS = "following paths"
HALT = "HALT waits for an interrupt"
HALT_NOT_FOLLOWED = "the instruction waits for an interrupt and changes registers on the way"
RUN_BOUND = "the stated number of instructions has been done"
ENDLESS = "comes back to the same state without touching a device"
ENDLESS_STACK = "its stack runs over, and it comes back to the same state without touching a device"
STACK_GROWS = "its stack grows without end: deeper each time that it comes here"


def too_many_nodes(limit: int) -> str:
    """A bound was reached."""
    return f"the graph has more than {limit} nodes"


def too_many_events(limit: int) -> str:
    """A bound was reached."""
    return f"more than {limit} touches on one path without a choice"


def too_many_instructions(limit: int) -> str:
    """A bound was reached."""
    return f"more than {limit} instructions without a touch of a device"


def too_many_steps(limit: int) -> str:
    """A bound was reached."""
    return f"more than {limit} instructions over unknown bytes without a choice"


def returned(name: str) -> str:
    """The routine's own end."""
    return f"{name} to the caller"


def stops(code: str) -> str:
    """An opcode that stops the processor."""
    return f"opcode {code} stops the processor"


def undocumented(code: str) -> str:
    """An opcode that the maker's table leaves blank."""
    return f"opcode {code} is undocumented"


def unknown_jump(count: int) -> str:
    """A jump that cannot be followed."""
    return f"the target of the jump depends on unknown bits and has {count} possible values"


def no_answer(address: int) -> str:
    """A concrete run met a device."""
    return f"reads the device register {address:04X}, and nothing answers"


def below_stack(count: int) -> str:
    """What is taken for granted below a stack pointer of 16 bits."""
    return f"the {count} bytes below the stack pointer are lost: those unknown at the entry count as unknown again"


def empty_cell(address: int) -> str:
    """A concrete run left its program."""
    return f"runs into {address:04X}, which no image holds and nothing has written"


def stack_over(address: int) -> str:
    """A concrete run pushed too much."""
    return f"the stack runs over at the instruction at {address:04X}"


def unknown_cell(address: int) -> str:
    """A concrete run needs a byte of the caller's."""
    return f"the content of {address:04X} is not known"


NO_DATA_REGISTER = "no register is known to carry the data"
MAY = "a walk through the graph writes it; whether its conditions can hold together is not checked"

NO_WALK = "no walk through the tree writes it"
NO_CONSISTENT_WALK = "no walk whose conditions can hold together writes it"
WITNESS = "a walk whose conditions can hold together writes it"
REACHES = "reaches it"
DECIDES = "decides what is written, and is not copied"

NOBODY_TESTS = "nobody tests it"
NO_LEVEL = "no byte satisfies all"
EITHER_LEVEL = "either level satisfies all"


def probably_undriven(level: int) -> str:
    """A bit that only comparisons of the whole byte look at."""
    return f"reads {level}, probably undriven: only comparisons of the whole byte look at it"


def must_read(level: int) -> str:
    """A bit that a driver tests for itself."""
    return f"must read {level}"


def witness_cut(states: int) -> str:
    """A search that was given up."""
    return (
        f"a walk writes it, but whether the conditions of one can hold together was not settled within {states} states"
    )


def exhausted(num_nodes: int, entry: int) -> str:
    """What a "never" rests on."""
    return f"every path from {entry:04X} was followed to an end of the program's own ({num_nodes} nodes)"


def too_many_turns(place: int, limit: int) -> str:
    """A bound was reached."""
    return f"the read at {place:04X} is repeated more than {limit} times, and the turns are not shown to be alike"


def changes_ram(interrupts: Sequence[int]) -> str:
    """Who changes RAM."""
    if not interrupts:
        return "nothing but this program changes RAM: no interrupt, no second processor"
    places = ", ".join(f"{at:04X}" for at in interrupts)
    return (
        f"nothing but this program and its interrupt routines at {places} changes RAM; they may run at any time, and "
        "cycles leave them out"
    )


def interrupt_apart(at: int, changed: tuple[str, ...]) -> str:
    """Why an interrupt routine's sending is not followed together with the program's."""
    if changed:
        return f"the interrupt routine at {at:04X} does not give {', '.join(changed)} back to the program"
    return f"the interrupt routine at {at:04X} touches devices itself: its order with the program is not followed"


def not_followed(words: str) -> str:
    """Why a "never" cannot be said."""
    return f"not followed: {words}"


METHOD_TOUCH = "every address that an explored path reads or writes"
METHOD_BIT = "the conditions of every explored path"
METHOD_VALUES = "every byte that an explored path can write"
METHOD_SEQUENCE = "every path from the entry, with device bits unknown until the code looks at them"
METHOD_TIMES = "cycles between bus accesses, least and most over all explored paths, and the stated clock"
PROGRAM_ORDER = "handshake order of the program"
METHOD_PULSE = (
    "the writes of the strobe's bit over all explored paths: the level that is left again, and sooner than the other"
    " where both are, or within a bound where the other may last, if data lead to it; nothing stated of the strobe was"
    " used"
)
METHOD_ORDER = (
    "the order of the writes of the data and of the strobe's bit, and of the reads of BUSY or ACK that decide"
    " something, over all explored paths"
)
METHOD_EMISSION = "a search of every explored path for the pattern"
NOT_EXHAUSTED = "some paths were not followed to their ends"
STROBE_WIDTH = "strobe width"
SET_UP = "data set-up"
HOLD = "data hold"
BYTE_PERIOD = "byte period"


def never_looked_at(num_entries: int) -> str:
    """What "never looked at" rests on."""
    return f"every path from {num_entries} {'entry' if num_entries == 1 else 'entries'} was followed to its end"


def num_bytes(lengths: list[CycleRange]) -> str:
    """How long the sequence is, by cases."""
    texts = []
    for length in lengths:
        if length.most is None:
            texts.append(f"{length.least} or more")
        else:
            texts.append(str(length.least) if length.least == length.most else f"{length.least} to {length.most}")
    texts = list(dict.fromkeys(texts))
    if texts == ["0"]:
        return "no byte"
    return f"sequence of {' or '.join(texts)} byte{'' if texts == ['1'] else 's'}"


def values_subject(space: str, address: str) -> str:
    """The subject's name."""
    return f"bytes that can be written to {'port ' if space == 'port' else ''}{address}"


def value_set(values: set[int], *, exhausted: bool) -> str:
    """A set of bytes, in ranges."""
    runs: list[list[int]] = []
    for value in sorted(values):
        if runs and value == runs[-1][1] + 1:
            runs[-1][1] = value
        else:
            runs.append([value, value])
    text = ", ".join(f"{low:02X}" if low == high else f"{low:02X} to {high:02X}" for low, high in runs)
    return f"{len(values)} of 256: {text}" + ("" if exhausted else " (more may follow on paths not followed)")


def cycles_note(cycles: CycleRange, clock: Clock) -> str:
    """How the time was made."""
    return f"{cycles} at {clock}"


def or_in(files: list[str]) -> str:
    """Other banks that hold the same address; empty where there are none."""
    return f"or in {', '.join(dict.fromkeys(files))}" if files else ""


WHOLE_IMAGE = "the whole image"


def instruction(place: int) -> str:
    """An instruction by its address."""
    return f"the instruction at {place:04X}"


def order_too_large(entry: int, most: int) -> str:
    """A tree whose order was not looked for."""
    return f"not looked for: from {entry:04X} there are more than {most:,} ways to come to a place with another order"

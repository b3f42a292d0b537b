"""The program witness: images, processor tables, execution and exploration."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from latchlore.program._bounds import Bounds
from latchlore.program._disassemble import Line, disassemble
from latchlore.program._image import Image

if TYPE_CHECKING:
    from latchlore.program._codemap import (
        CodeMap,
        Instruction,
        NotFollowed,
        cpu_names,
        has_ports,
        map_code,
        unknown_registers,
        vector_entries,
    )
    from latchlore.program._compare import Comparison, Difference, TimeDifference, compare_trees
    from latchlore.program._drivers import (
        Driver,
        Drivers,
        NamedRegister,
        Seen,
        Touch,
        belongs_to_registers,
        find_drivers,
        touch_origin,
    )
    from latchlore.program._explore import explore
    from latchlore.program._facewords import (
        access_verb,
        open_ends,
        polling_words,
        range_words,
        register_words,
        time_words,
        touch_words,
    )
    from latchlore.program._formats import RomFile, parse_rom
    from latchlore.program._listing import Listing, Part, PartKind, make_listing
    from latchlore.program._load import CpuReport, LoadReport, infer_cpu, infer_load
    from latchlore.program._loadcode import find_vector
    from latchlore.program._loaddescribe import ImageReport, describe_image
    from latchlore.program._loadspace import Space
    from latchlore.program._looks import Looks, looks_after
    from latchlore.program._machine import Access, Run, run
    from latchlore.program._outline import Row, RowKind, outline
    from latchlore.program._repair import RepairReport, propose_repairs
    from latchlore.program._repairfaults import compare_known, find_faults
    from latchlore.program._repairreads import MergedReads, Rule, merge_reads
    from latchlore.program._repairwiring import Wiring
    from latchlore.program._sending import Example, Reach, Reaching, Sending, Witness, may_send, what_reaches
    from latchlore.program._statustests import StatusBit, StatusTest, StatusTests, status_tests
    from latchlore.program._tidy import tidy
    from latchlore.program._timeline import Figure, Handshake, Moment, Polling, Pulse, pick_handshake, read_handshake
    from latchlore.program._treewords import Names, condition_words, cycles_words, event_words
    from latchlore.program.wording import value_set

__all__ = [
    "Access",
    "Bounds",
    "CodeMap",
    "Comparison",
    "CpuReport",
    "Difference",
    "Driver",
    "Drivers",
    "Example",
    "Figure",
    "Handshake",
    "Image",
    "ImageReport",
    "Instruction",
    "Line",
    "Listing",
    "LoadReport",
    "Looks",
    "MergedReads",
    "Moment",
    "NamedRegister",
    "Names",
    "NotFollowed",
    "Part",
    "PartKind",
    "Polling",
    "Pulse",
    "Reach",
    "Reaching",
    "RepairReport",
    "RomFile",
    "Row",
    "RowKind",
    "Rule",
    "Run",
    "Seen",
    "Sending",
    "Space",
    "StatusBit",
    "StatusTest",
    "StatusTests",
    "TimeDifference",
    "Touch",
    "Wiring",
    "Witness",
    "access_verb",
    "belongs_to_registers",
    "compare_known",
    "compare_trees",
    "condition_words",
    "cpu_names",
    "cycles_words",
    "describe_image",
    "disassemble",
    "event_words",
    "explore",
    "find_drivers",
    "find_faults",
    "find_vector",
    "has_ports",
    "infer_cpu",
    "infer_load",
    "looks_after",
    "make_listing",
    "map_code",
    "may_send",
    "merge_reads",
    "open_ends",
    "outline",
    "parse_rom",
    "pick_handshake",
    "polling_words",
    "propose_repairs",
    "range_words",
    "read_handshake",
    "register_words",
    "run",
    "status_tests",
    "tidy",
    "time_words",
    "touch_origin",
    "touch_words",
    "unknown_registers",
    "value_set",
    "vector_entries",
    "what_reaches",
]

_LATER = {
    "Access": "_machine",
    "CodeMap": "_codemap",
    "Comparison": "_compare",
    "CpuReport": "_load",
    "Difference": "_compare",
    "Driver": "_drivers",
    "Drivers": "_drivers",
    "Example": "_sending",
    "Figure": "_timeline",
    "Handshake": "_timeline",
    "ImageReport": "_loaddescribe",
    "Instruction": "_codemap",
    "Listing": "_listing",
    "LoadReport": "_load",
    "Looks": "_looks",
    "MergedReads": "_repairreads",
    "Moment": "_timeline",
    "NamedRegister": "_drivers",
    "Names": "_treewords",
    "NotFollowed": "_codemap",
    "Part": "_listing",
    "PartKind": "_listing",
    "Polling": "_timeline",
    "Pulse": "_timeline",
    "Reach": "_sending",
    "Reaching": "_sending",
    "RepairReport": "_repair",
    "RomFile": "_formats",
    "Row": "_outline",
    "RowKind": "_outline",
    "Rule": "_repairreads",
    "Run": "_machine",
    "Seen": "_drivers",
    "Sending": "_sending",
    "Space": "_loadspace",
    "StatusBit": "_statustests",
    "StatusTest": "_statustests",
    "StatusTests": "_statustests",
    "TimeDifference": "_compare",
    "Touch": "_drivers",
    "Wiring": "_repairwiring",
    "Witness": "_sending",
    "access_verb": "_facewords",
    "belongs_to_registers": "_drivers",
    "compare_known": "_repairfaults",
    "compare_trees": "_compare",
    "condition_words": "_treewords",
    "cpu_names": "_codemap",
    "cycles_words": "_treewords",
    "describe_image": "_loaddescribe",
    "event_words": "_treewords",
    "explore": "_explore",
    "find_drivers": "_drivers",
    "find_faults": "_repairfaults",
    "find_vector": "_loadcode",
    "has_ports": "_codemap",
    "infer_cpu": "_load",
    "infer_load": "_load",
    "looks_after": "_looks",
    "make_listing": "_listing",
    "map_code": "_codemap",
    "may_send": "_sending",
    "merge_reads": "_repairreads",
    "open_ends": "_facewords",
    "outline": "_outline",
    "parse_rom": "_formats",
    "pick_handshake": "_timeline",
    "polling_words": "_facewords",
    "propose_repairs": "_repair",
    "range_words": "_facewords",
    "read_handshake": "_timeline",
    "register_words": "_facewords",
    "run": "_machine",
    "status_tests": "_statustests",
    "tidy": "_tidy",
    "time_words": "_facewords",
    "touch_origin": "_drivers",
    "touch_words": "_facewords",
    "unknown_registers": "_codemap",
    "value_set": "wording",
    "vector_entries": "_codemap",
    "what_reaches": "_sending",
}


def __getattr__(name: str) -> Any:
    """Import what needs the compiler, or numpy, only when it is asked for."""
    if name in _LATER:
        import importlib

        return getattr(importlib.import_module(f"latchlore.program.{_LATER[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")

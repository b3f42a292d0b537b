"""The keys of study.toml and the rule of each; imported only when there is one to check."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, field_validator, model_validator

from latchlore.base import AddressSet, InputKind, Span
from latchlore.study import _notation
from latchlore.study._notation import BitPlace


def _text(read: Callable[[str], Any], rule: str) -> BeforeValidator:
    """A value that is text in quotes, read by a function of `_notation`."""

    def check(value: object) -> Any:
        if not isinstance(value, str):
            raise ValueError(rule)
        return read(value)

    return BeforeValidator(check)


def _one_line(value: str) -> str:
    if not value.strip() or len(value.splitlines()) != 1:
        raise ValueError(f"a name is one line of text, not {value!r}")
    return " ".join(value.split())


_ADDRESS_RULE = "an address is text in quotes, such as 'C800'"
_NAME_RULE = "a name is text in quotes"

_DAY_RULE = "a date is text in quotes, such as '1988', '1988-05' or '1988-05-17'"


def _day(value: str) -> str:
    from datetime import date

    try:
        whole = value if len(value) == 10 else f"{value}-01-01"[:10]
        if len(value) not in (4, 7, 10) or date.fromisoformat(whole).isoformat() != whole:
            raise ValueError
    except ValueError:
        raise ValueError(f"a date is a year, a year and month, or a day, such as '1988-05', not {value!r}") from None
    return value


Name = Annotated[str, _text(_one_line, _NAME_RULE)]
Address = Annotated[int, _text(_notation.parse_address, _ADDRESS_RULE)]
Range = Annotated[Any, _text(_notation.parse_range, "a range is text in quotes, such as '0000-07FF'")]
DeviceAddresses = Annotated[Any, _text(_notation.parse_address_set, _ADDRESS_RULE)]
HeldBits = Annotated[Any, _text(_notation.parse_held, "held bits are text in quotes, such as 'C801 bits 0-1'")]
GivenText = Annotated[Any, _text(_notation.parse_given, "what is given is text in quotes, such as 'A = 41'")]
RepairText = Annotated[str, _text(str, "a line's repair is text in quotes, such as 'A6 inverted'")]
BankText = Annotated[Any, _text(_notation.parse_bank, "a bank is text in quotes, such as 'upper ROM = 2'")]
LoadAddress = Annotated[
    Any, _text(_notation.parse_load, "a load address is text in quotes, such as 'C800', or 'infer'")
]
Code = Annotated[Any, _text(_notation.parse_code, "a code is text in quotes, such as '1B 4B'")]
PlaceText = Annotated[str, _text(lambda text: str(_notation.parse_place(text, "read")) and text, _ADDRESS_RULE)]
Time = Annotated[Any, _text(Span.parse, "a time is text in quotes, such as '47 us'")]
Role = Literal["data", "strobe", "busy", "acknowledge", "select", "paper-out", "fault", "initialise", "other"]
WRITTEN_ROLES = frozenset({"data", "strobe", "initialise"})  # seen by the program as writes, unless `at` says otherwise

RangePair = tuple[int, int]
DeviceSet = tuple[InputKind, AddressSet]
GivenParts = tuple[str, int | None, bytes]
CodeSets = tuple[frozenset[int], ...]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


def _size(value: object) -> int | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | str):
        raise ValueError("a size is a number of bytes, such as 2048 or '2 KB'")
    return _notation.parse_size(value)


def _clock(text: str) -> str:
    from latchlore.base import Clock

    Clock.parse(text)
    return text


class ProgramTable(_Table):
    """``[program]``."""

    cpu: Name
    clock: Annotated[str, _text(_clock, "a clock rate is text in quotes, such as '1.0 MHz'")] | None = None
    tolerance_ppm: Annotated[int, Field(ge=0, lt=10**6)] = 0
    ram: list[Range] = []
    held: list[HeldBits] = []
    interrupts: list[Address] = []

    @model_validator(mode="after")
    def _tolerance_has_a_clock(self) -> ProgramTable:
        if self.tolerance_ppm and self.clock is None:
            raise ValueError("a tolerance_ppm belongs to a clock; key 'clock' is missing")
        return self


class ImageTable(_Table):
    """``[[image]]``: one file, or several reads of one chip.

    `load` None: the records of the file state it; ``infer``: it is found.  `window` and `bank`: the images of one
    window are there one bank at a time.  `repair`: what is known of the lines between chip and dump.
    """

    file: str | None = None
    reads: list[str] = []
    merge: Literal["automatic", "majority", "AND"] | None = None
    format: Literal["raw", "Intel HEX", "S-records"] | None = None
    load: LoadAddress | None = None
    size: Annotated[int | None, BeforeValidator(_size)] = None
    window: Name | None = None
    bank: Name | None = None
    writable: bool = False
    repair: list[RepairText] = []
    repair_from: Name | None = None

    @model_validator(mode="after")
    def _belong_together(self) -> ImageTable:
        if self.file is None and not self.reads:
            raise ValueError("key 'file' (or 'reads') is missing")
        if self.file is not None and self.reads:
            raise ValueError("an image is one file or several reads of one chip; 'file' and 'reads' are both there")
        if self.reads and len(self.reads) == 1:
            raise ValueError("reads of one chip are two or more; one read is a 'file'")
        for key, other in (("merge", "reads"), ("repair_from", "repair"), ("bank", "window"), ("window", "bank")):
            if getattr(self, key) is not None and not getattr(self, other):
                raise ValueError(f"{key} belongs to {other}; key {other!r} is missing")
        return self


class EntryTable(_Table):
    """``[[entry]]``."""

    name: Name
    address: Address
    sequence: Name | None = None
    held: list[HeldBits] = []
    given: list[GivenText] = []
    banks: list[BankText] = []


class DevicesTable(_Table):
    """``[devices]``."""

    addresses: list[DeviceAddresses]

    @field_validator("addresses")
    @classmethod
    def _some(cls, value: list[DeviceSet]) -> list[DeviceSet]:
        if not value:
            raise ValueError("the devices have at least one address")
        return value


class RoleTable(_Table):
    """``[[role]]``; `at` keeps its text, because its default direction depends on the role."""

    role: Role
    signal: Name
    at: PlaceText | None = None
    inverted: bool = False

    @property
    def place(self) -> BitPlace | None:
        """Where the program sees it, if stated."""
        if self.at is None:
            return None
        return _notation.parse_place(self.at, "write" if self.role in WRITTEN_ROLES else "read")

    @model_validator(mode="after")
    def _has_a_bit(self) -> RoleTable:
        if self.inverted and self.at is None:
            raise ValueError("inverted belongs to a register bit; key 'at' is missing")
        # a write to an address may be the strobe itself, so what is written may have no bit
        allowed = (0, 1) if self.role in WRITTEN_ROLES else (1,)
        if self.role != "data" and self.place is not None and len(self.place.bits) not in allowed:
            raise ValueError(f"the role {self.role!r} has one bit, such as 'C801 bit 7', not {self.at!r}")
        return self


class ListenerTable(_Table):
    """``listener`` of a rival: the figures of docs/listener.md."""

    latency: Time = Span(0)
    service: Time
    jitter: Time = Span(0)
    reads: Time = Span(0)
    depth: Annotated[int, Field(ge=0, le=4096)] = 0
    shortest: Time = Span(0)


class LogTable(_Table):
    """``[[log]]``."""

    file: str
    sequence: Name | None = None
    base: Literal["hex", "decimal"] | None = None
    runs: Literal["line", "block", "file", "bus"] | None = None
    listener: Name | None = None
    listener_times: ListenerTable | None = None


LineNames = Annotated[list[str], BeforeValidator(lambda value: [value] if isinstance(value, str) else value)]


class CaptureTable(_Table):
    """``[[capture]]``: a file of changes or samples, and what its lines are (docs/capture.md)."""

    file: str
    sequence: Name | None = None
    columns: dict[str, str | int] = {}
    bits: dict[str, int] = {}
    volts: dict[str, str] = {}
    time: str | int | None = None
    unit: str = "s"
    rate: str = ""
    changes: bool = False
    separator: str = ","
    sample_bytes: int = 1
    high_byte_first: bool = False
    titles: int | None = Field(default=None, ge=1)
    rows: int | None = Field(default=None, ge=1)
    data: LineNames = []
    strobe: str = ""
    busy: str = ""
    acknowledge: str = ""
    low: LineNames = []
    high: LineNames = []
    latch: Literal["leading", "trailing"] | None = None
    serial: str = ""
    framing: str = ""
    bit_time: str = ""
    idle: Literal["low", "high"] | None = None

    @model_validator(mode="after")
    def _one_manner(self) -> CaptureTable:
        if self.serial and (self.strobe or self.data or self.busy or self.acknowledge):
            raise ValueError("a capture is read as a parallel handshake or as a serial line, not both: list it twice")
        if not self.serial and not self.strobe:
            raise ValueError("key 'strobe' (with 'data') or 'serial' is missing; `latchlore wire lines` proposes lines")
        if not self.serial and (self.framing or self.bit_time or self.idle):
            raise ValueError("framing, bit_time and idle belong to a serial line; key 'serial' is missing")
        return self


class LookForTable(_Table):
    """``[[look_for]]``: a code, or a command of a document."""

    name: Name
    code: Code | None = None
    document: Name | None = None
    command: Name | None = None
    entry: Name | None = None

    @model_validator(mode="after")
    def _one_way(self) -> LookForTable:
        by_document = self.document is not None and self.command is not None
        half = (self.document is None) != (self.command is None)
        if half or (self.code is not None) == by_document:
            raise ValueError("what to look for is either a code, or a document and a command in it")
        return self


class QuestionTable(_Table):
    """``[[question]]``."""

    text: Name
    about: list[Name] = []


class StudyTable(_Table):
    """study.toml as a whole."""

    title: Name | None = None
    about: str = ""
    authors: list[Name] = []
    date: Annotated[str, _text(_day, _DAY_RULE)] = ""
    invented: bool = False
    program: ProgramTable | None = None
    image: list[ImageTable] = []
    entry: list[EntryTable] = []
    devices: DevicesTable | None = None
    role: list[RoleTable] = []
    log: list[LogTable] = []
    capture: list[CaptureTable] = []
    look_for: list[LookForTable] = []
    question: list[QuestionTable] = []
    switches: dict[Name, Name] = {}

"""What one document says about one device, as values; each row knows its place in the document."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from latchlore.base import EventOrder, Origin, Span, SpanLimit, UnknownName

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.device._charsets import CharacterSet
    from latchlore.device._patterns import Pattern
    from latchlore.device._registers import StatedRegister


@dataclass(frozen=True, slots=True)
class Citation:
    """Where a row stands (`origin`, with page and row), its words as printed, and the transcriber's doubt."""

    origin: Origin
    quote: str = ""
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class Parameter:
    """What the document says about a parameter: bounds (None: not said), power-on value, names of values."""

    name: str
    least: int | None = None
    most: int | None = None
    default: int | None = None
    unit: str = ""
    values: Mapping[int, str] = field(default_factory=dict)
    doubt: str = ""

    def allows(self, value: int) -> bool:
        """Whether the document allows the value."""
        return (self.least is None or value >= self.least) and (self.most is None or value <= self.most)


@dataclass(frozen=True, slots=True)
class Graphics:
    """How the bytes of `data` become dots.

    A unit is one column (`by_column`) or one row of `unit_bytes` bytes, 0 for a row that takes all the data.
    `high_first`: the highest bit of each byte is the uppermost (leftmost) dot.  `dots`: how many dots of a unit are
    used.  Pitches in millimetres, None for the paper's own.  `feed`: steps fed afterwards.
    """

    data: str
    by_column: bool
    high_first: bool
    unit_bytes: int
    dots: int
    pitch_x: Fraction | None = None
    pitch_y: Fraction | None = None
    feed: int = 0


@dataclass(frozen=True, slots=True)
class Command:
    """One row of a command table.  `index` counts from 0; `effect` is empty where the paper's part is not known."""

    index: int
    name: str
    pattern: Pattern
    meaning: str
    citation: Citation
    effect: str = ""
    amount: int | str | None = None
    parameters: Mapping[str, Parameter] = field(default_factory=dict)
    graphics: Graphics | None = None
    when: Mapping[str, str] = field(default_factory=dict)
    when_switch: Mapping[str, str] = field(default_factory=dict)
    sets: Mapping[str, str] = field(default_factory=dict)
    sets_from: Mapping[str, str] = field(default_factory=dict)
    otherwise: bool = False
    decimal: str = ""
    keys: str = ""

    @property
    def code(self) -> str:
        """The fixed leading bytes, such as ``1B 4B``."""
        return self.pattern.code


@dataclass(frozen=True, slots=True)
class Mode:
    """A setting of the device that changes what later bytes mean or how they look."""

    name: str
    values: tuple[str, ...]
    start: str
    citation: Citation | None = None


@dataclass(frozen=True, slots=True)
class AutoFeed:
    """One place that may ask for a line feed after each carriage return: a switch or a pin, and how it must stand."""

    kind: str
    name: str
    value: str

    def __str__(self) -> str:
        return f"{self.kind} {self.name} = {self.value}"


@dataclass(frozen=True, slots=True)
class PaperForm:
    """The printing mechanism in dots; lengths in exact millimetres, feeds in steps.

    `auto_line_feed`: after every carriage return a line is fed; `auto_feeds`: places that may ask for it, each enough.
    """

    head_dots: int
    dot_x: Fraction
    dot_y: Fraction
    columns: int
    cell_dots: int
    cell_rows: int
    step: Fraction
    line_feed: int
    at_edge: str
    auto_line_feed: bool
    auto_feeds: tuple[AutoFeed, ...]
    form_lines: int | None
    tab_columns: int | None
    width: Fraction
    margin: Fraction
    look: str
    dot: Fraction
    citation: Citation


@dataclass(frozen=True, slots=True)
class Pin:
    """One row of a pin table.  `direction` and `active` are empty where the document does not say."""

    connector: str
    number: str
    signal: str
    direction: str
    active: str
    citation: Citation


@dataclass(frozen=True, slots=True)
class Timing:
    """One timing figure; `limit` None where only a typical value is given.  `others`: doubtful readings."""

    what: str
    is_shared: bool
    limit: SpanLimit | None
    typical: Span | None
    signal: str
    others: tuple[SpanLimit, ...]
    citation: Citation


@dataclass(frozen=True, slots=True)
class StatedOrder:
    """In which order the document says that the events of one byte come.

    `others`: the other readings that doubtful words leave.  `when_switch`: the switch settings under which it holds.
    """

    order: EventOrder
    citation: Citation
    others: tuple[EventOrder, ...] = ()
    when_switch: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Setting:
    """One row of a switch table: lever positions (``on``, ``off``, ``any``) and what they mean."""

    levers: tuple[str, ...]
    value: str
    citation: Citation


@dataclass(frozen=True, slots=True)
class Switch:
    """A switch or a group of levers that together choose one value."""

    name: str
    levers: tuple[str, ...]
    factory: str | None
    settings: tuple[Setting, ...]
    citation: Citation

    @property
    def values(self) -> tuple[str, ...]:
        """The values it can choose, in the order of the table."""
        return tuple(dict.fromkeys(setting.value for setting in self.settings))


@dataclass(frozen=True, slots=True)
class SentBytes:
    """A sequence of bytes that the document prints."""

    name: str
    data: bytes
    citation: Citation


@dataclass(frozen=True, slots=True)
class Claim:
    """A free statement; `emission` names what is (or is not) ever sent, empty where it speaks of something else."""

    about: str
    says: str
    emission: str
    happens: bool | None
    citation: Citation


@dataclass(frozen=True, slots=True)
class Figures:
    """A table of numbers that can be checked by its own redundancy; cells are text as printed.

    `kinds`: ``decimal``, ``hex`` or ``text`` for each column.  `same`: groups of columns that give one number twice.
    `rising`, `falling`: columns that are sorted.  `line`: (value column, by column, rule) where the value should be a
    linear function of the other column (``straight``) or of `clock` divided by it (``inverse``); `clock` in hertz.
    `origins`: the place of each row.
    """

    name: str
    columns: tuple[str, ...]
    kinds: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    same: tuple[tuple[str, ...], ...]
    rising: tuple[str, ...]
    falling: tuple[str, ...]
    line: tuple[str, str, str] | None
    clock: Fraction | None
    origins: tuple[Origin, ...]
    citation: Citation


@dataclass(frozen=True, slots=True)
class Device:
    """One document about one device.

    `name` is the device's, `document` the file's stem (by which a study refers to it).  `modes` holds the declared
    modes and then those the paper knows by itself.  `scan_first_page`: printed number of the scan's first page.
    """

    file: str
    title: str
    name: str
    kind: str
    edition: str
    date: str
    pages: int | None
    holder: str
    scan: str
    sha256: str
    invented: bool
    note: str
    commands: tuple[Command, ...]
    modes: tuple[Mode, ...]
    paper: PaperForm | None
    characters: CharacterSet
    data_bits: tuple[int, Citation] | None
    pins: tuple[Pin, ...]
    timings: tuple[Timing, ...]
    switches: tuple[Switch, ...]
    sequences: tuple[SentBytes, ...]
    claims: tuple[Claim, ...]
    figures: tuple[Figures, ...]
    scan_first_page: int = 1
    orders: tuple[StatedOrder, ...] = ()
    registers: tuple[StatedRegister, ...] = ()

    @property
    def document(self) -> str:
        """The file's stem."""
        return self.file.rsplit("/", 1)[-1].removesuffix(".toml")

    def get_command(self, name: str) -> Command:
        """The row of that name (its meaning where it has none).  Refuses one that is not there."""
        for command in self.commands:
            if command.name == name:
                return command
        raise UnknownName(f"document {self.document!r} has no command {name!r}", [c.name for c in self.commands])

    def get_switch(self, name: str) -> Switch:
        """The switch of that name.  Refuses one that is not there."""
        for switch in self.switches:
            if switch.name == name:
                return switch
        raise UnknownName(f"document {self.document!r} has no switch {name!r}", [s.name for s in self.switches])

    def factory_settings(self) -> dict[str, str]:
        """Each switch as it leaves the factory, where the document says so."""
        return {switch.name: switch.factory for switch in self.switches if switch.factory is not None}

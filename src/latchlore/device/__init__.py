"""The documents' witness: command tables, streams and paper."""

from latchlore.device._c0 import C0, Control, byte_name, column_row
from latchlore.device._charsets import (
    CharacterSet,
    Decider,
    Exclusion,
    PrintedSample,
    explain_print,
    find_set,
    get_set,
    set_names,
)
from latchlore.device._device import (
    Citation,
    Claim,
    Command,
    Device,
    Figures,
    Graphics,
    Mode,
    PaperForm,
    Parameter,
    Pin,
    SentBytes,
    Setting,
    Switch,
    Timing,
)
from latchlore.device._facts import TIMES
from latchlore.device._read import read_device
from latchlore.device._reading import Reading, SpanState, StreamSpan, choose_switches, read_stream
from latchlore.device.testify import DATA_WIDTH, testify

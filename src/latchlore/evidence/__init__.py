"""Where testimonies meet: weighing by subject."""

from latchlore.evidence._changing import could_change
from latchlore.evidence._clashes import least, statements_of, together
from latchlore.evidence._describe import address_text, describe_places, describe_value
from latchlore.evidence._findings import Finding, Ground, Judged, dated, judge, mark_of_rows, withdrawal
from latchlore.evidence._fold import Line, fold_rows
from latchlore.evidence._grades import Grade, grade_of_row, tells, voice_of, weakest
from latchlore.evidence._history import (
    FINDING,
    Change,
    Past,
    accepted,
    errata,
    history_lines,
    is_name,
    one_line,
    parse_history,
)
from latchlore.evidence._join import join, sent_to
from latchlore.evidence._paths import Lookup, explain_sequence
from latchlore.evidence._plain import table_to_plain, tree_to_plain
from latchlore.evidence._recordplain import changes_to_plain, record_to_plain
from latchlore.evidence._relations import Relation, Side, relate
from latchlore.evidence._rivals import (
    ChanceTable,
    Weights,
    check_table,
    entropy,
    information,
    predict,
    seen_surely,
    share_out,
    update,
)
from latchlore.evidence._standin import (
    Answering,
    Basis,
    Demand,
    Driver,
    Feed,
    StandIn,
    StatedCommand,
    StatusByte,
    StatusLine,
)
from latchlore.evidence._standinplain import stand_in_to_plain
from latchlore.evidence._standinspec import specify
from latchlore.evidence._standintimes import controller_cycles
from latchlore.evidence._table import Logged, Repair, Row, Standing, Table, order_of_testimonies
from latchlore.evidence._trials import (
    AHEAD,
    MIN_BITS,
    Hazard,
    Prospect,
    Reach,
    Trial,
    order_trials,
    rank,
    reach,
    reach_ahead,
    runs_needed,
)
from latchlore.evidence._trialtext import describe_reach, describe_share, describe_shares, describe_worth
from latchlore.evidence._vectorfiles import CSV_FILE, JSON_FILE, vector_files, vector_vcd, vectors_to_plain
from latchlore.evidence._vectorinputs import Inputs
from latchlore.evidence._vectormodel import Answer, Model
from latchlore.evidence._vectormodel import Change as LineChange
from latchlore.evidence._vectormodel import Line as VectorLine
from latchlore.evidence._vectors import Play, Vector, Vectors, run_vectors
from latchlore.evidence._weigh import order_of_rows, weigh
from latchlore.evidence.standinwording import stand_in_cautions
from latchlore.evidence.wording import read_again

__all__ = [
    "AHEAD",
    "CSV_FILE",
    "FINDING",
    "JSON_FILE",
    "MIN_BITS",
    "Answer",
    "Answering",
    "Basis",
    "ChanceTable",
    "Change",
    "Demand",
    "Driver",
    "Feed",
    "Finding",
    "Grade",
    "Ground",
    "Hazard",
    "Inputs",
    "Judged",
    "Line",
    "LineChange",
    "Logged",
    "Lookup",
    "Model",
    "Past",
    "Play",
    "Prospect",
    "Reach",
    "Relation",
    "Repair",
    "Row",
    "Side",
    "StandIn",
    "Standing",
    "StatedCommand",
    "StatusByte",
    "StatusLine",
    "Table",
    "Trial",
    "Vector",
    "VectorLine",
    "Vectors",
    "Weights",
    "accepted",
    "address_text",
    "changes_to_plain",
    "check_table",
    "controller_cycles",
    "could_change",
    "dated",
    "describe_places",
    "describe_reach",
    "describe_share",
    "describe_shares",
    "describe_value",
    "describe_worth",
    "entropy",
    "errata",
    "explain_sequence",
    "fold_rows",
    "grade_of_row",
    "history_lines",
    "information",
    "is_name",
    "join",
    "judge",
    "least",
    "mark_of_rows",
    "one_line",
    "order_of_rows",
    "order_of_testimonies",
    "order_trials",
    "parse_history",
    "predict",
    "rank",
    "reach",
    "reach_ahead",
    "read_again",
    "record_to_plain",
    "relate",
    "run_vectors",
    "runs_needed",
    "seen_surely",
    "sent_to",
    "share_out",
    "specify",
    "stand_in_cautions",
    "stand_in_to_plain",
    "statements_of",
    "table_to_plain",
    "tells",
    "together",
    "tree_to_plain",
    "update",
    "vector_files",
    "vector_vcd",
    "vectors_to_plain",
    "voice_of",
    "weakest",
    "weigh",
    "withdrawal",
]

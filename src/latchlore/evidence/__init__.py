"""Where testimonies meet: weighing by subject."""

from latchlore.evidence._changing import could_change
from latchlore.evidence._describe import DOUBTFUL, address_text, describe_places, describe_value
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
from latchlore.evidence._table import Repair, Row, Standing, Table, order_of_testimonies
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
from latchlore.evidence._weigh import order_of_rows, smallest_withdrawals, weigh

__all__ = [
    "AHEAD",
    "DOUBTFUL",
    "FINDING",
    "MIN_BITS",
    "ChanceTable",
    "Change",
    "Finding",
    "Grade",
    "Ground",
    "Hazard",
    "Judged",
    "Line",
    "Lookup",
    "Past",
    "Prospect",
    "Reach",
    "Relation",
    "Repair",
    "Row",
    "Side",
    "Standing",
    "Table",
    "Trial",
    "Weights",
    "accepted",
    "address_text",
    "changes_to_plain",
    "check_table",
    "could_change",
    "dated",
    "describe_places",
    "describe_value",
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
    "record_to_plain",
    "relate",
    "runs_needed",
    "seen_surely",
    "sent_to",
    "share_out",
    "smallest_withdrawals",
    "table_to_plain",
    "tells",
    "tree_to_plain",
    "update",
    "voice_of",
    "weakest",
    "weigh",
    "withdrawal",
]

"""Where testimonies meet: weighing by subject."""

from latchlore.evidence._describe import DOUBTFUL, address_text, describe_places, describe_value
from latchlore.evidence._findings import Finding, Ground, Judged, dated, judge, mark_of_rows, withdrawal
from latchlore.evidence._fold import Line, fold_rows
from latchlore.evidence._grades import Grade, grade_of_row, tells, voice_of, weakest
from latchlore.evidence._history import Change, Past, accepted, errata, history_lines, is_name, one_line, parse_history
from latchlore.evidence._join import join, sent_to
from latchlore.evidence._paths import Lookup, explain_sequence
from latchlore.evidence._plain import table_to_plain, tree_to_plain
from latchlore.evidence._recordplain import record_to_plain
from latchlore.evidence._relations import Relation, Side, relate
from latchlore.evidence._table import Repair, Row, Standing, Table, order_of_testimonies
from latchlore.evidence._weigh import order_of_rows, smallest_withdrawals, weigh

__all__ = [
    "DOUBTFUL",
    "Change",
    "Finding",
    "Grade",
    "Ground",
    "Judged",
    "Line",
    "Lookup",
    "Past",
    "Relation",
    "Repair",
    "Row",
    "Side",
    "Standing",
    "Table",
    "accepted",
    "address_text",
    "dated",
    "describe_places",
    "describe_value",
    "errata",
    "explain_sequence",
    "fold_rows",
    "grade_of_row",
    "history_lines",
    "is_name",
    "join",
    "judge",
    "mark_of_rows",
    "one_line",
    "order_of_rows",
    "order_of_testimonies",
    "parse_history",
    "record_to_plain",
    "relate",
    "sent_to",
    "smallest_withdrawals",
    "table_to_plain",
    "tells",
    "tree_to_plain",
    "voice_of",
    "weakest",
    "weigh",
    "withdrawal",
]

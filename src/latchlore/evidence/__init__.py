"""Where testimonies meet: weighing by subject."""

from latchlore.evidence._describe import DOUBTFUL, address_text, describe_places, describe_value
from latchlore.evidence._fold import Line, fold_rows
from latchlore.evidence._join import join, sent_to
from latchlore.evidence._paths import Lookup, explain_sequence
from latchlore.evidence._plain import table_to_plain, tree_to_plain
from latchlore.evidence._relations import Relation, Side, relate
from latchlore.evidence._table import Repair, Row, Standing, Table, order_of_testimonies
from latchlore.evidence._weigh import order_of_rows, smallest_withdrawals, weigh

__all__ = [
    "DOUBTFUL",
    "Line",
    "Lookup",
    "Relation",
    "Repair",
    "Row",
    "Side",
    "Standing",
    "Table",
    "address_text",
    "describe_places",
    "describe_value",
    "explain_sequence",
    "fold_rows",
    "join",
    "order_of_rows",
    "order_of_testimonies",
    "relate",
    "sent_to",
    "smallest_withdrawals",
    "table_to_plain",
    "tree_to_plain",
    "weigh",
]

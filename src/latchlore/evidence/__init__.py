"""Where testimonies meet: weighing by subject."""

from latchlore.evidence._table import Repair, Row, Standing, Table, order_of_testimonies

__all__ = ["Repair", "Row", "Standing", "Table", "order_of_testimonies"]

"""Facts that weighing rests on: which signals hold a host back while they are true.

Source: names and meaning of the status lines of the parallel printer interface as the pin tables of published manuals
give them (a host sends only while BUSY, PE and a fault are not true; ACK, SELECT and READY let it go on); *common
practice*.  A study may state otherwise for its own signals.
"""

HOLDS_WHILE_TRUE = frozenset(
    {"BUSY", "PE", "PAPER OUT", "PAPER END", "PAPER EMPTY", "FAULT", "ERROR", "OFFLINE", "OFF LINE"}
)
LETS_GO_WHEN_TRUE = frozenset(
    {"ACK", "ACKNOWLEDGE", "ACKNLG", "READY", "RDY", "SELECT", "SLCT", "SELECTED", "ONLINE", "ON LINE"}
)

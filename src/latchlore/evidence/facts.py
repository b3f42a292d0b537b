"""Facts that weighing rests on: which signals hold a host back while they are true, and who can speak of what.

Source: names and meaning of the status lines of the parallel printer interface as the pin tables of published manuals
give them (a host sends only while BUSY, PE and a fault are not true; ACK, SELECT and READY let it go on); *common
practice*.  A study may state otherwise for its own signals.
"""

from latchlore.base import SubjectKind, Witness

HOLDS_WHILE_TRUE = frozenset(
    {"BUSY", "PE", "PAPER OUT", "PAPER END", "PAPER EMPTY", "FAULT", "ERROR", "OFFLINE", "OFF LINE"}
)
LETS_GO_WHEN_TRUE = frozenset(
    {"ACK", "ACKNOWLEDGE", "ACKNLG", "READY", "RDY", "SELECT", "SLCT", "SELECTED", "ONLINE", "ON LINE"}
)

SPEAKERS = {
    SubjectKind.REGISTER: (Witness.BOARD, Witness.PROGRAM, Witness.DOCUMENTS),
    SubjectKind.BIT: (Witness.BOARD, Witness.PROGRAM, Witness.WIRE, Witness.DOCUMENTS),
    SubjectKind.SIGNAL: (Witness.BOARD, Witness.PROGRAM, Witness.WIRE, Witness.DOCUMENTS),
    SubjectKind.PIN: (Witness.BOARD, Witness.DOCUMENTS),
    SubjectKind.WIDTH: (Witness.BOARD, Witness.DOCUMENTS),
    SubjectKind.STRAP: (Witness.BOARD, Witness.PROGRAM, Witness.WIRE),
    SubjectKind.SEQUENCE: (Witness.PROGRAM, Witness.WIRE, Witness.DOCUMENTS),
    SubjectKind.TIMING: (Witness.BOARD, Witness.PROGRAM, Witness.WIRE, Witness.DOCUMENTS),
    SubjectKind.ORDER: (Witness.PROGRAM, Witness.WIRE, Witness.DOCUMENTS),
    SubjectKind.COMMAND: (Witness.DOCUMENTS,),
    SubjectKind.EMISSION: (Witness.PROGRAM, Witness.DOCUMENTS),
    SubjectKind.NOTE: (Witness.BOARD, Witness.PROGRAM, Witness.WIRE, Witness.DOCUMENTS),
}
"""Kind of a subject → the witnesses that can speak of one; source: the wings' `testify` modules of this house."""

RARE_OF = 100
"""An order that is broken in at most one of so many bytes is told with its exceptions and contradicts nobody: a spike
or a first byte after power-on can do that; a judgement, no published figure."""

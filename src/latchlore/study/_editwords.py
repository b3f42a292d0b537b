"""Sentences about changes of a study's files: what each is called, and why one is refused."""

from __future__ import annotations

OVERTAKEN = "was changed meanwhile; nothing is written, and both texts are shown"
GONE = "is no longer there; nothing is written"
OUTSIDE = "a path goes down from the study's folder, not {file!r}"
NO_FOLDER = "its folder cannot be made ({reason})"

ADD_FINDING = "add finding {name}"
WITHDRAW_FINDING = "withdraw finding {name}"
ACCEPT = "accept what changed in the findings"
ADD_OUTCOME = "enter an outcome of {trial}"
WITHDRAW_OUTCOME = "withdraw an outcome of {trial}"
NO_OUTCOME = "questions.toml has no outcome number {number}; it has {count}"
WITHDRAWN_ALREADY = "this outcome is withdrawn already"
WHY = "say why: it is kept beside what is withdrawn"

NAME_RULE = (
    'a name is up to {most} letters, digits and signs other than < > : " / \\ | ? *, does not begin with a dot or a '
    "hyphen, and does not end with a dot or a blank, not {name!r}"
)
NAME_RESERVED = "a name that some systems keep for themselves cannot be handed on: {name!r}"
TOO_DEEP = "a path has at most {most} parts, not {file!r}"
HISTORY_STAYS = "the history is only ever added to; it is not changed as text"
THERE_ALREADY = "is there already; take another name, or say that it may be replaced"

PASTED = "what you pasted"
TYPED = "what you typed"
NO_KIND = "numbers are hex, decimal or left open, runs line, block, file or left open, not {numbers!r} and {runs!r}"
NO_LOG = "the study has no byte log {file!r}"
NO_BYTE = "what was pasted holds no byte; a line that holds only '-' is a run in which nothing was heard"
ONE_RUN = "is one run as a whole; put the next run into a log of its own"
READ_OTHERWISE = (
    "with these lines the runs above them would be read in another way; say what a run is in the log's first line, "
    "such as 'runs: line'"
)

NO_TABLE = "the study has no device table {file!r}"
NO_ROW = "{file} has no command row {number}; it has {count}"
ROW = "row {number}"
ROW_OUT = "take row {number} out of {file}"
LOOK_AGAIN = "was changed meanwhile; nothing is taken out: look again at what would go"
NOT_OURS = "holds what the desk's forms do not write; take the row out of the file as text"
COMMENT = "a comment"
ROW_WITHDRAWN = "the withdrawn statement {name!r} is this row; it stays, so that the withdrawal can be understood"
ROW_FOUND = "finding {name!r} rests on {on!r}, of which this row speaks; withdraw the finding first"
ROW_SENT = "what trial {trial!r} would show was computed with this table; withdraw the outcome first"
ADD_ROW = "add the row {pattern} to {file}"
CHANGE_ROW = "change row {number} of {file}"

NO_FILE = "the study has no file {file!r}"
TOO_LONG = "has {size} bytes; as text at most {most} are changed here, an editor takes the rest"
MIXED_ENDS = "its lines end in several ways, which would not come back as they were; change it in an editor"
MARKED = "begins with a byte order mark, which would not come back; change it in an editor"
NO_TEXT = "holds the sign {code:02X}h, which no text holds"
CHANGE_TEXT = "change {file}"
NEW_TEXT = "make {file}"
EMPTY_NOTE = "a note holds at least one word"
NOTE = "a note in notes.txt"
NOTES_HEAD = "# Notes of this study.  Nothing is concluded from them.\n"
NO_TITLE = "a study has a title of at least one letter"
ABOUT = "the study's title and what it is about"

NO_SUCH_KIND = "there is no kind of file {kind!r}"
NO_ENDING = "a file of the kind {kind!r} ends in one of {endings}, not {name!r}"
NO_TABLE_HERE = "{file!r} would be read as another kind of file; choose that kind, or another name"
SIZE = "has {size} bytes; here it may have 1 to {most}"
UPLOAD = "bring the {kind} {file}"

NO_READINGS_FILE = "a readings file is board/NAME.readings, not {file!r}"
NO_NETS = "the study has no net file; write the parts list first: board/NAME.nets (docs/net-file.md)"
NO_READING = "type at least one reading, such as 'joined u1.3 u2.5'"


def paste(count: int, file: str) -> str:
    """Runs that were pasted."""
    return f"paste {count} run{'s' * (count != 1)} into {file}"


def document(count: int, file: str) -> str:
    """A new table."""
    return f"make {file} with {count} row{'s' * (count != 1)}"


def readings(count: int, file: str) -> str:
    """Readings that were typed."""
    return f"enter {count} reading{'s' * (count != 1)} in {file}"

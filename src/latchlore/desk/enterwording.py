"""The sentences of the room in which things are entered."""

FRESH_BYTES = "Bytes with blanks between them, as they were heard; each line is a run, unless you say otherwise below."
RUN_LEAD = "What a listener wrote down, pasted as text. It is checked before anything is written."
NEW_LOG = "a new log"
NUMBERS = (("", "told by the numbers themselves"), ("hex", "hexadecimal"), ("decimal", "decimal"))
RUNS = (
    ("", "told by the lines themselves"),
    ("line", "each line"),
    ("block", "everything up to an empty line"),
    ("file", "all of it"),
)
RUN_CAUTION = (
    "Connect a listener with both sides switched off, ground first; never plug into a machine under power.  Mains and "
    "tube voltages are left to licensed practice and your local codes."
)

DOCUMENT_LEAD = (
    "What one manual, label or letter says about one device. Write down what it says, also where you believe that it "
    "is wrong."
)
ROWS_HINT = (
    "A pattern is bytes with blanks between them: 0D is that byte, 'K' that character, 20..7E one byte of the range, n "
    "any byte, data*8 eight bytes, data*n as many as n says (docs/device-table.md)."
)
ROW_LEAD = "One line of a manual's table of commands."
ROW_OUT_LEAD = (
    "For a row that was typed in by mistake. Where the document says it and you do not believe it, leave it: write "
    "your doubt into the row, or withdraw the statement."
)
EFFECT_UNKNOWN = ("", "not known")

READINGS_LEAD = "What the meter told, one statement a line: joined u1.3 u2.5, or apart u1.3 u2.6 (docs/readings.md)."
NOTE_LEAD = "Anything worth keeping. Notes stand in notes.txt under their day, and nothing is concluded from them."
ABOUT_LEAD = "The title stands on every page; what survives and what you want to know may take several lines."
FILE_LEAD = "A file from elsewhere goes to the folder of its kind, unchanged and under the name that you give it."
TEXT_LEAD = "Any text of the study, as it is. What somebody else writes meanwhile is not overwritten."
NO_FILE = "choose a file first"
FOUND_HINT = "Empty: Latchlore looks for it, and says what it rests on."
KIND_WORDS = {
    "image": "an image of the program's memory (program/)",
    "capture": "a capture (wire/)",
    "byte log": "a byte log (wire/)",
    "scan": "a scan of a document: PDF, picture or text (documents/)",
    "net file": "a net file or Verilog (board/)",
}
NEXT_STEPS = {
    "image": (
        "Say in study.toml where it lies:",
        '[program]\ncpu = "infer"\n\n[[image]]\nfile = "{file}"\nload = "infer"',
    ),
    "capture": (
        "Say in study.toml what its lines are (docs/capture.md):",
        '[[capture]]\nfile = "{file}"\nstrobe = "..."\ndata = ["..."]',
    ),
    "scan": (
        "Say in the table of that document where its scan lies:",
        'scan = "{file}"\nsha256 = "{sum}"',
    ),
}
"""Kind of a file → what is to be done next, and the lines that say it."""

MISSING = {
    "board": ("the board", "type its nets", "edit?file=board/card.nets"),
    "program": ("the program", "bring an image of its memory", "enter-file?kind=image"),
    "wire": ("the wire", "paste a run", "enter-run"),
    "documents": ("the documents", "enter a manual's table", "enter-document"),
}
"""Witness → what it is called, what makes it speak, and where that is entered."""

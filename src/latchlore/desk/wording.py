"""The sentences of the desk."""

OPENED = "The desk is open at {address}\nOnly this machine can reach it.  Stop with Ctrl-C."
OPENED_TO_OTHERS = (
    "The desk is open at {address}\nWhoever is on this network and knows the address can read and change the study; "
    "nothing is encrypted.  Use it on a network that is yours.  Stop with Ctrl-C."
)
NO_ADDRESS = "is one address of this machine in digits, such as 192.168.1.20, not {text!r}"
CLOSED = "The desk is closed."
NO_BROWSER = "No browser could be opened here; open the address yourself."

REFUSED_HOST = "The desk answers under its own address only."
REFUSED_ORIGIN = "The desk answers its own pages only."
REFUSED_METHOD = "Nothing at this address takes what was sent."
REFUSED_SIZE = "More was sent than the desk takes at once (32 MiB); put the file into the folder of the study instead."
REFUSED_TITLE = "This was not done"
NOT_FOUND = "There is nothing at this address."
BROKEN_TITLE = "The study cannot be read"
BROKEN_LEAD = "Mend the files below; the page follows by itself."
FAULT_TITLE = "A fault of Latchlore's own"
FAULT_LEAD = "It is not your study's.  The terminal in which the desk runs shows more when LATCHLORE_DEBUG=1 is set."
NO_PLACE = "The study has no such place."

ROOMS = {
    "table": ("weighing table", "What every witness says of every subject, side by side."),
    "board": ("board", "Registers, addresses, chips and nets; tracing with a meter; what happens when plugs meet."),
    "program": ("program", "What the code touches, how it shakes hands, what it can send, byte by byte."),
    "wire": ("wire", "What was really sent: runs under their merge, captures at any zoom, times against limits."),
    "devices": ("devices", "Documents side by side, what each says against itself, and which explain what was sent."),
    "record": ("record", "Findings with what they rest on, and the questions that are open with the trial to do next."),
    "enter": ("enter", "What was taken at the bench or read in a manual, into the study's own files."),
    "paper": ("paper", "What a device would have printed; from each byte to its marks, and back."),
}
"""Room → its name in the list on top of every page, and what is done there."""

NOTHING_TO_UNDO = "no change was made on this desk that could be taken back"
CHANGED_SINCE = "was changed again after {words!r}, which is not taken back, so that nothing is lost"

READING_KEPT = "a reading: {action}"

NO_PROGRAM = "the study has no program yet"
NO_CLOCK = "no clock is stated: cycles only"
NO_ROUTINE = "no known routine"
OPEN = "open"
NOT_FOLLOWED = "Jumps not followed"
ENDS = "Paths not followed to their end"
GRANTED = "Taken for granted"
BOUNDS = "Bounds"
FOUND = "{text!r} stands in {count} lines"

SEQUENCE = "{length} bytes from {runs} run{s}; the whole is right with {sure:.1%}"
NO_RUN = "No run counts yet."
RUNS_UNKNOWN = "One run tells nothing about losses; a second would."
RUNS_MORE = "About {count} more runs like these are needed until order and counts are right with 99 %."
RUNS_ENOUGH = "No further run is needed until order and counts are right with 99 %."
ACTIVITY = "{edges} edges, high for {high:.1%} of the time{pulses}"
CAPTURE = "{lines} lines, {edges:,} edges, up to {end}"
COMPLETE = {True: "None is missing", False: "Bytes may be missing", None: "Whether bytes are missing cannot be told"}
LATCH = {
    0: "Data is taken at the leading edge",
    1: "Data is taken at the trailing edge",
    None: "Data is taken at either edge",
}
SERIAL = "{line} carries asynchronous serial bytes, {framing}, {rate}"
RESTS = ("The line rests low", "The line rests high")
NO_STRETCH = "a stretch is asked for by whole numbers: from, to (picoseconds) and width (pixels)"

TYPED = "the bytes typed"
STRIP_OF = "“{name}” on a {device}"
STRIP_SIZE = "{count} bytes on {height} mm of paper, at true proportions; {rest} bytes that no row explains"
BYTE_MARKS = "Byte {byte}, {value:02X}, struck {count} dots: framed on the strip."
BYTE_NO_MARKS = "Byte {byte}, {value:02X}, left no mark; the line shows where the head stood."
NO_BYTE = "the stream has {count} bytes, counted from 0; there is no byte {byte}"
NO_HEX = "bytes are typed as pairs of hexadecimal digits, such as 1B 40; not {text!r}"
TOO_MANY = "from 1 to {most} bytes can be typed, not {count}"
NO_MARK = "no mark of the strip lies there"

NOT_DRAWN = "{code} ({meaning}) stands {count} times in the stream; what it does on the paper no row tells"
FED_TWICE = "{count} line feeds follow a return that had fed already: the host sends what the device adds by itself"

HEARD = "{count} bytes kept; {why}"
STILL_LISTENING = "is still being listened to; end that run first"
NOTHING_HEARD = "nothing has been listened to on this desk yet"
NO_PORT = "is missing: a serial port's device name, or socket://HOST:PORT"
NO_BAUD = "bits a second are a whole number from 50 to 4,000,000, not {text!r}"
LISTEN_CAUTION = (
    "Connect a listener with all power off, common ground first; check that the port's levels suit it: the levels of a "
    "serial port of those years (up to 25 V) end a listener made for 5 V.  Never plug or unplug it under power.  Mains "
    "and tube voltages are left to licensed practice and your local codes."
)

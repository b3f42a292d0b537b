"""Sentences about the faults of data lines."""

LENGTHS = "a known text and its log are compared byte by byte: {sent} bytes sent, {logged} logged"
NOTHING = "an empty log shows nothing"
OR = ", or "
AND = " and "
TOO_LONG = "{sent} bytes sent and {logged} logged are too many to be put side by side; split both at a byte they share"
NO_PAIR = "no byte logged goes with a byte sent"
PAIRED = (
    "{pairs} bytes logged were put beside the bytes sent; {lost} sent were lost and {extra} logged are over ({runs});"
    " the lines are judged by the {judged} pairs that are not beside a gap"
)
HARDLY = "fewer than half of the bytes sent are in the log; it may be of something else"
TOO_LOW = "{num} read 0 for 1"
TOO_HIGH = "{num} read 1 for 0"
NEARLY = (
    "{rule} but for {misfits} of {num} bytes ({shown}, the first at byte {first}): late, noisy or loose, or a byte"
    " stands beside the wrong one"
)
RULES = (
    "D{line} is true",
    "D{line} is stuck low",
    "D{line} is stuck high",
    "D{line} carries {sources[0]}",
    "D{line} is inverted",
    "D{line} carries {sources[0]} inverted",
    "{sources[0]} and {sources[1]} are bridged and low wins (wired AND), seen on D{line}",
    "{sources[0]} and {sources[1]} are bridged and high wins (wired OR), seen on D{line}",
)
FAULT = "{rule}: {tested} of {num} bytes put it to the test, the others look the same either way"
UNTESTED = "{rule}, but no byte puts it to the test"
SEVERAL = "D{line} cannot be told: {rules}; send bytes in which they differ"
UNEXPLAINED = "D{line} follows no single line and no bridge of two: it floats, or this is not what was sent"
NEVER_HIGH = "D{line} is 0 in all {num} bytes: stuck, or never used"
NEVER_LOW = "D{line} is 1 in all {num} bytes: stuck, or floating high"
AGREE = "D{first} and D{second} are equal in all {num} bytes: bridged (a known text tells which level wins)"
DIFFER = "D{first} and D{second} are unlike in all {num} bytes: one may be the other inverted"
DIFFER_CAPITALS = (
    "D5 and D6 are unlike in all {num} bytes, as they are in capitals, digits and signs of ISO 646 (columns 2 to 5)"
)
BIT_7_LOW = "bit 7 is always 0: seven data bits, space parity, or a line that is not there"
BIT_7_HIGH = "bit 7 is always 1: mark parity, an inverted or floating line"
BIT_7_PARITY = "bit 7 is {name} parity of the seven others in all bytes ({num} unlike codes)"
BIT_7_PARITY_FEW = "bit 7 is {name} parity of the seven others so far, but {num} unlike codes prove little"
BIT_7_STROBE = "bit 7 changes with every byte: it may be a strobe"
BIT_7_DATA = "bit 7 is data: it is neither constant nor a parity of the others"
LINE_END = "{count} with {name}"
LINE_ENDS = "lines end: {ends}"
NO_LINE_END = "no line end"
UPPER_CASE = "no small letter among {count}: capitals only"
ABOVE_7F = "{count} codes above 7F: {codes}"
CONTROLS = "control codes beside line ends: {codes}"

"""What `new_study` writes: the files of a study that holds nothing yet, with the words that explain them."""

STUDY_TOML = """\
# The study: what survives of one interface, and what you want to know.
#
# Every line that starts with # is a comment.  Take the # away from the lines you need.  Everything is optional: a
# folder with one byte log in it is a study.  Look at the result at any time with
#
#     latchlore weigh .
#
# Files are found by their place, without a line here:
#
#     board/NAME.nets       what is soldered to what
#     mating/NAME.nets      what the board's connectors are put together with
#     wire/NAME.log         one byte log; NAME is the sequence it holds
#     wire/NAME/*.log       several logs of the same sequence NAME, which are merged
#     documents/NAME.toml   what one manual, label or letter says
#
# Addresses are text in quotes, always hexadecimal: "C800" (also "$C800", "0xC800", "C800h").

title = "A study without a name"
about = ""
# invented = true           # people, makers, machines and data are made up


# --- The program: which processor runs it, how fast, and which bytes of the memory are known -----------------------

# [program]
# cpu = "6502"              # or "infer"
# clock = "1.0 MHz"         # or "14.31818/14 MHz"; leave it out, and times are in cycles only
# tolerance_ppm = 100
# ram = ["0000-07FF"]       # where what is written can be read back
# held = ["C801 bits 0-1"]  # bits that are the same at every read: straps, switches

# [[image]]
# file = "program/rom.bin"  # raw bytes, Intel HEX or S-records; or reads = [...], several reads of one chip
# load = "E000"             # the address of the first byte; or "infer"; records state theirs
# size = 8192               # how many there must be; finds a dump that was cut short

# [[entry]]
# name = "power-on"
# address = "F000"
# sequence = "power-on"     # the logs that hold what it sends
# given = ["A = 41"]        # what is known there: registers, flags, memory ("0200 = 1B 40")


# --- The devices: only needed while there is no net file --------------------------------------------------------

# [devices]
# addresses = ["C800-C803", "1100 1xxx xxxx xx01", "port 84"]


# --- What the signals are for -----------------------------------------------------------------------------------

# [[role]]
# role = "data"             # data, strobe, busy, acknowledge, select, paper-out, fault, initialise, other
# signal = "DATA"           # its name on the connector, as in the net file and the documents
# at = "write C800"         # where the program sees it; not needed where a net file shows it

# [[role]]
# role = "busy"
# signal = "BUSY"
# at = "C801 bit 7"
# inverted = true           # the bit is the opposite of the pin


# --- More about a byte log --------------------------------------------------------------------------------------

# [[log]]
# file = "wire/power-on.log"
# sequence = "power-on"
# base = "hex"              # or "decimal"
# runs = "line"             # one run a line; or "block" (up to an empty line), or "file"
# listener = "borrowed listener, 1994"


# --- What you want to know --------------------------------------------------------------------------------------

# [[look_for]]
# name = "dot drawing"      # is this ever sent?
# code = "1B 4B any 00..7F"

# [[question]]
# text = "Could the card carry a dot-drawn curve?"
# about = ["dot drawing"]
"""

BOARD_ABOUT = """\
Put net files here: NAME.nets, plain text, which parts there are and which pins are joined.  docs/net-file.md of
latchlore shows how they are written.

Caution: measure continuity with the machine switched off, unplugged and discharged.  Mains and tube voltages are for
those licensed to work on them, under the codes of the place.
"""

PROGRAM_ABOUT = """\
Put memory images here, as they come out of the ROM, and list each in study.toml as an [[image]] with its load address,
or "infer" where nobody knows it.  Read a doubtful chip five times and keep every read.  The files are never changed.

Caution: static kills old chips.  Earth yourself, and read a chip with the supply it was made for.
"""

WIRE_ABOUT = """\
Put byte logs here: plain text, bytes in hexadecimal with spaces between them, one run a line.

    wire/power-on.log         a log of the sequence "power-on"
    wire/power-on/1.log       several logs of it; what one lost, another may have

Caution: connect a listener with both sides switched off, ground first, and never plug into a machine under power.
"""

DOCUMENTS_ABOUT = """\
Put one file here for each document: NAME.toml, what one manual, label or letter says about a device, with the page.
Write down what it says, also where you believe it is wrong.  docs/device-table.md of latchlore lists the keys.  The
shortest one:

    title = "Operating guide"
    device = "Strip printer"
    kind = "manual"

    [[command]]
    pattern = "1B 40"
    meaning = "reset"
    page = 12
"""

FILES = {
    "study.toml": STUDY_TOML,
    "board/about.txt": BOARD_ABOUT,
    "program/about.txt": PROGRAM_ABOUT,
    "wire/about.txt": WIRE_ABOUT,
    "documents/about.txt": DOCUMENTS_ABOUT,
}

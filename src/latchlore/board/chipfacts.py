"""Facts of programmable port chips and serial chips: pins, registers, words, reset.

Each chip names its own data sheet; where no sheet was at hand the facts are from memory of it and say so.  Read pages
are named beside what was read in them: the 8255's word and codes (a data acquisition board's register description and
its mode 0 table), the 8212's modes (two teaching pages), the 6850's words (a transcription of the maker's manual and a
list of settings of 1982), the 6551's rates (a page on Synertek's sheet), the 6522's pins and registers (a
transcription of Rockwell's sheet), the 8250's registers (two port lists).
"""

from __future__ import annotations

from latchlore.board._chipparts import Bus, Chip, Field, Form, Inner
from latchlore.board.memoryfacts import MEMORIES

OUT_IN = ("output", "input")
OFF_ON = ("off", "on")


def _flags(*names: str) -> tuple[Field, ...]:
    """One field a bit from bit 0, off or on; an empty name leaves the bit out."""
    return tuple(Field(name, k, k, OFF_ON) for k, name in enumerate(names) if name)


# --- 8255: Intel 8255A (231308) and 82C55A (231256); bits read in a data acquisition board's description ---

_8255_MODE = Form(
    "mode",
    0x80,
    0x80,
    (
        Field("group A", 6, 5, ("mode 0", "mode 1", "mode 2", "mode 2")),
        Field("port A", 4, 4, OUT_IN),
        Field("port C upper", 3, 3, OUT_IN),
        Field("group B", 2, 2, ("mode 0", "mode 1")),
        Field("port B", 1, 1, OUT_IN),
        Field("port C lower", 0, 0, OUT_IN),
    ),
)
_8255_BIT = Form(
    "bit of port C",
    0x80,
    0x00,
    (Field("bit", 3, 1, tuple(f"PC{k}" for k in range(8))), Field("level", 0, 0, ("clear", "set"))),
)
_8255 = Chip(
    "8255",
    "three 8-bit ports",
    "PA3 PA2 PA1 PA0 /RD /CS GND A1 A0 PC7 PC6 PC5 PC4 PC0 PC1 PC2 PC3 PB0 PB1 PB2 PB3 PB4 PB5 PB6 PB7 VCC"
    " D7 D6 D5 D4 D3 D2 D1 D0 RESET /WR PA7 PA6 PA5 PA4",
    ("A1", "A0"),
    Bus((), ("/CS",), reads=("/RD",), writes=("/WR",)),
    (
        Inner("port A", "00", "rw", port="PA"),
        Inner("port B", "01", "rw", port="PB"),
        Inner("port C", "10", "rw", port="PC"),
        Inner("control", "11", "w", forms=(_8255_MODE, _8255_BIT)),
    ),
    (),
    (),
    ("PA", "PB", "PC"),
    (("control", 0x9B),),
    "RESET high",
    "Intel 8255A 231308, 82C55A 231256; pins from memory",
)

# --- 6520 and 6821: Motorola MC6821 DS9435, from memory ---


def _pia_control(letter: str) -> tuple[Form, ...]:
    on = "read" if letter == "A" else "write"
    return (
        Form(
            "control",
            0,
            0,
            (
                Field(f"C{letter}1 interrupt", 0, 0, OFF_ON),
                Field(f"C{letter}1 edge", 1, 1, ("falling", "rising")),
                Field("data address reaches", 2, 2, ("direction register", "port register")),
                Field(
                    f"C{letter}2",
                    5,
                    3,
                    (
                        "input, falling edge, no interrupt",
                        "input, falling edge, interrupt",
                        "input, rising edge, no interrupt",
                        "input, rising edge, interrupt",
                        f"handshake: low on {on} of port {letter}, high on the C{letter}1 edge",
                        f"pulse: low for one clock on {on} of port {letter}",
                        "low",
                        "high",
                    ),
                ),
            ),
        ),
    )


def _pia_bits(letter: str) -> tuple[str, ...]:
    low, high = f"C{letter}1", f"C{letter}2"
    return (
        f"{low} interrupt on",
        f"{low} edge",
        "port, not direction",
        f"{high} control",
        f"{high} control",
        f"{high} output",
        f"{high} flag",
        f"{low} flag",
    )


def _pia(name: str, maker: str) -> Chip:
    ports = []
    for letter, rs in (("A", "0"), ("B", "1")):
        ports += [
            Inner(
                f"port {letter}",
                f"{rs}0",
                "rw",
                port=f"P{letter}",
                when=f"bit 2 of control {letter} is 1, else direction {letter}: 1 = output",
            ),
            Inner(
                f"control {letter}",
                f"{rs}1",
                "rw",
                bits=_pia_bits(letter),
                forms=_pia_control(letter),
                drives=((3, f"C{letter}2", False, "bits 5 and 4 are 1"),),
            ),
        ]
    return Chip(
        name,
        "two 8-bit ports with control lines",
        "VSS " + " ".join(f"PA{k}" for k in range(8)) + " " + " ".join(f"PB{k}" for k in range(8)) + " CB1 CB2 VCC"
        " R/W CS0 /CS2 CS1 E D7 D6 D5 D4 D3 D2 D1 D0 /RESET RS1 RS0 /IRQB /IRQA CA2 CA1",
        ("RS1", "RS0"),
        Bus(("CS0", "CS1"), ("/CS2",), clock="E", rw="R/W"),
        tuple(ports),
        (("/IRQA", "interrupt A"), ("/IRQB", "interrupt B")),
        ("/IRQA", "/IRQB"),
        ("PA", "PB", "CA2", "CB2"),
        (),
        "/RESET low",
        f"{maker}, from memory",
    )


# --- 6522: Rockwell R6522, Synertek SY6522; pins and register list read in transcriptions, bit tables from memory ---

_VIA_C2 = (
    "input, falling edge",
    "input, falling edge, flag not cleared by the port",
    "input, rising edge",
    "input, rising edge, flag not cleared by the port",
    "handshake",
    "pulse of one clock, low",
    "low",
    "high",
)
_VIA_SHIFT = (
    "off",
    "in by timer 2",
    "in by clock",
    "in by CB1",
    "out free running by timer 2",
    "out by timer 2",
    "out by clock",
    "out by CB1",
)
_VIA_T1 = (
    "one shot, PB7 as port",
    "free running, PB7 as port",
    "one shot, pulse on PB7",
    "free running, square wave on PB7",
)
_VIA_ACR = Form(
    "auxiliary control",
    0,
    0,
    (
        Field("latch of port A", 0, 0, OFF_ON),
        Field("latch of port B", 1, 1, OFF_ON),
        Field("shift register", 4, 2, _VIA_SHIFT),
        Field("timer 2 counts", 5, 5, ("clock", "pulses on PB6")),
        Field("timer 1", 7, 6, _VIA_T1),
    ),
)
_VIA_PCR = Form(
    "peripheral control",
    0,
    0,
    (
        Field("CA1 edge", 0, 0, ("falling", "rising")),
        Field("CA2", 3, 1, _VIA_C2),
        Field("CB1 edge", 4, 4, ("falling", "rising")),
        Field("CB2", 7, 5, _VIA_C2),
    ),
)
_VIA_FLAGS = ("CA2", "CA1", "shift register", "CB2", "CB1", "timer 2", "timer 1")
_VIA_IER = (
    Form("interrupts switched on", 0x80, 0x80, _flags(*_VIA_FLAGS)),
    Form("interrupts switched off", 0x80, 0x00, _flags(*_VIA_FLAGS)),
)
_6522 = Chip(
    "6522",
    "two 8-bit ports, two timers, shift register",
    "VSS " + " ".join(f"PA{k}" for k in range(8)) + " " + " ".join(f"PB{k}" for k in range(8)) + " CB1 CB2 VCC"
    " /IRQ R/W /CS2 CS1 PHI2 D7 D6 D5 D4 D3 D2 D1 D0 /RES RS3 RS2 RS1 RS0 CA2 CA1",
    ("RS3", "RS2", "RS1", "RS0"),
    Bus(("CS1",), ("/CS2",), clock="PHI2", rw="R/W"),
    (
        Inner("port B", "0000", "rw", port="PB"),
        Inner("port A with handshake", "0001", "rw", port="PA"),
        Inner("direction B", "0010", "rw"),
        Inner("direction A", "0011", "rw"),
        Inner("timer 1 counter low", "0100", "rw"),
        Inner("timer 1 counter high", "0101", "rw"),
        Inner("timer 1 latch low", "0110", "rw"),
        Inner("timer 1 latch high", "0111", "rw"),
        Inner("timer 2 low", "1000", "rw"),
        Inner("timer 2 high", "1001", "rw"),
        Inner("shift", "1010", "rw"),
        Inner("auxiliary control", "1011", "rw", forms=(_VIA_ACR,)),
        Inner(
            "peripheral control",
            "1100",
            "rw",
            forms=(_VIA_PCR,),
            drives=((1, "CA2", False, "bits 3 and 2 are 1"), (5, "CB2", False, "bits 7 and 6 are 1")),
        ),
        Inner(
            "interrupt flags",
            "1101",
            "rw",
            bits=(*_VIA_FLAGS, "any"),
            forms=(Form("flags cleared", 0, 0, _flags(*_VIA_FLAGS)),),
        ),
        Inner("interrupt enable", "1110", "rw", bits=(*_VIA_FLAGS, "set, not clear"), forms=_VIA_IER),
        Inner("port A without handshake", "1111", "rw", port="PA"),
    ),
    (("/IRQ", "interrupt"),),
    ("/IRQ",),
    ("PA", "PB", "CA2", "CB1", "CB2"),
    (),
    "/RES low",
    "Rockwell R6522 (transcription), Synertek SY6522; bit tables from memory",
)

# --- 6530, 6532: MOS Technology MCS6530 and MCS6532, from memory ---

_RIOT_PORTS = (
    Inner("port A", "1xx000", "rw", port="PA"),
    Inner("direction A", "1xx001", "rw"),
    Inner("port B", "1xx010", "rw", port="PB"),
    Inner("direction B", "1xx011", "rw"),
)
_6532 = Chip(
    "6532",
    "RAM, two 8-bit ports, timer",
    "VSS A5 A4 A3 A2 A1 A0 " + " ".join(f"PA{k}" for k in range(8)) + " PB7 PB6 PB5 PB4 VCC PB3 PB2 PB1 PB0 /IRQ"
    " D7 D6 D5 D4 D3 D2 D1 D0 /RES R/W /RS /CS2 CS1 PHI2 A6",
    ("/RS", "A4", "A3", "A2", "A1", "A0"),
    Bus(("CS1",), ("/CS2",), clock="PHI2", rw="R/W"),
    (
        Inner("RAM", "0xxxxx", "rw"),
        *_RIOT_PORTS,
        Inner("timer, every clock", "11x100", "w"),
        Inner("timer, every 8 clocks", "11x101", "w"),
        Inner("timer, every 64 clocks", "11x110", "w"),
        Inner("timer, every 1024 clocks", "11x111", "w"),
        Inner("PA7 edge control", "10x1xx", "w", note="address bit 0: 1 = rising, bit 1: 1 = interrupt on"),
        Inner("timer", "1xx1x0", "r"),
        Inner("interrupt flags", "1xx1x1", "r", bits=("", "", "", "", "", "", "PA7 flag", "timer flag")),
    ),
    (("/IRQ", "interrupt"),),
    ("/IRQ",),
    ("PA", "PB"),
    (),
    "/RES low",
    "MOS Technology MCS6532, from memory",
)
_6530 = Chip(
    "6530",
    "ROM, RAM, two ports, timer; selected by a mask",
    "VSS PA0 PHI2 RS0 A9 A8 A7 A6 R/W A5 A4 A3 A2 A1 A0 /RES PB7 PB6 PB5 VCC PB4 PB3 PB2 PB1 PB0"
    " D7 D6 D5 D4 D3 D2 D1 D0 PA7 PA6 PA5 PA4 PA3 PA2 PA1",
    ("A3", "A2", "A1", "A0"),
    Bus((), (), clock="PHI2", rw="R/W"),
    (
        Inner("port A", "x000", "rw", port="PA"),
        Inner("direction A", "x001", "rw"),
        Inner("port B", "x010", "rw", port="PB"),
        Inner("direction B", "x011", "rw"),
        Inner("timer", "x1xx", "rw"),
    ),
    (),
    (),
    ("PA", "PB"),
    (),
    "/RES low",
    "MOS Technology MCS6530, from memory",
    masked=True,
)

# --- 6551: Synertek SY6551 (rates read), Rockwell R6551; bit tables from memory ---

_RATES_6551 = (
    "external clock / 16",
    "50 baud",
    "75 baud",
    "109.92 baud",
    "134.58 baud",
    "150 baud",
    "300 baud",
    "600 baud",
    "1200 baud",
    "1800 baud",
    "2400 baud",
    "3600 baud",
    "4800 baud",
    "7200 baud",
    "9600 baud",
    "19200 baud",
)
_6551 = Chip(
    "6551",
    "serial port with baud rate generator",
    "VSS CS0 /CS1 /RES RXC XTLI XTLO /RTS /CTS TXD /DTR RXD RS0 RS1 VCC /DCD /DSR D0 D1 D2 D3 D4 D5 D6 D7 /IRQ PHI2"
    " R/W",
    ("RS1", "RS0"),
    Bus(("CS0",), ("/CS1",), clock="PHI2", rw="R/W"),
    (
        Inner("received data", "00", "r"),
        Inner("data to send", "00", "w"),
        Inner(
            "status",
            "01",
            "r",
            bits=(
                "parity error",
                "framing error",
                "overrun",
                "received data full",
                "data to send empty",
                "/DCD",
                "/DSR",
                "interrupt",
            ),
            shows=((5, "/DCD", False), (6, "/DSR", False)),
        ),
        Inner("programmed reset", "01", "w"),
        Inner(
            "command",
            "10",
            "rw",
            forms=(
                Form(
                    "command",
                    0,
                    0,
                    (
                        Field("terminal ready", 0, 0, ("/DTR high, chip off", "/DTR low, chip on")),
                        Field("receive interrupt", 1, 1, ("on", "off")),
                        Field(
                            "transmitter",
                            3,
                            2,
                            (
                                "/RTS high, transmitter off",
                                "/RTS low, interrupt on",
                                "/RTS low, interrupt off",
                                "/RTS low, break",
                            ),
                        ),
                        Field("echo", 4, 4, OFF_ON),
                        Field("parity", 7, 5, ("none", "odd", "none", "even", "none", "mark", "none", "space")),
                    ),
                ),
            ),
            drives=((0, "/DTR", True, ""),),
        ),
        Inner(
            "control",
            "11",
            "rw",
            forms=(
                Form(
                    "control",
                    0,
                    0,
                    (
                        Field("rate", 3, 0, _RATES_6551),
                        Field("receiver clock", 4, 4, ("external", "internal")),
                        Field("length", 6, 5, ("8 bits", "7 bits", "6 bits", "5 bits")),
                        Field("stop bits", 7, 7, ("1", "2 (1.5 for 5 bits, 1 for 8 bits with parity)")),
                    ),
                ),
            ),
        ),
    ),
    (("/RTS", "request to send"), ("TXD", "serial data out"), ("/IRQ", "interrupt")),
    ("/IRQ",),
    (),
    (),
    "/RES low",
    "Synertek SY6551, Rockwell R6551; bit tables from memory",
    analog="XTLI XTLO",
)

# --- 6850: Motorola MC6850 DS9493; words read in a transcription and a list of 1982 ---

_6850 = Chip(
    "6850",
    "serial port",
    "VSS RXD RXCLK TXCLK /RTS TXD /IRQ CS0 /CS2 CS1 RS VCC R/W E D7 D6 D5 D4 D3 D2 D1 D0 /DCD /CTS",
    ("RS",),
    Bus(("CS0", "CS1"), ("/CS2",), clock="E", rw="R/W"),
    (
        Inner(
            "control",
            "0",
            "w",
            forms=(
                Form("master reset", 0x03, 0x03, ()),
                Form(
                    "control",
                    0,
                    0,
                    (
                        Field("clock divided by", 1, 0, ("1", "16", "64", "master reset")),
                        Field("format", 4, 2, ("7E2", "7O2", "7E1", "7O1", "8N2", "8N1", "8E1", "8O1")),
                        Field(
                            "transmitter",
                            6,
                            5,
                            (
                                "/RTS low, interrupt off",
                                "/RTS low, interrupt on",
                                "/RTS high, interrupt off",
                                "/RTS low, break, interrupt off",
                            ),
                        ),
                        Field("receive interrupt", 7, 7, OFF_ON),
                    ),
                ),
            ),
        ),
        Inner(
            "status",
            "0",
            "r",
            bits=(
                "received data full",
                "data to send empty",
                "/DCD",
                "/CTS",
                "framing error",
                "overrun",
                "parity error",
                "interrupt",
            ),
            shows=((3, "/CTS", False),),
        ),
        Inner("data to send", "1", "w"),
        Inner("received data", "1", "r"),
    ),
    (("/RTS", "request to send"), ("TXD", "serial data out"), ("/IRQ", "interrupt")),
    ("/IRQ",),
    (),
    (),
    "a control word that ends in 11",
    "Motorola MC6850 DS9493 (transcription); pins from memory",
)

# --- 8250: National INS8250; registers read in two port lists, MCR, LSR and MSR from memory ---

_8250 = Chip(
    "8250",
    "serial port with baud rate generator",
    "D0 D1 D2 D3 D4 D5 D6 D7 RCLK SIN SOUT CS0 CS1 /CS2 /BAUDOUT XTAL1 XTAL2 /DOSTR DOSTR VSS /DISTR DISTR DDIS CSOUT"
    " /ADS A2 A1 A0 NC INTRPT /OUT2 /RTS /DTR /OUT1 MR /CTS /DSR /RLSD /RI VCC",
    ("A2", "A1", "A0"),
    Bus(("CS0", "CS1"), ("/CS2", "/ADS"), reads=("/DISTR", "DISTR"), writes=("/DOSTR", "DOSTR")),
    (
        Inner("received data", "000", "r", when="bit 7 of line control is 0, else divisor low"),
        Inner("data to send", "000", "w", when="bit 7 of line control is 0, else divisor low"),
        Inner(
            "interrupt enable",
            "001",
            "rw",
            when="bit 7 of line control is 0, else divisor high",
            forms=(
                Form("interrupt enable", 0, 0, _flags("received data", "data to send empty", "line", "modem lines")),
            ),
        ),
        Inner(
            "interrupt cause",
            "010",
            "r",
            forms=(
                Form(
                    "interrupt cause",
                    0,
                    0,
                    (
                        Field("pending", 0, 0, ("yes", "no")),
                        Field("cause", 2, 1, ("modem lines", "data to send empty", "received data", "line")),
                    ),
                ),
            ),
        ),
        Inner(
            "line control",
            "011",
            "rw",
            forms=(
                Form(
                    "line control",
                    0,
                    0,
                    (
                        Field("length", 1, 0, ("5 bits", "6 bits", "7 bits", "8 bits")),
                        Field("stop bits", 2, 2, ("1", "2 (1.5 for 5 bits)")),
                        Field("parity", 5, 3, ("none", "odd", "none", "even", "none", "mark", "none", "space")),
                        Field("break", 6, 6, OFF_ON),
                        Field("addresses 0 and 1 reach", 7, 7, ("data and interrupt enable", "divisor")),
                    ),
                ),
            ),
        ),
        Inner(
            "modem control",
            "100",
            "rw",
            forms=(Form("modem control", 0, 0, _flags("DTR", "RTS", "OUT1", "OUT2", "loop")),),
            drives=((0, "/DTR", True, ""), (1, "/RTS", True, ""), (2, "/OUT1", True, ""), (3, "/OUT2", True, "")),
        ),
        Inner(
            "line status",
            "101",
            "r",
            bits=(
                "received data full",
                "overrun",
                "parity error",
                "framing error",
                "break",
                "data to send empty",
                "transmitter empty",
                "",
            ),
        ),
        Inner(
            "modem status",
            "110",
            "r",
            bits=("CTS changed", "DSR changed", "RI ended", "DCD changed", "CTS", "DSR", "RI", "DCD"),
            shows=((4, "/CTS", True), (5, "/DSR", True), (6, "/RI", True), (7, "/RLSD", True)),
        ),
        Inner("scratch", "111", "rw", note="the first 8250 has none"),
    ),
    (
        ("INTRPT", "interrupt"),
        ("SOUT", "serial data out"),
        ("/BAUDOUT", "rate clock"),
        ("CSOUT", "selected"),
        ("DDIS", "not being read"),
    ),
    (),
    (),
    (("line status", 0x60), ("interrupt cause", 0x01)),
    "MR high",
    "National INS8250; modem and line registers from memory",
    analog="XTAL1 XTAL2",
)

# --- 8251: Intel 8251A 205222, from memory ---

_8251_MODE = Form(
    "mode",
    0,
    0,
    (
        Field("clock divided by", 1, 0, ("synchronous", "1", "16", "64")),
        Field("length", 3, 2, ("5 bits", "6 bits", "7 bits", "8 bits")),
        Field("parity", 5, 4, ("none", "odd", "none", "even")),
        Field("stop bits", 7, 6, ("", "1", "1.5", "2")),
    ),
)
_8251_COMMAND = Form(
    "command",
    0,
    0,
    (
        Field("transmitter", 0, 0, OFF_ON),
        Field("/DTR", 1, 1, ("high", "low")),
        Field("receiver", 2, 2, OFF_ON),
        Field("break", 3, 3, OFF_ON),
        Field("clear errors", 4, 4, ("no", "yes")),
        Field("/RTS", 5, 5, ("high", "low")),
        Field("back to the mode word", 6, 6, ("no", "yes")),
        Field("hunt", 7, 7, OFF_ON),
    ),
)
_8251 = Chip(
    "8251",
    "serial port",
    "D2 D3 RXD GND D4 D5 D6 D7 /TXC /WR /CS C/D /RD RXRDY TXRDY SYNDET /CTS TXEMPTY TXD CLK RESET /DSR /RTS /DTR /RXC"
    " VCC D0 D1",
    ("C/D",),
    Bus((), ("/CS",), reads=("/RD",), writes=("/WR",)),
    (
        Inner("received data", "0", "r"),
        Inner("data to send", "0", "w"),
        Inner(
            "mode and command",
            "1",
            "w",
            note="the first word after reset is the mode, later ones are commands",
            forms=(_8251_MODE, _8251_COMMAND),
            drives=((1, "/DTR", True, "it is a command"), (5, "/RTS", True, "it is a command")),
        ),
        Inner(
            "status",
            "1",
            "r",
            bits=(
                "ready to take data",
                "received data full",
                "transmitter empty",
                "parity error",
                "overrun",
                "framing error",
                "sync or break",
                "DSR",
            ),
            shows=((7, "/DSR", True),),
        ),
    ),
    (
        ("RXRDY", "received data full"),
        ("TXRDY", "ready to take data"),
        ("TXEMPTY", "transmitter empty"),
        ("SYNDET", "sync or break"),
        ("TXD", "serial data out"),
    ),
    (),
    (),
    (),
    "RESET high, or bit 6 of a command",
    "Intel 8251A 205222, from memory",
)

CHIPS: dict[str, Chip] = {
    chip.name: chip
    for chip in (
        _8255,
        _pia("6520", "MOS Technology MCS6520"),
        _pia("6821", "Motorola MC6821 DS9435"),
        _6522,
        _6530,
        _6532,
        _6551,
        _6850,
        _8250,
        _8251,
        *MEMORIES,
    )
}
"""Programmable chips by type number.  The 8212 has no register inside to program: it is a latch of the catalogue."""

BAUD_CLOCK_8250 = 1_843_200
"""Hertz of the usual crystal of an 8250 (port lists of the PC's adapter); the divisor is this / (16 x rate)."""

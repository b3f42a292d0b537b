"""The rules of each programmable chip: what a write does, what a read shows, which pins follow.

Sources as in the facts.  Strobed modes of the 8255: order 231308, the tables of port C; the 6821's and 6522's control
lines: from memory of their sheets.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from latchlore.board._chipstate import ChipState, PinState, Rules, Seen
from latchlore.board.memoryfacts import MEMORIES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from latchlore.board._chipparts import Inner

IN = PinState(is_output=False)


def out(level: int | None) -> PinState:
    """An output at a level."""
    return PinState(is_output=True, level=level)


def first_of(_state: ChipState, found: tuple[Inner, ...], _access: str) -> str:
    """The register that the select pins name."""
    return found[0].name


def no_edge(state: ChipState, _pin: str, _level: int) -> ChipState:
    """Edges do nothing."""
    return state


def port_pins(stem: str, latch: int, direction: int) -> dict[str, PinState]:
    """Eight pins by latch and direction word (1 = output)."""
    return {f"{stem}{k}": out(latch >> k & 1) if direction >> k & 1 else IN for k in range(8)}


def show_pins(stem: str, levels: Mapping[str, int], pins: Mapping[str, PinState], *, own: bool = False) -> Seen:
    """Eight pins as they read: a level given from outside, else an output's own; `own`: outputs read their latch."""
    word = known = 0
    for k in range(8):
        name = f"{stem}{k}"
        mine = pins[name].level if name in pins and pins[name].is_output else None
        level = mine if own and mine is not None else levels.get(name, mine)
        if level is not None:
            word, known = word | level << k, known | 1 << k
    return Seen(word, known)


# --- 8255 ---


def _modes(state: ChipState) -> tuple[int, int]:
    control = state.word("control")
    return min(control >> 5 & 3, 2), control >> 2 & 1


def _strobed(state: ChipState) -> dict[str, str]:
    """Pins of port C that the strobed modes take: pin → what it is."""
    mode_a, mode_b = _modes(state)
    control = state.word("control")
    taken: dict[str, str] = {}
    if mode_a == 2 or (mode_a == 1 and not control & 0x10):
        taken |= {"PC7": "/OBF A", "PC6": "/ACK A", "PC3": "INTR A"}
    if mode_a == 2 or (mode_a == 1 and control & 0x10):
        taken |= {"PC5": "IBF A", "PC4": "/STB A", "PC3": "INTR A"}
    if mode_b and not control & 0x02:
        taken |= {"PC1": "/OBF B", "PC2": "/ACK B", "PC0": "INTR B"}
    if mode_b and control & 0x02:
        taken |= {"PC1": "IBF B", "PC2": "/STB B", "PC0": "INTR B"}
    return taken


def write_8255(state: ChipState, inner: Inner, word: int) -> ChipState:
    """A mode word clears the port latches (order 231308, "mode definition"); a bit word sets one bit of port C."""
    if inner.name == "control":
        if word & 0x80:
            return ChipState(state.chip, (("control", word),))
        bit = 1 << (word >> 1 & 7)
        latch = state.word("port C")
        return state.put("port C", latch | bit if word & 1 else latch & ~bit)
    if inner.name == "port C":
        kept = sum(1 << int(pin[2]) for pin in _strobed(state))
        return state.put("port C", (state.word("port C") & kept) | (word & ~kept))
    letter = inner.name[-1]
    state = state.put(inner.name, word)
    if f"/OBF {letter}" in _strobed(state).values():
        state = state.flag(f"full out {letter}").flag(f"INTR {letter} out", on=False)
    return state


def _interrupt_on(state: ChipState, letter: str, way: str) -> bool:
    bit = {("A", "out"): 6, ("A", "in"): 4, ("B", "out"): 2, ("B", "in"): 2}[letter, way]
    return bool(state.word("port C") >> bit & 1)


def edge_8255(state: ChipState, pin: str, level: int) -> ChipState:
    """/STB fills the input buffer, /ACK empties the output buffer; their rise asks for an interrupt if switched on."""
    role = _strobed(state).get(pin, "")
    letter = role[-1:]
    if role.startswith("/STB"):
        if not level:
            return state.flag(f"full in {letter}")
        if f"full in {letter}" in state.flags and _interrupt_on(state, letter, "in"):
            return state.flag(f"INTR {letter} in")
    if role.startswith("/ACK"):
        if not level:
            return state.flag(f"full out {letter}", on=False)
        if f"full out {letter}" not in state.flags and _interrupt_on(state, letter, "out"):
            return state.flag(f"INTR {letter} out")
    return state


def pins_8255(state: ChipState) -> dict[str, PinState]:
    """Ports by the control word; port C's strobed pins by what happened."""
    control, mode_a = state.word("control"), _modes(state)[0]
    found = port_pins("PA", state.word("port A"), 0 if control & 0x10 else 0xFF)
    if mode_a == 2:
        found = {f"PA{k}": out(None) for k in range(8)}  # drives only while /ACK is low
    found |= port_pins("PB", state.word("port B"), 0 if control & 0x02 else 0xFF)
    direction = (0 if control & 0x08 else 0xF0) | (0 if control & 0x01 else 0x0F)
    found |= port_pins("PC", state.word("port C"), direction)
    for pin, role in _strobed(state).items():
        letter = role[-1]
        if role.startswith("/OBF"):
            found[pin] = out(int(f"full out {letter}" not in state.flags))
        elif role.startswith("IBF"):
            found[pin] = out(int(f"full in {letter}" in state.flags))
        elif role.startswith("INTR"):
            found[pin] = out(int(bool({f"INTR {letter} in", f"INTR {letter} out"} & state.flags)))
        else:
            found[pin] = IN
    return found


def read_8255(state: ChipState, inner: Inner, levels: Mapping[str, int]) -> tuple[Seen, ChipState]:
    """Ports read their pins; port C in a strobed mode shows the flags and, at the strobe inputs, the interrupt bits."""
    stem = inner.port
    seen = show_pins(stem, levels, pins_8255(state))
    if stem == "PC":
        word, known = seen
        for pin, role in _strobed(state).items():
            bit = int(pin[2])
            if role[0] == "/" and not role.startswith("/OBF"):
                level = state.word("port C") >> bit & 1
                word, known = (word & ~(1 << bit)) | level << bit, known | 1 << bit
        return Seen(word, known), state
    letter = inner.name[-1]
    if f"IBF {letter}" in _strobed(state).values():
        state = state.flag(f"full in {letter}", f"INTR {letter} in", on=False)
    return seen, state


# --- 6520 and 6821 ---


def pick_pia(state: ChipState, found: tuple[Inner, ...], _access: str) -> str:
    """Bit 2 of the control register decides between port and direction."""
    name = found[0].name
    if name.startswith("port") and not state.word(f"control {name[-1]}") & 0x04:
        return f"direction {name[-1]}"
    return name


def _second_pin(state: ChipState, letter: str) -> PinState:
    """CA2 or CB2."""
    mode = state.word(f"control {letter}") >> 3 & 7
    if mode < 4:
        return IN
    return out({6: 0, 7: 1}.get(mode, int(f"C{letter}2 low" not in state.flags)))


def _handshake(state: ChipState, letter: str) -> ChipState:
    mode = state.word(f"control {letter}") >> 3 & 7
    if mode == 4:
        return state.flag(f"C{letter}2 low")
    return ChipState(state.chip, state.words, state.flags, (f"C{letter}2",)) if mode == 5 else state


def write_pia(state: ChipState, inner: Inner, word: int) -> ChipState:
    """Control words keep their two flags, which no write sets; a write of port B starts CB2's handshake."""
    if inner.name.startswith("control"):
        return state.put(inner.name, word & 0x3F)
    state = state.put(inner.name, word)
    return _handshake(state, "B") if inner.name == "port B" else state


def read_pia(state: ChipState, inner: Inner, levels: Mapping[str, int]) -> tuple[Seen, ChipState]:
    """Port A reads its pins, port B the latch of its outputs; either clears its flags.  Reading A starts CA2."""
    letter = inner.name[-1]
    if inner.name.startswith("direction"):
        return Seen(state.word(inner.name), 0xFF), state
    if inner.name.startswith("control"):
        flags = (f"C{letter}1" in state.flags) << 7 | (f"C{letter}2" in state.flags) << 6
        return Seen(state.word(inner.name) | flags, 0xFF), state
    seen = show_pins(f"P{letter}", levels, pins_pia(state), own=letter == "B")
    state = state.flag(f"C{letter}1", f"C{letter}2", on=False)
    return seen, _handshake(state, "A") if letter == "A" else state


def pins_pia(state: ChipState) -> dict[str, PinState]:
    """Ports by latch and direction; CA2 and CB2 by their control words; the interrupt outputs pull low or let go."""
    found: dict[str, PinState] = {}
    for letter in "AB":
        found |= port_pins(f"P{letter}", state.word(f"port {letter}"), state.word(f"direction {letter}"))
        found[f"C{letter}2"] = _second_pin(state, letter)
        control = state.word(f"control {letter}")
        asked = (control & 1 and f"C{letter}1" in state.flags) or (
            control & 0x28 == 0x08 and f"C{letter}2" in state.flags
        )
        found[f"/IRQ{letter}"] = out(int(not asked))
    return found


def edge_pia(state: ChipState, pin: str, level: int) -> ChipState:
    """The edge that the control word names sets a flag; on C1 it ends a handshake of C2."""
    if len(pin) != 3 or pin[0] != "C" or pin[1] not in "AB":
        return state
    letter, control = pin[1], state.word(f"control {pin[1]}")
    if pin[2] == "1" and level == (control >> 1 & 1):
        return state.flag(pin).flag(f"C{letter}2 low", on=False)
    if pin[2] == "2" and not control & 0x20 and level == (control >> 4 & 1):
        return state.flag(pin)
    return state


# --- 6522 ---

_VIA_FLAGS = {"CA2": 0, "CA1": 1, "CB2": 3, "CB1": 4}


def _via_mode(state: ChipState, letter: str) -> int:
    return state.word("peripheral control") >> (1 if letter == "A" else 5) & 7


def _via_access(state: ChipState, letter: str, *, starts: bool) -> ChipState:
    """An access to a port with handshake: clears its flags, starts C2's handshake or pulse."""
    mode = _via_mode(state, letter)
    state = state.flag(f"C{letter}1", on=False)
    if mode not in (1, 3):
        state = state.flag(f"C{letter}2", on=False)
    if starts and mode == 4:
        state = state.flag(f"C{letter}2 low")
    if starts and mode == 5:
        state = ChipState(state.chip, state.words, state.flags, (f"C{letter}2",))
    return state


def write_via(state: ChipState, inner: Inner, word: int) -> ChipState:
    """The port registers share one latch; a one written to a flag clears it; enable bits are set or cleared."""
    name = inner.name
    if name == "interrupt flags":
        return state.flag(*(flag for flag, bit in _VIA_FLAGS.items() if word >> bit & 1), on=False)
    if name == "interrupt enable":
        had = state.word(name)
        return state.put(name, had | (word & 0x7F) if word & 0x80 else had & ~word & 0x7F)
    if name == "port B":
        return _via_access(state.put("port B", word), "B", starts=True)
    if name == "port A with handshake":
        return _via_access(state.put("port A", word), "A", starts=True)
    if name == "port A without handshake":
        return state.put("port A", word)
    return state.put(name, word)


def read_via(state: ChipState, inner: Inner, levels: Mapping[str, int]) -> tuple[Seen, ChipState]:
    """Port A reads its pins, port B the latch of its outputs; timers and the shift register are not known."""
    name = inner.name
    if inner.port:
        letter = inner.port[1]
        seen = show_pins(inner.port, levels, pins_via(state), own=letter == "B")
        if name.endswith("without handshake"):
            return seen, state
        # CB2's handshake starts on a write only
        return seen, _via_access(state, letter, starts=letter == "A")
    if name == "interrupt enable":
        return Seen(state.word(name) | 0x80, 0xFF), state
    if name == "interrupt flags":
        word = sum(1 << bit for flag, bit in _VIA_FLAGS.items() if flag in state.flags)
        return Seen(word | 0x80 if word & state.word("interrupt enable") else word, 0x1B), state
    if name.startswith(("timer", "shift")) and "latch" not in name:
        return Seen(0, 0), state
    return Seen(state.word(name), 0xFF), state


def pins_via(state: ChipState) -> dict[str, PinState]:
    """Ports by latch and direction, PB7 by timer 1 where it has it; CA2 and CB2 by the peripheral control word."""
    found: dict[str, PinState] = {}
    for letter in "AB":
        found |= port_pins(f"P{letter}", state.word(f"port {letter}"), state.word(f"direction {letter}"))
        mode = _via_mode(state, letter)
        level = {6: 0, 7: 1}.get(mode, int(f"C{letter}2 low" not in state.flags))
        found[f"C{letter}2"] = IN if mode < 4 else out(level)
    if state.word("auxiliary control") & 0x80:
        found["PB7"] = out(None)
    word = sum(1 << bit for flag, bit in _VIA_FLAGS.items() if flag in state.flags)
    found["/IRQ"] = out(int(not word & state.word("interrupt enable")))
    return found


def edge_via(state: ChipState, pin: str, level: int) -> ChipState:
    """The edge that the peripheral control word names sets a flag; on C1 it ends a handshake of C2."""
    if pin not in _VIA_FLAGS:
        return state
    letter, control = pin[1], state.word("peripheral control")
    if pin[2] == "1":
        if level == control >> (0 if letter == "A" else 4) & 1:
            return state.flag(pin).flag(f"C{letter}2 low", on=False)
    elif _via_mode(state, letter) < 4 and level == _via_mode(state, letter) >> 1:
        return state.flag(pin)
    return state


# --- 6530 and 6532 ---


def write_riot(state: ChipState, inner: Inner, word: int) -> ChipState:
    """Ports and directions hold what is written."""
    return state.put(inner.name, word)


def read_riot(state: ChipState, inner: Inner, levels: Mapping[str, int]) -> tuple[Seen, ChipState]:
    """Ports read their pins, port B the latch of its outputs; RAM, timer and flags are not known."""
    if inner.port:
        return show_pins(inner.port, levels, pins_riot(state), own=inner.port == "PB"), state
    known = 0xFF if inner.name.startswith("direction") else 0
    return Seen(state.word(inner.name) & known, known), state


def pins_riot(state: ChipState) -> dict[str, PinState]:
    """Ports by latch and direction."""
    return port_pins("PA", state.word("port A"), state.word("direction A")) | port_pins(
        "PB", state.word("port B"), state.word("direction B")
    )


# --- serial chips ---


def write_word(state: ChipState, inner: Inner, word: int) -> ChipState:
    """Registers hold what is written."""
    return state.put(inner.name, word)


def read_shown(state: ChipState, inner: Inner, levels: Mapping[str, int]) -> tuple[Seen, ChipState]:
    """A register that can be written reads as written; a status shows its pins, the rest is not known."""
    if "w" in inner.access:
        return Seen(state.word(inner.name), 0xFF), state
    word = known = 0
    for bit, pin, inverted in inner.shows:
        if pin in levels:
            word, known = word | (levels[pin] ^ inverted) << bit, known | 1 << bit
    if state.chip == "6850" and inner.name == "status" and levels.get("/CTS"):
        known |= 0x02  # no data is asked for while clear to send is high
    return Seen(word, known), state


def write_6551(state: ChipState, inner: Inner, word: int) -> ChipState:
    """A programmed reset clears the lower five bits of the command word."""
    if inner.name == "programmed reset":
        return state.put("command", state.word("command") & 0xE0)
    return state.put(inner.name, word)


def pins_6551(state: ChipState) -> dict[str, PinState]:
    """/DTR and /RTS by the command word."""
    command = state.word("command")
    return {"/DTR": out(int(not command & 1)), "/RTS": out(int(command >> 2 & 3 == 0))}


def pins_6850(state: ChipState) -> dict[str, PinState]:
    """/RTS by the control word."""
    return {"/RTS": out(int(state.word("control") >> 5 & 3 == 2))}


def pick_8250(state: ChipState, found: tuple[Inner, ...], _access: str) -> str:
    """Bit 7 of the line control register puts the divisor at addresses 0 and 1."""
    if state.word("line control") & 0x80 and found[0].code in ("000", "001"):
        return "divisor low" if found[0].code == "000" else "divisor high"
    return found[0].name


def pins_8250(state: ChipState) -> dict[str, PinState]:
    """The four modem outputs are the opposite of their bits; in loop they stay high."""
    control = state.word("modem control")
    bits = 0 if control & 0x10 else control
    names = ("/DTR", "/RTS", "/OUT1", "/OUT2")
    return {name: out(1 - (bits >> k & 1)) for k, name in enumerate(names)}


def read_8250(state: ChipState, inner: Inner, levels: Mapping[str, int]) -> tuple[Seen, ChipState]:
    """As written; after reset the line status says that both send buffers are empty."""
    if inner.name.startswith("divisor"):
        return Seen(state.word(inner.name), 0xFF), state
    return read_shown(state, inner, levels)


def write_8251(state: ChipState, inner: Inner, word: int) -> ChipState:
    """The first word after reset is the mode (two sync characters follow a synchronous one), then commands."""
    if inner.name != "mode and command":
        return state.put(inner.name, word)
    if "mode set" not in state.flags:
        state = state.put("mode", word).flag("mode set")
        return state if word & 3 else state.flag("sync 1", *(() if word & 0x80 else ("sync 2",)))
    for name in ("sync 1", "sync 2"):
        if name in state.flags:
            return state.put(name, word).flag(name, on=False)
    if word & 0x40:
        return ChipState(state.chip, ())
    return state.put("command", word)


def pins_8251(state: ChipState) -> dict[str, PinState]:
    """/DTR and /RTS are the opposite of their command bits."""
    command = state.word("command")
    return {"/DTR": out(1 - (command >> 1 & 1)), "/RTS": out(1 - (command >> 5 & 1))}


def write_memory(state: ChipState, _inner: Inner, _word: int) -> ChipState:
    """What a memory holds is not followed here."""
    return state


def read_memory(state: ChipState, _inner: Inner, _levels: Mapping[str, int]) -> tuple[Seen, ChipState]:
    """Not known."""
    return Seen(0, 0), state


def no_pins(_state: ChipState) -> dict[str, PinState]:
    """A memory has no pin that a program sets."""
    return {}


_MEMORY = Rules(write_memory, read_memory, no_pins, no_edge, first_of)
_PIA = Rules(write_pia, read_pia, pins_pia, edge_pia, pick_pia)
_RIOT = Rules(write_riot, read_riot, pins_riot, no_edge, first_of)

RULES: dict[str, Rules] = {
    "8255": Rules(write_8255, read_8255, pins_8255, edge_8255, first_of),
    "6520": _PIA,
    "6821": _PIA,
    "6522": Rules(write_via, read_via, pins_via, edge_via, first_of),
    "6530": _RIOT,
    "6532": _RIOT,
    "6551": Rules(write_6551, read_shown, pins_6551, no_edge, first_of),
    "6850": Rules(write_word, read_shown, pins_6850, no_edge, first_of),
    "8250": Rules(write_word, read_8250, pins_8250, no_edge, pick_8250),
    "8251": Rules(write_8251, read_shown, pins_8251, no_edge, first_of),
    **{chip.name: _MEMORY for chip in MEMORIES},
}

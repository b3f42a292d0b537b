"""Mistakes that one bench hour can make, to be planted into a generated study; each None where it would not show.

A plant counts as a contradiction by its construction alone: what it says and what others in the study say cannot both
be true.  `wrong` names the statements that are not true, as the study's files have them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests import generated_studies as g

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.generated_studies import Drawn, Plant


FOLLOWS = ("sequence burst", "a code of old")
"""What else cannot be brought together while the card seems to lie elsewhere."""


def _status(study: Drawn, bit: int) -> str:
    care, value = study.pattern(study.index["status"])
    del care
    address = f"{value:04X}" if study.cpu == "6502" else f"{value:02X}"
    return f"{'port ' if study.cpu == 'z80' else ''}{address} (read) bit {bit}"


def _on_board(*pins: str) -> frozenset[str]:
    return frozenset(f"{g.NETS}: {pin}" for pin in pins)


def _program_is_heard(study: Drawn) -> bool:
    """Whether the program's accesses reach the card as it is stated; else nothing it does can meet the card."""
    return study.said_high == study.high and study.said_low == study.low


def _log_is_free(study: Drawn) -> bool:
    """Whether no other mistake bears on the log, its sequence, or what follows from it."""
    return {"strap moved", "log of something else", "image byte wrong", "label wrong"}.isdisjoint(
        plant.kind for plant in study.plants
    )


def _busy_subjects(study: Drawn) -> tuple[str, ...]:
    return ("signal BUSY", _status(study, study.bit_of("BUSY")))


def inverter_missed(study: Drawn) -> Plant | None:
    """BUSY goes through an inverter, and the net file goes around it."""
    k = study.bit_of("BUSY")
    if not study.bits[k].inverted or study.said_bits[k] != study.bits[k] or not _sense_shows(study):
        return None
    study.said_bits[k].inverted = False
    wrong = _on_board(study.buffer_pin(k), f"j1.{study.number('BUSY')}")
    return g.Plant("inverter missed", _busy_subjects(study), wrong)


def inverter_imagined(study: Drawn) -> Plant | None:
    """BUSY goes straight, and the net file takes it through an inverter."""
    k = study.bit_of("BUSY")
    if study.bits[k].inverted or study.said_bits[k] != study.bits[k] or not _sense_shows(study):
        return None
    study.said_bits[k].inverted = True
    pins = [f"u7.{pin}" for pair in g.INVERTERS for pin in pair]
    wrong = _on_board(study.buffer_pin(k), f"j1.{study.number('BUSY')}", *pins)
    return g.Plant("inverter imagined", _busy_subjects(study), wrong)


def _is_free(study: Drawn, bit: int) -> bool:
    """Whether no other mistake bears on a status bit: two may make up for one another, and nobody could tell."""
    names = {_status(study, bit), "signal BUSY"} if bit == study.bit_of("BUSY") else {_status(study, bit)}
    return names.isdisjoint(name for plant in study.plants for name in (*plant.subjects, *plant.follows))


def _sense_shows(study: Drawn) -> bool:
    """Whether the sense of BUSY's bit meets something, and nothing else is wrong about it."""
    if not _is_free(study, study.bit_of("BUSY")):
        return False
    return _program_is_heard(study) and (study.levels_known() or study.said_busy_role is not None)


def level_misprinted(study: Drawn) -> Plant | None:
    """A manual has the level of BUSY the other way round."""
    if not _is_free(study, study.bit_of("BUSY")):
        return None
    if not _program_is_heard(study):
        return None
    if not study.manuals:
        return None
    manual = study.random.choice(study.manuals)
    row = manual.pins[study.number("BUSY")]
    if row.signal != "BUSY" or row.active != study.active("BUSY"):
        return None
    row.active = 1 - study.active("BUSY")
    return g.Plant("level misprinted", _busy_subjects(study), frozenset({manual.level_name("BUSY")}))


def plug_level_wrong(study: Drawn) -> Plant | None:
    """The net file's connector has the level of BUSY the other way round."""
    number = study.number("BUSY")
    if not _is_free(study, study.bit_of("BUSY")):
        return None
    if not _program_is_heard(study):
        return None
    if study.said_plug[number].active is None or study.said_plug[number] != study.plug[number]:
        return None
    study.said_plug[number].active = 1 - study.active("BUSY")
    return g.Plant("plug level wrong", _busy_subjects(study), _on_board(f"level j1.{number}"))


def _strobe_subjects(study: Drawn) -> tuple[str, ...]:
    _, value = study.pattern(study.index["control"])
    address = f"{value:04X}" if study.cpu == "6502" else f"port {value:02X}"
    return ("signal STROBE", f"{address} (write) bit {study.strobe_bit}")


def _strobe_is_free(study: Drawn) -> bool:
    """Whether the sense of the strobe's bit meets a level that somebody states, and nothing else is wrong about it."""
    if not _program_is_heard(study) or not study.levels_known():
        return False
    return not any("signal STROBE" in plant.subjects for plant in study.plants)


def strobe_inverter_missed(study: Drawn) -> Plant | None:
    """The strobe goes through an inverter, and the net file goes around it."""
    if not study.strobe_inverted or not _strobe_is_free(study):
        return None
    study.said_strobe_inverted = False
    wrong = _on_board(f"u5.{g.LATCH_OUT[study.strobe_bit]}", f"j1.{study.number('STROBE')}")
    return g.Plant("strobe inverter missed", _strobe_subjects(study), wrong)


def strobe_inverter_imagined(study: Drawn) -> Plant | None:
    """The strobe goes straight, and the net file takes it through an inverter."""
    if study.strobe_inverted or not _strobe_is_free(study):
        return None
    study.said_strobe_inverted = True
    pins = [f"u7.{pin}" for pair in g.INVERTERS for pin in pair]
    wrong = _on_board(f"u5.{g.LATCH_OUT[study.strobe_bit]}", f"j1.{study.number('STROBE')}", *pins)
    return g.Plant("strobe inverter imagined", _strobe_subjects(study), wrong)


def strobe_level_misprinted(study: Drawn) -> Plant | None:
    """A manual has the level of the strobe the other way round."""
    if not study.manuals or not _strobe_is_free(study):
        return None
    manual = study.random.choice(study.manuals)
    manual.pins[study.number("STROBE")].active = 1 - study.active("STROBE")
    return g.Plant("strobe level misprinted", _strobe_subjects(study), frozenset({manual.level_name("STROBE")}))


def strobe_plug_level_wrong(study: Drawn) -> Plant | None:
    """The net file's connector has the level of the strobe the other way round."""
    number = study.number("STROBE")
    if study.said_plug[number].active is None or not _strobe_is_free(study):
        return None
    study.said_plug[number].active = 1 - study.active("STROBE")
    return g.Plant("strobe plug level wrong", _strobe_subjects(study), _on_board(f"level j1.{number}"))


def control_latch_misread(study: Drawn) -> Plant | None:
    """The control latch, a '374, was read as the inverting '534."""
    if not _strobe_is_free(study):
        return None
    study.said_latch = "74ls534"
    return g.Plant("control latch misread", _strobe_subjects(study), _on_board("part u5"))


def pins_exchanged_in_manual(study: Drawn) -> Plant | None:
    """Two data pins of a manual's table changed places."""
    if not study.manuals:
        return None
    manual = study.random.choice(study.manuals)
    one, other = study.random.sample([study.number(f"DATA{k}") for k in range(1, 9)], 2)
    manual.pins[one], manual.pins[other] = manual.pins[other], manual.pins[one]
    wrong = frozenset({manual.pin_name(one), manual.pin_name(other)})
    return g.Plant("pins exchanged in a manual", (f"j1 pin {one}", f"j1 pin {other}"), wrong)


def pins_exchanged_on_plug(study: Drawn) -> Plant | None:
    """Two signals of the net file's connector changed places: the strobe's and a data line's."""
    if not study.manuals or study.said_lines < 8:
        return None
    one, other = study.random.sample([study.number(f"DATA{k}") for k in range(1, 9)], 2)
    plug = study.said_plug
    plug[one], plug[other] = plug[other], plug[one]
    wrong = _on_board(f"pin j1.{one}", f"pin j1.{other}")
    return g.Plant("pins exchanged on the plug", (f"j1 pin {one}", f"j1 pin {other}"), wrong)


def time_misprinted(study: Drawn) -> Plant | None:
    """A manual's least strobe width has one nought too many."""
    if not _program_is_heard(study):
        return None
    if not study.manuals:
        return None
    manual = study.random.choice(study.manuals)
    if manual.least_ns * 10_000 <= study.width_ps():
        return None
    manual.least_ns *= 10
    return g.Plant("time misprinted", ("strobe width",), frozenset({f"{manual.file}: strobe width (page 4, row 1)"}))


def meaning_differs(study: Drawn) -> Plant | None:
    """One of several manuals gives a code another meaning."""
    if len(study.manuals) < 2:
        return None
    manual = study.random.choice(study.manuals)
    row, code = study.random.choice(list(enumerate(manual.commands, 1)))
    manual.commands[code] = study.random.choice(g.OTHER_MEANINGS)
    return g.Plant("meaning differs", (f"code {code}",), frozenset({f"{manual.file}: code {code} (page 5, row {row})"}))


def data_line_missed(study: Drawn) -> Plant | None:
    """The joint of the highest data line was missed, and a manual wants eight."""
    if not study.manuals or study.said_plug != {
        k: g.Row(row.signal, row.direction, study.said_plug[k].active) for k, row in study.plug.items()
    }:
        return None
    study.said_lines = 7
    wrong = _on_board(f"u4.{g.LATCH_OUT[7]}", f"j1.{study.number('DATA8')}")
    return g.Plant("data line missed", ("data width",), wrong)


def address_line_wrong(study: Drawn) -> Plant | None:
    """An address line of the gate is another one than was traced; the program's address gives it away."""
    free = [
        line
        for line in (range(9, 16) if study.cpu == "6502" else range(2, 8))
        if line not in (*study.high, study.low) and not study.used["data"] >> line & 1
    ]
    if not free or study.said_high != study.high:
        return None
    if study.plants:
        return None  # the other mistake could not be seen any more
    place = study.random.randrange(3)
    study.said_high[place] = study.random.choice(free)
    return g.Plant("address line wrong", _data_subjects(study), _on_board(f"u1.{g.HIGH_PINS[place]}"), FOLLOWS)


def address_lines_exchanged(study: Drawn) -> Plant | None:
    """A line that must be high and the one that must be low changed places."""
    if study.said_high != study.high or study.said_low != study.low:
        return None
    if study.plants:
        return None  # the other mistake could not be seen any more
    place = study.random.randrange(3)
    study.said_high[place], study.said_low = study.said_low, study.said_high[place]
    return g.Plant(
        "address lines exchanged", _data_subjects(study), _on_board(f"u1.{g.HIGH_PINS[place]}", "u2.5"), FOLLOWS
    )


def _data_subjects(study: Drawn) -> tuple[str, ...]:
    lines = [*((line, 1) for line in study.said_high), (study.said_low, 0)]
    index = study.index["data"]
    lines += [(study.select[0], index & 1), (study.select[1], index >> 1)]
    value = sum(level << line for line, level in lines)
    return (f"register {value:04X} (write)" if study.cpu == "6502" else f"port {value:02X} (write)",)


def strap_moved(study: Drawn) -> Plant | None:
    """A strap was found in another position than it had when the log was taken, and the log tells."""
    if not _program_is_heard(study) or not _log_is_free(study):
        return None
    if len(study.straps) != 1 or study.bursts[0] == study.bursts[1]:
        return None
    [name] = study.straps
    if not _is_free(study, study.bit_of(name)):
        return None
    if study.said_straps[name] != study.straps[name]:
        return None
    study.said_straps[name] = 1 - study.straps[name]
    subjects = (f"strap {name.lower()}", _status(study, study.bit_of(name)))
    return g.Plant("strap moved", subjects, _on_board(f"strap {name.lower()}"))


def waits_on_open(study: Drawn) -> Plant | None:
    """The joint of BUSY at the status buffer was missed, and its pin taken for free."""
    k = study.bit_of("BUSY")
    if not _is_free(study, study.bit_of("BUSY")):
        return None
    if not _program_is_heard(study):
        return None
    if study.said_bits[k] != study.bits[k]:
        return None
    study.said_bits[k] = g.Bit()
    return g.Plant("joint missed", (_status(study, k),), _on_board(study.buffer_pin(k)), ("signal BUSY",))


def waits_on_tied(study: Drawn) -> Plant | None:
    """The pin of BUSY at the status buffer was taken for tied, to the level that never lets the program go on."""
    k = study.bit_of("BUSY")
    if not _is_free(study, study.bit_of("BUSY")):
        return None
    if not _program_is_heard(study):
        return None
    if study.said_bits[k] != study.bits[k]:
        return None
    goes_on = (1 - study.active("BUSY")) ^ study.bits[k].inverted
    study.said_bits[k] = g.Bit(level=1 - goes_on)
    return g.Plant("tied by mistake", (_status(study, k),), _on_board(study.buffer_pin(k)), ("signal BUSY",))


def label_wrong(study: Drawn) -> Plant | None:
    """The label claims what never was, or denies what was."""
    if not _program_is_heard(study) or not _log_is_free(study):
        return None
    if not study.claims:
        return None
    [name] = study.claims
    pattern, happens = study.claims[name]
    if happens and (pattern not in study.sent or b"".join(study.runs) != study.sent * len(study.runs)):
        return None  # that a program may send something does not contradict who says that it never did
    if happens and len(study.runs) < 3:
        return None
    study.said_claims[name] = not study.claims[name][1]
    return g.Plant("label wrong", (name,), frozenset({f"documents/label.toml: {name} (page 1)"}))


def image_byte_wrong(study: Drawn) -> Plant | None:
    """One byte of the burst in the image was read wrong in one bit."""
    if not _program_is_heard(study) or not _log_is_free(study):
        return None
    if study.said_image != bytes(study.code.data) or b"".join(study.runs) != study.sent * len(study.runs):
        return None
    if len(study.runs) < 3:
        return None
    k = 0 if study.sent == study.bursts[0] else 1
    at = study.code.labels["table"] - study.code.load + k * (len(study.bursts[0]) + 1)
    place = at + study.random.randrange(len(study.sent))
    image = bytearray(study.said_image)
    image[place] ^= 1 << study.random.randrange(7)
    study.said_image = bytes(image)
    return g.Plant("image byte wrong", ("sequence burst",), frozenset({g.ROM}), FOLLOWS)


def log_of_something_else(study: Drawn) -> Plant | None:
    """The log is another program's: it ends with bytes that this one never sends."""
    if not _program_is_heard(study) or not _log_is_free(study):
        return None
    if len(study.runs) < 3 or b"".join(study.runs) != study.sent * len(study.runs):
        return None
    study.runs = [study.sent[:-1] + b"\x01\x02"] * len(study.runs)
    return g.Plant("log of something else", ("sequence burst",), frozenset({g.LOG}))


def role_turned(study: Drawn) -> Plant | None:
    """study.toml has the sense of BUSY's bit the other way round."""
    if not _is_free(study, study.bit_of("BUSY")):
        return None
    if not _program_is_heard(study):
        return None
    k = study.bit_of("BUSY")
    if study.said_busy_role is None or study.said_bits[k] != study.bits[k]:
        return None
    study.said_busy_role = not study.bits[k].inverted
    return g.Plant("role turned", _busy_subjects(study), frozenset({f"{g.TOML}: role BUSY"}))


def part_misread(study: Drawn) -> Plant | None:
    """The status buffer, a '244, was read as the inverting '240."""
    k = study.bit_of("BUSY")
    if study.said_bits[k] != study.bits[k] or not _sense_shows(study):
        return None
    if not all(_is_free(study, study.bit_of(name)) for name in study.straps):
        return None
    study.said_buffer = "74ls240"
    follows = tuple(
        name for strap in study.straps for name in (f"strap {strap.lower()}", _status(study, study.bit_of(strap)))
    )
    return g.Plant("part misread", _busy_subjects(study), _on_board("part u6"), follows)


def status_joints_exchanged(study: Drawn) -> Plant | None:
    """The joint of BUSY was written down for a free pin of the status buffer, and the other way round."""
    k = study.bit_of("BUSY")
    free = [n for n, bit in enumerate(study.bits) if bit == g.Bit() and study.said_bits[n] == bit]
    if not _is_free(study, study.bit_of("BUSY")):
        return None
    if not free or study.said_bits[k] != study.bits[k] or not _program_is_heard(study):
        return None
    other = study.random.choice(free)
    study.said_bits[k], study.said_bits[other] = study.said_bits[other], study.said_bits[k]
    wrong = _on_board(study.buffer_pin(k), study.buffer_pin(other), f"j1.{study.number('BUSY')}")
    return g.Plant("status joints exchanged", (_status(study, k),), wrong, ("signal BUSY",))


def branch_misread(study: Drawn) -> Plant | None:
    """The branch of the polling loop was read with one bit wrong: it waits for the other level."""
    if not study.levels_known():
        return None
    if study.said_image != bytes(study.code.data) or not _sense_shows(study):
        return None
    if study.said_bits != study.bits or study.said_buffer != "74ls244":
        return None
    poll = study.code.labels["poll"]
    at = poll - study.code.load + (5 if study.cpu == "6502" else 4)
    image = bytearray(study.said_image)
    image[at] ^= 0x20 if study.cpu == "6502" else 0x08
    study.said_image = bytes(image)
    wrong = frozenset({f"{g.ROM}: at {poll:04X}", g.ROM})
    return g.Plant("branch misread", _busy_subjects(study), wrong, FOLLOWS)


def clock_wrong(study: Drawn) -> Plant | None:
    """The clock was taken for eight times as fast as it is, so that the strobe seems too short."""
    if study.said_clock != study.clock or not _program_is_heard(study):
        return None
    least = max((manual.least_ns for manual in study.manuals), default=0)
    if least * 8000 <= study.width_ps() or any(m.least_ns * 1000 > study.width_ps() for m in study.manuals):
        return None
    study.said_clock = study.clock * 8
    return g.Plant("clock wrong", ("strobe width",), frozenset({f"{g.TOML}: clock"}))


PLANTS: dict[str, Callable[[Drawn], Plant | None]] = {
    one.__name__: one
    for one in (
        inverter_missed, inverter_imagined, level_misprinted, plug_level_wrong, pins_exchanged_in_manual,
        pins_exchanged_on_plug, time_misprinted, meaning_differs, data_line_missed, address_line_wrong,
        address_lines_exchanged, strap_moved, waits_on_open, waits_on_tied, label_wrong, image_byte_wrong,
        log_of_something_else, role_turned, part_misread, status_joints_exchanged, branch_misread,
        clock_wrong, strobe_inverter_missed, strobe_inverter_imagined, strobe_level_misprinted, strobe_plug_level_wrong,
        control_latch_misread,
    )
}  # fmt: skip


def draw(seed: int) -> Drawn:
    """A study, and mistakes in it: none in two of six studies, else one to three of different kinds."""
    study = g.Drawn(seed)
    count = study.random.choice((0, 0, 1, 1, 2, 3))
    kinds = sorted(PLANTS)
    study.random.shuffle(kinds)
    for kind in kinds:
        if len(study.plants) == count:
            break
        plant = PLANTS[kind](study)
        if plant is not None:
            study.plants.append(plant)
    return study

"""Sentences of the bench sheet, and of what a trial is wired to."""

from __future__ import annotations

HEAD = "BENCH SHEET"
STUDY = "study: {title}"
QUESTION = "question: {name}: {text}"
CAUTION = "CAUTION ({hazard}): {caution}"
OWN_CAUTION = "CAUTION of this trial: {caution}"
FORESEEN = "Foreseen, printed before it is done:"
MARK = "What it showed (mark one box):"

NO_TRIAL = "is no bench sheet: the line `trial: NAME` is missing"
NO_BOX = "no box is marked; put an x into one: [x]"
TWO_BOXES = "two boxes are marked, {first!r} and {saw!r}; an outcome is one of them"
SURE = "how sure you are is percent, above 0 to 100, not {text!r}"

PROBES = "Power off: one probe on {first}, the other on {second}; the meter tells joined or apart."
DATA = "Channel 1: D{bit} at {pins}."
GROUND = "The instrument's ground goes to {pins} first, before any channel."
CONTROL = "Channel {number}: {signal} at {pins} ({level})."
ADDRESS = "Channels {first} to {last}: {lines}; these levels are {place}."
ADDRESS_LINE = "{signal} {level} at {pins}"
HELD = "Hold {signal} {level} at {pins}: through 1 kilohm, and only where nothing else drives it."
LEVELS = ("low", "high")
NO_PIN = "a pin still to be found"
LOOK = "Look at D{bit} while the program reads {place}; take three such reads."
RATE = "Sample at {rate} or faster (ten samples a clock cycle, common practice); its inputs must stand 5 V."
LENGTH = (
    "Record from before the reads until three of them are in: 1,000,000 samples last {length} at that rate; where the "
    "memory is shorter, start the record at the address."
)
LENGTH_UNKNOWN = (
    "Record from before the reads until three of them are in; where the memory is short, start at the address."
)
RATE_UNKNOWN = "Sample ten times a clock cycle or faster (common practice); its inputs must stand 5 V."
SEND = "Send {data}, and nothing else, at the levels of 5 V logic, the grounds joined first."
RAMP = (
    "Send bytes 0 to {last} with the value of their number, one every {period}, strobe {strobe}, at the levels "
    "of 5 V logic, the grounds joined first; it lasts {length}."
)
LOG = "Log what the listener hears, and look for byte {byte}."


def runs(needed: int | None, times: int, enough: str) -> str:
    """How often it is done."""
    if needed is None:
        return f"Runs: by itself this trial does not decide with a chance of 90%, however often; {times} may count."
    more = "" if needed <= times else f", of which {times} may count: raise `times` first"
    return f"Runs: {needed} for one rival to reach {enough} with a chance of 90% by this trial alone{more}."

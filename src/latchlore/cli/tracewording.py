"""The sentences of `latchlore board trace`."""

CAUTION = """\
Before a probe touches the board:
  - the machine is off, unplugged, and the board out of it or all its cables off; batteries on the board are out;
  - the supply pins are measured first and show no voltage; large capacitors are discharged through a resistor;
  - the meter is on a range that puts less than 0.3 V on its probes (a low-voltage continuity or low-ohms range),
    so that junctions are not taken for joints and old chips not stressed;
  - you wear a wrist strap: a strip of foil and a probe carry static into the most delicate pins.
Mains, picture tubes and anything that keeps a charge are left to licensed practice and your local codes."""
READY = "Press Enter when all of that is so; q to stop. "
NOT_CONFIRMED = "Nothing was read."

HELP = """\
  Enter               nothing beeped (for a single pin: it did not)
  3 5                 pins 3 and 5 of the row beeped            y    the single pin beeped
  5 ohms 7 30         pin 5 beeped, pin 7 showed 30 ohms        diode 6   pin 6 showed a junction
  lifted u1 u2        these parts are out of their sockets from here on; lifted none
  side solder         the probes stand on the solder side from here on; side parts
  joined u1.3 u2.5    a reading of your own, also apart, ohms, diode, or hold and sweep (docs/readings.md)
  undo                takes back the last reading               strip off   no strip of foil; strip on
  list                what is not done, doubted, likely wrong   likely      pins likeliest to beep
  q                   stops; every answer is kept already"""
PROMPT = "beeped: "
PROMPT_PIN = "beeped (y): "

HEADER = "{taken} read, about {left} to go, about {missing:.1f} joints not found yet"
HOLD = "Hold {held}, drag along {owner} pins {row}."
TOUCH = "Hold {held}, touch {other}."
PRESS = "Press a strip of foil on {strip} (touch each pin once: all must beep), drag along {owner} pins {row}."
STILL = "The strip stays on {strip}; drag along {owner} pins {row}."
WHY = "  {words}"
LIKELY = "  likely to beep: {pins}"
DONE = "Nothing likely is left to be read; what has not been read may still be joined."
UNDONE = "Took back: {line}"
NOTHING_TO_UNDO = "There is no reading to take back in {file}."
KEPT = "Readings are kept in {file}."

NOT_DONE = "Not done"
SECTION = "{owner} pins {pins}: not done {left}"
ALL_DONE = "every section has been read as far as it is likely to matter"
DISAGREE = "Readings against each other, or against a rule"
CULPRIT = "{words}; likeliest wrong: {first} to {second}{places}"
DOUBTED = "Joints to be doubted"
JOINT = "{first} to {second}: {share:.1%}{unused}"
UNUSED = ", not used"
ASIDE = "Kept and not believed as a joint: {count} readings of a resistance or a junction"
SANDED = "Types that chips without marking can still be"
TYPES = "{name}: {types}"
NO_TYPE = "none of the catalogue"

"""The sentences of `latchlore board trace`."""

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

WHY = "  {words}"
LIKELY = "  likely to beep: {pins}"
UNDONE = "Took back: {line}"
NOTHING_TO_UNDO = "There is no reading to take back in {file}."
KEPT = "Readings are kept in {file}."

NOT_DONE = "Not done"
DISAGREE = "Readings against each other, or against a rule"
DOUBTED = "Joints to be doubted"
SANDED = "Types that chips without marking can still be"

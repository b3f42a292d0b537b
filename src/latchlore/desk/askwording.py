"""The sentences of the forms on which a question is asked and a trial is added."""

QUESTION_LEAD = (
    "What is not settled yet, two or more answers to it, and perhaps a first trial that could tell. It lands in "
    "questions.toml; nothing is weighed differently by asking."
)
TRIAL_LEAD = "What could tell the rivals apart. What it will show is said under each of them before it is done."

NAME_HINT = "Short, such as inverter."
ENOUGH_HINT = "In percent, above 50 and below 100; empty: 95."
UNIT_HINT = "Empty: minutes."

RIVALS = "The rivals: the answers that it may have"
RIVALS_HINT = (
    "One of them is taken to be true. A weight stands against the others' (empty: 1). Only where a trial is computed "
    "from them: a document's name, or what is different on the board of this rival, as statements of a net file, one a "
    "line, such as 'strap w2 joined' or 'drop net sel'."
)
NO_DOCUMENT = ("", "none")

TRIAL = "A trial that could tell them apart"
TRIAL_OPTIONAL = "It may wait: leave all of this empty, and add trials later."
NO_TRIAL = "no trial yet"
HAZARD = "What it does to people and machines"
OWN_CAUTION = "A caution of your own, beside that of its hazard"
COST_HINT = "In the question's unit; empty: 1."
TIMES_HINT = "Empty: once; at most 20 times."

WAY = "What it will show: fill in one of these"
STATED = "You state the chances"
OUTCOMES = "Outcomes, each with its chance"
STATED_HINT = "In percent: under each rival they add up to 100 (or to 1)."
JOINED = "A meter joins two pins: computed from the nets"
PIN_HINT = "As a net file writes it, such as u9.15; the power is off."
READ = "A register bit is read: computed by decoding the board"
BIT_HINT = "Such as C801 bit 7."
SIGNAL_HINT = "Where a signal is held meanwhile, its name and its level."
SEND = "Bytes are sent: computed by reading them with each rival's document"
SEND_HINT = "Such as 1B 4B 41."
LISTENER = "Bytes are sent at an even pace: computed from each rival's listener"
PERIOD_HINT = "From one byte to the next, such as 47 us."
COUNT_HINT = "Empty: 30."
BYTE_HINT = "Its number from 0; empty: the one that tells most."
DOUBT = "Doubt of what is computed, in percent"
DOUBT_HINT = "The chance that the bench does not do as computed; empty: 2."

"""The sentences of the record room."""

STRUCK = "(no longer in findings.toml)"
SURE_RULE = "how sure you are is percent, above 0 to 100, not {text!r}"
PASTED = "the filled-in sheet"
NO_NUMBER = "an outcome is named by its number in questions.toml, not {text!r}"

ADD_LEAD = (
    "A sentence of yours that rests on subjects of the weighing table, or on other findings.  Its grade is computed "
    "from how these stand."
)
WITHDRAW_LEAD = "It stays to be read; what rests on it is unfounded from now on."
ACCEPT_LEAD = "Every change becomes a line of history.txt, which is only ever added to."
FILLED_LEAD = "Mark one box with an x; lines that were left as they were printed count as empty."
UNSAY_LEAD = "It stays in questions.toml with the reason, and counts no more."

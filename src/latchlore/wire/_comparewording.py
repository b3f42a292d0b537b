"""Sentences about two streams compared."""

STEPS = {
    "lost": "byte {sent} at {sent_at} was sent and did not arrive",
    "extra": "byte {got} arrived at {got_at} and was not sent",
    "changed": "byte {sent} at {sent_at} arrived as {got}",
}
ANYWHERE = " (or any of the equal ones from {first} to {last})"
PAUSE = "the pause here is {times:.1f} times the usual one"
TIMES = "one time for each byte that arrived: {times} times, {got} bytes"
COUNT_ALL = "bytes"
COUNT_PRINTING = "bytes of 20h and above (control bytes are not counted)"
COUNT_PRINTING_7 = "printing codes"
EVERY = "{data} is put in after every {step} {name}, {count} times: the host's doing, to be switched off there"
ONCE = (
    "{data} is put in once, after {number} bytes ({printing} of 20h and above): a line end of the host's, it seems; "
    "once tells no rule, so send a longer text"
)
BEFORE = "{data} is put before each of the codes {codes}, {count} times"
CHANGED = "the codes {codes} always arrive changed by {mask:02X} (exclusive or)"
NEVER = "the codes {codes} never arrive"
NEVER_ONCE = (
    "the codes {codes} did not arrive and were sent once each: kept back by the host, or lost; sending them again tells"
)

"""What `latchlore standin` prints around the specification's own sentences."""

from __future__ import annotations

TITLE = "Stand-in for the lost peripheral"
COMPUTED = "Computed from files; nothing was connected.  What is not agreed is said to be so: build on it with care."
STATUS = "Idle status byte of {register}"
NO_BYTE = "no byte satisfies every driver on this card"
DEMANDS = "What it must do"
ANSWERING = "Who is quick enough ({budget}; usual times, common practice: measure yours)"
NEVER = "Never exercised, and so not specified"
UNSAID = "Not known"
CAUTIONS = "Before the bench"
WROTE = "Wrote {count} files of {vectors} vectors to {folder}"
LEFT_OUT = "Left out"
FEEDS = {
    "stand-in": "the stand-in",
    "strap": "a strap on the card",
    "tie": "tied on the card",
    "nobody": "nobody: what it reads is chance",
    "unknown": "not known",
}
VERDICTS = {"suffices": "suffices", "measure": "may do: measure it", "too slow": "too slow"}


def bit_words(level: int | None, tested_by: tuple[str, ...], *, probably_undriven: bool) -> str:
    """What a bit must read."""
    if probably_undriven:
        return (
            f"reads {level}, probably undriven: only comparisons of the whole byte look at it ({', '.join(tested_by)})"
        )
    if level is not None:
        return f"must read {level} ({', '.join(tested_by)})"
    return "either level will do" if tested_by else "no driver looks at it"

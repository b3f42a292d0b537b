"""Sentences of tracing."""

from __future__ import annotations

RULES = {
    "apart": "{first} and {second} were read apart, but other readings join them",
    "outputs": "two outputs, {first} and {second}, stand in one net",
    "rails": "ground ({first}) and supply ({second}) stand in one net",
    "rail output": "output {second} stands in the net of supply pin {first}",
    "unlikely": "{first} and {second} were read joined, which does not fit what they are",
}

SUPPLY = "supply pins first"
FIND = "likeliest to find joints"
STRIP = "a strip across one side tells which pins have anything to do with it"
AGAIN = "read again: {rule}"
CONFIRM = "the joint {first} to {second} hangs on one reading; this confirms it from the other end"
DONE = "nothing likely is left to be read"

ONE_READING = "joint {first} to {second} hangs on one reading"
NOT_SURE = "joint {first} to {second} is likely to {share:.0%} only and was not used; read it again"
NOT_BELIEVED = "{first} and {second}: {kind} read, kept and not believed as a joint"
NO_DRIVER = "no pin that could drive the net of input {first} has been found"
ALONE = "nothing has been found that {first} is joined to"
BUS_ALONE = "{alone} of the {lines} data lines of {owner} were found joined to nothing; this one may be cut short too"
STILL_LIKELY = "may still be joined to {second} (likelihood {share:.0%})"

"""Sentences about changes of a study's files: what each is called, and why one is refused."""

from __future__ import annotations

OVERTAKEN = "was changed meanwhile; nothing is written, and both texts are shown"
GONE = "is no longer there; nothing is written"
OUTSIDE = "a path goes down from the study's folder, not {file!r}"
NO_FOLDER = "its folder cannot be made ({reason})"

ADD_FINDING = "add finding {name}"
WITHDRAW_FINDING = "withdraw finding {name}"
ACCEPT = "accept what changed in the findings"
ADD_OUTCOME = "enter an outcome of {trial}"
WITHDRAW_OUTCOME = "withdraw an outcome of {trial}"
NO_OUTCOME = "questions.toml has no outcome number {number}; it has {count}"
WITHDRAWN_ALREADY = "this outcome is withdrawn already"
WHY = "say why: it is kept beside what is withdrawn"

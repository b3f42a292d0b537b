"""The record of a study: its findings and their history, read, judged, and written as one change.

The history is added to and never written anew: what is written begins with every byte that was there.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Origin, UnknownName, check_toml, no_progress, read_toml
from latchlore.study import _editwords as editwords
from latchlore.study import _recordwords as wording
from latchlore.study._edit import Edit, write_edit
from latchlore.study._paths import FINDINGS, HISTORY, StudyFolder, read_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from latchlore.base import Progress
    from latchlore.evidence import Change, Finding, Judged, Past, Table
    from latchlore.study._cache import Cache

ATTRIBUTES = ".gitattributes"
"""Tells git to keep the lines of both sides where two copies of the history were added to."""


@dataclass(frozen=True, slots=True)
class Record:
    """Findings in the order of the file, the history in its own, and the files' bytes (None: not there)."""

    folder: Path
    findings: tuple[Finding, ...]
    history: tuple[Past, ...]
    raw: Mapping[str, bytes | None] = field(repr=False)


def read_record(folder: Path) -> Record:
    """The record of a study; empty where there is none.  Refuses files that break their rules, all mistakes at once."""
    from latchlore.evidence import parse_history

    opened = StudyFolder(folder)
    raw = {
        name: opened.read(name, what) if opened.holds(name) else None
        for name, what in ((FINDINGS, "file of findings"), (HISTORY, "history"))
    }
    mistakes: list[tuple[Origin, str]] = []
    findings: tuple[Finding, ...] = ()
    history: tuple[Past, ...] = ()
    file, past = raw[FINDINGS], raw[HISTORY]
    try:
        findings = parse_findings(file.raw, FINDINGS) if file else ()
    except BadInput as error:
        mistakes += error.mistakes
    try:
        history = parse_history(read_text(past).text, HISTORY) if past else ()
    except BadInput as error:
        mistakes += error.mistakes
    if mistakes:
        raise BadInput.of_all(mistakes)
    return Record(folder, findings, history, {name: one.raw if one else None for name, one in raw.items()})


def parse_findings(raw: bytes, file: str) -> tuple[Finding, ...]:
    """The findings of a file.  Refuses what breaks the rules of docs/record.md, all mistakes at once."""
    from latchlore.evidence import Finding
    from latchlore.study._recordlayout import RecordTable

    toml = read_toml(raw, file)
    table = check_toml(RecordTable, toml)
    return tuple(
        Finding(
            name=row.name,
            sentence=row.sentence,
            rests_on=tuple(row.rests_on),
            says=tuple(row.says.items()),
            origin=toml.origin(("finding", i)),
            places=tuple(toml.origin(("finding", i, "rests_on", k)) for k in range(len(row.rests_on))),
        )
        for i, row in enumerate(table.finding)
    )


def find_record(folder: Path) -> Record | None:
    """The record, or None where the study keeps none."""
    if not folder.is_dir() or not any(map(StudyFolder(folder).holds, (FINDINGS, HISTORY))):
        return None
    return read_record(folder)


def judge_study(
    folder: Path, progress: Progress = no_progress, cache: Cache | None = None
) -> tuple[Record, tuple[Judged, ...]]:
    """Read the record, weigh the study, and grade every finding.  Refuses what the two refuse."""
    from latchlore.study._weighing import weigh_study

    record = read_record(folder)
    return record, judge_record(record, weigh_study(folder, progress, cache))


def judge_record(record: Record, table: Table) -> tuple[Judged, ...]:
    """Grade every finding against a table, and tell what changed.  Refuses what `evidence.judge` refuses."""
    from latchlore.evidence import judge

    return judge(record.findings, table, record.history)


def accept_changes(
    folder: Path, day: str, because: str = "", progress: Progress = no_progress, cache: Cache | None = None
) -> tuple[Change, ...]:
    """Weigh the study and write every change of its findings into the history, as one change of the file.

    `because`: the researcher's words, put behind ours.  The lines written, in order; none where nothing changed.
    """
    from latchlore.study._weighing import weigh_study

    check_day(day)
    record = read_record(folder)
    changes, edit = plan_acceptance(record, weigh_study(folder, progress, cache), day, because)
    write_edit(folder, edit)
    return changes


def plan_acceptance(record: Record, table: Table, day: str, because: str = "") -> tuple[tuple[Change, ...], Edit]:
    """The same for a table that is there, and what is to be written."""
    from latchlore.evidence import dated

    check_day(day)
    changes = dated([change for one in judge_record(record, table) for change in one.changes], day, because)
    return changes, _edit(record, editwords.ACCEPT, changes)


def add_finding(
    folder: Path,
    finding: tuple[str, str],
    rests_on: Sequence[str],
    says: Mapping[str, str],
    day: str,
    because: str = "",
    progress: Progress = no_progress,
    cache: Cache | None = None,
) -> Judged:
    """Add a finding (name, sentence) to the file and its first lines to the history, both or neither.

    Refuses what the file's rules refuse, a name that was used before, and a subject or finding that is not there.
    """
    from latchlore.study._weighing import weigh_study

    check_day(day)
    record = read_record(folder)
    check_name(record, finding[0])
    table = weigh_study(folder, progress, cache)
    added, edit = plan_finding(record, table, finding, rests_on, says, day, because)
    write_edit(folder, edit)
    return added


def plan_finding(
    record: Record,
    table: Table,
    finding: tuple[str, str],
    rests_on: Sequence[str],
    says: Mapping[str, str],
    day: str,
    because: str = "",
) -> tuple[Judged, Edit]:
    """The same for a table that is there: the finding as it is graded, and what is to be written."""
    from latchlore.evidence import dated

    check_day(day)
    name, sentence = finding
    check_name(record, name)
    text = _with_finding(record.raw[FINDINGS], name, sentence, rests_on, says)
    longer = Record(record.folder, parse_findings(text, FINDINGS), record.history, record.raw)
    [added] = [one for one in judge_record(longer, table) if one.name == name]
    changes = dated(added.changes, day, because)
    return added, _edit(record, editwords.ADD_FINDING.format(name=name), changes, {FINDINGS: text})


def check_name(record: Record, name: str) -> None:
    """Refuse (`BadInput`) the name of a finding that was used before."""
    from latchlore.evidence import accepted

    if name in accepted(record.history):
        raise BadInput(Origin(HISTORY), wording.used_before(name))


def withdraw_finding(folder: Path, name: str, day: str, because: str) -> tuple[str, ...]:
    """Withdraw a finding for good: it stays in the file and in the history, and what rests on it is unfounded.

    The names of the findings that rest on it, through others too, in the order of the file.
    """
    resting, edit = plan_withdrawal(read_record(folder), name, day, because)
    write_edit(folder, edit)
    return resting


def plan_withdrawal(record: Record, name: str, day: str, because: str) -> tuple[tuple[str, ...], Edit]:
    """The same, with what is to be written."""
    from latchlore.evidence import Grade, accepted, dated, withdrawal

    check_day(day)
    before = accepted(record.history)
    known = [*dict.fromkeys([*(one.name for one in record.findings), *before])]
    if name not in known:
        raise UnknownName(wording.no_such_finding(name), known)
    old = before.get(name, {}).get("grade", "-")
    if old == Grade.WITHDRAWN:
        raise BadInput(Origin(HISTORY), wording.withdrawn_already(name))
    if not because.strip():
        raise UnknownName(editwords.WHY)
    changes = dated([withdrawal(name, old, because)], day, because)
    edit = _edit(record, editwords.WITHDRAW_FINDING.format(name=name), changes)
    return _resting_on(record.findings, name), edit


def _resting_on(findings: Sequence[Finding], name: str) -> tuple[str, ...]:
    from latchlore.evidence import FINDING

    above: dict[str, list[str]] = {}
    for finding in findings:
        for on in finding.rests_on:
            if on.startswith(FINDING):
                above.setdefault(on.removeprefix(FINDING), []).append(finding.name)
    found: set[str] = set()
    waiting = [name]
    while waiting:
        further = set(above.get(waiting.pop(), ())) - found
        found |= further
        waiting += further
    return tuple(one.name for one in findings if one.name in found - {name})


def check_day(text: str) -> None:
    """Refuse (`UnknownName`: the request has to be mended) what is no date."""
    try:
        is_day = date.fromisoformat(text).isoformat() == text
    except ValueError:
        is_day = False
    if not is_day:
        raise UnknownName(wording.not_a_day(text))


def _with_finding(
    raw: bytes | None, name: str, sentence: str, rests_on: Sequence[str], says: Mapping[str, str]
) -> bytes:
    # git keeps the blocks of two branches apart by lines that differ: so the first and the last of a block are its own
    lines = [f"[[finding]]  # {name}", f"name = {_quoted(name)}"]
    lines.append(f"rests_on = [{', '.join(map(_quoted, rests_on))}]")
    if says:
        lines.append(f"says = {{ {', '.join(f'{_quoted(on)} = {_quoted(words)}' for on, words in says.items())} }}")
    lines.append(f"sentence = {_quoted(sentence)}")
    before = wording.FINDINGS_HEAD.encode() if raw is None else raw
    if before and not before.endswith(b"\n"):
        before += b"\n"
    return before + ("\n" + "\n".join(lines) + "\n").encode()


def _quoted(text: str) -> str:
    """A basic string of TOML (toml.io, version 1.0.0, "String"): its escapes for what it needs are those of JSON.

    The only letter that TOML wants escaped and JSON does not, the delete, shows nothing and is taken out.
    """
    import json

    from latchlore.evidence import one_line

    return json.dumps(one_line(text) if text.strip() else "", ensure_ascii=False)


def _edit(record: Record, words: str, changes: Sequence[Change], files: Mapping[str, bytes] | None = None) -> Edit:
    """What is to be written for some changes; nothing where there is none."""
    from latchlore.evidence import history_lines

    if not changes:
        return Edit(words, {}, {})
    before = record.raw[HISTORY]
    text = wording.HEAD.encode() if before is None else before
    if text and not text.endswith(b"\n"):
        text += b"\n"
    made = {**(files or {}), HISTORY: text + history_lines(changes).encode()}
    expected = dict(record.raw)
    if before is None and not (record.folder / ATTRIBUTES).exists():
        made[ATTRIBUTES] = f"{HISTORY} merge=union\n{FINDINGS} merge=union\n".encode()
        expected[ATTRIBUTES] = None
    return Edit(words, made, expected)

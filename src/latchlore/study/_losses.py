"""Whether a listener whose figures are stated must have missed just the bytes that it missed.

The program's cycles on the path that explains a log give the moments of its strobes; the listener model gives from
them the chance that each byte is missed; and the runs are as likely under these chances, or not, as under one even
rate.  That the program never waited is taken for granted and said.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from latchlore.base import (
    ByteSequence,
    ByteTree,
    CycleRange,
    Span,
    SpanRange,
    Subject,
    SubjectKind,
    Wait,
    Witness,
    Write,
)
from latchlore.study import _acrosswords as words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from latchlore.base import InputKind, Path
    from latchlore.study._study import ListenerTimes
    from latchlore.study._weighing import Hearing

    Belongs = Callable[[InputKind, int], bool]

LEAST, MOST = 1e-3, 1 - 1e-3
"""No byte is taken for surely heard or surely missed: a log may be wrong in one."""
CLEARLY = math.log(20)
"""Nats in all by which one account of the runs must be likelier to be preferred: twenty to one."""


def explain_losses(hearing: Hearing) -> Iterator[tuple[Subject, str]]:
    """A sentence for each sequence whose listener's figures are stated and that one path of the program explains."""
    from latchlore.evidence import explain_sequence, sent_to

    belongs = sent_to(hearing.roles)
    if belongs is None or hearing.program is None or hearing.program.clock is None:
        return
    for name, parts in hearing.study.logs_by_sequence().items():
        times = next((part.listener_times for part in parts if part.listener_times is not None), None)
        wire = _value(hearing, name, Witness.WIRE)
        tree = _value(hearing, name, Witness.PROGRAM)
        if times is None or not isinstance(wire, ByteSequence) or not isinstance(tree, ByteTree):
            continue
        found = explain_sequence(wire, tree, belongs)
        if len(found.paths) != 1:
            continue
        missed = _foretold(hearing, tree, found.paths[0], times, belongs)
        runs = [run for log in hearing.logs.get(name, ()) for run in log]
        if len(missed) == len(wire.data) and runs:
            subject = Subject(SubjectKind.NOTE, (f"{name}: what the listener lost",))
            yield subject, _sentence(wire.data, runs, missed)


def _value(hearing: Hearing, name: str, witness: Witness) -> object:
    subject = Subject(SubjectKind.SEQUENCE, (name,))
    return next((one.value for one in hearing.testimonies if (one.subject, one.witness) == (subject, witness)), None)


def _foretold(
    hearing: Hearing, tree: ByteTree, path: Path, times: ListenerTimes, belongs: Belongs
) -> tuple[float, ...]:
    """The chance that each byte of the path is missed; empty where the strobe's times are not known."""
    from latchlore.wire import HostTimes, Listener, predict_misses

    assert hearing.program is not None
    clock = hearing.program.clock
    setup, width = (_time(hearing, what) for what in ("data set-up", "strobe width"))
    if clock is None or setup is None or width is None:
        return ()
    puts = [clock.span(CycleRange.exactly(cycles)).least.picoseconds for cycles in _writes(tree, path, belongs)]
    if not puts:
        return ()
    host = HostTimes(tuple(puts), tuple(put + setup.picoseconds for put in puts), (width.picoseconds,) * len(puts))
    listener = Listener(
        times.latency, times.service, times.jitter, reads=times.reads, depth=times.depth, shortest=times.shortest
    )
    return predict_misses(host, listener).missed


def _time(hearing: Hearing, what: str) -> Span | None:
    """A time that the program takes, its least."""
    subject = Subject(SubjectKind.TIMING, (what,))
    for one in hearing.testimonies:
        if one.subject == subject and one.witness is Witness.PROGRAM and isinstance(one.value, SpanRange):
            return one.value.least
    return None


def _writes(tree: ByteTree, path: Path, belongs: Belongs) -> list[int]:
    """Cycles from the start to each write of data on a path, waits taken as over at once."""
    now, found = 0, []
    for node in path.nodes:
        for event in tree.nodes[node].events:
            now += event.cycles.least
            if isinstance(event, Wait):
                continue
            if isinstance(event, Write) and belongs(event.kind, event.address):
                found.append(now)
    return found


def _sentence(data: bytes, runs: Sequence[bytes], missed: Sequence[float]) -> str:
    share = 1 - sum(len(run) for run in runs) / (len(data) * len(runs))
    rate = min(max(share, LEAST), MOST)
    even = sum(_log_likelihood(data, run, [rate] * len(data)) for run in runs)
    known = sum(_log_likelihood(data, run, [min(max(p, LEAST), MOST) for p in missed]) for run in runs)
    foreseen = sum(missed) / len(missed)
    if known - even >= CLEARLY:
        return words.losses_foretold(foreseen, share, known - even)
    if even - known >= CLEARLY:
        return words.losses_not_foretold(foreseen, share, even - known)
    return words.losses_open(foreseen, share)


def _log_likelihood(data: bytes, run: bytes, missed: Sequence[float]) -> float:
    """How likely a run is where byte k is missed with its own chance and nothing else happens, over all alignments.

    A byte of the run that fits nowhere (a double, a wrong line) costs `LEAST`.
    """
    row = [1.0, *(0.0 for _ in data)]
    for k, chance in enumerate(missed):
        row[k + 1] = row[k] * chance
    total = 0.0
    for byte in run:
        new = [row[0] * LEAST, *(0.0 for _ in data)]
        for k, value in enumerate(data):
            new[k + 1] = new[k] * missed[k] + row[k + 1] * LEAST
            if value == byte:
                new[k + 1] += row[k] * (1 - missed[k])
        scale = max(new)
        if not scale:
            return -math.inf
        total += math.log(scale)
        row = [one / scale for one in new]
    return total + (math.log(row[-1]) if row[-1] else -math.inf)

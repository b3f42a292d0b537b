"""What can be done about a bad dump: its faults, the likeliest wiring, the runner-up, and what stays undecided."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from latchlore.base import BadInput, Origin, no_progress
from latchlore.program import _repairwords as words
from latchlore.program._repairfaults import Fault, FaultKind, find_faults
from latchlore.program._repairpairs import TABLE_OF
from latchlore.program._repairwiring import Wiring

if TYPE_CHECKING:
    from collections.abc import Sequence

    from latchlore.base import Progress
    from latchlore.program._repairevidence import Evidence
    from latchlore.program._repairsearch import Candidate

LEAST_SIZE, MOST_SIZE = 64, 32768  # bytes of an image whose lines are searched
MARGIN_BITS = 8.0  # by which an order of the address lines must lead before it is called decided
DATA_MARGIN_BITS = 24.0  # the same for the data lines, where wrong answers were seen to lead by up to 17 bits
LEAST_SHARE = 0.02  # bits a byte that code and text must explain: below it nothing is known to compare with
BOTH_SHARE = 0.25  # bits a byte: where one kind of lines alone explains less, both kinds are searched together


@dataclass(frozen=True, slots=True)
class Proposal:
    """One wiring with the image it gives.

    `bits`: how much better than by its own byte frequencies the image is described, less what the wiring costs;
    `known_bits`: how much of that is owed to what is known of code and text.  `cpu`: the processor whose code it
    was compared with, None for text and tables only.  `at`: where the sample starts.
    """

    wiring: Wiring
    image: bytes
    bits: float
    known_bits: float
    cpu: str | None
    at: int

    @property
    def sample(self) -> tuple[str, ...]:
        """Four lines of the image, as hex and text, from where the proposals differ most in kind."""
        return tuple(words.hex_line(at, self.image[at : at + 16]) for at in range(self.at, self.at + 64, 16))

    def __str__(self) -> str:
        head = words.proposal(str(self.wiring), self.cpu, round(self.bits), round(self.known_bits))
        return "\n".join([head, *(f"  {line}" for line in self.sample if line)])


@dataclass(frozen=True, slots=True)
class RepairReport:
    """The faults of a dump and the wiring proposed.

    `winner` and `runner_up` are None where nothing was searched, and `why` says so.  `is_decided`: the winner leads
    by its margin (`margin`) and by what is known of code and text; otherwise it is a guess.  `open_lines`: lines whose
    single change costs less than the margin.  `alike`: pairs of lines whose exchange changes no byte.
    `size`: bytes searched, half or less of the dump where its top lines are unused.
    """

    file: str
    faults: tuple[Fault, ...]
    size: int
    winner: Proposal | None
    runner_up: Proposal | None
    is_decided: bool
    open_lines: tuple[str, ...]
    alike: tuple[tuple[int, int], ...]
    why: str

    def __str__(self) -> str:
        lines = [f"{self.file}: {fault}" for fault in self.faults]
        lines.append(f"{self.file}: {'decided' if self.is_decided else 'undecided'}: {self.why}")
        if self.winner is not None:
            lines.append(f"likeliest: {self.winner}")
        if self.runner_up is not None:
            lines.append(f"runner-up: {self.runner_up}")
        if self.open_lines:
            lines.append(words.open_lines(self.open_lines))
        lines += [words.alike(low, high) for low, high in self.alike]
        return "\n".join(lines)


def propose_repairs(
    dump: bytes,
    *,
    cpu: str | None = None,
    top: bool | None = None,
    wiring: Wiring | None = None,
    inverted: bool = True,
    file: str = "dump",
    progress: Progress = no_progress,
) -> RepairReport:
    """Find the faults of a dump and the wiring of its lines that makes it read best.

    `cpu`: compare with this processor's code only; None tries every processor whose code was counted, and none.
    `top`: whether the image ends at FFFF, where vectors would lie.  `wiring`: known from the board; then nothing is
    searched.  `inverted`: whether lines may be inverted.  The dump is not changed; a proposal is never applied.
    Refuses an empty dump, and a processor whose code was not counted (`UnknownName`).
    """
    if not dump:
        raise BadInput(Origin(file), "a dump holds at least one byte; the file is empty")
    faults = find_faults(dump)
    whole = RepairReport(file, faults, len(dump), None, None, False, (), (), "")
    if wiring is not None:
        if len(dump) != 1 << len(wiring.address):
            raise BadInput(Origin(file), f"the stated wiring is for {1 << len(wiring.address)} bytes, not {len(dump)}")
        stated = Proposal(wiring, wiring.undo(dump), 0.0, 0.0, cpu, 0)
        return replace(whole, winner=stated, is_decided=True, why=words.STATED)
    part, why = _searchable(dump, faults)
    if why:
        return replace(whole, why=why)
    ranked = _ranked(part, _evidences(cpu, top), inverted=inverted, report=progress)
    return _report(replace(whole, size=len(part)), ranked, inverted=inverted)


def _searchable(dump: bytes, faults: Sequence[Fault]) -> tuple[bytes, str]:
    """The part of the dump to search, without unused top lines; or why nothing can be searched."""
    if len(dump) & (len(dump) - 1):
        return dump, words.not_a_power(len(dump))
    part = dump
    dead = {fault.lines[0] for fault in faults if fault.kind is FaultKind.ADDRESS_DEAD}
    while len(part).bit_length() - 2 in dead:
        dead.discard(len(part).bit_length() - 2)
        part = part[: len(part) // 2]
    lost = [f for f in faults if f.loses_content and not (f.kind is FaultKind.ADDRESS_DEAD and f.lines[0] not in dead)]
    if lost:
        return part, words.LOST
    if not LEAST_SIZE <= len(part) <= MOST_SIZE:
        return part, words.wrong_size(len(part), LEAST_SIZE, MOST_SIZE)
    return part, ""


def _evidences(cpu: str | None, top: bool | None) -> list[Evidence]:
    from latchlore.program._repairevidence import make_evidence

    names = [cpu] if cpu is not None else [*(name for name in TABLE_OF if name != "65C02"), None]
    return [make_evidence(name, top) for name in names]


def _balanced(candidate: Candidate, evidence: Evidence) -> Candidate:
    """The candidate scored for orders of blocks and for meanings of bits alike, so that all kinds compare."""
    from latchlore.program._repairevidence import prior_bits

    bits = (evidence.score(candidate.image) + evidence.score(candidate.image, ahead=False)) / 2
    return replace(candidate, bits=bits - prior_bits(candidate.wiring))


def _ranked(
    dump: bytes, evidences: Sequence[Evidence], *, inverted: bool, report: Progress
) -> list[tuple[Candidate, Evidence]]:
    from latchlore.program import _repairsearch as search

    straight = Wiring.straight(len(dump).bit_length() - 1)
    found: list[tuple[Candidate, Evidence]] = []
    for done, evidence in enumerate(evidences):
        report(done, len(evidences), f"lines, {evidence.cpu or 'text and tables'}")
        kept = search.solve_address(dump, [straight], evidence, inverted=False)[:4]
        if inverted:
            kept += search.solve_address(dump, [straight], evidence, inverted=True)[:4]
        kept += search.solve_data(dump, straight, evidence, inverted=False)[:4]
        kept += search.solve_data(dump, straight, evidence, inverted=inverted)[:4]
        kept.append(search.judge(dump, straight, evidence))
        best = search.merged([_balanced(candidate, evidence) for candidate in kept])
        if evidence.known_bits(best[0].image) < BOTH_SHARE * len(dump):
            both = search.solve_both(dump, evidence, inverted=False, report=report)[:4]
            best = search.merged(best + [_balanced(candidate, evidence) for candidate in both])
        found += [(candidate, evidence) for candidate in best]
    found.sort(key=lambda pair: (search.rank(pair[0]), pair[1].cpu or ""))
    return list({candidate.image: (candidate, evidence) for candidate, evidence in reversed(found)}.values())[::-1]


def margin(one: Wiring, other: Wiring) -> float:
    """Bits by which one wiring must lead another."""
    is_same = (one.data, one.data_inverted) == (other.data, other.data_inverted)
    return MARGIN_BITS if is_same else DATA_MARGIN_BITS


def _report(whole: RepairReport, ranked: list[tuple[Candidate, Evidence]], *, inverted: bool) -> RepairReport:
    (first, evidence), *others = ranked
    second = others[0] if others else None
    open_lines, alike = _neighbourhood(first, evidence, inverted=inverted)
    at = _sample_place(first.image, second[0].image if second else first.image)
    winner = _proposal(first, evidence, at)
    runner_up = _proposal(*second, at) if second else None
    lead = first.bits - second[0].bits if second else 0.0
    known = winner.known_bits - (runner_up.known_bits if runner_up else 0.0)
    if winner.known_bits < LEAST_SHARE * len(first.image):
        return replace(
            whole, winner=winner, runner_up=runner_up, open_lines=open_lines, alike=alike, why=words.NOTHING_KNOWN
        )
    needed = margin(first.wiring, second[0].wiring) if second else 0.0
    is_decided = lead >= needed and known > 0 and not open_lines
    why = words.verdict(round(lead), round(known), round(needed), is_decided=is_decided)
    return replace(
        whole, winner=winner, runner_up=runner_up, is_decided=is_decided, open_lines=open_lines, alike=alike, why=why
    )


def _proposal(candidate: Candidate, evidence: Evidence, at: int) -> Proposal:
    known = evidence.known_bits(candidate.image)
    return Proposal(candidate.wiring, candidate.image, candidate.bits, known, evidence.cpu, at)


def _neighbourhood(
    best: Candidate, evidence: Evidence, *, inverted: bool
) -> tuple[tuple[str, ...], tuple[tuple[int, int], ...]]:
    """Lines whose inversion or swap costs less than the margin, and pairs whose swap changes nothing."""
    from latchlore.program import _repairsearch as search

    dump = best.wiring.apply(best.image)
    lines = len(best.wiring.address)
    open_lines: set[tuple[str, int]] = set()
    alike = []
    for letter, neighbours, count in (
        ("A", search.address_neighbours(best.wiring, inverted=inverted), lines),
        ("D", search.data_neighbours(best.wiring, inverted=inverted), 8),
    ):
        for wiring in neighbours:
            changed = search.changed_lines(best.wiring, wiring)
            if len(changed) > 2:
                continue
            image = wiring.undo(dump)
            if image == best.image:
                if len(changed) == 2 and letter == "A":
                    alike.append((changed[0], changed[1]))
                continue
            rival = _balanced(search.Candidate(wiring, image, 0.0), evidence)
            if best.bits - rival.bits < margin(best.wiring, wiring):
                open_lines.update((letter, line) for line in changed if line < count)
    return tuple(f"{letter}{line}" for letter, line in sorted(open_lines)), tuple(sorted(set(alike)))


def _sample_place(first: bytes, second: bytes) -> int:
    """Start of the 64 bytes with most different values in them, among those on which the two differ."""
    places = range(0, max(len(first) - 63, 1), 16)
    differ = [at for at in places if first[at : at + 64] != second[at : at + 64]] or list(places)
    return max(differ, key=lambda at: (len(np.unique(np.frombuffer(first[at : at + 64], np.uint8))), -at))

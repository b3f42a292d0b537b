"""What can be done about a bad dump: its faults, the likeliest wiring, the runner-up, and what stays undecided."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

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
MARGIN_BITS = 12.0  # by which an order of the address lines must lead: wrong ones were seen to lead by up to 8.3
DATA_MARGIN_BITS = 24.0  # the same for the data lines, where wrong answers were seen to lead by up to 17 bits
LEAST_KNOWN = -MARGIN_BITS / 2  # how far code and text alone may speak for the rival: half of what decides
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
    by its margin (`margin`), and code and text alone do not speak for a rival; otherwise it is a guess.  `decided`: the
    kinds of lines of which that holds, ``address`` and ``data``: where only the order of blocks is open, the meaning
    of the bits may still be sure.  `open_lines`: lines whose
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
    decided: tuple[str, ...] = ()

    def __str__(self) -> str:
        lines = [f"{self.file}: {fault}" for fault in self.faults]
        lines.append(f"{self.file}: {'decided' if self.is_decided else 'undecided'}: {self.why}")
        if self.decided and not self.is_decided:
            lines.append(f"{self.file}: {words.half_decided(self.decided[0])}")
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
    search: bool = True,
    file: str = "dump",
    progress: Progress = no_progress,
) -> RepairReport:
    """Find the faults of a dump and the wiring of its lines that makes it read best.

    `cpu`: compare with this processor's code only; None tries every processor whose code was counted, and none.
    `top`: whether the image ends at FFFF, where vectors would lie.  `wiring`: known from the board; then nothing is
    searched, nor where `search` is False.  `inverted`: whether lines may be inverted.  The dump is not changed; a
    proposal is never applied.  Refuses an empty dump, and a processor whose code was not counted (`UnknownName`).
    """
    if not dump:
        raise BadInput(Origin(file), "a dump holds at least one byte; the file is empty")
    faults = find_faults(dump)
    whole = RepairReport(file, faults, len(dump), None, None, False, (), (), "")
    if wiring is not None:
        if len(dump) != 1 << len(wiring.address):
            raise BadInput(Origin(file), f"the stated wiring is for {1 << len(wiring.address)} bytes, not {len(dump)}")
        stated = Proposal(wiring, wiring.undo(dump), 0.0, 0.0, cpu, 0)
        return replace(whole, winner=stated, is_decided=True, why=words.STATED, decided=("address", "data"))
    if not search:
        return replace(whole, why=words.NOT_SEARCHED)
    part, why = _searchable(dump, faults)
    if why:
        return replace(whole, why=why)
    ranked = ranked_wirings(part, _evidences(cpu, top), inverted=inverted, progress=progress)
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


@dataclass(frozen=True, slots=True)
class Judged:
    """A wiring with its two scores, each less what the wiring costs.

    `ahead` compares orders of blocks and says nothing of meanings of bits; `plain` compares meanings of bits, and
    changes with the order of blocks for no better reason than that the one read first is learnt from.  So each
    is used for what it can compare, and `bits`, their mean, only where both kinds of lines differ.
    """

    candidate: Candidate
    evidence: Evidence
    ahead: float
    plain: float

    @property
    def wiring(self) -> Wiring:
        """The wiring."""
        return self.candidate.wiring

    @property
    def image(self) -> bytes:
        """The image that it gives."""
        return self.candidate.image

    @property
    def bits(self) -> float:
        """The mean of the two scores."""
        return (self.ahead + self.plain) / 2

    def lead_over(self, other: Judged) -> float:
        """Bits by which it is better, by the score that can compare the two."""
        if _same_data(self.wiring, other.wiring):
            return self.ahead - other.ahead
        if _same_address(self.wiring, other.wiring):
            return self.plain - other.plain
        return self.bits - other.bits

    def known_over(self, other: Judged) -> float:
        """Bits by which it reads better as code and text alone, by the same choice of score."""
        ahead = _same_data(self.wiring, other.wiring)
        mine = self.evidence.known_bits(self.image, ahead=ahead)
        return mine - other.evidence.known_bits(other.image, ahead=ahead)


def _same_data(one: Wiring, other: Wiring) -> bool:
    return (one.data, one.data_inverted) == (other.data, other.data_inverted)


def _same_address(one: Wiring, other: Wiring) -> bool:
    return (one.address, one.address_inverted) == (other.address, other.address_inverted)


def judge_both(candidate: Candidate, evidence: Evidence) -> Judged:
    """The candidate scored both ways."""
    from latchlore.program._repairevidence import prior_bits

    cost = prior_bits(candidate.wiring)
    ahead, plain = evidence.score(candidate.image), evidence.score(candidate.image, ahead=False)
    return Judged(candidate, evidence, ahead - cost, plain - cost)


def rank_judged(one: Judged) -> tuple[float, float, tuple[int, ...], int, tuple[int, ...], int, str]:
    """Best first: most bits, then the wiring that costs least and its numbers, then the processor's name.

    The mean of both scores is all that compares any two; what can be told better is told by `best_first`.
    """
    from latchlore.program._repairevidence import prior_bits

    w = one.wiring
    numbers = (prior_bits(w), w.address, w.address_inverted, w.data, w.data_inverted)
    return (-round(one.bits, 6), *numbers, one.evidence.cpu or "")


def best_first(found: Sequence[Judged]) -> list[Judged]:
    """Ranked, each image once; among the wirings that read the data lines as the first does, the one whose order of
    blocks is best leads.
    """
    ranked = sorted(found, key=rank_judged)
    ranked = list({one.image: one for one in reversed(ranked)}.values())[::-1]
    for kind in (_same_data, _same_address):
        alike = [one for one in ranked if kind(one.wiring, ranked[0].wiring)]
        leader = max(alike, key=lambda one: (round(one.lead_over(ranked[0]), 6), -ranked.index(one)))
        ranked.remove(leader)
        ranked.insert(0, leader)
    return ranked


def ranked_wirings(
    dump: bytes, evidences: Sequence[Evidence], *, inverted: bool, progress: Progress = no_progress
) -> list[Judged]:
    """The wirings that each kind of search proposes under each evidence, best first."""
    from latchlore.program import _repairsearch as search

    straight = Wiring.straight(len(dump).bit_length() - 1)
    found: list[Judged] = []
    for done, evidence in enumerate(evidences):
        progress(done, len(evidences), f"lines, {evidence.cpu or 'text and tables'}")
        kept = search.solve_address(dump, [straight], evidence, inverted=False)[:4]
        if inverted:
            kept += search.solve_address(dump, [straight], evidence, inverted=True)[:4]
        kept += search.solve_data(dump, straight, evidence, inverted=False)[:4]
        kept += search.solve_data(dump, straight, evidence, inverted=inverted)[:4]
        kept.append(search.judge(dump, straight, evidence))
        mine = best_first([judge_both(candidate, evidence) for candidate in kept])
        if evidence.known_bits(mine[0].image) < BOTH_SHARE * len(dump):
            both = search.solve_both(dump, evidence, inverted=False, report=progress)[:4]
            mine = best_first(mine + [judge_both(candidate, evidence) for candidate in both])
        found += mine
    return best_first(found)


def margin(one: Wiring, other: Wiring) -> float:
    """Bits by which one wiring must lead another."""
    return MARGIN_BITS if _same_data(one, other) else DATA_MARGIN_BITS


@dataclass(frozen=True, slots=True)
class Standing:
    """How far the first wiring stands out.

    `lead`: over the rival that comes nearest to it, measured by the margin that it needs; `needed`: that margin;
    `known`: bits by which it leads this rival and the one that comes second, in code and text alone.
    `nearest`: that rival, None where there is none.  `open_lines` and `alike` as in `RepairReport`.
    `decided`: the kinds of lines, ``address`` and ``data``, of which every rival that differs in them is led by its
    margin and of which no line is open.
    """

    lead: float
    needed: float
    known: float
    nearest: Judged | None
    open_lines: tuple[str, ...]
    alike: tuple[tuple[int, int], ...]
    decided: tuple[str, ...]


def standing(ranked: Sequence[Judged], *, inverted: bool) -> Standing:
    """How far the first of the ranked wirings stands out against the others and against its neighbours."""
    first, *others = ranked
    open_lines, alike = _neighbourhood(first, inverted=inverted)
    if not others:
        return Standing(0.0, 0.0, 0.0, None, open_lines, alike, ())

    def slack(other: Judged) -> float:
        return first.lead_over(other) - margin(first.wiring, other.wiring)

    nearest = min(others, key=lambda other: (round(slack(other), 6), others.index(other)))
    known = min(first.known_over(other) for other in (nearest, others[0]))
    decided = []
    for kind, letter, is_same in (("address", "A", _same_address), ("data", "D", _same_data)):
        rivals = [other for other in others if not is_same(first.wiring, other.wiring)]
        is_led = all(slack(other) >= 0 and first.known_over(other) > LEAST_KNOWN for other in rivals)
        if is_led and not any(line.startswith(letter) for line in open_lines):
            decided.append(kind)
    needed = margin(first.wiring, nearest.wiring)
    return Standing(first.lead_over(nearest), needed, known, nearest, open_lines, alike, tuple(decided))


def _report(whole: RepairReport, ranked: Sequence[Judged], *, inverted: bool) -> RepairReport:
    first = ranked[0]
    stand = standing(ranked, inverted=inverted)
    second = stand.nearest
    at = _sample_place(first.image, second.image if second else first.image)
    winner = _proposal(first, at)
    shown = replace(
        whole,
        winner=winner,
        runner_up=_proposal(second, at) if second else None,
        open_lines=stand.open_lines,
        alike=stand.alike,
    )
    if winner.known_bits < LEAST_SHARE * len(first.image):
        return replace(shown, why=words.NOTHING_KNOWN)
    is_decided = len(stand.decided) == 2
    numbers = (round(stand.lead), round(stand.known), round(stand.needed), round(LEAST_KNOWN))
    why = words.verdict(*numbers, is_decided=is_decided)
    return replace(shown, is_decided=is_decided, why=why, decided=stand.decided)


def _proposal(one: Judged, at: int) -> Proposal:
    known = one.evidence.known_bits(one.image)
    return Proposal(one.wiring, one.image, one.bits, known, one.evidence.cpu, at)


def _neighbourhood(best: Judged, *, inverted: bool) -> tuple[tuple[str, ...], tuple[tuple[int, int], ...]]:
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
            rival = judge_both(search.Candidate(wiring, image, 0.0), best.evidence)
            if best.lead_over(rival) < margin(best.wiring, wiring):
                open_lines.update((letter, line) for line in changed if line < count)
    return tuple(f"{letter}{line}" for letter, line in sorted(open_lines)), tuple(sorted(set(alike)))


def _sample_place(first: bytes, second: bytes) -> int:
    """Start of the 64 bytes that show best what is meant: most text, then most different values, among those on
    which the two differ.
    """
    from latchlore.program._glance import find_texts

    places = range(0, max(len(first) - 63, 1), 16)
    differ = [at for at in places if first[at : at + 64] != second[at : at + 64]] or list(places)

    def telling(at: int) -> tuple[int, int, int]:
        piece = first[at : at + 64]
        return sum(len(one.text) for one in find_texts(piece)), len(set(piece)), -at

    return max(differ, key=telling)

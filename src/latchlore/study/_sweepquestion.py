"""One question for many images, and one image asked: the answer depends on the bytes and the question alone."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from latchlore.base import AddressSet, BadInput, InputKind, Origin, SignalRole, StudyError, Write
from latchlore.study import _notation
from latchlore.study import _sweepwords as words
from latchlore.study._banks import memory_at
from latchlore.study._images import ImageReader
from latchlore.study._study import EntryPart, ImagePart, ProgramPart, StudyFile

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from latchlore.base import ByteTree

MEMORY_LINES = 16
MOST_WHY = 6  # reasons that a row carries
MOST_PLACES = 16  # program addresses that a row carries


@dataclass(frozen=True, slots=True)
class SweepQuestion:
    """What every image is asked, as it was typed; each text is written as in study.toml (docs/sweep.md).

    `cpu` and `load`: empty where they are to be found.  `entry`: an address; empty for the vector named `vector`.
    `writes`: ``REGISTER=BYTES`` each.  `touches`: registers.  `reference`: the image to compare with, as (name,
    bytes), None where there is nothing to compare.  `nodes`: the largest graph that is followed.
    """

    cpu: str = ""
    load: str = ""
    entry: str = ""
    vector: str = "reset"
    devices: tuple[str, ...] = ()
    held: tuple[str, ...] = ()
    given: tuple[str, ...] = ()
    writes: tuple[str, ...] = ()
    touches: tuple[str, ...] = ()
    reference: tuple[str, bytes] | None = field(default=None, repr=False)
    nodes: int = 20_000

    @property
    def asked(self) -> tuple[str, ...]:
        """The heading of each answer, in order."""
        same = () if self.reference is None else (words.same_as(self.reference[0]),)
        return (*(words.writes(one) for one in self.writes), *(words.touches(one) for one in self.touches), *same)

    def plain(self) -> dict[str, Any]:
        """The question for a file or another program: the reference by name and SHA-256."""
        told = asdict(self)
        if self.reference is not None:
            name, raw = self.reference
            told["reference"] = {"file": name, "sha256": hashlib.sha256(raw).hexdigest()}
        return told


@dataclass(frozen=True, slots=True)
class SweepAnswer:
    """One answer: ``may``, ``never``, ``same``, ``differs`` or ``cannot be told``; where in the program; and why."""

    verdict: str
    places: tuple[int, ...] = ()
    why: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SweepRow:
    """What one image says.

    `state`: ``asked``; ``open`` (it could not be asked: processor, place or entry are not known); ``broken`` (the
    file does not follow its rules); ``lost`` (its worker died twice); ``fault`` (ours).  `answers` are those of the
    question in its order, none unless it was asked.  `words`: why it is as it is.
    """

    file: str
    sha256: str
    size: int
    state: str
    cpu: str = ""
    load: int | None = None
    entry: int | None = None
    nodes: int = 0
    answers: tuple[SweepAnswer, ...] = ()
    words: tuple[str, ...] = ()

    def plain(self) -> dict[str, Any]:
        """The row for a file or another program; addresses as four hexadecimal digits."""
        told = asdict(self)
        for key in ("load", "entry"):
            told[key] = None if told[key] is None else f"{told[key]:04X}"
        for answer in told["answers"]:
            answer["places"] = [f"{place:04X}" for place in answer["places"]]
        return told

    @classmethod
    def of_plain(cls, told: dict[str, Any]) -> SweepRow:
        """A row as `plain` wrote it.  Raises KeyError, TypeError or ValueError for anything else."""
        answers = tuple(
            SweepAnswer(one["verdict"], tuple(int(p, 16) for p in one["places"]), tuple(one["why"]))
            for one in told["answers"]
        )
        load, entry = (None if told[key] is None else int(told[key], 16) for key in ("load", "entry"))
        return cls(
            str(told["file"]), str(told["sha256"]), int(told["size"]), str(told["state"]), str(told["cpu"]), load,
            entry, int(told["nodes"]), answers, tuple(told["words"]),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Read:
    """A question, read."""

    memory: AddressSet
    ports: AddressSet | None
    held: dict[int, int]
    arguments: dict[str, int]
    stated: dict[int, int]
    entry: int | None
    patterns: tuple[tuple[InputKind, AddressSet, tuple[frozenset[int], ...]], ...]
    registers: tuple[tuple[InputKind, AddressSet], ...]


def check_question(question: SweepQuestion) -> None:
    """Refuse, all at once with their options, a question that asks nothing and what is wrongly written."""
    _read(question)


def parse_writes(text: str) -> tuple[InputKind, AddressSet, tuple[frozenset[int], ...]]:
    """``C800=1B 4B any``: a register, an equals sign, and bytes as in a study's code."""
    register, sign, code = text.partition("=")
    if not sign:
        raise ValueError(f"what is written is 'REGISTER=BYTES', such as 'C800=1B 4B', not {text!r}")
    return (*_notation.parse_address_set(register), _notation.parse_code(code))


@lru_cache(maxsize=16)
def _read(question: SweepQuestion) -> _Read:
    mistakes: list[tuple[Origin, str]] = []

    def read(option: str, texts: Sequence[str], parse: Callable[[str], Any]) -> list[Any]:
        found = []
        for text in texts:
            try:
                found.append(parse(text))
            except ValueError as error:
                mistakes.append((Origin(option), str(error)))
        return found

    sets: dict[InputKind, list[AddressSet]] = {InputKind.MEMORY: [], InputKind.PORT: []}
    patterns = read("--writes", question.writes, parse_writes)
    registers = read("--touches", question.touches, _notation.parse_address_set)
    asked = [(kind, addresses) for kind, addresses, _ in patterns] + registers
    stated = read("--devices", question.devices, _notation.parse_address_set)
    for kind, addresses in stated + asked:
        sets[kind].append(addresses)  # what is asked about is a device register, stated or not
    has_ports = any(kind is InputKind.PORT for kind, _ in stated)
    held: dict[int, int] = {}
    for place in read("--held", question.held, _notation.parse_held):
        held[place.address] = held.get(place.address, 0) | sum(1 << bit for bit in place.bits)
    given = read("--given", question.given, _notation.parse_given)
    entry = read("--entry", [question.entry] if question.entry else [], _notation.parse_address)
    read("--load", [question.load] if question.load else [], _notation.parse_load)
    if not question.asked:
        mistakes.append((Origin("sweep"), words.NOTHING_ASKED))
    if not any(sets.values()):
        mistakes.append((Origin("sweep"), words.NO_DEVICES))
    if mistakes:
        raise BadInput.of_all(mistakes)
    return _Read(
        _union(sets[InputKind.MEMORY]) or AddressSet.of((), MEMORY_LINES),
        _union(sets[InputKind.PORT]) if has_ports else None,  # asking about one port does not silence the others
        held,
        {name: int.from_bytes(data) for name, address, data in given if address is None},
        {address + k: byte for _, address, data in given if address is not None for k, byte in enumerate(data)},
        entry[0] if entry else None,
        tuple(patterns),
        tuple(registers),
    )


def _union(sets: list[AddressSet]) -> AddressSet | None:
    if not sets:
        return None
    return AddressSet.of_cubes((cube for one in sets for cube in one.cubes), max(one.width for one in sets))


class _OpenError(Exception):
    """An image that cannot be asked."""


def ask_image(file: str, raw: bytes, question: SweepQuestion) -> SweepRow:
    """Ask one image.  Never raises: whatever happens is a row."""
    row = SweepRow(file, hashlib.sha256(raw).hexdigest(), len(raw), "asked")
    try:
        return _ask(row, raw, question)
    except BadInput as error:
        return _ended(row, "broken", [f"{place}: {text}" for place, text in error.mistakes])
    except (StudyError, _OpenError) as error:
        return _ended(row, "open", [str(error)])
    except Exception as error:  # one image must not end the sweep
        return _ended(row, "fault", [f"{type(error).__name__}: {error}", words.FAULT])


def _ended(row: SweepRow, state: str, why: list[str]) -> SweepRow:
    return SweepRow(row.file, row.sha256, row.size, state, words=tuple(why))


def _ask(row: SweepRow, raw: bytes, question: SweepQuestion) -> SweepRow:
    asked = _read(question)
    cpu, parts, why = _place(row.file, raw, question)
    entry = _entry(parts, cpu, question.vector) if asked.entry is None else asked.entry
    tree = _follow(parts, cpu, entry, asked, question.nodes)
    answers = [_writes(tree, *pattern) for pattern in asked.patterns]
    answers += [_touches(tree, *register) for register in asked.registers]
    if question.reference is not None:
        answers.append(_same(tree, _reference(question)))
    nodes = len(tree.nodes)
    return SweepRow(
        row.file, row.sha256, row.size, "asked", cpu, parts[0].load, entry, nodes, tuple(answers), tuple(why)
    )


def _place(file: str, raw: bytes, question: SweepQuestion) -> tuple[str, tuple[ImagePart, ...], list[str]]:
    """The processor, the images at their addresses, and what was concluded, by the rules of a study's images."""
    from latchlore.program import parse_rom
    from latchlore.study._layout import ImageTable

    if not raw:
        raise BadInput(Origin(file), words.EMPTY)
    is_raw = parse_rom(raw, file).kind == "raw"
    load = question.load or (_notation.INFER if is_raw else None)
    if not is_raw and load == _notation.INFER:
        load = None
    table = ImageTable.model_validate({"file": file, **({} if load is None else {"load": load})})
    reader = ImageReader(lambda name, _: StudyFile(name, raw), lambda *_: Origin(file))
    cpu, parts, _ = reader.images([table], question.cpu or _notation.INFER)
    if reader.mistakes:
        raise BadInput.of_all(dict.fromkeys(reader.mistakes))
    why = [f"{note.subject}: {note.words or note.why}" for note in reader.notes]
    if not cpu or not parts:
        raise _OpenError("; ".join(why))
    return cpu, parts, why


def _entry(parts: Sequence[ImagePart], cpu: str, vector: str) -> int:
    """Where the named vector leads."""
    from latchlore.program import find_vector
    from latchlore.study._banks import as_image

    found: int | str = find_vector(cpu, vector, [as_image(part) for part in parts])
    if isinstance(found, str):
        raise _OpenError(found)
    return found


def _follow(parts: tuple[ImagePart, ...], cpu: str, entry: int, asked: _Read, nodes: int) -> ByteTree:
    from latchlore.program import Bounds, explore

    if not any(part.load <= entry <= part.last for part in parts):
        where = ", ".join(f"{part.load:04X}-{part.last:04X}" for part in parts)
        raise _OpenError(words.entry_outside(entry, where))
    place = Origin(parts[0].file.file)
    program = ProgramPart(cpu, None, (), (), parts, (), place)
    there = memory_at(program, EntryPart("entry", entry, "", (), (), place))
    return explore(
        there.images,
        entry,
        asked.memory,
        cpu=cpu,
        ports=asked.ports,
        held=asked.held,
        arguments=asked.arguments,
        memory=asked.stated,
        bounds=Bounds(nodes=nodes),
    )


def _writes(tree: ByteTree, kind: InputKind, addresses: AddressSet, pattern: tuple[frozenset[int], ...]) -> SweepAnswer:
    from latchlore.program.testify import emission

    told = emission(tree, pattern, [SignalRole("DATA", kind, addresses, "write")])
    verdict = {True: words.MAY, False: words.NEVER, None: words.CANNOT_TELL}[told.happens]
    places = sorted(
        {
            event.program_address
            for event in tree.iter_events()
            if isinstance(event, Write)
            and event.kind is kind
            and event.address in addresses
            and event.value.possible & pattern[0]
        }
    )
    return SweepAnswer(verdict, tuple(places[:MOST_PLACES]) if told.happens else (), told.bounds[:MOST_WHY])


def _touches(tree: ByteTree, kind: InputKind, addresses: AddressSet) -> SweepAnswer:
    places = sorted(
        {event.program_address for event in tree.iter_events() if event.kind is kind and event.address in addresses}
    )
    if places:
        return SweepAnswer(words.MAY, tuple(places[:MOST_PLACES]), (words.touched(len(places)),))
    return _without(tree, words.NEVER)


def _without(tree: ByteTree, verdict: str) -> SweepAnswer:
    """The verdict where every path was followed to its end, else that it cannot be told."""
    if tree.is_exhausted:
        return SweepAnswer(
            verdict, (), (words.exhausted(len(tree.nodes), tree.entry), *tree.assumptions[: MOST_WHY - 1])
        )
    ends = sorted({f"{leaf.reason} at {leaf.address:04X}" for leaf in tree.leaves if not leaf.is_done})
    return SweepAnswer(words.CANNOT_TELL, (), tuple(words.not_followed(end) for end in ends[:MOST_WHY]))


@lru_cache(maxsize=2)
def _reference(question: SweepQuestion) -> ByteTree:
    """The tree of the image to compare with."""
    assert question.reference is not None
    file, raw = question.reference
    asked = _read(question)
    cpu, parts, _ = _place(file, raw, question)
    entry = _entry(parts, cpu, question.vector) if asked.entry is None else asked.entry
    return _follow(parts, cpu, entry, asked, question.nodes)


def _same(tree: ByteTree, other: ByteTree) -> SweepAnswer:
    """Whether an image behaves like the reference: the same events under the same conditions, times told apart."""
    from latchlore.program import compare_trees

    told = compare_trees(other, tree)
    if told.same is None:
        return SweepAnswer(words.CANNOT_TELL, (), told.not_compared[:MOST_WHY])
    if told.same and not told.num_times:
        return SweepAnswer(words.SAME)
    if told.same:
        places = tuple(sorted({one.second_at for one in told.times}))
        why = tuple(words.other_time(one.words, str(one.first), str(one.second)) for one in told.times)
        return SweepAnswer(words.SAME_OTHER_TIMES, places[:MOST_PLACES], why[:MOST_WHY])
    places = tuple(sorted({one.second_at for one in told.differences}))
    why = tuple(words.difference(one.first, one.second) for one in told.differences)
    return SweepAnswer(words.DIFFERS, places[:MOST_PLACES], why[:MOST_WHY])


def check_reference(question: SweepQuestion) -> None:
    """Refuse an image to compare with that cannot be asked itself."""
    if question.reference is None:
        return
    file, raw = question.reference
    row = ask_image(file, raw, question)  # it is the same as itself
    if row.state != "asked":
        raise BadInput(Origin(file), words.no_reference("; ".join(row.words)))

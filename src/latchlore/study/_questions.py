"""The questions of a study: rivals, trials and outcomes of questions.toml, weighed; an outcome added to the file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from latchlore.base import BadInput, Contradiction, Origin, UnknownName, check_toml, read_toml, set_keys
from latchlore.evidence import (
    Hazard,
    Prospect,
    Reach,
    Trial,
    Weights,
    order_trials,
    predict,
    reach,
    seen_surely,
    share_out,
    update,
)
from latchlore.study import _editwords as editwords
from latchlore.study import _questionwords as words
from latchlore.study._edit import Edit, write_edit
from latchlore.study._load import load_study
from latchlore.study._paths import QUESTIONS, StudyFolder

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from latchlore.base import TomlText
    from latchlore.evidence import ChanceTable
    from latchlore.study._foretell import Foretold
    from latchlore.study._questionlayout import OutcomeTable, QuestionsTable, QuestionTable, TrialTable
    from latchlore.study._study import Study


@dataclass(frozen=True, slots=True)
class Rival:
    """One answer that a question may have; `weight` as it was before any outcome, all adding up to 1."""

    name: str
    says: str
    weight: float
    origin: Origin


@dataclass(frozen=True, slots=True)
class StatedTrial:
    """A trial of the study: `trial` as it is before it is done the first time, the rest in the researcher's words.

    `computed`: how the chances came about, empty where they are stated; `told`: what each rival makes of it then.
    `wires`: what is connected to what, and what is done, as far as it is known.
    """

    trial: Trial
    how: str
    caution: str
    computed: str
    told: tuple[str, ...]
    wires: tuple[str, ...]
    origin: Origin


@dataclass(frozen=True, slots=True)
class Seen:
    """An outcome that was entered; `sure` 0 to 1; `withdrawn`: why it counts no more, empty where it counts.

    `number`: of the outcome in the file, from 1.
    """

    trial: str
    saw: str
    sure: float
    on: str
    note: str
    withdrawn: str
    origin: Origin
    number: int


@dataclass(frozen=True, slots=True)
class Step:
    """An outcome that counts: the chance it was given before it was seen, and the weights after it."""

    seen: Seen
    foreseen: float
    after: Weights


@dataclass(frozen=True, slots=True)
class OpenQuestion:
    """A question with everything known of it.

    `enough`: the weight, above 0.5, at which a rival decides it.  `unit`: of the costs.  `now`: the weights after all
    outcomes; `steps`: the outcomes in the order of the file; `set_aside`: those withdrawn.  `prospects`: the trials
    that may still be done, the best next one first; `reach`: what all of them together can do.  `rivals` is empty for
    a question of study.toml of which questions.toml says nothing.
    """

    name: str
    text: str
    enough: float
    unit: str
    rivals: tuple[Rival, ...]
    trials: tuple[StatedTrial, ...]
    steps: tuple[Step, ...]
    set_aside: tuple[Seen, ...]
    now: Weights
    prospects: tuple[Prospect, ...]
    reach: Reach | None
    origin: Origin

    @property
    def decided(self) -> Rival | None:
        """The rival that has reached `enough`, or None."""
        return next((one for one, weight in zip(self.rivals, self.now, strict=True) if weight >= self.enough), None)

    def get_trial(self, name: str) -> StatedTrial:
        """The trial of that name."""
        for one in self.trials:
            if one.trial.name == name:
                return one
        raise UnknownName(f"question {self.name!r} has no trial {name!r}", [one.trial.name for one in self.trials])


@dataclass(frozen=True, slots=True)
class Questions:
    """All questions of a study: those of questions.toml in its order, then those that only study.toml asks."""

    title: str
    is_invented: bool
    folder: Path
    questions: tuple[OpenQuestion, ...]

    def question_of(self, trial: str) -> OpenQuestion:
        """The question that a trial belongs to; trials have names of their own in the whole file."""
        for one in self.questions:
            if any(stated.trial.name == trial for stated in one.trials):
                return one
        known = [stated.trial.name for one in self.questions for stated in one.trials]
        raise UnknownName(f"there is no trial {trial!r}", known)


def read_questions(folder: Path) -> Questions:
    """The questions of a study, each with its weights and the order of its trials; nothing is written.

    Refuses what breaks the rules of the files, all mistakes at once, and (`Contradiction`) an outcome that no rival
    allows.
    """
    study = load_study(folder)
    raw = _raw(study)
    reader = None if raw is None else Reader(study, raw)
    if reader is not None:
        reader.finish()
    return _questions(study, reader)


def record_outcome(folder: Path, trial: str, saw: str, *, sure: float, on: str = "", note: str = "") -> Questions:
    """Add an outcome to the end of questions.toml, and weigh anew; every byte that was there stays.

    `sure`: percent, above 0 to 100; `on`: year, month and day.  Refuses an unknown trial or outcome, one more than the
    trial may be done, and a file that was changed meanwhile; nothing is written then.  An outcome that no rival allows
    is kept: what was seen was seen; the weights are refused until a rival is added.
    """
    study, reader, edit = _outcome(folder, trial, saw, sure, on, note)
    write_edit(study.folder, edit)
    return _questions(study, reader)


def plan_outcome(folder: Path, trial: str, saw: str, *, sure: float, on: str = "", note: str = "") -> Edit:
    """What `record_outcome` would write; refuses what it refuses."""
    return _outcome(folder, trial, saw, sure, on, note)[2]


def _outcome(folder: Path, trial: str, saw: str, sure: float, on: str, note: str) -> tuple[Study, Reader, Edit]:
    study, reader, raw = _opened(folder)
    stated = next((one for _, trials in reader.questions for one in trials if one.trial.name == trial), None)
    known = [one.trial.name for _, trials in reader.questions for one in trials]
    if stated is None:
        raise UnknownName(f"there is no trial {trial!r}", known)
    if saw not in stated.trial.outcomes:
        raise UnknownName(f"trial {trial!r} has no outcome {saw!r}", stated.trial.outcomes)
    new = raw + _outcome_text(raw, trial, saw, sure, on, note)
    reader = Reader(study, new)
    reader.finish()
    return study, reader, Edit(editwords.ADD_OUTCOME.format(trial=trial), {QUESTIONS: new}, {QUESTIONS: raw})


def plan_outcome_withdrawal(folder: Path, number: int, why: str) -> Edit:
    """What takes an outcome back: it stays in the file with the reason, and counts no more.

    `number`: of the outcome in questions.toml, from 1.  Refuses one that is not there or was withdrawn before, and an
    empty reason.
    """
    study, reader, raw = _opened(folder)
    outcomes = reader.table.outcome
    if not 1 <= number <= len(outcomes):
        raise UnknownName(editwords.NO_OUTCOME.format(number=number, count=len(outcomes)))
    why = " ".join(why.split())
    if not why:
        raise UnknownName(editwords.WHY)
    if outcomes[number - 1].withdrawn:
        raise BadInput(reader.toml.origin(("outcome", number - 1)), editwords.WITHDRAWN_ALREADY)
    new = set_keys(raw, QUESTIONS, ("outcome", number - 1), {"withdrawn": why})
    Reader(study, new).finish()
    words_of_it = editwords.WITHDRAW_OUTCOME.format(trial=outcomes[number - 1].trial)
    return Edit(words_of_it, {QUESTIONS: new}, {QUESTIONS: raw})


def _opened(folder: Path) -> tuple[Study, Reader, bytes]:
    """The study, its questions, and the file's bytes.  Refuses a study without the file, and one with mistakes."""
    study = load_study(folder)
    raw = _raw(study)
    if raw is None:
        raise BadInput(Origin(QUESTIONS), words.NO_FILE)
    reader = Reader(study, raw)
    reader.finish()
    return study, reader, raw


def _outcome_text(raw: bytes, trial: str, saw: str, sure: float, on: str, note: str) -> bytes:
    import tomlkit

    pairs: list[tuple[str, object]] = [
        ("trial", trial),
        ("saw", saw),
        ("sure", int(sure) if sure == int(sure) else sure),
    ]
    pairs += [(key, value) for key, value in (("on", on), ("note", note)) if value]
    lines = ["", "[[outcome]]", *(f"{key} = {tomlkit.item(value).as_string()}" for key, value in pairs), ""]
    if raw and not raw.endswith(b"\n"):
        lines.insert(0, "")
    return "\n".join(lines).encode("utf-8")


def _raw(study: Study) -> bytes | None:
    opened = StudyFolder(study.folder)
    if QUESTIONS not in opened.list_files("", ".toml"):
        return None
    return opened.read(QUESTIONS, "study file").raw


def _questions(study: Study, reader: Reader | None) -> Questions:
    found = [reader.weigh(k) for k in range(len(reader.questions))] if reader is not None else []
    told = {one.text for one in found}
    for asked in study.questions:
        if asked.text not in told:
            found.append(OpenQuestion("", asked.text, 0.95, "", (), (), (), (), (), (), None, asked.origin))
    return Questions(study.title, study.is_invented, study.folder, tuple(found))


class Reader:
    """One reading of questions.toml; collects mistakes and goes on."""

    def __init__(self, study: Study, raw: bytes) -> None:
        from latchlore.study._questionlayout import QuestionsTable

        self.study = study
        self.toml: TomlText = read_toml(raw, QUESTIONS)
        self.table: QuestionsTable = check_toml(QuestionsTable, self.toml)
        self.mistakes: list[tuple[Origin, str]] = []
        self.questions: list[tuple[QuestionTable, tuple[StatedTrial, ...]]] = []
        self._unique("question", [(one.name, ("question", i)) for i, one in enumerate(self.table.question)])
        self._unique(
            "trial",
            [
                (one.name, ("question", i, "trial", k))
                for i, row in enumerate(self.table.question)
                for k, one in enumerate(row.trial)
            ],
        )
        for i, row in enumerate(self.table.question):
            self.questions.append((row, self._trials(i, row)))
        self._check_outcomes()

    def finish(self) -> None:
        """Refuse the file if there were mistakes."""
        if self.mistakes:
            raise BadInput.of_all(sorted(set(self.mistakes), key=lambda pair: (pair[0].file, pair[0].number, pair[1])))

    def _unique(self, what: str, names: list[tuple[str, tuple[str | int, ...]]]) -> None:
        first: dict[str, tuple[str | int, ...]] = {}
        for name, path in names:
            if first.setdefault(name, path) != path:
                place = self.toml.origin((*first[name], "name"))
                told = words.TWICE.format(what=what, name=name, first=place)
                self.mistakes.append((self.toml.origin((*path, "name")), told))

    def _trials(self, i: int, row: QuestionTable) -> tuple[StatedTrial, ...]:
        self._unique("rival", [(one.name, ("question", i, "rival", k)) for k, one in enumerate(row.rival)])
        if len(row.rival) < 2 and (row.rival or row.trial):
            told = words.TWO_RIVALS.format(count=len(row.rival))
            self.mistakes.append((self.toml.origin(("question", i)), told))
            return ()
        found = []
        for k, one in enumerate(row.trial):
            try:
                found.append(self._trial(i, row, k, one))
            except BadInput as error:
                self.mistakes += error.mistakes
        return tuple(found)

    def _trial(self, i: int, row: QuestionTable, k: int, one: TrialTable) -> StatedTrial:
        from latchlore.study._foretell import in_doubt

        origin = self.toml.origin(("question", i, "trial", k))
        told: tuple[str, ...] = ()
        wires: tuple[str, ...] = ()
        computed = ""
        outcomes = tuple(one.outcomes)
        chances: ChanceTable
        if one.chances is not None:
            chances = self._stated(i, row, k, one)
        else:
            (outcomes, rows, sentences, wires), computed = self._foretell(i, row, k, one)
            doubt = words.DOUBT_PERCENT if one.doubt is None else one.doubt
            chances, told = in_doubt(rows, doubt / 100), tuple(sentences)
        trial = Trial(one.name, outcomes, chances, one.cost, Hazard.of_key(one.hazard), one.times)
        return StatedTrial(trial, one.how, one.caution, computed, told, wires, origin)

    def _stated(self, i: int, row: QuestionTable, k: int, one: TrialTable) -> ChanceTable:
        given = one.chances or {}
        names = [rival.name for rival in row.rival]
        place = ("question", i, "trial", k, "chances")
        mistakes: list[tuple[Origin, str]] = []
        found: dict[str, tuple[float, ...]] = {}
        for key, numbers in given.items():
            at, name = self.toml.origin((*place, key)), " ".join(key.split())
            if name not in names:
                told = words.NO_RIVAL.format(question=row.name, rival=name, known=words.listed(names))
                mistakes.append((at, told))
            elif len(numbers) != len(one.outcomes):
                told = words.COUNT.format(rival=name, outcomes=len(one.outcomes), count=len(numbers))
                mistakes.append((at, told))
            elif not any(abs(sum(numbers) - whole) <= 1e-6 * whole for whole in (1, 100)):
                mistakes.append((at, words.SUM.format(rival=name, total=sum(numbers))))
            else:
                found[name] = share_out(numbers)
        known = {" ".join(key.split()) for key in given}
        mistakes += [
            (self.toml.origin(place), words.NO_CHANCES.format(rival=name)) for name in names if name not in known
        ]
        if mistakes:
            raise BadInput.of_all(mistakes)
        return tuple(found[name] for name in names)

    def _foretell(self, i: int, row: QuestionTable, k: int, one: TrialTable) -> tuple[Foretold, str]:
        from latchlore.study._foretell import Boards, listened, sent

        def at(*path: str | int) -> Origin:
            return self.toml.origin(("question", i, *path) if path else ("question", i, "trial", k))

        if one.listener is not None:
            return listened(one.listener, row.rival, one.name, at), words.COMPUTED_LISTENER
        if one.send is not None:
            return sent(self.study, one.send, row.rival, one.name, at), words.COMPUTED_SEND
        boards = Boards(self.study, one.name, row.rival, at)
        if one.joined is not None:
            return boards.joined(one.joined, at("trial", k, "joined")), words.COMPUTED_JOINED
        assert one.read is not None
        return boards.read(one.read), words.COMPUTED_READ

    def _check_outcomes(self) -> None:
        trials = {one.name: one for row in self.table.question for one in row.trial}
        ready = {one.trial.name: one.trial for _, found in self.questions for one in found}
        counts: dict[str, int] = {}
        for i, row in enumerate(self.table.outcome):
            if row.trial not in trials:
                told = words.NO_TRIAL.format(name=row.trial, known=words.listed(list(trials)))
                self.mistakes.append((self.toml.origin(("outcome", i, "trial")), told))
            elif row.trial in ready:  # else the trial itself is broken, and told already
                trial = ready[row.trial]
                if row.saw not in trial.outcomes:
                    known = words.listed(list(trial.outcomes))
                    told = words.NO_OUTCOME.format(trial=row.trial, saw=row.saw, known=known)
                    self.mistakes.append((self.toml.origin(("outcome", i, "saw")), told))
                counts[row.trial] = counts.get(row.trial, 0) + (not row.withdrawn)
                if counts[row.trial] > trial.times and not row.withdrawn:
                    told = words.TOO_OFTEN.format(trial=row.trial, times=trial.times)
                    self.mistakes.append((self.toml.origin(("outcome", i)), told))

    def weigh(self, k: int) -> OpenQuestion:
        """A question after its outcomes."""
        row, trials = self.questions[k]
        by_name = {one.trial.name: one.trial for one in trials}
        outcomes = [
            (self._seen(i, one), by_name[one.trial]) for i, one in enumerate(self.table.outcome) if one.trial in by_name
        ]
        counting = [(seen, trial) for seen, trial in outcomes if not seen.withdrawn]
        before = share_out([rival.weight for rival in row.rival]) if row.rival else ()
        steps = _steps(before, counting)
        now = steps[-1].after if steps else before
        done: dict[str, int] = {}
        for seen, _ in counting:
            done[seen.trial] = done.get(seen.trial, 0) + 1
        left = [
            replace(one.trial, times=one.trial.times - done.get(name, 0))
            for one in trials
            if one.trial.times > done.get((name := one.trial.name), 0)
        ]
        rivals = tuple(
            Rival(one.name, one.says, weight, self.toml.origin(("question", k, "rival", number)))
            for number, (one, weight) in enumerate(zip(row.rival, before, strict=True))
        )
        return OpenQuestion(
            name=row.name,
            text=row.text,
            enough=row.enough / 100,
            unit=row.unit,
            rivals=rivals,
            trials=trials,
            steps=steps,
            set_aside=tuple(seen for seen, _ in outcomes if seen.withdrawn),
            now=now,
            prospects=order_trials(now, left) if rivals else (),
            reach=reach(now, left, row.enough / 100) if rivals else None,
            origin=self.toml.origin(("question", k)),
        )

    def _seen(self, i: int, one: OutcomeTable) -> Seen:
        origin = self.toml.origin(("outcome", i))
        return Seen(one.trial, one.saw, one.sure / 100, one.on or "", one.note, one.withdrawn, origin, i + 1)


def _steps(before: Weights, counting: Sequence[tuple[Seen, Trial]]) -> tuple[Step, ...]:
    """The weights after each outcome.  Refuses one that no rival allows after those above it."""
    steps: list[Step] = []
    told: list[tuple[ChanceTable, Weights]] = []
    now = before
    for seen, trial in counting:
        index = trial.outcomes.index(seen.saw)
        foreseen = predict(now, trial.chances)[index]
        told.append((trial.chances, seen_surely(index, len(trial.outcomes), seen.sure)))
        try:
            now = update(before, told)
        except ValueError as error:
            first = steps[0].seen.origin if steps else Origin(QUESTIONS)
            claim = words.IMPOSSIBLE.format(trial=seen.trial, saw=seen.saw)
            raise Contradiction(claim, seen.origin, first) from error
        steps.append(Step(seen, foreseen, now))
    return tuple(steps)

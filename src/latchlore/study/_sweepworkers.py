"""Many images asked at once: by processes of this machine, or by the workers of a Dask cluster.

Whoever asks, a row depends on the image and the question alone.  A process that dies takes its image with it and
nothing else: the image is asked once more in a new process, and then reported.
"""

from __future__ import annotations

import signal
from collections import deque
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import wait
from time import monotonic
from typing import TYPE_CHECKING, Any

from latchlore.base import BadInput, Origin, Unsupported
from latchlore.study import _sweepwords as words
from latchlore.study._paths import reason
from latchlore.study._sweepquestion import SweepRow, ask_image

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from multiprocessing.connection import Connection
    from multiprocessing.context import SpawnProcess

    from latchlore.study._sweepquestion import SweepQuestion

    Reader = Callable[[], bytes]

TRIES = 2  # processes that may die over one image
IN_HAND = 4  # images that wait at each thread of a cluster
CONNECT_SECONDS = 10
LOOK_SECONDS = 2
WITHOUT_WORKERS_SECONDS = 60  # a cluster's workers may go and come back, so long at most


@dataclass(frozen=True, slots=True)
class Task:
    """An image to ask: its name, its SHA-256 and size as they were found, and how to read it."""

    file: str
    sha256: str
    size: int
    read: Reader


@dataclass(slots=True)
class _Worker:
    """A process with the image that it has in hand."""

    process: SpawnProcess
    pipe: Connection
    task: Task | None = None


def iter_rows_here(tasks: Sequence[Task], question: SweepQuestion, workers: int) -> Iterator[SweepRow]:
    """Rows as they come, from so many processes of this machine.

    The first process works alone until its first row is there: it compiles what the others then find compiled.
    """
    context = get_context("spawn")  # a forked compiler is not to be trusted
    left, deaths = deque(tasks), dict[str, int]()
    crew: list[_Worker] = []

    def hire() -> None:
        ours, theirs = context.Pipe()
        process = context.Process(target=_work, args=(theirs, question), daemon=True)
        with _no_interrupt():  # the child inherits it, or an interrupt in its first moments would be told by it
            process.start()
        theirs.close()
        crew.append(_Worker(process, ours))

    number = 1
    try:
        while left or any(one.task for one in crew):
            while left and len(crew) < number:
                hire()
            for one in crew:
                while left and one.task is None:
                    unread = _hand(one, left.popleft())
                    if unread is not None:
                        yield unread
            for ready in wait([one.pipe for one in crew if one.task]):
                one = next(one for one in crew if one.pipe is ready)
                row = _take(one)
                if row is not None:
                    number = max(workers, 1)
                    one.task = None
                    yield row
                    continue
                crew.remove(one)
                task, code = _bury(one)
                deaths[task.file] = deaths.get(task.file, 0) + 1
                if deaths[task.file] < TRIES:
                    left.appendleft(task)
                else:
                    yield _lost(task, words.worker_died(TRIES, code))
    finally:
        for one in crew:
            one.pipe.close()
            one.process.terminate()
        for one in crew:
            one.process.join()


@contextmanager
def _no_interrupt() -> Iterator[None]:
    """Keep the terminal's interrupt waiting, where the system can."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _hand(one: _Worker, task: Task) -> SweepRow | None:
    """Give a process its next image; a row where the image cannot be read any more."""
    raw = _raw(task)
    if isinstance(raw, SweepRow):
        return raw
    one.task = task
    with suppress(BrokenPipeError, ConnectionResetError):  # it has died: that is met when its row is taken
        one.pipe.send((task.file, raw))
    return None


def _raw(task: Task) -> bytes | SweepRow:
    try:
        return task.read()
    except OSError as error:
        return SweepRow(task.file, task.sha256, task.size, "broken", words=(words.cannot_read(reason(error)),))


def _take(one: _Worker) -> SweepRow | None:
    """The row that a process sends; None where it has died."""
    try:
        row = one.pipe.recv()
    except (EOFError, OSError):
        return None
    assert isinstance(row, SweepRow)
    return row


def _bury(one: _Worker) -> tuple[Task, int | None]:
    one.pipe.close()
    one.process.join()
    assert one.task is not None
    return one.task, one.process.exitcode


def _lost(task: Task, why: str) -> SweepRow:
    return SweepRow(task.file, task.sha256, task.size, "lost", words=(why,))


def _work(pipe: Connection, question: SweepQuestion) -> None:
    """A process's life: ask what comes, until the pipe is closed.  The terminal's interrupt is its parent's affair."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    while True:
        try:
            file, raw = pipe.recv()
        except (EOFError, OSError):
            return
        pipe.send(ask_image(file, raw, question))


# --- on a cluster


def iter_rows_on(address: str, tasks: Sequence[Task], question: SweepQuestion, stamp: str) -> Iterator[SweepRow]:
    """Rows as they come, from the workers of the Dask scheduler at an address; images travel to them.

    `stamp` names this code: a worker with other code is refused, since its rows might differ.  Refuses an address
    where no scheduler answers, a cluster that is without workers for `WITHOUT_WORKERS_SECONDS`, and (`Unsupported`)
    an installation without the extra ``cluster``.
    """
    try:
        import distributed
    except ImportError as error:
        raise Unsupported(Origin("--on"), words.NO_CLUSTER) from error
    dask: Any = distributed
    try:
        client = dask.Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        raise BadInput(Origin(address), words.no_scheduler(_first_line(error))) from error
    left = deque(tasks)
    suspects: deque[Task] = deque()
    tried: set[str] = set()
    futures: dict[Any, Task] = {}

    def submit(waiting: deque[Task]) -> SweepRow | None:
        """Send the next image on its way; a row where it cannot be read any more."""
        task = waiting.popleft()
        raw = _raw(task)
        if isinstance(raw, SweepRow):
            return raw
        future = client.submit(_ask_there, task.file, raw, question, stamp, pure=False)
        futures[future] = task
        return None

    try:
        room = IN_HAND * max(sum(client.ncores().values()), 1)
        while left or suspects or futures:
            # Dask blames every image that a dying worker had in hand; once the others are done each suspect goes alone
            waiting, most = (left, room) if left else (suspects, 0 if futures else 1)
            while waiting and len(futures) < most:
                unread = submit(waiting)
                if unread is not None:
                    yield unread
            if not futures:
                continue
            future = _wait_done(dask, client, list(futures), address)
            task = futures.pop(future)
            row = _row_of(future, task, address)
            if row.state == "lost" and task.file not in tried:
                tried.add(task.file)
                suspects.append(task)
            else:
                yield row
    finally:
        for future in futures:
            future.cancel()
        client.close()


def _wait_done(dask: Any, client: Any, futures: list[Any], address: str) -> Any:
    """The first of some images that is done with; refuses a cluster whose workers are gone and stay away."""
    alone = monotonic()
    while True:
        try:
            with client.as_current():
                ready = dask.wait(futures, timeout=LOOK_SECONDS, return_when="FIRST_COMPLETED").done
        except (TimeoutError, dask.TimeoutError):
            ready = ()
        for future in futures:  # in the order in which they were sent
            if future in ready:
                return future
        if client.scheduler_info().get("workers"):
            alone = monotonic()
        elif monotonic() - alone > WITHOUT_WORKERS_SECONDS:
            raise BadInput(Origin(address), words.NO_WORKERS.format(seconds=WITHOUT_WORKERS_SECONDS))


def _row_of(future: Any, task: Task, address: str) -> SweepRow:
    from distributed import KilledWorker

    try:
        row = future.result()
    except KilledWorker as error:
        return _lost(task, words.killed_there(_first_line(error)))
    if row is None:
        raise BadInput(Origin(address), words.OTHER_CODE)
    assert isinstance(row, SweepRow)
    return row


def _first_line(error: BaseException) -> str:
    return str(error).split("\n", maxsplit=1)[0].strip() or type(error).__name__


def _ask_there(file: str, raw: bytes, question: SweepQuestion, stamp: str) -> SweepRow | None:
    """Ask an image at a worker of a cluster; None where its code is another."""
    from latchlore.study._sweep import sweep_stamp

    return ask_image(file, raw, question) if sweep_stamp() == stamp else None

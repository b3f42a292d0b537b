"""A process that has everything loaded and lets copies of itself be killed at any call that reaches the disk."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

# Before a test's own code: `make_mortal(last)` has the process die at the call number `last` of the functions by which
# anything reaches the disk (0: live), and lets a stream write in two halves, so that a kill can fall between them.
BEFORE = """
import os, signal, sys
from pathlib import Path

calls = 0

def mortal(function, last):
    def call(*args, **kwargs):
        global calls
        calls += 1
        if calls == last:
            os.kill(os.getpid(), signal.SIGKILL)
        return function(*args, **kwargs)
    return call

class Halves:
    def __init__(self, stream): self.stream = stream
    def __enter__(self): return self
    def __exit__(self, *error): self.stream.close()
    def write(self, data):
        self.stream.write(data[:len(data) // 2]); self.stream.flush(); os.chmod(self.stream.fileno(), 0o644)
        self.stream.write(data[len(data) // 2:])
    def __getattr__(self, name): return getattr(self.stream, name)

def make_mortal(last):
    for name in ("open", "replace", "fsync", "chmod", "unlink", "close"):
        setattr(os, name, mortal(getattr(os, name), last))
    fdopen = os.fdopen
    os.fdopen = lambda *args, **kwargs: Halves(fdopen(*args, **kwargs))
"""
# Behind it: each line is a word and a number, which a copy of the process gives to the test's `work`.  Answered with
# the copy's process number, and at its end with what became of it.
BEHIND = """
for line in sys.stdin:
    word, last = line.split()
    child = os.fork()
    if child == 0:
        try:
            work(word, int(last))
        except BaseException:
            import traceback
            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    print(child, flush=True)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""


class Nursery:
    """Jobs in copies of a process that runs `code`, which defines ``work(word, last)``; `arguments` are its own."""

    def __init__(self, code: str, *arguments: str | Path) -> None:
        command = [sys.executable, "-c", BEFORE + code + BEHIND, *map(str, arguments)]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self.running = 0

    def start(self, word: str, last: int) -> int:
        """Have a job started; its process number."""
        assert self.process.stdin
        self.process.stdin.write(f"{word} {last}\n")
        self.process.stdin.flush()
        self.running = self._number()
        return self.running

    def end(self) -> int:
        """Wait for the job's end; its exit code, or the signal that killed it as a negative number."""
        code = self._number()
        self.running = 0
        return code

    def _number(self) -> int:
        assert self.process.stdout
        return int(self.process.stdout.readline())

    def __enter__(self) -> Nursery:
        return self

    def __exit__(self, *_: object) -> None:
        if self.running:  # a check failed while the job was running
            os.kill(self.running, signal.SIGKILL)
        self.process.communicate()

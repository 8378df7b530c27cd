"""Processes of this machine that work jobs off, one at a time each.

The standard library's pools end with the first process that is killed, as systems
short of memory do. Here each process has a pipe of its own, so that it is known which
drawing was on it: that drawing is tried once more, then it is a fault, and the rest
goes on. Processes are spawned, not forked, so that they begin alike on every system.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
from collections import Counter
from dataclasses import dataclass
from multiprocessing.connection import wait
from types import ModuleType
from typing import TYPE_CHECKING

from fillwork.errors import FillworkError
from fillwork.pipeline.batch.parts import faults, make_parts

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from multiprocessing.connection import Connection
    from multiprocessing.process import BaseProcess
    from types import FrameType
    from typing import NoReturn

    from fillwork.pipeline.batch.jobs import Job
    from fillwork.pipeline.batch.parts import Keeping, Part


_TRIES = 2
"""A drawing whose process was killed is tried so often in all."""

HEAVY = 1 << 30
"""A process that once took so many bytes makes room for a new one."""


def usable_cores() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@dataclass(slots=True, eq=False)
class _Worker:
    """Hold a process, its pipe and the job that it works on."""

    process: BaseProcess
    pipe: Connection
    job: Job | None = None


def work_locally(
    jobs: Iterable[Job], keeping: Keeping, *, workers: int
) -> Iterator[tuple[Job, list[Part]]]:
    """Work jobs off on processes of this machine.

    `jobs`: taken one by one as processes are free. `keeping`: writes the files of a
    part, in the process that made it. `workers`: how many processes at most. Yields in
    the order in which they are done, without the files' bytes.
    """
    waiting = iter(jobs)
    tries: Counter[Job] = Counter()
    crew: list[_Worker] = []
    try:
        while True:
            while len(crew) < workers and (job := next(waiting, None)) is not None:
                crew.append(_begin(job, keeping))
            if not crew:
                return
            for pipe in wait([worker.pipe for worker in crew]):
                worker = next(w for w in crew if w.pipe is pipe)
                job = worker.job
                assert job is not None
                tries[job] += 1
                parts, fit = _receive(worker)
                again = parts is None and tries[job] < _TRIES
                after = job if again else next(waiting, None)
                if fit and after is not None:
                    _hand(worker, after)
                else:
                    _end(worker)
                    crew.remove(worker)
                    if after is not None:
                        crew.append(_begin(after, keeping))
                if not again:
                    yield job, list(faults(job, _killed())) if parts is None else parts
    finally:
        for worker in crew:
            worker.process.terminate()
        for worker in crew:
            _end(worker)


def _killed() -> FillworkError:
    what = "the process that worked on it was ended from outside, twice"
    mend = "most likely for want of memory: take fewer --workers"
    return FillworkError(what, mend=mend)


def _begin(job: Job, keeping: Keeping) -> _Worker:
    """Return a new process with its first job."""
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe()
    process = context.Process(target=_serve, args=(there, keeping), daemon=True)
    with _without_script():
        process.start()
    there.close()
    worker = _Worker(process, here)
    _hand(worker, job)
    return worker


@contextlib.contextmanager
def _without_script() -> Iterator[None]:
    """Hide the script that runs, which a new process would run once more."""
    script = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = script


def _hand(worker: _Worker, job: Job) -> None:
    worker.job = job
    with contextlib.suppress(OSError):  # a process that is gone is told by its pipe
        worker.pipe.send(job)


def _receive(worker: _Worker) -> tuple[list[Part] | None, bool]:
    """Return parts, none where the process is gone, and whether it is fit for more."""
    try:
        found: tuple[list[Part], bool] = worker.pipe.recv()
    except (EOFError, OSError):
        return None, False
    return found


def _end(worker: _Worker) -> None:
    """Let a process go: it ends when its pipe does."""
    worker.pipe.close()
    worker.process.join(5)
    if worker.process.is_alive():
        worker.process.kill()
        worker.process.join()


class _Stop:
    """End the process when told to, but never while files are being written."""

    def __init__(self) -> None:
        self.told = self.writing = False

    def __call__(self, number: int, frame: FrameType | None) -> None:
        self.told = True
        if not self.writing:
            self.leave()

    def leave(self) -> NoReturn:
        sys.exit(1)

    @contextlib.contextmanager
    def held(self) -> Iterator[None]:
        self.writing = True
        try:
            yield
        finally:
            self.writing = False
        if self.told:
            self.leave()


def _serve(pipe: Connection, keeping: Keeping) -> None:
    """Work off what comes through the pipe until it ends."""
    from fillwork.pipeline.taking import read_source

    # Ctrl-C goes to all processes of a terminal: the caller alone decides
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    stop = _Stop()
    signal.signal(signal.SIGTERM, stop)
    with contextlib.suppress(EOFError, OSError):
        while True:
            job: Job = pipe.recv()
            parts: list[Part] = []
            try:
                data = read_source(job.path, allow_large=job.allow_large)
            except FillworkError as error:
                parts.extend(faults(job, error))
            else:
                for part in make_parts(job, data):
                    with stop.held():
                        parts.append(keeping(part))
            pipe.send((parts, _peak() < HEAVY))


def _peak() -> int:
    """Return the most bytes that this process ever took; 0 where it is not told."""
    try:
        import resource
    except ImportError:  # Windows
        return 0
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak if sys.platform == "darwin" else peak * 1024

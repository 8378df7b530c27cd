"""Jobs on other machines, through a Dask scheduler that somebody runs.

Drawings travel as bytes and files come back as bytes; the caller writes them, so the
machines need share no disk. Few jobs are on their way at a time. Dask gives a job whose
worker is lost to another one, and after some such losses gives it up as a fault.
"""

from __future__ import annotations

import contextlib
import logging
import socket
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from fillwork.errors import FillworkError, ReadError
from fillwork.pipeline.batch.parts import faults, make_parts

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from fillwork.pipeline.batch.jobs import Job
    from fillwork.pipeline.batch.parts import Part


AHEAD = 2
"""Jobs on their way for each thread of the workers, so that none waits for the next."""

PATIENCE = 30.0
"""Seconds until a scheduler that does not answer, or has no workers, is given up."""


def work_on_cluster(
    jobs: Iterable[Job], address: str
) -> Iterator[tuple[Job, list[Part]]]:
    """Work jobs off on the workers of a Dask scheduler.

    `jobs`: taken one by one as workers are free. `address`: the scheduler's, such as
    ``tcp://10.0.0.5:8786``. Yields in the order in which they are done, with the files'
    bytes. Raises `ReadError` if Dask is not installed, or the scheduler or its workers
    are of no use.
    """
    distributed = _load()
    from fillwork.pipeline.taking import read_source

    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    with contextlib.ExitStack() as stack:
        client = stack.enter_context(_connect(distributed, address))
        waiting = iter(jobs)
        running: dict[Any, Job] = {}
        queue = distributed.as_completed([], loop=client.loop)
        while True:
            threads = sum(client.nthreads().values())
            while len(running) < max(threads, 1) * AHEAD:
                job = next(waiting, None)
                if job is None:
                    break
                try:
                    data = read_source(job.path, allow_large=job.allow_large)
                except FillworkError as error:
                    yield job, list(faults(job, error))
                    continue
                future = client.submit(colour_bytes, job, data, pure=False)
                running[future] = job
                queue.add(future)
            if not running:
                return
            future = next(queue)
            job = running.pop(future)
            yield job, _result(future, job, address)
            future.release()


def colour_bytes(job: Job, data: bytes) -> list[Part]:
    """Do one job; this is what workers call. One part a palette."""
    return list(make_parts(job, data))


def _load() -> Any:
    try:
        import distributed
    except ImportError as error:
        what = "working on a cluster needs Dask, which is not installed"
        mend = "in fillwork's folder say: pip install '.[cluster]'"
        raise ReadError(what, mend=mend) from error
    return distributed


def _connect(distributed: Any, address: str) -> Any:
    """Return a client of a scheduler that has workers."""
    _knock(address)
    try:
        client = distributed.Client(
            address, timeout=PATIENCE, set_as_default=False, name="fillwork batch"
        )
    except (OSError, ValueError, TimeoutError) as error:
        raise _nobody(address) from error
    try:
        client.wait_for_workers(1, timeout=PATIENCE)
    except TimeoutError as error:
        client.close()
        what = "the scheduler has no workers"
        raise ReadError(what, address, f"run: dask worker {address}") from error
    return client


def _knock(address: str) -> None:
    """Ask whether anybody listens there: Dask's client waits long and is loud."""
    try:
        place = urlsplit(address if "://" in address else f"tcp://{address}")
        host, port = place.hostname, place.port
        if place.scheme not in ("tcp", "tls"):
            return
        if host is None or port is None:
            raise _nobody(address)
        socket.create_connection((host, port), PATIENCE).close()
    except (OSError, ValueError) as error:
        raise _nobody(address) from error


def _nobody(address: str) -> ReadError:
    what = "no Dask scheduler answers there"
    mend = "give --cluster the address that dask scheduler says it listens on"
    return ReadError(what, address, mend)


def _result(future: Any, job: Job, address: str) -> list[Part]:
    """Return what a worker gave, or its loss as a fault."""
    from fillwork.version import __version__

    error = future.exception()
    if error is not None and _no_module(error):
        what = "a worker cannot load this fillwork"
        mend = f"install fillwork {__version__} on every worker"
        raise ReadError(what, address, mend) from error
    if error is not None:
        return list(faults(job, _lost(error)))
    parts: list[Part] = future.result()
    other = {part.version for part in parts if part.version} - {__version__}
    if other:
        what = f"a worker has fillwork {other.pop()}, here it is {__version__}"
        raise ReadError(what, address, "install the same version everywhere")
    return parts


def _no_module(error: BaseException | None) -> bool:
    """Return whether a module was missing; Dask wraps that in errors of its own."""
    while error is not None:
        if isinstance(error, ImportError) or "No module named" in str(error):
            return True
        error = error.__cause__
    return False


def _lost(error: BaseException) -> FillworkError:
    """Return the fault of a job that the cluster gave up."""
    what = f"the cluster gave it up: {type(error).__name__}: {error}"
    if type(error).__name__ == "KilledWorker":
        what = "every worker that took it was lost"
    mend = "most likely for want of memory: colour it by itself"
    return FillworkError(what, mend=mend)

"""Run many fields: in processes of this machine, or on a cluster by its scheduler's address."""

from __future__ import annotations

import multiprocessing
import threading
import time
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from geoagro.cli.many.one_field import lay_one
from geoagro.errors import InputError
from geoagro.values.results.field_result import FieldResult

TRIES = 2
"""A field whose process ends without a word is tried again once, alone; then it is told as died."""
_RECONNECTS = 5
_WAIT_S = 5.0
_LOOK_S = 30.0
_DIED = "its process ended without a word, twice: short of memory, or killed. Try it alone with `geoagro layout`"
Lay = Callable[[Path, Path], FieldResult]


def in_processes(
    jobs: Sequence[Path], root: Path, *, workers: int, lay: Lay = lay_one
) -> Iterator[tuple[Path, FieldResult]]:
    """Results as fields are finished, `workers` at a time, each in a fresh process of its own pool.

    When a process dies, its pool goes with it; what was under way is tried again one by one, so that only the field that
    kills is left out.
    """
    doubtful: list[Path] = []
    waiting = list(jobs)
    while waiting:
        waiting = yield from _one_pool(waiting, root, workers, lay, doubtful)
    for job in doubtful:
        yield from _alone(job, root, lay)


def _one_pool(
    jobs: list[Path], root: Path, workers: int, lay: Lay, doubtful: list[Path]
) -> Generator[tuple[Path, FieldResult], None, list[Path]]:
    """Run until all is done or the pool breaks; returns what is left, and adds what was under way to `doubtful`."""
    left = list(jobs)
    with _pool(workers) as pool:
        running: dict[Future[FieldResult], Path] = {}
        try:
            while left or running:
                while left and len(running) < workers:
                    job = left.pop(0)
                    running[pool.submit(lay, job, root)] = job
                done, _ = wait(running, return_when=FIRST_COMPLETED)
                for future in done:
                    result = future.result()
                    yield running.pop(future), result
        except BrokenProcessPool:
            doubtful += running.values()
    return left


def _alone(job: Path, root: Path, lay: Lay) -> Iterator[tuple[Path, FieldResult]]:
    for _ in range(TRIES):
        with _pool(1) as pool:
            try:
                result = pool.submit(lay, job, root).result()
            except BrokenProcessPool:
                continue
            yield job, result
            return
    yield job, FieldResult(job.parent.name, "", "", "died", problem=_DIED)


def _pool(workers: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn"))


def on_cluster(
    jobs: Sequence[Path],
    root: Path,
    *,
    scheduler: str,
    lay: Lay = lay_one,
    tell_alone: Callable[[], None] = lambda: None,
) -> Iterator[tuple[Path, FieldResult]]:
    """Results as a Dask cluster finishes fields; all its workers must see the same folders under the same paths.

    While the scheduler has no workers, fields wait for some; `tell_alone` is called once whenever that begins. When the scheduler is lost, a new one at the same address is waited for; fields that were finished meanwhile aren't
    laid out again, since their results lie in their folders.

    Raises
    ------
    InputError
        Where `distributed` isn't installed or no scheduler answers.
    """
    left, lost, met = list(jobs), 0, False
    while left:
        before = len(left)
        try:
            for job, result in _until_lost(left, root, scheduler, lay, tell_alone):
                left.remove(job)
                yield job, result
            met = True
        except InputError:
            if not met:  # one that answered before may come back
                raise
        if not left:
            return
        lost = lost + 1 if len(left) == before else 0
        if lost > _RECONNECTS:
            raise InputError(
                f"--scheduler {scheduler}: was lost and doesn't come back; {len(left)} fields are left. Start it and run "
                "this again: finished fields are kept."
            )
        time.sleep(_WAIT_S)


def _until_lost(
    jobs: Sequence[Path], root: Path, scheduler: str, lay: Lay, tell_alone: Callable[[], None]
) -> Iterator[tuple[Path, FieldResult]]:
    distributed = _distributed()
    try:
        client = distributed.Client(scheduler, timeout=_WAIT_S * 2, name="geoagro batch")
    except (OSError, TimeoutError) as error:
        raise InputError(f"--scheduler {scheduler}: no Dask scheduler answers there ({error}).") from error
    doubtful: list[Path] = []
    with client, _looking_for_workers(client, tell_alone):
        waiting = {
            client.submit(lay, job, root, key=f"geoagro {job}", pure=False, retries=TRIES - 1): job for job in jobs
        }
        try:
            for future in distributed.as_completed(list(waiting)):
                job = waiting[future]
                if future.status == "finished":
                    yield job, future.result()
                elif future.status == "error":
                    doubtful.append(job)
                else:
                    return  # the scheduler is gone, and with it what it knew
            yield from _alone_on_cluster(doubtful, root, client, lay)
        except (distributed.CancelledError, OSError):
            return


@contextmanager
def _looking_for_workers(client: Any, tell_alone: Callable[[], None]) -> Iterator[None]:
    """Call `tell_alone` whenever the scheduler is seen to have no workers and had some before, or never had any."""
    ended = threading.Event()

    def look() -> None:
        told = False
        while not ended.wait(_LOOK_S):
            try:
                workers = client.scheduler_info().get("workers")
            except (OSError, TimeoutError, RuntimeError):
                continue  # the scheduler itself is gone, which is noticed elsewhere
            if workers is None or ended.is_set():
                continue  # a client that is being closed knows of nothing
            if not workers and not told:
                tell_alone()
            told = not workers

    looking = threading.Thread(target=look, daemon=True, name="geoagro batch looks for workers")
    looking.start()
    try:
        yield
    finally:
        ended.set()
        looking.join(_WAIT_S)  # else the client closes under a look that is under way


def _alone_on_cluster(
    doubtful: Sequence[Path], root: Path, client: Any, lay: Lay
) -> Iterator[tuple[Path, FieldResult]]:
    """Try fields that Dask gave up again, one at a time: it blames whatever waited at a worker that was killed too."""
    for job in doubtful:
        future = client.submit(lay, job, root, key=f"geoagro alone {job}", pure=False)
        _distributed().wait(future)
        if future.status not in {"finished", "error"}:
            return
        died = FieldResult(job.parent.name, "", "", "died", problem=_DIED)
        yield job, future.result() if future.status == "finished" else died


def _distributed() -> Any:
    try:
        import distributed
    except ImportError as error:
        raise InputError(
            "--scheduler: needs Dask. Install it with `pip install 'geoagro[many]'`, or leave the option out."
        ) from error
    return distributed

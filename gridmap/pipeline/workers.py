"""Who does the tasks that a stage is divided into: this process, or the workers of a dask.distributed scheduler.

A task is a function at the top of a module of gridmap's, called with one argument that can be pickled and that names
files by absolute paths. It writes its product whole or not at all and returns something small. So it does not matter
who does it, how often, or in which order: results come back in the order of the arguments, and are the same bytes.

The engine is dask.distributed (https://distributed.dask.org): it hands out tasks, and hands those of a lost worker to
another. Nothing of that is written here.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Protocol, TypeVar

from gridmap._version import VERSION
from gridmap.errors import InputError

A = TypeVar("A")
R = TypeVar("R")

RETRIES = 3
"""How often a task is tried again by another worker after its own was lost."""

PATIENCE_S = 15.0
"""How long the scheduler, and then its first worker, is waited for."""


class Workers(Protocol):
    """Does tasks."""

    def each(self, task: Callable[[A], R], of: Sequence[A], done: Callable[[float], None]) -> list[R]:
        """Do a task for each of the arguments.

        Parameters
        ----------
        task : callable
            See the module.
        of : sequence
            Arguments.
        done : callable
            Told the share that is done, 0 to 1, after each.

        Returns
        -------
        list
            Results in the order of the arguments.
        """
        ...


class Here:
    """The process itself: one task after the other; kernels use all cores by themselves."""

    def each(self, task: Callable[[A], R], of: Sequence[A], done: Callable[[float], None]) -> list[R]:
        """Do a task for each of the arguments; see `Workers.each`."""
        made = []
        for number, argument in enumerate(of, start=1):
            made.append(task(argument))
            done(number / len(of))
        return made


class Scheduled:
    """Workers of a dask.distributed scheduler.

    Parameters
    ----------
    client : distributed.Client
        Connected.
    """

    def __init__(self, client: Any) -> None:
        self.client = client

    def each(self, task: Callable[[A], R], of: Sequence[A], done: Callable[[float], None]) -> list[R]:
        """Do a task for each of the arguments; see `Workers.each`.

        Raises
        ------
        InputError
            If tasks fail again and again because workers are lost.
        GridmapError
            What the task itself raises.
        """
        from distributed import KilledWorker, as_completed

        futures = self.client.map(task, of, pure=False, retries=RETRIES)
        try:
            for number, future in enumerate(as_completed(futures, loop=self.client.loop), start=1):
                if (problem := future.exception()) is not None:
                    raise problem
                done(number / len(of))
            return list(self.client.gather(futures))
        except KilledWorker as problem:
            raise InputError(
                f"scheduler: workers were lost {RETRIES} times with the same task ({problem.last_worker.name} last)."
                " They may have too little memory: give them more, or start fewer on a machine. What is done is kept,"
                " and the same command goes on from there."
            ) from problem
        finally:
            self.client.cancel(futures)


@contextmanager
def workers(scheduler: str | None, folder: Path) -> Iterator[Workers]:
    """Give those who do the tasks.

    Parameters
    ----------
    scheduler : str or None
        Address of a dask.distributed scheduler, such as `tcp://10.0.0.5:8786`; None: this process.
    folder : Path
        That the workers must see under the same path, since tasks write there.

    Raises
    ------
    InputError
        If dask.distributed is not installed, nothing answers at the address, no worker comes, a worker has another
        version of gridmap, or one that does not see the folder.
    """
    if scheduler is None:
        yield Here()
        return
    try:
        from distributed import Client
    except ImportError as problem:
        raise InputError(
            "--scheduler needs dask.distributed: install gridmap with the extra `cluster`, here and on each worker."
        ) from problem
    try:
        client = Client(scheduler, timeout=PATIENCE_S, set_as_default=False)
    except (OSError, ValueError) as problem:
        raise InputError(
            f"--scheduler {scheduler}: nothing answers there. Start one with `dask scheduler`, and workers with `dask"
            " worker ADDRESS`; the address is what the scheduler prints, such as tcp://10.0.0.5:8786."
        ) from problem
    try:
        _refuse_unfit(client, scheduler, folder)
        yield Scheduled(client)
    finally:
        client.close()


def _refuse_unfit(client: Any, scheduler: str, folder: Path) -> None:
    """Ask every worker for its version and for a file that only this job knows."""
    try:
        client.wait_for_workers(1, timeout=PATIENCE_S)
    except TimeoutError as problem:
        raise InputError(
            f"--scheduler {scheduler}: has no worker. Start some with `dask worker {scheduler}` on machines that see"
            f" {folder}."
        ) from problem
    token = folder / f".seen-{secrets.token_hex(8)}"
    token.touch()
    try:
        told = client.run(_look, os.fspath(token), on_error="return")
    finally:
        token.unlink()
    for worker, answer in sorted(told.items()):
        if isinstance(answer, ImportError) or (isinstance(answer, tuple) and answer[0] != VERSION):
            has = "no gridmap" if isinstance(answer, ImportError) else f"gridmap {answer[0]}"
            raise InputError(
                f"--scheduler {scheduler}: worker {worker} has {has}, this is {VERSION}. Install the same version."
            )
        if isinstance(answer, BaseException):
            raise InputError(
                f"--scheduler {scheduler}: worker {worker} does not answer: {answer}."
            ) from answer
        if not answer[1]:
            raise InputError(
                f"--scheduler {scheduler}: worker {worker} does not see {folder}. Put the work folder (--work) and the"
                " lines on a disk that all workers see under the same path."
            )


def _look(token: str) -> tuple[str, bool]:
    """Tell gridmap's version on this worker, and whether it sees a file."""
    return VERSION, Path(token).exists()

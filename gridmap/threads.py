"""Work shared among threads: compiled kernels and transforms let go of the interpreter's lock.

Kernels are compiled for one thread and called here on parts of their range: numba's own parallel loops take three
times as long to compile, and waking them costs milliseconds.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")

THREADS = min(4, os.cpu_count() or 1)
"""How many lines are worked on at once; each needs memory for a few copies of itself."""
PARTS = 4
"""Parts a thread: enough that threads end together where some parts take longer."""


def each(function: Callable[[Item], Result], items: Iterable[Item]) -> list[Result]:
    """Return function(item) for every item, in order; the results do not depend on the number of threads."""
    if THREADS < 2:
        return [function(item) for item in items]
    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(function, items))


def in_parts(kernel: Callable[[int, int], None], count: int, least: int = 1) -> None:
    """Call kernel(first, last) for parts that together are range(count).

    Parameters
    ----------
    kernel : callable
        Writes what belongs to its part and nothing else, lets go of the interpreter's lock, and calls nothing of
        this module.
    count : int
        Length of the range.
    least : int
        No part is shorter than this: what takes less than a tenth of a millisecond is not worth sharing.
    """
    parts = min(PARTS * THREADS, count // max(least, 1))
    if THREADS < 2 or parts < 2:
        kernel(0, count)
        return
    edges = [count * k // parts for k in range(parts + 1)]
    for _ in _workers().map(kernel, edges[:-1], edges[1:]):
        pass


@cache
def _workers() -> ThreadPoolExecutor:
    """Threads that stay: starting them anew for each call would cost as much as many calls take."""
    return ThreadPoolExecutor(THREADS, "gridmap")


if hasattr(os, "register_at_fork"):  # a forked process has none of its parent's threads
    os.register_at_fork(after_in_child=_workers.cache_clear)

"""Lines worked on two at a time: the kernels and transforms of conditioning let go of the interpreter's lock."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")

THREADS = min(4, os.cpu_count() or 1)
"""How many lines are worked on at once; each needs memory for a few copies of itself."""


def each(function: Callable[[Item], Result], items: Iterable[Item]) -> list[Result]:
    """Return function(item) for every item, in order; the results do not depend on the number of threads."""
    if THREADS < 2:
        return [function(item) for item in items]
    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(function, items))

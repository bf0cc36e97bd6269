"""How many threads a compiled loop gets: waking a second one costs milliseconds, more than a short loop takes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import numba as nb

WORTH_SHARING = 20_000
"""Sums fewer than this are done by one thread."""


@contextmanager
def threads_for(count: int) -> Iterator[None]:
    """Let one thread do a short loop of `count` sums, and all of them a long one."""
    before = nb.get_num_threads()
    nb.set_num_threads(1 if count < WORTH_SHARING else before)
    try:
        yield
    finally:
        nb.set_num_threads(before)

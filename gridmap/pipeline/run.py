"""Progress, timings and messages of one run."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

Progress = Callable[[str, float], None]
"""Called with the stage's name in words and the share of the whole job that is done, 0 to 1."""


def quiet(stage: str, share: float) -> None:
    """Show no progress."""


@dataclass(slots=True)
class Run:
    """What a run gathers while it goes on.

    Attributes
    ----------
    progress : callable
        See `Progress`.
    stages : tuple of (str, float)
        Each stage in words, and the share of the time that it usually takes.
    notes, warnings : list of str
        What was assumed or chosen; what a person should look at.
    seconds : dict
        Wall time of each finished stage, seconds.
    """

    progress: Progress
    stages: tuple[tuple[str, float], ...]
    notes: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def stage(self, number: int) -> Iterator[Callable[[float], None]]:
        """Time a stage; gives a function to call with the share of the stage that is done."""
        name, share = self.stages[number]
        before = sum(part for _, part in self.stages[:number])
        started = time.perf_counter()
        self.progress(name, before)
        yield lambda part: self.progress(name, before + share * part)
        self.seconds[name] = time.perf_counter() - started

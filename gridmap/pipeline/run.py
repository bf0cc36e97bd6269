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
    done, kept : float
        Share of the whole job done now, and found done by an earlier run. The share told is that of what was left to
        do, so that a time left reckoned from it holds in a job that goes on.
    """

    progress: Progress
    stages: tuple[tuple[str, float], ...]
    notes: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    seconds: dict[str, float] = field(default_factory=dict)
    done: float = 0.0
    kept: float = 0.0
    _kept_here: float = 0.0

    @contextmanager
    def stage(self, number: int) -> Iterator[Callable[[float], None]]:
        """Time a stage; gives a function to call with the share of the stage that is done."""
        name, share = self.stages[number]
        self._kept_here = 0.0
        started = time.perf_counter()

        def tick(part: float) -> None:
            kept = min(self._kept_here, part)
            left = 1.0 - self.kept - share * kept
            self.progress(name, min(1.0, (self.done + share * (part - kept)) / max(left, 1e-9)))

        tick(0.0)
        yield tick
        self.seconds[name] = time.perf_counter() - started
        kept = min(self._kept_here, 1.0)
        self.done, self.kept = self.done + share * (1.0 - kept), self.kept + share * kept

    def was_kept(self, part: float = 1.0) -> None:
        """Count a part of the present stage as found done by an earlier run."""
        self._kept_here += part

"""Progress on the terminal: the stage, the share done and the time left, on one line."""

from __future__ import annotations

import sys
import time
from typing import TextIO


class Progress:
    """Prints to a terminal one line that is written over, elsewhere one line a stage.

    Parameters
    ----------
    stream : text stream
        Standard error, so that results on standard output stay clean.
    """

    def __init__(self, stream: TextIO = sys.stderr) -> None:
        self.stream = stream
        self.started = time.perf_counter()
        self.shown = 0.0
        self.stage = ""

    def __call__(self, stage: str, share: float) -> None:
        """Show the stage and the share of the whole job done, 0 to 1."""
        now = time.perf_counter()
        new = stage != self.stage
        if not self.stream.isatty():
            if new:
                print(f"{now - self.started:6.1f} s  {stage}", file=self.stream, flush=True)
        elif new or now - self.shown > 0.1 or share >= 1.0:
            self.shown = now
            self.stream.write(f"\r\x1b[2K{100 * share:3.0f} %  {stage}{self._left(now, share)}")
            if share >= 1.0:
                self.stream.write("\n")
            self.stream.flush()
        self.stage = stage

    def _left(self, now: float, share: float) -> str:
        spent = now - self.started
        if share < 0.03 or share >= 1.0 or spent < 1.0:
            return ""
        return f", about {max(1, round(spent / share * (1 - share)))} s left"

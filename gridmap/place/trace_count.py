"""What the count of traces says of a line laid from peg to peg: too few for its length, and it started late."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from gridmap.model import CleanLine

PEG_SD_M = 0.04
"""How well the marks at both ends of a line are held together, one standard deviation, metres."""
_LEAST_LINES = 6
_SAME = 1e-4


@dataclass(frozen=True, slots=True)
class Missing:
    """Length of a line that its traces do not cover.

    Attributes
    ----------
    missing_m, sd_m : float
        Metres, at the trace interval that is usual in the survey; one standard deviation from how intervals scatter
        from line to line and from how well marks are held.
    """

    missing_m: float
    sd_m: float

    @property
    def z(self) -> float:
        """Missing length in standard deviations."""
        return self.missing_m / self.sd_m


def missing_by_count(lines: Sequence[CleanLine]) -> Mapping[str, Missing]:
    """Compare the trace interval of every line with the others.

    A line that is laid from peg to peg although its first or last metres were not recorded has a trace interval that is
    too long, by as much as what is missing over what was recorded.

    Parameters
    ----------
    lines : sequence of CleanLine
        Placed; usual trace intervals are medians, so that dropped traces do not count.

    Returns
    -------
    mapping of str to Missing
        By line; empty with fewer than six lines, and where all intervals are equal: then lines were not laid from peg
        to peg, and the count says nothing.
    """
    if len(lines) < _LEAST_LINES:
        return {}
    interval = np.array([np.median(np.diff(line.along_m)) for line in lines])
    part = np.log(interval / np.median(interval))
    low, high = np.percentile(part, [16, 84])
    scatter = 0.5 * float(high - low)
    if scatter < _SAME:
        return {}
    out = {}
    for line, p in zip(lines, part, strict=True):
        length = float(line.along_m[-1])
        missing = length * (1.0 - float(np.exp(-p)))
        out[line.name] = Missing(missing, float(np.hypot(length * scatter, PEG_SD_M)))
    return out

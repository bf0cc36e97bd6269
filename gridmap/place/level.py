"""Line-to-line levels: time zero and amplitude of a line against the mean of its two neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from gridmap.model import CleanLine, Float32
from gridmap.place.strips import StripGroup, strips_of, thinned

LEAST_NS = 0.25
LEAST_FACTOR = 1.25
_LEAST_SIGMA = 5.0
_LEAST_LIKENESS = 0.3


@dataclass(frozen=True, slots=True)
class Level:
    """How a line differs from the mean of its two neighbours.

    Attributes
    ----------
    name : str
        The line.
    time_ns : float
        How much later its echoes come, nanoseconds; NaN where it cannot be told.
    time_sd_ns : float
        Scatter of this number over the survey, robust.
    factor : float
        Amplitude over the geometric mean of the neighbours'; NaN as above.
    factor_sd : float
        Scatter of its logarithm over the survey, robust.
    """

    name: str
    time_ns: float
    time_sd_ns: float
    factor: float
    factor_sd: float

    @property
    def time_stands_out(self) -> bool:
        """Whether the time shift is above 0.25 ns and five times the usual scatter."""
        return bool(abs(self.time_ns) > max(LEAST_NS, _LEAST_SIGMA * self.time_sd_ns))

    @property
    def factor_stands_out(self) -> bool:
        """Whether the amplitude differs by more than a quarter and five times the usual scatter."""
        size = abs(float(np.log(self.factor))) if np.isfinite(self.factor) else 0.0
        return bool(size > max(float(np.log(LEAST_FACTOR)), _LEAST_SIGMA * self.factor_sd))


def line_levels(lines: Sequence[CleanLine], interval_ns: float, leave_out: Sequence[str] = ()) -> list[Level]:
    """Compare the level of every line with its two neighbours.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned and placed.
    interval_ns : float
        Sample interval, nanoseconds.
    leave_out : sequence of str
        Lines in a wrong place: neither they nor their neighbours are judged.

    Returns
    -------
    list of Level
        Only lines with a neighbour on each side, none missing between. A dipping layer shifts all
        lines alike and drops out.

    Notes
    -----
    The lag of a pair is where their correlation over all positions is largest, to a fraction of a sample; it is
    taken only where that correlation is at least 0.3. Amplitude is the median of absolute values: a tank under one
    line makes its strongest echoes larger, not its usual ones.
    """
    thin, thin_ns = thinned(lines, interval_ns)
    return levels_of_groups(strips_of(thin, step_m=0.05), thin_ns, leave_out)


def levels_of_groups(
    groups: Sequence[StripGroup], thin_ns: float, leave_out: Sequence[str] = ()
) -> list[Level]:
    """As `line_levels`, of strips whose samples are `thin_ns` apart."""
    out: list[Level] = []
    for group in groups:
        strips = group.strips
        lag = [_lag(a.values, b.values) * thin_ns for a, b in pairwise(strips)]
        odd = {i for i, s in enumerate(strips) if s.name in leave_out}
        size = [
            float(np.log(np.median(np.abs(s.values[s.seen])) + 1e-12)) if s.seen.any() else np.nan
            for s in strips
        ]
        times = np.array([0.5 * (lag[i - 1] - lag[i]) for i in range(1, len(strips) - 1)])
        sizes = np.array([size[i] - 0.5 * (size[i - 1] + size[i + 1]) for i in range(1, len(strips) - 1)])
        time_sd, size_sd = _scatter(times), _scatter(sizes)
        out += [
            Level(s.name, float(t), time_sd, float(np.exp(z)), size_sd)
            for i, (s, t, z) in enumerate(zip(strips[1:-1], times, sizes, strict=True), start=1)
            if not odd & {i - 1, i, i + 1}
            and strips[i + 1].across_m - strips[i - 1].across_m < 2.6 * group.spacing_m
        ]
    return out


def _scatter(values: np.ndarray) -> float:
    good = values[np.isfinite(values)]
    return float(1.4826 * np.median(np.abs(good - np.median(good)))) if good.size > 2 else float("nan")


def _lag(one: Float32, other: Float32, most: int = 6) -> float:
    """Return by how many samples the second strip comes later; NaN where they have too little in common."""
    n = one.shape[1]
    scale = float(np.sqrt((one * one).sum() * (other * other).sum()))
    if scale == 0:
        return float("nan")
    curve = np.array(
        [
            float((one[:, max(0, -k) : n - max(0, k)] * other[:, max(0, k) : n + min(0, k)]).sum()) / scale
            for k in range(-most, most + 1)
        ]
    )
    k = int(np.argmax(curve))
    if curve[k] < _LEAST_LIKENESS or not 0 < k < len(curve) - 1:
        return float("nan")
    left, top, right = curve[k - 1 : k + 2]
    return float(k - most + 0.5 * (left - right) / (left - 2 * top + right))

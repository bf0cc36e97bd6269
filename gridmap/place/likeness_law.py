"""How alike lines so many places apart usually are, learnt from the survey itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridmap.model import Bool, Float64, Int64
from gridmap.place.alike import Alike

_NEAR = 4
"""Lines farther apart are taken together."""
_FEWEST = 3
_CLEAR = 6.0
"""Scatters above nothing in common from which sound and wrong pairs of lines are told apart one by one."""
_LEAST_SCATTER = 0.25
"""Scatter of the likeness of neighbours over its size, at least: a few lines may agree by chance."""
_NORMAL_90 = 1.2816


@dataclass(slots=True)
class Seat:
    """Which recording sits at which place (place,), and whether it is turned (place,)."""

    who: Int64
    turned: Bool


@dataclass(frozen=True, slots=True)
class LikenessLaw:
    """Usual likeness of lines 0, 1, 2, ... places apart, and of lines that have nothing in common.

    Attributes
    ----------
    same, variance : (apart,) float64
        As labelled, and its variance.
    steps : (apart, apart) float64
        Variance of the difference of one line's likeness to two others, so far apart from it.
    nothing, nothing_variance : float
        With one of the two turned end for end.
    """

    same: Float64
    variance: Float64
    steps: Float64
    nothing: float
    nothing_variance: float

    @classmethod
    def of(cls, alike: Alike, use: Bool, seat: Seat) -> LikenessLaw:
        """Learn the law from the recordings that take part, `use` (recording,), as they are seated.

        Notes
        -----
        Medians and scatters between the 16 and 84 per cent points. What nothing in common looks like is learnt from
        lines far apart, one turned; where lines far apart are alike, those that are more so if turned are left out, for
        they are the reversed ones. Where sound and wrong neighbours are clearly apart, the wrong ones are left out.
        """
        odd = seat.turned[:, None] != seat.turned
        pairs = np.ix_(seat.who, seat.who)
        table = np.where(odd, alike.turned[pairs], alike.same[pairs])
        turned = np.where(odd, alike.same[pairs], alike.turned[pairs])
        use = use[seat.who]
        n = len(use)
        both = np.outer(use, use)
        nothing, noise = _nothing(table, turned, both)
        same, variance = [1.0], [0.0]
        for apart in range(1, n):
            values = np.diag(table, apart)[use[apart:] & use[:-apart]]
            if apart > _NEAR or values.size < _FEWEST:
                values = table[np.triu(both, min(apart, _NEAR + 1))]
            sound = values[values > nothing + 2 * noise]
            clear = sound.size >= max(_FEWEST, 0.25 * values.size)
            if apart < _NEAR and clear and np.median(sound) > nothing + _CLEAR * noise:
                values = sound
            low, middle, high = np.percentile(values, [16, 50, 84]) if values.size else (0.0, 0.0, 0.0)
            same.append(min(max(float(middle), nothing), same[-1]))  # likeness falls with distance
            least = max(noise, _LEAST_SCATTER * (same[-1] - nothing))
            variance.append(max(0.25 * float(high - low) ** 2, least**2))
        usual, spread = np.array(same), np.array(variance)
        return cls(usual, spread, _steps(table, both, usual, spread, noise), nothing, noise**2)

    def step(self, after: int, before: int | None) -> tuple[float, float]:
        """Tell by how much likeness rises where lines `before` places apart, or turned (None), come to be `after`.

        Returns the rise and its variance.
        """
        if before is None:
            return float(self.same[after]) - self.nothing, float(self.variance[after]) + self.nothing_variance
        return float(self.same[after] - self.same[before]), float(self.steps[after, before])

    def of_a_turn(self, weights: Sequence[tuple[int, float]]) -> float:
        """Logarithm of likelihood that a reversed line inside the survey usually gains when turned.

        `weights`: places apart of the lines it is compared with, and the weight of each.
        """
        gain = 0.0
        for apart, weight in weights:
            if apart < len(self.same):
                step, variance = self.step(apart, None)
                gain += 2 * weight * 2 * step**2 / variance
        return gain


def _nothing(table: Float64, turned: Float64, both: Bool) -> tuple[float, float]:
    """Median likeness of lines of which one is turned, and its scatter to the side that matters."""
    n = len(table)
    off = both & ~np.eye(n, dtype=bool)
    far = np.triu(both, _NEAR) if n > 2 * _NEAR else off
    if not far.any():
        return 0.0, 1.0
    middle, high = np.percentile(turned[far], [50, 90])
    ahead = np.where(off, table - turned, 0).sum(axis=1) / np.maximum(off.sum(axis=1), 1)
    usual = float(np.median(ahead))
    right = ahead > -0.5 * usual
    known = far & np.outer(right, right)
    if usual > 0.5 * float(high - middle) / _NORMAL_90 and known.sum() >= n:
        middle, high = np.percentile(turned[known], [50, 90])
    return float(middle), max(float(high - middle) / _NORMAL_90, 1e-6)


def _steps(table: Float64, both: Bool, same: Float64, variance: Float64, noise: float) -> Float64:
    """Variance of differences: strong and quiet parts of the survey drop out of them."""
    n = len(table)
    out = variance[:, None] + variance
    shifted = np.full((n, 2 * _NEAR + 1), np.nan)
    for k in range(-_NEAR, _NEAR + 1):
        i = np.arange(max(0, -k), min(n, n - k))
        shifted[i, k + _NEAR] = np.where(both[i, i + k], table[i, i + k], np.nan)
    for a in range(1, min(_NEAR, n - 1) + 1):
        for b in range(1, min(_NEAR, n - 1) + 1):
            if a == b:
                continue
            off = shifted[:, (_NEAR - a, _NEAR + a)][:, :, None] - shifted[:, (_NEAR - b, _NEAR + b)][:, None]
            off = off[np.isfinite(off)]
            if off.size >= 2 * _FEWEST:
                low, high = np.percentile(off, [16, 84])
                least = max(np.sqrt(2) * noise, _LEAST_SCATTER * abs(float(same[a] - same[b])))
                out[a, b] = min(out[a, b], max(0.25 * float(high - low) ** 2, least**2))
    return np.asarray(out, np.float64)

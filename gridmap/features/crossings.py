"""Evidence line by line: where a path crosses a line, the line's own traces must show its hyperbola."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numba as nb
import numpy as np

from gridmap.features.stack import Gather
from gridmap.features.stack_states import coherence_on_lines
from gridmap.features.trace import Traced
from gridmap.model import CleanLine, Float64, Int64, VelocityModel

LEAST_ANGLE_DEG = 25.0
"""A line met at a flatter angle than this is not crossed: it runs along."""
LEAST_COHERENCE = 0.3
LEAST_TRACES = 5
OUTRANKED = 0.8
"""Share of displaced curves that the predicted one must beat."""


@dataclass(frozen=True, slots=True)
class Walked:
    """Lines as short straight pieces: (piece, 2, 2) ends, and the line of each."""

    ends_m: Float64
    line: Int64

    @classmethod
    def of(cls, lines: Sequence[CleanLine], piece_m: float = 1.0) -> Walked:
        """Cut every line into pieces of about `piece_m`."""
        ends, owner = [], []
        for k, ln in enumerate(lines):
            at = np.unique(
                np.searchsorted(ln.along_m, np.arange(ln.along_m[0], ln.along_m[-1] + piece_m, piece_m))
            )
            xy = ln.xy_m[np.minimum(at, len(ln.xy_m) - 1)]
            ends.append(np.stack([xy[:-1], xy[1:]], axis=1))
            owner.append(np.full(len(xy) - 1, k, np.int64))
        return cls(np.concatenate(ends), np.concatenate(owner))


@dataclass(frozen=True, slots=True)
class Crossings:
    """Lines that a path crosses: which, and whether their traces show it."""

    line: Int64
    seen: np.ndarray

    @property
    def crossed(self) -> int:
        """Lines crossed."""
        return len(self.line)

    @property
    def shown(self) -> int:
        """Lines whose traces show it."""
        return int(self.seen.sum())


def look_at_crossings(
    path: Traced, walked: Walked, gather: Gather, velocity: VelocityModel, wavelength_m: float
) -> Crossings:
    """Look on every line that a path crosses for the hyperbola it must draw there.

    Parameters
    ----------
    path : Traced
        The path.
    walked : Walked
        The lines.
    gather : Gather
        Their traces.
    velocity : VelocityModel
        Behind the depths.
    wavelength_m : float
        In the ground, metres.

    Returns
    -------
    Crossings
        Seen: the semblance of this line's traces along the predicted curve (moved by a few centimetres at most)
        is at least `LEAST_COHERENCE`, and higher than along `OUTRANKED` of the curves displaced by 0.4 to 0.7 m
        or by about a wavelength in depth.
    """
    place, angle, line = _where(path, walked)
    if not len(line):
        return Crossings(line, np.zeros(0, bool))
    shift = wavelength_m * 0.9
    centres = [(0.0, 0.0)]
    centres += [(u, 0.0) for u in (-0.7, -0.4, 0.4, 0.7)]
    centres += [(u, z) for u in (-0.5, 0.0, 0.5) for z in (-shift, shift)]
    jitter = [(u, z) for u in (-0.05, 0.0, 0.05) for z in (-wavelength_m / 10, 0.0, wavelength_m / 10)]
    moves = np.array([(a + c, b + d) for a, b in centres for c, d in jitter])
    coherence = coherence_on_lines(gather, velocity, place, angle, moves, line, LEAST_TRACES)
    score = np.where(place[:, 2:] + moves[:, 1] >= 0.05, coherence, 0.0).reshape(
        len(line), len(centres), len(jitter)
    )
    best = score.max(axis=2)
    rank = (best[:, :1] > best[:, 1:]).mean(axis=1)
    return Crossings(line, (best[:, 0] >= LEAST_COHERENCE) & (rank >= OUTRANKED))


def _where(path: Traced, walked: Walked) -> tuple[Float64, Float64, Int64]:
    """Place, direction and line of each crossing, the first of each line."""
    met, share = _meetings(path.xyz_m, walked.ends_m, math.sin(math.radians(LEAST_ANGLE_DEG)))
    line, first = np.unique(walked.line[met[:, 1]], return_index=True)
    k, s = met[first, 0], share[first, None]
    return path.xyz_m[k] * (1 - s) + path.xyz_m[k + 1] * s, path.angle_rad[k], line


@nb.njit(cache=True)
def _meetings(xyz, ends, least_sine):  # type: ignore[no-untyped-def]
    """Find steps of the path and pieces that cross, (meeting, 2) in order of both, and the share of the step walked."""
    low, high = np.empty((len(ends), 2)), np.empty((len(ends), 2))
    for m in range(len(ends)):
        for c in range(2):
            low[m, c], high[m, c] = min(ends[m, 0, c], ends[m, 1, c]), max(ends[m, 0, c], ends[m, 1, c])
    pairs, shares = [(0, 0) for _ in range(0)], [0.0 for _ in range(0)]
    for k in range(len(xyz) - 1):
        x0, y0, x1, y1 = xyz[k, 0], xyz[k, 1], xyz[k + 1, 0], xyz[k + 1, 1]
        run_x, run_y = x1 - x0, y1 - y0
        left, right, bottom, top = min(x0, x1), max(x0, x1), min(y0, y1), max(y0, y1)
        for m in range(len(ends)):
            if low[m, 0] > right or high[m, 0] < left or low[m, 1] > top or high[m, 1] < bottom:
                continue
            walk_x, walk_y = ends[m, 1, 0] - ends[m, 0, 0], ends[m, 1, 1] - ends[m, 0, 1]
            cross = run_x * walk_y - run_y * walk_x
            long = math.hypot(run_x, run_y) * math.hypot(walk_x, walk_y)
            if abs(cross) < 1e-12 or abs(cross) < least_sine * max(long, 1e-12):
                continue
            off_x, off_y = ends[m, 0, 0] - x0, ends[m, 0, 1] - y0
            s = (off_x * walk_y - off_y * walk_x) / cross
            t = (off_x * run_y - off_y * run_x) / cross
            if 0 <= s <= 1 and 0 <= t <= 1:
                pairs.append((k, m))
                shares.append(s)
    met, share = np.empty((len(pairs), 2), np.int64), np.empty(len(pairs))
    for n in range(len(pairs)):
        met[n, 0], met[n, 1] = pairs[n]
        share[n] = shares[n]
    return met, share

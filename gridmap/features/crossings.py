"""Evidence line by line: where a path crosses a line, the line's own traces must show its hyperbola."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridmap.features.stack import Gather, stack_pieces
from gridmap.features.trace import Traced
from gridmap.model import CleanLine, Float64, Int64, VelocityModel

LEAST_ANGLE_DEG = 25.0
"""A line met at a flatter angle than this is not crossed: it runs along."""
LEAST_COHERENCE = 0.3
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
    normal = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    tried = np.repeat(place[:, None], len(moves), axis=1)
    tried[..., :2] += moves[None, :, :1] * normal[:, None]
    tried[..., 2] += moves[:, 1]
    sums = stack_pieces(
        gather,
        velocity,
        tried.reshape(-1, 3),
        np.repeat(angle, len(moves)),
        only_line=np.repeat(line, len(moves)),
        others=False,
    )
    score = np.where(sums.count >= 5, sums.coherence, 0.0).reshape(len(line), len(centres), len(jitter))
    score[tried[..., 2].reshape(score.shape) < 0.05] = 0.0
    best = score.max(axis=2)
    rank = (best[:, :1] > best[:, 1:]).mean(axis=1)
    return Crossings(line, (best[:, 0] >= LEAST_COHERENCE) & (rank >= OUTRANKED))


def _where(path: Traced, walked: Walked) -> tuple[Float64, Float64, Int64]:
    """Place, direction and line of each crossing, the first of each line."""
    p, q = path.xyz_m[:-1], path.xyz_m[1:]
    a, b = walked.ends_m[:, 0], walked.ends_m[:, 1]
    run, walk = (q - p)[:, None, :2], (b - a)[None]
    off = a[None] - p[:, None, :2]
    cross = run[..., 0] * walk[..., 1] - run[..., 1] * walk[..., 0]
    sine = cross / np.maximum(np.hypot(*np.moveaxis(run, -1, 0)) * np.hypot(*np.moveaxis(walk, -1, 0)), 1e-12)
    flat = np.where(np.abs(cross) < 1e-12, 1.0, cross)
    s = (off[..., 0] * walk[..., 1] - off[..., 1] * walk[..., 0]) / flat
    t = (off[..., 0] * run[..., 1] - off[..., 1] * run[..., 0]) / flat
    met = (np.abs(sine) >= np.sin(np.radians(LEAST_ANGLE_DEG))) & (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    k, m = np.nonzero(met)
    line, first = np.unique(walked.line[m], return_index=True)
    k, share = k[first], s[k[first], m[first]][:, None]
    return p[k] * (1 - share) + q[k] * share, path.angle_rad[k], line

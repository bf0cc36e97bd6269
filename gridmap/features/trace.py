"""A path of crests drawn again along the strongest sum in phase: to a centimetre or two, from end to end."""

from __future__ import annotations

from dataclasses import dataclass

import numba as nb
import numpy as np
from scipy import ndimage

from gridmap.features.stack import Gather, StackSums, stack_pieces
from gridmap.features.stack_states import amplitude_of_states
from gridmap.model import Bool, Float64, VelocityModel

NODE_M = 0.2
"""Distance between the vertices of a traced path, metres."""
ASIDE = 6
"""Steps to either side that are tried; the second time, from the better place, two."""
BELOW = 5
"""Steps up and down that are tried."""
BEND = 0.03
"""What a change of one step from vertex to vertex costs, as a share of the usual quality along the path."""
MOST_BEYOND_M = 1.2
"""An end is drawn on by no more than this at once, metres."""
LEAST_NODES = 4
"""Fewer vertices are no path."""
MOST_TIMES, GROWN = 5, 3
"""Ends are drawn on so many times, as long as that adds so many vertices."""
FAINT = 0.45
"""Ends fainter than this share of the path's median quality are cut off, or not drawn on to."""


@dataclass(frozen=True, slots=True)
class Traced:
    """A path as drawn, and the sums along it.

    Attributes
    ----------
    xyz_m : (vertex, 3) float64
        Local x, y and depth of the strongest sum, metres, about `NODE_M` apart.
    angle_rad : (vertex,) float64
        Direction in plan.
    sums : StackSums
        Sums at the vertices.
    """

    xyz_m: Float64
    angle_rad: Float64
    sums: StackSums

    @property
    def length_m(self) -> float:
        """Length in plan, metres."""
        return float(np.hypot(*np.diff(self.xyz_m[:, :2], axis=0).T).sum())


def draw_again(
    path_m: Float64, gather: Gather, velocity: VelocityModel, wavelength_m: float, known: Known
) -> Traced:
    """Move a path to the strongest sum in phase, and set its ends.

    Parameters
    ----------
    path_m : (crest, 3) float64
        Local x, y and depth, metres, in order.
    gather : Gather
        The traces.
    velocity : VelocityModel
        Behind the depths.
    wavelength_m : float
        In the ground, metres.
    known : Known
        Where the survey lies.

    Returns
    -------
    Traced
        The path through the states (aside, depth) of all vertices that gains most quality less bends: dynamic
        programming (Viterbi 1967).
    """
    nodes = even_nodes(path_m, smooth=1.5)
    for sides, levels in ((ASIDE, BELOW), (2, 2)):
        nodes = _best_states(nodes, gather, velocity, wavelength_m, sides, levels)
        nodes = even_nodes(nodes, smooth=1.5)
    # Crests beyond the outermost lines are the mirror images of what those lines see: no path is led by them.
    first, end = longest_stretch(gather.beyond_lines(nodes[:, :2]))
    if LEAST_NODES <= end - first < len(nodes):
        nodes = even_nodes(
            _best_states(nodes[first:end], gather, velocity, wavelength_m, ASIDE, 2), smooth=1.5
        )
    for last in range(MOST_TIMES - 1, -1, -1):
        before = len(nodes)
        nodes = _set_ends(nodes, gather, velocity, known)
        # What was drawn on straight is laid on the echo before it is drawn on again; beyond the lines nothing leads.
        inside = ~gather.beyond_lines(nodes[:, :2], 0.0)
        if not last or inside.sum() < before + GROWN:
            break
        nodes = even_nodes(_best_states(nodes[inside], gather, velocity, wavelength_m, 3, 2), smooth=1.5)
    angle = directions(nodes)
    return Traced(nodes, angle, stack_pieces(gather, velocity, nodes, angle))


@dataclass(frozen=True, slots=True)
class Known:
    """Cells near enough to a trace: (row, column) bool, centre of the first cell, side, metres."""

    cells: np.ndarray
    x_first_m: float
    y_first_m: float
    cell_m: float

    def at(self, xy_m: Float64) -> np.ndarray:
        """Say for each of (place, 2) whether it is within the survey."""
        column = np.rint((xy_m[:, 0] - self.x_first_m) / self.cell_m).astype(int)
        row = np.rint((xy_m[:, 1] - self.y_first_m) / self.cell_m).astype(int)
        inside = (row >= 0) & (row < self.cells.shape[0]) & (column >= 0) & (column < self.cells.shape[1])
        out = np.zeros(len(xy_m), bool)
        out[inside] = self.cells[row[inside], column[inside]]
        return out


def even_nodes(xyz_m: Float64, smooth: float) -> Float64:
    """Vertices about `NODE_M` apart along a path, smoothed over `smooth` of them with the ends held in direction."""
    along = np.concatenate([[0.0], np.hypot(*np.diff(xyz_m[:, :2], axis=0).T).cumsum()])
    keep = np.concatenate([[True], np.diff(along) > 1e-9])
    at = np.linspace(0.0, along[-1], max(3, round(along[-1] / NODE_M) + 1))
    even = np.stack([np.interp(at, along[keep], c[keep]) for c in xyz_m.T], axis=1)
    pad = min(len(even) - 1, 5)
    # Reflected through the end points, a straight path stays straight and keeps its length.
    before = 2 * even[0] - even[pad:0:-1]
    after = 2 * even[-1] - even[-2 : -pad - 2 : -1]
    wide = np.concatenate([before, even, after])
    return np.asarray(ndimage.gaussian_filter1d(wide, smooth, axis=0)[pad : pad + len(even)])


def directions(xyz_m: Float64) -> Float64:
    """Direction of a path in plan at each vertex, radians from x, over two vertices either way."""
    n = len(xyz_m)
    low, high = np.maximum(np.arange(n) - 2, 0), np.minimum(np.arange(n) + 2, n - 1)
    step = xyz_m[high, :2] - xyz_m[low, :2]
    return np.asarray(np.arctan2(step[:, 1], step[:, 0]))


def _best_states(
    nodes: Float64, gather: Gather, velocity: VelocityModel, wavelength_m: float, sides: int, levels: int
) -> Float64:
    angle = directions(nodes)
    normal = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    aside = np.arange(-sides, sides + 1, dtype=np.float64) * min(0.04, wavelength_m / 8)
    below = np.arange(-levels, levels + 1, dtype=np.float64) * (wavelength_m / 12)
    place = np.repeat(nodes[:, None], len(aside) * len(below), axis=1).reshape(
        len(nodes), len(aside), len(below), 3
    )
    place[..., :2] += aside[:, None, None] * normal[:, None, None]
    place[..., 2] += below
    # The envelope's peak, not the place of best coherence: that holds on through the echo's tail.
    quality = np.sqrt(amplitude_of_states(gather, velocity, nodes, angle, aside, below))
    quality[place[..., 2] < 0.05] = 0.0
    choice = best_way(quality, BEND * float(np.median(quality.max(axis=(1, 2)))))
    return np.asarray(place[np.arange(len(nodes)), choice[:, 0], choice[:, 1]])


def best_way(gain: Float64, bend: float) -> np.ndarray:
    """Best path through (vertex, aside, below) gains; a step of k costs bend k^2, at most two steps a vertex."""
    return np.asarray(_best_way(gain, bend))


@nb.njit(cache=True)
def _best_way(gain, bend):  # type: ignore[no-untyped-def]
    vertices, sides, levels = gain.shape
    best = gain[0].copy()
    origin = np.zeros((vertices, sides, levels, 2), np.int8)
    for n in range(1, vertices):
        most = np.full((sides, levels), -np.inf)
        for i in range(-2, 3):
            for j in range(-2, 3):
                price = bend * (i * i + j * j)
                for a in range(max(0, -i), min(sides, sides - i)):
                    for b in range(max(0, -j), min(levels, levels - j)):
                        came = best[a + i, b + j] - price
                        if came > most[a, b]:
                            most[a, b] = came
                            origin[n, a, b, 0], origin[n, a, b, 1] = i, j
        best = most + gain[n]
    at = best.argmax()
    a, b = at // levels, at % levels
    out = np.zeros((vertices, 2), np.int64)
    for n in range(vertices - 1, -1, -1):
        out[n, 0], out[n, 1] = a, b
        a, b = a + origin[n, a, b, 0], b + origin[n, a, b, 1]
    return out


def _set_ends(nodes: Float64, gather: Gather, velocity: VelocityModel, known: Known) -> Float64:
    """Draw both ends on while the sum holds, and keep the longest stretch on which it does."""
    angle = directions(nodes)
    usual = float(np.median(stack_pieces(gather, velocity, nodes, angle, others=False).quality))
    more = round(MOST_BEYOND_M / NODE_M)
    for _ in range(2):
        back = min(len(nodes) - 1, 6)
        step = (nodes[0] - nodes[back]) / back
        ahead = nodes[0] + np.arange(more, 0, -1)[:, None] * step
        ahead = ahead[known.at(ahead[:, :2]) & (ahead[:, 2] > 0.05)]
        wide = np.concatenate([ahead, nodes])
        quality = stack_pieces(gather, velocity, wide, directions(wide), others=False).quality
        first, last = longest_stretch(quality < FAINT * usual)
        if last - first < LEAST_NODES:
            break
        nodes = wide[first:last][::-1]
    return nodes


def longest_stretch(faint: Bool) -> tuple[int, int]:
    """First vertex of the longest stretch without two faint ones in a row or one at its ends, and one past its last."""
    best, first = (0, 0), 0
    gone = np.concatenate([faint[:-1] & faint[1:], [True]])
    for k in np.flatnonzero(gone).tolist():
        low, high = first, k + 1
        while low < high and faint[low]:
            low += 1
        while high > low and faint[high - 1]:
            high -= 1
        if high - low > best[1] - best[0]:
            best = low, high
        first = k + 1
    return best

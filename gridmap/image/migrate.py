"""Migration: every echo back to where it came from, in depth, over all lines (3D) or line by line (2D)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from gridmap.image.envelope import envelope
from gridmap.image.kirchhoff import sum_rows
from gridmap.image.posts import post_count
from gridmap.image.rows import Rows, differentiate, rows_of
from gridmap.model import CleanLine, Float32, Float64, Grid, VelocityModel
from gridmap.place.spacing import runs_along_y

REACH_M = 1.5
"""Farthest trace summed into a cell, metres: farther limbs are weak, and cost time."""


def migrate_3d(
    lines: Sequence[CleanLine],
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    grid: Grid,
    depth_m: Float64,
    angle_deg: float = 45.0,
    progress: Callable[[float], None] = lambda share: None,
) -> Float32:
    """Kirchhoff depth migration of scattered traces from all lines at once; both directions add up.

    Parameters
    ----------
    lines : sequence of CleanLine
        All with the same samples; background removed, gained. Unusable traces are left out.
    interval_ns : float
        Sample interval, nanoseconds.
    separation_m : float
        Transmitter to receiver, along the line, metres.
    velocity : VelocityModel
        Travel times are hyperbolas with the RMS velocity to each depth (Dix 1955).
    grid : Grid
        Cells of the image, and of the traces' binning.
    depth_m : (depth,) float64
        Depths wanted, evenly spaced, metres.
    angle_deg : float
        Widest angle from the vertical that is summed.
    progress : callable
        Called with the share done.

    Returns
    -------
    (depth, row, column) float32
        Signed image, divided by the weights summed, so that edges are not dimmed. A flat reflector still
        gains up to 3 dB at the end of a line and loses up to 4 dB at a gap of half a wavelength.

    Notes
    -----
    Kirchhoff summation (Schneider 1978). Obliquity and an aperture taper weigh each trace. No anti-alias
    filter across coarse line spacing yet: the aperture taper alone limits it.
    """
    samples = lines[0].traces.shape[1]
    image = np.zeros((len(depth_m), *grid.shape), np.float32)
    fold = np.zeros_like(image)
    pad = math.ceil(REACH_M / grid.cell_m) + 1
    turns = [turned for turned in (False, True) if any(runs_along_y(ln.xy_m) == turned for ln in lines)]
    for k, turned in enumerate(turns):
        group = [ln for ln in lines if runs_along_y(ln.xy_m) == turned]
        rows = rows_of(
            [ln.xy_m[ln.usable] for ln in group],
            (differentiate(ln.traces[ln.usable], interval_ns, 0.5) for ln in group),
            samples,
            grid,
            pad,
            turned,
        )
        progress((k + 0.2) / len(turns))
        part, part_fold = _sum(rows, interval_ns, separation_m, velocity, grid.cell_m, depth_m, angle_deg)
        image += part.transpose(0, 2, 1) if turned else part
        fold += part_fold.transpose(0, 2, 1) if turned else part_fold
        progress((k + 1.0) / len(turns))
    full = np.maximum(fold.reshape(len(depth_m), -1).max(axis=1), 1e-20)
    return np.asarray(image / (fold + 0.05 * full[:, None, None]), dtype=np.float32)


def migrate_2d(
    line: CleanLine,
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    depth_m: Float64,
    cell_m: float,
    angle_deg: float = 45.0,
) -> Float32:
    """Kirchhoff depth migration of one line, at its posts.

    Parameters
    ----------
    line : CleanLine
        The line; unusable traces are left out.
    interval_ns, separation_m, velocity, depth_m, angle_deg
        As in `migrate_3d`.
    cell_m : float
        Step of the posts, metres.

    Returns
    -------
    (post, depth) float32
        Signed image at `line_posts`, divided by the weights summed.
    """
    along_m = line.along_m
    grid = Grid(float(along_m[0]), 0.0, cell_m, 1, post_count(line, cell_m))
    position = np.stack([along_m, np.zeros_like(along_m)], axis=1)[line.usable]
    traces = differentiate(line.traces[line.usable], interval_ns, 0.5)
    pad = math.ceil(REACH_M / cell_m) + 1
    rows = rows_of([position], [traces], traces.shape[1], grid, pad, turned=False)
    image, fold = _sum(rows, interval_ns, separation_m, velocity, cell_m, depth_m, angle_deg)
    full = np.maximum(fold.max(axis=(1, 2)), 1e-20)
    return np.ascontiguousarray((image / (fold + 0.05 * full[:, None, None]))[:, 0].T)


def image_envelope(image: Float32) -> Float32:
    """Envelope along depth of a (depth, row, column) image, in blocks of rows to bound memory."""
    out = np.empty_like(image)
    for row in range(image.shape[1]):
        out[:, row] = envelope(np.ascontiguousarray(image[:, row].T)).T
    return out


def _sum(
    rows: Rows,
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    cell_m: float,
    depth_m: Float64,
    angle_deg: float,
) -> tuple[Float32, Float32]:
    """Sum data at every depth, and the weights at every fourth, filled in between."""
    tangent = math.tan(math.radians(angle_deg))
    arguments = (
        rows.data,
        rows.weight,
        rows.row_index,
        rows.rows,
        rows.pad,
        cell_m,
        separation_m,
        velocity.two_way_ns(depth_m),
        velocity.rms_m_per_ns(depth_m),
        interval_ns,
        tangent,
        tangent,
        REACH_M,
    )
    image = sum_rows(*arguments, 1, False)
    every = 4
    coarse = sum_rows(*arguments, every, True)
    at = np.minimum(np.arange(len(depth_m)) / every, len(coarse) - 1)
    low = at.astype(int)
    high = np.minimum(low + 1, len(coarse) - 1)
    share = (at - low).astype(np.float32)[:, None, None]
    return image, coarse[low] * (1 - share) + coarse[high] * share

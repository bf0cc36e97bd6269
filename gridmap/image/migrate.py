"""Migration: every echo back to where it came from, in depth, over all lines (3D) or line by line (2D)."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridmap.image.envelope import envelope
from gridmap.image.even import differentiate
from gridmap.image.fold import FOLD_EVERY, coverage_of, divide_by_fold, fold_peak, usual_fold
from gridmap.image.frame import Frame
from gridmap.image.kirchhoff import add_taps
from gridmap.image.lowpass import Ladder, build_ladder, signal_spectrum, smooth_in_place
from gridmap.image.posts import post_count
from gridmap.image.rows import rows_used
from gridmap.image.taps import Taps, find_taps
from gridmap.model import CleanLine, Float32, Float64, Grid, Int64, VelocityModel
from gridmap.place.spacing import measure_spacing, runs_along_y

REACH_M = 1.5
"""Farthest trace summed into a cell, metres: farther limbs are weak, and cost time."""

WIDTHS_BEYOND = 6
"""Line spacings beyond the aperture that are laid too, so that the ground each line in it stands for is judged by its
neighbours whichever part of the survey is summed: parts then meet without a seam."""

BLOCK_BYTES = 400_000_000
"""Traces on rows held at a time, roughly; rows of the image are worked through in blocks to keep to it."""


@dataclass(frozen=True, slots=True)
class Signal:
    """What the sums need to know of the records.

    Attributes
    ----------
    interval_ns, separation_m : float
        Sample interval; transmitter to receiver, along the line.
    samples : int
        Of every trace.
    ladder : Ladder
        Low-passed copies.
    wavelength_m : float
        In the ground, at the centroid of the spectrum.
    """

    interval_ns: float
    separation_m: float
    samples: int
    ladder: Ladder
    wavelength_m: float

    @classmethod
    def of(
        cls,
        traces: Iterable[Float32],
        interval_ns: float,
        separation_m: float,
        velocity: VelocityModel,
        order: float,
    ) -> Signal:
        """Measure it on some traces, differentiated as the sum will have them."""
        some = [differentiate(part[:: max(1, len(part) // 100)], interval_ns, order) for part in traces]
        frequency, amplitude = signal_spectrum(some, interval_ns)
        centroid = max(float((frequency * amplitude).sum()), 1e-3)
        ladder = build_ladder(frequency, amplitude, interval_ns)
        wavelength = velocity.mean_m_per_ns() * 1e3 / centroid
        return cls(interval_ns, separation_m, some[0].shape[1], ladder, wavelength)


@dataclass(frozen=True, slots=True)
class Turn:
    """Lines of one walking direction in a 3D sum: whether they run along y, their spacing, their taps."""

    along_y: bool
    line_m: float
    taps: Taps


@dataclass(frozen=True, slots=True)
class SumPlan:
    """What all parts of a survey share when it is migrated in 3D, found from all lines."""

    signal: Signal
    turns: tuple[Turn, ...]


def plan_3d(
    lines: Sequence[CleanLine],
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    cell_m: float,
    depth_m: Float64,
    angle_deg: float = 45.0,
) -> SumPlan:
    """Find the sums of 3D migration, once for all parts of a survey.

    Parameters
    ----------
    lines : sequence of CleanLine
        All of them; at least one usable trace.
    interval_ns, separation_m, velocity, depth_m, angle_deg
        As in `migrate_3d`.
    cell_m : float
        Side of a cell, metres.
    """
    usable = [ln for ln in lines if ln.usable.any()]
    signal = Signal.of((ln.traces[ln.usable] for ln in usable), interval_ns, separation_m, velocity, 1.0)
    turns = []
    for along_y in (False, True):
        group = [ln.xy_m for ln in usable if runs_along_y(ln.xy_m) == along_y]
        if group:
            spacing = measure_spacing(group)
            taps = _taps(signal, velocity, depth_m, cell_m, angle_deg, (spacing.trace_m, spacing.line_m))
            turns.append(Turn(along_y, spacing.line_m, taps))
    return SumPlan(signal, tuple(turns))


def reach_of(plan: SumPlan, cell_m: float) -> float:
    """Return how far from a cell a line may lie and still count, metres."""
    line_m = max((turn.line_m for turn in plan.turns if math.isfinite(turn.line_m)), default=0.0)
    return REACH_M + WIDTHS_BEYOND * line_m + 3 * cell_m


def sum_3d(
    lines: Sequence[CleanLine],
    plan: SumPlan,
    grid: Grid,
    part: tuple[slice, slice],
    progress: Callable[[float], None] = lambda share: None,
) -> tuple[Float32, Float32]:
    """Sum the lines for a part of the grid, not yet divided by the weights.

    Parameters
    ----------
    lines : sequence of CleanLine
        All that come within `reach_of` the part; others do no harm.
    plan : SumPlan
        From `plan_3d`.
    grid : Grid
        Of the whole survey.
    part : (slice, slice)
        Rows and columns wanted.
    progress : callable
        Called with the share done.

    Returns
    -------
    image : (depth, row, column) float32
        Signed.
    fold : (depth / `FOLD_EVERY`, row, column) float32
        Weights summed.
    """
    rows, columns = part
    depths = len(plan.turns[0].taps.weight)
    shape = rows.stop - rows.start, columns.stop - columns.start
    image = np.zeros((depths, *shape), np.float32)
    fold = np.zeros((-(-depths // FOLD_EVERY), *shape), np.float32)
    for k, turn in enumerate(plan.turns):
        group = [ln for ln in lines if ln.usable.any() and runs_along_y(ln.xy_m) == turn.along_y]
        across, along = (columns, rows) if turn.along_y else (rows, columns)
        frame = Frame.of(grid, turn.along_y, _pad(grid.cell_m), along)
        parts = image.transpose(0, 2, 1) if turn.along_y else image
        folds = fold.transpose(0, 2, 1) if turn.along_y else fold
        used = (
            rows_used([frame.places(ln)[1] for ln in group], 0, frame.rows)
            if group
            else np.empty(0, np.int64)
        )
        first = across.start
        for low, high in _blocks(used, frame, plan.signal.samples, turn.taps.weight.shape[1], across):
            if group:
                some, some_fold = _sum_block(group, plan.signal, turn.taps, frame, turn.line_m, (low, high))
                parts[:, low - first : high - first] += some
                folds[:, low - first : high - first] += some_fold
            progress((k + (high - first) / (across.stop - first)) / len(plan.turns))
    return image, fold


def migrate_3d(
    lines: Sequence[CleanLine],
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    grid: Grid,
    depth_m: Float64,
    angle_deg: float = 45.0,
    progress: Callable[[float], None] = lambda share: None,
) -> tuple[Float32, Float32]:
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
        Flat layers; travel times are those of exact rays.
    grid : Grid
        Cells of the image, and of the traces' averaging. No wider than a quarter wavelength, or steep limbs are lost.
    depth_m : (depth,) float64
        Depths wanted, evenly spaced, metres.
    angle_deg : float
        Widest angle from the vertical that is summed.
    progress : callable
        Called with the share done.

    Returns
    -------
    image : (depth, row, column) float32
        Signed, divided by the weights summed, so that edges and gaps are not dimmed.
    coverage : (depth / `FOLD_EVERY`, row, column) float32
        Those weights over the level that the best covered tenth of the cells exceeds at that depth, 0 to 1: how much
        of a sum the lines allow there without aliasing. Little between shallow, coarse lines.

    Notes
    -----
    Kirchhoff summation (Schneider 1978), each trace weighed by the ground that it stands for, by obliquity and by an
    aperture taper; steep taps across coarse lines take low-passed samples (`Taps`). The two directions count by the
    weight that they have at each cell.
    """
    plan = plan_3d(lines, interval_ns, separation_m, velocity, grid.cell_m, depth_m, angle_deg)
    image, fold = sum_3d(lines, plan, grid, (slice(0, grid.rows), slice(0, grid.columns)), progress)
    divide_by_fold(image, fold, fold_peak(fold))
    return image, coverage_of(fold, usual_fold(fold))


@dataclass(frozen=True, slots=True)
class LinePlan:
    """What all lines of a survey share when they are migrated one by one."""

    signal: Signal
    taps: Taps
    cell_m: float


def plan_2d(
    lines: Sequence[CleanLine],
    interval_ns: float,
    separation_m: float,
    velocity: VelocityModel,
    depth_m: Float64,
    cell_m: float,
    angle_deg: float = 45.0,
) -> LinePlan:
    """Find the sums of line-by-line migration, once for all lines.

    Parameters
    ----------
    lines : sequence of CleanLine
        All of them; at least one usable trace.
    interval_ns, separation_m, velocity, depth_m, angle_deg
        As in `migrate_3d`.
    cell_m : float
        Step of the posts, metres.
    """
    usable = [ln for ln in lines if ln.usable.any()]
    signal = Signal.of((ln.traces[ln.usable] for ln in usable), interval_ns, separation_m, velocity, 0.5)
    trace_m = float(np.median(np.concatenate([np.diff(ln.along_m) for ln in usable])))
    taps = _taps(signal, velocity, depth_m, cell_m, angle_deg, (trace_m, 0.0), across=False)
    return LinePlan(signal, taps, cell_m)


def migrate_2d(lines: Sequence[CleanLine], plan: LinePlan) -> list[Float32]:
    """Kirchhoff depth migration of lines, each by itself, at their posts.

    Parameters
    ----------
    lines : sequence of CleanLine
        Laid side by side on rows that see nothing of each other, so that one call serves many. Unusable traces are
        left out.
    plan : LinePlan
        From `plan_2d`.

    Returns
    -------
    list of (post, depth) float32
        Signed images at `line_posts`, divided by the weights summed.
    """
    posts = [post_count(ln, plan.cell_m) for ln in lines]
    straight = [
        replace(
            ln, xy_m=np.stack([ln.along_m - ln.along_m[0], np.full_like(ln.along_m, plan.cell_m * k)], axis=1)
        )
        for k, ln in enumerate(lines)
        if ln.usable.any()
    ]
    if not straight:
        return [np.zeros((n, len(plan.taps.weight)), np.float32) for n in posts]
    frame = Frame.of(Grid(0.0, 0.0, plan.cell_m, len(lines), max(posts)), False, _pad(plan.cell_m))
    image, fold = _sum_block(straight, plan.signal, plan.taps, frame, math.inf, (0, len(lines)), order=0.5)
    divide_by_fold(image, fold, fold_peak(fold))
    return [np.ascontiguousarray(image[:, k, :n].T) for k, n in enumerate(posts)]


def envelope_in_place(image: Float32) -> None:
    """Turn a signed (depth, row, column) image into its envelope along depth, row by row to bound memory."""
    for row in range(image.shape[1]):
        image[:, row] = envelope(np.ascontiguousarray(image[:, row].T)).T


def _pad(cell_m: float) -> int:
    return math.ceil(REACH_M / cell_m) + 1


def _taps(
    signal: Signal,
    velocity: VelocityModel,
    depth_m: Float64,
    cell_m: float,
    angle_deg: float,
    spacing_m: tuple[float, float],
    across: bool = True,
) -> Taps:
    finite = (spacing_m[0], spacing_m[1] if math.isfinite(spacing_m[1]) else 0.0)
    return find_taps(
        velocity, depth_m, cell_m, signal.separation_m, signal.interval_ns, signal.samples,
        angle_deg, REACH_M, finite, signal.ladder, across,
    )  # fmt: skip


def _blocks(used: Int64, frame: Frame, samples: int, reach: int, rows: slice) -> Iterator[tuple[int, int]]:
    """Cut rows of the image into blocks whose traces, neighbours in reach included, take about `BLOCK_BYTES`."""
    slot_bytes = 4 * samples * frame.wide
    first = rows.start
    while first < rows.stop:
        last = first
        while last < rows.stop:
            step = min(rows.stop, last + max(1, reach // 2))
            slots = int(((used >= first - reach) & (used < step + reach)).sum())
            if last > first and slots * slot_bytes > BLOCK_BYTES:
                break
            last = step
        yield first, last
        first = last


def _sum_block(
    lines: Sequence[CleanLine],
    signal: Signal,
    taps: Taps,
    frame: Frame,
    line_m: float,
    span: tuple[int, int],
    order: float = 1.0,
) -> tuple[Float32, Float32]:
    """Sum data at every depth, and the weights at every fourth, for some rows of the image."""
    first, last = span
    reach = taps.weight.shape[1]
    image = np.zeros((len(taps.weight), last - first, frame.columns), np.float32)
    coarse = taps.for_fold(FOLD_EVERY, signal.ladder.passed)
    fold = np.zeros((len(coarse.weight), last - first, frame.columns), np.float32)
    beyond = reach + (math.ceil(WIDTHS_BEYOND * line_m / frame.cell_m) if math.isfinite(line_m) else 0)
    span_wide = (max(0, first - beyond), min(frame.rows, last + beyond))
    bridge_m = max(0.5 * signal.wavelength_m, 2.5 * frame.cell_m)
    laid = frame.lay(lines, signal.interval_ns, order, bridge_m, line_m, span_wide, reach)
    if not len(laid.slot):
        return image, fold
    for rung, half_width in enumerate(signal.ladder.half_width):
        if not (taps.level >= rung).any():
            break
        smooth_in_place(laid.data, int(half_width))
        add_taps(
            laid.data, laid.at_row, laid.slot, taps.sample, taps.weight, taps.level, rung, frame.pad, first, image
        )  # fmt: skip
    add_taps(
        laid.weight[None], laid.at_row, laid.slot, coarse.sample, coarse.weight, coarse.level, 0, frame.pad, first, fold
    )  # fmt: skip
    return image, fold

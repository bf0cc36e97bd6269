"""Shapes that a person drew: depth, crossings and evidence by the same functions as for what was found."""

from __future__ import annotations

import math

import numpy as np
import shapely

from gridmap.features.apex import POLARITY_WORDS, apex_pulses, polarity_of
from gridmap.features.confidence import confidence
from gridmap.features.crossings import look_at_crossings
from gridmap.features.dug import interruption_rank
from gridmap.features.ground import Ground
from gridmap.features.linear import evidence_words
from gridmap.features.linear_depth import with_top
from gridmap.features.linear_measures import measure_path
from gridmap.features.outline_echo import read_echo
from gridmap.features.outline_lines import look_below
from gridmap.features.stack import stack_pieces
from gridmap.features.trace import BEND, NODE_M, Traced, best_way, directions
from gridmap.model import Float64, LinearFeature, OutlineFeature, PointFeature
from gridmap.model.feature import Polarity
from gridmap.velocity.top_depth import depth_to_top

BESIDE_M = (0.3, 1.0)
"""Ground with which an area or a point is compared, metres from its edge."""
POINT_M = 0.2
"""Radius about a drawn point in which its echo is looked for."""
LAYERED_M = 1.5
"""Down to here layering is looked at."""
CUT_OFF = 0.95
"""Rank from which it is told that layering is cut off: one place in twenty reaches it by chance."""
NO_TRACE = "no trace near it: depth and evidence unknown"


def measure_line(ground: Ground, path: shapely.LineString, depth_m: float = math.nan) -> LinearFeature:
    """Measure a drawn line.

    Parameters
    ----------
    ground : Ground
        The survey.
    path : LineString
        In plan, local metres; kept as it is.
    depth_m : float
        Depth about which its echo is looked for, metres; NaN: at all depths.

    Returns
    -------
    LinearFeature
        Vertices about `NODE_M` apart on the path, each at the depth to the top there. The way through the depths
        follows the sum in phase along the pipe's curve: first its quality, then its amplitude. `strength` is its
        amplitude over that beside it.
    """
    at = np.linspace(0.0, path.length, max(3, round(path.length / NODE_M) + 1))
    xy = shapely.get_coordinates(shapely.line_interpolate_point(path, at))
    angle = directions(np.column_stack([xy, np.zeros(len(xy))]))
    depth = _follow(ground, xy, angle, np.tile(ground.depths(depth_m), (len(xy), 1)), by="quality")
    if depth is None:
        return LinearFeature(
            np.column_stack([xy, np.full(len(xy), depth_m)]), math.nan, None, math.nan, 0.0, 0, "unclear", NO_TRACE
        )  # fmt: skip
    step = ground.wavelength_m / 24 * np.arange(-8, 9)
    fine = _follow(ground, xy, angle, np.maximum(depth[:, None] + step, 0.05), by="amplitude")
    xyz = np.column_stack([xy, depth if fine is None else fine])
    traced = Traced(xyz, angle, stack_pieces(ground.gather, ground.velocity, xyz, angle))
    pulses = apex_pulses(ground.gather, ground.velocity, xyz, angle, ground.period_ns)
    polarity = polarity_of(pulses.peak, ground.pulse_sign)
    top, sd = with_top(
        traced, ground.volume, ground.velocity, ground.wavelength_m, ground.frequency_mhz, ground.height_m, polarity,
        ground.shift,
    )  # fmt: skip
    crossed = look_at_crossings(traced, ground.walked, ground.gather, ground.velocity, ground.wavelength_m)
    m = measure_path(traced, crossed, math.nan, ground.gather, ground.velocity, ground.usual)
    return LinearFeature(
        top, sd, None, m.contrast, confidence(m), m.shown, polarity, evidence_words(m, polarity)
    )


def _follow(ground: Ground, xy: Float64, angle: Float64, depth_m: Float64, by: str) -> Float64 | None:
    """Best way through (vertex, level) depths; None where no trace is near."""
    count, levels = depth_m.shape
    places = np.column_stack([np.repeat(xy, levels, axis=0), depth_m.ravel()])
    sums = stack_pieces(ground.gather, ground.velocity, places, np.repeat(angle, levels))
    if not (sums.count > 0).any():
        return None
    gain = sums.quality if by == "quality" else np.sqrt(sums.amplitude)
    gain = np.where(sums.count >= 5, gain, 0.0).reshape(count, 1, levels)
    choice = best_way(gain, BEND * float(np.median(gain.max(axis=(1, 2)))))
    return np.asarray(depth_m[np.arange(count), choice[:, 1]])


def measure_outline(ground: Ground, area: shapely.Polygon, depth_m: float = math.nan) -> OutlineFeature:
    """Measure a drawn area, in local metres.

    Returns
    -------
    OutlineFeature
        Sides and bearing of its smallest rectangle; the top where the volume inside stands most above the ground
        beside it, timed in the mean trace above the area; `confidence` is NaN: it is calibrated on found shapes.
    """
    box = area.minimum_rotated_rectangle
    corner = shapely.get_coordinates(box)
    sides = np.diff(corner, axis=0)[:2]
    length = np.hypot(*sides.T)
    longer = int(length.argmax())
    bearing = math.degrees(math.atan2(sides[longer, 1], sides[longer, 0])) % 180.0
    ring = shapely.get_coordinates(area.exterior)[:-1]
    sizes = (float(length[longer]), float(length[1 - longer]), bearing)
    at, strength = _peak(ground, area, depth_m)
    if not math.isfinite(at):
        return OutlineFeature(ring, depth_m, math.nan, None, *sizes, math.nan, math.nan, NO_TRACE)
    period_ns = 1e3 / ground.frequency_mhz
    near_ns = float(ground.velocity.two_way_ns(at))
    seen = look_below(ground.lines, ring, ground.interval_ns, near_ns, period_ns)
    peak_m, thickness = at, None
    polarity: Polarity = "unclear"
    note = f"seen on {seen.count} lines"
    if seen.count:
        echo = read_echo(seen.mean, ground.interval_ns, near_ns, period_ns)
        peak_m = float(ground.velocity.depth_m(echo.top_ns))
        polarity = polarity_of(np.array([echo.peak]), ground.pulse_sign)
        if echo.base_ns is not None:
            thickness = float(ground.velocity.depth_m(echo.base_ns)) - peak_m
            note += "; thickness as if the ground's velocity held inside"
        note += f"; lines agree on its top to {100 * seen.agreement:.0f} %"
        note += f"; {POLARITY_WORDS[polarity]}" if POLARITY_WORDS[polarity] else ""
    note += layering_words(ground, area)
    top, sd = depth_to_top(
        peak_m, ground.velocity, ground.frequency_mhz, height_m=ground.height_m, target="area", polarity=polarity,
        shift=ground.shift,
    )  # fmt: skip
    return OutlineFeature(ring, float(top), float(sd), thickness, *sizes, strength, math.nan, note, polarity)


def layering_words(ground: Ground, area: shapely.Polygon) -> str:
    """Say where the layering inside an area is cut off more than at almost all other places of the survey."""
    from_ns, to_ns = (float(ground.velocity.two_way_ns(z)) for z in (0.6 * ground.shallow_m, LAYERED_M))
    rank = interruption_rank(ground.lines, area, ground.interval_ns, from_ns, to_ns)
    if rank is None or rank < CUT_OFF:
        return ""
    return (
        f"; layering is cut off inside, more than at {100 * rank:.0f} % of other places of this shape, as where the "
        "ground was dug, or something strong lies in it"
    )


def measure_point(ground: Ground, place: shapely.Point, depth_m: float = math.nan) -> PointFeature:
    """Measure a drawn point, in local metres: depth of the strongest echo within `POINT_M`; as `measure_outline`."""
    at, strength = _peak(ground, place.buffer(POINT_M), depth_m)
    if not math.isfinite(at):
        xyz = np.array([place.x, place.y, depth_m])
        return PointFeature(xyz, math.nan, math.nan, math.nan, NO_TRACE)
    top, sd = depth_to_top(
        at,
        ground.velocity,
        ground.frequency_mhz,
        height_m=ground.height_m,
        target="point",
        shift=ground.shift,
    )
    note = "strongest echo within 0.2 m of the place"
    return PointFeature(np.array([place.x, place.y, float(top)]), float(sd), strength, math.nan, note)


def _peak(ground: Ground, area: shapely.Polygon, depth_m: float) -> tuple[float, float]:
    """Depth at which the volume inside stands most above the ground beside it, and how many times; NaN: blank."""
    grid, axis = ground.volume.grid, ground.volume.axis_values()
    x, y = np.meshgrid(grid.x_m(), grid.y_m())
    inside = shapely.contains_xy(area, x, y)
    if not inside.any():
        inside = shapely.contains_xy(area.buffer(0.71 * grid.cell_m), x, y)
    around = shapely.contains_xy(area.buffer(BESIDE_M[1]), x, y)
    around &= ~shapely.contains_xy(area.buffer(BESIDE_M[0]), x, y)
    wanted = ground.depths(depth_m)
    level = np.flatnonzero((axis >= wanted[0] - 1e-9) & (axis <= wanted[-1] + 1e-9))
    known = np.isfinite(ground.volume.values[level[0]]) if len(level) else np.zeros(x.shape, bool)
    if not (inside & known).any():
        return math.nan, math.nan
    part = ground.volume.values[level][:, inside & known].mean(axis=1, dtype=float)
    if not (around & known).any():
        around = ~inside
    side = (
        np.median(ground.volume.values[level][:, around & known], axis=1) if (around & known).any() else part
    )
    over = part / np.maximum(side, 1e-30)
    best = int((part * over).argmax())
    return float(axis[level[best]]), float(over[best])

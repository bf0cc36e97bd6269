"""How well a map tells known ground: recall, precision, lateral error, depth error, overlap of outlines."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from gridmap.model import Float64
from gridmap.model.known import DeepArea, DeepLine, DeepPlan

NEAR_M = 0.15
"""A line found this close to a known one has found it, metres."""
STEP_M = 0.02
"""Lines are compared at points about this far apart, metres."""
FOUND_OVERLAP = 0.5
"""An area counts as found from this intersection over union on."""
FALSE_SHARE = 0.5
"""A line of which less than this lies near anything known is a false one."""


@dataclass(frozen=True, slots=True)
class LineScore:
    """One known line.

    Attributes
    ----------
    id : str
        Of the known line.
    length_m : float
        Within the survey, metres.
    share : float
        Of that length, found within the limit.
    lateral_m : float
        Median distance in plan from the known line where found, metres; NaN where nothing is.
    depth_error_m : float
        Median of depth told less depth known, metres; NaN where not known.
    """

    id: str
    length_m: float
    share: float
    lateral_m: float
    depth_error_m: float


@dataclass(frozen=True, slots=True)
class AreaScore:
    """One known area: best intersection over union, with which area found, and the error of the top, metres."""

    id: str
    overlap: float
    best: str
    depth_error_m: float


@dataclass(frozen=True, slots=True)
class Score:
    """The whole plan; shares 0 to 1, NaN where there is nothing to divide by.

    Attributes
    ----------
    recall : float
        Share of the known length within the survey that was found.
    precision : float
        Share of the length found that lies within the limit of a known line, or of the edge of a known area.
    lateral_median_m, lateral_p90_m : float
        Distance in plan where found: median and 90th percentile, metres.
    depth_median_m, depth_abs_p90_m : float
        Depth told less depth known: median, and 90th percentile of its modulus, metres.
    false_lines : int
        Lines found of which less than half lies near anything known.
    false_per_100_m2 : float
        The same for 100 square metres surveyed.
    areas_found, areas_known, areas_told : int
        Known areas found with an overlap of at least one half; known ones; all told by the map.
    overlap_mean : float
        Mean over the known areas of the best overlap.
    lines, areas : tuple
        One row a known line or area.
    outside_m : float
        Known length beyond the survey, left out of the recall, metres.
    surveyed_m2 : float
        Surveyed area.
    """

    recall: float
    precision: float
    lateral_median_m: float
    lateral_p90_m: float
    depth_median_m: float
    depth_abs_p90_m: float
    false_lines: int
    false_per_100_m2: float
    areas_found: int
    areas_known: int
    areas_told: int
    overlap_mean: float
    lines: tuple[LineScore, ...]
    areas: tuple[AreaScore, ...]
    outside_m: float
    surveyed_m2: float


def score_plan(told: DeepPlan, known: DeepPlan, surveyed: shapely.Geometry, near_m: float = NEAR_M) -> Score:
    """Compare a map with known ground.

    Parameters
    ----------
    told, known : DeepPlan
        What the map tells and what is known, in the same frame.
    surveyed : shapely geometry
        Where the survey went; what is known beyond is left out of the recall.
    near_m : float
        A line found this close to a known one has found it, metres.

    Returns
    -------
    Score
        Every point of a known line is compared with the nearest line told, whichever that is.
    """
    rows, distances, errors, outside, length = [], [], [], 0.0, 0.0
    for line in known.lines:
        points, depth = _points(line)
        inside = shapely.intersects(points, surveyed.buffer(1e-6))
        weight = line.path.length / len(points)
        outside += float((~inside).sum()) * weight
        if not inside.any():
            continue
        apart, told_m = _nearest(points[inside], told.lines)
        hit = apart <= near_m + 1e-9
        error = (told_m - depth[inside])[hit]
        rows.append(
            LineScore(
                line.id, weight * int(inside.sum()), float(hit.mean()), _middle(apart[hit]), _middle(error)
            )
        )
        length += rows[-1].length_m
        distances.append(apart[hit])
        errors.append(error)
    areas = tuple(_area(a, told.areas) for a in known.areas if a.area.intersects(surveyed))
    shares, told_length = _true_shares(told.lines, known, near_m)
    lateral = np.concatenate(distances) if distances else np.zeros(0)
    deep = np.concatenate(errors) if errors else np.zeros(0)
    deep = deep[np.isfinite(deep)]
    false = int((shares < FALSE_SHARE).sum())
    return Score(
        recall=sum(r.share * r.length_m for r in rows) / length if length else math.nan,
        precision=float((shares * told_length).sum() / told_length.sum()) if told_length.sum() > 0 else math.nan,
        lateral_median_m=_middle(lateral),
        lateral_p90_m=float(np.percentile(lateral, 90)) if lateral.size else math.nan,
        depth_median_m=_middle(deep),
        depth_abs_p90_m=float(np.percentile(np.abs(deep), 90)) if deep.size else math.nan,
        false_lines=false,
        false_per_100_m2=100.0 * false / surveyed.area if surveyed.area > 0 else math.nan,
        areas_found=sum(a.overlap >= FOUND_OVERLAP for a in areas),
        areas_known=len(areas),
        areas_told=len(told.areas),
        overlap_mean=float(np.mean([a.overlap for a in areas])) if areas else math.nan,
        lines=tuple(rows),
        areas=areas,
        outside_m=outside,
        surveyed_m2=float(surveyed.area),
    )  # fmt: skip


def _points(line: DeepLine) -> tuple[np.ndarray, Float64]:
    """Middles of equal pieces of a line, and the depth there."""
    count = max(1, round(line.path.length / STEP_M))
    at = (np.arange(count) + 0.5) * line.path.length / count
    return shapely.line_interpolate_point(line.path, at), _depth_at(line, at)


def _depth_at(line: DeepLine, at_m: Float64) -> Float64:
    steps = np.hypot(*np.diff(shapely.get_coordinates(line.path), axis=0).T)
    return np.interp(at_m, np.concatenate([[0.0], steps.cumsum()]), line.depth_m)


def _nearest(points: np.ndarray, lines: Sequence[DeepLine]) -> tuple[Float64, Float64]:
    """Distance of each point to the nearest line, metres, and the depth told there."""
    apart, depth = np.full(len(points), np.inf), np.full(len(points), np.nan)
    for line in lines:
        d = shapely.distance(points, line.path)
        closer = d < apart
        apart[closer] = d[closer]
        depth[closer] = _depth_at(line, shapely.line_locate_point(line.path, points[closer]))
    return apart, depth


def _true_shares(lines: Sequence[DeepLine], known: DeepPlan, near_m: float) -> tuple[Float64, Float64]:
    """Share of each line told that lies near anything known, and its length, metres."""
    edges = [k.path for k in known.lines] + [a.area.boundary for a in known.areas]
    shares = []
    for line in lines:
        points, _ = _points(line)
        apart = np.full(len(points), np.inf)
        for edge in edges:
            apart = np.minimum(apart, shapely.distance(points, edge))
        shares.append(float((apart <= near_m + 1e-9).mean()))
    return np.array(shares), np.array([line.path.length for line in lines])


def _area(known: DeepArea, told: Sequence[DeepArea]) -> AreaScore:
    overlaps = [known.area.intersection(t.area).area / known.area.union(t.area).area for t in told]
    if not overlaps or max(overlaps) == 0:
        return AreaScore(known.id, 0.0, "", math.nan)
    best = told[int(np.argmax(overlaps))]
    return AreaScore(known.id, float(max(overlaps)), best.id, best.depth_m - known.depth_m)


def _middle(values: Float64) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else math.nan

"""Uneven ground in the main job: its heights under lines and cells, and what is done about them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridmap.image.over_terrain import TerrainReport, Uneven, judge_ground
from gridmap.model import CleanLine, Float32, Float64, Grid, PlacedLine, SliceStack, VelocityModel, Volume
from gridmap.pipeline.run import Run
from gridmap.place.dispatch import Survey, ground_heights
from gridmap.place.slope_distance import slope_lengths
from gridmap.place.terrain import filled
from gridmap.slices.level import level_rms, level_windows


@dataclass(frozen=True, slots=True)
class GroundBelow:
    """The ground of the map's cells.

    Attributes
    ----------
    height_m : (row, column) float64
        Elevation, metres; no NaN.
    relief_m : float
        Highest less lowest ground within the map, metres.
    report : TerrainReport
        How migration takes it into account.
    """

    height_m: Float64
    relief_m: float
    report: TerrainReport

    @property
    def uneven(self) -> Uneven | None:
        """What migration is given; None where the ground may be taken as flat under each aperture."""
        return None if self.report.flat_will_do else Uneven(self.height_m, self.report.limit_ns)


def follow_ground(placed: Sequence[PlacedLine], survey: Survey) -> list[PlacedLine]:
    """Look up the ground below the traces again, after corrections moved them."""
    if survey.ground is None:
        return list(placed)
    heights = ground_heights(survey)
    return [replace(p, elevation_m=heights(p.xy_m)) for p in placed]


def along_ground(lines: Sequence[CleanLine], survey: Survey) -> list[CleanLine]:
    """Give lines their distance along the slope: below an even slope, hyperbolas are those of level ground in it."""
    if survey.ground is None:
        return list(lines)
    heights = ground_heights(survey)
    out = []
    for line in lines:
        height = heights(line.xy_m)
        known = np.isfinite(height).all()
        along = slope_lengths(line.along_m, height) + line.along_m[0]
        steps = np.allclose(along, line.along_m, atol=1e-3)
        out.append(replace(line, along_m=along) if known and not steps else line)
    return out


def ground_below(
    survey: Survey,
    grid: Grid,
    distance_m: Float32,
    blank_m: float,
    velocity: VelocityModel,
    depth_m: Float64,
    frequency_mhz: float,
    imaging: str,
    run: Run,
) -> GroundBelow | None:
    """Lay the ground over the map's cells and choose how migration takes it; say so.

    Parameters
    ----------
    survey : Survey
        Holds the heights.
    grid : Grid
        The cells.
    distance_m, blank_m : (row, column) float32, float
        Distance to the nearest trace, and where the map ends, metres.
    velocity, depth_m, frequency_mhz
        What the error of taking the ground as flat is judged by.
    imaging : "3d", "2d" or "none"
        Way of imaging.
    run : Run
        Takes the messages.

    Returns
    -------
    GroundBelow or None
        None where the site file names no heights.
    """
    if survey.ground is None:
        return None
    x, y = np.meshgrid(grid.x_m(), grid.y_m())
    raw = ground_heights(survey)(np.stack([x, y], axis=-1).reshape(-1, 2)).reshape(grid.shape)
    height, _ = filled(raw, grid.cell_m)
    speaks = distance_m <= blank_m
    lost = np.isnan(raw) & speaks
    if lost.any():
        run.warnings.append(
            f"ground heights of {survey.ground.source} are not known for {100 * lost.sum() / speaks.sum():.0f} % of the"
            " map; there the nearest known height stands for the ground. Survey points to the rim of the grid."
        )
    relief = float(np.ptp(height[speaks])) if speaks.any() else 0.0
    report = judge_ground(height, grid.cell_m, velocity, depth_m, 1e3 / frequency_mhz)
    run.notes.append(
        f"ground from {survey.ground.source}: {relief:.2f} m of relief, elevation {height[speaks].min():.2f} to"
        f" {height[speaks].max():.2f} m; depths are below the ground straight above"
    )
    run.notes.append(f"terrain: {_terrain_words(report, imaging)}")
    return GroundBelow(height, relief, report)


def level_stack(
    volume: Volume, ground: GroundBelow, speaks: Float32, thickness_m: float, overlap: float
) -> SliceStack:
    """Cut slices of one elevation each from a volume over depth; `speaks` is NaN where the map is blank."""
    inside = np.where(np.isnan(speaks), np.nan, ground.height_m)
    windows = level_windows(inside, float(volume.axis_values()[-1]), thickness_m, overlap)
    return SliceStack(level_rms(volume, inside, windows), windows, volume.quantity)


def _terrain_words(report: TerrainReport, imaging: str) -> str:
    period = f"a tenth of a period ({report.limit_ns:.2f} ns)"
    if imaging == "none":
        return "no migration, so that echoes of slopes stay where they were recorded"
    if report.flat_will_do:
        return (
            f"taking the ground as flat under each aperture misses travel times by {report.flat_miss_ns:.2f} ns at"
            f" most, below {period}: migrated as flat, depths counted from the ground"
        )
    return (
        f"taking the ground as flat would miss travel times by {report.flat_miss_ns:.1f} ns, more than {period}:"
        f" migrated between true heights, by local planes for {100 * (1 - report.share_uneven):.0f} % of the volume"
    )

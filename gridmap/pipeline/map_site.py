"""The one place that knows the order of the stages: from a site file to an output folder."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from gridmap.condition.air_echo import AirEcho
from gridmap.condition.levels import Levels
from gridmap.condition.recipe import Conditioned, Recipe
from gridmap.deliver.folder import Delivery, write_delivery
from gridmap.deliver.outfolder import finished_folder, refuse_folder
from gridmap.features.ground import Ground
from gridmap.features.interpret import interpret
from gridmap.features.words import features_in_words
from gridmap.image.choose import choose_imaging, choose_sum
from gridmap.model import (
    CleanLine,
    Float32,
    Float64,
    Grid,
    SliceStack,
    VelocityModel,
    Volume,
    Window,
)
from gridmap.pipeline.earlier import earlier_edits, tell_kept
from gridmap.pipeline.frame import map_frame
from gridmap.pipeline.inputs import Inputs
from gridmap.pipeline.judged import Judged
from gridmap.pipeline.kept_stages import KeptStages
from gridmap.pipeline.memory import refuse_too_little
from gridmap.pipeline.reach import map_reach, reach_at_posts
from gridmap.pipeline.read_lines import read_lines, shared_places
from gridmap.pipeline.run import Progress, Run, quiet
from gridmap.pipeline.terrain import GroundBelow, follow_ground, ground_below, level_stack
from gridmap.pipeline.volume_stage import Filling, volume_tiles
from gridmap.pipeline.work import Work, work_folder
from gridmap.pipeline.workers import Workers, workers
from gridmap.place.corrections import Corrections
from gridmap.place.spacing import Spacing, measure_spacing
from gridmap.site.records import Site
from gridmap.slices.mapgrid import raster_over, to_raster
from gridmap.slices.post_windows import post_windows
from gridmap.slices.reduce import window_rms
from gridmap.slices.window import THINNEST_NS, depth_windows, slice_thickness_m, time_windows
from gridmap.velocity.peak_shift import measure_peak_shift
from gridmap.volume.blank import distance_to_trace
from gridmap.volume.interpolate import interpolation_in_words
from gridmap.volume.layout import choose_blank_m, choose_cell_m, choose_depths, lay_grid
from gridmap.volume.likeness import Likeness
from gridmap.volume.sources import Sources, survey_sources
from gridmap.volume.variogram import fit_likeness

STAGES = (
    ("reading and placing the lines", 0.22),
    ("conditioning, checking positions", 0.14),
    ("finding the velocity", 0.10),
    ("migrating", 0.24),
    ("cutting slices", 0.08),
    ("finding features", 0.06),
    ("writing maps and pictures", 0.16),
)
"""Stages of `map_site` and the share of its time that each usually takes."""


@dataclass(frozen=True, slots=True)
class MapResult:
    """What a run made.

    Attributes
    ----------
    out : Path
        The finished output folder.
    summary : tuple of str
        What was found, in plain words.
    notes : tuple of str
        What was assumed or chosen.
    warnings : tuple of str
        What a person should look at; not empty means exit code 1.
    velocity : VelocityModel
        The velocity behind every depth.
    stage_seconds : dict
        Wall time of each stage, seconds.
    """

    out: Path
    summary: tuple[str, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    velocity: VelocityModel
    stage_seconds: dict[str, float]


def map_site(
    site: Site,
    out: Path,
    *,
    replace_old: bool = False,
    edits: Path | None = None,
    progress: Progress = quiet,
    work_in: Path | None = None,
    keep_work: bool = False,
    memory: int | None = None,
    scheduler: str | None = None,
) -> MapResult:
    """Do the main job: lines to maps.

    Parameters
    ----------
    site : Site
        From `gridmap.site.load.load_site`.
    out : Path
        Output folder; must not exist, or be empty, or (with `replace_old`) hold an earlier map of gridmap's.
    replace_old : bool
        Whether an earlier map may be replaced; what a person did to its features.gpkg is kept.
    edits : Path or None
        Another GeoPackage with what a person drew or said.
    progress : callable
        See `Progress`.
    work_in : Path or None
        Folder for what is made on the way, from which a job that was stopped goes on; None: OUT.work beside `out`.
    keep_work : bool
        Whether it stays when the job is done.
    memory : int or None
        Most that the job may take, bytes; None: most of what the machine or the container has.
    scheduler : str or None
        Address of a dask.distributed scheduler whose workers make the tiles of a large volume; None: this process does.

    Returns
    -------
    MapResult
        The folder appears under its name only when everything in it is written.

    Raises
    ------
    InputError
        For anything wrong in the user's files, with nothing written.
    """
    refuse_folder(out, replace_old)
    work = Work(work_folder(out, work_in))
    with work.held(keep_work), workers(scheduler, work.folder) as who:
        return _map(site, out, replace_old, edits, Run(progress, STAGES), work, memory, who)


def _map(
    site: Site,
    out: Path,
    replace_old: bool,
    edits: Path | None,
    run: Run,
    work: Work,
    memory: int | None,
    who: Workers,
) -> MapResult:
    """Go through the stages, each from the work folder where an earlier run did it."""
    inputs = Inputs()
    inputs.sha256(site.path)
    frame = map_frame(site, run)
    earlier = earlier_edits(out, edits, frame, run)
    kept = KeptStages(site, frame, run, work, inputs, who)
    with run.stage(0) as tick:
        survey = shared_places(site, frame, run)
        judged = Judged(site)
        placed, clean, recipe = read_lines(site, survey, run, tick, kept.lines, judged)
        inputs.refuse_changed()
    with run.stage(1):
        signal = kept.conditioned(clean, recipe)
        lines, placed, found = kept.put_right(signal, placed, recipe)
        signal, lines, levels = kept.levelled(signal, lines, recipe)
        placed = follow_ground(placed, survey)
    with run.stage(2):
        evidence, above, lines = kept.velocity(lines, survey, recipe)
        lines = judged.lighten(lines, found, signal)
    velocity = evidence.velocity
    layout = _lay_out(site, lines, recipe, velocity, run)
    ground = ground_below(
        survey, layout.grid, layout.distance_m, layout.blank_m, velocity, layout.depth_m, site.antenna.frequency_mhz,
        layout.mode, run,
    )  # fmt: skip
    method, how = choose_sum(
        layout.mode, layout.spacing.line_m, velocity.mean_m_per_ns() * 1e3 / site.antenna.frequency_mhz,
        len(velocity.top_m), ground is None or ground.uneven is None,
        4 * layout.grid.rows * layout.grid.columns * lines[0].traces.shape[1],
    )  # fmt: skip
    uneven = ground.uneven if ground else None
    tiles = volume_tiles(layout.grid, len(layout.depth_m), lines[0].traces.shape[1], method, uneven)
    cells = layout.grid.rows * layout.grid.columns
    refuse_too_little(
        memory, 4 * cells * len(layout.depth_m), sum(4 * line.traces.size for line in lines), len(tiles) > 1
    )
    if layout.mode != "none":
        run.notes.append(f"migration: {how}")
    with run.stage(3) as tick:
        per_post = np.concatenate(post_windows(lines, recipe.interval_ns, layout.in_time, layout.grid.cell_m))
        sources, likeness = _likeness(site, lines, signal, per_post, layout, run)
        reach_m = reach_at_posts(lines, signal, recipe, velocity, layout.grid.cell_m)
        filled = kept.volume(
            Filling(
                layout.mode, method, lines, recipe.interval_ns, site.antenna.separation_m, velocity, layout.depth_m,
                layout.grid, layout.distance_m, layout.blank_m, sources, likeness, site.processing.interpolation,
                np.concatenate([per_post, reach_m], axis=1), uneven,
            ),
            tick,
        )  # fmt: skip
        volume = replace(filled.volume, ground_m=ground.height_m if ground else None)
    with run.stage(4):
        local = _cut(site, volume, layout, ground)
        in_time, reach = filled.beside[:-1], filled.beside[-1]
        reach = map_reach(reach, signal, recipe, velocity, run)
        for values in (in_time, reach[None]):
            values[:, layout.distance_m > layout.blank_m] = np.nan
        raster = raster_over(layout.grid, frame.transform, frame.crs_wkt)
        on_map = [
            to_raster(v, layout.grid, raster, frame.transform)
            for v in (local.values, in_time, layout.distance_m[None], reach[None], filled.sd[None])
        ]
        with_sd = bool(np.isfinite(filled.sd).any())
        # What is written is on the map; this would be held on through the longest stages.
        del filled, in_time, values, reach, per_post, reach_m, sources
    with run.stage(5):
        shift = measure_peak_shift(
            layout.mode, velocity, site.antenna, signal.gain, recipe.interval_ns, layout.depth_m, layout.grid.cell_m,
            layout.spacing.line_m,
        )  # fmt: skip
        survey_below = Ground(
            volume, lines, recipe.interval_ns, velocity, site.antenna.frequency_mhz, layout.shallow_m,
            site.antenna.height_m, site.antenna.separation_m, shift, work.room,
        )  # fmt: skip
        features = kept.features(survey_below, layout.spacing.line_m)
        told = tell_kept(interpret(features, earlier.rows, frame.transform, survey_below), run)
        summary = features_in_words(told, frame.transform.rotation_deg)
        del survey_below  # and with it the gathered traces
    inputs.refuse_changed()
    with run.stage(6) as tick, finished_folder(out, replace_old) as folder:
        delivery = Delivery(
            site=site, fit=frame.fit, transform=frame.transform, velocity=velocity, evidence=evidence,
            placed=placed, lines=lines, found=found, above=above, findings=judged.findings(found),
            interval_ns=recipe.interval_ns, volume=volume, local_slices=local,
            shallow_m=layout.shallow_m, features=told, earlier=earlier.copy,
            depth_slices=SliceStack(on_map[0], local.windows, volume.quantity),
            time_slices=SliceStack(on_map[1], layout.in_time, "envelope of the echo, not migrated"),
            raster=raster, coverage=on_map[2][0], reach=on_map[3][0],
            interpolation_sd=on_map[4][0] if with_sd else None, summary=summary,
            notes=tuple(run.notes), warnings=tuple(run.warnings),
            parameters=_parameters(site, recipe, signal, layout, likeness, lines, found, levels, above, ground),
            stage_seconds=run.seconds, inputs=inputs.sha,
        )  # fmt: skip
        run.notes += write_delivery(folder, delivery, tick)
    run.progress("done", 1.0)
    return MapResult(out, summary, tuple(run.notes), tuple(run.warnings), velocity, run.seconds)


@dataclass(frozen=True, slots=True)
class _Layout:
    """Cells, depths and windows, chosen from spacing and wavelength."""

    spacing: Spacing
    grid: Grid
    depth_m: Float64
    in_depth: tuple[Window, ...]
    in_time: tuple[Window, ...]
    mode: Literal["3d", "2d", "none"]
    blank_m: float
    distance_m: Float32
    shallow_m: float


def _lay_out(
    site: Site, lines: list[CleanLine], recipe: Recipe, velocity: VelocityModel, run: Run
) -> _Layout:
    """Choose cells, depths, windows and the way of imaging, and say so."""
    wish, v = site.processing, velocity.mean_m_per_ns()
    wavelength_m = v * 1e3 / site.antenna.frequency_mhz
    spacing = measure_spacing([ln.xy_m for ln in lines])
    cell_m = wish.cell_m or choose_cell_m(spacing.line_m, spacing.trace_m, wavelength_m)
    blank_m = wish.blank_m or choose_blank_m(spacing.line_m, spacing.trace_m, cell_m)
    used = [ln.xy_m[ln.usable] for ln in lines]
    grid = lay_grid(used, cell_m, min(0.5 * blank_m, 0.5))
    time_ns = recipe.interval_ns * (lines[0].traces.shape[1] - 1)
    depth_m = choose_depths(min(wish.depth_max_m or np.inf, float(velocity.depth_m(time_ns))), wavelength_m)
    thickness_m = wish.slice_thickness_m or slice_thickness_m(v, site.antenna.frequency_mhz)
    mode, why = choose_imaging(wish.imaging, spacing.line_m, wavelength_m, len(lines))
    run.notes += [
        f"imaging: {mode}, {why}",
        f"cells of {cell_m:g} m (lines {spacing.line_m:.2f} m apart, traces {spacing.trace_m:.3f} m, wavelength "
        f"{wavelength_m:.2f} m); blank beyond {blank_m:.2f} m from a trace",
        f"depth slices {thickness_m:g} m thick, time slices {THINNEST_NS:g} ns",
    ]
    return _Layout(
        spacing,
        grid,
        depth_m,
        depth_windows(depth_m[-1], thickness_m, wish.slice_overlap, velocity),
        time_windows(float(velocity.two_way_ns(depth_m[-1])), THINNEST_NS, wish.slice_overlap, velocity),
        mode,
        blank_m,
        distance_to_trace(np.concatenate(used), grid),
        max(0.25, 0.5 * wavelength_m),
    )


def _cut(site: Site, volume: Volume, layout: _Layout, ground: GroundBelow | None) -> SliceStack:
    """Cut slices that follow the ground, or level ones where the site file asks for them."""
    if ground is None or site.terrain is None or site.terrain.slices == "ground":
        cut = window_rms(volume.values, layout.depth_m, layout.in_depth)
        return SliceStack(cut, layout.in_depth, volume.quantity)
    first = layout.in_depth[0]
    return level_stack(
        volume, ground, volume.values[0], first.base_m - first.top_m, site.processing.slice_overlap
    )


def _likeness(
    site: Site, lines: list[CleanLine], signal: Conditioned, per_post: Float32, layout: _Layout, run: Run
) -> tuple[Sources, Likeness]:
    """Fit what the lines have in common, after the direct wave."""
    noise = {ln.name: n.level for ln, n in zip(signal.lines, signal.noise, strict=True)}
    sources = survey_sources(
        lines, layout.grid.cell_m, layout.spacing.line_m, [noise[ln.name] for ln in lines]
    )
    likeness = fit_likeness(sources, per_post[:, 4:])
    run.notes.append(interpolation_in_words(site.processing.interpolation, likeness, sources.ways))
    return sources, likeness


def _parameters(
    site: Site,
    recipe: Recipe,
    signal: Conditioned,
    layout: _Layout,
    likeness: Likeness,
    lines: list[CleanLine],
    found: Corrections,
    levels: Levels,
    above: tuple[AirEcho, ...],
    ground: GroundBelow | None,
) -> dict[str, object]:
    """Every setting as used, for run.json."""
    windows = layout.in_depth[0]
    return {
        "site": {k: v for k, v in asdict(site).items() if k not in ("lines", "path")},
        "recipe": asdict(recipe),
        "decay": asdict(signal.decay),
        "noise_floor": {
            ln.name: float(f"{n.level:.4g}") if np.isfinite(n.level) else None
            for ln, n in zip(signal.lines, signal.noise, strict=True)
        },
        "spacing": asdict(layout.spacing),
        "gridding": {
            "method": site.processing.interpolation,
            "blank_m": layout.blank_m,
            "likeness": asdict(likeness),
        },
        "imaging": layout.mode,
        "terrain": None if ground is None else {"relief_m": ground.relief_m, **asdict(ground.report)},
        "gains": {ln.name: round(math.exp(g), 4) for ln, g in zip(lines, levels.line, strict=True)},
        "cell_m": layout.grid.cell_m,
        "slice_thickness_m": round(windows.base_m - windows.top_m, 4),
        "time_zero_ns": {ln.name: round(ln.time_zero_ns, 4) for ln in lines},
        "above_ground": [asdict(echo) for echo in above],
        "positions": [asdict(finding) for finding in found.findings],
        "repaired": {ln.name: list(ln.mended) for ln in lines if ln.mended},
        "traces_left_out": {ln.name: int((~ln.usable).sum()) for ln in lines},
    }

"""The one place that knows the order of the stages: from a site file to an output folder."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Literal

import numpy as np

from gridmap.condition.gain import Decay
from gridmap.condition.recipe import Recipe, choose_recipe, finish_lines, prepare_line
from gridmap.deliver.folder import Delivery, write_delivery
from gridmap.deliver.outfolder import finished_folder, refuse_folder
from gridmap.errors import InputError
from gridmap.image.choose import choose_imaging
from gridmap.model import (
    IDENTITY,
    CleanLine,
    Float32,
    Float64,
    Grid,
    PlacedLine,
    Similarity,
    SliceStack,
    VelocityModel,
    Window,
)
from gridmap.place.control import ControlFit, fit_similarity
from gridmap.place.crs import area_warning, projected_crs
from gridmap.place.spacing import Spacing, measure_spacing
from gridmap.place.tape import outside_grid, place_by_pegs
from gridmap.read.sniff import read_line
from gridmap.site.records import Site
from gridmap.slices.mapgrid import raster_over, to_raster
from gridmap.slices.post_windows import post_windows
from gridmap.slices.reduce import window_rms
from gridmap.slices.standout import find_standouts, in_words
from gridmap.slices.window import THINNEST_NS, depth_windows, slice_thickness_m, time_windows
from gridmap.velocity.evidence import survey_velocity
from gridmap.volume.blank import distance_to_trace
from gridmap.volume.build import Gridding, depth_volume
from gridmap.volume.layout import choose_blank_m, choose_cell_m, choose_depths, lay_grid
from gridmap.volume.variogram import fit_range

Progress = Callable[[str, float], None]
"""Called with the stage's name in words and the share of the whole job that is done, 0 to 1."""

STAGES = (
    ("reading and placing the lines", 0.22),
    ("conditioning", 0.10),
    ("finding the velocity", 0.10),
    ("migrating", 0.28),
    ("cutting slices", 0.10),
    ("writing maps and pictures", 0.20),
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


@dataclass(slots=True)
class _Run:
    """Progress, timings and messages of one run."""

    progress: Progress
    notes: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def stage(self, number: int) -> Iterator[Callable[[float], None]]:
        name, share = STAGES[number]
        before = sum(s for _, s in STAGES[:number])
        started = time.perf_counter()
        self.progress(name, before)
        yield lambda part: self.progress(name, before + share * part)
        self.seconds[name] = time.perf_counter() - started


def map_site(
    site: Site, out: Path, *, replace_old: bool = False, progress: Progress = lambda stage, share: None
) -> MapResult:
    """Do the main job: lines to maps.

    Parameters
    ----------
    site : Site
        From `gridmap.site.load.load_site`.
    out : Path
        Output folder; must not exist, or be empty, or (with `replace_old`) hold an earlier map of gridmap's.
    replace_old : bool
        Whether an earlier map may be replaced.
    progress : callable
        See `Progress`.

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
    run = _Run(progress)
    frame = _map_frame(site, run)
    with run.stage(0) as tick:
        placed, clean, recipe = _read_lines(site, run, tick)
    with run.stage(1):
        lines, decay, _ = finish_lines(clean, recipe)
    with run.stage(2):
        evidence = survey_velocity(lines, recipe.interval_ns, site.antenna, site.ground)
        run.warnings += evidence.warnings
        run.notes.append(f"velocity: {evidence.velocity.source}")
    velocity = evidence.velocity
    layout = _lay_out(site, lines, recipe, velocity, run)
    with run.stage(3) as tick:
        per_post = post_windows(lines, recipe.interval_ns, layout.in_time, layout.grid.cell_m)
        gridding = _gridding(lines, per_post, layout)
        volume = depth_volume(
            layout.mode, lines, recipe.interval_ns, site.antenna.separation_m, velocity,
            layout.depth_m, layout.distance_m, gridding, tick,
        )  # fmt: skip
    with run.stage(4):
        cut = window_rms(volume.values, layout.depth_m, layout.in_depth)
        in_time = gridding.spread(np.concatenate(per_post))
        in_time[:, layout.distance_m > gridding.blank_m] = np.nan
        local = SliceStack(cut, layout.in_depth, volume.quantity)
        raster = raster_over(layout.grid, frame.transform, frame.crs_wkt)
        on_map = [
            to_raster(v, layout.grid, raster, frame.transform)
            for v in (cut, in_time, layout.distance_m[None])
        ]
        standouts = find_standouts(volume.values, layout.depth_m, layout.grid, layout.shallow_m)
        summary = tuple(
            in_words(s, float(velocity.depth_sd_m(s.depth_m)), frame.transform.rotation_deg)
            for s in standouts
        )
    with run.stage(5) as tick, finished_folder(out, replace_old) as folder:
        delivery = Delivery(
            site=site, fit=frame.fit, transform=frame.transform, velocity=velocity, evidence=evidence,
            placed=placed, lines=lines, interval_ns=recipe.interval_ns, volume=volume, local_slices=local,
            shallow_m=layout.shallow_m,
            depth_slices=SliceStack(on_map[0], layout.in_depth, volume.quantity),
            time_slices=SliceStack(on_map[1], layout.in_time, "envelope of the echo, not migrated"),
            raster=raster, coverage=on_map[2][0], summary=summary,
            notes=tuple(run.notes), warnings=tuple(run.warnings),
            parameters=_parameters(site, recipe, decay, layout, gridding, lines), stage_seconds=run.seconds,
        )  # fmt: skip
        run.notes += write_delivery(folder, delivery, tick)
    run.progress("done", 1.0)
    return MapResult(out, summary, tuple(run.notes), tuple(run.warnings), velocity, run.seconds)


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where the local grid lies on the map."""

    fit: ControlFit | None
    transform: Similarity
    crs_wkt: str | None


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


def _map_frame(site: Site, run: _Run) -> _Frame:
    """Fit the control points and check the CRS, before any line is read."""
    near = (site.control[0].easting_m, site.control[0].northing_m) if site.control else None
    crs_wkt = projected_crs(site.crs, near) if site.crs else None
    if not site.control:
        run.warnings.append(
            "no control points: the map is in local grid metres and will not lie right in a GIS."
        )
        return _Frame(None, IDENTITY, None)
    fit = fit_similarity(site.control, site.control_limit_cm)
    run.warnings += fit.warnings
    run.notes.append(f"control: {len(site.control)} points, RMS residual {100 * fit.rms_m:.1f} cm")
    if crs_wkt is None:
        run.warnings.append("control points but no crs: give the site file the CRS of their co-ordinates.")
    elif (where := area_warning(crs_wkt, fit.transform.e0_m, fit.transform.n0_m)) is not None:
        run.warnings.append(where)
    return _Frame(fit, fit.transform, crs_wkt)


def _read_lines(
    site: Site, run: _Run, tick: Callable[[float], None]
) -> tuple[list[PlacedLine], list[CleanLine], Recipe]:
    """Read, place and prepare line by line; the raw traces of one line only are held at a time."""
    placed: list[PlacedLine] = []
    clean: list[CleanLine] = []
    recipe: Recipe | None = None
    assumed: dict[str, list[str]] = {}
    left_out: dict[str, int] = {}
    for i, plan in enumerate(site.lines):
        line = read_line(plan.file, name=plan.name, sample_interval_ns=site.processing.sample_interval_ns)
        for note in line.notes:
            assumed.setdefault(note, []).append(line.name)
        if recipe is None:
            wish = site.processing
            recipe = choose_recipe(
                site.antenna.frequency_mhz, site.antenna.separation_m, line.sample_interval_ns,
                band_mhz=wish.band_mhz, dewow_ns=wish.dewow_ns, background_m=wish.background_m,
            )  # fmt: skip
            first = line
        elif abs(line.sample_interval_ns / first.sample_interval_ns - 1) > 1e-3:
            raise InputError(
                f"line {line.name}: sample interval {line.sample_interval_ns:g} ns, but line {first.name} has "
                f"{first.sample_interval_ns:g} ns. Map lines of different settings apart."
            )
        here = place_by_pegs(line, plan.start_m, plan.end_m)
        if site.size_m and (outside := outside_grid(here, site.size_m)) is not None:
            run.warnings.append(outside)
        ready = prepare_line(here, recipe)
        bad = int((~ready.usable).sum())
        if bad > 0.1 * len(ready.usable):
            run.warnings.append(
                f"line {line.name}: {bad} of {len(ready.usable)} traces are dead, shaken or lifted, "
                "and left out. Walk it again."
            )
        if bad:
            left_out[line.name] = bad
        placed.append(
            replace(here, line=replace(line, traces=np.empty((0, line.traces.shape[1]), np.float32)))
        )
        clean.append(ready)
        tick((i + 1) / len(site.lines))
    assert recipe is not None
    if left_out:
        worst = sorted(left_out, key=lambda name: -left_out[name])[:3]
        run.notes.append(
            f"{sum(left_out.values())} dead or shaken traces left out on {len(left_out)} lines, most on "
            + ", ".join(f"{name} ({left_out[name]})" for name in worst)
        )
    for note, names in assumed.items():
        run.notes.append(f"{note} ({names[0]}{f' and {len(names) - 1} more' if len(names) > 1 else ''})")
    return placed, clean, recipe


def _lay_out(
    site: Site, lines: list[CleanLine], recipe: Recipe, velocity: VelocityModel, run: _Run
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


def _gridding(lines: list[CleanLine], per_post: list[Float32], layout: _Layout) -> Gridding:
    """Fit the kriging covariance along up to 40 lines, on every fourth window, and find the weights."""
    some = per_post[:: max(1, len(per_post) // 40)]
    cell_m = layout.grid.cell_m
    range_m, nugget = fit_range([values[:, 4::4] for values in some], cell_m, (cell_m, 20 * cell_m))
    return Gridding.over(lines, layout.grid, range_m, nugget, layout.blank_m)


def _parameters(
    site: Site, recipe: Recipe, decay: Decay, layout: _Layout, gridding: Gridding, lines: list[CleanLine]
) -> dict[str, object]:
    """Every setting as used, for run.json."""
    windows = layout.in_depth[0]
    return {
        "site": {k: v for k, v in asdict(site).items() if k not in ("lines", "path")},
        "recipe": asdict(recipe),
        "decay": asdict(decay),
        "spacing": asdict(layout.spacing),
        "gridding": {"range_m": gridding.range_m, "nugget": gridding.nugget, "blank_m": gridding.blank_m},
        "imaging": layout.mode,
        "cell_m": layout.grid.cell_m,
        "slice_thickness_m": round(windows.base_m - windows.top_m, 4),
        "time_zero_ns": {ln.name: round(ln.time_zero_ns, 4) for ln in lines},
        "traces_left_out": {ln.name: int((~ln.usable).sum()) for ln in lines},
    }

"""The output folder of the main job: everything that is handed over, written in the order in which people open it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from gridmap.check.finding import Finding
from gridmap.condition.air_echo import AirEcho
from gridmap.deliver.air_layer import above_ground_layer
from gridmap.deliver.caution import NOTHING_FOUND
from gridmap.deliver.check_layer import check_layer
from gridmap.deliver.cog import (
    write_coverage,
    write_interpolation_sd,
    write_reach,
    write_slice_stack,
    write_slices,
)
from gridmap.deliver.colours import colour_range
from gridmap.deliver.contact_sheet import contact_sheet
from gridmap.deliver.feature_layers import feature_layers
from gridmap.deliver.gpkg import write_features
from gridmap.deliver.hand_over import hand_over_features
from gridmap.deliver.html import write_index
from gridmap.deliver.layers import Layer, LineQuality, control_layer, lines_walked_layer
from gridmap.deliver.page_data import PageData, PageFile, PageLine, PageRadargrams, PageStack
from gridmap.deliver.page_features import page_features
from gridmap.deliver.page_ground import page_ground
from gridmap.deliver.pictures import slice_sheet, write_picture, write_slice_pictures
from gridmap.deliver.positions import write_positions
from gridmap.deliver.profiles import write_profiles
from gridmap.deliver.radargram import draw_on_radargram, radargram_sheet
from gridmap.deliver.record import list_outputs, run_record, write_record
from gridmap.deliver.scene import write_scene
from gridmap.deliver.scene_build import build_scene
from gridmap.deliver.scene_view import draw_scene
from gridmap.deliver.velocity_pictures import write_velocity_pictures
from gridmap.deliver.words import stack_words, velocity_words
from gridmap.files import whole_file
from gridmap.model import (
    CleanLine,
    Float32,
    Float64,
    Grid,
    Int64,
    Interpretation,
    PlacedLine,
    RasterGrid,
    Similarity,
    SliceStack,
    VelocityModel,
    Volume,
)
from gridmap.place.control import ControlFit
from gridmap.place.corrections import Corrections
from gridmap.place.tape import positions_table
from gridmap.site.records import Site
from gridmap.slices.usual_level import usual_level
from gridmap.threads import each
from gridmap.velocity.evidence import VelocityEvidence
from gridmap.volume.store import write_volume

FILES = (
    ("index.html", "Plan, radargrams and 3D; opens in any browser, offline"),
    ("slices.tif", "All depth slices, one band each, for a GIS"),
    ("features.gpkg", "What was found, lines walked and control points, for a GIS"),
    ("pictures/plan.png", "Plan of what was found, with depths"),
    ("features.dxf", "What was found, for CAD"),
    ("features.kml", "What was found, for a phone"),
    ("features.geojson", "What was found, for a map on the web"),
    ("stakeout.csv", "Points to set out; pictures/stakeout.png shows them"),
    ("slices/", "Every depth slice and time slice as a GeoTIFF of its own"),
    ("pictures/contact_sheet.png", "All depth slices on one sheet"),
    ("profiles/", "Radargrams kept for the report, with the hyperbolas that count"),
    (
        "scene.glb",
        "3D: pipes as tubes, areas as solids, slices, surfaces of equal strength, for any glTF viewer",
    ),
    ("scene.vtm", "The same for VTK viewers"),
    ("volume.zarr", "The volume, for xarray"),
    ("coverage.tif", "Metres to the nearest trace"),
    ("reach.tif", "Depth to which a stated echo would still stand above the noise"),
    ("interpolation_sd.tif", "How uncertain the map is between the lines"),
    ("positions.csv", "Where every trace was measured"),
    ("run.json", "What was done, with what, and what came out"),
)
"""What is in the folder, in the order in which to open it."""

NEED_CRS = ("features.kml", "features.geojson")
"""Left out where the map has no CRS."""

SURFACES = (6.0, 15.0)
"""Surfaces of the 3D scene: this many times the usual level of their depth."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """All that the folder is made from; see the records for shapes and units."""

    site: Site
    fit: ControlFit | None
    transform: Similarity
    velocity: VelocityModel
    evidence: VelocityEvidence
    placed: Sequence[PlacedLine]
    lines: Sequence[CleanLine]
    found: Corrections
    above: Sequence[AirEcho]
    findings: Sequence[Finding]
    interval_ns: float
    volume: Volume
    local_slices: SliceStack
    shallow_m: float
    features: Interpretation
    earlier: bytes | None
    depth_slices: SliceStack
    time_slices: SliceStack
    raster: RasterGrid
    coverage: Float32
    reach: Float32
    interpolation_sd: Float32 | None
    summary: tuple[str, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    parameters: Mapping[str, Any]
    stage_seconds: Mapping[str, float]
    inputs: Mapping[Path, str]

    @property
    def grid(self) -> Grid:
        """The cells of the volume."""
        return self.volume.grid

    def lines_map(self) -> list[Float64]:
        """Return the walked path of each line on the map, (trace, 2) metres, thinned to at most 200 points."""
        return [self.transform.to_map(ln.xy_m[thinned(len(ln.xy_m))]) for ln in self.lines]


def thinned(count: int) -> Int64:
    """Choose at most 200 traces, evenly spread, with both ends."""
    return np.unique(np.linspace(0, count - 1, 200).astype(np.int64))


def write_delivery(folder: Path, d: Delivery, progress: Callable[[float], None]) -> list[str]:
    """Write every file of the main job into an existing, empty folder.

    Parameters
    ----------
    folder : Path
        A temporary folder that takes its name when all is written.
    d : Delivery
        What to write.
    progress : callable
        Called with the share done.

    Returns
    -------
    list of str
        Notes: what could not be made on this machine, such as the picture of the 3D scene, and why.
    """
    write_volume(
        folder / "volume.zarr", d.volume, d.transform, d.raster.crs_wkt,
        {"velocity_m_per_ns": d.velocity.mean_m_per_ns(), "velocity_sd_m_per_ns": d.velocity.sd_m_per_ns},
    )  # fmt: skip
    progress(0.05)
    write_slices(folder / "slices", (d.depth_slices, d.time_slices), d.raster, d.velocity)
    write_slice_stack(folder / "slices.tif", d.depth_slices, d.raster, d.velocity)
    write_coverage(folder / "coverage.tif", d.coverage, d.raster)
    write_reach(folder / "reach.tif", d.reach, d.raster)
    if d.interpolation_sd is not None:
        write_interpolation_sd(folder / "interpolation_sd.tif", d.interpolation_sd, d.raster)
    progress(0.25)
    tied = d.fit is not None or d.raster.crs_wkt is not None
    *what, as_found = feature_layers(d.features, d.transform, d.placed, tied)
    layers = [*what, lines_walked_layer(d.placed, d.site.lines, d.transform, _quality(d))]
    if d.site.control:
        layers.append(control_layer(d.site.control, d.fit.residuals_m if d.fit else None))
    layers.append(above_ground_layer(d.above, d.transform))
    layers.append(check_layer(d.findings, d.placed, d.transform))
    write_features(folder / "features.gpkg", [*layers, as_found], d.raster.crs_wkt)
    if d.earlier is not None:
        with whole_file(folder / "features_before.gpkg") as part:
            part.write_bytes(d.earlier)
    notes = hand_over_features(
        folder, d.features, layers, d.transform, d.raster, d.lines_map(), d.site.name, d.site.crs or "",
        tied=tied, every_m=d.site.processing.stake_every_m,
    )  # fmt: skip
    write_positions(folder / "positions.csv", positions_table(d.placed, d.transform if d.fit else None))
    progress(0.3)
    notes += _write_3d(folder, d)
    progress(0.5)
    _write_pictures(folder / "pictures", d, lambda share: progress(0.5 + 0.4 * share))
    write_profiles(folder / "profiles", d.lines, d.interval_ns, d.site.antenna, d.evidence, d.features)
    write_index(folder / "index.html", _page(d, layers))
    record = run_record(
        site=d.site.name,
        parameters=d.parameters,
        inputs=d.inputs,
        velocity=d.velocity,
        stage_seconds=d.stage_seconds,
        warnings=d.warnings,
        outputs=list_outputs(folder),
        base=d.site.path.parent,
        extra={
            "summary": list(d.summary),
            "notes": [*d.notes, *notes],
            "velocity_evidence": d.evidence.record(),
            "control": None
            if d.fit is None
            else {"rms_cm": 100 * d.fit.rms_m, "transform": asdict(d.fit.transform)},
        },
    )
    write_record(folder / "run.json", record)
    progress(1.0)
    return notes


def _quality(d: Delivery) -> dict[str, LineQuality]:
    crossings = {c.name: (c.along_cm, c.time_ns) for c in d.found.crossings}
    return {
        ln.name: LineQuality(
            int((~ln.usable).sum()),
            *crossings.get(ln.name, (np.nan, np.nan)),
            tuple(f.words for f in d.found.of_line(ln.name)),
        )
        for ln in d.lines
    }


def _write_3d(folder: Path, d: Delivery) -> list[str]:
    scale = colour_range(d.local_slices.values)
    # Surfaces start below the direct wave's remains, which would hide everything under them.
    first = int(np.searchsorted(d.volume.axis_values(), d.shallow_m))
    deeper = replace(
        d.volume,
        values=d.volume.values[first:],
        first=d.volume.first + first * d.volume.step,
        quantity="strength over the usual level of its depth",
    )
    scene = build_scene(
        deeper, d.transform, d.local_slices, [ln.xy_m for ln in d.lines],
        colour_range=scale, levels=SURFACES, usual=usual_level(deeper.values), title=d.site.name,
        crs_name=d.site.crs or "", features=d.features,
    )  # fmt: skip
    write_scene(folder, scene)
    (folder / "pictures").mkdir(exist_ok=True)
    refused = draw_scene(
        folder / "scene.vtm", folder / "pictures" / "scene.png", colour_range=scale, title=d.site.name,
        note=f"{velocity_words(d.velocity)} Surface: {SURFACES[0]:g} times the usual level of its depth.",
    )  # fmt: skip
    return [] if refused is None else [f"no picture of the 3D scene: {refused}"]


def _write_pictures(folder: Path, d: Delivery, progress: Callable[[float], None]) -> None:
    folder.mkdir(exist_ok=True)
    words, lines_map = velocity_words(d.velocity), d.lines_map()
    for k, stack in enumerate((d.depth_slices, d.time_slices)):
        scale = colour_range(stack.values)
        sheet = slice_sheet(
            d.raster, colour_range=scale, quantity=stack.quantity, title=d.site.name, velocity_text=words,
            lines_map=lines_map, crs_name=d.site.crs or "",
        )  # fmt: skip
        write_slice_pictures(folder, stack, sheet)
        if k == 0:
            whole = contact_sheet(stack, d.raster, colour_range=scale, title=d.site.name, velocity_text=words)
            write_picture(folder / "contact_sheet.png", whole)
        progress(0.3 * (k + 1))
    time_ns = np.asarray(d.interval_ns * np.arange(d.lines[0].traces.shape[1]), dtype=np.float64)
    scale = _amplitude_range(d.lines)
    write_velocity_pictures(
        folder / "velocity", d.lines, d.interval_ns, d.site.antenna, d.evidence, d.site.name
    )
    (folder / "radargrams").mkdir()
    every = radargram_sheet(
        time_ns, velocity=d.velocity, colour_range=scale,
        gain_note="background removed, gain fitted to the survey's decay, same scale on all lines",
    )  # fmt: skip

    def one(ln: CleanLine) -> None:
        drawn = draw_on_radargram(every, ln.traces, ln.along_m, f"{d.site.name}, line {ln.name}")
        write_picture(folder / "radargrams" / f"{ln.name}.png", drawn)

    each(one, d.lines)
    progress(1.0)


def _amplitude_range(lines: Sequence[CleanLine]) -> tuple[float, float]:
    """One scale for all radargrams, from up to 50 traces of each line."""
    return colour_range(
        np.concatenate([ln.traces[:: max(1, len(ln.traces) // 50)] for ln in lines]), signed=True
    )


def _most_telling(stack: SliceStack, shallow_m: float) -> int:
    """Index of the slice with the strongest echoes over its own median, below the direct wave's remains."""
    telling = [0.0] * len(stack.windows)
    for k, (window, values) in enumerate(zip(stack.windows, stack.values, strict=True)):
        known = values[np.isfinite(values)]
        if window.top_m >= shallow_m and known.size:
            middle, strong = np.percentile(known, [50.0, 99.0])
            telling[k] = float(strong / max(middle, 1e-30))
    return int(np.argmax(telling))


def _page(d: Delivery, layers: Sequence[Layer]) -> PageData:
    x, y = d.grid.x_m(), d.grid.y_m()
    corners = np.array([[x[0], y[0]], [x[-1], y[0]], [x[-1], y[-1]], [x[0], y[-1]]])
    return PageData(
        site_name=d.site.name,
        description=d.site.description,
        stacks=tuple(
            PageStack(label, stack, colour_range(stack.values), _most_telling(stack, d.shallow_m))
            for label, stack in ((stack_words(s.windows), s) for s in (d.depth_slices, d.time_slices))
        ),
        raster=d.raster,
        transform=d.transform,
        velocity=d.velocity,
        crs_name=d.site.crs or "",
        lines=tuple(
            PageLine(ln.name, en, ln.along_m[thinned(len(ln.along_m))])
            for ln, en in zip(d.lines, d.lines_map(), strict=True)
        ),
        radargrams=PageRadargrams(
            tuple(d.lines), d.interval_ns, d.site.antenna.frequency_mhz,
            d.velocity.mean_m_per_ns() * 1e3 / d.site.antenna.frequency_mhz, d.site.antenna.separation_m,
            _amplitude_range(d.lines)[1],
        ),
        features=page_features(layers),
        control=d.site.control,
        grid_outline=d.transform.to_map(corners),
        ground=page_ground(d.volume, d.transform),
        summary=d.summary or (NOTHING_FOUND,),
        warnings=d.warnings,
        files=tuple(
            PageFile(path, what, k < 3)
            for k, (path, what) in enumerate(FILES)
            if (d.raster.crs_wkt is not None or path not in NEED_CRS)
            and (d.interpolation_sd is not None or path != "interpolation_sd.tif")
        ),
    )  # fmt: skip

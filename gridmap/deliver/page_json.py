"""The page's data as JSON: all that its script reads, but for the packed slices and radargrams."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from gridmap.deliver.colours import table
from gridmap.deliver.page_data import PageData, PageLine
from gridmap.deliver.page_features import feature_json
from gridmap.deliver.page_lines import FULL, PackedLines
from gridmap.deliver.page_slices import PackedStack
from gridmap.deliver.words import velocity_words, window_words
from gridmap.model import Float64, VelocityModel

TABLES = (
    ("cividis", "Blue to yellow"),
    ("viridis", "Violet to yellow"),
    ("grey", "Black to white"),
    ("blue-orange", "Blue to orange, about nought"),
)
"""Colour tables and what a reader calls them."""
_PATH_TOLERANCE_M = 0.01
_SIGMA_STEPS = 41


def page_json(
    data: PageData, packed: Sequence[PackedStack], factor: int, lines: PackedLines | None
) -> dict[str, Any]:
    """Gather what the script reads.

    Parameters
    ----------
    data : PageData
        What the page shows.
    packed : sequence of PackedStack
        Its stacks, in order.
    factor : int
        Cells joined along each side.
    lines : PackedLines or None
        Its radargrams, one a line.

    Returns
    -------
    dict
        Plain types, finite numbers.
    """
    raster = data.raster
    notes = (
        [] if factor == 1 else [f"The page joins {factor} by {factor} cells; the rasters hold every cell."]
    )
    if lines is not None and lines.joined > 1:
        notes.append(f"Radargrams on the page show every {lines.joined}th trace.")
    return {
        "site": data.site_name,
        "description": data.description,
        "crs": data.crs_name,
        "mapped": raster.crs_wkt is not None,
        "note": " ".join(notes),
        "raster": {
            "west": raster.west_m,
            "north": raster.north_m,
            "cell": raster.cell_m * factor,
            "bounds": raster.bounds,
        },
        "transform": [data.transform.e0_m, data.transform.n0_m, data.transform.a, data.transform.b],
        "velocity": _velocity(data.velocity, data.stacks[0].stack.windows[-1].base_m),
        "stacks": [
            {
                "label": item.label,
                "quantity": item.stack.quantity,
                "start": item.start,
                "low": item.colour_range[0],
                "high": item.colour_range[1],
                "rows": stack.rows,
                "columns": stack.columns,
                "windows": [
                    {
                        "short": w.label, "long": window_words(w), "axis": w.axis,
                        "top": w.top_m, "base": w.base_m, "datum": w.datum_m,
                        "ns": None if w.top_ns != w.top_ns else [w.top_ns, w.base_ns],
                    }
                    for w in item.stack.windows
                ],
            }
            for item, stack in zip(data.stacks, packed, strict=True)
        ],
        "tables": [
            {"name": name, "label": label, "rgb": base64.b64encode(table(name).tobytes()).decode("ascii")}
            for name, label in TABLES
        ],
        "lines": [_line(line) for line in data.lines],
        "radargrams": _radargrams(data, lines),
        "features": [feature_json(f) for f in data.features],
        "control": [
            {"name": p.name, "at": [round(p.easting_m, 3), round(p.northing_m, 3)]} for p in data.control
        ],
        "outline": [] if data.grid_outline is None else np.round(data.grid_outline, 3).tolist(),
        "ground": _ground(data.ground),
        "summary": list(data.summary),
        "warnings": list(data.warnings),
        "files": [{"path": f.path, "what": f.what, "first": f.first} for f in data.files],
    }  # fmt: skip


def _velocity(velocity: VelocityModel, deepest_m: float) -> dict[str, Any]:
    """Layers, and one standard deviation of depth at even depths down to the deepest slice."""
    depths = np.linspace(0.0, deepest_m, _SIGMA_STEPS)
    return {
        "words": velocity_words(velocity),
        "top": np.round(velocity.top_m, 4).tolist(),
        "v": np.round(velocity.velocity_m_per_ns, 6).tolist(),
        "sd": velocity.sd_m_per_ns,
        "depths": np.round(depths, 4).tolist(),
        "sigmas": np.round(velocity.depth_sd_m(depths), 4).tolist(),
    }


def _line(line: PageLine) -> dict[str, Any]:
    """Vertices to the centimetre with their distance along; those that lie within it of the path are left out."""
    points = np.asarray(shapely.LineString(line.en_m).simplify(_PATH_TOLERANCE_M).coords)
    along = line.along_m
    if along is None:
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line.en_m, axis=0).T))])
    # What is kept are vertices of the path, in its order.
    kept, at = [], 0
    for point in points:
        while not np.array_equal(line.en_m[at], point):
            at += 1
        kept.append(at)
        at = min(at + 1, len(line.en_m) - 1)
    return {
        "name": line.name,
        "path": np.round(points, 2).tolist(),
        "along": np.round(along[kept], 3).tolist(),
    }


def _radargrams(data: PageData, packed: PackedLines | None) -> dict[str, Any] | None:
    if packed is None or data.radargrams is None:
        return None
    return {
        "ns": packed.step_ns,
        "limit": data.radargrams.limit * FULL,
        "shown": data.radargrams.limit,
        "separation": data.radargrams.separation_m,
        "frequency": data.radargrams.frequency_mhz,
        "lines": [
            {
                "traces": p.traces, "samples": p.samples, "first": round(p.first_m, 4), "step": round(p.step_m, 6),
            }
            for p in packed.lines
        ],
    }  # fmt: skip


def _ground(ground: tuple[float, float, float, Float64] | None) -> dict[str, Any] | None:
    if ground is None:
        return None
    west, south, step, heights = ground
    values = [[None if h != h else round(float(h), 2) for h in row] for row in heights]
    return {"west": west, "south": south, "step": step, "heights": values}

"""The page `index.html`: one file that opens from a disk, offline, and asks nothing from anywhere."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from gridmap.deliver.caution import CAUTION, CAUTION_SHORT
from gridmap.deliver.colours import table
from gridmap.deliver.page_features import PageFeature
from gridmap.deliver.page_slices import PackedStack, pack_stacks
from gridmap.deliver.words import velocity_words, window_words
from gridmap.errors import OurFaultError
from gridmap.files import write_text
from gridmap.model import Float64, RasterGrid, Similarity, SliceStack, VelocityModel
from gridmap.site.records import ControlPoint

_ASSETS = Path(__file__).parent / "assets"
_SCRIPTS = ("inflate.js", "plan.js", "page.js")
_TABLES = (
    ("cividis", "Blue to yellow"),
    ("viridis", "Violet to yellow"),
    ("grey", "Black to white"),
)
_PATH_TOLERANCE_M = 0.01


@dataclass(frozen=True, slots=True)
class PageStack:
    """One stack that the page can show.

    Attributes
    ----------
    label : str
        What the slices are, such as "Depth slices".
    stack : SliceStack
        (slice, row, column) on the page's raster.
    colour_range : (float, float)
        One scale for all of its slices.
    start : int
        The slice that is shown first.
    """

    label: str
    stack: SliceStack
    colour_range: tuple[float, float]
    start: int = 0


@dataclass(frozen=True, slots=True)
class PageLine:
    """A line walked: its name and its path in the map, (k, 2) metres."""

    name: str
    en_m: Float64


@dataclass(frozen=True, slots=True)
class PageFile:
    """A file of the output folder: its relative path, what it is, and whether to open it first."""

    path: str
    what: str
    first: bool = False


@dataclass(frozen=True, slots=True)
class PageData:
    """All that the page shows.

    Attributes
    ----------
    site_name, description : str
        As in the site file; any characters.
    stacks : tuple of PageStack
        At least one.
    raster : RasterGrid
        Cells of all stacks.
    transform : Similarity
        Local grid to map, for co-ordinates under the pointer.
    velocity : VelocityModel
        Said in words.
    crs_name : str
        Short name of the CRS; empty for a local grid.
    lines : tuple of PageLine
        Lines walked.
    features : tuple of PageFeature
        What was found.
    control : tuple of ControlPoint
        Points known in both systems.
    grid_outline : (k, 2) float64 or None
        Corners of the grid in the map, metres.
    summary : tuple of str
        What was found, in plain words, one sentence or paragraph each.
    warnings : tuple of str
        What needs attention.
    files : tuple of PageFile
        What is in the folder.
    """

    site_name: str
    stacks: tuple[PageStack, ...]
    raster: RasterGrid
    transform: Similarity
    velocity: VelocityModel
    description: str = ""
    crs_name: str = ""
    lines: tuple[PageLine, ...] = ()
    features: tuple[PageFeature, ...] = ()
    control: tuple[ControlPoint, ...] = ()
    grid_outline: Float64 | None = None
    summary: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    files: tuple[PageFile, ...] = ()


def write_index(path: Path, data: PageData) -> None:
    """Write the page, whole or not at all.

    Parameters
    ----------
    path : Path
        Where `index.html` is to stand: in the output folder, since links to files are relative.
    data : PageData
        What it shows.

    Raises
    ------
    OurFaultError
        If there is no stack or one does not have the raster's shape.
    """
    write_text(path, page_text(data))


def page_text(data: PageData) -> str:
    """Return the page as text; see `write_index`."""
    for item in data.stacks:
        if item.stack.values.shape[1:] != data.raster.shape:
            raise OurFaultError(
                f"page: {item.label} have shape {item.stack.values.shape[1:]}, the raster {data.raster.shape}"
            )
    if not any(len(item.stack.windows) for item in data.stacks):
        raise OurFaultError("page: there is no slice to show")
    packed, factor = pack_stacks([(item.stack.values, item.colour_range) for item in data.stacks])
    style = (_ASSETS / "page.css").read_text(encoding="utf-8")
    body = "\n".join((_ASSETS / name).read_text(encoding="utf-8") for name in _SCRIPTS)
    script = f'"use strict";\n(() => {{\n{body}}})();\n'
    parts = {
        "TITLE": html.escape(data.site_name),
        "CAUTION": html.escape(CAUTION),
        "CAUTION_SHORT": html.escape(CAUTION_SHORT),
        "POLICY": html.escape(
            f"default-src 'none'; script-src '{_digest(script)}'; style-src '{_digest(style)}'; "
            "img-src data:; base-uri 'none'; form-action 'none'"
        ),
        "STYLE": style,
        "SCRIPT": script,
        "DATA": _json_in_html(_page_json(data, packed, factor)),
        "SLICES": "\n".join(
            f'<script type="text/plain" id="slices-{k}">\n' + "\n".join(stack.lines) + "\n</script>"
            for k, stack in enumerate(packed)
        ),
    }
    template = (_ASSETS / "page.html").read_text(encoding="utf-8")
    return re.sub(r"\{\{([A-Z_]+)\}\}", lambda found: parts[found.group(1)], template)


def _digest(text: str) -> str:
    """Hash-source of an inline element (W3C Content Security Policy level 2)."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def _json_in_html(value: Any) -> str:
    """JSON that cannot end its script element, whatever names it holds."""
    text = json.dumps(value, allow_nan=False, ensure_ascii=True, separators=(",", ":"))
    return text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


def _page_json(data: PageData, packed: Sequence[PackedStack], factor: int) -> dict[str, Any]:
    raster = data.raster
    note = "" if factor == 1 else f"The page joins {factor} by {factor} cells; the rasters hold every cell."
    return {
        "site": data.site_name,
        "description": data.description,
        "crs": data.crs_name,
        "mapped": raster.crs_wkt is not None,
        "note": note,
        "raster": {
            "west": raster.west_m,
            "north": raster.north_m,
            "cell": raster.cell_m * factor,
            "bounds": raster.bounds,
        },
        "transform": [data.transform.e0_m, data.transform.n0_m, data.transform.a, data.transform.b],
        "velocity": velocity_words(data.velocity),
        "stacks": [
            {
                "label": item.label,
                "quantity": item.stack.quantity,
                "start": item.start,
                "low": item.colour_range[0],
                "high": item.colour_range[1],
                "rows": stack.rows,
                "columns": stack.columns,
                "windows": [{"short": w.label, "long": window_words(w)} for w in item.stack.windows],
            }
            for item, stack in zip(data.stacks, packed, strict=True)
        ],
        "tables": [
            {"label": label, "rgb": base64.b64encode(table(name).tobytes()).decode("ascii")}
            for name, label in _TABLES
        ],
        "lines": [{"name": line.name, "path": _path(line.en_m)} for line in data.lines],
        "features": [
            {
                "name": f.name,
                "path": _path(f.en_m) if len(f.en_m) > 1 else np.round(f.en_m, 2).tolist(),
                "closed": f.closed,
            }
            for f in data.features
        ],
        "control": [
            {"name": p.name, "at": [round(p.easting_m, 3), round(p.northing_m, 3)]} for p in data.control
        ],
        "outline": [] if data.grid_outline is None else np.round(data.grid_outline, 3).tolist(),
        "summary": list(data.summary),
        "warnings": list(data.warnings),
        "files": [{"path": f.path, "what": f.what, "first": f.first} for f in data.files],
    }


def _path(en_m: Float64) -> list[list[float]]:
    """Vertices to the centimetre; those that lie within it of the path are left out."""
    points = np.asarray(shapely.LineString(en_m).simplify(_PATH_TOLERANCE_M).coords)
    rounded: list[list[float]] = np.round(points, 2).tolist()
    return rounded

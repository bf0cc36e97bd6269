"""GIS layers of the survey itself: the lines walked and the control points."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely

from gridmap.deliver.caution import CAUTION
from gridmap.deliver.styles import Style
from gridmap.errors import OurFaultError
from gridmap.model import Float64, Int64, PlacedLine, Similarity
from gridmap.site.records import ControlPoint, LinePlan

_PATH_TOLERANCE_M = 0.001


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of a GIS file.

    Attributes
    ----------
    name : str
        Name of the layer, such as "lines_walked".
    frame : GeoDataFrame
        Fields and geometries in map metres; its CRS is left to the writer.
    geometry : str
        "Point", "LineString" or "Polygon"; " Z" is added where the geometries have a third co-ordinate.
    description : str
        What the layer holds, one or two sentences; the writer adds the caution.
    style : Style
        How it looks when opened.
    """

    name: str
    frame: gpd.GeoDataFrame
    geometry: str
    description: str
    style: Style

    @property
    def full_description(self) -> str:
        """The description followed by the caution."""
        return f"{self.description} {CAUTION}"


@dataclass(frozen=True, slots=True)
class LineQuality:
    """What is known of one line's quality.

    Attributes
    ----------
    left_out : int
        Traces that were not used: dead, shaken, or without a place.
    crossing_cm, crossing_ns : float
        Misfit at crossings, see `gridmap.place.crossings`; NaN where not known.
    findings : tuple of str
        What stands out, one sentence each.
    """

    left_out: int = 0
    crossing_cm: float = math.nan
    crossing_ns: float = math.nan
    findings: tuple[str, ...] = ()


_NO_QUALITY: Mapping[str, LineQuality] = {}


def lines_walked_layer(
    placed_lines: Iterable[PlacedLine],
    plans: Iterable[LinePlan],
    transform: Similarity,
    quality: Mapping[str, LineQuality] = _NO_QUALITY,
) -> Layer:
    """Gather where the antenna went, one LineString a line in the direction walked.

    Parameters
    ----------
    placed_lines : iterable of PlacedLine
        The lines; order kept.
    plans : iterable of LinePlan
        Their plans, matched by name; a line without one is described by its own source.
    transform : Similarity
        Takes local x, y to the map.
    quality : mapping of str to LineQuality
        By name of the line.

    Returns
    -------
    Layer
        Fields `name`, `file`, `direction_deg` (clockwise from the map's north), `length_m` (along the line on
        the ground), `traces`, `trace_interval_m` (median), `dropped_traces` (null where the file numbers no
        traces), `samples`, `sample_interval_ns`, `left_out`, `crossing_cm`, `crossing_ns`, `findings` (of `quality`),
        `note`. Vertices within 1 mm of the path are left out. Where the ground is known below every line, Z is
        its elevation.

    Raises
    ------
    OurFaultError
        If a line has fewer than two traces.
    """
    files = {plan.name: plan.file.name for plan in plans}
    placed_lines = tuple(placed_lines)
    known = all(p.elevation_m is not None and np.isfinite(p.elevation_m).any() for p in placed_lines)
    rows: list[dict[str, object]] = []
    paths = []
    for placed in placed_lines:
        line = placed.line
        if len(placed.xy_m) < 2:
            raise OurFaultError(f"line {line.name}: {len(placed.xy_m)} trace(s) make no line on the map")
        en_m = transform.to_map(placed.xy_m)
        east, north = en_m[-1] - en_m[0]
        paths.append(_path(en_m, placed) if known else shapely.LineString(en_m).simplify(_PATH_TOLERANCE_M))
        rows.append(
            {
                "name": line.name,
                "file": files.get(line.name, line.source),
                "direction_deg": round(math.degrees(math.atan2(east, north)) % 360.0, 2) % 360.0,
                "length_m": round(float(placed.along_m[-1] - placed.along_m[0]), 3),
                "traces": len(placed.xy_m),
                "trace_interval_m": round(float(np.median(np.diff(placed.along_m))), 4),
                "dropped_traces": dropped_traces(line.trace_number),
                "samples": line.traces.shape[1],
                "sample_interval_ns": round(float(line.sample_interval_ns), 6),
                **_quality_fields(quality.get(line.name, LineQuality())),
                "note": "; ".join(line.notes),
            }
        )
    columns = [
        "name", "file", "direction_deg", "length_m", "traces", "trace_interval_m", "dropped_traces",
        "samples", "sample_interval_ns", "left_out", "crossing_cm", "crossing_ns", "findings", "note",
    ]  # fmt: skip
    frame = gpd.GeoDataFrame(rows, columns=columns, geometry=gpd.GeoSeries(paths))
    frame["dropped_traces"] = frame["dropped_traces"].astype("Int32")
    return Layer(
        "lines_walked",
        frame,
        "LineString Z" if known else "LineString",
        "Path of the antenna mid-point, one line in the direction walked."
        + (" Z is the elevation of the ground, metres." if known else ""),
        Style("#5b6770", 0.3),
    )


def _path(en_m: Float64, placed: PlacedLine) -> shapely.LineString:
    """Path on the ground; vertices within 1 mm of it in plan and 1 cm in height are left out."""
    assert placed.elevation_m is not None
    seen = np.isfinite(placed.elevation_m)
    height = np.interp(placed.along_m, placed.along_m[seen], placed.elevation_m[seen])
    in_plan = shapely.LineString(en_m).simplify(_PATH_TOLERANCE_M).coords
    in_height = shapely.LineString(np.column_stack([placed.along_m, height])).simplify(0.01).coords
    keep = np.isin(placed.along_m, np.array(in_height)[:, 0])
    corners = set(map(tuple, in_plan))
    keep |= np.array([tuple(at) in corners for at in en_m])
    return shapely.LineString(np.column_stack([en_m, height])[keep])


def _quality_fields(quality: LineQuality) -> dict[str, object]:
    return {
        "left_out": quality.left_out,
        "crossing_cm": round(quality.crossing_cm, 1),
        "crossing_ns": round(quality.crossing_ns, 2),
        "findings": "; ".join(quality.findings),
    }


def dropped_traces(trace_number: Int64 | None) -> int | None:
    """Count the trace numbers missing between the first and the last; None where traces have no number."""
    if trace_number is None:
        return None
    return int(np.clip(np.abs(np.diff(trace_number)) - 1, 0, None).sum())


def control_layer(control: Sequence[ControlPoint], residuals_m: Float64 | None) -> Layer:
    """Gather the control points and how well the fit meets them.

    Parameters
    ----------
    control : sequence of ControlPoint
        The points, in the order of the site file.
    residuals_m : (point, 2) float64 or None
        Easting and northing as surveyed minus as fitted, metres (`gridmap.place.control`); None where nothing
        was fitted.

    Returns
    -------
    Layer
        Points at the surveyed place, with `name`, `local_x_m`, `local_y_m`, `easting_m`, `northing_m`,
        `residual_cm` (length), `residual_east_cm`, `residual_north_cm`.

    Raises
    ------
    OurFaultError
        If there is not one residual a point.
    """
    off = np.full((len(control), 2), np.nan) if residuals_m is None else np.asarray(residuals_m, dtype=float)
    if off.shape != (len(control), 2):
        raise OurFaultError(f"control: residuals have shape {off.shape} for {len(control)} points")
    off_cm = np.round(100.0 * off, 2)
    frame = gpd.GeoDataFrame(
        {
            "name": [point.name for point in control],
            "local_x_m": [float(point.x_m) for point in control],
            "local_y_m": [float(point.y_m) for point in control],
            "easting_m": [float(point.easting_m) for point in control],
            "northing_m": [float(point.northing_m) for point in control],
            "residual_cm": np.round(100.0 * np.hypot(off[:, 0], off[:, 1]), 2),
            "residual_east_cm": off_cm[:, 0],
            "residual_north_cm": off_cm[:, 1],
        },
        geometry=gpd.GeoSeries([shapely.Point(point.easting_m, point.northing_m) for point in control]),
    )
    return Layer(
        "control",
        frame,
        "Point",
        "Control points at their surveyed place; residual: how far the fitted grid misses them.",
        Style("#7a1f5c", 3.0, label="name"),
    )

"""A plan as JSON for scripts, as a table of stakes, and as a site file."""

from __future__ import annotations

import csv
import io
from typing import Any

from gridmap._version import VERSION
from gridmap.deliver.caution import CAUTION
from gridmap.plan.frame import box
from gridmap.plan.survey import Plan
from gridmap.site.planned import PlannedFile, planned_site
from gridmap.site.records import Antenna, Ground

_AT_ORIGIN_M = 0.005


def plan_record(plan: Plan) -> dict[str, Any]:
    """Return a plan as a mapping that JSON can hold; lengths in metres, times in nanoseconds, as the keys say."""
    return {
        "program": "gridmap",
        "version": VERSION,
        "name": plan.request.name,
        "seen": plan.seen,
        "reasons": plan.reasons,
        "asked": plan.request,
        "antenna": plan.choice.antenna,
        "reach_of_antennas": [
            {"antenna": antenna, "reach_m": reach} for antenna, reach in plan.choice.others
        ],
        "figures": {figure.key: figure for figure in plan.figures},
        "corners_m": plan.frame.corners_m,
        "control": plan.frame.control,
        "lines_along": plan.axes,
        "lines": [
            {
                "name": line.name,
                "file": file_of(plan, line.name),
                "start_m": line.start_m,
                "end_m": line.end_m,
                "length_m": round(line.length_m, 3),
                "start_map_m": plan.frame.map_of(line.start_m),
                "end_map_m": plan.frame.map_of(line.end_m),
            }
            for line in plan.lines
        ],
        "effort": plan.effort,
        "cautions": plan.cautions,
        "caution": CAUTION,
    }


def file_of(plan: Plan, line: str) -> str:
    """Name of a line's file below the folder of the site file."""
    return f"lines/{line}.{plan.request.walk.suffix}"


def stakes_csv(plan: Plan) -> str:
    """Return pegs and line ends as comma-separated text: name, grid x and y, map easting and northing, metres."""
    stream = io.StringIO()
    table = csv.writer(stream, lineterminator="\n")
    mapped = plan.frame.to_map is not None
    table.writerow(["stake", "x_m", "y_m", *(["easting_m", "northing_m"] if mapped else [])])
    corners = [(f"corner {k}", point) for k, point in enumerate(plan.frame.corners_m, start=1)]
    pegs = [(f"peg {p.name}", (p.x_m, p.y_m)) for p in plan.frame.control]
    ends = [
        (f"{line.name} {which}", point)
        for line in plan.lines
        for which, point in (("start", line.start_m), ("end", line.end_m))
    ]
    for name, point in corners + pegs + ends:
        on_map = plan.frame.map_of(point)
        table.writerow(
            [name, *(f"{c:.3f}" for c in point), *(f"{c:.3f}" for c in on_map or ())],
        )
    return stream.getvalue()


def planned_site_text(plan: Plan) -> str:
    """Return the site file that the plan leads to."""
    (west, south), _, (east, north), _ = box(plan.frame.corners_m)
    asked = plan.request.ground
    return planned_site(
        plan.request.name,
        [PlannedFile(file_of(plan, line.name), line.start_m, line.end_m) for line in plan.lines],
        Antenna(plan.choice.antenna.frequency_mhz, plan.choice.antenna.separation_m),
        Ground(None, asked.velocity_m_per_ns, asked.velocity_sd_m_per_ns),
        size_m=(east, north) if max(abs(west), abs(south)) < _AT_ORIGIN_M else None,
        wanted_depth_m=plan.request.sought.depth_m,
        crs=plan.request.area.crs if plan.frame.to_map is not None else None,
        control=plan.frame.control,
        notes=[
            f"Set the recorder to {plan.figure('window_ns'):g} ns after time zero, {plan.figure('samples'):g} samples,"
            f" a trace every {plan.figure('trace_interval_m'):g} m."
        ],
    )

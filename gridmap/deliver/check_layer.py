"""GIS layer `check`: stretches of lines that the check speaks of, along the path walked."""

from __future__ import annotations

from collections.abc import Sequence

import geopandas as gpd
import shapely

from gridmap.check.finding import KINDS, Finding
from gridmap.deliver.layers import Layer
from gridmap.deliver.styles import Kind, Style
from gridmap.model import PlacedLine, Similarity

COLOURS = {"walk again": "#b3261e", "attention": "#c77700", "note": "#8a8f98"}
"""Colour of each severity on maps and plans."""
_TOLERANCE_M = 0.005


def check_layer(findings: Sequence[Finding], lines: Sequence[PlacedLine], transform: Similarity) -> Layer:
    """Lay the stretches of findings on the map.

    Parameters
    ----------
    findings : sequence of Finding
        Worst first. Those of the survey as a whole have no place and are left out; those of a whole line take all of
        it.
    lines : sequence of PlacedLine
        As mapped.
    transform : Similarity
        Takes local x, y to the map.

    Returns
    -------
    Layer
        LineStrings with `line`, `kind`, `severity`, `words`, `todo`, `from_m`, `to_m` (null: the whole line).
    """
    path = {p.line.name: p.xy_m for p in lines}
    rows: list[dict[str, object]] = []
    shapes = []
    for f in findings:
        xy = path.get(f.line)
        if xy is None or len(xy) < 2:
            continue
        first, last = 0, len(xy)
        if f.first_trace is not None and f.last_trace is not None:
            first, last = max(f.first_trace - 2, 0), min(f.last_trace + 1, len(xy))
        shape = shapely.LineString(transform.to_map(xy[first:last])).simplify(_TOLERANCE_M)
        if shape.length <= 0:
            continue
        shapes.append(shape)
        whole = f.first_trace is None
        rows.append(
            {
                "line": f.line,
                "kind": KINDS[f.kind],
                "severity": f.severity,
                "words": f.words,
                "todo": f.what_to_do,
                "from_m": None if whole else round(f.from_m, 2),
                "to_m": None if whole else round(f.to_m, 2),
            }
        )
    columns = ["line", "kind", "severity", "words", "todo", "from_m", "to_m"]
    frame = gpd.GeoDataFrame(
        {c: [row[c] for row in rows] for c in columns}, geometry=gpd.GeoSeries(shapes, dtype="geometry")
    )
    frame = frame.astype({"from_m": float, "to_m": float})
    kinds = tuple(Kind(s, colour, "severity", (s,)) for s, colour in COLOURS.items())
    return Layer(
        "check",
        frame,
        "LineString",
        "Stretches of lines that the check of the fieldwork speaks of: what is wrong there and what to do.",
        Style(COLOURS["note"], 1.6, kinds=kinds, others="other"),
    )

"""Place a line by surveyed points on it: at stated traces, at stated distances, or in the order walked."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from gridmap.errors import PlaceError
from gridmap.model import Float64, Line, PlacedLine, Similarity, Stations
from gridmap.place.fiducial import along_vertices, place_by_marks, trigger_counts
from gridmap.place.polyline import place_on_polyline

STRETCHED = 0.05
"""Taped distances and places that disagree by more than this share, and by 10 cm, are told."""


def place_by_stations(
    line: Line, stations: Stations, transform: Similarity
) -> tuple[PlacedLine, tuple[str, ...]]:
    """Place a line by the surveyed points that bear its name.

    Parameters
    ----------
    line : Line
        In the order walked.
    stations : Stations
        Two points of this line or more, in the order walked. Where all have a trace, those traces lie exactly there;
        where all have a distance, traces are spread evenly over the distance from the first point to the last; else
        evenly along the points as a polyline.
    transform : Similarity
        Local grid to map, for points of the map.

    Returns
    -------
    PlacedLine
        With `elevation_m` where all its points have heights.
    tuple of str
        What a person should look at.

    Raises
    ------
    PlaceError
        If the line has fewer than two points, or traces or distances that cannot be right.
    """
    own = [index for index, name in enumerate(stations.lines) if name == line.name]
    if len(own) < 2:
        held = ", ".join(dict.fromkeys(stations.lines))
        raise PlaceError(
            f"line {line.name}: {len(own)} points in {stations.source}, and two are the least (it has {held[:80]})."
            " Name the line there as in the site file."
        )
    places = stations.xyz_m[own, :2]
    if stations.frame == "map":
        places = transform.to_local(places)
    trace, station = stations.trace[own], stations.station_m[own]
    if np.isfinite(trace).all():
        placed, warnings = place_by_marks(
            line, [(float(t), float(x), float(y)) for t, (x, y) in zip(trace, places, strict=True)]
        )
        counts = trigger_counts(line)
        order = np.argsort(trace)
        return _with_ground(
            placed, counts, counts[trace[order].astype(int) - 1], stations.xyz_m[own, 2][order]
        ), warnings
    counts = trigger_counts(line)
    if np.isfinite(station).all():
        placed, at, warnings = _by_distance(line, counts, station, places)
    else:
        placed, warnings = place_on_polyline(line, [(float(x), float(y)) for x, y in places]), ()
        way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(places, axis=0).T))])
        at = counts[0] + way / way[-1] * (counts[-1] - counts[0])
    return _with_ground(placed, counts, at, stations.xyz_m[own, 2]), warnings


def _by_distance(
    line: Line, counts: Float64, station: Float64, places: Float64
) -> tuple[PlacedLine, Float64, tuple[str, ...]]:
    """Spread traces evenly over the taped distance; return the line, the count at each point, and warnings."""
    step = np.diff(station)
    if not ((step > 0).all() or (step < 0).all()):
        said = ", ".join(f"{s:g}" for s in station[:6])
        raise PlaceError(
            f"line {line.name}: its points do not go on in one direction (distances {said} m). List them in"
            " the order walked."
        )
    if len(counts) < 2:
        raise PlaceError(f"line {line.name} has {len(counts)} traces, too few for a profile. Take it out.")
    at = counts[0] + (station - station[0]) / (station[-1] - station[0]) * (counts[-1] - counts[0])
    way, taped = np.hypot(*np.diff(places, axis=0).T), np.abs(step)
    odd = np.flatnonzero(np.abs(way - taped) > np.maximum(STRETCHED * taped, 0.1))
    warnings = tuple(
        f"line {line.name}: points {k + 1} and {k + 2} are taped {taped[k]:.2f} m apart and surveyed {way[k]:.2f} m"
        " apart"
        for k in odd[:3]
    )
    xy_m, along_m = along_vertices(counts, at, places)
    return PlacedLine(line, xy_m, along_m), at, warnings


def _with_ground(placed: PlacedLine, counts: Float64, at: Float64, height_m: Float64) -> PlacedLine:
    return (
        replace(placed, elevation_m=np.interp(counts, at, height_m))
        if np.isfinite(height_m).all()
        else placed
    )

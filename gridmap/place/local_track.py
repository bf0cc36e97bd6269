"""A track in the local grid: projected to the map, then taken to the grid; each fix with its deviation."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from gridmap.errors import PlaceError
from gridmap.model import Bool, Float64, Int64, Similarity, Track
from gridmap.model.track import QUALITY_WORDS

MinQuality = Literal["fixed", "float", "differential", "any"]

ENOUGH: dict[str, tuple[int, ...]] = {
    "fixed": (4, -1),
    "float": (4, 5, -1),
    "differential": (4, 5, 2, 3, -1),
    "any": (4, 5, 2, 3, 1, 6, 7, 8, -1),
}
"""Quality codes that pass; a file that states none passes, with a note."""

SD_M = {4: 0.02, 5: 0.3, 2: 0.7, 3: 1.0, 1: 3.0, 6: 5.0, 7: 5.0, 8: 5.0}
"""One standard deviation of a place, one axis, metres, where the file states none: fixed centimetres, float
decimetres, autonomous metres (trade practice)."""

SD_METRES_M = 0.03
"""The same for a track in metres without quality, such as of a total station."""

SD_DEGREES_M = 3.0
"""The same for a track in degrees without quality."""

WHITE_SHARE = {4: 0.6, 5: 0.1, 2: 0.1, 3: 0.1, 1: 0.05, 6: 0.1, 7: 0.1, 8: 0.1, -1: 1.0}
"""Share of that deviation that differs from fix to fix; the rest hardly changes over the seconds of a line, as
that of ambiguities and of the air's delay does. A file that states no quality but is in degrees counts as
autonomous. Shares are round figures of practice, not measured."""

_STEP_M = 1.0
_LEAST_STEPS = 3
_SAME_WAY = np.radians(15.0)

LEAST_SD_M = 0.005
UP_OVER_PLAN = 1.5
"""Height is this much worse than place where nothing is stated (trade practice)."""


@dataclass(frozen=True, slots=True)
class LocalTrack:
    """Fixes in the local grid, in the order of time.

    Attributes
    ----------
    time_s : (fix,) float64
        As in `Track`.
    dated : bool
        Whether times count from 1970-01-01.
    xy_m : (fix, 2) float64
        Local grid, metres.
    height_m, geoid_m : (fix,) float64
        As in `Track`.
    quality : (fix,) int64
        Codes as in `Track`.
    sd_m, sd_up_m : (fix,) float64
        One standard deviation of x and of y, and of height, metres.
    source : str
        The file.
    notes : tuple of str
        What the reader and the projection say.
    """

    time_s: Float64
    dated: bool
    xy_m: Float64
    height_m: Float64
    geoid_m: Float64
    quality: Int64
    sd_m: Float64
    sd_up_m: Float64
    source: str
    notes: tuple[str, ...] = ()

    def white_sd_m(self) -> Float64:
        """Return the part of each deviation that differs from fix to fix, (fix,) metres; see `WHITE_SHARE`."""
        share = np.array([WHITE_SHARE.get(int(code), 0.1) for code in self.quality])
        share[(self.quality == -1) & (self.sd_m > 0.5)] = WHITE_SHARE[1]
        return np.asarray(np.maximum(share * self.sd_m, LEAST_SD_M))

    def enough(self, least: MinQuality) -> Bool:
        """Say which fixes are of a quality or better."""
        return np.isin(self.quality, ENOUGH[least])


def local_track(
    track: Track, transform: Similarity, crs_wkt: str | None = None, sd_m: float | None = None
) -> LocalTrack:
    """Take a track to the local grid.

    Parameters
    ----------
    track : Track
        Degrees (WGS 84), map metres or local metres.
    transform : Similarity
        Local grid to map.
    crs_wkt : str or None
        The map's projected CRS; needed for a track in degrees.
    sd_m : float or None
        One standard deviation of a fix whose file states neither deviation nor quality, metres.

    Returns
    -------
    LocalTrack
        With notes on the heights and on the accuracy of a datum shift.

    Raises
    ------
    PlaceError
        For a track in degrees without a CRS, or fixes that cannot be projected.
    """
    notes = list(track.notes)
    if track.frame == "local":
        xy_m = track.place.copy()
    elif track.frame == "map":
        xy_m = transform.to_local(track.place)
    else:
        if crs_wkt is None:
            raise PlaceError(
                f"track {track.source} is in degrees, and the site has no crs. Add crs and control points to the site"
                " file."
            )
        mapped, note = project(track.place, crs_wkt, track.source)
        notes += [note] if note else []
        xy_m = transform.to_local(mapped)
    unknown_m = sd_m or (SD_DEGREES_M if track.frame == "degrees" else SD_METRES_M)
    by_quality = np.array([SD_M.get(int(code), unknown_m) for code in track.quality], dtype=np.float64)
    plan = np.sqrt((track.sd_m[:, :2] ** 2).mean(axis=1))
    plan = np.where(np.isnan(plan), by_quality, np.maximum(plan, LEAST_SD_M))
    up = np.where(np.isnan(track.sd_m[:, 2]), UP_OVER_PLAN * plan, np.maximum(track.sd_m[:, 2], LEAST_SD_M))
    if (track.quality == -1).all() and np.isnan(track.sd_m[:, 0]).all():
        notes.append(f"states no quality: {unknown_m:g} m taken for the deviation of a fix")
    if np.isfinite(track.height_m).any():
        notes.append(_height_note(track))
    return LocalTrack(
        track.time_s, track.dated, xy_m, track.height_m, track.geoid_m, track.quality, plan, up, track.source,
        tuple(notes),
    )  # fmt: skip


def project(lonlat_deg: Float64, crs_wkt: str, source: str = "track") -> tuple[Float64, str | None]:
    """Project longitude and latitude (WGS 84) to easting and northing.

    Parameters
    ----------
    lonlat_deg : (point, 2) float64
        Degrees, east and north positive.
    crs_wkt : str
        A projected CRS in metres, see `gridmap.place.crs.projected_crs`.
    source : str
        For messages.

    Returns
    -------
    (point, 2) float64
        Easting and northing, metres.
    str or None
        What to know of the datum shift, where its accuracy is not known or worse than 5 cm.

    Raises
    ------
    PlaceError
        If a point has no place in the CRS.
    """
    from pyproj import CRS, Transformer
    from pyproj.exceptions import ProjError

    crs = CRS.from_wkt(crs_wkt)
    try:
        transformer = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
        easting, northing = transformer.transform(lonlat_deg[:, 0], lonlat_deg[:, 1])
    except ProjError as error:
        raise PlaceError(
            f"{source} cannot be projected to {crs.name} ({error}). Check the site's crs."
        ) from error
    mapped = np.column_stack([easting, northing])
    lost = np.flatnonzero(~np.isfinite(mapped).all(axis=1))
    if lost.size:
        lon, lat = lonlat_deg[lost[0]]
        raise PlaceError(
            f"{source}: fix {int(lost[0]) + 1} at latitude {lat:.5f}, longitude {lon:.5f} has no place in {crs.name}."
            " Check the site's crs."
        )
    datum = crs.geodetic_crs.name if crs.geodetic_crs else crs.name
    if datum == "WGS 84":
        return mapped, None
    accuracy = transformer.accuracy
    if 0 <= accuracy <= 0.05:
        return mapped, None
    said = f"is good to {accuracy:g} m" if accuracy > 0 else "has no stated accuracy"
    return mapped, (
        f"taken as WGS 84; the shift to {datum} {said}. A receiver on a correction service usually works in the"
        " service's own datum: compare it over a control point"
    )


def frame_from_track(track: Track, crs_wkt: str) -> Similarity:
    """Lay a local grid for a survey without pegs: x along the main walking direction, the track in positive x and y.

    Parameters
    ----------
    track : Track
        Degrees or map metres; in local metres nothing is to be laid.
    crs_wkt : str
        The map's projected CRS.

    Returns
    -------
    Similarity
        Scale 1; x points to the eastern half, on a whole tenth of a degree; the origin on whole metres of the map.

    Raises
    ------
    PlaceError
        If the track is in local metres, or hardly moves.

    Notes
    -----
    Steps of at least `_STEP_M` from fix to fix are turned to double angles, so that both ways of a line are one
    direction, and the direction is taken that most of the way walked lies near (within 15 degrees): turns, and lines
    across, do not count against it.
    """
    if track.frame == "local":
        raise PlaceError(
            f"track {track.source} is in local metres, which do not say where they lie on the map. Add control"
            " points, or take crs out."
        )
    mapped = project(track.place, crs_wkt, track.source)[0] if track.frame == "degrees" else track.place
    middle = np.median(mapped, axis=0)
    way = mapped[_apart(mapped)]
    steps = np.diff(way, axis=0)
    if len(steps) < _LEAST_STEPS:
        raise PlaceError(
            f"track {track.source} hardly moves, so no local grid can be laid along it. Add control points."
        )
    length = np.hypot(*steps.T)
    angle = np.arctan2(steps[:, 1], steps[:, 0])
    trial = np.radians(np.arange(-89.0, 91.0))
    near = np.abs(np.angle(np.exp(2j * (angle[:, None] - trial)))) < 2 * _SAME_WAY
    best = trial[int(np.argmax((near * length[:, None]).sum(axis=0)))]
    own = np.abs(np.angle(np.exp(2j * (angle - best)))) < 2 * _SAME_WAY
    turn = best + float(np.median(np.angle(np.exp(2j * (angle[own] - best))))) / 2
    turn = np.radians(np.round(np.degrees(np.angle(np.exp(2j * turn))) / 2, 1))
    level = Similarity(float(middle[0]), float(middle[1]), float(np.cos(turn)), float(np.sin(turn)))
    corner = level.to_map(np.percentile(level.to_local(mapped), 1, axis=0) - 1.0)
    return Similarity(float(np.round(corner[0])), float(np.round(corner[1])), level.a, level.b)


def _apart(place: Float64) -> list[int]:
    """Give the indices of fixes that lie at least `_STEP_M` from the one kept before."""
    kept = [0]
    for index in range(1, len(place)):
        if np.hypot(*(place[index] - place[kept[-1]])) >= _STEP_M:
            kept.append(index)
    return kept


def quality_counts(quality: Int64) -> str:
    """Count fixes by quality, in words, the most first."""
    codes, counts = np.unique(quality, return_counts=True)
    order = np.argsort(-counts)
    return ", ".join(f"{counts[i]} {QUALITY_WORDS.get(int(codes[i]), f'of code {codes[i]}')}" for i in order)


def _height_note(track: Track) -> str:
    geoid = track.geoid_m[np.isfinite(track.geoid_m)]
    if geoid.size:
        return (
            f"heights are above the receiver's geoid model (separation {np.median(geoid):.2f} m; add it for"
            " heights above the ellipsoid)"
        )
    if track.frame == "degrees":
        return (
            "heights are taken as above the geoid; the file does not state its separation from the ellipsoid"
        )
    return "heights are as the file gives them; it does not say above which surface"

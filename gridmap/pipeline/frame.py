"""Where the local grid lies on the map."""

from __future__ import annotations

from dataclasses import dataclass

from gridmap.model import IDENTITY, Similarity
from gridmap.pipeline.run import Run
from gridmap.place.control import ControlFit, fit_similarity
from gridmap.place.crs import area_warning, projected_crs
from gridmap.place.local_track import frame_from_track
from gridmap.read.track import read_track
from gridmap.site.records import Site


@dataclass(frozen=True, slots=True)
class Frame:
    """The fit of the control points, what follows from it, and the CRS as WKT 2."""

    fit: ControlFit | None
    transform: Similarity
    crs_wkt: str | None


def map_frame(site: Site, run: Run) -> Frame:
    """Fit the control points and check the CRS, before any line is read; without pegs, lay the grid by the track."""
    near = (site.control[0].easting_m, site.control[0].northing_m) if site.control else None
    crs_wkt = projected_crs(site.crs, near) if site.crs else None
    if not site.control:
        if crs_wkt is not None and site.track is not None:
            return _by_track(site, crs_wkt, run)
        run.warnings.append(
            "no control points: the map is in local grid metres and will not lie right in a GIS."
        )
        return Frame(None, IDENTITY, None)
    fit = fit_similarity(site.control, site.control_limit_cm)
    run.warnings += fit.warnings
    run.notes.append(f"control: {len(site.control)} points, RMS residual {100 * fit.rms_m:.1f} cm")
    if crs_wkt is None:
        run.warnings.append("control points but no crs: give the site file the CRS of their co-ordinates.")
    elif (where := area_warning(crs_wkt, fit.transform.e0_m, fit.transform.n0_m)) is not None:
        run.warnings.append(where)
    return Frame(fit, fit.transform, crs_wkt)


def _by_track(site: Site, crs_wkt: str, run: Run) -> Frame:
    """Lay the local grid along the main walking direction of the track."""
    assert site.track is not None
    track = read_track(site.track.file, site.track.format, site.track.columns, site.track.frame)
    transform = frame_from_track(track, crs_wkt)
    run.notes.append(
        f"no control points: the local grid is laid by the track, origin at {transform.e0_m:.0f} E"
        f" {transform.n0_m:.0f} N, x turned {transform.rotation_deg:.1f} degrees from east (anticlockwise), along most"
        " of the walking"
    )
    if (where := area_warning(crs_wkt, transform.e0_m, transform.n0_m)) is not None:
        run.warnings.append(where)
    return Frame(None, transform, crs_wkt)

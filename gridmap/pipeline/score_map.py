"""Score a finished map against known ground."""

from __future__ import annotations

import math
from pathlib import Path

from gridmap.check.score import NEAR_M, Score, score_plan
from gridmap.errors import InputError
from gridmap.read.known_ground import read_known, read_told


def score_map(out: Path, truth: Path, near_m: float = NEAR_M) -> Score:
    """Compare the features of a map with known ground.

    Parameters
    ----------
    out : Path
        Output folder of a finished map, or its features.gpkg.
    truth : Path
        GeoPackage with layers `linear` and `outlines`.
    near_m : float
        A line found this close to a known one has found it, metres.

    Returns
    -------
    Score
        See `gridmap.check.score`.

    Raises
    ------
    InputError
        If a file cannot be read, the files do not lie in one frame, or the limit is not above 0.
    """
    if not (math.isfinite(near_m) and near_m > 0):
        raise InputError(f"near: {near_m:g} is no distance. Give metres above 0, such as 0.15.")
    told, surveyed, crs_wkt = read_told(out / "features.gpkg" if out.is_dir() else out)
    return score_plan(told, read_known(truth, crs_wkt), surveyed, near_m)


def score_words(score: Score, near_m: float) -> str:
    """Write a score as a table for a terminal; "-" where there is nothing to say."""

    def share(value: float) -> str:
        return "-" if math.isnan(value) else f"{100 * value:.1f} %"

    def metres(value: float, sign: str = "") -> str:
        return "-" if math.isnan(value) else f"{value:{sign}.3f} m"

    rows = [
        ("known length found (recall)", share(score.recall)),
        ("found length true (precision)", share(score.precision)),
        ("lateral error, median", metres(score.lateral_median_m)),
        ("lateral error, 90 % within", metres(score.lateral_p90_m)),
        ("depth error, median", metres(score.depth_median_m, "+")),
        ("depth error, 90 % within", metres(score.depth_abs_p90_m)),
        ("false lines", f"{score.false_lines} ({score.false_per_100_m2:.2f} on 100 m2)"),
        ("areas found", f"{score.areas_found} of {score.areas_known} known; {score.areas_told} told"),
        ("overlap of outlines, mean", share(score.overlap_mean)),
    ]
    text = [f"{name:<32}{value}" for name, value in rows]
    if score.lines:
        text += ["", f"{'known line':<20}{'length':>9}{'found':>9}{'aside':>10}{'depth':>10}"]
    for ln in score.lines:
        text.append(
            f"{ln.id:<20}{ln.length_m:>7.2f} m{share(ln.share):>9}{metres(ln.lateral_m):>10}"
            f"{metres(ln.depth_error_m, '+'):>10}"
        )
    if score.areas:
        text += ["", f"{'known area':<20}{'overlap':>9}{'with':>9}{'top':>10}"]
    text += [
        f"{a.id:<20}{share(a.overlap):>9}{a.best or '-':>9}{metres(a.depth_error_m, '+'):>10}"
        for a in score.areas
    ]
    text += [
        "",
        f"A line within {near_m:g} m of a known one has found it. Surveyed: {score.surveyed_m2:.0f} m2.",
    ]
    if score.outside_m > 0.005:
        text.append(f"{score.outside_m:.2f} m of known lines lie beyond the lines walked and do not count.")
    return "\n".join(text)

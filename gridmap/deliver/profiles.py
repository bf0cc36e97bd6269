"""Key radargrams kept for the report: the lines with the most hyperbolas, and one line across each feature."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from gridmap.deliver.colours import colour_range
from gridmap.deliver.radargram import resample
from gridmap.deliver.strict_json import to_text
from gridmap.files import whole_file, whole_folder, write_text
from gridmap.model import CleanLine, Float64, Interpretation, LinearFeature, Listed
from gridmap.site.records import Antenna
from gridmap.velocity.evidence import VelocityEvidence
from gridmap.velocity.fitted_curve import fitted_curve
from gridmap.velocity.surface import SurfaceEffect, surface_effect

MOST_BY_HYPERBOLAS = 2
MOST = 8
_WIDEST = 1600
_ALONG_M = 1.0
"""A line that runs along a pipe counts as this much further away than one straight across it."""


def write_profiles(
    folder: Path,
    lines: Sequence[CleanLine],
    interval_ns: float,
    antenna: Antenna,
    evidence: VelocityEvidence,
    what: Interpretation,
) -> None:
    """Write `profile_1.png`, ... and profiles.json into a folder.

    Parameters
    ----------
    folder : Path
        Replaced whole.
    lines : sequence of CleanLine
        Conditioned lines.
    interval_ns : float
        Sample interval, nanoseconds.
    antenna, evidence
        As in the velocity room.
    what : Interpretation
        Features, in local metres.

    Notes
    -----
    A picture has a row a sample and columns at even steps along the line; 128 is nought, 1 and 255 are the amplitude
    limit and all beyond, 0 is blank. profiles.json says distances, interval, and the curve of each hyperbola that
    counts.
    """
    chosen = choose_profiles(lines, evidence, what)
    limit = colour_range(
        np.concatenate([ln.traces[:: max(1, len(ln.traces) // 50)] for ln in lines]), signed=True
    )[1]
    effect = surface_effect(antenna.frequency_mhz, antenna.height_m) if evidence.fits.accepted.any() else None
    rows = []
    with whole_folder(folder) as part:
        for k, index in enumerate(chosen, 1):
            line = lines[index]
            cells = resample(line.traces, line.along_m, min(len(line.along_m), _WIDEST), line.traces.shape[1])
            grey = np.clip(np.nan_to_num(cells) * (127.0 / limit), -127.0, 127.0) + 128.5
            grey = np.where(np.isnan(cells), 0, grey).astype(np.uint8)
            with whole_file(part / f"profile_{k}.png") as temporary:
                Image.fromarray(grey).save(temporary, format="PNG", compress_level=6)
            rows.append(
                {
                    "file": f"profile_{k}.png",
                    "line": line.name,
                    "first_m": round(float(line.along_m[0]), 4),
                    "last_m": round(float(line.along_m[-1]), 4),
                    "hyperbolas": _curves(index, line, antenna, evidence, effect),
                }
            )
        about = {"interval_ns": interval_ns, "samples": lines[0].traces.shape[1], "amplitude_limit": limit}
        write_text(part / "profiles.json", to_text({**about, "profiles": rows}, indent=1))


def choose_profiles(
    lines: Sequence[CleanLine], evidence: VelocityEvidence, what: Interpretation
) -> list[int]:
    """Choose lines, by number, in the order walked; the surest features have theirs first."""
    fits = evidence.fits
    count = np.bincount(fits.line[fits.accepted], minlength=len(lines))
    chosen = [int(i) for i in np.argsort(-count, kind="stable")[:MOST_BY_HYPERBOLAS] if count[i]]
    listed: list[Listed[Any]] = [*what.linear, *what.outlines]
    features = [f.feature for f in listed if f.said.status != "rejected"]
    for feature in sorted(features, key=lambda f: -np.nan_to_num(f.confidence, nan=1.0)):
        if len(chosen) < MOST:
            across = line_across(lines, *_middle(feature))
            chosen += [across] if across not in chosen else []
    return sorted(chosen or [len(lines) // 2])


def line_across(lines: Sequence[CleanLine], xy_m: Float64, along: Float64 | None) -> int:
    """Find the line that passes a place nearest, one across the direction `along` rather than one that follows it."""
    costs = []
    for line in lines:
        apart = np.hypot(*(line.xy_m - xy_m).T)
        k = int(np.argmin(apart))
        step = line.xy_m[min(k + 2, len(apart) - 1)] - line.xy_m[max(k - 2, 0)]
        follows = 0.0 if along is None else abs(float(step @ along)) / max(float(np.hypot(*step)), 1e-9)
        costs.append(float(apart[k]) + _ALONG_M * follows)
    return int(np.argmin(costs))


def _middle(feature: Any) -> tuple[Float64, Float64 | None]:
    if isinstance(feature, LinearFeature):
        run = feature.xyz_m[-1, :2] - feature.xyz_m[0, :2]
        return feature.xyz_m[len(feature.xyz_m) // 2, :2], run / max(float(np.hypot(*run)), 1e-9)
    return feature.ring_m.mean(axis=0), None


def _curves(
    index: int, line: CleanLine, antenna: Antenna, evidence: VelocityEvidence, effect: SurfaceEffect | None
) -> list[dict[str, Any]]:
    fits, found = evidence.fits, []
    for event in np.flatnonzero(fits.accepted & (fits.line == index)):
        assert effect is not None
        half = min(0.5 * float(fits.depth_m[event]) + 0.35, 1.2)
        offset = np.linspace(-half, half, 31)
        at = fits.along_m[event] + offset
        inside = (at >= line.along_m[0]) & (at <= line.along_m[-1])
        time = fitted_curve(fits, int(event), antenna, effect, offset)
        found.append(
            {
                "velocity_m_per_ns": round(float(fits.velocity_m_per_ns[event]), 4),
                "curve": [
                    [round(float(a), 3), round(float(t), 2)]
                    for a, t in zip(at[inside], time[inside], strict=True)
                ],
            }
        )
    return found

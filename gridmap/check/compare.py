"""Lines against the rest of the survey: length, settings, coupling, noise, time zero, copies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from gridmap.check.finding import Figure, Finding, Severity
from gridmap.check.line import LineCheck
from gridmap.check.setup import Setup
from gridmap.check.stretch import whole_line
from gridmap.model import Float64

_FEWEST = 4
_CLEAR = 5.0
_SCATTER_LENGTH, _SCATTER_SIZE, _SCATTER_NOISE = 0.01, 0.08, 0.12
"""Logarithms of sound lines scatter by at least this much: wheels by 1 %, coupling by 8 %, noise floors by 12 %."""
_WEAK, _STRONG, _NOISY = 0.5, 2.0, 2.5
_ZERO_PERIODS = 0.5


def compare_lines(lines: Sequence[LineCheck], setup: Setup) -> list[Finding]:
    """Find lines that differ from the others.

    Parameters
    ----------
    lines : sequence of LineCheck
        Every line that could be read.
    setup : Setup
        Period, wavelength, line spacing.

    Returns
    -------
    list of Finding
        Each figure of a line against the median of the survey, in robust deviations (median absolute deviation); with
        fewer than four lines nothing is compared but copies and settings.
    """
    found = _copies(lines) + _settings(lines)
    if len(lines) < _FEWEST:
        return found
    found += _intervals(lines, setup) if setup.placed else _counts(lines)
    size = np.array([ln.wave_size for ln in lines])
    for ln, value, z in zip(lines, size / np.median(size), _deviations(size, _SCATTER_SIZE), strict=True):
        if z < -_CLEAR and value < _WEAK:
            found.append(
                whole_line(
                    ln.name,
                    "weak",
                    "attention" if value > 0.2 else "walk again",
                    (Figure("direct wave over usual", value, ""),),
                    f"its direct wave is {value:.2f} times the usual one: gain changed, or an antenna hangs loose",
                    "Check gain and antennas; walk it again where they were wrong.",
                )
            )
        elif z > _CLEAR and value > _STRONG:
            found.append(
                whole_line(
                    ln.name,
                    "level",
                    "attention",
                    (Figure("direct wave over usual", value, ""),),
                    f"its direct wave is {value:.1f} times the usual one: gain or channel changed",
                    "Set the gain back for the next line; the map evens it out.",
                )
            )
    found += _noise(lines)
    zero = np.array([ln.zero_ns for ln in lines])
    for ln, off in zip(lines, zero - np.median(zero), strict=True):
        if abs(off) > _ZERO_PERIODS * setup.period_ns:
            found.append(
                whole_line(
                    ln.name,
                    "time zero",
                    "note",
                    (Figure("off the usual", float(off), "ns"),),
                    f"its time zero lies {off:+.2f} ns off the usual; the map picks each line's own",
                )
            )
    return found


def _deviations(values: Float64, least: float) -> Float64:
    """Robust deviations of logarithms, NaN where a value is unknown."""
    size = np.log(np.maximum(values, 1e-30))
    middle = np.nanmedian(size)
    spread = 1.4826 * float(np.nanmedian(np.abs(size - middle)))
    return np.asarray((size - middle) / max(spread, least))


def _copies(lines: Sequence[LineCheck]) -> list[Finding]:
    """Lines whose samples are another line's to the last bit."""
    first: dict[str, str] = {}
    found = []
    for ln in lines:
        other = first.setdefault(ln.digest, ln.name)
        if other != ln.name:
            found.append(
                whole_line(
                    ln.name,
                    "duplicate",
                    "walk again",
                    (),
                    f"its samples are those of {other}: one of the two is a copy",
                    "Export both again from the recorder; where one is lost, walk it again.",
                )
            )
    return found


def _settings(lines: Sequence[LineCheck]) -> list[Finding]:
    usual = Counter((round(ln.sample_interval_ns, 6), ln.samples) for ln in lines).most_common(1)
    if not usual:
        return []
    (interval, samples), _ = usual[0]
    found = []
    for ln in lines:
        if abs(ln.sample_interval_ns / interval - 1) > 1e-3:
            found.append(
                whole_line(
                    ln.name,
                    "settings",
                    "walk again",
                    (Figure("sample interval", ln.sample_interval_ns, "ns"),),
                    f"sample interval {ln.sample_interval_ns:g} ns where the others have {interval:g} ns",
                    "Set the recorder as before and walk it again: it cannot be mapped with the others.",
                )
            )
        elif ln.samples != samples:
            short = ln.samples < 0.9 * samples
            found.append(
                whole_line(
                    ln.name,
                    "settings",
                    "attention" if short else "note",
                    (Figure("samples", ln.samples, ""),),
                    f"{ln.samples} samples a trace where the others have {samples}"
                    + (": the map of all ends where the shortest record does" if short else ""),
                    "Set the recorder as before; walk it again where depth is lost." if short else "",
                )
            )
    return found


def _intervals(lines: Sequence[LineCheck], setup: Setup) -> list[Finding]:
    """Lines whose count of traces does not go with their length from peg to peg."""
    interval = np.array([np.median(np.diff(ln.along_m)) if len(ln.along_m) > 1 else np.nan for ln in lines])
    usual = float(np.nanmedian(interval))
    found = []
    for ln, value, z in zip(lines, interval / usual, _deviations(interval, _SCATTER_LENGTH), strict=True):
        length = float(ln.along_m[-1])
        off = length * (1.0 - 1.0 / value)
        figures = (Figure("trace interval", value * usual, "m"), Figure("usual", usual, "m"))
        if z > _CLEAR and off > setup.wavelength_m:
            severity: Severity = (
                "walk again" if off > max(setup.line_spacing_m, 0.1 * length) else "attention"
            )
            found.append(
                whole_line(
                    ln.name,
                    "short",
                    severity,
                    (Figure("lacking", off, "m"), *figures),
                    f"its {len(ln.along_m)} traces cover {length - off:.1f} of {length:.1f} m at the usual interval",
                    "Walk it again from peg to peg, or correct its pegs.",
                )
            )
        elif z < -_CLEAR and -off > setup.wavelength_m:
            found.append(
                whole_line(
                    ln.name,
                    "wheel",
                    "attention",
                    (Figure("too many", -off, "m"), *figures),
                    f"its {len(ln.along_m)} traces would cover {length - off:.1f} m at the usual interval, and it is "
                    f"{length:.1f} m long: stopped, backed up, or another wheel setting",
                    "Check the wheel and its pegs.",
                )
            )
    return found


def _counts(lines: Sequence[LineCheck]) -> list[Finding]:
    """Without places: lines with far fewer traces than the others, where the others are alike."""
    count = np.array([len(ln.along_m) for ln in lines], dtype=float)
    usual = float(np.median(count))
    if 1.4826 * np.median(np.abs(count - usual)) > 0.05 * usual:
        return []
    return [
        whole_line(
            ln.name,
            "short",
            "attention",
            (Figure("traces", n, "traces"), Figure("usual", usual, "traces")),
            f"{n:.0f} traces where lines usually have {usual:.0f}",
            "Look in the field book whether it ended at an obstacle; else walk it again.",
        )
        for ln, n in zip(lines, count, strict=True)
        if n < 0.8 * usual
    ]


def _noise(lines: Sequence[LineCheck]) -> list[Finding]:
    noise = np.array([ln.noise for ln in lines])
    if np.isfinite(noise).sum() < _FEWEST:
        return []
    usual = float(np.nanmedian(noise))
    found = []
    for ln, value, z in zip(
        lines, noise / max(usual, 1e-30), _deviations(noise, _SCATTER_NOISE), strict=True
    ):
        if np.isfinite(z) and z > _CLEAR and value > _NOISY:
            found.append(
                whole_line(
                    ln.name,
                    "noisy",
                    "attention",
                    (
                        Figure("noise over usual", value, ""),
                        Figure("noise over the direct wave", 20 * np.log10(ln.noise), "dB"),
                    ),
                    f"its noise floor is {value:.1f} times the usual one: deep echoes drown earlier",
                    "Look for what was switched on nearby; walk it again where the target lies deep.",
                )
            )
    return found

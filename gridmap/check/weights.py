"""What the map does with findings: bad stretches count less, or not at all."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.check.finding import Finding
from gridmap.model import Bool, Float32, Float64

LEFT_OUT = ("stopped", "backed up")
"""Traces laid out as ground that they were not taken on; lifted and dead ones are left out by the recipe already."""
LIGHTER = ("bump", "burst")
SUMMED = 10.0
"""Noise over echoes in one trace that a sum of a hundred traces still brings below them."""


def left_out(findings: Sequence[Finding], count: int) -> Bool:
    """Say which traces of a line are not to be mapped, (trace,) bool.

    Of a stop the first trace stays, of backing up the first pass: what follows was not where it is laid out.
    """
    gone = np.zeros(count, bool)
    for f in findings:
        if f.first_trace is None or f.last_trace is None:
            continue
        first, last = f.first_trace - 1, f.last_trace
        if f.kind == "stopped":
            gone[first + 1 : last] = True
        elif f.kind == "backed up":
            gone[first + (last - first) // 3 : last] = True
    return gone


def noise_over_usual(findings: Sequence[Finding], count: int) -> Float64:
    """Return how many times the usual noise each trace of a line holds, (trace,) float64, 1 where nothing was found."""
    times = np.ones(count)
    for f in findings:
        if f.kind in LIGHTER and f.first_trace is not None and f.last_trace is not None:
            here = slice(f.first_trace - 1, f.last_trace)
            times[here] = np.maximum(times[here], f.figures[0].value)
    return times


def weight_in_time(times: Float64, floor: float, rms: Float64) -> Float32:
    """Weigh noisy traces where their noise would show in the image.

    Parameters
    ----------
    times : (trace,) float64
        Noise of each trace over the line's usual noise, 1 or more.
    floor : float
        Usual noise of the line, before gain.
    rms : (sample,) float64
        RMS of the survey at each time, before gain.

    Returns
    -------
    (trace, sample) float32
        min(1, 10 S / N), with the size S of echoes and the noise N that the trace holds beside the usual. The image
        sums a hundred traces or so at each place, by which echoes gain a factor of ten over noise: up to there a
        noisy trace tells more than one that was made smaller, which leaves a hole. 1 where a figure is not known.
    """
    extra = floor * np.sqrt(np.square(times) - 1.0)
    weight = SUMMED * rms / np.maximum(extra[:, None], 1e-30)
    known = np.isfinite(weight) & (rms > 0)
    return np.where(known, np.minimum(weight, 1.0), 1.0).astype(np.float32)


def weights_in_words(findings: dict[str, Sequence[Finding]], counts: dict[str, int]) -> str | None:
    """Say how many traces of which lines count less or are left out; None: all count alike."""
    lighter = {name: int((noise_over_usual(f, counts[name]) > 1).sum()) for name, f in findings.items()}
    gone = {name: int(left_out(f, counts[name]).sum()) for name, f in findings.items()}
    repeated = "left out where the antenna stood still or went back"
    said = []
    for what, held in (("count less where their noise drowns the echoes", lighter), (repeated, gone)):
        some = [name for name, n in held.items() if n]
        if some:
            names = ", ".join(some[:4]) + (f" and {len(some) - 4} more lines" if len(some) > 4 else "")
            said.append(f"{sum(held.values())} traces {what} ({names})")
    return "; ".join(said) if said else None

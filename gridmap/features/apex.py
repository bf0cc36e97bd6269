"""The pulse of a feature, summed near its apex, and its phase against the direct wave.

Traces nearly above a thing see its echo as sent and reflected once, straight down: no limb comes early, no surface
turns the phase. Aligned on the thing's curve and summed they give one short pulse. At the peak of its envelope the
phase of a reflection is 0 where the ground below is the faster (a void, dry plastic: coefficient above 0) and 180
degrees where it is the slower or metal (Annan 2005 [memory]), as long as the pulse itself has no phase.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numba as nb
import numpy as np
from numpy.typing import NDArray

from gridmap.features.stack import BIN_M, Gather
from gridmap.model import CleanLine, Float64, VelocityModel
from gridmap.model.feature import Polarity
from gridmap.threads import in_parts

STEEPEST = math.tan(math.radians(16.0))
"""Traces farther off than this angle at the target are not summed,"""
NEAREST_M = 0.26
"""unless they are nearer than this: lines half a metre apart leave none out."""
HALF_ALONG_M = 0.5
LAGS = 25
"""Times tried, over one period about the predicted one."""
REVERSED_DEG = (160.0, 215.0)
SAME_DEG = (-30.0, 143.0)
"""Phases within the first are reversed; within the second they begin with the sign of the direct wave. A metal
cylinder's echo stands at 155 to 170 degrees whatever its radius; an air-filled one's at 136 where it is thin to 60
where its radius is a third of a wavelength. A water-filled one may stand anywhere, with its radius (series for a
cylinder, Balanis 1989, 11.5 [memory]). Conditioning adds 10 to 15 degrees (`benchmarks.polarity_trials`)."""
AGREED = 0.75
"""Places along a feature must agree this well in phase."""


@dataclass(frozen=True, slots=True)
class Apex:
    """Summed pulses; (place,) each.

    Attributes
    ----------
    peak : complex128
        Analytic sum at the peak of its envelope, in the data's unit; 0 where no trace is near.
    late_ns : float64
        Time of that peak after the predicted one.
    """

    peak: NDArray[np.complex128]
    late_ns: Float64


def apex_pulses(
    gather: Gather, velocity: VelocityModel, xyz_m: Float64, angle_rad: Float64 | None, period_ns: float
) -> Apex:
    """Sum the traces nearly above each place.

    Parameters
    ----------
    gather : Gather
        The traces.
    velocity : VelocityModel
        Behind the depths.
    xyz_m : (place, 3) float64
        Local x, y and depth of the strongest sum, metres.
    angle_rad : (place,) float64 or None
        Direction of the pipe there; None: something small.
    period_ns : float
        One period of the centre frequency.

    Returns
    -------
    Apex
        Peak within half a period of the predicted time.
    """
    depth = np.maximum(xyz_m[:, 2], 0.02)
    reach = np.maximum(depth * STEEPEST, NEAREST_M)
    lag = np.linspace(-0.5 * period_ns, 0.5 * period_ns, LAGS)
    angle = np.zeros(len(depth)) if angle_rad is None else np.ascontiguousarray(angle_rad)
    given = (
        gather.data, gather.x_m, gather.y_m, gather.way, gather.bin_first, gather.x_first_m, gather.y_first_m,
        gather.bins[0], gather.bins[1], gather.interval_ns, gather.separation_m,
        np.ascontiguousarray(xyz_m[:, 0]), np.ascontiguousarray(xyz_m[:, 1]), angle, angle_rad is not None, reach,
        velocity.two_way_ns(depth), velocity.rms_m_per_ns(depth), lag,
    )  # fmt: skip
    sums = np.zeros((len(depth), LAGS), np.complex128)
    in_parts(lambda first, last: _sums(first, last, sums, *given), len(depth), least=8)
    best = np.abs(sums).argmax(axis=1)
    return Apex(sums[np.arange(len(sums)), best], lag[best])


@nb.njit(nogil=True, cache=True, fastmath=True)
def _sums(  # type: ignore[no-untyped-def]
    first, last, sums, data, x, y, way, bin_first, x_first, y_first, bins_y, bins_x, interval,
    separation, ex, ey, angle, long, reach, t0, rms, lag,
):  # fmt: skip
    samples = data.shape[1]
    for n in range(first, last):
        cos, sin = math.cos(angle[n]), math.sin(angle[n])
        wide = max(reach[n], HALF_ALONG_M) if long else reach[n]
        j0 = max(0, int((ex[n] - wide - x_first) / BIN_M))
        j1 = min(bins_x - 1, int((ex[n] + wide - x_first) / BIN_M))
        i0 = max(0, int((ey[n] - wide - y_first) / BIN_M))
        i1 = min(bins_y - 1, int((ey[n] + wide - y_first) / BIN_M))
        deep = 0.5 * t0[n] * rms[n]
        weight = 0.0
        for i in range(i0, i1 + 1):
            for m in range(bin_first[i * bins_x + j0], bin_first[i * bins_x + max(j0, j1 + 1)]):
                dx, dy = x[m] - ex[n], y[m] - ey[n]
                if long:
                    along, across = dx * cos + dy * sin, dy * cos - dx * sin
                    if abs(along) >= HALF_ALONG_M or abs(across) >= reach[n]:
                        continue
                    half = 0.5 * separation * abs(way[1, m] * cos - way[0, m] * sin)
                    off2, skew = across * across + half * half, 2.0 * across * half
                else:
                    off2 = dx * dx + dy * dy
                    if off2 >= reach[n] * reach[n]:
                        continue
                    skew = separation * (dx * way[0, m] + dy * way[1, m])
                    off2 += 0.25 * separation * separation
                far2 = off2 + deep * deep
                t = (math.sqrt(far2 + skew) + math.sqrt(max(far2 - skew, 0.0))) / rms[n]
                w = max(0.05, 1.0 - (off2 / (reach[n] * reach[n])))
                for s in range(len(lag)):
                    at = (t + lag[s]) / interval
                    a = int(at)
                    if at < 0 or a + 1 >= samples:
                        continue
                    share = at - a
                    u, v = data[m, a], data[m, a + 1]
                    sums[n, s] += w * ((1 - share) * abs(u) * u + share * abs(v) * v)
                weight += w
        for s in range(len(lag)):
            sums[n, s] /= max(weight, 1e-30)


def phase_of(peak: NDArray[np.complex128]) -> tuple[float, float]:
    """Mean phase of the peaks, degrees, and how well they agree: length of the mean unit vector, 0 to 1."""
    loud = np.abs(peak)
    if not (loud > 0).any():
        return 0.0, 0.0
    # By the root of the loudness, so that no single strong place decides.
    vector = (peak / np.sqrt(np.maximum(loud, 1e-30))).sum() / np.sqrt(loud).sum()
    return math.degrees(float(np.angle(vector))), float(abs(vector))


def pulse_sign_of(lines: Sequence[CleanLine]) -> int:
    """Sign that the lines agree on, see `CleanLine.pulse_sign`; 0 where fewer than three in four do."""
    signs = [ln.pulse_sign for ln in lines]
    return 0 if not signs or abs(sum(signs)) < 0.5 * len(signs) else (1 if sum(signs) > 0 else -1)


def polarity_of(peak: NDArray[np.complex128], pulse_sign: int) -> Polarity:
    """Sign of a feature's echo.

    Parameters
    ----------
    peak : (place,) complex128
        From `apex_pulses`, along it.
    pulse_sign : int
        From `pulse_sign_of`.

    Returns
    -------
    Polarity
        "unclear" where the places disagree, the phase is between, or the record's own sign is not known.
    """
    phase, agreement = phase_of(pulse_sign * peak)
    if pulse_sign == 0 or agreement < AGREED:
        return "unclear"
    if REVERSED_DEG[0] <= phase % 360.0 <= REVERSED_DEG[1]:
        return "reversed"
    return "same" if SAME_DEG[0] <= phase <= SAME_DEG[1] else "unclear"


POLARITY_WORDS: dict[Polarity, str] = {
    "same": "its echo begins as the direct wave does, as of a void, dry fill or an empty plastic pipe, though some "
    "water-filled pipes look alike",
    "reversed": "its echo is reversed against the direct wave, as of metal, a wide pipe full of water or wetter ground",
    "unclear": "",
}
"""What a sign may mean; it proves nothing."""

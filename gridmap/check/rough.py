"""How rough every trace is: what it holds that neither the traces beside it nor the antenna's band explain."""

from __future__ import annotations

from dataclasses import dataclass

import numba as nb
import numpy as np

from gridmap.condition.median import median_trace
from gridmap.model import Bool, Float32, Float64

_QUANTILE = 12.0
"""A burst fills all times, an echo a few: the smoothest blocks of time are asked, but for the last one or two."""
_FLOOR = 0.1
"""Blocks are judged against no less than this share of the echoes' own size: what is far below them harms nothing."""


@dataclass(frozen=True, slots=True)
class Rough:
    """Roughness over the line's usual one, trace by trace.

    Attributes
    ----------
    along : (trace,) float64
        Of second differences along the line: noise of any frequency.
    quick : (trace,) float64
        The same of second differences along time: noise above the antenna's band.
    """

    along: Float64
    quick: Float64


def measure_rough(swept: Float32, first: int, block: int, dead: Bool) -> Rough:
    """Measure roughness after the direct wave.

    Parameters
    ----------
    swept : (trace, sample) float32
        Dewowed amplitude.
    first : int
        First sample after the direct wave.
    block : int
        Samples in a block of time, about one period.
    dead : (trace,) bool
        Dead traces; they and their neighbours count as smooth.

    Returns
    -------
    Rough
        1 is usual. Of each trace a low quantile over blocks of (RMS in the block over its median along the line).
    """
    count, samples = swept.shape
    blocks = (samples - first) // block
    ones = np.ones(count)
    if blocks < 3 or count < 5:
        return Rough(ones, ones)
    energy = np.zeros((3, count, blocks), np.float32)
    values = np.ascontiguousarray(swept, dtype=np.float32)
    _energies(values, median_trace(values, 200), first, block, energy)
    size = np.sqrt(energy)
    usual = np.median(size, axis=1)
    beside = dead.copy()
    beside[1:] |= dead[:-1]
    beside[:-1] |= dead[1:]
    ratios = []
    for k in (0, 1):
        scale = np.maximum(usual[k], _FLOOR * usual[2])
        ratio = np.percentile(size[k] / np.maximum(scale, 1e-30), _QUANTILE, axis=1)
        ratio[beside] = np.median(ratio)
        ratio[0], ratio[-1] = ratio[1], ratio[-2]
        ratios.append(ratio / max(float(np.median(ratio)), 1e-30))
    return Rough(*ratios)


@nb.njit(cache=True, fastmath=True, nogil=True)
def _energies(traces, flat, first, block, energy):  # type: ignore[no-untyped-def]
    """Mean square per trace and block of: differences along the line, the same along time too, and the echoes."""
    count, samples = traces.shape
    blocks = energy.shape[2]
    differ = np.empty(samples, np.float32)
    for i in range(count):
        row = traces[i]
        left, right = traces[max(i - 1, 0)], traces[min(i + 1, count - 1)]
        for k in range(samples):
            differ[k] = left[k] - np.float32(2.0) * row[k] + right[k]
        for b in range(blocks):
            along, quick, whole = np.float32(0.0), np.float32(0.0), np.float32(0.0)
            for k in range(first + b * block, first + (b + 1) * block):
                q = differ[k - 2] - np.float32(2.0) * differ[k - 1] + differ[k]
                along += differ[k] * differ[k]
                quick += q * q
                whole += (row[k] - flat[k]) * (row[k] - flat[k])
            energy[0, i, b] = along / np.float32(6 * block)
            energy[1, i, b] = quick / np.float32(36 * block)
            energy[2, i, b] = whole / np.float32(block)

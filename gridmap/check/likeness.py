"""How unlike the traces of a line are, at every distance in traces: what stops and backing up show in."""

from __future__ import annotations

from dataclasses import dataclass

import numba as nb
import numpy as np

from gridmap.condition.median import median_trace
from gridmap.model import Bool, Float32, Float64

_COLUMNS = 48
_CUT = 3.0
_FEWEST = 8
_TELLING = 3.0
"""Times at which traces some steps apart differ this many times more than neighbours do are compared; elsewhere noise
drowns how the ground changes."""
_STEPS = 6


@dataclass(frozen=True, slots=True)
class Unlike:
    """Balanced traces and how they differ.

    Attributes
    ----------
    table : (trace, column) float32
        Traces without what is flat along the line, balanced in time, some fifty samples each.
    usual : (lag + 1,) float64
        Median over the line of the mean square difference of two traces so many traces apart; [0] is 0.
    """

    table: Float32
    usual: Float64

    @property
    def most(self) -> int:
        """Largest lag."""
        return len(self.usual) - 1


def measure_unlike(swept: Float32, first: int, period_samples: float, out: Bool, most: int) -> Unlike | None:
    """Balance the traces and measure how unlike they usually are.

    Parameters
    ----------
    swept : (trace, sample) float32
        Dewowed amplitude.
    first : int
        First sample after the direct wave.
    period_samples : float
        Samples a period.
    out : (trace,) bool
        Traces that mean nothing; they are put to zero.
    most : int
        Largest lag wanted, traces.

    Returns
    -------
    Unlike or None
        None where there is too little to compare.
    """
    count, samples = swept.shape
    if count < 2 * most or count < 24 or samples - first < 24:
        return None
    step = max(1, min(int(period_samples / 5), (samples - first) // _COLUMNS))
    table = swept[:, first::step][:, : 2 * _COLUMNS] - median_trace(swept, 200)[first::step][: 2 * _COLUMNS]
    size = np.sqrt(median_trace(np.square(table), 200)) + np.float32(1e-30)
    size = np.maximum(size, np.float32(1e-4) * size.max())
    table = np.clip(table / size, -_CUT, _CUT).astype(np.float32)
    table[out] = 0.0
    table = np.ascontiguousarray(table[:, _telling(table, out)])
    if table.shape[1] < _FEWEST:
        return None
    usual = np.zeros(most + 1)
    for lag in range(1, most + 1):
        usual[lag] = float(np.median(differences(table, lag)[~(out[:-lag] | out[lag:])]))
    return Unlike(table, usual)


def _telling(table: Float32, out: Bool) -> Bool:
    """Say which columns tell places apart, (column,) bool."""
    good = ~(out[:-_STEPS] | out[_STEPS:])
    near = np.square(table[1:] - table[:-1])[~(out[1:] | out[:-1])]
    far = np.square(table[_STEPS:] - table[:-_STEPS])[good]
    if len(far) < 10:
        return np.zeros(table.shape[1], bool)
    return median_trace(far, 200) > _TELLING * median_trace(near, 200)


def differences(table: Float32, lag: int) -> Float64:
    """Mean square difference of traces `lag` apart, (trace - lag,) float64."""
    out = np.empty(len(table) - lag)
    _lagged(table, lag, out)
    return out


@nb.njit(cache=True, fastmath=True, nogil=True)
def _lagged(table, lag, out):  # type: ignore[no-untyped-def]
    for i in range(len(out)):
        total = np.float32(0.0)
        for k in range(table.shape[1]):
            d = table[i, k] - table[i + lag, k]
            total += d * d
        out[i] = total / table.shape[1]

"""A line made ready for fitting: analytic signal, which traces hold data, a spacing no finer than needed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from gridmap.errors import OurFaultError
from gridmap.model import Bool, CleanLine, Float32, Float64


@dataclass(frozen=True, slots=True)
class LineSignal:
    """One line for the fits.

    Attributes
    ----------
    index : int
        Place of the line in the caller's sequence.
    along_m : (trace,) float64
        Increasing metres along the line.
    xy_m : (trace, 2) float64
        Local grid, metres.
    values : (trace, sample) complex64
        Analytic signal.
    good : (trace,) bool
        False where the trace holds nothing.
    """

    index: int
    along_m: Float64
    xy_m: Float64
    values: NDArray[np.complex64]
    good: Bool


def analytic_signal(traces: Float32) -> NDArray[np.complex64]:
    """Return the analytic signal along the last axis (Marple 1999), as complex64."""
    n = traces.shape[-1]
    length = int(fft.next_fast_len(n + n // 8))
    spectrum = fft.fft(traces, length, axis=-1)
    spectrum[..., 1 : (length + 1) // 2] *= 2
    spectrum[..., length // 2 + 1 :] = 0
    return np.asarray(fft.ifft(spectrum, axis=-1)[..., :n], dtype=np.complex64)


def prepare_line(index: int, line: CleanLine, finest_m: float) -> LineSignal:
    """Make one line ready, keeping every n-th trace where they lie closer than `finest_m`.

    Raises
    ------
    OurFaultError
        If positions along the line do not increase or the arrays do not match.
    """
    along = np.asarray(line.along_m, dtype=float)
    if len(along) != len(line.traces) or len(along) != len(line.xy_m):
        raise OurFaultError(f"line {line.name}: {len(line.traces)} traces but {len(along)} positions")
    if len(along) > 1 and not (np.diff(along) > 0).all():
        raise OurFaultError(f"line {line.name}: positions along the line do not increase")
    spacing = float(np.median(np.diff(along))) if len(along) > 1 else finest_m
    step = max(1, int(finest_m / spacing))
    traces = np.asarray(line.traces[::step], dtype=np.float32)
    return LineSignal(
        index,
        np.ascontiguousarray(along[::step]),
        np.asarray(line.xy_m[::step], dtype=float),
        analytic_signal(traces),
        np.asarray(line.usable[::step] & (np.abs(traces).max(axis=1) > 0)),
    )


def choose_lines(count: int, most: int) -> Sequence[int]:
    """Every n-th line, so that no more than `most` are used."""
    return range(0, count, max(1, -(-count // most)))

"""A line as the check page shows it: cut down to what a tablet can draw, packed small, with nothing odd left out."""

from __future__ import annotations

import base64
import math
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from gridmap.check.line import LineCheck
from gridmap.condition.dewow import dewow
from gridmap.condition.median import median_trace
from gridmap.deliver.page_slices import pack_slice
from gridmap.model import Float32, Float64, PlacedLine

STEPS = 63
"""Amplitudes from -full scale to +full scale; a cell holds 1 to this, the middle is 0 amplitude."""
FULL_SCALE = 4.0
"""Full scale over the usual amplitude of that time."""
_MOST_CELLS, _ALL_CELLS = 130_000, 21_000_000
"""Cells of one line and of all lines at most; a cell takes 0.84 bytes of text where there is nothing but noise."""
_SAMPLES_A_PERIOD = 6
_QUIETEST = 1e-3
"""The usual amplitude counts as no less than this share of the direct wave's."""


@dataclass(frozen=True, slots=True)
class CheckRadargram:
    """One line, packed.

    Attributes
    ----------
    name : str
        The line.
    text : str
        Cells (trace, sample) as `gridmap.deliver.page_slices.pack_slice` packs them.
    traces, samples : int
        Cells each way.
    first_trace : (trace,) int64
        Number of the trace that each row shows, the first of the file is 1.
    along_m : (trace,) float64
        Distance of each row along the line, metres.
    start_ns, step_ns : float
        Two-way time from time zero of the first sample, and from sample to sample, nanoseconds.
    traces_joined, samples_joined : int
        How many traces of the file one row stands for, and how many samples one cell is the mean of.
    """

    name: str
    text: str
    traces: int
    samples: int
    first_trace: NDArray[np.int64]
    along_m: Float64
    start_ns: float
    step_ns: float
    traces_joined: int
    samples_joined: int

    def cells(self) -> NDArray[np.uint8]:
        """Unpack the cells, (trace, sample): 1 to `STEPS`."""
        rows = np.frombuffer(zlib.decompress(base64.b64decode(self.text), -15), np.uint8)
        return np.cumsum(rows.reshape(self.traces, self.samples), axis=0, dtype=np.uint8)


def cells_a_line(lines: int) -> int:
    """Give the cells that each of so many lines may have, so that the page stays below 25 MB."""
    return min(_MOST_CELLS, _ALL_CELLS // max(1, lines))


class Radargrams:
    """Radargrams of a survey, packed as its lines come by; lines may come from several threads at once.

    Parameters
    ----------
    lines : int
        How many lines there are at most.
    period_ns : float
        One period of the antenna, nanoseconds.
    """

    def __init__(self, lines: int, period_ns: float) -> None:
        self.packed: dict[str, CheckRadargram] = {}
        self.period_ns, self.most_cells = period_ns, cells_a_line(lines)

    def add(self, placed: PlacedLine, check: LineCheck) -> None:
        """Pack one line, which the check has found the time zero of."""
        line = placed.line
        self.packed[line.name] = pack_radargram(
            line.name, line.traces, placed.along_m, line.sample_interval_ns, zero_ns=check.zero_ns,
            period_ns=self.period_ns, most_cells=self.most_cells,
        )  # fmt: skip


def pack_radargram(
    name: str,
    traces: Float32,
    along_m: Float64,
    sample_interval_ns: float,
    *,
    zero_ns: float,
    period_ns: float,
    most_cells: int = _MOST_CELLS,
) -> CheckRadargram:
    """Cut down and pack one line.

    Parameters
    ----------
    name : str
        The line.
    traces : (trace, sample) float32
        As recorded.
    along_m : (trace,) float64
        Distance along the line, metres.
    sample_interval_ns : float
        Nanoseconds.
    zero_ns : float
        Time zero after the first sample, nanoseconds.
    period_ns : float
        One period of the antenna, nanoseconds; six samples a period are kept.
    most_cells : int
        Above this neighbouring traces are joined.

    Returns
    -------
    CheckRadargram
        Slow swing taken off; each time made as loud as the others by the line's own usual amplitude there, so that
        what changes along the line stays seen. Of joined traces the one is shown that is least like the others.
    """
    joined = max(1, math.floor(period_ns / (_SAMPLES_A_PERIOD * sample_interval_ns)))
    swept = dewow(traces, sample_interval_ns, 2.0 * period_ns)
    kept = swept.shape[1] // joined * joined
    cells = swept[:, :kept].reshape(len(swept), -1, joined).mean(axis=2) if joined > 1 else swept
    every = max(1, math.ceil(cells.size / most_cells))
    shown = _oddest(cells, every)
    cells = cells[shown]
    usual = _usual(cells, max(3, round(2.0 * period_ns / (sample_interval_ns * joined))))
    half = (STEPS - 1) // 2
    level = np.rint(np.clip(cells * (half / FULL_SCALE / usual), -half, half)) + (half + 1)
    return CheckRadargram(
        name, pack_slice(level.astype(np.uint8)), cells.shape[0], cells.shape[1], shown + 1, along_m[shown],
        0.5 * (joined - 1) * sample_interval_ns - zero_ns, joined * sample_interval_ns, every, joined,
    )  # fmt: skip


def _oddest(cells: Float32, every: int) -> NDArray[np.int64]:
    """Of every so many traces give the one farthest from their middle one; indexes (group,)."""
    if every == 1:
        return np.arange(len(cells))
    picked = []
    for first in range(0, len(cells), every):
        group = cells[first : first + every]
        picked.append(first + int(np.argmax(np.abs(group - np.median(group, axis=0)).sum(axis=1))))
    return np.array(picked)


def _usual(cells: Float32, width: int) -> Float32:
    """Median size over traces of each sample, smoothed along time; (sample,) float32, above 0."""
    size = uniform_filter1d(median_trace(np.abs(cells), 200), min(width, 2 * cells.shape[1] - 1))
    return np.asarray(np.maximum(size, np.float32(_QUIETEST * float(size.max()) + 1e-30)), np.float32)

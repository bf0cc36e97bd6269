"""Radargrams packed small enough to lie inside one page: even steps along the line, 8 bits a sample."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from gridmap.deliver.page_data import PageRadargrams
from gridmap.deliver.page_slices import pack_slice
from gridmap.model import CleanLine, Float32

SAMPLES_A_PERIOD = 8
"""Samples kept in one period of the antenna: an echo drawn through them looks the same."""
TRACES_A_WAVELENGTH = 6
"""Traces kept in one wavelength, where more were taken: more than the four that keep flanks of curves whole."""
FULL = 2.0
"""Bytes reach this many times the amplitude of full colour, so that contrast can be lowered on the page."""
_GAP_IN_STEPS = 3.0


@dataclass(frozen=True, slots=True)
class PackedLine:
    """One radargram as text, its traces `step_m` apart, samples `step_ns` apart."""

    text: str
    traces: int
    samples: int
    first_m: float
    step_m: float


@dataclass(frozen=True, slots=True)
class PackedLines:
    """All radargrams of a page; `step_ns` between samples; `joined` traces stand as one."""

    lines: tuple[PackedLine, ...]
    step_ns: float
    joined: int


def pack_lines(given: PageRadargrams, most_bytes: int) -> PackedLines:
    """Pack radargrams, with fewer traces if they would not fit.

    Parameters
    ----------
    given : PageRadargrams
        Conditioned lines.
    most_bytes : int
        Upper bound on the packed text.

    Returns
    -------
    PackedLines
        In the order given. Every column is the trace nearest to it; where none lies within three steps it is blank.
    """
    stride = max(1, int(1e3 / given.frequency_mhz / SAMPLES_A_PERIOD / given.interval_ns))
    apart = float(np.median([np.median(np.diff(line.along_m)) for line in given.lines]))
    joined = max(1, int(given.wavelength_m / TRACES_A_WAVELENGTH / apart))
    while True:
        pack = partial(_pack, stride=stride, joined=joined, limit=FULL * given.limit)
        with ThreadPoolExecutor(2) as pool:
            packed = tuple(pool.map(pack, given.lines))
        size = sum(len(line.text) for line in packed)
        if size <= most_bytes or all(line.traces <= 2 for line in packed):
            return PackedLines(packed, stride * given.interval_ns, joined)
        joined = max(joined + 1, int(joined * size / most_bytes))


def signed_bytes(values: Float32, limit: float) -> NDArray[np.uint8]:
    """Scale -limit..limit to 1..255 with nought at 128, the ends holding all beyond; 0 is blank."""
    scaled = np.clip(values * np.float32(127.0 / limit), -127.0, 127.0) + np.float32(128.5)
    return np.where(np.isnan(values), np.float32(0.0), scaled).astype(np.uint8)


def _pack(line: CleanLine, stride: int, joined: int, limit: float) -> PackedLine:
    along = line.along_m
    step = joined * float(np.median(np.diff(along)))
    count = max(2, round((along[-1] - along[0]) / step) + 1)
    at = along[0] + step * np.arange(count)
    after = np.clip(np.searchsorted(along, at), 1, len(along) - 1)
    nearest = np.where(at - along[after - 1] <= along[after] - at, after - 1, after)
    cells = signed_bytes(line.traces[nearest, ::stride], limit)
    blank = ~line.usable[nearest] | (np.abs(along[nearest] - at) > _GAP_IN_STEPS * step)
    cells[blank] = 0
    return PackedLine(pack_slice(cells), cells.shape[0], cells.shape[1], float(along[0]), step)

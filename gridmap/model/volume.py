"""The volume over the local grid, and the windows that slices are cut from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from gridmap.model.arrays import Float32, Float64
from gridmap.model.grid import Grid


@dataclass(frozen=True, slots=True)
class Volume:
    """Values over (z, y, x): depth positive down or two-way time, then the local grid.

    Attributes
    ----------
    values : (z, y, x) float32
        NaN where no trace is near enough.
    grid : Grid
        The cells of the last two axes.
    axis : "depth" or "time"
        What the first axis is: metres below the surface, or nanoseconds of two-way time.
    first, step : float
        Value of sample 0 and the step on the first axis, metres or nanoseconds.
    quantity : str
        What the values are, such as "envelope of the migrated echo".
    """

    values: Float32
    grid: Grid
    axis: Literal["depth", "time"]
    first: float
    step: float
    quantity: str

    def axis_values(self) -> Float64:
        """Return the first axis, (z,) metres or nanoseconds."""
        return np.asarray(self.first + self.step * np.arange(self.values.shape[0]), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Window:
    """The span of depth, and the same span of time, that one slice stands for."""

    axis: Literal["depth", "time"]
    top_m: float
    base_m: float
    top_ns: float
    base_ns: float

    @property
    def label(self) -> str:
        """Words for a person, such as "0.40 to 0.50 m"."""
        if self.axis == "depth":
            return f"{self.top_m:.2f} to {self.base_m:.2f} m"
        return f"{self.top_ns:.1f} to {self.base_ns:.1f} ns"

    @property
    def stem(self) -> str:
        """A file name without suffix that sorts by depth, such as depth_00.40-00.50m."""
        if self.axis == "depth":
            return f"depth_{self.top_m:05.2f}-{self.base_m:05.2f}m"
        return f"time_{self.top_ns:05.1f}-{self.base_ns:05.1f}ns"


@dataclass(frozen=True, slots=True)
class SliceStack:
    """Slices cut from one volume.

    Attributes
    ----------
    values : (slice, row, column) float32
        Over whatever grid the stack is used with; NaN where blank.
    windows : tuple of Window
        One a slice, from the top down.
    quantity : str
        What the values are.
    """

    values: Float32
    windows: tuple[Window, ...]
    quantity: str

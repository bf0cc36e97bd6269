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
    ground_m : (y, x) float64 or None
        Elevation of the ground, metres, that depths are counted from; None: the ground is taken as level and its
        elevation is not known.
    """

    values: Float32
    grid: Grid
    axis: Literal["depth", "time"]
    first: float
    step: float
    quantity: str
    ground_m: Float64 | None = None

    def axis_values(self) -> Float64:
        """Return the first axis, (z,) metres or nanoseconds."""
        return np.asarray(self.first + self.step * np.arange(self.values.shape[0]), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Window:
    """The span of depth, and the same span of time, that one slice stands for.

    Attributes
    ----------
    axis : "depth", "time" or "elevation"
        What the slice is cut by.
    top_m, base_m : float
        Depth below the ground, metres; where the axis is elevation, below the level `datum_m`.
    top_ns, base_ns : float
        Two-way time from time zero, nanoseconds; NaN where the axis is elevation, since one level lies at many
        times.
    datum_m : float or None
        Elevation that a level slice is counted down from, metres: the highest ground, rounded up.
    """

    axis: Literal["depth", "time", "elevation"]
    top_m: float
    base_m: float
    top_ns: float
    base_ns: float
    datum_m: float | None = None

    @property
    def elevation_m(self) -> tuple[float, float]:
        """Elevation of the upper and the lower side of a level slice, metres; NaN for other slices."""
        datum = float("nan") if self.datum_m is None else self.datum_m
        return round(datum - self.top_m, 6), round(datum - self.base_m, 6)

    @property
    def label(self) -> str:
        """Words for a person, such as "0.40 to 0.50 m"; elevations where the slice is level."""
        if self.axis == "depth":
            return f"{self.top_m:.2f} to {self.base_m:.2f} m"
        if self.axis == "elevation":
            return "{:.2f} to {:.2f} m".format(*self.elevation_m)
        return f"{self.top_ns:.1f} to {self.base_ns:.1f} ns"

    @property
    def stem(self) -> str:
        """A file name without suffix that sorts by depth, such as depth_00.40-00.50m.

        A level slice is named by how far below its datum it lies, and by the datum.
        """
        if self.axis == "depth":
            return f"depth_{self.top_m:05.2f}-{self.base_m:05.2f}m"
        if self.axis == "elevation":
            return f"level_{self.top_m:05.2f}-{self.base_m:05.2f}m_below_{self.datum_m:.2f}m"
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

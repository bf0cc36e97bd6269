"""The parts that a large volume is made from: each a task that writes one file, whole or not at all.

A task is a frozen record that can be pickled: large arrays are held as the paths of their files, so that it can be
sent to another process or machine that sees the same folders. `run` reads nothing but those files and writes nothing
but `out`; it may be run twice, or at two places at once, and gives the same bytes. So whoever runs tasks needs to know
only this: those whose `out` exists are done; the others of one list may be run in any order and at the same time, and
all of them are to be done before the next list. `do` is the function for `gridmap.pipeline.workers.Workers.each`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np

from gridmap.files import whole_file
from gridmap.image.fold import coverage_of, divide_by_fold
from gridmap.image.merge import merge_by_coverage
from gridmap.image.migrate import LinePlan, SumPlan, envelope_in_place, sum_3d
from gridmap.model import CleanLine, Float32, Float64, Grid, Int64, VelocityModel
from gridmap.model.array_file import ArrayFile
from gridmap.site.records import Interpolation
from gridmap.volume.build import Gridding, image_lines
from gridmap.volume.likeness import Likeness
from gridmap.volume.sources import Sources
from gridmap.volume.tiles import Tile


class Task(Protocol):
    """One part of the work."""

    @property
    def out(self) -> Path:
        """The file that it writes."""
        ...

    def run(self) -> None:
        """Do it."""
        ...


def do(task: Task) -> None:
    """Run a task, here or wherever this function is sent."""
    task.run()


@dataclass(frozen=True, slots=True)
class ImageLines:
    """Image a few lines each by itself: envelope against depth at their posts, (post, depth), one after the other."""

    out: Path
    lines: tuple[CleanLine, ...]
    plan: LinePlan | None
    interval_ns: float
    velocity: VelocityModel
    depth_m: Float64
    cell_m: float

    def run(self) -> None:
        """Do it."""
        given = self.lines, self.plan, self.interval_ns, self.velocity, self.depth_m, self.cell_m
        write_arrays(self.out, *image_lines(*given))


@dataclass(frozen=True, slots=True)
class SumTile:
    """Sum the lines near one tile: (depth + fold, row, column), the image and after it the weights summed."""

    out: Path
    tile: Tile
    grid: Grid
    lines: tuple[CleanLine, ...]
    plan: SumPlan

    def run(self) -> None:
        """Do it."""
        write_arrays(self.out, *sum_3d(self.lines, self.plan, self.grid, self.tile.part))


@dataclass(frozen=True, slots=True)
class Sums:
    """What `SumTile` made of a tile, and what of all of them it is divided by.

    Attributes
    ----------
    file : Path
        Of the tile.
    peak, usual : (fold,) float32
        Largest and usual weights in the whole survey.
    """

    file: Path
    peak: Float32
    usual: Float32


@dataclass(frozen=True, slots=True)
class FillTile:
    """Fill one tile: (depth + beside + 1, row, column), volume, what else is spread, standard error.

    Attributes
    ----------
    out : Path
        The file written.
    grid : Grid
        Cells of the tile.
    sources : Sources
        Posts within reach of it.
    index : (post,) int64
        Which of all posts these are, rising.
    likeness, blank_m, interpolation
        As for `Gridding.over`.
    posts : tuple of Path
        Files of `ImageLines`, one after the other holding all posts.
    beside : Path
        File of the other values of all posts.
    sums : Sums or None
        None where nothing is summed across lines.
    distance_m : (row, column) float32
        Distance to the nearest trace.
    """

    out: Path
    grid: Grid
    sources: Sources
    index: Int64
    likeness: Likeness
    blank_m: float
    interpolation: Interpolation
    posts: tuple[Path, ...]
    beside: Path
    sums: Sums | None
    distance_m: Float32

    def run(self) -> None:
        """Do it."""
        gridding = Gridding.over(self.sources, self.grid, self.likeness, self.blank_m, self.interpolation)
        values = gridding.spread(gathered(self.posts, self.index))
        if self.sums is not None:
            both = ArrayFile.of(self.sums.file).array()
            image, fold = both[: len(values)].copy(), both[len(values) :].copy()
            del both
            divide_by_fold(image, fold, self.sums.peak)
            envelope_in_place(image)
            merge_by_coverage(image, coverage_of(fold, self.sums.usual), values)
            values = image
        values[:, self.distance_m > self.blank_m] = np.nan
        write_arrays(
            self.out, values, gridding.spread(gathered([self.beside], self.index)), gridding.sd[None]
        )


def gathered(files: Sequence[Path], index: Int64) -> Float32:
    """Take rows, rising, out of arrays that follow each other in files."""
    parts, first = [], 0
    for path in files:
        file = ArrayFile.of(path)
        low, high = np.searchsorted(index, [first, first + file.shape[0]])
        if high > low:
            parts.append(file.array()[index[low:high] - first])
        first += file.shape[0]
    return np.concatenate(parts) if parts else np.empty((0, ArrayFile.of(files[0]).shape[1]), np.float32)


def write_arrays(path: Path, *arrays: Float32) -> None:
    """Write arrays one after the other along their first axis as an .npy file, whole or not at all."""
    shape = sum(len(array) for array in arrays), *arrays[0].shape[1:]
    with whole_file(path) as part, part.open("wb") as stream:
        head = {"descr": "<f4", "fortran_order": False, "shape": shape}
        np.lib.format.write_array_header_1_0(stream, head)
        for array in arrays:
            stream.write(np.ascontiguousarray(array, np.float32).data)

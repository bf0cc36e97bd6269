"""The volume, and all else that is spread between the lines: at once where it is small, by tiles where it is not."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from gridmap.files import whole_file
from gridmap.image.fold import fold_peak, usual_fold
from gridmap.image.migrate import plan_2d, plan_3d, reach_of
from gridmap.image.over_terrain import Uneven
from gridmap.model import CleanLine, Float32, Float64, Grid, VelocityModel, Volume
from gridmap.model.array_file import ArrayFile
from gridmap.pipeline.tile_tasks import FillTile, ImageLines, Sums, SumTile, Task, do, write_arrays
from gridmap.pipeline.work import Work
from gridmap.pipeline.workers import Workers
from gridmap.site.records import Interpolation
from gridmap.volume.build import LINES_AT_ONCE, Gridding, depth_volume, quantity_words
from gridmap.volume.likeness import Likeness
from gridmap.volume.sources import Sources, sources_near
from gridmap.volume.tiles import Tile, lines_near, plan_tiles


@dataclass(frozen=True, slots=True)
class Filling:
    """What a volume is filled from.

    Attributes
    ----------
    mode, method
        As for `gridmap.volume.build.depth_volume`.
    lines : sequence of CleanLine
        The survey.
    interval_ns, separation_m, velocity, depth_m
        As there.
    grid : Grid
        The cells.
    distance_m : (row, column) float32
        Distance to the nearest trace.
    blank_m : float
        Cells farther than this from any post stay blank, metres.
    sources : Sources
        Posts of all lines.
    likeness, interpolation
        How values between them are found.
    beside : (post, layer) float32
        What else is spread between the lines.
    uneven : Uneven or None
        The ground where migration may not take it as flat.
    """

    mode: Literal["3d", "2d", "none"]
    method: Literal["stolt", "kirchhoff"]
    lines: Sequence[CleanLine]
    interval_ns: float
    separation_m: float
    velocity: VelocityModel
    depth_m: Float64
    grid: Grid
    distance_m: Float32
    blank_m: float
    sources: Sources
    likeness: Likeness
    interpolation: Interpolation
    beside: Float32
    uneven: Uneven | None

    def depends(self) -> list[object]:
        """Say what the result depends on besides the lines."""
        return [
            self.mode, self.method, self.separation_m, self.velocity, self.depth_m, self.grid, self.distance_m,
            self.blank_m, self.sources, self.likeness, self.interpolation, self.beside, self.uneven,
            self.tiles,
        ]  # fmt: skip

    @property
    def tiles(self) -> tuple[Tile, ...]:
        """The plan, see `volume_tiles`."""
        samples = self.lines[0].traces.shape[1]
        return volume_tiles(self.grid, len(self.depth_m), samples, self.method, self.uneven)


def volume_tiles(
    grid: Grid, depths: int, samples: int, method: Literal["stolt", "kirchhoff"], uneven: Uneven | None
) -> tuple[Tile, ...]:
    """Plan the tiles; one where the ground is uneven, whose sums know no tiles yet, or waves are transformed whole."""
    if uneven is not None or method == "stolt":
        return (Tile(0, (0, grid.rows), (0, grid.columns)),)
    return plan_tiles(grid, max(depths, samples))


@dataclass(frozen=True, slots=True)
class Filled:
    """The volume; (layer, row, column) of what else was spread; standard error of that, (row, column)."""

    volume: Volume
    beside: Float32
    sd: Float32


def fill(f: Filling, work: Work, key: str, who: Workers, tick: Callable[[float], None]) -> Filled:
    """Fill the volume; its values stay in a file of the work folder."""
    if len(f.tiles) > 1:
        return _by_tiles(f, work, key, who, tick)
    gridding = Gridding.over(f.sources, f.grid, f.likeness, f.blank_m, f.interpolation)
    volume = depth_volume(
        f.mode, f.lines, f.interval_ns, f.separation_m, f.velocity, f.depth_m, f.distance_m, gridding, tick,
        f.uneven, f.method,
    )  # fmt: skip
    stored = replace(volume, values=work.store("volume", key, volume.values))
    return Filled(stored, gridding.spread(f.beside), gridding.sd)


def _by_tiles(f: Filling, work: Work, key: str, who: Workers, tick: Callable[[float], None]) -> Filled:
    def file(name: str) -> Path:
        return work.folder / f"volume-{key}-{name}.npy"

    def done(tasks: Sequence[Task], first: float, last: float) -> None:
        left = [task for task in tasks if not task.out.exists()]
        with work.writing():
            who.each(do, left, lambda share: tick(first + (last - first) * share))

    lines, tiles = tuple(f.lines), f.tiles
    plan = (
        None
        if f.mode == "none"
        else plan_2d(lines, f.interval_ns, f.separation_m, f.velocity, f.depth_m, f.grid.cell_m)
    )
    images = [
        ImageLines(
            file(f"lines-{a}"), lines[a : a + LINES_AT_ONCE], plan, f.interval_ns, f.velocity, f.depth_m, f.grid.cell_m
        )
        for a in range(0, len(lines), LINES_AT_ONCE)
    ]  # fmt: skip
    done(images, 0.0, 0.2)
    sums = _summed(f, tiles, file, done) if f.mode == "3d" else [None for _ in tiles]
    with work.writing():
        write_arrays(file("beside"), f.beside)
    line_m = f.sources.line_m if np.isfinite(f.sources.line_m) else 0.0
    fills = []
    for tile, summed in zip(tiles, sums, strict=True):
        grid = tile.grid(f.grid)
        near, index = sources_near(f.sources, grid, 2.0 + 4.0 * line_m)
        fills.append(
            FillTile(
                file(f"tile-{tile.number}"), grid, near, index, f.likeness, f.blank_m, f.interpolation,
                tuple(task.out for task in images), file("beside"), summed, f.distance_m[tile.part],
            )
        )  # fmt: skip
    done(fills, 0.7, 0.95)
    made = [task.out for task in fills]
    depths, layers = len(f.depth_m), len(f.depth_m) + f.beside.shape[1] + 1
    whole = work.folder / f"volume-{key}.npy"
    with work.writing():
        _join(whole, f.grid, tiles, made, (0, depths))
        _join(file("rest"), f.grid, tiles, made, (depths, layers))
    rest = np.array(ArrayFile.of(file("rest")).array())
    for path in work.folder.glob(f"volume-{key}-*.npy"):
        path.unlink()
    step = float(f.depth_m[1] - f.depth_m[0])
    values = ArrayFile.of(whole).array()
    volume = Volume(values, f.grid, "depth", float(f.depth_m[0]), step, quantity_words(f.mode))
    return Filled(volume, rest[:-1], rest[-1])


def _summed(
    f: Filling,
    tiles: Sequence[Tile],
    file: Callable[[str], Path],
    done: Callable[[Sequence[Task], float, float], None],
) -> list[Sums]:
    """Sum across lines in every tile, and find what all of them are divided by."""
    plan = plan_3d(f.lines, f.interval_ns, f.separation_m, f.velocity, f.grid.cell_m, f.depth_m)
    reach_m = reach_of(plan, f.grid.cell_m)
    tasks = [
        SumTile(file(f"sum-{t.number}"), t, f.grid, lines_near(f.lines, t.grid(f.grid), reach_m), plan)
        for t in tiles
    ]
    done(tasks, 0.2, 0.7)
    peaks, usual = [], []
    for k in range(len(f.depth_m), ArrayFile.of(tasks[0].out).shape[0]):
        layer = np.concatenate([ArrayFile.of(task.out).array()[k].ravel() for task in tasks])[None]
        peaks.append(fold_peak(layer))
        usual.append(usual_fold(layer))
    peak, common = np.concatenate(peaks), np.concatenate(usual)
    return [Sums(task.out, peak, common) for task in tasks]


def _join(
    path: Path, grid: Grid, tiles: Sequence[Tile], files: Sequence[Path], layers: tuple[int, int]
) -> None:
    """Write some layers of all tiles as one array (layer, row, column), layer by layer to bound memory."""
    first, last = layers
    with whole_file(path) as part, part.open("wb") as stream:
        head = {"descr": "<f4", "fortran_order": False, "shape": (last - first, *grid.shape)}
        np.lib.format.write_array_header_1_0(stream, head)
        plane = np.empty(grid.shape, np.float32)
        for k in range(first, last):
            for tile, file in zip(tiles, files, strict=True):
                plane[tile.part] = ArrayFile.of(file).array()[k]
            stream.write(plane.data)

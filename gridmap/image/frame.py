"""A grid as seen along the lines of one walking direction: its rows run with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridmap.image.even import EvenLine, differentiate, even_places, even_traces
from gridmap.image.rows import Rows, rows_of, rows_used
from gridmap.model import CleanLine, Grid, Int64


@dataclass(frozen=True, slots=True)
class Frame:
    """Rows along the lines, columns along each, padded on both sides.

    Attributes
    ----------
    first_m, across_first_m : float
        Position of the grid's column 0 and row 0, metres.
    cell_m : float
        Cell side, metres.
    rows, columns, pad : int
        Rows and columns of the grid; columns added on each side.
    along_axis : int
        Which co-ordinate runs along the rows: 0 for x, 1 for y.
    shift : int
        Column of the grid that this frame begins at, behind the pad.
    beyond : int
        Columns of the grid after those of this frame.
    """

    first_m: float
    across_first_m: float
    cell_m: float
    rows: int
    columns: int
    pad: int
    along_axis: int
    shift: int = 0
    beyond: int = 0

    @classmethod
    def of(cls, grid: Grid, turned: bool, pad: int, along: slice | None = None) -> Frame:
        """See a grid along x, or (`turned`) along y; of its columns in that view all, or those `along`."""
        if turned:
            whole = cls(grid.y_first_m, grid.x_first_m, grid.cell_m, grid.columns, grid.rows, pad, 1)
        else:
            whole = cls(grid.x_first_m, grid.y_first_m, grid.cell_m, grid.rows, grid.columns, pad, 0)
        if along is None:
            return whole
        columns = along.stop - along.start
        return replace(whole, columns=columns, shift=along.start, beyond=whole.columns - along.stop)

    @property
    def wide(self) -> int:
        """Columns, pads included."""
        return self.columns + 2 * self.pad

    def places(self, line: CleanLine) -> tuple[Int64, Int64]:
        """Give padded column and row of every post of a line, its ends prolonged by the pad."""
        xy = line.xy_m[line.usable]
        return even_places(
            xy[:, self.along_axis], xy[:, 1 - self.along_axis], self.first_m, self.across_first_m,
            self.cell_m, self.columns, self.pad, self.shift,
        )  # fmt: skip

    def even(self, line: CleanLine, interval_ns: float, order: float, bridge_m: float) -> EvenLine:
        """Average a line over its cells and differentiate it; see `even_traces`."""
        column, row = self.places(line)
        # Gaps are filled from what lies on both sides, so the whole line is averaged whatever part is wanted.
        whole, _ = replace(self, columns=self.shift + self.columns + self.beyond, shift=0, beyond=0).places(
            line
        )
        traces, trust = even_traces(
            line.xy_m[line.usable, self.along_axis], line.traces[line.usable], whole - self.pad,
            self.first_m, self.cell_m, bridge_m,
        )  # fmt: skip
        first = int(column[0]) + self.shift - int(whole[0])
        part = slice(first, first + len(column))
        return EvenLine(column, row, trust[part], differentiate(traces[part], interval_ns, order))

    def lay(
        self,
        lines: Sequence[CleanLine],
        interval_ns: float,
        order: float,
        bridge_m: float,
        line_m: float,
        span: tuple[int, int] | None = None,
        mirror: int = 0,
    ) -> Rows:
        """Lay lines on rows.

        Parameters
        ----------
        lines : sequence of CleanLine
            All of this walking direction, each with a usable trace.
        interval_ns, order
            Of the samples; of the fractional derivative.
        bridge_m : float
            Widest gap along a line that is bridged, metres.
        line_m : float
            Usual distance between lines, metres; infinite for one.
        span : (int, int) or None
            Only rows from the first to before the last; None: all.
        mirror : int
            Rows beyond the outermost that show the lines mirrored.
        """
        first, last = span or (0, self.rows)
        rows = [self.places(ln)[1] for ln in lines]
        used = rows_used(rows, first, last)
        even = (
            self.even(ln, interval_ns, order, bridge_m)
            for ln, row in zip(lines, rows, strict=True)
            if np.isin(row, used).any()
        )
        return rows_of(even, used, self.wide, lines[0].traces.shape[1], line_m / self.cell_m, mirror)

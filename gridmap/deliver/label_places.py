"""Labels beside what they name, where they hide nothing that is already there."""

from __future__ import annotations

import itertools

import numpy as np
from PIL import ImageDraw

from gridmap.deliver.drawing import PAPER, Font
from gridmap.deliver.plot_area import PlotArea
from gridmap.model import Float64

_GAP_PX = 9
_BLOCK_PX = 10


class LabelPlaces:
    """Places still free in a map: a coarse grid of what is taken.

    Parameters
    ----------
    area : PlotArea
        The map; no label leaves it.
    face : Font
        Of all labels.
    """

    def __init__(self, area: PlotArea, face: Font) -> None:
        self._area, self._face = area, face
        self._taken = np.zeros((area.height_px // _BLOCK_PX + 2, area.width_px // _BLOCK_PX + 2), int)

    def block(self, points_px: Float64) -> None:
        """Mark a path (vertex, 2) in pixels as taken."""
        fine = np.concatenate(
            [points_px[:1]]
            + [
                np.linspace(a, b, max(2, int(np.hypot(*(b - a)) / _BLOCK_PX) + 1))
                for a, b in itertools.pairwise(points_px)
            ]
        )
        row, column = self._cells(fine)
        self._taken[row, column] += 1

    def write(
        self, draw: ImageDraw.ImageDraw, text: str, points_px: Float64, colour: tuple[int, int, int]
    ) -> None:
        """Write beside the middle of a path, or beside other places along it, wherever least is hidden."""
        at = self.take(text, points_px)
        draw.text(at, text, font=self._face, fill=colour, stroke_width=3, stroke_fill=PAPER)

    def take(self, text: str, points_px: Float64) -> tuple[float, float]:
        """Find that place, mark it as taken, and return its upper left corner, pixels."""
        width = self._face.getlength(text)
        height = self._face.size * 1.2
        tries = []
        n = len(points_px)
        for share in (0.5, 0.3, 0.7, 0.15, 0.85):
            x, y = points_px[min(n - 1, round(share * (n - 1)))]
            tries += [
                (x + dx, y + dy)
                for dx in (_GAP_PX, -_GAP_PX - width, -0.5 * width)
                for dy in (-0.5 * height, _GAP_PX, -_GAP_PX - height)
            ]
        costs = [self._cost(x, y, width, height) for x, y in tries]
        x, y = tries[int(np.argmin(costs))]
        row, column = self._box(x, y, width, height)
        self._taken[row, column] += 3
        return float(x), float(y)

    def _cost(self, x: float, y: float, width: float, height: float) -> float:
        a = self._area
        out = max(0.0, a.left_px - x, x + width - a.left_px - a.width_px)
        out += max(0.0, a.top_px - y, y + height - a.top_px - a.height_px)
        return float(self._taken[self._box(x, y, width, height)].sum()) + 100 * out

    def _box(self, x: float, y: float, width: float, height: float) -> tuple[slice, slice]:
        (r0, r1), (c0, c1) = self._cells(np.array([[x, y], [x + width, y + height]]))
        return slice(r0, r1 + 1), slice(c0, c1 + 1)

    def _cells(self, points_px: Float64) -> tuple[np.ndarray, np.ndarray]:
        row = ((points_px[:, 1] - self._area.top_px) / _BLOCK_PX).astype(int)
        column = ((points_px[:, 0] - self._area.left_px) / _BLOCK_PX).astype(int)
        rows, columns = self._taken.shape
        return np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)

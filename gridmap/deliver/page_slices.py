"""Slices packed small enough to lie inside one page: 8 bits a cell, row differences, deflate, base64."""

from __future__ import annotations

import base64
import zlib
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gridmap.deliver.plot_area import coarser
from gridmap.model import Float32

MOST_BYTES = 16_000_000
"""Upper bound on all packed slices of a page, which leaves room for its radargrams."""
_LEVEL = 4  # of deflate: a fifth of the time of level 6, 5 % more bytes


@dataclass(frozen=True, slots=True)
class PackedStack:
    """A stack as text: `lines` holds one slice each; `rows` and `columns` of the cells as packed."""

    lines: tuple[str, ...]
    rows: int
    columns: int


def to_bytes(values: Float32, colour_range: tuple[float, float]) -> NDArray[np.uint8]:
    """Scale to 1..255, the ends holding all beyond; 0 is blank.

    The square root of the share of the range is stored, so that steps among weak echoes are fine enough to be
    stretched: at a hundredth of the range one step is 0.08 % of it, at the top 0.8 %.
    """
    low, high = colour_range
    share = np.clip((values - np.float32(low)) * np.float32(1.0 / (high - low)), 0.0, 1.0)
    scaled = np.float32(254.0) * np.sqrt(share) + np.float32(1.5)
    return np.where(np.isnan(values), np.float32(0.0), scaled).astype(np.uint8)


def pack_slice(cells: NDArray[np.uint8]) -> str:
    """Pack one slice: each row minus the one above, modulo 256, raw deflate (RFC 1951), base64."""
    rows = np.diff(cells, axis=0, prepend=np.uint8(0))
    deflate = zlib.compressobj(_LEVEL, zlib.DEFLATED, -15)
    return base64.b64encode(deflate.compress(rows.tobytes()) + deflate.flush()).decode("ascii")


def pack_stacks(
    stacks: Sequence[tuple[Float32, tuple[float, float]]], most_bytes: int = MOST_BYTES
) -> tuple[list[PackedStack], int]:
    """Pack all stacks of a page, with coarser cells if they would not fit.

    Parameters
    ----------
    stacks : sequence of ((slice, row, column) float32, (low, high))
        Values and scale.
    most_bytes : int
        Upper bound on the packed text.

    Returns
    -------
    list of PackedStack
        In the order given.
    int
        Cells joined along each side; 1 where the page holds every cell. Joined by `plot_area.coarser`.
    """
    factor = 1
    while True:
        packed = [_pack(values, ends, factor) for values, ends in stacks]
        small = all(stack.rows <= 1 and stack.columns <= 1 for stack in packed)
        if small or sum(len(line) for stack in packed for line in stack.lines) <= most_bytes:
            return packed, factor
        factor *= 2


def _pack(values: Float32, ends: tuple[float, float], factor: int) -> PackedStack:
    rows, columns = (-(-n // factor) for n in values.shape[1:])
    with ThreadPoolExecutor(2) as pool:
        lines = tuple(pool.map(lambda layer: pack_slice(to_bytes(coarser(layer, factor), ends)), values))
    return PackedStack(lines, rows, columns)

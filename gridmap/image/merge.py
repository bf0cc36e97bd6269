"""3D where the lines cover it, 2D where they do not: two images of one volume made into one."""

from __future__ import annotations

import numpy as np

from gridmap.image.fold import FOLD_EVERY
from gridmap.model import Float32


def merge_by_coverage(volume_3d: Float32, coverage: Float32, from_lines: Float32) -> None:
    """Blend the envelope of the 3D image with that of the lines' own images, in place.

    Parameters
    ----------
    volume_3d : (depth, row, column) float32
        Envelope of the 3D image; takes the result.
    coverage : (depth / `FOLD_EVERY`, row, column) float32
        From `migrate_3d`: the share that 3D gets.
    from_lines : (depth, row, column) float32
        Envelope of the 2D images, spread between the lines. NaN where no line is near: 3D stays alone.

    Notes
    -----
    A sum across lines that may not alias has nothing to add up between shallow lines, and shows stripes. There the
    smooth envelope between the lines tells more. Measured: `benchmarks/spacing_contrast.py`.
    """
    for k in range(len(volume_3d)):
        at = min(k / FOLD_EVERY, len(coverage) - 1)
        low = int(at)
        high, step = min(low + 1, len(coverage) - 1), np.float32(at - low)
        share = (1 - step) * coverage[low] + step * coverage[high]
        other = np.where(np.isnan(from_lines[k]), volume_3d[k], from_lines[k])
        volume_3d[k] = share * volume_3d[k] + (1 - share) * other

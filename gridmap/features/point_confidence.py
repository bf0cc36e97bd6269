"""How sure a point is: a logistic of a few physical measures, calibrated on simulated surveys.

`python -m benchmarks.feature_calibration` draws the surveys, fits the weights and writes the plot in docs/.
"""

from __future__ import annotations

import numpy as np

from gridmap.features.point_measures import PointMeasures
from gridmap.model import Bool, Float64

NAMES = ("quality", "rounder", "contrast", "standing", "seen", "both ways")
WEIGHTS = (-9.45, 4.36, 2.48, 1.79, 0.22, 3.76, 0.21)
"""Constant first, then one for each of `terms`."""
LEAST_STANDING = -0.5
"""What stands out less than this of the ground's own maxima is one of them (see `PointMeasures.standing`)."""


def worth_looking(m: PointMeasures) -> Bool:
    """Say which places stand out of the ground's own small echoes at all."""
    return np.asarray(m.small & (m.standing >= LEAST_STANDING))


def terms(m: PointMeasures) -> Float64:
    """Bring the measures to a scale on which a logistic is reasonable, (place, 6).

    Logarithms of quality, of roundness and of contrast; standing, held at 3; lines that show it over lines near it,
    drawn towards one half where few are near; 1 where two directions of walking show it.
    """
    return np.stack(
        [
            np.log(np.maximum(m.quality, 0.1)),
            np.log(np.clip(m.rounder, 0.2, 3.0)),
            np.log(np.clip(m.contrast, 0.3, 10.0)),
            np.clip(m.standing, -4.0, 3.0),
            (m.shown + 1.0) / (m.asked + 2.0),
            (m.ways == 2).astype(float),
        ],
        axis=1,
    )


def confidence(m: PointMeasures) -> Float64:
    """Probability that each place is real, (place,), 0 to 1."""
    return np.asarray(1.0 / (1.0 + np.exp(-(WEIGHTS[0] + terms(m) @ np.array(WEIGHTS[1:])))))

"""How sure a linear feature is: a logistic of a few physical measures, calibrated on simulated surveys.

`python -m benchmarks.feature_calibration` draws the surveys, fits the weights and writes the plot in docs/.
"""

from __future__ import annotations

import math

import numpy as np

from gridmap.features.linear_measures import Measures
from gridmap.model import Float64

NAMES = ("quality", "pipe share", "contrast", "seen", "length", "bends", "none crossed")
WEIGHTS = (-11.55, 0.15, 3.43, 1.05, 5.58, 2.41, -1.98, -1.05)
"""Constant first, then one for each of `terms`."""


def terms(m: Measures) -> Float64:
    """Bring the measures to a scale on which a logistic is reasonable, (7,).

    Parameters
    ----------
    m : Measures
        Of one path.

    Returns
    -------
    (7,) float64
        Logarithm of quality; share where it is a pipe; logarithm of contrast; lines that show it over lines
        crossed, drawn towards one half where few are crossed; logarithm of length in metres; logarithm of one plus
        the bend over a metre in units of 5 degrees; 1 where it crosses no line.
    """
    return np.array(
        [
            math.log(max(m.quality, 0.1)),
            m.pipe_share,
            math.log(float(np.clip(m.contrast, 0.3, 10.0))),
            (m.shown + 1.0) / (m.crossed + 2.0),
            math.log(float(np.clip(m.length_m, 0.5, 8.0))),
            math.log(1.0 + m.bend_deg / 5.0),
            float(m.crossed == 0),
        ]
    )


def confidence(m: Measures) -> float:
    """Probability that a path is real, 0 to 1."""
    z = WEIGHTS[0] + float(np.dot(WEIGHTS[1:], terms(m)))
    return 1.0 / (1.0 + math.exp(-z))

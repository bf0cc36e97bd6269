"""Travel times through layers against Fermat's principle and an independent ray tracer."""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from benchmarks.simulate.ground import Layer, trace_rays
from gridmap.image.travel import one_way_ns
from gridmap.model import VelocityModel


def two_layers(v1=0.13, v2=0.08, top=0.4):
    return VelocityModel(np.array([0.0, top]), np.array([v1, v2]), 0.0, "")


@pytest.mark.parametrize(("v1", "v2"), [(0.13, 0.08), (0.07, 0.12)])
def test_ray_takes_the_quickest_way(v1, v2):
    """Fermat's principle: no other crossing point of the boundary is quicker (found by a general minimiser)."""
    depth, offset, top = 1.0, 0.9, 0.4

    def through(x):
        return np.hypot(x, top) / v1 + np.hypot(offset - x, depth - top) / v2

    best = minimize_scalar(through, bounds=(0, offset), method="bounded", options={"xatol": 1e-10}).fun
    found = one_way_ns(two_layers(v1, v2), np.array([depth]), np.array([offset]))[0, 0]
    assert found == pytest.approx(best, abs=1e-6)


def test_three_layers_agree_with_another_ray_tracer():
    """The tracer of the simulator, written apart from this one, gives the same times to a picosecond."""
    top, v = np.array([0.0, 0.3, 0.8]), np.array([0.12, 0.09, 0.07])
    depth, offset = np.array([0.1, 0.3, 0.55, 1.4]), np.array([0.0, 0.2, 1.5])
    layers = tuple(
        Layer("", h, (0.299792458 / speed) ** 2) for h, speed in zip([0.3, 0.5, np.inf], v, strict=True)
    )
    theirs = trace_rays(layers, depth[:, None], offset[None, :])[0]
    assert one_way_ns(VelocityModel(top, v, 0.0, ""), depth, offset) == pytest.approx(theirs, abs=1e-3)


def test_one_velocity_is_a_straight_line():
    """t = sqrt(x^2 + z^2) / v (trade.md 1.3, thin pipe)."""
    model = VelocityModel(np.array([0.0, 0.5]), np.array([0.1, 0.1]), 0.0, "")
    times = one_way_ns(model, np.array([0.3, 1.2]), np.array([0.0, 0.7]))
    assert times == pytest.approx(np.hypot(np.array([[0.3], [1.2]]), [0.0, 0.7]) / 0.1, abs=1e-9)

"""How the blurred shapes change, against differences of their values."""

import numpy as np
import pytest

from gridmap.features.outline_forms import form_of


@pytest.mark.parametrize("kind", ["rectangle", "ellipse"])
def test_changes_are_those_of_the_values(kind):
    """Central differences of a smooth function are its derivative to the square of their step."""
    u, v = np.random.default_rng(1).normal(size=(2, 200))
    form, start, step = form_of(kind), [u, v, *np.log([1.3, 0.9, 0.1])], 1e-5
    changes = form(u, v, 1.3, 0.9, 0.1)[1]
    for k, change in enumerate(changes):
        ends = []
        for sign in (-1, 1):
            p = list(start)
            p[k] = p[k] + sign * step
            ends.append(form(p[0], p[1], *np.exp(p[2:]))[0])
        assert np.abs((ends[1] - ends[0]) / (2 * step) - change).max() < 1e-6
        assert np.abs(change).max() > 0.1


@pytest.mark.parametrize("kind", ["rectangle", "ellipse"])
def test_edge_stands_at_half(kind):
    """A blurred edge keeps the middle of its step in place; inside is 1, far outside 0."""
    form = form_of(kind)
    value = form(np.array([0.0, 1.0, 3.0]), np.zeros(3), 2.0, 1.6, 0.1)[0]
    assert value == pytest.approx([1.0, 0.5, 0.0], abs=1e-6)

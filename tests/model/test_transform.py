"""The similarity, there and back."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gridmap.model import Similarity

NUMBERS = st.floats(-1e3, 1e3)


@given(st.floats(-180, 180), st.floats(0.99, 1.01), NUMBERS, NUMBERS)
def test_to_local_undoes_to_map(turn, scale, x, y):
    """Any turn and scale: round trip within a tenth of a millimetre."""
    a, b = scale * math.cos(math.radians(turn)), scale * math.sin(math.radians(turn))
    similarity = Similarity(5e5, 5.4e6, a, b)
    point = np.array([x, y])
    assert similarity.to_local(similarity.to_map(point)) == pytest.approx(point, abs=1e-4)


def test_a_site_grid_with_its_y_axis_on_bearing_30():
    """Origin 450000, 250000, y on 30 degrees: (20, 20) is 450027.3205, 250007.3205 (trade.md 3.3, calc)."""
    turn = math.radians(-30)
    similarity = Similarity(450000.0, 250000.0, math.cos(turn), math.sin(turn))
    assert similarity.to_map(np.array([20.0, 20.0])) == pytest.approx([450027.3205, 250007.3205], abs=1e-4)
    assert similarity.rotation_deg == pytest.approx(-30)

"""The grid on the map."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gridmap.errors import PlaceError, SiteError
from gridmap.plan.frame import lay_frame
from gridmap.plan.request import Area
from gridmap.site.records import ControlPoint


@given(st.floats(-180, 180), st.booleans(), st.floats(5, 60), st.floats(5, 60))
def test_a_turned_rectangle_on_the_map_becomes_an_upright_grid(turn, clockwise, wide, high):
    """x along the longer side, y to its left, all co-ordinates from 0, and back to the map within a millimetre."""
    a = math.radians(turn)
    rows = np.array([(0, 0), (wide, 0), (wide, high), (0, high)])
    corners = rows @ [[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]] + [563400.0, 5934100.0]
    corners = corners[::-1] if clockwise else corners
    frame = lay_frame(Area(corners_map_m=tuple(map(tuple, corners.tolist())), crs="EPSG:25832"))
    local = np.array(frame.corners_m)
    assert local.min(axis=0) == pytest.approx([0, 0], abs=2e-3)
    assert local.max(axis=0) == pytest.approx([max(wide, high), min(wide, high)], abs=2e-3)
    assert np.array([frame.map_of(p) for p in frame.corners_m]) == pytest.approx(corners, abs=2e-3)
    assert frame.to_map.scale == pytest.approx(1)


def test_stakes_of_a_site_grid_by_a_worked_pair():
    """Origin 450000, 250000 and y at bearing 30 degrees: (20, 20) is 450027.3205, 250007.3205 (by hand)."""
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    pegs = [
        ControlPoint(n, x, y, 450000 + x * c + y * s, 250000 - x * s + y * c)
        for n, x, y in (("A", 0, 0), ("B", 20, 0), ("C", 0, 20))
    ]
    frame = lay_frame(Area(((0, 0), (20, 0), (20, 20)), crs="EPSG:27700", control=tuple(pegs)))
    assert frame.map_of((20, 20)) == pytest.approx((450027.3205, 250007.3205), abs=1e-4)


def test_degrees_or_a_missing_crs_are_refused():
    """Stakes in degrees cannot be taped."""
    corners = ((563400.0, 5934100.0), (563410.0, 5934100.0), (563410.0, 5934110.0))
    with pytest.raises(SiteError, match="crs"):
        lay_frame(Area(corners_map_m=corners))
    with pytest.raises(PlaceError, match="degrees"):
        lay_frame(Area(corners_map_m=corners, crs="EPSG:4326"))

"""Control points and projections against worked examples published outside the project.

Sources: IOGP Publication 373-07-02 (Geomatics Guidance Note 7, part 2), September 2019, and the EPSG
registry as PROJ ships it. Numbers marked "calc" are worked from the published formula by hand.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from pyproj import Transformer

from gridmap.model import Similarity
from gridmap.place.control import fit_similarity
from gridmap.place.crs import projected_crs
from gridmap.site.records import ControlPoint


def published(x0: float, y0: float, scale: float, turn_deg: float) -> Similarity:
    """The similarity of Guidance Note 7-2: E = X0 + M (x cos t + y sin t); N = Y0 + M (y cos t - x sin t).

    The published t turns the axes clockwise, so a = M cos t and b = -M sin t.
    """
    turn = math.radians(turn_deg)
    return Similarity(x0, y0, scale * math.cos(turn), -scale * math.sin(turn))


# EPSG:5166, ED50 / UTM zone 31N (Catalonia) to ETRS89: parameters of the EPSG registry.
CATALONIA = published(-129.549, -208.185, 1.0000015504, 1.56504 / 3600)
# EPSG:15747, a plant grid: parameters of the EPSG registry.
PLANT = published(611267.2865, 3046565.8255, 0.9997728332, 315.0)


def test_similarity_of_the_catalan_example():
    """EPSG:5166 takes (300000, 4500000) to (299905.060, 4499796.515), as PROJ's own test file has it."""
    assert CATALONIA.to_map(np.array([300000.0, 4500000.0])) == pytest.approx(
        [299905.060, 4499796.515], abs=5e-4
    )


def test_similarity_of_the_plant_grid():
    """EPSG:15747 takes (20000, 10000) to (618336.748, 3067774.210) (calc, from the registry's parameters)."""
    assert PLANT.to_map(np.array([20000.0, 10000.0])) == pytest.approx([618336.748, 3067774.210], abs=5e-4)


def test_site_grid_with_a_bearing():
    """A grid whose y axis bears 30 degrees takes (20, 20) to (450027.3205, 250007.3205) (calc)."""
    grid = published(450000.0, 250000.0, 1.0, 30.0)
    assert grid.to_map(np.array([20.0, 20.0])) == pytest.approx([450027.3205, 250007.3205], abs=5e-5)


@pytest.mark.parametrize(
    ("true", "pipeline", "corners"),
    [
        (CATALONIA, "EPSG:5166", [(3e5, 45e5), (31e4, 45e5), (31e4, 451e4), (3e5, 451e4)]),
        (
            PLANT,
            f"+proj=helmert +x=611267.2865 +y=3046565.8255 +s=0.9997728332 +theta={315 * 3600}",
            [(0, 0), (2e4, 0), (2e4, 1e4), (0, 1e4)],
        ),
    ],
    ids=["Catalonia", "plant grid"],
)
def test_control_points_moved_by_proj_give_back_the_published_parameters(true, pipeline, corners):
    """Points moved by PROJ, an independent implementation, are fitted to the registry's four parameters."""
    move = Transformer.from_pipeline(pipeline)
    control = [
        ControlPoint(name, x, y, *move.transform(x, y)) for name, (x, y) in zip("ABCD", corners, strict=True)
    ]
    fit = fit_similarity(control)
    assert fit.rms_m < 1e-6
    assert fit.warnings == ()
    assert fit.transform.scale == pytest.approx(true.scale, abs=1e-11)
    assert fit.transform.rotation_deg == pytest.approx(true.rotation_deg, abs=1e-9)
    inside = np.mean(corners, axis=0)
    assert fit.transform.to_map(inside) == pytest.approx(move.transform(*inside), abs=1e-6)
    assert fit.transform.to_local(fit.transform.to_map(inside)) == pytest.approx(inside, abs=1e-6)


def test_site_grid_is_found_from_its_corners():
    """Corners of a 3-4-5 grid, worked by hand to 0.1 mm, give scale 1 and a turn of -30 degrees."""
    # x bears 120 degrees: east sin 120 = 0.8660254, north cos 120 = -0.5; y: east 0.5, north 0.8660254
    control = [
        ControlPoint("A", 0, 0, 450000.0, 250000.0),
        ControlPoint("B", 4, 0, 450003.4641, 249998.0),
        ControlPoint("C", 0, 3, 450001.5, 250002.5981),
    ]
    fit = fit_similarity(control)
    assert fit.transform.scale == pytest.approx(1.0, abs=2e-5)
    assert fit.transform.rotation_deg == pytest.approx(-30.0, abs=1e-3)
    assert fit.rms_m < 1e-4
    assert fit.transform.to_map(np.array([20.0, 20.0])) == pytest.approx([450027.3205, 250007.3205], abs=1e-3)


@pytest.mark.parametrize(
    ("crs", "base", "latitude", "longitude", "easting", "northing", "tolerance"),
    [
        # Guidance Note 7-2, pages 54-55: Transverse Mercator; its own rounding is up to 9 mm from PROJ's.
        ("EPSG:27700", "EPSG:4277", 50.5, 0.5, 577274.99, 69740.50, 0.02),
        # Guidance Note 7-2, page 79: Lambert Azimuthal Equal Area, given to the centimetre.
        ("EPSG:3035", "EPSG:4258", 50.0, 5.0, 3962799.45, 2999718.85, 0.006),
    ],
)
def test_projection_of_the_published_examples(crs, base, latitude, longitude, easting, northing, tolerance):
    """The WKT that gridmap passes on projects the worked points to the printed eastings and northings."""
    transformer = Transformer.from_crs(base, projected_crs(crs), always_xy=True)
    assert transformer.transform(longitude, latitude) == pytest.approx((easting, northing), abs=tolerance)

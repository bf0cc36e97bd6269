"""The map system: what is taken, and how a wrong one is put right."""

from __future__ import annotations

import subprocess
import sys

import pytest
from pyproj import CRS, Transformer

from gridmap.errors import PlaceError
from gridmap.place.crs import area_warning, projected_crs, refuse_other_crs


def refusal(text: str, near=None) -> str:
    with pytest.raises(PlaceError) as caught:
        projected_crs(text, near)
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize("code", [25832, 32633, 27700, 3035, 28992, 31468, 2154, 32719, 2193])
def test_a_projected_system_in_metres_is_taken_as_it_is(code):
    """The WKT that comes back is the system that went in, in the version of 2019."""
    wkt = projected_crs(f"EPSG:{code}")
    assert wkt.startswith("PROJCRS[")
    assert CRS.from_wkt(wkt) == CRS.from_epsg(code)


def test_other_spellings_are_taken():
    """Small letters, WKT and PROJ strings mean the same system."""
    assert projected_crs(" epsg:25832 ") == projected_crs("EPSG:25832")
    assert projected_crs(CRS.from_epsg(25832).to_wkt()) == projected_crs("EPSG:25832")
    assert CRS.from_wkt(projected_crs("+proj=utm +zone=32 +ellps=GRS80 +units=m +type=crs")).is_projected


def test_of_a_compound_system_the_horizontal_part_is_taken():
    """EPSG:5555 is EPSG:25832 with heights."""
    assert CRS.from_wkt(projected_crs("EPSG:5555")) == CRS.from_epsg(25832)


@pytest.mark.parametrize("text", ["", "nonsense", "EPSG:1", "EPSG:999999", "UTM 32", "PROJCS[broken"])
def test_an_unknown_system_is_refused(text):
    """What is no system is named, with an example of one."""
    message = refusal(text)
    assert "is not known" in message
    assert "EPSG:25832" in message


@pytest.mark.parametrize("text", ["EPSG 27700", "epsg27700", "EPSG::27700x"[:-1]])
def test_a_slip_in_the_name_is_put_right(text):
    """A number that is known is offered in its right spelling; spellings that PROJ knows are taken."""
    try:
        wkt = projected_crs(text)
    except PlaceError as error:
        assert 'Did you mean crs = "EPSG:27700"?' in str(error)
    else:
        assert CRS.from_wkt(wkt) == CRS.from_epsg(27700)


def test_degrees_are_refused_with_the_zone_where_it_can_be_told():
    """Hamburg at 10 E lies in UTM zone 32 north, Sydney at 151 E in 56 south, each on the datum asked for."""
    assert "in degrees" in refusal("EPSG:4326")
    assert "UTM zone of the site" in refusal("EPSG:4326", (563412.0, 5934120.0))
    assert 'crs = "EPSG:32632"' in refusal("EPSG:4326", (9.99, 53.55))
    assert 'crs = "EPSG:32756"' in refusal("EPSG:4326", (151.2, -33.9))
    assert 'crs = "EPSG:25832"' in refusal("EPSG:4258", (9.99, 53.55))


@pytest.mark.parametrize(
    ("code", "unit"), [(2263, "US survey foot"), (3732, "US survey foot"), (2222, "foot")]
)
def test_feet_are_refused(code, unit):
    """State plane systems in feet are refused with their unit."""
    message = refusal(f"EPSG:{code}")
    assert unit in message
    assert "0.3048" in message


@pytest.mark.parametrize("code", [2048, 3031, 5513])
def test_axes_that_do_not_run_east_and_north_are_refused(code):
    """South-west and polar systems would turn the map over."""
    assert "axes that run" in refusal(f"EPSG:{code}")


@pytest.mark.parametrize("code", [4978, 5773])
def test_what_is_no_map_is_refused(code):
    """Geocentric and vertical systems are no maps."""
    assert "no projected system" in refusal(f"EPSG:{code}")


def test_a_place_in_the_area_of_the_system_is_quiet():
    """Hamburg in zone 32 needs no word."""
    assert area_warning(projected_crs("EPSG:25832"), 563412.0, 5934120.0) is None


def test_a_place_outside_the_area_of_the_system_is_told():
    """Swapped numbers, a wrong zone or a lost digit lead out of the area."""
    wkt = projected_crs("EPSG:27700")
    assert "outside the area" in str(area_warning(wkt, 5934120.0, 563412.0))
    zone = projected_crs("EPSG:32719")
    assert "outside the area" in str(area_warning(zone, 563412.0, 934120.0 - 9e6))


def test_the_area_follows_the_date_line():
    """The area of the Fiji Map Grid (EPSG:3460) crosses 180 degrees, and both sides are in it."""
    wkt = projected_crs("EPSG:3460")
    to_map = Transformer.from_crs("EPSG:4720", "EPSG:3460", always_xy=True)
    assert area_warning(wkt, *to_map.transform(178.4, -18.1)) is None
    assert area_warning(wkt, *to_map.transform(-179.0, -17.0)) is None
    assert "outside the area" in str(area_warning(wkt, *to_map.transform(172.0, -17.0)))


def test_the_room_loads_no_projection_library_by_itself():
    """Importing the module leaves pyproj unloaded."""
    code = "import sys, gridmap.place.crs; sys.exit('pyproj' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_file_in_another_system_is_refused():
    """The same zone passes as the registry and as a GeoTIFF write it; the zone beside it is named."""
    rasterio_crs = pytest.importorskip("rasterio.crs")
    wanted = projected_crs("EPSG:32630")
    refuse_other_crs(wanted, wanted, "dem.tif")
    refuse_other_crs(rasterio_crs.CRS.from_epsg(32630).to_wkt(), wanted, "dem.tif")
    with pytest.raises(PlaceError, match=r"dem.tif is in .*31N, and the map in .*30N"):
        refuse_other_crs(projected_crs("EPSG:32631"), wanted, "dem.tif")
    with pytest.raises(PlaceError, match="not known"):
        refuse_other_crs("nonsense", wanted, "dem.tif")

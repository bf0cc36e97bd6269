"""The map's co-ordinate reference system: projected, in metres, east and north; or a clear refusal."""

from __future__ import annotations

import math
import warnings
from typing import TYPE_CHECKING

from gridmap.errors import PlaceError

if TYPE_CHECKING:
    from pyproj import CRS

_EXAMPLE = 'Write a projected one with its authority and number, such as crs = "EPSG:25832".'


def projected_crs(text: str, near: tuple[float, float] | None = None) -> str:
    """Return a projected CRS in metres as WKT 2.

    Parameters
    ----------
    text : str
        As a user gives it: "EPSG:25832", a WKT or a PROJ string. Of a compound CRS the horizontal
        part is taken.
    near : (float, float) or None
        Map co-ordinates of one control point as given; used only to suggest a zone where they are
        longitude and latitude.

    Returns
    -------
    str
        WKT 2 (ISO 19162:2019).

    Raises
    ------
    PlaceError
        Unknown text; a geographic CRS (suggests the UTM zone where it can be told); no projected CRS;
        axes not in metres, or not east and north.

    Notes
    -----
    The WKT keeps the axis order of the authority. Co-ordinates in gridmap are always easting, northing.
    """
    crs = _parse(text)
    if crs.is_compound:
        crs = crs.sub_crs_list[0]
    if crs.is_bound and crs.source_crs is not None:
        crs = crs.source_crs
    label = _label(text, crs)
    if crs.is_geographic:
        raise PlaceError(
            f"crs {label} is in degrees of latitude and longitude, and maps need metres. {_zone(crs, near)}"
        )
    if not crs.is_projected:
        raise PlaceError(f"crs {label} is no projected system ({crs.type_name}). {_EXAMPLE}")
    for axis in crs.axis_info:
        if not math.isclose(axis.unit_conversion_factor, 1.0, rel_tol=1e-12):
            raise PlaceError(
                f"crs {label} is in {axis.unit_name} ({axis.unit_conversion_factor:.10g} m), and maps need"
                " metres. Give the metre version of this system, and the control points in it."
            )
    if sorted(axis.direction for axis in crs.axis_info) != ["east", "north"]:
        runs = " and ".join(axis.direction for axis in crs.axis_info)
        raise PlaceError(f"crs {label} has axes that run {runs}, and maps need east and north. {_EXAMPLE}")
    return str(crs.to_wkt("WKT2_2019"))


def area_warning(crs_wkt: str, easting_m: float, northing_m: float) -> str | None:
    """Say where a point lies far outside the area that its CRS is made for.

    Parameters
    ----------
    crs_wkt : str
        A projected CRS, as `projected_crs` returns it.
    easting_m, northing_m : float
        The point, metres.

    Returns
    -------
    str or None
        One sentence and the fix; None where the point is inside the area, within 1 degree of it,
        or where the CRS names no area.
    """
    from pyproj import CRS, Transformer
    from pyproj.exceptions import ProjError

    crs = CRS.from_wkt(crs_wkt)
    area = crs.area_of_use
    if area is None or crs.geodetic_crs is None:
        return None
    try:
        transformer = Transformer.from_crs(crs, "OGC:CRS84", always_xy=True, allow_ballpark=True)
        longitude, latitude = transformer.transform(easting_m, northing_m)
    except ProjError as error:
        raise PlaceError(
            f"crs {crs.name} cannot be taken to latitude and longitude ({error}). {_EXAMPLE}"
        ) from error
    inside = math.isfinite(longitude) and math.isfinite(latitude)
    if inside:
        west, east = area.west - 1, area.east + (360 if area.east < area.west else 0) + 1
        inside = area.south - 1 <= latitude <= area.north + 1 and any(
            west <= longitude + turn <= east for turn in (-360, 0, 360)
        )
    if inside:
        return None
    place = f"{latitude:.2f}, {longitude:.2f} degrees" if math.isfinite(latitude) else "no place on Earth"
    return (
        f"easting {easting_m:.1f}, northing {northing_m:.1f} in {crs.name} is {place}, outside the area that"
        " it is made for. Check the crs and that easting comes before northing."
    )


def refuse_other_crs(found_wkt: str, wanted_wkt: str, source: str) -> None:
    """Refuse a file whose horizontal CRS is another than the map's, whatever the order of its axes.

    Parameters
    ----------
    found_wkt, wanted_wkt : str
        What the file says, and the map's.
    source : str
        The file, for the message.

    Raises
    ------
    PlaceError
        Names both; also where the file's CRS cannot be understood.
    """
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    wanted = CRS.from_wkt(wanted_wkt)
    try:
        found = CRS.from_user_input(found_wkt)
    except CRSError as error:
        raise PlaceError(f"{source}: its crs is not known. Export it again in {wanted.name}.") from error
    if found.is_compound:
        found = found.sub_crs_list[0]
    if not found.equals(wanted, ignore_axis_order=True) and found.to_epsg(80) != (wanted.to_epsg(80) or -1):
        raise PlaceError(
            f"{source} is in {found.name}, and the map in {wanted.name}. Warp it to the map's crs."
        )


def _parse(text: str) -> CRS:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return CRS.from_user_input(text.strip())
    except CRSError as error:
        number = text.strip().upper().removeprefix("EPSG").strip(" :")
        known = f'Did you mean crs = "EPSG:{number}"?' if number.isdecimal() and _known(number) else _EXAMPLE
        raise PlaceError(f'crs "{_short(text)}" is not known. {known}') from error


def _known(number: str) -> bool:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        CRS.from_epsg(int(number))
    except CRSError:
        return False
    return True


def _label(text: str, crs: CRS) -> str:
    return f'"{_short(text)}"' + (f" ({crs.name})" if crs.name not in text and crs.name != "unknown" else "")


def _short(text: str) -> str:
    flat = " ".join(text.split())
    return flat if len(flat) <= 60 else flat[:57] + "..."


def _zone(crs: CRS, near: tuple[float, float] | None) -> str:
    """Name the UTM zone of a point in degrees, on the datum of `crs` where the registry has it."""
    if near is None or abs(near[0]) > 180 or abs(near[1]) > 84:
        return (
            "Give the projected system of your survey, such as the UTM zone of the site, and control points"
            " in metres."
        )
    from pyproj.aoi import AreaOfInterest
    from pyproj.database import query_utm_crs_info

    longitude, latitude = near
    area = AreaOfInterest(longitude, latitude, longitude, latitude)
    datum = (crs.geodetic_crs or crs).name.replace(" ", "")
    found = query_utm_crs_info(datum_name=datum, area_of_interest=area, contains=True)
    found = found or query_utm_crs_info(datum_name="WGS84", area_of_interest=area, contains=True)
    if not found:
        return _EXAMPLE
    best = min(found, key=lambda info: (len(info.name), info.code))  # plain names have plain axes
    return (
        f'At longitude {longitude:g}, latitude {latitude:g} use crs = "{best.auth_name}:{best.code}"'
        f" ({best.name}), and give the control points in it, in metres."
    )

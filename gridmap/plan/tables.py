"""The request file: its tables and keys, checked; the options of the command fill the same tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NoReturn, cast, get_args

from gridmap.errors import SiteError
from gridmap.plan.request import (
    AntennaAtHand,
    Area,
    GroundAsked,
    Point,
    Request,
    Shape,
    Sought,
    Trend,
    Walk,
    Wetness,
)
from gridmap.plan.target import find_material
from gridmap.site.keys import Table, shown, suggestion
from gridmap.site.tables import read_control

KEYS: Mapping[str, tuple[str, ...]] = {
    "site": ("name", "crs", "sides_m", "corners_m", "corners_map_m"),
    "control": ("name", "local_m", "map_m"),
    "sought": ("shape", "material", "size_m", "depth_m", "trend", "detail_m", "permittivity"),
    "ground": ("medium", "wetness", "velocity_m_per_ns", "velocity_sd_m_per_ns", "conductivity_ms_per_m"),
    "antenna": ("frequency_mhz", "separation_m"),
    "walk": (
        "spacing_m",
        "both_ways",
        "zigzag",
        "speed_m_per_s",
        "turn_s",
        "setup_min",
        "performance_db",
        "suffix",
    ),
}
"""Every key of a request by table, in the order of the manual."""

_REPEATED = ("control", "antenna")
_EXAMPLES = {
    "shape": 'shape = "line" for pipes and walls, "body" for tanks and graves, "layer" for floors and rock',
    "material": 'material = "metal"',
    "size_m": "size_m = 0.3: the diameter, the shorter side, or the thickness",
    "depth_m": "depth_m = 1.2: how deep its top may lie",
    "frequency_mhz": "frequency_mhz = 400",
    "separation_m": "separation_m = 0.15",
}


def read_request(document: Mapping[str, object], source: str, text: str = "") -> Request:
    """Check a request.

    Parameters
    ----------
    document : mapping
        As TOML gives it.
    source : str
        The file as messages name it, or "options".
    text : str
        The whole file, to find rows in.

    Raises
    ------
    SiteError
        For the first thing that is wrong; names row, table, key and fix.
    """
    tables = _tables(document, source, text)
    sought, antennas = tables["sought"], tables["antenna"]
    if not antennas:
        raise SiteError(
            f"{source}: no [[antenna]] is given. Add each one at hand with frequency_mhz and separation_m."
        )
    return Request(
        name=_site(tables["site"], "name") or "survey",
        sought=_sought(sought[0] if sought else Table(source, text, "sought", 0, {})),
        ground=_ground(tables["ground"]),
        antennas=tuple(_antenna(table) for table in antennas),
        area=_area(tables["site"], read_control(tables["control"]), source),
        walk=_walk(tables["walk"]),
    )


def _tables(document: Mapping[str, object], source: str, text: str) -> dict[str, list[Table]]:
    found: dict[str, list[Table]] = {name: [] for name in KEYS}
    for name, value in document.items():
        if name not in KEYS:
            raise SiteError(
                f"{source}: there is no table {shown(name)}{suggestion(name, list(KEYS))}. The tables are"
                f" {', '.join(f'[[{n}]]' if n in _REPEATED else f'[{n}]' for n in KEYS)}."
            )
        entries = value if isinstance(value, list) else [value]
        heading = f"[[{name}]]" if name in _REPEATED else f"[{name}]"
        if not all(isinstance(e, dict) for e in entries) or (isinstance(value, list) != (name in _REPEATED)):
            raise SiteError(
                f"{source}: {name} is a table. Write its heading as {heading}, and its keys below."
            )
        found[name] = [Table(source, text, name, index, entry) for index, entry in enumerate(entries)]
        for table in found[name]:
            for key in table.values:
                if key not in KEYS[name]:
                    raise SiteError(
                        f"{table.where(key)}: there is no key {shown(key)}{suggestion(key, KEYS[name])}. The keys here"
                        f" are {', '.join(KEYS[name])}."
                    )
    return found


def _fix(key: str) -> str:
    return f"Write {_EXAMPLES[key]}."


def _sought(t: Table) -> Sought:
    inside = detail = None
    if "permittivity" in t:
        inside = t.number("permittivity", low=1, high=90, fix="Write such as permittivity = 6.4.")
    for key in ("shape", "size_m", "depth_m", *(() if inside else ("material",))):
        t.need(key, _fix(key))
    material = "the target"
    if "material" in t:
        material = t.string("material", fix=_fix("material"), longest=60)
    if "detail_m" in t:
        detail = t.number("detail_m", low=0.005, high=10, fix="Write metres, such as detail_m = 0.05.")
    return Sought(
        shape=cast(Shape, t.choice("shape", get_args(Shape))),
        material=find_material(material) if inside is None else material,
        size_m=t.number("size_m", low=0.005, high=1000, fix=_fix("size_m")),
        depth_m=t.number("depth_m", low=0.02, high=100, fix=_fix("depth_m")),
        trend=cast(Trend, t.choice("trend", get_args(Trend))) if "trend" in t else "any",
        detail_m=detail,
        permittivity=inside,
    )


def _ground(tables: Sequence[Table]) -> GroundAsked:
    if not tables:
        return GroundAsked()
    t = tables[0]
    if "velocity_sd_m_per_ns" in t and "velocity_m_per_ns" not in t:
        t.fail("velocity_sd_m_per_ns", "there is no velocity beside it", "Add velocity_m_per_ns.")
    limits = {
        "velocity_m_per_ns": (0.02, 0.25, "velocity_m_per_ns = 0.09"),
        "velocity_sd_m_per_ns": (1e-4, 0.1, "velocity_sd_m_per_ns = 0.005"),
        "conductivity_ms_per_m": (1e-4, 5000, "conductivity_ms_per_m = 10"),
    }
    return GroundAsked(
        medium=t.string("medium", fix='Write such as medium = "topsoil".') if "medium" in t else None,
        wetness=cast(Wetness, t.choice("wetness", get_args(Wetness))) if "wetness" in t else None,
        **{
            key: t.number(key, low=low, high=high, fix=f"Write such as {such}.")
            for key, (low, high, such) in limits.items()
            if key in t
        },
    )


def _antenna(t: Table) -> AntennaAtHand:
    t.need("frequency_mhz", _fix("frequency_mhz"))
    t.need("separation_m", _fix("separation_m"))
    return AntennaAtHand(
        t.number("frequency_mhz", low=5, high=10_000, fix=_fix("frequency_mhz")),
        t.number("separation_m", low=0, high=10, fix=_fix("separation_m")),
    )


def _site(tables: Sequence[Table], key: str) -> str | None:
    if not tables or key not in tables[0]:
        return None
    return tables[0].string(key, fix=f'Write it as text, such as {key} = "Mill lane".', longest=20000)


def _area(tables: Sequence[Table], control: tuple[Any, ...], source: str) -> Area:
    crs = _site(tables, "crs")
    ways = [key for key in ("sides_m", "corners_m", "corners_map_m") if tables and key in tables[0]]
    if len(ways) != 1:
        raise SiteError(
            f"{source}: [site] {' and '.join(ways) or 'sides_m'}: {'only one can be right' if ways else 'is missing'}."
            " Write sides_m = [20, 10] for a rectangle, corners_m = [[0, 0], ...] in the grid, or corners_map_m in"
            " the map."
        )
    t, key = tables[0], ways[0]
    if key == "sides_m":
        x, y = t.pair(key, fix="Write along x, then along y, such as sides_m = [20, 10].")
        if not (0.5 <= x <= 2000 and 0.5 <= y <= 2000):
            t.fail(key, "sides of 0.5 to 2000 m are expected", "Write metres, or split the area.")
        return Area(((0.0, 0.0), (x, 0.0), (x, y), (0.0, y)), crs=crs, control=control)
    corners = _corners(t, key)
    if key == "corners_m":
        return Area(corners, crs=crs, control=control)
    if control:
        t.fail(
            key,
            "[[control]] stands beside it",
            "Give corners_m in the grid with [[control]], or leave it out.",
        )
    return Area(corners_map_m=corners, crs=crs)


def _corners(t: Table, key: str) -> tuple[Point, ...]:
    fix = f"Write three corners or more in order around it, such as {key} = [[0, 0], [20, 0], [20, 10]]."

    def refuse(what: str) -> NoReturn:
        t.fail(key, what, fix)

    value = t.values[key]
    if not isinstance(value, list) or not 3 <= len(value) <= 1000:
        refuse("a list of 3 to 1000 corners is expected")
    corners: list[Point] = []
    for corner in value:
        if not isinstance(corner, list) or len(corner) != 2:
            refuse("each corner is two numbers in square brackets")
        pair = Table(t.source, t.text, t.name, t.index, {key: corner}).pair(key, fix=fix)
        if max(map(abs, pair)) > 1e8:
            refuse("a corner is farther than any place on Earth")
        corners.append(pair)
    spread = max(max(c[i] for c in corners) - min(c[i] for c in corners) for i in (0, 1))
    if spread > 3000:
        refuse(f"the area is {spread:.0f} m wide, more than 3000 m")
    return tuple(corners)


def _walk(tables: Sequence[Table]) -> Walk:
    if not tables:
        return Walk()
    t, known = tables[0], cast(dict[str, Any], {})
    limits = {
        "spacing_m": (0.02, 20, 0.25),
        "speed_m_per_s": (0.05, 10, 0.8),
        "turn_s": (0, 600, 20),
        "setup_min": (0, 1000, 60),
        "performance_db": (60, 180, 110),
    }
    for key, (low, high, such) in limits.items():
        if key in t:
            known[key] = t.number(key, low=low, high=high, fix=f"Write such as {key} = {such:g}.")
    for key in ("both_ways", "zigzag"):
        if key in t:
            known[key] = t.flag(key, fix="Write true or false.")
    if "suffix" in t:
        suffix = t.string("suffix", fix='Write such as suffix = "sgy".', longest=12).removeprefix(".")
        if not suffix.isalnum():
            t.fail("suffix", "letters and digits are expected", 'Write such as suffix = "sgy".')
        known["suffix"] = suffix
    return Walk(**known)

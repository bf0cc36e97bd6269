"""From tables to records: [site], [[control]], [antenna], [ground], [record], [processing] and what follows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import cast, get_args

from gridmap.errors import SiteError
from gridmap.site.keys import Table
from gridmap.site.recipes import GENERAL, choose_steps
from gridmap.site.records import (
    AirHandling,
    Antenna,
    ControlPoint,
    Corrections,
    Ground,
    Handling,
    Imaging,
    Interpolation,
    Processing,
    Tie,
)

_HANDLING = ("apply", "report", "off")
_IMAGING = ("auto", "3d", "2d", "none")
_AIR = ("mute", "report", "off")
_LIGHT_M_PER_NS = 0.299792458
_FAR_M = 1e8


@dataclass(frozen=True, slots=True)
class Head:
    """What stands in [site]."""

    name: str
    description: str = ""
    crs: str | None = None
    size_m: tuple[float, float] | None = None
    wanted_depth_m: float | None = None
    control_limit_cm: float = 5.0


def read_site(tables: Sequence[Table], default_name: str) -> Head:
    """Return the checked [site] table; a site without a name takes `default_name`."""
    if not tables:
        return Head(default_name)
    t = tables[0]
    size = None
    if "size_m" in t:
        size = t.pair(
            "size_m", fix="Write the width along x and the length along y, such as size_m = [6.0, 8.0]."
        )
        if not (0 < size[0] <= 1e5 and 0 < size[1] <= 1e5):
            t.fail(
                "size_m",
                "both sides must be above 0 and below 100 km",
                "Write them in metres, along x then along y.",
            )
    wanted = None
    if "wanted_depth_m" in t:
        fix = "Write metres, such as wanted_depth_m = 1.2."
        wanted = t.number("wanted_depth_m", low=0, high=1000, above=True, fix=fix)
    limit = 5.0
    if "control_limit_cm" in t:
        limit = t.number(
            "control_limit_cm",
            low=0,
            high=1000,
            above=True,
            fix="Write centimetres, such as control_limit_cm = 5.",
        )
    return Head(
        name=(
            t.string("name", fix="Name the site as it shall stand on the map.", longest=120)
            if "name" in t
            else default_name
        ),
        description=(
            t.string("description", fix="Leave the key out instead.", longest=1000)
            if "description" in t
            else ""
        ),
        crs=(
            t.string("crs", fix='Write it with its authority, such as crs = "EPSG:25832".', longest=20000)
            if "crs" in t
            else None
        ),
        size_m=size,
        wanted_depth_m=wanted,
        control_limit_cm=limit,
    )


def read_control(tables: Sequence[Table]) -> tuple[ControlPoint, ...]:
    """Return the control points: none, or two or more."""
    points: list[ControlPoint] = []
    for t in tables:
        for key in ("name", "local_m", "map_m"):
            t.need(key, 'A control point has name = "A", local_m = [x, y] and map_m = [easting, northing].')
        name = t.string("name", fix="Name the peg as in the field book.", longest=60)
        local = t.pair(
            "local_m", fix="Write the peg's x and y in the grid, metres, such as local_m = [6.0, 0]."
        )
        mapped = t.pair(
            "map_m", fix="Write easting, then northing, metres, such as map_m = [563412.36, 5934120.85]."
        )
        for key, values in (("local_m", local), ("map_m", mapped)):
            if max(abs(values[0]), abs(values[1])) > _FAR_M:
                t.fail(
                    key,
                    "larger than any place on Earth",
                    "Write metres, with the decimal point in its place.",
                )
        for index, earlier in enumerate(points):
            if earlier.name == name:
                t.fail(
                    "name",
                    f"[[control]] {index + 1} has this name too",
                    "Give each control point its own name.",
                )
        points.append(ControlPoint(name, *local, *mapped))
    if len(points) == 1:
        raise SiteError(
            f"{tables[0].where()}: one control point does not show which way the grid lies. Add another,"
            " better three at the other corners, or take it out for a map in grid metres."
        )
    return tuple(points)


def read_antenna(tables: Sequence[Table], source: str) -> Antenna:
    """Return the checked [antenna] table, which every site needs."""
    if not tables:
        raise SiteError(
            f"{source}: the table [antenna] is missing. Add it with frequency_mhz = ... and separation_m"
            " = ..."
        )
    t = tables[0]
    frequency = "Write the nominal centre frequency in megahertz, such as frequency_mhz = 400."
    separation = "Write the distance from transmitter to receiver in metres, such as separation_m = 0.15."
    t.need("frequency_mhz", frequency)
    t.need("separation_m", separation)
    return Antenna(
        frequency_mhz=t.number("frequency_mhz", low=5, high=10_000, fix=frequency),
        separation_m=t.number("separation_m", low=0, high=10, fix=separation),
        height_m=(
            t.number(
                "height_m",
                low=0,
                high=5,
                fix="Write the height above the ground in metres, such as height_m = 0.03.",
            )
            if "height_m" in t
            else 0.0
        ),
    )


def read_ground(tables: Sequence[Table]) -> Ground:
    """Return what is known of the ground; nothing is known where the table is not there."""
    if not tables:
        return Ground()
    t = tables[0]
    medium = velocity = sd = None
    if "medium" in t:
        medium = t.string("medium", fix='Name a medium, such as medium = "clay, moist".', longest=80)
    if "velocity_m_per_ns" in t:
        if medium is not None:
            t.fail("velocity_m_per_ns", "medium is given too", "Keep the one that is better known.")
        velocity = t.number(
            "velocity_m_per_ns",
            low=0.01,
            high=_LIGHT_M_PER_NS,
            fix="Write metres per nanosecond, such as velocity_m_per_ns = 0.09; light in air has 0.2998.",
        )
    if "velocity_sd_m_per_ns" in t:
        if velocity is None:
            t.fail("velocity_sd_m_per_ns", "there is no velocity beside it", "Add velocity_m_per_ns.")
        sd = t.number(
            "velocity_sd_m_per_ns",
            low=0,
            high=velocity,
            above=True,
            below=True,
            fix="Write one standard deviation in metres per nanosecond, such as 0.005.",
        )
    return Ground(medium, velocity, sd)


def read_ties(tables: Sequence[Table]) -> tuple[Tie, ...]:
    """Return the things of known depth, each `[[tie]]` one."""
    ties: list[Tie] = []
    depth = "Write the depth of its top below the ground in metres, such as depth_m = 0.85."
    sd = "Write one standard deviation of that depth in metres, such as depth_sd_m = 0.03."
    for index, t in enumerate(tables):
        for key, fix in (
            ("local_m", "Write its x and y in the grid, metres, such as local_m = [4.2, 1.5]."),
            ("depth_m", depth),
            ("depth_sd_m", sd),
        ):
            t.need(key, fix)
        x, y = t.pair("local_m", fix="Write x and y in the grid, metres, such as local_m = [4.2, 1.5].")
        name = f"tie {index + 1}"
        if "name" in t:
            name = t.string("name", fix="Name what was probed, such as name = 'water main'.", longest=60)
        depth_m = t.number("depth_m", low=0, high=30, above=True, fix=depth)
        time_ns = None
        if "time_ns" in t:
            fix = "Write the two-way time of its echo after time zero in nanoseconds, or leave the key out."
            time_ns = t.number("time_ns", low=0, high=5000, above=True, fix=fix)
            if depth_m > 0.5 * _LIGHT_M_PER_NS * time_ns:
                t.fail("time_ns", "light in air would need longer to that depth", fix)
        depth_sd_m = t.number("depth_sd_m", low=0, high=depth_m, above=True, fix=sd)
        ties.append(Tie(name, x, y, depth_m, depth_sd_m, time_ns))
    return tuple(ties)


def read_processing(tables: Sequence[Table], record: Sequence[Table], root: Path) -> Processing:
    """Return the choices of [processing], with the sample interval of [record]; recipes lie below `root`."""
    t = tables[0] if tables else None
    interval = None
    for home in (*record, *tables):
        if "sample_interval_ns" in home:
            if interval is not None:
                home.fail("sample_interval_ns", "[record] gives it too", "Keep it in [record] alone.")
            interval = home.number(
                "sample_interval_ns",
                low=1e-4,
                high=100,
                fix=(
                    "Write the time from one sample to the next in nanoseconds, such as sample_interval_ns ="
                    " 0.2."
                ),
            )
    if t is None:
        return Processing(sample_interval_ns=interval)
    band = None
    if "band_mhz" in t:
        band = t.pair(
            "band_mhz",
            fix="Write the lower and the upper corner in megahertz, such as band_mhz = [100, 700].",
        )
        if not 0 < band[0] < band[1] <= 20_000:
            t.fail(
                "band_mhz",
                "the lower corner must be above 0 and below the upper",
                "Write [lower, upper], megahertz.",
            )

    def length(key: str, high: float, example: str, *, above: bool = True) -> float | None:
        if t is None or key not in t:
            return None
        return t.number(key, low=0, high=high, above=above, fix=f"Write {example}, or leave the key out.")

    return Processing(
        sample_interval_ns=interval,
        recipe=choose_steps(t, "recipe", root) if "recipe" in t else GENERAL,
        band_mhz=band,
        dewow_ns=length(
            "dewow_ns", 10_000, "nanoseconds, such as dewow_ns = 8 (0 turns it off)", above=False
        ),
        background_m=length(
            "background_m", 1e5, "metres, such as background_m = 4 (0 turns it off)", above=False
        ),
        imaging=cast(Imaging, t.choice("imaging", _IMAGING)) if "imaging" in t else "auto",
        interpolation=cast(Interpolation, t.choice("interpolation", get_args(Interpolation)))
        if "interpolation" in t
        else "kriging",
        cell_m=length("cell_m", 100, "metres, such as cell_m = 0.05"),
        blank_m=length("blank_m", 1000, "metres, such as blank_m = 0.5"),
        depth_max_m=length("depth_max_m", 1000, "metres, such as depth_max_m = 2"),
        slice_thickness_m=length("slice_thickness_m", 1000, "metres, such as slice_thickness_m = 0.1"),
        slice_overlap=(
            t.number(
                "slice_overlap", low=0, high=1, below=True, fix="Write a share, such as slice_overlap = 0.5."
            )
            if "slice_overlap" in t
            else 0.5
        ),
        stake_every_m=length("stake_every_m", 1000, "metres, such as stake_every_m = 5") or 5.0,
        air_echoes=cast(AirHandling, t.choice("air_echoes", _AIR)) if "air_echoes" in t else "mute",
    )


def read_corrections(tables: Sequence[Table]) -> Corrections:
    """Return what [corrections] says about faults of position."""
    if not tables:
        return Corrections()
    t = tables[0]
    return Corrections(**{key: cast(Handling, t.choice(key, _HANDLING)) for key in t.values})


def read_report(tables: Sequence[Table]) -> dict[str, str]:
    """Return what [report] says, key by key; the day of the report is checked."""
    if not tables:
        return {}
    t = tables[0]
    said = {key: t.string(key, fix="Write it in quotes, or leave the key out.") for key in t.values}
    if "date" in said:
        try:
            said["date"] = date.fromisoformat(said["date"]).isoformat()
        except ValueError:
            t.fail("date", "this is no day", 'Write it as year-month-day, such as date = "2026-05-17".')
    return said

"""The site file of a planned survey: complete before the walk, with a file name for each line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gridmap.site.records import Antenna, ControlPoint, Ground
from gridmap.site.writing import flat, quoted, row

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class PlannedFile:
    """One line to come: file below the site file's folder, and its pegs in the order walked, metres."""

    file: str
    start_m: Point
    end_m: Point


def planned_site(
    name: str,
    lines: Sequence[PlannedFile],
    antenna: Antenna,
    ground: Ground,
    *,
    size_m: Point | None,
    wanted_depth_m: float | None = None,
    crs: str | None = None,
    control: Sequence[ControlPoint] = (),
    notes: Sequence[str] = (),
) -> str:
    """Write the site file that a plan leads to.

    Parameters
    ----------
    name : str
        Name of the site.
    lines : sequence of PlannedFile
        In the order walked.
    antenna, ground
        As planned; a ground without velocity is left to be found from the data.
    size_m : (x, y) or None
        Of the grid from its origin, metres; None: it does not begin at the origin.
    wanted_depth_m : float or None
        Depth that is asked for, metres.
    crs, control
        As `Site`.
    notes : sequence of str
        Rows of comment at the top.

    Returns
    -------
    str
        TOML that `load_site` accepts as soon as the line files are there.
    """
    parts = [
        "# Site file written from a plan, before the walk. Change what was done otherwise on the day.",
        *(f"# {flat(note)}" for note in notes),
        "# All lengths are in metres. x runs along the baseline; y runs across it, to the left of x.",
        "",
        "[site]",
        f"name = {quoted(name)}",
    ]
    if size_m is not None:
        parts.append(f"size_m = [{size_m[0]:.12g}, {size_m[1]:.12g}]")
    if wanted_depth_m is not None:
        parts.append(f"wanted_depth_m = {wanted_depth_m:.12g}")
    if crs is not None:
        parts.append(f"crs = {quoted(crs)}")
    for peg in control:
        parts += [
            "",
            "[[control]]",
            f"name = {quoted(peg.name)}",
            f"local_m = [{peg.x_m:.12g}, {peg.y_m:.12g}]",
            f"map_m = [{peg.easting_m:.12g}, {peg.northing_m:.12g}]",
        ]
    parts += [
        "",
        "[antenna]",
        row("frequency_mhz", f"{antenna.frequency_mhz:.12g}", "nominal centre frequency"),
        row("separation_m", f"{antenna.separation_m:.12g}", "transmitter to receiver"),
        row("height_m", f"{antenna.height_m:.12g}", "height of the antennas above the ground"),
        "",
    ]
    if ground.velocity_m_per_ns is not None:
        parts += ["[ground]", f"velocity_m_per_ns = {ground.velocity_m_per_ns:.12g}"]
        if ground.velocity_sd_m_per_ns is not None:
            parts.append(f"velocity_sd_m_per_ns = {ground.velocity_sd_m_per_ns:.12g}")
        parts.append("")
    parts += [
        f"# {len(lines)} lines in the order planned. Give each file the name that stands here, or write its own name",
        "# here. Where a line was walked the other way, swap start_m and end_m. Take a line that was not walked out.",
    ]
    for line in lines:
        parts += [
            "",
            "[[line]]",
            f"file = {quoted(line.file)}",
            f"start_m = [{line.start_m[0]:.12g}, {line.start_m[1]:.12g}]",
            f"end_m = [{line.end_m[0]:.12g}, {line.end_m[1]:.12g}]",
        ]
    return "\n".join(parts) + "\n"

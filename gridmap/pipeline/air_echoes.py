"""What stands above the ground: found, told, and its echoes taken off before they are imaged."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from gridmap.condition.air_echo import AirEcho, find_air_echoes
from gridmap.condition.air_mute import mute_air_echo
from gridmap.condition.recipe import Recipe
from gridmap.model import CleanLine, Similarity
from gridmap.pipeline.run import Run
from gridmap.site.records import Site

Rewrite = Callable[[Sequence[CleanLine], Callable[[list[CleanLine]], None]], list[CleanLine]]

_COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


def quiet_air_echoes(
    site: Site,
    lines: Sequence[CleanLine],
    recipe: Recipe,
    transform: Similarity,
    run: Run,
    rewrite: Rewrite,
) -> tuple[tuple[AirEcho, ...], list[CleanLine]]:
    """Look for things above the ground and do about their echoes what the site file says.

    Parameters
    ----------
    site : Site
        `processing.air_echoes`: "mute" takes them off, "report" leaves them and warns, "off" does not look.
    lines : sequence of CleanLine
        Conditioned and put right.
    recipe : Recipe
        As they were conditioned.
    transform : Similarity
        Local grid to map, for the compass.
    run : Run
        Takes the messages.
    rewrite : callable
        Copies lines, lets a function change the copies' traces, and returns them.

    Returns
    -------
    found : tuple of AirEcho
        What stands there.
    lines : list of CleanLine
        As given, or copies with the echoes taken off.
    """
    handling = site.processing.air_echoes
    if handling == "off":
        return (), list(lines)
    how = recipe.interval_ns, site.antenna.separation_m, recipe.period_ns
    found = find_air_echoes(lines, *how)
    for echo in found:
        words = air_echo_words(echo, lines, transform)
        if handling == "mute":
            run.notes.append(f"{words} Its echo was taken off before imaging.")
        else:
            run.warnings.append(
                f"{words} Its echo is still in the maps, where it looks like something deep: do not dig for it."
            )
    if not found or handling != "mute":
        return found, list(lines)

    def take_off(copies: list[CleanLine]) -> None:
        for echo in found:
            mute_air_echo(copies, *how, echo)

    return found, rewrite(lines, take_off)


def air_echo_words(echo: AirEcho, lines: Sequence[CleanLine], transform: Similarity) -> str:
    """Say in a sentence what stands where, how far off and in which direction, and on which evidence."""
    spots = np.concatenate([ln.xy_m for ln in lines])
    nearest = spots[int(echo.distance_m(spots).argmin())]
    place = np.array([echo.x_m, echo.y_m])
    if echo.kind == "wall":
        way = np.array([math.cos(math.radians(echo.normal_deg)), math.sin(math.radians(echo.normal_deg))])
        what, where = "A wall, fence or the like", f"{echo.nearest_m:.1f} m from the nearest trace"
    else:
        way = place - 0.5 * (spots.min(axis=0) + spots.max(axis=0))
        what = "A post, tree, parked vehicle or the like"
        where = (
            f"near x {echo.x_m:.1f}, y {echo.y_m:.1f} m, {echo.nearest_m:.1f} m from the nearest trace "
            f"(x {nearest[0]:.1f}, y {nearest[1]:.1f})"
        )
    east, north = transform.to_map(way) - transform.to_map(np.zeros(2))
    side = _COMPASS[round(math.degrees(math.atan2(east, north)) / 45.0) % 8]
    return (
        f"{what} stands above the ground {where}, to the {side}: it answers through the air on {len(echo.lines)} of "
        f"{len(lines)} lines (coherence {echo.coherence:.2f})."
    )

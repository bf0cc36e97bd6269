"""Things above the ground that answer through the air, as findings."""

from __future__ import annotations

from gridmap.check.finding import Figure, Finding
from gridmap.check.stretch import whole_line
from gridmap.condition.air_echo import AirEcho

_NEAR_M = 3.0


def finding_above_ground(echo: AirEcho, words: str, muted: bool) -> Finding:
    """Tell of one thing above the ground, where it stands and on how many lines it shows.

    Parameters
    ----------
    echo : gridmap.condition.air_echo.AirEcho
        What stands there.
    words : str
        One sentence on it.
    muted : bool
        Whether the map takes its echo off.

    Returns
    -------
    Finding
        Of the survey. Near ones, whose echo covers what is sought, ask for attention.
    """
    figures = (
        Figure("nearest trace", echo.nearest_m, "m"),
        Figure("lines", len(echo.lines), ""),
        Figure("coherence", echo.coherence, ""),
    )
    todo = (
        "Move it away if it can be moved and walk the nearest lines again; else note it: its echo looks like something "
        "buried and is not" + (" (the map takes it off)." if muted else ".")
    )
    base = whole_line(
        "", "above ground", "attention" if echo.nearest_m < _NEAR_M else "note", figures, words, todo
    )
    return Finding(
        base.line, base.kind, base.severity, base.from_m, base.to_m, None, None, figures, words, todo,
        (echo.x_m, echo.y_m),
    )  # fmt: skip

"""Sentences that pictures, page and scene share."""

from __future__ import annotations

from collections.abc import Sequence

from gridmap.model import VelocityModel, Window

SAME_SCALE = "Same scale on all slices"


def velocity_words(velocity: VelocityModel) -> str:
    """Say the velocity, its standard deviation and where they come from, in one sentence."""
    values = velocity.velocity_m_per_ns
    if len(values) == 1:
        span = f"Velocity {values[0]:.3f} m/ns"
    else:
        span = f"Velocity in {len(values)} layers, {values.min():.3f} to {values.max():.3f} m/ns"
    source = f", from {velocity.source}" if velocity.source else ""
    return f"{span}, standard deviation {velocity.sd_m_per_ns:.3f} m/ns{source}."


def window_words(window: Window) -> str:
    """Say a window in metres and in nanoseconds, its own axis first."""
    if window.axis == "elevation":
        return f"Elevation {window.label}  (level slice)"
    depth = f"{window.top_m:.2f} to {window.base_m:.2f} m"
    time = f"{window.top_ns:.1f} to {window.base_ns:.1f} ns"
    if window.axis == "depth":
        return f"Depth {depth}  (two-way time {time})"
    return f"Two-way time {time}  (depth about {depth})"


def stack_words(windows: Sequence[Window]) -> str:
    """Say what slices are cut by, such as "Depth slices"."""
    words = {"depth": "Depth slices", "time": "Time slices", "elevation": "Level slices by elevation"}
    return words[windows[0].axis]


def first_capital(text: str) -> str:
    """Start text with a capital letter and leave the rest as it is."""
    return text[:1].upper() + text[1:]

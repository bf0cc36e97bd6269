"""Section of key radargrams."""

from __future__ import annotations

from gridmap.deliver.report_blocks import Section, Text
from gridmap.deliver.report_told import Told


def profiles(told: Told) -> Section:
    """Radargrams with the hyperbolas that count and the features that the lines cross."""
    w = told.words
    return Section("profiles", w("profiles.heading"), (Text(w("profiles.none")),))

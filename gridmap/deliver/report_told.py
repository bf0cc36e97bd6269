"""What every section of the report draws on: the map, the words, what the user said, and figures worked out once."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from gridmap.deliver.report_maps import standing_rows
from gridmap.deliver.report_words import Words, clean
from gridmap.read.made_map import MadeMap

MINUS, PLUS_MINUS = "\N{MINUS SIGN}", "\N{PLUS-MINUS SIGN}"


@dataclass(frozen=True, slots=True)
class Told:
    """The map and what goes with it.

    Attributes
    ----------
    made : MadeMap
        The map.
    words : Words
        Sentences.
    said : mapping of str to str
        Company, client and the like, from the site file, the template and the call; only what was given.
    """

    made: MadeMap
    words: Words
    said: Mapping[str, str]

    @property
    def site(self) -> str:
        """Name of the site."""
        return clean(self.made.record.get("site", ""))

    @property
    def settings(self) -> Mapping[str, Any]:
        """Every setting as used."""
        return dict(self.made.record["parameters"])

    def rows(self) -> list[Any]:
        """Features that stand."""
        return standing_rows(self.made)

    def crs_words(self) -> str:
        """Say the system of the map."""
        code = self.settings.get("site", {}).get("crs")
        return clean(code) if code else self.words("facts.local_crs")

    def walked_m(self) -> float:
        """Length walked, metres."""
        return float(np.nansum(self.made.layer("lines_walked")["length_m"]))

    def hull(self) -> shapely.Geometry:
        """Convex hull of the lines walked, map metres."""
        return shapely.convex_hull(
            shapely.union_all(shapely.force_2d(np.asarray(self.made.layer("lines_walked").geometry)))
        )

    def known(self, key: str) -> str:
        """Return what the user said, or that nothing is stated."""
        return self.said.get(key) or self.words("report.not_stated")

    def spacing(self) -> tuple[float, float, bool]:
        """Line spacing and trace spacing, metres, and whether lines run both ways."""
        told = self.settings.get("spacing", {})
        return (
            float(told.get("line_m") or math.nan),
            float(told.get("trace_m") or math.nan),
            bool(told.get("both_directions")),
        )

    def wavelength_m(self) -> float:
        """Wavelength in the ground at the nominal frequency, metres."""
        mhz = float(self.settings["site"]["antenna"]["frequency_mhz"])
        return float(self.made.record["velocity_m_per_ns"]) * 1e3 / mhz


def number(value: object, digits: int = 2) -> str:
    """Write a number with a true minus sign; an empty cell where it is not known."""
    if not isinstance(value, int | float | np.number) or not math.isfinite(float(value)):
        return ""
    text = f"{float(value):.{digits}f}"
    return (text.removeprefix("-") if float(text) == 0 else text).replace("-", MINUS)


def text(value: object) -> str:
    """Write a cell of text: empty where there is nothing."""
    return "" if value is None or value != value else clean(value).replace("+-", PLUS_MINUS)


def percent(share: float) -> str:
    """Write a share."""
    return f"{100 * share:.0f} %"

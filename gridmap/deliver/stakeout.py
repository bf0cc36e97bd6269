"""stakeout.csv: the points to set out, for a total station, a GNSS rover or a tape."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from pathlib import Path

from gridmap.deliver.caution import CAUTION_SHORT
from gridmap.features.stakes import Stake
from gridmap.files import whole_file


def write_stakeout(path: Path, stakes: Sequence[Stake], mapped: bool) -> None:
    """Write one point a row, metres, millimetres shown.

    Parameters
    ----------
    path : Path
        The CSV file (RFC 4180, UTF-8, decimal points); its folder must exist.
    stakes : sequence of Stake
        From `gridmap.features.stakes.stakes`.
    mapped : bool
        True: columns easting, northing; False: x, y of the local grid.
    """
    with whole_file(path) as part, part.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        place = ("easting", "northing") if mapped else ("x", "y")
        writer.writerow(["point", *place, "depth", "sigma", "feature", "class", "place", "caution"])
        for s in stakes:
            numbers = (s.east_m, s.north_m, s.depth_m, s.sd_m)
            metres = [f"{v:.3f}" if math.isfinite(v) else "" for v in numbers]
            writer.writerow([s.name, *metres, s.feature, s.class_name, s.place, CAUTION_SHORT])

"""Write the place of every trace as delimited text that a table program opens."""

from __future__ import annotations

import csv
from pathlib import Path

from gridmap.errors import OutputError
from gridmap.files import whole_file
from gridmap.place.tape import PositionsTable


def write_positions(path: Path, table: PositionsTable) -> None:
    """Write line, trace, trigger, x_m, y_m and, where the site has a map, easting_m and northing_m.

    Parameters
    ----------
    path : Path
        The CSV file (RFC 4180, UTF-8, decimal points, millimetres); its folder must exist.
    table : PositionsTable
        From `gridmap.place.tape.positions_table`.

    Raises
    ------
    OutputError
        Where the file cannot be written; nothing is left behind.
    """
    columns = {"x_m": table.x_m, "y_m": table.y_m}
    if table.easting_m is not None and table.northing_m is not None:
        columns |= {"easting_m": table.easting_m, "northing_m": table.northing_m}
    if table.elevation_m is not None:
        columns |= {"elevation_m": table.elevation_m}
    metres = [["" if value != value else f"{value:.3f}" for value in column] for column in columns.values()]
    try:
        with whole_file(path) as temporary, temporary.open("w", encoding="utf-8", newline="") as stream:
            writer = csv.writer(stream)
            writer.writerow(["line", "trace", "trigger", *columns])
            writer.writerows(
                zip(table.line, table.trace.tolist(), table.trigger.tolist(), *metres, strict=True)
            )
    except OSError as error:
        raise OutputError(
            f"{path}: cannot be written ({error.strerror}). Give a folder that you may write to."
        ) from error

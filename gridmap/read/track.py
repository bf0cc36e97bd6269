"""Read a track of whichever format the file holds."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Literal

from gridmap.errors import ReadError
from gridmap.model.track import Track
from gridmap.read.gpx import looks_like_gpx, read_gpx
from gridmap.read.nmea import looks_like_nmea, read_nmea
from gridmap.read.opening import open_file
from gridmap.read.points import read_text_track

TrackFormat = Literal["auto", "nmea", "gpx", "text"]

_HEAD_BYTES = 65536


def read_track(
    path: Path | str,
    format: TrackFormat = "auto",  # noqa: A002
    columns: Mapping[str, str | int] | None = None,
    xy_frame: Literal["local", "map"] = "local",
) -> Track:
    """Read a track of NMEA 0183, GPX or delimited text.

    Parameters
    ----------
    path : Path
        The file.
    format : "auto", "nmea", "gpx" or "text"
        "auto" goes by what the file holds, not by its name.
    columns : mapping or None
        For delimited text: from meaning to heading or number of the column.
    xy_frame : "local" or "map"
        For delimited text: what columns called x and y hold.

    Returns
    -------
    Track
        See the readers `read_nmea`, `read_gpx` and `read_text_track`.

    Raises
    ------
    ReadError
        If the file cannot be read or is not what it says.
    """
    path = Path(path)
    if format == "auto":
        with open_file(path) as stream:
            head = stream.read(_HEAD_BYTES)
        if not head:
            raise ReadError(f"{path.name}: the track is empty (0 bytes). Copy it again from the recorder.")
        format = "nmea" if looks_like_nmea(head) else "gpx" if looks_like_gpx(head) else "text"  # noqa: A001
    if format == "nmea":
        return read_nmea(path)
    if format == "gpx":
        return read_gpx(path)
    return read_text_track(path, columns, xy_frame=xy_frame)

"""The list of trace positions as a file."""

from __future__ import annotations

import csv

import numpy as np
import pytest

from gridmap.deliver.positions import write_positions
from gridmap.errors import OutputError
from gridmap.place.tape import PositionsTable


def table(with_map: bool = True) -> PositionsTable:
    return PositionsTable(
        line=("L01", 'L "2", north'),
        trace=np.array([1, 2]),
        trigger=np.array([1, 7]),
        x_m=np.array([0.0, 1.23456]),
        y_m=np.array([-0.25, 8.0]),
        easting_m=np.array([563412.3641, 563417.874]) if with_map else None,
        northing_m=np.array([5934120.8523, 5934123.25]) if with_map else None,
    )


def test_the_file_reads_back_to_the_millimetre(tmp_path):
    """The csv module of Python reads what was written, names with commas and quotes included."""
    path = tmp_path / "positions.csv"
    write_positions(path, table())
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    assert rows == [
        ["line", "trace", "trigger", "x_m", "y_m", "easting_m", "northing_m"],
        ["L01", "1", "1", "0.000", "-0.250", "563412.364", "5934120.852"],
        ['L "2", north', "2", "7", "1.235", "8.000", "563417.874", "5934123.250"],
    ]


def test_without_a_map_there_are_no_map_columns(tmp_path):
    """Grid metres alone are written where the site has no map."""
    write_positions(tmp_path / "p.csv", table(with_map=False))
    assert (tmp_path / "p.csv").read_text(encoding="utf-8").splitlines()[0] == "line,trace,trigger,x_m,y_m"


def test_a_folder_that_is_not_there_is_told(tmp_path):
    """A file that cannot be written is an OutputError that names it."""
    with pytest.raises(OutputError, match=r"p\.csv: cannot be written"):
        write_positions(tmp_path / "none" / "p.csv", table())
    assert list(tmp_path.iterdir()) == []

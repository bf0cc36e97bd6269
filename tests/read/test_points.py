"""Tracks and surveyed points in delimited text."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridmap.errors import ReadError
from gridmap.read.points import read_points, read_text_track
from gridmap.read.track import read_track


def write(tmp_path: Path, text: str | bytes) -> Path:
    path = tmp_path / "t.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("time,easting,northing,height\n09:12:03.2,431877.2,5712345.6,63.1\n", 33123.2),
        ("utc;E;N;H\r\n09:12:03,2;431877,2;5712345,6;63,1\r\n", 33123.2),
        ("T_s\tE (m)\tN (m)\tz\n33123.2\t431877.2\t5712345.6\t63.1\n", 33123.2),
        (
            "# a note\ndatetime easting northing z\n2024-04-06T09:12:03.2Z 431877.2 5712345.6 63.1\n",
            1712394723.2,
        ),
        ("date,time,easting,northing,h\n2024-04-06,09:12:03.2,431877.2,5712345.6,63.1\n", 1712394723.2),
        ("time,easting,northing,alt\n1712394723.2,431877.2,5712345.6,63.1\n", 1712394723.2),
    ],
)
def test_a_row_is_read_whatever_the_delimiter_and_the_clock(text, first, tmp_path):
    """Comma, semicolon with decimal commas, tab and blanks; hh:mm:ss, seconds of the day or since 1970, ISO 8601."""
    path = write(tmp_path, text)
    track = read_text_track(path)
    assert track.time_s == pytest.approx([first])
    assert (track.place.tolist(), track.height_m.tolist()) == ([[431877.2, 5712345.6]], [63.1])
    assert (track.frame, track.dated) == ("map", first > 1e8)


def test_decimal_commas_between_semicolons(tmp_path):
    """A points file with decimal commas reads to the numbers meant."""
    points = read_points(write(tmp_path, "name;x;y;z\nA;1,5;-2,25;0,5\nB;0;1;\n"))
    assert points.xyz_m[0].tolist() == [1.5, -2.25, 0.5]
    assert np.isnan(points.xyz_m[1, 2])
    assert (points.names, points.frame) == (("A", "B"), "local")


def test_columns_are_told_by_heading_or_by_number(tmp_path):
    """A total-station list without headings is read by column numbers, one with odd headings by their names."""
    bare = write(tmp_path, "101,431877.205,5712345.607,63.1,PEG\n102,431881.720,5712341.650,63.2,PEG\n")
    points = read_points(bare, {"name": 1, "easting": 2, "northing": 3, "height": 4})
    assert points.xyz_m[1].tolist() == [431881.720, 5712341.650, 63.2]
    assert points.names == ("101", "102")
    odd = write(tmp_path, "Rechts,Hoch,Wann\n431877.2,5712345.6,09:12:03\n")
    track = read_text_track(odd, {"easting": "rechts", "northing": "hoch", "time": "Wann"})
    assert track.time_s.tolist() == [33123.0]
    with pytest.raises(ReadError, match=r"no column with the heading Recht .did you mean rechts"):
        read_text_track(odd, {"easting": "Recht"})


def test_a_text_track_goes_over_midnight_and_skips_rows_without_a_place(tmp_path):
    """Times go on above 86 400, and an empty place is counted, not guessed."""
    text = "time,lat,lon,fix,sd\n23:59:59,51.5,-3.9,4,0.01\n00:00:00,,,0,\n00:00:01,51.5,-3.9,5,0.3\n"
    track = read_text_track(write(tmp_path, text))
    assert track.time_s.tolist() == [86399.0, 86401.0]
    assert track.quality.tolist() == [4, 5]
    assert track.sd_m[:, 0].tolist() == [0.01, 0.3]
    assert "1 rows without a place or a fix, left out" in track.notes


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("time,x,y\n1,2,3\n2,abc,3\n", 't.csv:3: column x holds "abc", which is no number'),
        ("time,x,y\n1,2,3\n2,nan,3\n", "no number"),
        ("time,x,y\n1,2,3\n2,1e999,3\n", "no number"),
        ("time,x,y\n1,2,3\n2,5\n", "t.csv:3: 2 cells where 3 are needed"),
        ("time,a,b\n1,2,3\n", "no column for x and y"),
        ("x,y\n1,2\n", "no column for time"),
        ("time,lat,lon\n1,95,3\n", "no place on Earth"),
        ("time,x,y,q\n1,2,3,77\n", "no quality code"),
        ("time,x,y,sd\n1,2,3,-1\n", "below 0"),
        ("time,x,y\n", "headings but no rows"),
        ("", "holds no rows"),
        (b"\x00\x01\x02", "is no text"),
        (b"\xff\xfe\x00", "UTF-16"),
    ],
)
def test_what_is_wrong_is_told_with_its_row_and_column(text, said, tmp_path):
    """Each fault of a text track is one row that says where."""
    with pytest.raises(ReadError, match=said) as caught:
        read_text_track(write(tmp_path, text))
    assert "\n" not in str(caught.value)


def test_unknown_encodings_are_read_and_told(tmp_path):
    """UTF-16 with its mark reads; Western European reads with a note."""
    text = "name,x,y\nStraße,1,2\n"
    assert read_points(write(tmp_path, text.encode("utf-16"))).names == ("Straße",)
    points = read_points(write(tmp_path, text.encode("cp1252")))
    assert points.names == ("Straße",)
    assert "code page 1252" in points.notes[0]


CELLS = st.sampled_from(
    [
        "time",
        "x",
        "y",
        "lat",
        "lon",
        "1",
        "-2.5",
        "1e5",
        "nan",
        "",
        "09:12:03",
        "2024-04-06T09:12:03Z",
        "4",
        ",",
        ";",
        "\t",
        "\n",
        "\r\n",
        "#",
        '"',
        "99999999999999999999",
        "٣",
        "²",
    ]
)


@given(
    parts=st.lists(st.one_of(st.binary(max_size=10), CELLS.map(str.encode)), max_size=25),
    columns=st.sampled_from(
        [None, {"time": 1, "x": 2, "y": 3}, {"time": "x"}, {"wrong": 1}, {"x": 1, "time": "t"}]
    ),
)
@settings(max_examples=400, deadline=None)
def test_any_bytes_give_an_error_of_ours_or_an_answer(parts, columns, tmp_path_factory):
    """Whatever the bytes and the columns told, the answer is a record or one ReadError row."""
    path = tmp_path_factory.getbasetemp() / "any.csv"
    path.write_bytes(b"time,x,y\n1,2,3\n" * (len(parts) % 2) + b"".join(parts))
    for reader in (read_text_track, read_points, read_track):
        try:
            answer = reader(path, columns=columns)
        except ReadError as error:
            assert "\n" not in str(error)
            continue
        assert np.isfinite(getattr(answer, "place", np.zeros(1))).all()

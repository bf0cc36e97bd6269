from __future__ import annotations

from dataclasses import FrozenInstanceError, replace

import pytest

from gridmap.errors import ReadError
from gridmap.read import as_table, describe, read_line


def test_description_agrees_with_the_line(make) -> None:
    """What is told without reading samples is what reading finds."""
    trace = {13: ("i", [1, 2, 3, 7, 8, 10]), 73: ("i", [5, 6, 7, 8, 9, 10]), 77: ("i", 3), 109: ("h", 4)}
    trace |= {157: ("h", 2024), 159: ("h", 10), 161: ("h", 9), 163: ("h", 0), 165: ("h", [0, 1, 2, 3, 4, 5])}
    path = make(code=3, trace=trace, order="<")
    info, line = describe(path), read_line(path)
    assert (info.traces, info.samples) == line.traces.shape
    assert info.interval_ns == line.sample_interval_ns
    assert info.window_ns == pytest.approx(40.0)
    assert info.start_ns == line.sample_start_ns == 4.0
    assert info.gaps == ((3, 7), (8, 10))
    assert info.missing == 4
    assert info.xy_bounds == (5.0, 3.0, 10.0, 3.0)
    assert info.last_time_s is not None
    assert info.first_time_s is not None
    assert info.last_time_s - info.first_time_s == 5.0
    assert info.notes == line.notes
    assert (info.kind, info.byte_order, info.sample_format) == (
        "SEG-Y revision 1",
        "little-endian",
        "16-bit integer",
    )
    with pytest.raises(FrozenInstanceError):
        info.traces = 3  # type: ignore[misc]


def test_trouble_is_told_and_the_rest_still_described(make) -> None:
    """An interval that cannot be decided leaves the rest of the description standing."""
    info = describe(make(interval=0))
    assert info.interval_ns is None
    assert info.trouble.startswith("L01.sgy: no positive sample interval")
    assert describe(make(interval=0), sample_interval_ns=0.2).window_ns == pytest.approx(40.0)
    assert (
        "trace 2 has 100 samples"
        in describe(make(trace={115: ("H", [200, 100, 200, 200, 200, 200])})).trouble
    )


def test_a_file_cut_short_is_refused(make) -> None:
    """A length that headers contradict is an error here as in reading."""
    path = make()
    path.write_bytes(path.read_bytes()[:-1])
    with pytest.raises(ReadError, match="cut short"):
        describe(path)


def test_table_is_aligned_and_shared_notes_stand_once(make) -> None:
    """Every row is as wide as its columns; a note of all files is one line."""
    one = describe(make(trace={13: ("i", [1, 2, 3, 4, 5, 9])}))
    other = replace(one, source="a-longer-name.sgy", interval_ns=None, window_ns=None, trouble="why")
    table = as_table([one, other]).splitlines()
    heading, rule, first, second = table[:4]
    for column in ("format", "order", "traces", "window ns"):
        end = heading.index(column) + len(column)
        assert heading[: heading.index(column)].endswith("  ")
        assert rule[end - 1] == "-"
    assert first[heading.index("missing") : heading.index("missing") + 7] == "      3"
    assert second.startswith("a-longer-name.sgy  SEG-Y revision 1")
    assert "?" in second
    assert sum("picoseconds" in line for line in table) == 1
    assert "cannot be read as it stands: why" in table
    assert as_table([]) == "no files\n"


def test_surveys_show_their_dropped_traces(surveys) -> None:
    """The plaza's first line misses trigger numbers 102 and 103 (seen with segyio in bytes 13-16)."""
    info = describe(surveys / "plaza" / "lines" / "X001.sgy")
    assert info.gaps == ((101, 104),)
    assert info.missing == 2
    assert "SITE PLAZA LINE X001" in info.text

"""Delimited text in the forms that spreadsheets and scripts write; expected numbers are those written here."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gridmap.errors import ReadError
from gridmap.model.layout import Layouts, TextLayout
from gridmap.read import as_table, describe, read_line, read_text
from gridmap.read.text_rows import looks_like_text

TIMES = 0.4 * np.arange(32)
"""ns"""
WAVES = np.round(np.sin(TIMES * 1.3) * 1000) + (np.arange(12) ** 2 % 7)[:, None] * 3.0
"""(trace, sample): neighbours in a trace differ by hundreds, neighbouring traces by a few."""


def save(
    path: Path, rows: list[list[object]], between: str = ",", encoding: str = "utf-8", end: str = "\n"
) -> Path:
    """Write cells as text."""
    path.write_bytes((end.join(between.join(map(str, row)) for row in rows) + end).encode(encoding))
    return path


def by_columns(heading: bool = True) -> list[list[object]]:
    """Samples in rows, first column the time, as a spreadsheet shows a radargram."""
    head = [["time_ns", *(f"{0.05 * k:.2f}" for k in range(12))]] if heading else []
    return [*head, *([f"{t:.1f}", *row] for t, row in zip(TIMES, WAVES.T, strict=True))]


def by_rows() -> list[list[object]]:
    """Traces in rows, x and y before the samples, times in the heading."""
    head = ["x_m", "y_m", *(f"{t:.1f}" for t in TIMES)]
    return [head, *([k * 0.05, 7.5, *row] for k, row in enumerate(WAVES))]


@pytest.mark.parametrize("between", [",", ";", "\t", " ", "   ", " , "])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_delimiters_and_line_ends(tmp_path: Path, between: str, end: str) -> None:
    """Traces in columns beside their times, by any delimiter and line end, give the numbers written."""
    line = read_line(save(tmp_path / "a.csv", by_columns(), between, end=end))
    np.testing.assert_array_equal(line.traces, WAVES)
    assert line.sample_interval_ns == pytest.approx(0.4)
    assert line.sample_start_ns == 0.0
    assert any("traces in columns" in note for note in line.notes)


@pytest.mark.parametrize("between", [";", "\t", " "])
def test_decimal_comma(tmp_path: Path, between: str) -> None:
    """Decimal commas are read where the delimiter leaves no doubt, and told."""
    rows = [[str(cell).replace(".", ",") for cell in row] for row in by_columns()]
    line = read_line(save(tmp_path / "a", rows, between))
    np.testing.assert_array_equal(line.traces, WAVES)
    assert any("decimal comma" in note for note in line.notes)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    """UTF-8, Latin-1 and UTF-16 with its mark are told apart by content."""
    rows = [["# Straße, Süd"], ["Gelände am Fluß"], *by_columns()]
    line = read_line(save(tmp_path / "a", rows, encoding=encoding))
    np.testing.assert_array_equal(line.traces, WAVES)
    assert any("Latin-1" in note for note in line.notes) == (encoding == "latin-1")


def test_traces_in_rows_with_places(tmp_path: Path) -> None:
    """Headings x, y and times make places and an interval."""
    line = read_line(save(tmp_path / "a", by_rows()))
    np.testing.assert_array_equal(line.traces, WAVES)
    np.testing.assert_allclose(line.header_xy, np.stack([np.arange(12) * 0.05, np.full(12, 7.5)], axis=1))
    assert line.sample_interval_ns == pytest.approx(0.4)
    info = describe(tmp_path / "a")
    assert info.xy_bounds == pytest.approx((0, 7.5, 0.55, 7.5))
    assert "text, traces in rows" in as_table([info])


def test_bare_matrix_both_ways(tmp_path: Path) -> None:
    """Without any heading or axis the likeness of neighbours says how traces stand; the interval must be stated."""
    for name, cells in (("rows", WAVES), ("columns", WAVES.T)):
        path = save(tmp_path / name, cells.tolist())
        line = read_line(path, sample_interval_ns=0.4)
        np.testing.assert_array_equal(line.traces, WAVES)
        assert any(f"stand in {name}" in note for note in line.notes)
        with pytest.raises(ReadError, match="nothing in the file gives the sample interval"):
            read_line(path)
        info = describe(path)
        assert (info.traces, info.samples) == WAVES.shape
        assert "sample interval" in info.trouble


def test_bare_axes(tmp_path: Path) -> None:
    """Axes without words: positions along one side, times along the other, a cell of any number in the corner."""
    cells = np.zeros((33, 13))
    cells[1:, 1:], cells[1:, 0], cells[0, 1:] = WAVES.T, TIMES, np.arange(12) * 0.05
    for name, one in (("columns", cells), ("rows", cells.T)):
        line = read_line(save(tmp_path / name, one.tolist()))
        np.testing.assert_array_equal(line.traces, WAVES)
        assert line.sample_interval_ns == pytest.approx(0.4)
        assert any("not used" in note for note in line.notes)


def test_layout_is_obeyed(tmp_path: Path) -> None:
    """What the user states overrules every guess: rows above, what stands before, unit, delimiter."""
    rows: list[list[object]] = [[1, 2, 3], ["line 4"]]
    rows += [[k + 7, 1.6e9 + k, 99, k * 2, 5, *wave] for k, wave in enumerate(WAVES)]
    path = save(tmp_path / "a", rows, ";")
    layout = TextLayout(
        delimiter="semicolon",
        decimal=".",
        header_rows=2,
        traces_in="rows",
        before_samples=("number", "utc_s", "skip", "x", "y"),
        sample_times=False,
        sample_interval_ns=0.25,
    )
    line = read_line(path, layouts=Layouts(text=layout))
    np.testing.assert_array_equal(line.traces, WAVES)
    np.testing.assert_array_equal(line.trace_number, np.arange(7, 19))
    np.testing.assert_array_equal(line.time_s, 1.6e9 + np.arange(12))
    np.testing.assert_array_equal(line.header_xy, np.stack([np.arange(12) * 2, np.full(12, 5)], axis=1))
    assert line.sample_interval_ns == 0.25
    assert read_line(path, layouts=Layouts(text=layout), sample_interval_ns=0.5).sample_interval_ns == 0.5
    assert describe(path, layouts=Layouts(text=layout)).first_time_s == 1.6e9


@pytest.mark.parametrize(
    ("scale", "unit", "interval_ns"),
    [(1e-9, None, 0.4), (1e-9, "s", 0.4), (1e3, None, 0.4), (1, "us", 400.0)],
)
def test_unit_of_times(tmp_path: Path, scale: float, unit: str | None, interval_ns: float) -> None:
    """The unit of the times is the one stated, else the only one that gives a radar window."""
    cells = np.column_stack([TIMES * scale, WAVES.T])
    path = save(tmp_path / "a", cells.tolist())
    line = read_text(path, layout=TextLayout(traces_in="columns", sample_times=True, time_unit=unit))  # type: ignore[arg-type]
    assert line.sample_interval_ns == pytest.approx(interval_ns)


def test_start_of_the_times_is_kept(tmp_path: Path) -> None:
    """A first time that is not zero is the start of the record, scaled with an interval that is overruled."""
    cells = np.column_stack([TIMES - 4.0, WAVES.T])
    path = save(tmp_path / "a", [["time_ns", *"abcdefghijkl"], *cells.tolist()])
    assert read_line(path).sample_start_ns == pytest.approx(-4.0)
    assert read_line(path, sample_interval_ns=0.8).sample_start_ns == pytest.approx(-8.0)


def test_a_count_is_no_time(tmp_path: Path) -> None:
    """A first column that only counts samples gives no interval and is no trace."""
    cells = np.column_stack([np.arange(32), WAVES.T])
    path = save(tmp_path / "a", cells.tolist())
    with pytest.raises(ReadError, match="gives the sample interval"):
        read_line(path)
    line = read_line(path, sample_interval_ns=0.4)
    np.testing.assert_array_equal(line.traces, WAVES)
    assert any("counts the samples" in note for note in line.notes)


def broken(row: int, column: int, cell: object) -> list[list[object]]:
    rows = by_columns()
    rows[row][column] = cell
    return rows


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (broken(5, 3, "abc"), 'row 6, column 4: "abc" is not a finite number'),
        (broken(5, 3, "nan"), 'row 6, column 4: "nan"'),
        (broken(5, 3, "inf"), 'row 6, column 4: "inf"'),
        (broken(5, 3, "1e99"), 'row 6, column 4: "1e99"'),
        (broken(5, 3, "1_000"), 'row 6, column 4: "1_000"'),
        (broken(5, 3, "٣"), "row 6, column 4"),
        (broken(5, 3, ""), "row 6, column 4: the cell is empty"),
        (broken(1, 3, "nan"), 'row 2, column 4: "nan"'),
        ([*by_columns(), [1, 2]], "row 34 has 2 cells where the rows before it have 13"),
        ([row[:-1] if k == 9 else row for k, row in enumerate(by_columns())], "row 10 has 12 cells"),
        ([["2024"], *by_columns(False)], "row 2, column 1"),
        ([row for k, row in enumerate(by_columns()) if k != 9], "do not rise in even steps: 3.6 follows 2.8"),
    ],
)
def test_refusals_name_row_and_column(tmp_path: Path, rows: list[list[object]], words: str) -> None:
    """Whatever is no finite number, or not as long as the rest, is named by row and column on one line."""
    with pytest.raises(ReadError) as caught:
        read_text(save(tmp_path / "a.txt", rows))
    assert words in str(caught.value)
    assert str(caught.value).startswith("a.txt: ")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("layout", "words"),
    [
        (TextLayout(delimiter="pipe"), "delimiter = 'pipe'"),  # type: ignore[arg-type]
        (TextLayout(delimiter="comma", decimal=","), "decimal"),
        (TextLayout(before_samples=("z",)), "before_samples"),  # type: ignore[arg-type]
        (TextLayout(before_samples=("skip",) * 40, traces_in="rows"), "no samples are left"),
        (TextLayout(before_samples=("skip",) * 40, traces_in="columns"), "no samples are left"),
        (TextLayout(encoding="klingon"), 'no character encoding "klingon"'),
        (TextLayout(encoding="utf-16"), "no text in utf-16"),
        (TextLayout(delimiter="tab", header_rows=1), "row 2, column 1"),
        (TextLayout(sample_interval_ns=-1.0), "sample_interval_ns is -1"),
    ],
)
def test_layouts_that_cannot_be(tmp_path: Path, layout: TextLayout, words: str) -> None:
    """A layout that contradicts itself or the file is refused by key."""
    with pytest.raises(ReadError) as caught:
        read_text(save(tmp_path / "a.txt", by_columns()), layout=layout)
    assert words in str(caught.value) or "holds no numbers" in str(caught.value)
    assert str(caught.value).startswith("a.txt: ")


def test_a_heading_that_the_samples_contradict(tmp_path: Path) -> None:
    """A first column headed time that is the clock of traces in rows is not taken for sample times."""
    rows = [["time", *range(32)], *([k * 0.5, *wave] for k, wave in enumerate(WAVES))]
    with pytest.raises(ReadError, match="State traces_in"):
        read_line(save(tmp_path / "a", rows))


def test_noise_is_not_guessed(tmp_path: Path) -> None:
    """Where rows and columns are alike, the user is asked."""
    noise = np.random.default_rng(3).normal(size=(40, 50)).round(3)
    with pytest.raises(ReadError, match="State traces_in"):
        read_line(save(tmp_path / "a", noise.tolist()), sample_interval_ns=0.4)


def test_what_is_taken_for_text() -> None:
    """Rows of numbers are text for this reader; prose, settings, markup and binary are not."""
    for good in (
        b"1,2,3\n4,5,6\n",
        b"# x\n1 2\n",
        b"a;b\n1,5;2,5\n",
        b"\xff\xfe" + "1,2\n".encode("utf-16-le"),
    ):
        assert looks_like_text(good)
    for bad in (
        b"",
        b"\n\n",
        b"prose\nmore prose\n",
        b"$GPGGA,1,2\n",
        b'key = "value"\n',
        b"1,2\0\n",
        b"\x001\n",
    ):
        assert not looks_like_text(bad)


def test_numpy_writes_what_is_read(tmp_path: Path) -> None:
    """A file by numpy.savetxt with its own comment heading comes back."""
    cells = np.column_stack([TIMES, WAVES.T])
    np.savetxt(tmp_path / "a", cells, header="time_ns " + " ".join(f"t{k}" for k in range(12)))
    line = read_line(tmp_path / "a")
    np.testing.assert_array_equal(line.traces, WAVES)
    assert line.sample_interval_ns == pytest.approx(0.4)


def test_simulated_line_round_trip(surveys: Path, tmp_path: Path) -> None:
    """A radar line written as text without any axis is turned the right way by itself."""
    for path in sorted(surveys.glob("*/lines/*.sgy"))[::25]:
        line = read_line(path)
        np.savetxt(tmp_path / "t", line.traces.T, fmt="%.9g")
        back = read_line(tmp_path / "t", sample_interval_ns=line.sample_interval_ns)
        np.testing.assert_allclose(back.traces, line.traces, rtol=1e-6)


def test_samples_that_rise_evenly_are_no_axis(tmp_path: Path) -> None:
    """Where every row rises in even steps, the first is no row of positions."""
    ramps = np.round(np.sin(TIMES * 1.3) * 1000) + np.arange(12)[:, None] * 3.0
    line = read_line(save(tmp_path / "a", ramps.T.tolist()), sample_interval_ns=0.4)
    np.testing.assert_array_equal(line.traces, ramps)

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import segyio

from gridmap.errors import InputError
from gridmap.read import describe, read_segy, write_segy

RNG = np.random.default_rng(5)
TRACES = (RNG.standard_normal((9, 120)) * 1000).astype(np.float32)
TIME = datetime(2024, 12, 31, 23, 59, 58, tzinfo=UTC).timestamp() + 0.25 * np.arange(9)


@pytest.mark.parametrize("order", [">", "<"])
@pytest.mark.parametrize("code", [1, 3, 5])
def test_the_reference_library_reads_what_is_written(tmp_path: Path, code: int, order: str) -> None:
    """segyio finds the same samples and header numbers in a written file."""
    path = tmp_path / "a.sgy"
    number = np.array([1, 2, 3, 5, 6, 7, 8, 9, 12])
    write_segy(
        path,
        TRACES,
        sample_interval_ps=250,
        sample_format=code,
        byte_order=order,
        trace_number=number,
        time_s=TIME,
        text=["MEADOW", "LINE 7"],
    )
    with segyio.open(path, ignore_geometry=True, endian={">": "big", "<": "little"}[order]) as file:
        samples = file.trace.raw[:]
        assert file.bin[3217] == 250
        assert file.bin[3221] == 120
        assert file.bin[3225] == code
        assert file.attributes(13)[:].tolist() == number.tolist()
        assert file.attributes(117)[:].tolist() == [250] * 9
        assert file.attributes(159)[:].tolist() == [366] * 8 + [1]
        assert file.attributes(157)[:].tolist() == [2024] * 8 + [2025]
        assert b"MEADOW" in file.text[0]
    limit = {1: np.abs(TRACES).max() * 2.0**-21, 3: 0.5, 5: 0.0}[code]
    assert np.abs(samples.astype(np.float64) - TRACES).max() <= limit


@pytest.mark.parametrize("order", [">", "<"])
@pytest.mark.parametrize("code", [1, 3, 5])
def test_what_is_written_is_read_back(tmp_path: Path, code: int, order: str) -> None:
    """Samples, interval, numbers and times over New Year come back."""
    path = tmp_path / "a.sgy"
    write_segy(
        path, np.rint(TRACES), sample_interval_ps=250, sample_format=code, byte_order=order, time_s=TIME
    )
    line = read_segy(path)
    np.testing.assert_array_equal(line.traces, np.rint(TRACES))
    assert line.sample_interval_ns == pytest.approx(0.25)
    assert line.trace_number is not None
    assert line.trace_number.tolist() == list(range(1, 10))
    assert line.time_s is not None
    np.testing.assert_allclose(line.time_s, TIME, atol=1e-3)
    assert describe(path).trouble == ""


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"sample_interval_ps": 0}, "1 to 32767"),
        ({"sample_interval_ps": 40000}, "1 to 32767"),
        ({"sample_format": 8}, "not written"),
        ({"traces": np.zeros(5, np.float32)}, "shape"),
        ({"traces": np.full((2, 9), np.nan, np.float32)}, "NaN"),
        ({"traces": np.full((2, 9), 4e4, np.float32), "sample_format": 3}, "do not fit 16-bit"),
        ({"time_s": np.zeros(3)}, "one number for each of 9 traces"),
        ({"text": ["x" * 90]}, "at most 76"),
    ],
)
def test_what_does_not_fit_is_refused_and_nothing_is_left(tmp_path: Path, keys: dict, words: str) -> None:
    """A value that its field cannot hold is refused before a file appears."""
    with pytest.raises(InputError, match=words):
        write_segy(tmp_path / "a.sgy", **{"traces": TRACES, "sample_interval_ps": 200, **keys})
    assert list(tmp_path.iterdir()) == []

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gridmap.errors import ReadError
from gridmap.read.segy_interval import UNITS_NS, WINDOW_NS, choose_interval, plausible_unit


def counts(*values: int) -> np.ndarray:
    return np.array(values, dtype=np.int16)


@given(st.integers(1, 32767), st.integers(1, 100_000))
def test_at_most_one_unit_is_plausible(count: int, samples: int) -> None:
    """Readings lie a factor 1000 apart, windows at most 400: there is never a choice to make."""
    fits = [u for u, ns in UNITS_NS.items() if WINDOW_NS[0] <= count * ns * samples <= WINDOW_NS[1]]
    assert fits == ([plausible_unit(count, samples)] if plausible_unit(count, samples) else [])


@pytest.mark.parametrize(
    ("count", "samples", "ns", "unit"),
    [
        (200, 240, 0.2, "picoseconds"),
        (1, 512, 1.0, "nanoseconds"),
        (97, 512, 0.097, "picoseconds"),
        (1, 2, 1000.0, "microseconds"),
    ],
)
def test_the_unit_follows_from_the_window(count: int, samples: int, ns: float, unit: str) -> None:
    """200 with 240 samples is 48 ns in picoseconds, 48 us in nanoseconds: only the first is radar."""
    chosen = choose_interval(samples, count, counts(count, count))
    assert chosen.ns == pytest.approx(ns)
    assert chosen.unit_ns == UNITS_NS[unit]
    assert unit in chosen.note
    assert f"window {ns * samples:g} ns" in chosen.note


def test_no_plausible_reading_asks_for_the_site_file() -> None:
    """Four samples of 1000 are 4 ns, 4 us or 4 ms: no radar window, and the message shows all three."""
    with pytest.raises(
        ReadError, match=r"4 ns if in picoseconds, 4000 ns .* State sample_interval_ns in the site file"
    ):
        choose_interval(4, 1000, counts(1000))


@pytest.mark.parametrize("count", [0, -2000])
def test_zero_and_negative_are_absent(count: int) -> None:
    """A count that is not positive says nothing; the trace headers may."""
    with pytest.raises(ReadError, match="no positive sample interval"):
        choose_interval(200, count, counts(0, -3))
    assert choose_interval(200, count, counts(200, 200)).ns == pytest.approx(0.2)


def test_file_and_trace_headers_that_contradict_each_other() -> None:
    """Two plausible counts are refused; of a plausible and an absurd one the first is used."""
    with pytest.raises(ReadError, match="file header gives a sample interval of 200, the trace headers 100"):
        choose_interval(240, 200, counts(100, 100))
    chosen = choose_interval(240, 200, counts(20, 20))
    assert chosen.ns == pytest.approx(0.2)
    assert "other header's 20" in chosen.note
    chosen = choose_interval(240, 20, counts(200, 200))
    assert chosen.ns == pytest.approx(0.2)
    assert chosen.note.endswith("(trace header; the other header's 20 gives no plausible window)")


def test_trace_headers_that_differ_name_the_first_odd_trace() -> None:
    """One line has one interval."""
    with pytest.raises(ReadError, match="trace 3 has a sample interval of 100"):
        choose_interval(240, 200, counts(200, 200, 100))
    assert choose_interval(240, 200, counts(200, 0, 200)).ns == pytest.approx(0.2)


def test_stated_interval_overrules_everything_and_is_noted() -> None:
    """The site file wins over contradictions, and the note keeps what the header said."""
    chosen = choose_interval(240, 4000, counts(200, 100), stated_ns=0.25)
    assert chosen.ns == 0.25
    assert "0.25 ns as stated, not the header's 4000" in chosen.note
    assert "window 60 ns" in chosen.note


@pytest.mark.parametrize("stated", [0.0, -1.0, float("nan"), float("inf")])
def test_stated_interval_must_be_a_positive_number(stated: float) -> None:
    """A stated interval that is no positive number is refused, not used."""
    with pytest.raises(ReadError, match="must be a positive number"):
        choose_interval(240, 200, counts(200), stated_ns=stated)


def test_revision_2_number_of_microseconds() -> None:
    """0.0002 microseconds is 0.2 ns beyond doubt; 200 microseconds is no radar; NaN and 0 are absent."""
    assert choose_interval(240, 4000, counts(4000), exact_us=2e-4).ns == pytest.approx(0.2)
    with pytest.raises(ReadError, match="no radar records"):
        choose_interval(240, 200, counts(200), exact_us=200.0)
    for absent in (0.0, float("nan"), -1.0, float("inf")):
        assert choose_interval(240, 200, counts(200), exact_us=absent).unit_ns == 1e-3

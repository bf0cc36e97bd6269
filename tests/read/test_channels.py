"""Channels of an array that one file holds in turn."""

import numpy as np
import pytest

from gridmap.errors import ReadError
from gridmap.model import Line
from gridmap.read.channels import channel_of


def whole(count=12, number=None):
    traces = np.arange(count, dtype=np.float32)[:, None] * np.ones(5, np.float32)
    return Line(
        "S1",
        traces,
        0.1,
        trace_number=number,
        time_s=np.repeat(np.arange(count // 4), 4) * 0.1,
        source="S1.sgy",
    )


def test_every_fourth_trace_is_the_channel():
    """Of four channels the third has traces 3, 7 and 11, with their times."""
    got = channel_of(whole(), 2, 4, "S1_C03")
    assert got.name == "S1_C03"
    assert list(got.traces[:, 0]) == [2, 6, 10]
    assert list(got.time_s) == pytest.approx([0.0, 0.1, 0.2])


def test_numbers_that_count_all_traces_become_the_trigger_count():
    """Numbers 1 to 12 are rounds 1, 2, 3 of a channel; a round left out shows; a gap within a round tells nothing."""
    assert list(channel_of(whole(number=np.arange(1, 13)), 1, 4, "b").trace_number) == [1, 2, 3]
    without_a_round = np.array([1, 2, 3, 4, 9, 10, 11, 12, 13, 14, 15, 16])
    assert list(channel_of(whole(number=without_a_round), 1, 4, "b").trace_number) == [1, 3, 4]
    odd = np.array([1, 2, 3, 4, 5, 6, 7, 8, 10, 11, 12, 13])
    assert channel_of(whole(number=odd), 1, 4, "b").trace_number is None


def test_half_a_round_is_an_error():
    """Ten traces are no whole rounds of four channels."""
    with pytest.raises(ReadError, match=r"S1\.sgy: 10 traces, which 4 channels do not divide"):
        channel_of(Line("S1", np.zeros((10, 5), np.float32), 0.1, source="S1.sgy"), 0, 4, "a")

"""Radargrams packed for the page."""

import base64
import zlib
from dataclasses import replace

import numpy as np
import pytest

from gridmap.deliver.page_data import PageRadargrams
from gridmap.deliver.page_lines import FULL, pack_lines
from gridmap.model import CleanLine


def survey(traces=120, samples=90):
    rng = np.random.default_rng(4)
    along = np.cumsum(rng.uniform(0.019, 0.021, traces))
    values = rng.normal(0, 1, (traces, samples)).astype(np.float32)
    line = CleanLine(
        "\u202eB1", np.stack([along, 0 * along], axis=1), along, values, np.ones(traces, bool), 0.0
    )
    return PageRadargrams((line,), 0.25, 400.0, 0.06, 0.1, 1.5)


def unpacked(line):
    """Undo the packing with zlib: RFC 1951 by another hand."""
    raw = zlib.decompress(base64.b64decode(line.text), -15)
    return np.cumsum(np.frombuffer(raw, np.uint8).reshape(line.traces, line.samples), axis=0, dtype=np.uint8)


def test_every_column_is_the_trace_nearest_to_it():
    """Columns lie one median step apart; each holds its nearest trace to half a byte."""
    given = survey()
    packed = pack_lines(given, 10**6)
    line, cells = packed.lines[0], unpacked(packed.lines[0])
    assert (packed.joined, packed.step_ns) == (1, 0.25)
    at = line.first_m + line.step_m * np.arange(line.traces)
    nearest = np.abs(given.lines[0].along_m[None] - at[:, None]).argmin(axis=1)
    back = (cells.astype(float) - 128) / 127 * FULL * given.limit
    wanted = np.clip(given.lines[0].traces[nearest], -FULL * 1.5, FULL * 1.5)
    np.testing.assert_allclose(back, wanted, atol=0.51 * FULL * 1.5 / 127)


def test_gaps_and_traces_left_out_are_blank():
    """Nought is a value, blank is none: a gap of a metre and a dead trace hold the byte 0."""
    given = survey()
    line = given.lines[0]
    usable = line.usable.copy()
    usable[10] = False
    along = line.along_m + np.where(np.arange(120) >= 60, 1.0, 0.0)
    cells = unpacked(
        pack_lines(replace(given, lines=(replace(line, usable=usable, along_m=along),)), 10**6).lines[0]
    )
    blank = (cells == 0).all(axis=1)
    assert 40 < blank.sum() < 60
    assert blank[8:13].any()
    assert not (cells[~blank] == 0).any()


def test_a_survey_too_large_shows_fewer_traces():
    """The bound holds and the factor says how many traces stand as one."""
    packed = pack_lines(survey(), 4000)
    assert packed.joined > 2
    assert len(packed.lines[0].text) <= 4000
    assert packed.lines[0].step_m == pytest.approx(0.02 * packed.joined, rel=0.05)


def test_samples_are_kept_as_closely_as_the_antenna_needs():
    """At 400 MHz a period lasts 2.5 ns: samples 0.1 ns apart are thinned to eight or more in it."""
    packed = pack_lines(replace(survey(), interval_ns=0.1), 10**6)
    assert 2.5 / packed.step_ns >= 8
    assert packed.step_ns == pytest.approx(0.3)

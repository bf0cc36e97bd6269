"""One line judged by itself: each fault is put into a sound line, and is named where it was put."""

import numpy as np
import pytest
from made_ground import INTERVAL_NS
from made_line import NOISE, made_traces, placed

from gridmap.check.line import check_line
from gridmap.check.setup import Setup

SETUP = Setup(300.0, 0.15, line_spacing_m=0.5)


def _found(traces, setup=SETUP, **more):
    return check_line(placed(traces, **more), setup).findings


def _only(findings, kind):
    assert [f.kind for f in findings if f.severity != "note"] == [kind]
    return next(f for f in findings if f.kind == kind)


def _again(traces, index, seed=8):
    """The same places taken again: other noise."""
    noise = NOISE * np.random.default_rng(seed).standard_normal((len(index), traces.shape[1]))
    return traces[index] + noise


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("noise", [0.0, NOISE, 0.3])
def test_sound_line_has_nothing_to_say(seed, noise):
    """Clutter and noise of the receiver, or none at all, are no fault."""
    pipes = (((1.0, 3.0), 0.0, 0.6, 8.0),)
    assert [f for f in _found(made_traces(seed, pipes=pipes, noise=noise)) if f.severity != "note"] == []


def test_dead_traces_are_counted_from_one():
    """Traces 41 to 44 of the file hold noise alone: 15 cm, more than a quarter of a wavelength of 33 cm."""
    traces = made_traces()
    traces[40:44] = 0.01 * np.random.default_rng(1).standard_normal(traces[40:44].shape)
    f = _only(_found(traces), "dead")
    assert (f.first_trace, f.last_trace, f.severity) == (41, 44, "attention")
    assert (f.from_m, f.to_m) == pytest.approx((2.0, 2.15))


def test_single_dead_trace_is_a_note():
    """A gap of 10 cm is bridged by the traces beside it: under a third of a wavelength."""
    traces = made_traces()
    traces[40] = 0.0
    found = [f for f in _found(traces, Setup(300.0, 0.15, velocity_m_per_ns=0.15)) if f.kind == "dead"]
    assert [f.severity for f in found] == ["note"]


def test_burst_at_all_times_is_a_bump():
    """Noise ten times the receiver's, over 30 cm and all times."""
    traces = made_traces()
    traces[60:67] += 10 * NOISE * np.random.default_rng(4).standard_normal(traces[60:67].shape)
    f = _only(_found(traces), "bump")
    assert abs(f.first_trace - 61) <= 1 and abs(f.last_trace - 67) <= 1


def test_burst_over_metres_is_interference():
    """A telephone beside the line is no stone on the way."""
    traces = made_traces()
    traces[60:110] += 10 * NOISE * np.random.default_rng(4).standard_normal(traces[60:110].shape)
    f = _only(_found(traces), "burst")
    assert abs(f.first_trace - 61) <= 2 and abs(f.last_trace - 110) <= 2


def test_shift_of_the_direct_wave_is_a_lift():
    """A lifted antenna's direct wave is larger and of another shape; 90 cm of it leave a hole wider than the lines."""
    traces = made_traces()
    late = np.roll(traces[70:89], 1, axis=1) * 1.4 - 12.0 * np.roll(traces[70:89].mean(axis=0), 7)
    traces[70:89] = late
    f = _only(_found(traces), "lifted")
    assert (f.first_trace, f.last_trace, f.severity) == (71, 89, "walk again")


def test_stop_repeats_traces():
    """Thirty traces of one place differ by noise alone."""
    traces = made_traces()
    stop = _again(traces, np.full(30, 80))
    f = _only(_found(np.concatenate([traces[:80], stop, traces[80:]])), "stopped")
    assert abs(f.first_trace - 81) <= 2 and abs(f.last_trace - 111) <= 2


def test_ground_that_is_the_same_everywhere_is_no_stop():
    """Flat layers and noise look the same wherever they are crossed."""
    traces = np.repeat(made_traces(count=160)[:1], 160, axis=0)
    traces = traces + NOISE * np.random.default_rng(2).standard_normal(traces.shape)
    assert "stopped" not in {f.kind for f in _found(traces)}


def test_backing_up_is_mirrored_twice():
    """A metre back and on again: the ground is seen three times."""
    traces = made_traces()
    back, on = _again(traces, np.arange(99, 79, -1), 5), _again(traces, np.arange(80, 100), 6)
    f = _only(_found(np.concatenate([traces[:100], back, on, traces[100:]])), "backed up")
    assert abs(f.first_trace - 81) <= 2 and abs(f.last_trace - 140) <= 2


def test_pipe_crossed_square_is_not_backing_up():
    """Its curve is mirrored about its apex, the ground beside it is not."""
    pipes = (((1.0, 4.0), 0.0, 0.7, 12.0),)
    assert "backed up" not in {f.kind for f in _found(made_traces(pipes=pipes))}


@pytest.mark.parametrize("mhz", [88.0, 433.0, 900.0])
def test_transmitter_is_named_by_its_frequency(mhz):
    """A steady tone of another phase at every trace; the record of 29 ns tells it to 20 MHz."""
    traces = made_traces()
    phase = np.random.default_rng(3).uniform(0, 2 * np.pi, (len(traces), 1))
    traces += 0.3 * np.cos(2 * np.pi * mhz * 1e-3 * INTERVAL_NS * np.arange(traces.shape[1]) + phase)
    tone = next(f for f in _found(traces) if f.kind == "tone")
    assert abs(tone.figures[0].value - mhz) < 20.0


def test_jump_of_time_zero_is_measured():
    """Three samples of 0.2 ns from trace 91 on: less than a quarter of a period of 3.3 ns, so a note."""
    traces = made_traces()
    traces[90:] = np.roll(traces[90:], 3, axis=1)
    f = next(f for f in _found(traces) if f.kind == "time zero")
    assert f.figures[0].value == pytest.approx(0.6, abs=0.05)
    assert (f.first_trace, f.last_trace, f.severity) == (90, 91, "note")


def test_clipped_direct_wave_and_clipped_echoes():
    """Rails at half the direct wave, and at half the largest echo."""
    traces = made_traces()
    f = _only(_found(np.clip(traces, -15, 15)), "clipped")
    assert f.severity == "attention"
    f = next(f for f in _found(np.clip(traces, -1.0, 1.0)) if f.kind == "clipped")
    assert f.severity == "walk again"


def test_missing_triggers_are_a_gap():
    """Seven triggers lost from 5 cm to 5 cm leave 40 cm."""
    traces = made_traces()
    number = np.arange(len(traces) + 7)
    number = np.delete(number, np.arange(50, 57))
    where = 0.05 * number
    here = placed(traces, trace_number=number + 1)
    here = type(here)(here.line, np.column_stack([0 * where, where]), where)
    f = _only(check_line(here, SETUP).findings, "gap")
    assert (f.first_trace, f.last_trace) == (50, 51)
    assert f.figures[0].value == 7 and f.figures[1].value == pytest.approx(0.4)


def test_trace_interval_against_a_quarter_of_a_wavelength():
    """0.1 m/ns at 300 MHz: 8.3 cm (v / (4 f), trade.md 1.2); 10 cm lose limbs, 20 cm lose echoes."""
    traces = made_traces()[::2]
    for step, severity in ((0.08, None), (0.10, "attention"), (0.20, "walk again")):
        found = [f for f in check_line(placed(traces, step_m=step), SETUP).findings if f.kind == "interval"]
        assert [f.severity for f in found] == ([severity] if severity else [])


def test_record_that_ends_above_the_wanted_depth():
    """29 ns after time zero see 1.45 m at 0.1 m/ns (d = v t / 2, trade.md 1.2)."""
    traces = made_traces()
    for depth, severity in ((1.0, None), (1.3, "attention"), (1.6, "walk again")):
        found = _found(traces, Setup(300.0, 0.0, depth_m=depth))
        assert [f.severity for f in found if f.kind == "window"] == ([severity] if severity else [])

import numpy as np
import pytest
from scipy import signal

from gridmap.condition.band_waves import reach_of, waves_of
from gridmap.condition.dewow import dewow
from gridmap.condition.spectrum import to_time_zero

RNG = np.random.default_rng(31)


def spectral(traces, interval_ns, zero_ns, samples, band_mhz, out_ns):
    """Float64 by definition: |H|^2 of Butterworth (1930) and the shift theorem, on a record with ample room."""
    n, length = traces.shape[1], 1 << 14
    tail = int(np.clip(1.5e3 / band_mhz[0] / interval_ns, 64, 4 * n))
    fade = 0.5 + 0.5 * np.cos(np.pi * np.arange(1, tail + 1) / tail)
    room = np.zeros((len(traces), length))
    room[:, :n] = traces
    room[:, n : n + tail] = traces[:, -1:] * fade
    room[:, length - tail :] = traces[:, :1] * fade[::-1]
    mhz = np.fft.rfftfreq(length, interval_ns * 1e-3)
    with np.errstate(divide="ignore"):
        gain = 1 / (1 + (mhz / band_mhz[1]) ** 8) / (1 + (band_mhz[0] / mhz) ** 8)
    gain = gain * (mhz <= 500 / max(interval_ns, out_ns))
    time_ns = zero_ns + out_ns * np.arange(samples)
    basis = np.exp(2j * np.pi * np.outer(mhz * 1e-3, time_ns)) * 2 / length
    return (np.fft.rfft(room, axis=1) * gain @ basis).real


def record(traces=70, samples=512):
    """A strong early pulse, a slow swing after it, weak late echoes and noise, as float32."""
    t = np.arange(samples) * 0.1
    a = (np.pi * 0.4 * (t - 2.4)) ** 2
    wave = (1 - 2 * a) * np.exp(-a) + 0.3 * np.exp(-t / 12) * (t > 2)
    return (wave + np.convolve(RNG.normal(size=samples), np.hanning(25), "same") * 3e-3).astype(
        np.float32
    ) + RNG.normal(0, 3e-3, (traces, samples)).astype(np.float32)


@pytest.mark.parametrize(
    ("interval_ns", "zero_ns", "out_ns", "band"),
    [
        (0.1, 1.23, 0.2, (140.0, 800.0)),
        (0.1, -2.34, 0.1, (140.0, 800.0)),
        (0.1, 2.36, 0.05, (140.0, 800.0)),
        (0.2, 0.87, 0.2, (98.0, 560.0)),
        (0.05, 7.77, 0.15, (200.0, 900.0)),
    ],
)
def test_waves_do_what_the_spectrum_does(interval_ns, zero_ns, out_ns, band):
    """Two ways to the same filter: within 0.05 % of the peak, ends of the record included."""
    traces = dewow(record(), interval_ns, 10.0)
    samples = int((511 * interval_ns - zero_ns) / out_ns)
    assert reach_of(interval_ns, out_ns, band) is not None
    got = to_time_zero(traces, interval_ns, zero_ns, samples, band, out_ns)
    true = spectral(traces, interval_ns, zero_ns, samples, band, out_ns)
    assert np.abs(got - true).max() < 5e-4 * np.abs(true).max()


def test_waves_do_what_forward_and_backward_filtering_does():
    """scipy.signal.sosfiltfilt with Butterworth corners is the same filter but for the bilinear map: within 0.3 %."""
    traces = np.zeros((3, 1500), np.float32)
    traces[:, 500:1012] = record(3) * np.hanning(512).astype(np.float32)
    low = signal.butter(4, 140.0, "high", fs=1e4, output="sos")
    high = signal.butter(4, 800.0, fs=1e4, output="sos")
    true = signal.sosfiltfilt(np.concatenate([low, high]), traces.astype(float), axis=1)
    got = to_time_zero(traces, 0.1, 0.0, 1500, (140.0, 800.0))
    assert np.abs(got - true).max() < 3e-3 * np.abs(true).max()


def test_impulse_response_is_that_of_the_gain():
    """The sum of decaying waves is the inverse Fourier transform of the gain."""
    size, step = waves_of((140.0, 800.0), 0.2)
    lag = np.arange(0, 60)
    waves = (size[:, None] * step[:, None] ** lag).real.sum(axis=0)
    mhz = np.linspace(0.01, 2e4, 400_001)
    gain = 1 / (1 + (mhz / 800) ** 8) / (1 + (140 / mhz) ** 8)
    true = [2 * 0.2e-3 * np.trapezoid(gain * np.cos(2e-3 * np.pi * mhz * 0.2 * k), mhz) for k in lag]
    assert np.abs(waves - true).max() < 1e-5


def test_band_near_the_nyquist_frequency_goes_through_the_spectrum():
    """Waves sampled too coarsely would fold back, and the choice says so."""
    assert reach_of(0.2, 0.6, (140.0, 800.0)) is None
    traces = record()
    got = to_time_zero(traces, 0.2, 1.17, 100, (140.0, 800.0), 0.6)
    true = spectral(traces, 0.2, 1.17, 100, (140.0, 800.0), 0.6)
    assert np.abs(got - true).max() < 0.02 * np.abs(true).max()


def test_same_input_gives_the_same_bytes_whatever_lies_beside():
    """A trace's result does not depend on which traces are worked on with it."""
    traces = record(130)
    whole = to_time_zero(traces, 0.1, 1.2, 240, (140.0, 800.0), 0.2)
    part = to_time_zero(traces[40:77], 0.1, 1.2, 240, (140.0, 800.0), 0.2)
    assert (whole[40:77] == part).all()

"""What conditioning makes of a record's ends, against the same traces recorded for longer."""

import numpy as np
from scipy import fft, ndimage, signal

from gridmap.condition.dewow import dewow
from gridmap.condition.recipe import choose_recipe
from gridmap.condition.spectrum import to_time_zero
from gridmap.image.envelope import envelope

INTERVAL_NS, FIRST, SAMPLES, WHOLE = 0.1, 1500, 512, 4096


def plain_chain(traces: np.ndarray, band_mhz: tuple[float, float], dewow_ns: float) -> np.ndarray:
    """Running mean off, Butterworth forward and backward, mean trace off, Hilbert transform: SciPy in float64."""
    x = traces - ndimage.uniform_filter1d(traces, round(dewow_ns / INTERVAL_NS) | 1, axis=1, mode="nearest")
    sections = [
        signal.butter(4, corner, kind, fs=1e3 / INTERVAL_NS, output="sos")
        for corner, kind in zip(band_mhz, ("high", "low"), strict=True)
    ]
    x = signal.sosfiltfilt(np.concatenate(sections), x, axis=1)
    return np.abs(signal.hilbert(x - x.mean(axis=0), axis=1))


def test_ends_of_a_record_are_nearer_to_a_longer_record_than_those_of_scipy_defaults() -> None:
    """What a record cut off cannot be known; the fade to zero errs by less than SciPy's odd reflection does."""
    mhz = fft.rfftfreq(WHOLE, INTERVAL_NS * 1e-3)
    noise = np.random.default_rng(3).standard_normal((100, WHOLE))
    long = fft.irfft(fft.rfft(noise, axis=1) * np.exp(-0.5 * ((mhz - 400) / 150) ** 2), WHOLE, axis=1)
    recipe = choose_recipe(400.0, 0.14, INTERVAL_NS)
    assert recipe.band_mhz is not None
    part = slice(FIRST, FIRST + SAMPLES)
    truth = plain_chain(long, recipe.band_mhz, recipe.dewow_ns)[:, part]
    theirs = plain_chain(long[:, part], recipe.band_mhz, recipe.dewow_ns)
    short = np.ascontiguousarray(long[:, part], dtype=np.float32)
    ours = to_time_zero(
        dewow(short, INTERVAL_NS, recipe.dewow_ns), INTERVAL_NS, 0.0, SAMPLES, recipe.band_mhz
    )
    ours = envelope(ours - ours.mean(axis=0))

    def miss(made: np.ndarray, where: slice) -> float:
        return float(np.sqrt(np.mean((made[:, where] - truth[:, where]) ** 2)) / truth.max())

    edge = round(1.5e3 / recipe.band_mhz[0] / INTERVAL_NS)
    for end in (slice(0, edge), slice(SAMPLES - edge, SAMPLES)):
        assert miss(ours, end) < 0.85 * miss(theirs, end)
    middle = slice(edge, SAMPLES - edge)
    assert miss(ours, middle) < 0.003
    assert np.abs(ours - theirs)[:, middle].max() < 0.03 * truth.max()

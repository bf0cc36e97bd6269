"""Interference at one frequency: a narrow line in the spectrum of what changes from trace to trace."""

from __future__ import annotations

import numpy as np
from scipy import fft

from gridmap.check.finding import Figure, Finding, Severity
from gridmap.check.stretch import whole_line
from gridmap.model import Bool, Float32

_MOST = 120
_LEAST_SHARE = 0.15
"""A tone that holds less than this share of what changes from trace to trace harms nothing; of 100 traces of noise
the largest share is 0.08."""
_EARLIER, _LATER = (0.3, 0.5), (0.6, 0.85)
"""Lags asked, in parts of the record: what a tone explains is as much at long lags as at shorter ones; noise of the
antenna's band, and late echoes that the ground has made narrow, forget themselves."""
_KEPT = 0.6


def find_tones(line: str, swept: Float32, first: int, sample_interval_ns: float, out: Bool) -> list[Finding]:
    """Find steady interference by its frequency.

    Parameters
    ----------
    line : str
        Name of the line.
    swept : (trace, sample) float32
        Dewowed amplitude.
    first : int
        First sample after the direct wave.
    sample_interval_ns : float
        Nanoseconds.
    out : (trace,) bool
        Traces that are not looked at.

    Returns
    -------
    list of Finding
        At most one. A transmitter's phase is another at every trace, so second differences along the line keep it
        while they drop echoes; what is the same along a line is ringing.

    Notes
    -----
    The autocorrelation of a tone is a cosine of constant size at every lag; its mean over traces, unbiased, is asked at
    lags beyond half the record. Frequency: the peak of that part's spectrum.
    """
    good = np.flatnonzero(~(out[:-2] | out[1:-1] | out[2:])) + 1
    good = good[:: max(1, len(good) // _MOST)]
    samples = swept.shape[1] - first
    if len(good) < 12 or samples < 48:
        return []
    differ = swept[good - 1, first:] - 2 * swept[good, first:] + swept[good + 1, first:]
    differ = differ / (np.sqrt(np.mean(np.square(differ), axis=1, keepdims=True)) + np.float32(1e-30))
    length = int(fft.next_fast_len(2 * samples, real=True))
    power = np.mean(np.abs(fft.rfft(differ, length, axis=1)) ** 2, axis=0, dtype=float)
    likeness = fft.irfft(power, length)[:samples] / (samples - np.arange(samples)) * samples
    likeness /= max(float(likeness[0]), 1e-30)
    before, part = (likeness[int(a * samples) : int(b * samples)] for a, b in (_EARLIER, _LATER))
    share = float(np.sqrt(2.0) * part.std())
    if share < max(_LEAST_SHARE, _KEPT * float(np.sqrt(2.0) * before.std())):
        return []
    part = likeness[int(_EARLIER[0] * samples) : int(_LATER[1] * samples)]
    padded = 16 * len(part)
    spectrum = np.abs(fft.rfft((part - part.mean()) * np.hanning(len(part)), padded))
    mhz = float(fft.rfftfreq(padded, sample_interval_ns * 1e-3)[int(spectrum.argmax())])
    unsure = 0.5e3 / (len(part) * sample_interval_ns)
    severity: Severity = "attention" if share > 0.4 else "note"
    return [
        whole_line(
            line,
            "tone",
            severity,
            (Figure("frequency", mhz, "MHz"), Figure("share of the noise", 100 * share, "%")),
            f"interference at {mhz:.0f} MHz (within {unsure:.0f}), {100 * share:.0f} % of what changes from trace to "
            "trace",
            "Look for a transmitter, telephone or radio nearby, switch it off, and compare one line.",
        )
    ]

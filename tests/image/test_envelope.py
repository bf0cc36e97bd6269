"""Envelope identities (trade.md 1.4) and scipy's own analytic signal."""

import numpy as np
import pytest
from scipy.signal import hilbert

from gridmap.image.envelope import envelope


def test_cosine_over_whole_periods_has_envelope_one():
    """|s + i H(s)| of a cosine is 1 away from the ends."""
    s = np.cos(2 * np.pi * np.arange(512) / 16).astype(np.float32)
    assert envelope(s[None])[0, 64:-64] == pytest.approx(np.ones(384), abs=0.02)


def test_sign_does_not_matter():
    """A flip of polarity changes nothing."""
    s = np.random.default_rng(1).normal(size=(3, 200)).astype(np.float32)
    assert envelope(-s) == pytest.approx(envelope(s), abs=1e-5)


def test_agrees_with_scipy():
    """Same as abs(scipy.signal.hilbert) for a pulse well inside the record (reference library)."""
    t = np.arange(400) - 200.0
    s = (np.exp(-((t / 20) ** 2)) * np.cos(t / 3))[None].astype(np.float32)
    assert envelope(s) == pytest.approx(np.abs(hilbert(s, axis=1)), abs=2e-3)

"""Kirchhoff migration against pylops, a general library of linear operators by other authors."""

import numpy as np
import pytest

from gridmap.image.envelope import envelope
from gridmap.image.migrate import migrate_2d, plan_2d
from gridmap.model import CleanLine, VelocityModel

waveeq = pytest.importorskip("pylops.waveeqprocessing", reason="pylops is not installed (extra `test`)")

pytestmark = pytest.mark.filterwarnings("ignore:A new implementation of Kirchhoff:FutureWarning")

V, INTERVAL, SAMPLES, STEP, FREQUENCY = 0.1, 0.25, 140, 0.05, 0.3
X = STEP * np.arange(31)
Z = 0.025 * np.arange(50)
REFLECTORS = ((20, 28), (9, 18))  # (column, depth level) of two points


@pytest.fixture(scope="module")
def theirs():
    """Return zero-offset records that pylops models from two points, and its own migration (the adjoint) of them."""
    time = INTERVAL * np.arange(SAMPLES)
    a = (np.pi * FREQUENCY * (INTERVAL * np.arange(-20, 21))) ** 2
    wavelet = (1 - 2 * a) * np.exp(-a)
    truth = np.zeros((len(X), len(Z)))
    for place in REFLECTORS:
        truth[place] = 1.0
    records, image = [], np.zeros_like(truth)
    for x in X:
        # One trace at a time, source and receiver together: what a radar walks.
        place = np.array([[x], [0.0]])
        operator = waveeq.Kirchhoff(Z, X, time, place, place, V, wavelet, 20, mode="analytic", engine="numpy")
        trace = operator @ truth.ravel()
        records.append(trace)
        image += (operator.H @ trace).reshape(truth.shape)
    return np.array(records, np.float32), image


def test_points_modelled_by_pylops_image_at_their_places(theirs):
    """Each point comes back to within a quarter wavelength, 0.083 m."""
    records, _ = theirs
    line = CleanLine("L", np.stack([X, 0 * X], axis=1), X, records, np.ones(len(X), bool), 0.0)
    strength = envelope(
        migrate_2d([line], plan_2d([line], INTERVAL, 0.0, VelocityModel.constant(V, 0, ""), Z, STEP))[0]
    )
    for column, level in REFLECTORS:
        near = strength[column - 4 : column + 5, level - 6 : level + 7]
        i, k = np.unravel_index(near.argmax(), near.shape)
        assert STEP * abs(i - 4) <= 0.083
        assert 0.025 * abs(k - 6) <= 0.083


def test_image_is_like_the_adjoint_of_pylops(theirs):
    """Same places, same extent: envelopes of both images correlate above 0.85, though weights and aperture differ."""
    records, adjoint = theirs
    line = CleanLine("L", np.stack([X, 0 * X], axis=1), X, records, np.ones(len(X), bool), 0.0)
    ours = envelope(
        migrate_2d([line], plan_2d([line], INTERVAL, 0.0, VelocityModel.constant(V, 0, ""), Z, STEP, 70.0))[0]
    )
    other = envelope(adjoint.astype(np.float32))
    inner = np.s_[:, 10:45]
    assert np.corrcoef(ours[inner].ravel(), other[inner].ravel())[0, 1] > 0.85

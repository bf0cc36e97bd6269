"""Travel times against the worked pairs of the trade."""

import numpy as np
import pytest

from gridmap.velocity.moveout import CurveTables, curves, scan_line, scan_velocities
from gridmap.velocity.surface import straight_rays


def table(time_ns, offsets, separation_m):
    sample, turn = curves(
        np.array([0.1]), np.array([time_ns]), np.array(offsets), separation_m, 1.0, straight_rays()
    )
    np.testing.assert_allclose(turn, 1.0)
    return sample[0, 0]


def test_thin_pipe():
    """A pipe 1 m down, 1 m off: 28.284 ns over 20 ns at the apex."""
    # shared/trade.md 1.3, row "Thin pipe" [source: GPG Survey].
    np.testing.assert_allclose(table(20.0, [0.0, 1.0], 0.0), [20.0, 28.284], atol=0.001)


def test_antenna_separation():
    """With 0.16 m between the antennas and 0.5 m depth: 15.654 ns at 0.6 m, 10.127 ns at the apex."""
    # shared/trade.md 1.3, row "Separation S" [calc there].
    np.testing.assert_allclose(table(10.0, [0.6, 0.0], 0.16), [15.654, 10.127], atol=0.001)


def test_semblance_is_one_on_its_own_curve_and_falls_off_it():
    """A signal that is the same along the curve has semblance 1 there and less for other velocities."""
    along = np.arange(-1.0, 1.001, 0.05)
    interval = 0.1
    time = interval * np.arange(400)
    arrival = 2 * np.hypot(along, 0.7) / 0.1
    signal = np.exp(-(((time - arrival[:, None]) / 1.5) ** 2) + 1j * 2.5 * (time - arrival[:, None]))
    effect = straight_rays()
    out = np.zeros((3, 5))
    scan_velocities(
        signal.astype(np.complex64), along, np.ones(len(along), bool), 0.0, 14.0, 0.0,
        np.array([0.08, 0.1, 0.12]), interval, 0.0, 1.0, 0.6, effect.velocity_m_per_ns, effect.log_depth,
        float(effect.angle_rad[1]), effect.delay_ns, effect.phase_rad, 2, out,
    )  # fmt: skip
    assert out[1, 0] == pytest.approx(1.0, abs=0.01)
    assert max(out[0, 0], out[2, 0]) < 0.9
    assert out[1, 2] == np.sum(np.abs(along) < 0.6)
    assert out[1, 3] == pytest.approx(out[1, 4], rel=0.05)


@pytest.mark.parametrize("step_m", [0.05, 0.004])
def test_a_scanned_line_is_coherent_on_its_own_curve_alone(step_m):
    """Semblance is 1 on the curve of a thin pipe and power highest there, dense traces or not."""
    along = np.arange(-1.2, 1.2001, step_m)
    interval = 0.1
    time = interval * np.arange(400)
    arrival = (
        2 * np.hypot(along - 0.1, 0.7) / 0.1
    )  # shared/trade.md 1.3, row "Thin pipe" [source: GPG Survey].
    late = time - arrival[:, None]
    signal = (np.exp(-((late / 1.5) ** 2) + 1j * 2.5 * late)).astype(np.complex64)
    speeds, times, apexes = (
        np.array([0.08, 0.1, 0.12]),
        np.array([6.0, 14.0, 39.0]),
        np.array([-0.3, 0.1, 0.5]),
    )
    sample, turn = curves(speeds, times, np.arange(0.0, 1.0, 0.002), 0.0, interval, straight_rays())
    good = np.ones(len(along), bool)
    good[::7] = False
    half = np.full((3, 3), 0.6)
    out = scan_line(signal, along, good, apexes, half, CurveTables.of(sample, turn), 0.002)
    assert out.shape == (3, 3, 3, 2)
    assert out[1, 1, 1, 0] == pytest.approx(1.0, abs=0.01)
    # Weights cancel in the coherent power: that of an amplitude of one.
    assert out[1, 1, 1, 1] == pytest.approx(1.0, abs=0.02)
    assert np.unravel_index(out[..., 1].argmax(), out.shape[:3]) == (1, 1, 1)
    # The record ends at 39.9 ns: of the curve from 39 ns only its middle is left.
    assert out[1, 1, 2, 1] < 1e-6

"""The fast echoes of survey L against the exact ones, and the survey's promises."""

from pathlib import Path

import numpy as np
import pytest

from benchmarks import make_survey_l
from benchmarks.simulate import array_echoes
from benchmarks.simulate.ground import Ground, Layer
from benchmarks.simulate.objects import Pipe, Points, Scene
from benchmarks.simulate.pulse import clean_line
from gridmap.site.load import load_site

GROUND = Ground.lay(Layer("sand", np.inf, 9.0, 0.0))
V = GROUND.velocity_at(1.0)
MID = np.stack([np.full(121, 1.0), np.linspace(0, 6, 121)], axis=1)
PULSE, _, DIRECT = array_echoes.tables(0.4, 0.1, 0.14, V)
BEFORE = PULSE.shape[1] // 2


def exact(scene: Scene, **kwargs: float) -> np.ndarray:
    """Simulate one line by rays and FFT: (trace, sample)."""
    return clean_line(
        scene, MID, np.array([0.0, 1.0]), separation_m=0.14, centre_mhz=400, samples=512, interval_ns=0.1,
        time_zero_ns=2.5, **kwargs,
    )  # fmt: skip


def sides() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Places of transmitter and receiver (1, trace, 2), time zero in samples (1,)."""
    half = np.array([0.0, 0.07])
    return (MID - half)[None], (MID + half)[None], np.array([25.0])


def near(fast: np.ndarray, slow: np.ndarray, share: float) -> None:
    """Hold the largest difference under a share of the largest amplitude."""
    assert np.abs(fast - slow).max() < share * np.abs(slow).max()


def test_pipe_is_that_of_the_ray_tracer() -> None:
    """Unfolding about the axis and Fermat's search along it are the same path."""
    pipe = Pipe((-1.0, 1.5, 0.7), (4.0, 4.0, 0.9), 0.05, -1.0)
    out = np.zeros((1, 121, 512), np.float32)
    ends = np.array(pipe.start), np.array(pipe.end)
    array_echoes.lay_pipe(out, *sides(), *ends, 0.05, -1.0, PULSE, BEFORE, 10 / V, 0.0, 50.0)
    slow = exact(Scene(GROUND, pipes=(pipe,)))
    across = 0.3 + 0.7 * (5.0**2 / (5.0**2 + 2.5**2))  # coupling of the dipoles, which survey L leaves out
    near(out[0, 20:100], slow[20:100] / across, 0.04)


def test_stones_are_those_of_the_ray_tracer() -> None:
    """Path length over velocity and 1 / (r1 r2) spreading, within a thirty-second of a sample."""
    stones = Points(np.array([[1.2, 2.0, 0.5], [0.7, 3.5, 1.1]]), np.array([0.01, -0.02]))
    out = np.zeros((1, 121, 512), np.float32)
    array_echoes.lay_points(out, *sides(), stones.xyz_m, stones.strength, PULSE, BEFORE, 10 / V, 0.0, 1.5)
    near(out[0], exact(Scene(GROUND, stones=stones)), 0.04)


def test_direct_wave_is_that_of_the_dipole_formula() -> None:
    """The tabled direct wave is the one laid by FFT."""
    out = np.zeros((1, 121, 512), np.float32)
    array_echoes.lay_direct(out, np.full((1, 121), 25.0), np.ones(1), DIRECT, BEFORE)
    late = slice(10, 80)
    near(out[0, :, late], exact(Scene(GROUND), direct=1.0)[:, late], 0.04)


@pytest.mark.slow
def test_survey_l_is_the_same_twice_and_loads(tmp_path: Path) -> None:
    """The same options give the same bytes, and a site file whose lines lie where the channels were."""
    counts = [make_survey_l.make(tmp_path / name, 3.0, channels=4, shared=1) for name in ("a", "b")]
    assert counts[0] == counts[1]
    files = sorted(p.relative_to(tmp_path / "a") for p in (tmp_path / "a").rglob("*") if p.is_file())
    for file in files:
        assert (tmp_path / "a" / file).read_bytes() == (tmp_path / "b" / file).read_bytes(), file
    site = load_site(tmp_path / "a" / "site.toml")
    assert len(site.lines) == counts[0][0] == len(files) - 2
    swaths = make_survey_l.lay_swaths(3.0, 4, 1, 2)
    for index, swath in enumerate(swaths):
        mid, _ = make_survey_l.drive(swath, index, 3.0, 4)
        for c in range(4):
            plan = next(p for p in site.lines if p.name == f"{swath.name}_C{c + 1:02d}")
            assert np.abs(mid[c, 0] - plan.start_m).max() < 0.1
            assert np.abs(mid[c, -1] - plan.end_m).max() < 0.1

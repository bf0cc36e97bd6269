"""Sums in phase, tracing and crossings on lines whose echoes are laid by the textbook hyperbola.

t = 2 sqrt(p^2 + z^2) / v for a thin pipe at distance p across it (GPG, travel times); Ricker pulse.
"""

import numpy as np
import pytest

from gridmap.features.crests import is_pipe
from gridmap.features.crossings import Walked, look_at_crossings
from gridmap.features.stack import Gather, stack_pieces
from gridmap.features.stack_states import amplitude_of_states
from gridmap.features.trace import Known, Traced, directions, draw_again, longest_stretch
from gridmap.model import CleanLine, VelocityModel

V, MHZ, DT, SAMPLES = 0.1, 300.0, 0.2, 160
VELOCITY = VelocityModel.constant(V, 0.003, "stated")
WAVE = V * 1e3 / MHZ
EVERYWHERE = Known(np.ones((61, 61), bool), 0.0, 0.0, 0.1)


def ricker(t):
    a = (np.pi * MHZ * 1e-3 * t) ** 2
    return (1 - 2 * a) * np.exp(-a)


def lines_of(echo_ns, lines=13, spacing=0.5, noise=0.1, sign=1.0, size=6.0):
    """Lines along y, `spacing` apart; `echo_ns` takes (trace, 2) places to times."""
    rng = np.random.default_rng(7)
    out = []
    for k in range(lines):
        y = np.arange(0, size + 0.01, 0.05)
        xy = np.stack([np.full_like(y, k * spacing), y], axis=1)
        t = DT * np.arange(SAMPLES)[None] - echo_ns(xy)[:, None]
        traces = sign * ricker(t) + noise * rng.normal(size=t.shape)
        out.append(CleanLine(f"L{k}", xy, y, traces.astype(np.float32), np.ones(len(y), bool), 0.0))
    return out


def pipe(x0, y0, slope, depth, fall=0.0):
    """Pipe through (x0, y0), y growing by `slope` a metre of x, falling by `fall` a metre of x."""

    def echo_ns(xy):
        across = (xy[:, 1] - y0 - slope * (xy[:, 0] - x0)) / np.hypot(1, slope)
        return 2 * np.hypot(across, depth + fall * (xy[:, 0] - x0)) / V

    return echo_ns


def gather(lines):
    return Gather.of(lines, DT, 0.0, 0.05)


def sums_at(g, x, y, z, angle):
    return stack_pieces(g, VELOCITY, np.array([[x, y, z]]), np.array([angle]))


def test_the_sum_is_coherent_on_the_pipe_and_nowhere_near_it():
    """Semblance of equal echoes is 1 (Neidell and Taner 1971); half a metre aside or a wavelength down it is near 0."""
    g = gather(lines_of(pipe(3, 3, 0.3, 0.8), noise=0.02))
    angle = np.arctan(0.3)
    assert sums_at(g, 3, 3, 0.8, angle).coherence[0] > 0.9
    assert is_pipe(sums_at(g, 3, 3, 0.8, angle))[0]
    for x, y, z, turn in ((3, 3.5, 0.8, 0), (3, 3, 0.8 + WAVE, 0), (3, 3, 0.8, 0.7)):
        assert sums_at(g, x, y, z, angle + turn).coherence[0] < 0.3


def test_a_flat_layer_is_no_pipe():
    """Echoes at one time everywhere sum up along the flat curve, not along that of a pipe."""
    g = gather(lines_of(lambda xy: np.full(len(xy), 16.0), noise=0.02))
    sums = sums_at(g, 3, 3, 0.8, 0.2)
    assert not is_pipe(sums)[0]
    assert abs(sums.flat[0]) > 2 * abs(sums.pipe[0])


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_phase_tells_the_sign(sign):
    """A reversed echo turns the phase of the sum by half a circle."""
    g = gather(lines_of(pipe(3, 3, 0.0, 0.8), sign=sign))
    phase = np.degrees(np.angle(sums_at(g, 3, 3, 0.8, 0.0).whole[0]))
    assert np.cos(np.radians(phase)) * sign > 0.9


@pytest.mark.parametrize(("slope", "fall"), [(0.0, 0.0), (0.5, 0.0), (0.1, 0.06)])
def test_a_rough_path_is_drawn_on_the_pipe_from_end_to_end(slope, fall):
    """A path 8 cm aside and 5 cm too deep that misses both ends comes to within 2 cm, over 95 % of the pipe."""
    lines = lines_of(pipe(3, 3, slope, 0.8, fall))
    x = np.linspace(0.8, 5.2, 12)
    rough = np.stack([x, 3.08 + slope * (x - 3), 0.85 + fall * (x - 3)], axis=1)
    path = draw_again(rough, gather(lines), VELOCITY, WAVE, EVERYWHERE)
    x, y, z = path.xyz_m.T
    assert np.median(np.abs(y - 3 - slope * (x - 3))) / np.hypot(1, slope) < 0.02
    assert np.median(np.abs(z - 0.8 - fall * (x - 3))) < 0.02
    assert path.length_m > 0.95 * 6.0 * np.hypot(1, slope)


def test_every_line_that_crosses_bears_witness_and_empty_ground_none():
    """Thirteen lines cross the pipe and show it; along a path where nothing is, hardly any do."""
    lines = lines_of(pipe(3, 3, 0.2, 0.8), noise=0.3)
    g, walked = gather(lines), Walked.of(lines)
    x = np.linspace(0.0, 6.0, 31)

    def looked(dy, z):
        xyz = np.stack([x, 3 + dy + 0.2 * (x - 3), np.full_like(x, z)], axis=1)
        angle = directions(xyz)
        path = Traced(xyz, angle, stack_pieces(g, VELOCITY, xyz, angle))
        return look_at_crossings(path, walked, g, VELOCITY, WAVE)

    there, elsewhere = looked(0.0, 0.8), looked(1.5, 1.2)
    assert there.crossed >= 11
    assert there.shown == there.crossed
    assert elsewhere.shown <= 0.25 * elsewhere.crossed


@pytest.mark.parametrize("separation", [0.0, 0.3])
def test_places_about_a_vertex_are_summed_as_pieces_are(separation):
    """The same curves through the same traces give the same amplitudes, whichever loop sums them."""
    g = Gather.of(lines_of(pipe(3, 3, 0.3, 0.8), noise=0.3), DT, separation, 0.05)
    x = np.array([0.2, 2.0, 3.0, 5.9])
    nodes, angle = (
        np.stack([x, 3 + 0.3 * (x - 3), [0.1, 0.8, 1.2, 7.8]], axis=1),
        np.arctan([0.3, 0.2, 0.3, 2.0]),
    )
    aside, below = np.array([-0.3, 0.0, 0.04, 0.5]), np.array([-0.2, 0.0, 0.1])
    got = amplitude_of_states(g, VELOCITY, nodes, angle, aside, below)
    normal = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    place = np.broadcast_to(nodes[:, None, None], (4, 4, 3, 3)).copy()
    place[..., :2] += aside[:, None, None] * normal[:, None, None]
    place[..., 2] += below
    turned = np.broadcast_to(angle[:, None, None], (4, 4, 3)).ravel()
    one = stack_pieces(g, VELOCITY, place.reshape(-1, 3), turned, others=False).amplitude.reshape(4, 4, 3)
    assert one[:3].min() > 0
    # Single precision moves the nearest sample of a trace in a few hundred, seldom.
    assert got == pytest.approx(one, rel=0.01, abs=1e-6)


@pytest.mark.parametrize(
    ("faint", "kept"),
    [
        ("...", (0, 3)),
        ("#..", (1, 3)),
        ("...#", (0, 3)),
        ("..#..", (0, 5)),
        (".....##..", (0, 5)),
        ("..##.....", (4, 9)),
        ("####", (0, 0)),
    ],
)
def test_of_a_path_that_leaves_its_pipe_the_longest_stretch_is_kept(faint, kept):
    """One faint vertex is bridged; two in a row end a stretch, wherever along the path they are."""
    assert longest_stretch(np.array([c == "#" for c in faint])) == kept

"""Antenna, reach and verdict: what physics lets move only one way."""

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from gridmap.plan.budget import loss_db, reach_m
from gridmap.plan.choose import answer, choose_antenna
from gridmap.plan.formulas import wavelength_m
from gridmap.plan.ground import FAMILIES, GroundGuess, Span, guess_ground
from gridmap.plan.request import AntennaAtHand, GroundAsked, Sought
from gridmap.plan.spacing import proposed_line_spacing_m, proposed_window_ns
from gridmap.plan.target import MATERIALS

SHAPES = st.sampled_from(["line", "body", "layer"])
SIZES = st.floats(0.02, 3.0)
DEPTHS = st.floats(0.1, 8.0)
MHZ = st.floats(25, 2000)
GROUNDS = st.sampled_from(
    [GroundAsked(m, w) for m in (*FAMILIES, "silt", "limestone", "peat") for w in ("dry", "moist", "wet")]
).map(guess_ground)
ANTENNAS = st.lists(MHZ, min_size=1, max_size=5).map(lambda fs: tuple(AntennaAtHand(f, 0.1) for f in fs))
RANK = {"no": 0, "perhaps": 1, "yes": 2}


@st.composite
def targets(draw):
    return Sought(draw(SHAPES), draw(st.sampled_from(sorted(MATERIALS))), draw(SIZES), draw(DEPTHS))


@given(targets(), st.floats(1.0, 5.0), GROUNDS, ANTENNAS)
@settings(deadline=None)
def test_deeper_never_asks_for_wider_lines_or_a_higher_frequency(sought, times, ground, antennas):
    """High frequencies are absorbed sooner, and depth makes nothing easier to hit; nor is the verdict better."""
    deep = Sought(sought.shape, sought.material, sought.size_m, sought.depth_m * times)
    here, there = (choose_antenna(s, ground, antennas, 110.0) for s in (sought, deep))
    assert there.antenna.frequency_mhz <= here.antenna.frequency_mhz
    assert proposed_line_spacing_m(deep) <= proposed_line_spacing_m(sought)
    v = ground.velocity_m_per_ns
    assert proposed_window_ns(v, deep.depth_m) >= proposed_window_ns(v, sought.depth_m)
    if here.antenna == there.antenna:
        verdicts = [answer(s, ground, c.reach_m)[0] for s, c in ((sought, here), (deep, there))]
        assert RANK[verdicts[1]] <= RANK[verdicts[0]]


@given(st.sampled_from([*FAMILIES, "silt", "limestone", "peat", "shale"]), SHAPES, SIZES, MHZ)
@settings(deadline=None)
def test_wetter_ground_never_gives_more_reach(medium, shape, size, mhz):
    """For metal, whose echo does not hang on contrast, and larger than the wave, so that shorter waves gain nothing."""
    grounds = [guess_ground(GroundAsked(medium, state)) for state in ("dry", "moist", "wet")]
    longest = wavelength_m(grounds[0].velocity_m_per_ns.high, mhz)
    assume(size >= {"line": 0, "body": longest / math.pi, "layer": longest / 4}[shape])
    reaches = [reach_m(Sought(shape, "metal", size, 1.0), ground, mhz, 110.0) for ground in grounds]
    for drier, wetter in pairwise(reaches):
        for end in ("low", "likely", "high"):
            assert getattr(wetter, end) <= getattr(drier, end) * (1 + 1e-9)


@given(targets(), GROUNDS, MHZ, st.floats(1.0, 10.0), st.floats(0, 40))
@settings(deadline=None)
def test_reach_moves_with_size_loss_and_performance(sought, ground, mhz, times, more_db):
    """A larger target or a better recorder never reaches less, a better conductor of ground never more."""
    reach = reach_m(sought, ground, mhz, 110.0)
    larger = Sought(sought.shape, sought.material, sought.size_m * times, sought.depth_m)
    s = ground.conductivity_s_per_m
    lossy = GroundGuess(
        ground.permittivity, Span(s.low * times, s.likely * times, s.high * times), True, False, ""
    )
    assert reach.low <= reach.likely <= reach.high
    for end in ("low", "likely", "high"):
        here = getattr(reach, end)
        assert getattr(reach_m(larger, ground, mhz, 110.0), end) >= here * (1 - 1e-9)
        assert getattr(reach_m(sought, ground, mhz, 110.0 + more_db), end) >= here * (1 - 1e-9)
        assert getattr(reach_m(sought, lossy, mhz, 110.0), end) <= here * (1 + 1e-9)


@given(targets(), MHZ, st.floats(2, 80), st.floats(0, 100), DEPTHS, st.floats(1.0, 3.0))
def test_loss_grows_with_depth(sought, mhz, e, absorption, depth, times):
    """Spreading and absorption both take more on a longer way, so that halving finds the reach."""
    assert (
        loss_db(sought, mhz, e, absorption, depth * times)
        >= loss_db(sought, mhz, e, absorption, depth) - 1e-9
    )


def test_range_equation_by_hand():
    """A metal sheet 1 m down, e 9, 400 MHz, no absorption: 10 lg(64 pi^3 / (2.25 w^2 pi)), w 0.24983 m, is 36.53 dB."""
    sheet = Sought("layer", "metal", 1.0, 1.0)
    by_hand = 10 * math.log10(64 * math.pi**3 / (2.25 * 0.24983**2 * math.pi))
    assert by_hand == pytest.approx(36.53, abs=0.02)
    assert loss_db(sheet, 400, 9, 0, 1.0) == pytest.approx(by_hand, abs=1e-3)


@pytest.mark.parametrize(
    ("sought", "asked", "wanted", "words"),
    [
        (Sought("line", "metal", 0.1, 1.0), GroundAsked("topsoil", "moist"), "yes", ""),
        (Sought("body", "metal", 1.5, 1.5), GroundAsked("clay", "wet"), "no", "spent before 1.5 m"),
        (Sought("body", "stone", 1.0, 1.0), GroundAsked("limestone", None, 0.122, 0.001), "no", "looks like"),
        (Sought("body", "air", 0.1, 2.0), GroundAsked("sand", "dry"), "perhaps", "ten times its size"),
    ],
)  # fmt: skip
def test_the_verdict_is_plain(sought, asked, wanted, words):
    """A tank under wet clay cannot be seen, nor a stone in stone; a pipe in moist soil can."""
    ground = guess_ground(asked)
    choice = choose_antenna(sought, ground, [AntennaAtHand(f, 0.15) for f in (200, 400)], 110.0)
    seen, reasons = answer(sought, ground, choice.reach_m)
    assert seen == wanted
    assert words in " ".join(reasons)


def test_of_two_antennas_of_one_frequency_the_closer_pair_is_taken():
    """Whatever the order at hand, the same antenna is proposed."""
    ground = guess_ground(GroundAsked("topsoil", "moist"))
    pair = [AntennaAtHand(400, 0.15), AntennaAtHand(400, 0.5)]
    for order in (pair, pair[::-1]):
        assert (
            choose_antenna(Sought("line", "metal", 0.1, 1.0), ground, order, 110.0).antenna.separation_m
            == 0.15
        )

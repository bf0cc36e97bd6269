"""Rules of survey design against worked pairs of published formulas, computed by hand beside each."""

import math

import pytest

from gridmap.plan import formulas
from gridmap.plan.budget import reach_m
from gridmap.plan.ground import GroundGuess, Span, guess_ground
from gridmap.plan.request import GroundAsked, Sought
from gridmap.plan.spacing import line_limit_m, proposed_samples, proposed_window_ns
from gridmap.plan.target import CLEAR_REFLECTION, contrast, echo_area_m2
from gridmap.velocity.dielectric import velocity_of

V9 = 0.299792458 / 3


@pytest.mark.parametrize(
    ("found", "printed", "source"),
    [
        (formulas.wavelength_m(V9, 400), "0.250", "GPG, Survey: v / f"),
        (formulas.vertical_resolution_m(V9, 400), "0.0625", "GPG, Survey: a quarter wavelength"),
        (formulas.wavelength_m(V9, 900), "0.111", "GPG"),
        (formulas.vertical_resolution_m(V9, 900), "0.028", "GPG"),
        (formulas.horizontal_resolution_m(V9, 400, 1), "0.353", "EMG, survey design: sqrt(v d / 2 f)"),
        (formulas.fresnel_radius_m(V9, 400, 1), "0.359", "[memory] Sheriff; Reynolds"),
        (formulas.footprint_radius_m(V9, 400, 1), "0.379", "[memory] Conyers 2013"),
        (formulas.trace_spacing_m(V9, 400), "0.0625", "EMG: a quarter wavelength at 90 degrees"),
        (formulas.trace_spacing_m(V9, 400, 45), "0.0883", "[memory] Grasmueck 2005"),
        (formulas.window_ns(0.1, 2), "52.0", "[memory] survey-design notes after Annan"),
        (formulas.sample_interval_ns(400), "0.417", "[memory] the same notes"),
        (formulas.focusing_separation_m(9, 1), "0.707", "EMG, survey design: 2 d / sqrt(K - 1)"),
        (formulas.probing_depth_m(4, 1e-5), "3180", "EMG, table of values, dry sand (3200 there)"),
        (formulas.probing_depth_m(80, 5e-4), "284.4", "EMG, table of values, fresh water (285 there)"),
        (formulas.resolving_frequency_mhz(9, 0.0625), "400", "[memory] Annan: 75 / (detail sqrt(K))"),
    ],
)
def test_worked_pairs(found, printed, source):
    """Each rule gives the value that its source's example gives, to half of the last digit printed."""
    digits = len(printed.partition(".")[2])
    assert abs(found - float(printed)) <= 0.5 * 10**-digits, source


def test_absorption_of_a_published_example():
    """30 mS/m and permittivity 25: 10.1 dB/m (selection tool after Annan 1991, whose 1.69 for 1.636 is 4 % high)."""
    ground = GroundGuess(Span(25, 25, 25), Span(0.03, 0.03, 0.03), False, True, "")
    assert ground.absorption_db_per_m(100).likely == pytest.approx(10.1, rel=0.04)


@pytest.mark.parametrize("ms_per_m", [5, 10, 20, 50])
@pytest.mark.parametrize("v", [0.1, 0.075])
def test_reach_agrees_with_the_rule_of_thumb(ms_per_m, v):
    """A strong flat reflector at 100 MHz is seen to about 30 / a metres, a the loss in dB/m ([memory] Annan 2005)."""
    ground = guess_ground(GroundAsked(None, None, v, 0.003, ms_per_m))
    rule = 30 / (1.636 * ms_per_m / math.sqrt(ground.permittivity.likely))
    reach = reach_m(Sought("layer", "water", 1.0, 1.0), ground, 100, 110)
    assert reach.low < rule < reach.high
    assert 1 / 1.5 < reach.likely / rule < 1.5


def test_reflections_of_published_pairs():
    """9 to an air void +0.500, 9 to water -0.498, metal -1 (GPG); reflected power of 0.01 is clear ([memory] Annan)."""
    air, water, metal = (Sought("body", m, 1.0, 1.0) for m in ("air", "water", "metal"))
    assert contrast(air, 9) == pytest.approx(0.5)
    assert contrast(water, 9) == pytest.approx(-0.498, abs=5e-4)
    assert contrast(metal, 9) == -1
    assert pytest.approx(0.01) == CLEAR_REFLECTION**2


def test_cross_sections_of_textbook_shapes():
    """A large sphere scatters pi a^2, a plane pi d^2 ([memory] Balanis 1989), a small one less by the fourth power."""
    assert echo_area_m2("body", True, 2.0, 5.0, 0.2) == pytest.approx(math.pi)
    assert echo_area_m2("layer", True, 2.0, 5.0, 0.2) == pytest.approx(25 * math.pi)
    small = [echo_area_m2("body", True, s, 5.0, 1.0) / (math.pi * s * s / 4) for s in (0.01, 0.02)]
    assert small[1] / small[0] == pytest.approx(16)


def test_spacing_agrees_with_published_practice():
    """A pipe gets 0.25 m (Denver test site), a grave 0.25 to 0.5 m ([memory] Pringle 2012, Schultz 2012)."""
    assert line_limit_m(Sought("line", "metal", 0.1, 1.0))[0] == 0.25
    assert 0.25 <= line_limit_m(Sought("body", "air", 0.6, 1.5))[0] <= 0.5


def test_window_and_samples_obey_both_rules():
    """2 m at 0.1 m/ns asks for 52 ns, so 55 in steps of 5, and 256 samples keep 400 MHz within 1 / (6 f)."""
    window = proposed_window_ns(Span(0.1, 0.1, 0.1), 2.0)
    assert window == 55
    assert proposed_samples(window, 400) == 256
    assert 0.417 >= 55 / 256
    assert 0.417 < 55 / 128


def test_velocity_of_media_stays_published():
    """Saturated sand 0.06 m/ns, limestone 0.12, clay 0.06, as GPG's table of velocities prints them."""
    for medium, v in (("saturated sand", 0.06), ("limestone", 0.12), ("clay", 0.06)):
        assert guess_ground(GroundAsked(medium)).velocity_m_per_ns.likely == pytest.approx(v, rel=1e-6)
    assert velocity_of(9) == pytest.approx(0.0999, abs=5e-5)

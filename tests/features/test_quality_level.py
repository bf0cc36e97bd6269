"""Quality levels are suggested with a reason, within what radar alone can earn (PAS 128 as surveyors sum it up)."""

import itertools

import pytest

from gridmap.features.quality_level import suggest_level

NAN = float("nan")


def level(confidence=0.9, depth_m=1.0, depth_sd_m=0.05, crossings=5, tied=True):
    return suggest_level(
        confidence=confidence, depth_m=depth_m, depth_sd_m=depth_sd_m, crossings=crossings, tied=tied
    )


def test_radar_alone_never_earns_b1_or_a():
    """No combination of figures gives more than QL-B2 (two techniques: B1; exposed: A); a reason is always given."""
    for values in itertools.product(
        (0, 0.5, 1, NAN), (0.1, 3, NAN), (0, 0.01, 1, NAN), (None, 0, 9), (True, False)
    ):
        said, why = level(*values)
        assert "B1" not in said
        assert "QL-A" not in said
        assert "licensed person decides" in why


@pytest.mark.parametrize(
    ("sd", "depth", "word"),
    [(0.12, 0.3, "QL-B2P"), (0.13, 0.3, "QL-B3P"), (0.19, 1.0, "QL-B2P"), (0.21, 1.0, "QL-B3P")],
)
def test_b2_needs_a_depth_within_250_mm_or_40_percent(sd, depth, word):
    """Two sigma against the larger of 0.25 m and 0.4 of the depth."""
    assert word in level(depth_sd_m=sd, depth_m=depth)[0]


def test_what_is_not_detected_is_b4_and_what_is_not_tied_is_nothing():
    """PAS 128: B4 is assumed, not detected; without control there is no plan position to grade."""
    assert level(confidence=0.3)[0] == "PAS 128 QL-B4"
    assert level(confidence=NAN)[0] == "PAS 128 QL-B4"
    assert level(tied=False)[0] == ""

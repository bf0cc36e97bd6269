"""Zig-zag stagger on ground of our own: scatterers by the hyperbola formula, not by gridmap."""

import pytest
from made_ground import INTERVAL_NS, Ground, zigzag

from gridmap.place.stagger import estimate_stagger


@pytest.mark.parametrize("behind", [-0.12, -0.04, 0.07, 0.2])
def test_known_stagger_is_found(behind):
    """Labels 4 to 20 cm behind or ahead of the truth come back within the 2 cm asked for, and stand out."""
    found = estimate_stagger(zigzag(Ground(1), behind=behind), INTERVAL_NS)
    assert found.stagger_m == pytest.approx(behind, abs=0.02)
    assert found.significant


@pytest.mark.parametrize("seed", [2, 3, 4])
def test_no_stagger_is_not_corrected(seed):
    """Lines without stagger give less than 1 cm, and nothing that stands out."""
    found = estimate_stagger(zigzag(Ground(seed), seed=seed), INTERVAL_NS)
    assert abs(found.stagger_m) < 0.01
    assert not found.significant


@pytest.mark.parametrize("behind", [0.0, 0.12])
def test_ends_of_lines_do_not_pull(behind):
    """Short lines end where labels end, not where the ground does: the estimate stays within 6 mm of the truth."""
    found = estimate_stagger(zigzag(Ground(4), behind=behind, length=5.0, seed=4), INTERVAL_NS)
    assert found.stagger_m == pytest.approx(behind, abs=0.006)


@pytest.mark.parametrize("bearing", [20.0, 35.0, 145.0])
def test_oblique_pipes_are_no_stagger(bearing):
    """Strong pipes at an angle to the lines shift from line to line, and are not taken for stagger."""
    pipes = [((2.0, y), bearing, 0.7 + 0.1 * k, 6.0) for k, y in enumerate((1.5, 3.0, 4.5))]
    ground = Ground(6, pipes=pipes)
    assert abs(estimate_stagger(zigzag(ground), INTERVAL_NS).stagger_m) < 0.015
    assert estimate_stagger(zigzag(ground, behind=0.06), INTERVAL_NS).stagger_m == pytest.approx(
        0.06, abs=0.015
    )


def test_both_directions_count():
    """Lines along x and along y are estimated together."""
    ground = Ground(7)
    both = zigzag(ground, behind=0.05, lines=6) + zigzag(
        ground, behind=0.05, lines=6, along_x=True, prefix="M", length=5.0, seed=9
    )
    found = estimate_stagger(both, INTERVAL_NS)
    assert found.pairs == 10
    assert found.stagger_m == pytest.approx(0.05, abs=0.012)


def test_few_lines_cannot_tell():
    """Three lines make two pairs: a reason in words and no number."""
    found = estimate_stagger(zigzag(Ground(1), lines=3), INTERVAL_NS)
    assert not found.known and not found.significant
    assert "cannot be told" in found.words


def test_lines_walked_one_way_cannot_tell():
    """Without opposite neighbours there is no stagger to see."""
    assert not estimate_stagger(zigzag(Ground(1), one_way=True), INTERVAL_NS).known


def test_noise_alone_cannot_tell():
    """Lines with nothing in common give no number that would be applied."""
    found = estimate_stagger(zigzag(Ground(1, strength=0.0), noise=1.0), INTERVAL_NS)
    assert not found.significant

"""Displaced lines on ground of our own: two at once, and the failure that is known."""

import random
from dataclasses import replace

import numpy as np
import pytest
from made_ground import INTERVAL_NS, Ground, zigzag

from gridmap.place.displaced import find_displaced
from gridmap.place.strips import strips_of, thinned

SPACING_M = 0.25


def _two_displaced(seed):
    """Names and truth of two lines labelled one to two spacings off, and what was named with its size."""
    dice = random.Random(seed)
    lines = zigzag(Ground(seed), lines=16, spacing=SPACING_M, seed=seed)
    truth = {}
    for i in dice.sample(range(2, 14), 2):
        off = dice.choice([-1, 1]) * dice.uniform(1.0, 2.0) * SPACING_M
        lines[i] = replace(lines[i], xy_m=lines[i].xy_m - np.array([off, 0.0]))
        truth[lines[i].name] = off
    group = strips_of(thinned(lines, INTERVAL_NS)[0], step_m=0.05, smooth_m=3.0)[0]
    return truth, {d.name: d.across_m for d in find_displaced(group)}


@pytest.mark.xfail(
    strict=True, reason="known: of two displaced lines side by side neither is named, but the next one"
)
def test_line_beside_two_displaced_ones_is_not_named():
    """Third and fourth line lie 1.4 and 1.7 spacings off; the fifth, which is right, is named with 0.9."""
    truth, named = _two_displaced(2)
    assert set(named) <= set(truth)


@pytest.mark.slow
def test_size_of_the_known_failure():
    """Of 40 displaced lines, two a ground, a third is named and sized; two sound lines are named instead."""
    right = wrong = 0
    for seed in range(1, 21):
        truth, named = _two_displaced(seed)
        right += sum(abs(named.get(n, np.inf) - off) <= 0.5 * SPACING_M for n, off in truth.items())
        wrong += len(set(named) - set(truth))
    assert right >= 12, right
    assert wrong <= 2, wrong

"""Layers laid by hand, cut off in one place."""

import numpy as np
import shapely

from gridmap.features.dug import interruption_rank
from gridmap.model import CleanLine

DT, SAMPLES = 0.2, 120
GRAVE = shapely.affinity.rotate(shapely.box(2.0, 2.2, 3.9, 2.9), 20)


def survey(cut):
    """Lines 0.25 m apart over three waving layers in noise; inside `cut` the layers are gone."""
    rng = np.random.default_rng(2)
    t, along, out = DT * np.arange(SAMPLES), np.arange(0.0, 6.0, 0.05), []
    for k in range(25):
        xy = np.stack([np.full_like(along, 0.25 * k), along], axis=1)
        traces = 0.5 * rng.normal(size=(len(along), SAMPLES))
        for depth_ns, wave in ((6.0, 0.3), (10.0, 0.5), (14.0, 0.4)):
            at = depth_ns + wave * np.sin(xy[:, 0] + 0.7 * xy[:, 1] + depth_ns)
            a = (np.pi * 0.3 * (t - at[:, None])) ** 2
            layer = (1 - 2 * a) * np.exp(-a)
            traces += np.where(shapely.contains_xy(cut, xy)[:, None], 0.0, layer)
        out.append(CleanLine(f"L{k}", xy, along, traces.astype(np.float32), np.ones(len(along), bool), 0.0))
    return out


def test_a_cut_through_layers_ranks_above_all_other_places():
    """Where a grave was dug, the layers around do not go on."""
    assert interruption_rank(survey(GRAVE), GRAVE, DT, 4.0, 18.0) > 0.98


def test_ground_that_was_not_dug_ranks_anywhere():
    """Asked at many places of even layering, the rank is spread evenly: chance tells nothing."""
    lines = survey(shapely.box(-9, -9, -8, -8))
    moves = ((-1.0, -1.0), (-1.0, 1.0), (0.0, 0.0), (1.0, -1.0), (1.0, 1.0))
    ranks = [interruption_rank(lines, shapely.affinity.translate(GRAVE, *m), DT, 4.0, 18.0) for m in moves]
    assert 0.2 < np.mean(ranks) < 0.8
    assert min(ranks) < 0.5


def test_too_few_traces_tell_nothing():
    """An area between two lines has no trace inside."""
    assert interruption_rank(survey(GRAVE), shapely.box(1.05, 1.0, 1.2, 2.0), DT, 4.0, 18.0) is None

"""How sure a line is, and the sentences of the summary."""

import numpy as np

from gridmap.features.confidence import confidence
from gridmap.features.ground import Ground
from gridmap.features.interpret import interpret
from gridmap.features.linear_measures import Measures
from gridmap.features.words import features_in_words
from gridmap.model import IDENTITY, Features, LinearFeature, OutlineFeature


def line(*xyz, confidence=0.9):
    return LinearFeature(np.array(xyz, float), 0.03, None, 8.0, confidence, 9, "unclear", "shown by 9 of 9")


TANK = OutlineFeature(
    np.array([[2.0, 2.0], [4.0, 2.0], [4.0, 3.2], [2.0, 3.2]]), 0.7, 0.04, None, 2.0, 1.2, 0.0, 10.0, 0.9
)


def measures(**change):
    usual = {
        "quality": 5.0, "coherence": 0.6, "pipe_share": 1.0, "contrast": 6.0, "seen_share": 1.0, "crossed": 20,
        "shown": 20, "length_m": 6.0, "bend_deg": 2.0, "amplitude": 0.05, "ridge": 9.0,
    }  # fmt: skip
    return Measures(**(usual | change))


def test_more_evidence_never_makes_less_sure():
    """Each measure by itself moves the confidence the way physics asks; a plain pipe is sure, noise is not."""
    plain = confidence(measures())
    assert plain > 0.9
    weaker = (
        {"quality": 2.0},
        {"pipe_share": 0.4},
        {"contrast": 1.0},
        {"shown": 6},
        {"length_m": 1.2},
    )
    assert all(confidence(measures(**w)) < plain for w in weaker)
    noise = measures(quality=2.0, pipe_share=0.6, contrast=1.3, shown=1, crossed=8, length_m=2.0)
    assert confidence(noise) < 0.1


def test_the_summary_says_where_how_deep_and_how_sure():
    """Bearing on the map: a line along local x, which is turned 30 degrees from east, runs at 60 degrees."""
    found = Features(linear=(line((0, 3, 0.5), (6, 3, 1.1)),), outlines=(TANK,))
    said = features_in_words(interpret(found, (), IDENTITY, Ground(None, [], 0.1, None, 400.0, 0.2)), 30.0)
    assert "bearing of 60 or 240 degrees" in said[0]
    assert "0.50 m at one end, 1.10 m at the other" in said[0]
    assert all("confidence 0.90" in s for s in said)
    assert "2.0 by 1.2 m" in said[1]

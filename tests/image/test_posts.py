"""Posts along a line."""

import numpy as np
import pytest

from gridmap.image.posts import at_posts, line_posts
from gridmap.model import CleanLine


def walked(along, usable=None):
    along = np.asarray(along, dtype=float)
    xy = np.stack([np.full_like(along, 2.0), along], axis=1)
    ok = np.ones(len(along), bool) if usable is None else np.asarray(usable)
    return CleanLine("L", xy, along, np.zeros((len(along), 4), np.float32), ok, 0.0)


def test_posts_lie_on_the_path_a_step_apart():
    """0.95 m of line and 0.1 m steps: eleven posts up to one step past the last whole one at most."""
    posts = line_posts(walked(np.arange(0, 1.0, 0.05)), 0.1)
    assert posts[:, 0] == pytest.approx(2.0)
    assert np.diff(posts[:-1, 1]) == pytest.approx(0.1)


def test_values_are_means_of_usable_traces_and_gaps_are_bridged():
    """Two traces a post are averaged, an unusable one does not count, an empty post lies between its neighbours."""
    line = walked([0.0, 0.02, 0.1, 0.3, 0.4], [True, True, False, True, True])
    values = np.array([[1.0], [3.0], [99.0], [8.0], [10.0]], np.float32)
    assert at_posts(line, values, 0.1)[:, 0] == pytest.approx([2.0, 4.0, 6.0, 8.0, 10.0])


def test_one_usable_trace_serves_all_posts():
    """A line with one usable trace does not fail."""
    line = walked([0.0, 0.1, 0.2], [False, True, False])
    assert at_posts(line, np.array([[5.0], [7.0], [5.0]], np.float32), 0.1)[:, 0] == pytest.approx([7, 7, 7])

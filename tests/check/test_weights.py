"""What the map does with findings."""

import numpy as np

from gridmap.check.finding import Figure, Finding
from gridmap.check.weights import trace_weights, weights_in_words


def _finding(kind, first, last, value=1.0):
    return Finding("A", kind, "attention", 0.0, 1.0, first, last, (Figure("size", value),), "words")


def test_noisy_stretch_counts_in_inverse_proportion_past_three_times_the_noise():
    """Six times the noise: half; twice: in full."""
    weight = trace_weights([_finding("bump", 11, 20, 6.0), _finding("burst", 31, 40, 2.0)], 50)
    assert (weight[10:20] == 0.5).all() and (np.delete(weight, np.s_[10:20]) == 1.0).all()


def test_first_pass_stays_of_what_was_walked_more_than_once():
    """A stop keeps its first trace, backing up its first third: what follows was not where it is laid out."""
    weight = trace_weights([_finding("stopped", 11, 20), _finding("backed up", 31, 60)], 70)
    assert weight[10] == 1 and (weight[11:20] == 0).all() and weight[20] == 1
    assert (weight[30:40] == 1).all() and (weight[40:60] == 0).all() and weight[60] == 1


def test_words_tell_counts_and_lines_and_nothing_where_all_count_alike():
    """One sentence for the notes."""
    assert weights_in_words({"A": np.ones(5, np.float32)}) is None
    words = weights_in_words({"A": np.array([1, 0.5, 0.5], np.float32), "B": np.array([0, 1], np.float32)})
    assert (
        words is not None and "2 traces count less" in words and "1 traces left out" in words and "B" in words
    )

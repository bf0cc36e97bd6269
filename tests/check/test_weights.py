"""What the map does with findings."""

import numpy as np
import pytest

from gridmap.check.finding import Figure, Finding
from gridmap.check.weights import left_out, noise_over_usual, weight_in_time, weights_in_words


def _finding(kind, first, last, value=1.0):
    return Finding("A", kind, "attention", 0.0, 1.0, first, last, (Figure("size", value),), "words")


def test_noise_shows_in_the_image_no_larger_than_echoes():
    """A hundred traces of noise N and weight w hold w N / 10 against an echo S: no more than S itself."""
    weight = weight_in_time(np.array([100.0]), 0.5, np.array([3.0]))
    assert weight[0, 0] * 100.0 * 0.5 / np.sqrt(100.0) == pytest.approx(3.0, rel=0.01)


def test_sound_traces_and_strong_echoes_count_in_full():
    """A trace of usual noise always; a noisy one where echoes are a hundred times its noise."""
    weight = weight_in_time(np.array([1.0, 8.0]), 0.01, np.array([8.0, 0.002, 0.0]))
    assert (weight[0] == 1.0).all()
    assert weight[1, 0] == 1.0 and weight[1, 1] < 0.5 and weight[1, 2] == 1.0


def test_noise_of_overlapping_stretches_is_the_larger():
    """Traces are counted from 1, both ends included."""
    times = noise_over_usual([_finding("bump", 11, 20, 6.0), _finding("burst", 15, 40, 2.0)], 50)
    assert (times[10:20] == 6.0).all() and (times[20:40] == 2.0).all() and times[9] == times[40] == 1.0


def test_first_pass_stays_of_what_was_walked_more_than_once():
    """A stop keeps its first trace, backing up its first third."""
    gone = left_out([_finding("stopped", 11, 20), _finding("backed up", 31, 60)], 70)
    assert np.flatnonzero(gone).tolist() == [*range(11, 20), *range(40, 60)]


def test_words_tell_counts_and_lines_and_nothing_where_all_count_alike():
    """One sentence for the notes."""
    assert weights_in_words({"A": ()}, {"A": 5}) is None
    found = {"A": (_finding("bump", 2, 3, 4.0),), "B": (_finding("stopped", 1, 2),)}
    words = weights_in_words(found, {"A": 5, "B": 5})
    assert (
        words is not None and "2 traces count less" in words and "1 traces left out" in words and "B" in words
    )

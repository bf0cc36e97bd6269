"""A path with fewer vertices tells where every trace is."""

import numpy as np

from gridmap.place.thin_path import thin_path


def test_path_is_thinned_to_within_a_centimetre():
    """A straight line keeps its ends; a bent or unevenly walked one lies within the tolerance at every trace."""
    along = np.linspace(0, 20, 401)
    straight = np.column_stack([np.full(401, 1.0), along])
    assert thin_path(straight, along).tolist() == [0, 400]
    bent = np.column_stack([0.3 * np.sin(along / 2), along + 0.1 * np.sin(along)])
    kept = thin_path(bent, along)
    assert 4 < len(kept) < 80
    for column in range(2):
        back = np.interp(along, along[kept], bent[kept, column])
        assert np.abs(back - bent[:, column]).max() <= 0.0101

"""Dead traces and bursts."""

import numpy as np

from gridmap.condition.faulty import faulty_traces


def test_dead_traces_and_bursts_are_named_and_echoes_are_not():
    """Dead: no direct wave. Shaken: it comes late. Burst: late part far too strong. A strong echo: neither."""
    rng = np.random.default_rng(3)
    traces = 0.01 * rng.normal(size=(100, 200)).astype(np.float32)
    traces[:, 10] += 1.0
    traces[50:60, 120] += 0.15
    traces[20, 10] = 0.0
    traces[40, :15] = np.roll(traces[40, :15], 2)
    traces[30] += 0.2 * rng.normal(size=200).astype(np.float32)
    assert list(np.flatnonzero(faulty_traces(traces, 15))) == [20, 30, 40]

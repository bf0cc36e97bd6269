"""One line with a direct wave and echoes of our own, to put faults into; nothing of gridmap makes the ground."""

import numpy as np
from made_ground import INTERVAL_NS, Ground, ricker

from gridmap.model import Line, PlacedLine

ZERO_SAMPLE = 15
NOISE = 0.03


def made_traces(seed=3, count=160, start_x=1.0, pipes=(), noise=NOISE, smooth_m=0.15):
    """Traces (trace, sample) 5 cm apart along y: a direct wave of 30 at sample 15, echoes of 1 after it, noise."""
    rng = np.random.default_rng(seed)
    ground = Ground(seed, size=(3.0, 0.05 * count + 1.0), smooth_m=smooth_m, pipes=pipes)
    xy = np.column_stack([np.full(count, start_x), 0.05 * np.arange(count)])
    echoes = ground.traces(xy, 0.0, rng)
    samples = echoes.shape[1]
    t = INTERVAL_NS * (np.arange(samples) - ZERO_SAMPLE)
    echoes *= 1.0 / (1.0 + np.exp(-(t - 6.0)))
    return (30.0 * ricker(t) + echoes + noise * rng.standard_normal((count, samples))).astype(np.float32)


def placed(traces, name="L01", step_m=0.05, **more):
    """Lay traces out along y, `step_m` apart."""
    along = step_m * np.arange(len(traces))
    line = Line(
        name, np.ascontiguousarray(traces, dtype=np.float32), INTERVAL_NS, source=f"{name}.sgy", **more
    )
    return PlacedLine(line, np.column_stack([np.zeros(len(traces)), along]), along)

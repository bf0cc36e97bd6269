"""The map of reach: how deep a stated echo would still be seen, cell by cell."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.condition.reach import OVER_NOISE, STATED_ECHO, reach_ns
from gridmap.condition.recipe import Conditioned, Recipe
from gridmap.image.posts import at_posts
from gridmap.model import CleanLine, Float32, VelocityModel
from gridmap.pipeline.run import Run


def reach_at_posts(
    lines: Sequence[CleanLine], signal: Conditioned, recipe: Recipe, velocity: VelocityModel, step_m: float
) -> Float32:
    """Estimate the reach along every line.

    Parameters
    ----------
    lines : sequence of CleanLine
        Conditioned and put right, echoes through the air taken off.
    signal : Conditioned
        Their noise floors, decay and gain.
    recipe : Recipe
        As they were conditioned.
    velocity : VelocityModel
        Time to depth.
    step_m : float
        Distance between posts, metres.

    Returns
    -------
    (post, 1) float32
        Depth in metres at the posts of all lines.
    """
    noise = {ln.name: n.level for ln, n in zip(signal.lines, signal.noise, strict=True)}
    per_post = []
    for line in lines:
        time_ns = reach_ns(
            line, signal.gain, recipe.interval_ns, noise[line.name], signal.decay, recipe.decay_from_ns
        )
        depth_m = velocity.depth_m(time_ns).astype(np.float32)
        per_post.append(at_posts(line, depth_m[:, None], step_m))
    return np.concatenate(per_post)


def map_reach(
    spread_m: Float32, signal: Conditioned, recipe: Recipe, velocity: VelocityModel, run: Run
) -> Float32:
    """Limit the reach to the record, and say how far it is.

    Parameters
    ----------
    spread_m : (row, column) float32
        What `reach_at_posts` gave, spread between the lines.
    signal, recipe, velocity
        As there.
    run : Run
        Takes a note on the usual reach.

    Returns
    -------
    (row, column) float32
        Depth in metres, NaN where blank or not known.
    """
    record_m = float(velocity.depth_m(recipe.interval_ns * (len(signal.gain) - 1)))
    depth = np.minimum(spread_m, record_m)
    known = depth[np.isfinite(depth)]
    if known.size:
        full = float((known > 0.98 * record_m).mean())
        run.notes.append(
            f"reach: an echo {STATED_ECHO:g} times the ground's own would stand {OVER_NOISE:g} times above the noise "
            f"to {np.median(known):.2f} m (median; on a tenth of the area {np.percentile(known, 10):.2f} m or less); "
            f"the record ends at {record_m:.2f} m, which limits {100 * full:.0f} % of the area. Below that an empty "
            "slice says nothing"
        )
    return np.asarray(depth, dtype=np.float32)

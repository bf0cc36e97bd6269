"""What uneven ground costs: 3D migration below slopes and bumps against the flat sum, in one run.

Run: `python -m benchmarks.terrain_cost`. Lines of noise, 12 m square, both directions, 0.25 m apart.
"""

from __future__ import annotations

import time

import numpy as np

from gridmap.image.migrate import migrate_3d
from gridmap.image.over_terrain import Uneven, judge_ground, migrate_3d_over_terrain
from gridmap.model import CleanLine, Grid, VelocityModel

PERIOD_NS = 2.5


def main() -> None:
    """Print the CPU time of each ground over that of level ground; the better of two runs each."""
    rng = np.random.default_rng(1)
    velocity, grid, depth_m = (
        VelocityModel.constant(0.1, 0, ""),
        Grid(0, 0, 0.05, 241, 241),
        np.arange(0, 1.5, 0.02),
    )
    along = np.arange(0, 12.01, 0.05)
    lines = []
    for c in np.arange(0, 12.01, 0.25):
        xy = np.stack([along, np.full_like(along, c)], axis=1)
        for path in (xy, xy[:, ::-1].copy()):
            noise = rng.normal(size=(len(along), 360)).astype(np.float32)
            lines.append(CleanLine("L", path, along, noise, np.ones(len(along), bool), 0.0))
    x, y = np.meshgrid(grid.x_m(), grid.y_m())
    given = (lines, 0.2, 0.1, velocity, grid, depth_m)
    flat = _best(lambda: migrate_3d(*given))
    print(f"level ground: {flat:.2f} s of CPU")
    for name, height in (
        ("5 degrees", x * np.tan(np.radians(5))),
        ("20 degrees", x * np.tan(np.radians(20))),
        ("waves of 0.3 m over 25 m", 0.3 * np.sin(x / 4) * np.cos(y / 5)),
        ("mound of 0.5 m", 0.5 * np.exp(-((x - 6) ** 2 + (y - 6) ** 2) / (2 * 1.5**2))),
        ("waves of 0.3 m over 4 m", 0.3 * np.sin(1.5 * x) * np.cos(1.2 * y)),
    ):
        report = judge_ground(height, grid.cell_m, velocity, depth_m, PERIOD_NS)
        ground = Uneven(height, report.limit_ns)
        cost = _best(lambda ground=ground: migrate_3d_over_terrain(*given, ground))  # type: ignore[misc]
        print(f"{name}: {cost / flat:.2f} times; {100 * report.share_uneven:.0f} % by true heights")


def _best(job) -> float:  # type: ignore[no-untyped-def]
    taken = []
    for _ in range(2):
        start = time.process_time()
        job()
        taken.append(time.process_time() - start)
    return min(taken)


if __name__ == "__main__":
    main()

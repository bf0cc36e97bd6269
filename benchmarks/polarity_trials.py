"""How often the sign of an echo tells metal from a void: full-wave echoes of pipes, `benchmarks.velocity_trials`.

`python -m benchmarks.polarity_trials --surveys 20` conditions the lines of each survey, sums the echo of every pipe
that no other passes within half a metre, at its true place, and counts what its polarity is called.
"""

from __future__ import annotations

import argparse
from collections import Counter

import numpy as np

from benchmarks.velocity_trials import draw
from gridmap.condition.recipe import choose_recipe, finish_lines, prepare_line
from gridmap.features.apex import apex_pulses, phase_of, polarity_of, pulse_sign_of
from gridmap.features.stack import Gather
from gridmap.model import VelocityModel

SOURCE_DEG = 135.0
"""The trials' line sources, and the missing -4i of a scattered field, lead a point source over a mirror by this."""


def judge(number: int) -> list[tuple[str, str, float, float, float]]:
    """Each pipe of a trial: what is inside, what its polarity is called, phase, agreement, radius in wavelengths."""
    trial = draw(number)
    antenna, dt = trial.antenna, trial.lines[0].line.sample_interval_ns
    recipe = choose_recipe(antenna.frequency_mhz, antenna.separation_m, dt, height_m=antenna.height_m)
    lines = finish_lines([prepare_line(p, recipe) for p in trial.lines], recipe).lines
    v = trial.mean_m_per_ns
    wave = v * 1e3 / antenna.frequency_mhz
    velocity = VelocityModel.constant(v, 0.02 * v, "stated")
    gather = Gather.of(lines, recipe.interval_ns, antenna.separation_m, wave / 5)
    out = []
    for pipe in trial.pipes:
        run, at = np.array(pipe.along), np.linspace(-3, 3, 31)
        xy = np.array(pipe.xy_m) + at[:, None] * run
        low, high = (f([gather.x_m, gather.y_m], axis=1) for f in (np.min, np.max))
        inside = ((xy >= low) & (xy <= high)).all(axis=1)
        for other in trial.pipes:
            if other is not pipe:
                off = (xy - np.array(other.xy_m)) @ np.array([-other.along[1], other.along[0]])
                inside &= np.abs(off) > 0.5
        recorded_ns = recipe.interval_ns * lines[0].traces.shape[1]
        if inside.sum() < 4 or trial.two_way_ns(pipe.depth_m) > recorded_ns - 1.5e3 / antenna.frequency_mhz:
            continue
        # Where the pulse stands when the ground's mean velocity leads to it.
        depth = float(velocity.depth_m(trial.two_way_ns(pipe.depth_m - pipe.radius_m)))
        xyz = np.column_stack([xy[inside], np.full(inside.sum(), depth)])
        angle = np.full(len(xyz), np.arctan2(run[1], run[0]))
        seen = apex_pulses(gather, velocity, xyz, angle, 1e3 / antenna.frequency_mhz)
        peak = seen.peak * np.exp(1j * np.radians(SOURCE_DEG))
        sign = pulse_sign_of(lines)
        phase, agreed = phase_of(sign * peak)
        name = (
            "metal" if pipe.permittivity is None else "void" if pipe.permittivity == 1.0 else "solid plastic"
        )
        out.append((name, polarity_of(peak, sign), phase, agreed, pipe.radius_m / wave))
    return out


def main() -> None:
    """Draw, sum, count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--surveys", type=int, default=20)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--each", action="store_true", help="a row for each pipe")
    asked = parser.parse_args()
    rows = [row for k in range(asked.first, asked.first + asked.surveys) for row in judge(k)]
    if asked.each:
        for name, said, phase, agreed, radius in sorted(rows):
            print(
                f"{name:14s} {said:9s} {phase:+5.0f} deg, agreement {agreed:.2f}, radius {radius:.2f} wavelengths"
            )
    for (name, said), count in sorted(Counter((r[0], r[1]) for r in rows).items()):
        print(f"{name}: {said} {count} of {sum(r[0] == name for r in rows)}")


if __name__ == "__main__":
    main()

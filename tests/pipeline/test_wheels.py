"""Wheel scales from the site file to the corrected lines."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from made_ground import INTERVAL_NS, Ground, zigzag

from gridmap.model import CleanLine
from gridmap.pipeline.run import Run, quiet
from gridmap.pipeline.wheels import put_wheels_right
from gridmap.site.records import Antenna, Corrections, LinePlan, Site

TRUE = np.random.default_rng(1).uniform(-0.025, 0.025, 12)


def survey(handling: str, **more: Any) -> tuple[Site, list[CleanLine], Run]:
    """Give a site of wheel lines with what is done about them, its lines, and a run that takes messages."""
    lines = zigzag(Ground(1), lines=12, scales=TRUE, wheel_only=True, **more)
    plans = [
        LinePlan(ln.name, Path(ln.name), (0.0, 0.0), (0.0, 1.0), "wheel", nominal_spacing_m=0.05)
        for ln in lines
    ]
    site = Site(Path("s.toml"), "s", Antenna(300, 0.1), tuple(plans), corrections=Corrections(wheel=handling))  # type: ignore[arg-type]
    return site, lines, Run(quiet, (("all", 1.0),))


def far_off_m(lines: list[CleanLine], up: slice) -> np.ndarray:
    """Distance of the last trace from where it was taken, along the line, metres."""
    true_m = [0.05 * (len(ln.xy_m) - 1) * (1 + e) for ln, e in zip(lines, TRUE, strict=True)]
    told_m = [
        float(np.hypot(*(ln.xy_m[-1] - (ln.xy_m[0, 0], 0.0 if k % 2 == 0 else 6.0))))
        for k, ln in enumerate(lines)
    ]
    return (np.array(told_m) - true_m)[up]


def test_wheel_lines_are_put_right():
    """Far ends that lay up to 15 cm off lie within 5 cm; each line's finding says its shift there in metres."""
    site, lines, run = survey("apply")
    moved, findings = put_wheels_right(site, lines, INTERVAL_NS, run)
    before, after = far_off_m(lines, slice(None)), far_off_m(moved, slice(None))
    assert np.abs(before).max() > 0.12
    assert np.abs(after).max() < 0.05
    assert np.sqrt(np.mean(after**2)) < 0.3 * np.sqrt(np.mean(before**2))
    assert [f.lines for f in findings] == [(ln.name,) for ln in lines]
    assert all(f.applied and f.kind == "wheel" for f in findings)
    assert np.sqrt(np.mean((np.array([f.size for f in findings]) - 6.0 * TRUE) ** 2)) < 0.036  # 0.6 % of 6 m
    assert run.notes[0].startswith("put right: wheel scale of 12 lines, -")
    assert run.warnings == []


@pytest.mark.parametrize(
    ("handling", "said", "count"), [("report", "only reported", 12), ("off", "uncalibrated", 0)]
)
def test_lines_stay_where_the_site_file_says_so(handling, said, count):
    """report finds and warns, off warns that far ends are unsure; neither moves a trace."""
    site, lines, run = survey(handling)
    moved, findings = put_wheels_right(site, lines, INTERVAL_NS, run)
    assert all(new is old for new, old in zip(moved, lines, strict=True))
    assert len(findings) == count
    assert said in run.warnings[0]


def test_one_way_lines_are_said_to_be_relative():
    """Scales relative to each other are applied, and the warning says what to tape."""
    site, lines, run = survey("apply", one_way=True)
    put_wheels_right(site, lines, INTERVAL_NS, run)
    assert any("relative to each other only" in words and "length_m" in words for words in run.warnings)


def test_sites_without_wheel_lines_are_not_looked_at():
    """Pegs alone: nothing is estimated and nothing said."""
    site, lines, run = survey("apply")
    pegs = [LinePlan(p.name, p.file, p.start_m, p.end_m) for p in site.lines]
    moved, findings = put_wheels_right(
        Site(site.path, "s", site.antenna, tuple(pegs)), lines, INTERVAL_NS, run
    )
    assert (moved, findings, run.notes, run.warnings) == (lines, (), [], [])

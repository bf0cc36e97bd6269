"""The whole road on real files: full-wave surveys with known ground, and the shipped demo."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from gridmap.condition.recipe import finish_lines
from gridmap.pipeline.frame import map_frame
from gridmap.pipeline.map_site import STAGES
from gridmap.pipeline.read_lines import read_lines, shared_places
from gridmap.pipeline.run import Run, quiet
from gridmap.site.load import load_site
from gridmap.site.records import Ground
from gridmap.velocity.evidence import survey_velocity

ROOT = Path(__file__).parents[2]
SURVEYS = ROOT / "../shared/surveys"


def found(site):
    """Condition a survey by the pipeline's own stage and find its velocity."""
    run = Run(quiet, STAGES)
    survey = shared_places(site, map_frame(site, run), run)
    _, clean, recipe = read_lines(site, survey, run, lambda share: None)
    return survey_velocity(
        list(finish_lines(clean, recipe).lines), recipe.interval_ns, site.antenna, site.ground
    )


@pytest.mark.slow
@pytest.mark.parametrize("name", ["yard", "priory", "meadow", "plaza"])
def test_full_wave_surveys_give_their_velocity(name):
    """Mean velocity to 1 m within 3 percent of the simulated ground's and within two deviations."""
    folder = SURVEYS / name
    if not folder.is_dir():
        pytest.skip("the shared surveys are not here")
    site = load_site(ROOT / "tests" / "sites" / f"{name}.toml", data=folder)
    evidence = found(replace(site, ground=Ground()))
    # truth.json is written by the simulator from the permittivities put into its ground.
    truth = json.loads((folder / "truth.json").read_text())["mean_velocity_0_1m_m_per_ns"]
    v, sd = evidence.velocity.mean_m_per_ns(1.0), evidence.velocity.sd_m_per_ns
    assert evidence.choice.basis == "hyperbolas"
    assert v == pytest.approx(truth, rel=0.03)
    assert abs(v - truth) <= 2 * sd
    assert 0.015 * v < sd < 0.08 * v


def test_the_demo_gives_its_velocity():
    """The ray-traced demo reads within 3 percent of its ground, and its record is plain JSON."""
    folder = ROOT / "gridmap" / "demo_data"
    evidence = found(load_site(folder / "site.toml"))
    truth = 2.0 / json.loads((folder / "ground.json").read_text())["two_way_time_ns_at_depth_m"]["1.0"]
    assert evidence.velocity.mean_m_per_ns(1.0) == pytest.approx(truth, rel=0.03)
    assert abs(evidence.velocity.mean_m_per_ns(1.0) - truth) <= 2 * evidence.velocity.sd_m_per_ns
    record = json.loads(json.dumps(evidence.record(), allow_nan=False))
    assert len(record["hyperbolas"]) == int(evidence.fits.accepted.sum())
    assert sum(record["refused"].values()) + len(record["hyperbolas"]) == len(evidence.fits.line)

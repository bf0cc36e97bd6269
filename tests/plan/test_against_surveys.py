"""Verdicts on what is buried in the shared surveys, whose grounds and targets are known, before anyone walked them."""

import json
from pathlib import Path

import pytest

from gridmap.plan.survey import plan_survey
from gridmap.plan.tables import read_request

SURVEYS = Path(__file__).parents[2] / "../shared/surveys"
INSIDE = {"steel": 0, "cable": 0, "plastic_air": 1.0, "clay_air": 1.0, "plastic_water": 80.0}


def plan_of(thing, layers):
    """Ask for one object in the ground that it lies in; a box is as wide as its shorter side."""
    depth = max(thing["depth_top_m"]) if isinstance(thing["depth_top_m"], list) else thing["depth_top_m"]
    ground = [layer for layer in layers if layer["top_depth_m"] <= max(depth, 0.32)][-1]
    inside = thing.get("relative_permittivity") or INSIDE.get(thing["material"], 0)
    sought = {
        "shape": "line" if "axis" in thing else "body",
        "size_m": 2 * thing["radius_m"] if "axis" in thing else min(thing["size_m"][:2]),
        "depth_m": max(depth, 0.1),
        **({"permittivity": inside} if inside else {"material": "metal"}),
    }
    document = {
        "site": {"sides_m": [6, 8]},
        "sought": sought,
        "ground": {
            "velocity_m_per_ns": ground["velocity_m_per_ns"],
            "velocity_sd_m_per_ns": 0.002,
            "conductivity_ms_per_m": 1e3 * ground["conductivity_S_per_m"],
        },
        "antenna": [{"frequency_mhz": 280, "separation_m": 0.15}],
    }
    return plan_survey(read_request(document, "options"))


@pytest.mark.skipif(
    not SURVEYS.exists(), reason="the shared simulated surveys are not beside this repository"
)
@pytest.mark.parametrize("name", ["yard", "plaza", "priory", "lane"])
def test_nothing_that_was_found_was_called_invisible(name):
    """All but one grave show in these surveys: no plan may say no, and a tank or an empty chamber gets a yes."""
    truth = json.loads((SURVEYS / name / "truth.json").read_text(encoding="utf-8"))
    for thing in truth["objects"]:
        plan = plan_of(thing, truth["layers"])
        assert plan.seen != "no", (thing["id"], plan.reasons)
        if thing["type"] in ("tank_box", "chamber"):
            assert plan.seen == "yes", (thing["id"], plan.reasons)
        if thing["type"] == "grave_cut":
            assert plan.seen == "perhaps", thing["id"]

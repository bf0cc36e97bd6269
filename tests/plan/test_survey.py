"""Whole plans of whatever is asked."""

import json
import math
import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from gridmap.deliver.plan_record import plan_record, planned_site_text, stakes_csv
from gridmap.deliver.strict_json import to_text
from gridmap.errors import InputError
from gridmap.plan.ground import FAMILIES
from gridmap.plan.survey import plan_survey
from gridmap.plan.tables import KEYS, read_request
from gridmap.plan.target import MATERIALS
from gridmap.site.keys import KEYS as SITE_KEYS
from gridmap.velocity.media import MEDIA

ODD = st.one_of(
    st.none(), st.booleans(), st.integers(-3, 10**400), st.floats(), st.text(max_size=8), st.just([]),
    st.lists(st.floats(-5, 50), min_size=2, max_size=2), st.lists(st.lists(st.floats(), max_size=3), max_size=5),
    st.sampled_from(["line", "metal", "sand", "dry", "x", "EPSG:25832"]),
)  # fmt: skip
SOUND = st.fixed_dictionaries(
    {
        "site": st.fixed_dictionaries(
            {"name": st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=9),
             "sides_m": st.tuples(st.floats(0.5, 30), st.floats(0.5, 30)).map(list)}
        ),
        "sought": st.fixed_dictionaries(
            {"shape": st.sampled_from(["line", "body", "layer"]), "material": st.sampled_from(sorted(MATERIALS)),
             "size_m": st.floats(0.2, 50), "depth_m": st.floats(0.02, 100)}
        ),
        "ground": st.fixed_dictionaries(
            {"medium": st.sampled_from([m.name for m in MEDIA] + list(FAMILIES))},
            optional={"velocity_m_per_ns": st.floats(0.02, 0.25)},
        ),
        "antenna": st.lists(
            st.fixed_dictionaries({"frequency_mhz": st.floats(5, 10_000), "separation_m": st.floats(0, 10)}),
            min_size=1, max_size=3,
        ),
    }
)  # fmt: skip


@given(st.data())
@settings(deadline=None)
def test_whatever_is_written_is_planned_or_refused(data):
    """One odd value anywhere gives a plan or a message of one row, never a fault of ours."""
    document = data.draw(SOUND)
    table = data.draw(st.sampled_from(sorted(KEYS)))
    key = data.draw(st.sampled_from(KEYS[table]))
    old = document.get(table, {})
    if isinstance(old, list):
        old[0][key] = data.draw(ODD)
    else:
        document[table] = {**old, key: data.draw(ODD)}
    try:
        plan_survey(read_request(document, "options"))
    except InputError as refused:
        assert len(str(refused)) > 20


@given(SOUND)
@settings(deadline=None, max_examples=40)
def test_every_sound_request_gives_finite_figures_and_a_site_file(document):
    """No figure is endless, recorder settings obey their rules, and the site file holds known keys alone."""
    plan = plan_survey(read_request(document, "options"))
    record = json.loads(to_text(plan_record(plan)))
    for key, figure in record["figures"].items():
        assert math.isfinite(figure["value"]), key
        assert figure["low"] is None or figure["low"] <= figure["value"] <= figure["high"], key
    assert plan.figure("sample_interval_ns") <= 1e3 / (6 * plan.choice.antenna.frequency_mhz) * (1 + 1e-9)
    slowest = next(f.low for f in plan.figures if f.key == "velocity_m_per_ns")
    quarter = 1e3 * slowest / plan.choice.antenna.frequency_mhz / 4
    assert plan.figure("trace_interval_m") <= quarter * (1 + 1e-9)
    assert plan.figure("window_ns") >= 2 * plan.request.sought.depth_m / plan.figure("velocity_m_per_ns")
    assert (plan.seen == "yes") == (not plan.reasons)
    site = tomllib.loads(planned_site_text(plan))
    assert set(site) <= set(SITE_KEYS)
    assert len({line["file"] for line in site["line"]}) == len(plan.lines)
    assert stakes_csv(plan).count("\n") == 1 + len(plan.frame.corners_m) + 2 * len(plan.lines)

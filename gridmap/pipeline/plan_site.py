"""From a request, in a file or in options, to a plan."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from gridmap.deliver.outfolder import refuse_folder
from gridmap.deliver.plan_folder import write_plan
from gridmap.plan.survey import Plan, plan_survey
from gridmap.plan.tables import read_request
from gridmap.site.load import parse_toml, read_toml_text


def plan_site(
    request: Path | None, out: Path | None = None, *, options: Mapping[str, object] | None = None
) -> Plan:
    """Plan a survey and write the plan; see `gridmap.plan_grid`."""
    if out is not None:
        refuse_folder(out, False)
    text, document = "", dict[str, object]()
    if request is not None:
        text = read_toml_text(request)
        document = dict(parse_toml(request.name, text))
    for name, given in (options or {}).items():
        document[name] = _overruled(document.get(name), given)
    plan = plan_survey(read_request(document, request.name if request else "options", text))
    if out is not None:
        write_plan(out, plan)
    return plan


def _overruled(old: object, given: object) -> object:
    """Lay options over a table of the file; another area takes the old one's place."""
    if not isinstance(old, dict) or not isinstance(given, dict):
        return given
    kept = {k: v for k, v in old.items() if not ("sides_m" in given and k in ("corners_m", "corners_map_m"))}
    return {**kept, **given}

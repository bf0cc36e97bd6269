"""The manual's page on planning agrees with the program."""

import re
import tomllib
from pathlib import Path

from gridmap.deliver.plan_folder import PLAN_FILES
from gridmap.plan.ground import FAMILIES
from gridmap.plan.survey import plan_survey
from gridmap.plan.tables import KEYS, read_request
from gridmap.plan.target import MATERIALS

PAGE = (Path(__file__).parents[2] / "docs" / "planning.md").read_text(encoding="utf-8")


def test_every_key_material_family_and_file_is_documented():
    """A row for each key in its table's section and no other, and each name that may be written."""
    sections = re.split(r"^### ", PAGE, flags=re.M)
    for table, keys in KEYS.items():
        mine = next(s for s in sections if s.startswith((f"`[{table}]`", f"`[[{table}]]`")))
        assert re.findall(r"^\| `(\w+)` \|", mine, flags=re.M) == list(keys)
    for word in (*MATERIALS, *FAMILIES, *(name for name, _ in PLAN_FILES)):
        assert f"`{word}`" in PAGE, word


def test_the_example_of_the_page_plans():
    """The request printed in the manual is a sound one."""
    text = re.search(r"```toml\n(.*?)```", PAGE, flags=re.S).group(1)
    plan = plan_survey(read_request(tomllib.loads(text), "churchyard.toml", text))
    assert [peg.name for peg in plan.frame.control] == ["A", "B", "C", "D"]
    assert len(plan.lines) > 20

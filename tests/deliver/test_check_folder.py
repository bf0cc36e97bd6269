"""A check's folder: what is in it, and what it never replaces."""

import json

import pytest
from checked_survey import made_page

from gridmap.deliver.check_folder import CHECK_FILES, write_check
from gridmap.errors import OutputError


def test_folder_holds_what_is_told_and_is_replaced_only_by_another_check(tmp_path):
    """The crew checks again into the same folder; a map, or anything else that stands there, is left alone."""
    out = tmp_path / "check"
    write_check(out, made_page())
    assert sorted(p.name for p in out.iterdir()) == sorted(name for name, _ in CHECK_FILES)
    record = json.loads((out / "check.json").read_text(encoding="utf-8"))
    assert (record["program"], record["verdict"], len(record["findings"])) == ("gridmap", "walk again", 5)
    with pytest.raises(OutputError, match="earlier check"):
        write_check(out, made_page())
    write_check(out, made_page(found=[]), replace_old=True)
    assert json.loads((out / "check.json").read_text(encoding="utf-8"))["complete"] is True
    map_folder = tmp_path / "map"
    map_folder.mkdir()
    (map_folder / "run.json").write_text('{"program": "gridmap"}', encoding="utf-8")
    with pytest.raises(OutputError, match="no earlier check"):
        write_check(map_folder, made_page(), replace_old=True)
    assert [p.name for p in map_folder.iterdir()] == ["run.json"]

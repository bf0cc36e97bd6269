"""The first site file: filled with what the files say, refused until a person has filled in the rest."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridmap.errors import SiteError
from gridmap.site.load import load_site
from gridmap.site.template import FileFacts, site_template

NOON = 1_750_000_000.0  # 2025-06-15 15:06:40 UTC


def facts(*files: str, traces: int = 158, interval: float | None = 0.2, note: str = "") -> list[FileFacts]:
    return [
        FileFacts(file, traces, 250, interval, note, NOON + 60 * k, NOON + 60 * k + 20)
        for k, file in enumerate(files)
    ]


def numbered(prefix: str, *numbers: int) -> list[str]:
    return [f"lines/{prefix}{n:03d}.sgy" for n in numbers]


def filled(text: str) -> str:
    """Write the field book's values in the places left for them."""
    values = {
        "frequency_mhz": "400",
        "separation_m": "0.15",
        "sample_interval_ns": "0.2",
        "first_start_m": "[0, 0]",
        "direction": '"+y"',
        "length_m": "8.0",
        "spacing_m": "0.25",
        "toward": '"+x"',
        "zigzag": "true",
        "start_m": "[0, 4]",
        "end_m": "[2, 4]",
    }
    rows = []
    for row in text.splitlines():
        key = row.split(" = ")[0]
        rows.append(
            row.replace('"FILL IN"', values.get(key, '"FILL IN"')) if not row.startswith("#") else row
        )
    return "\n".join(rows)


def laid_out(folder: Path, files: list[FileFacts], text: str) -> Path:
    for fact in files:
        (folder / fact.file).parent.mkdir(parents=True, exist_ok=True)
        (folder / fact.file).write_bytes(b"")
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return folder / "site.toml"


def test_left_as_it_is_the_file_is_refused_with_a_list(tmp_path):
    """The loader names how many places are left, and where the first ones stand."""
    files = facts(*numbered("Y", 1, 2, 3))
    path = laid_out(tmp_path, files, site_template(files, "yard"))
    with pytest.raises(
        SiteError, match=r'8 values still to "FILL IN": frequency_mhz \(row \d+\), separation_m'
    ):
        load_site(path)


def test_filled_in_the_file_is_a_site(tmp_path):
    """Numbered files become one rule, others a line each, and all of them load once the places are filled."""
    files = facts(*numbered("Y", 1, 2, 3), "lines/tie.sgy")
    site = load_site(laid_out(tmp_path, files, filled(site_template(files, "yard"))))
    assert site.name == "yard"
    assert [(line.name, line.start_m, line.end_m) for line in site.lines] == [
        ("Y001", (0.0, 0.0), (0.0, 8.0)),
        ("Y002", (0.25, 8.0), (0.25, 0.0)),
        ("Y003", (0.5, 0.0), (0.5, 8.0)),
        ("tie", (0.0, 4.0), (2.0, 4.0)),
    ]


def test_only_part_filled_in_is_still_refused(tmp_path):
    """One place left over is one place named."""
    files = facts(*numbered("Y", 1, 2, 3))
    text = filled(site_template(files, "yard")).replace("zigzag = true", 'zigzag = "FILL IN"')
    with pytest.raises(SiteError, match=r'1 value still to "FILL IN": zigzag \(row'):
        load_site(laid_out(tmp_path, files, text))


def test_two_directions_become_two_rules(tmp_path):
    """X and Y lines have a rule each, in their own pattern, and a hint of their direction."""
    files = facts(*numbered("X", *range(1, 12)), *numbered("Y", 1, 2, 3))
    document = tomllib.loads(site_template(files, "plaza"))
    assert [(rule["files"], rule["count"]) for rule in document["lines"]] == [
        ("lines/X*.sgy", 11),
        ("lines/Y*.sgy", 3),
    ]
    text = site_template(files, "plaza")
    assert 'such as "+x"' in text
    assert 'such as "+y"' in text


def test_a_pattern_never_takes_in_another_group(tmp_path):
    """L1 and L2 beside LONG1 and LONG2 need a narrower pattern, and each file is matched once."""
    files = facts("L1.sgy", "L2.sgy", "LONG1.sgy", "LONG2.sgy", "L7_b.sgy", "L8_b.sgy")
    rules = tomllib.loads(site_template(files, "a"))["lines"]
    matched = []
    laid_out(tmp_path, files, "")
    for rule in rules:
        found = sorted(path.name for path in tmp_path.glob(rule["files"]))
        assert len(found) == rule["count"]
        matched += found
    assert sorted(matched) == sorted(fact.file for fact in files)


def test_a_gap_in_the_numbers_is_asked_about():
    """A line that is missing in the middle is pointed at, and the count is left for a person to say."""
    text = site_template(facts(*numbered("Y", 1, 2, 3, 5, 6)), "yard")
    assert "uneven between lines/Y003.sgy and lines/Y005.sgy" in text
    assert tomllib.loads(text)["lines"][0]["count"] == "FILL IN"


def test_a_short_line_is_pointed_at():
    """A line with far fewer traces than the rest may be cut short."""
    files = [*facts(*numbered("Y", 1, 2, 3, 4)), *facts("lines/Y005.sgy", traces=80)]
    assert "lines/Y005.sgy has 80 traces, the others about 158" in site_template(files, "yard")


def test_lines_recorded_out_of_order_are_pointed_at():
    """Clock times that run against the numbers are told."""
    first, second, third = facts(*numbered("Y", 1, 3, 2))
    text = site_template([first, second, third], "yard")
    assert "lines/Y003.sgy was recorded before lines/Y002.sgy" in text
    assert "recorded before" not in site_template(facts(*numbered("Y", 1, 2, 3)), "yard")


def test_the_record_says_its_length_and_what_was_assumed():
    """250 samples of 0.2 ns are 50 ns; the reader's assumption stands beside it."""
    text = site_template(facts("a.sgy", note="interval field taken as\npicoseconds"), "a")
    assert "250 samples of 0.2 ns are a record of 50 ns" in text
    assert "# The files: interval field taken as picoseconds" in text
    assert "2025-06-15 15:06" in text
    assert tomllib.loads(text)["record"] == {}


def test_files_that_disagree_or_are_silent_leave_the_interval_to_fill_in():
    """Two intervals, or none, are for a person to settle."""
    differ = site_template([*facts("a1.sgy"), *facts("a2.sgy", interval=0.1)], "a")
    assert "disagree on the sample interval: 0.1, 0.2 ns" in differ
    silent = site_template(facts("a1.sgy", "a2.sgy", interval=None), "a")
    assert "2 of 2 files do not say it, such as a1.sgy" in silent
    for text in (differ, silent):
        assert tomllib.loads(text)["record"] == {"sample_interval_ns": "FILL IN"}


def test_header_coordinates_are_told_but_not_used():
    """Co-ordinates in the headers are shown, and it is said that pegs place the lines."""
    text = site_template([FileFacts("a.sgy", 10, 20, 0.2, header_bounds=(1.0, 2.0, 3.5, 4.0))], "a")
    assert "1.00 to 3.50 and 2.00 to 4.00; lines are placed by their pegs" in text


def test_no_files_no_template():
    """An empty folder gives a sentence."""
    with pytest.raises(SiteError, match="no data files"):
        site_template([], "a")


def test_impossible_clock_times_do_no_harm():
    """Times beyond the calendar are left out."""
    assert "Recorded" not in site_template([FileFacts("a.sgy", 10, 20, 0.2, "", 1e30, 1e30)], "a")


NAMES = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=8).filter(
    lambda s: "/" not in s
)


@given(names=st.lists(NAMES, min_size=1, max_size=6, unique=True), site=NAMES, note=st.text(max_size=20))
@settings(deadline=None)
def test_whatever_the_names_the_text_is_toml_that_names_every_file_once(names, site, note):
    """Quotes, row ends and signs in names and notes cannot break the file, and no file is lost."""
    files = facts(*(f"d/{name}.sgy" for name in names), note=note)
    document = tomllib.loads(site_template(files, site))
    singles = [line["file"] for line in document.get("line", [])]
    ruled = sum(rule["count"] if rule["count"] != "FILL IN" else 0 for rule in document.get("lines", []))
    gaps = any(rule["count"] == "FILL IN" for rule in document.get("lines", []))
    assert document["site"]["name"] == site
    assert set(singles) <= {fact.file for fact in files}
    assert gaps or len(singles) + ruled == len(files)

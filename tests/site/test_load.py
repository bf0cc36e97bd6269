"""The site file: what it may say, and what it may not."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gridmap.errors import SiteError
from gridmap.site.load import load_site
from gridmap.site.recipes import named_recipe
from gridmap.site.records import Antenna, ControlPoint, Ground, LinePlan, Processing

SITES = Path(__file__).parents[1] / "sites"
SURVEYS = Path(__file__).parents[2] / "../shared/surveys"

SITE = """\
[site]
name = "Mill field"
crs = "EPSG:25832"
size_m = [2, 8.0]

[[control]]
name = "A"
local_m = [0, 0]
map_m = [563412.364, 5934120.852]

[[control]]
name = "B"
local_m = [6.0, 0]
map_m = [563417.874, 5934123.250]

[antenna]
frequency_mhz = 400
separation_m = 0.15

[[lines]]
files = "lines/L*.sgy"
first_start_m = [0, 0]
direction = "+y"
length_m = 8.0
spacing_m = 0.25
toward = "+x"
zigzag = true

[[line]]
file = "lines/tie.sgy"
start_m = [0, 4]
end_m = [2, 4.5]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A site file with three numbered lines and a tie line."""
    (tmp_path / "lines").mkdir()
    for name in ("L9", "L10", "L11", "tie"):
        (tmp_path / "lines" / f"{name}.sgy").write_bytes(b"data")
    (tmp_path / "site.toml").write_text(SITE, encoding="utf-8")
    return tmp_path


def load(folder: Path, *edits: tuple[str, str], data: Path | None = None):
    text = SITE
    for old, new in edits:
        assert old in text
        text = text.replace(old, new, 1)
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return load_site(folder / "site.toml", data=data)


def refusal(folder: Path, *edits: tuple[str, str], data: Path | None = None) -> str:
    with pytest.raises(SiteError) as caught:
        load(folder, *edits, data=data)
    message = str(caught.value)
    assert "\n" not in message
    assert message.endswith((".", '"'))
    return message


def test_a_good_site_becomes_records(folder):
    """Every value of a good site file arrives in its record, in the unit of its key."""
    site = load(folder)
    assert site.name == "Mill field"
    assert site.path == folder / "site.toml"
    assert site.crs == "EPSG:25832"
    assert site.size_m == (2.0, 8.0)
    assert site.antenna == Antenna(400.0, 0.15, 0.0)
    assert site.control[1] == ControlPoint("B", 6.0, 0.0, 563417.874, 5934123.25)
    assert site.ground == Ground()
    assert site.processing == Processing()
    assert site.control_limit_cm == 5.0


def test_a_rule_is_written_out_in_natural_order_and_zigzag(folder):
    """Line 9 comes before 10, and every second line starts at the far end."""
    files = folder / "lines"
    assert load(folder).lines == (
        LinePlan("L9", files / "L9.sgy", (0.0, 0.0), (0.0, 8.0)),
        LinePlan("L10", files / "L10.sgy", (0.25, 8.0), (0.25, 0.0)),
        LinePlan("L11", files / "L11.sgy", (0.5, 0.0), (0.5, 8.0)),
        LinePlan("tie", files / "tie.sgy", (0.0, 4.0), (2.0, 4.5)),
    )


def test_step_and_end_say_the_same_as_spacing_and_direction(folder):
    """Both ways of writing a rule give the same pegs."""
    plain = load(folder).lines
    stepped = load(
        folder,
        (
            'direction = "+y"\nlength_m = 8.0\nspacing_m = 0.25\ntoward = "+x"',
            "first_end_m = [0, 8]\nstep_m = [0.25, 0]",
        ),
    )
    assert stepped.lines == plain


def test_lines_in_one_direction_keep_their_ends(folder):
    """Without zig-zag every line starts on the same side."""
    lines = load(folder, ("zigzag = true", "zigzag = false")).lines
    assert [line.start_m[1] for line in lines[:3]] == [0.0, 0.0, 0.0]


def test_one_line_by_direction_and_length(folder):
    """A single line may be given by its start, its direction and its taped length."""
    site = load(folder, ("end_m = [2, 4.5]", 'direction = "-x"\nlength_m = 1.5\nname = "T1"'))
    assert site.lines[-1] == LinePlan("T1", folder / "lines/tie.sgy", (0.0, 4.0), (-1.5, 4.0))


def test_all_choices_arrive(folder):
    """Ground, record and processing take every key of their records."""
    more = """
[ground]
velocity_m_per_ns = 0.09
velocity_sd_m_per_ns = 0.004
[record]
sample_interval_ns = 0.2
[processing]
recipe = "tanks"
band_mhz = [100, 700]
dewow_ns = 8
background_m = 0
imaging = "3d"
interpolation = "linear"
cell_m = 0.05
blank_m = 0.5
depth_max_m = 2
slice_thickness_m = 0.1
slice_overlap = 0.25
"""
    site = load(folder, ("[2, 4.5]\n", "[2, 4.5]\n" + more))
    assert site.ground == Ground(None, 0.09, 0.004)
    assert site.processing == Processing(
        0.2, named_recipe("tanks"), (100.0, 700.0), 8.0, 0.0, "3d", "linear", 0.05, 0.5, 2.0, 0.1, 0.25
    )


def test_a_site_without_map_needs_no_control(folder):
    """CRS and control points may both be left out."""
    start = SITE.index("[[control]]")
    control = SITE[start : SITE.index("[antenna]")]
    site = load(folder, ('crs = "EPSG:25832"\n', ""), (control, ""))
    assert site.crs is None
    assert site.control == ()


def test_the_name_comes_from_the_file_or_its_folder(folder):
    """A site without a name takes the file's; site.toml takes its folder's."""
    assert load(folder, ('name = "Mill field"\n', "")).name == folder.name
    (folder / "mill.toml").write_text((folder / "site.toml").read_text(encoding="utf-8"), encoding="utf-8")
    assert load_site(folder / "mill.toml").name == "mill"


def test_a_byte_order_mark_is_taken(folder):
    """Editors that put a byte order mark before UTF-8 do no harm."""
    (folder / "site.toml").write_bytes(b"\xef\xbb\xbf" + SITE.encode())
    assert load_site(folder / "site.toml").name == "Mill field"


def test_windows_row_ends_are_taken(folder):
    """Carriage returns before row ends do no harm."""
    (folder / "site.toml").write_bytes(SITE.replace("\n", "\r\n").encode())
    assert len(load_site(folder / "site.toml").lines) == 4


def test_data_may_lie_elsewhere(folder, tmp_path_factory):
    """Paths start in the data folder where one is given."""
    desk = tmp_path_factory.mktemp("desk")
    (desk / "site.toml").write_text(SITE, encoding="utf-8")
    site = load_site(desk / "site.toml", data=folder)
    assert site.lines[0].file == folder / "lines/L9.sgy"
    with pytest.raises(SiteError, match="no file matches"):
        load_site(desk / "site.toml")


def test_hidden_companions_of_data_files_are_passed_over(folder):
    """Files that systems hide beside the data are no lines."""
    (folder / "lines" / "._L9.sgy").write_bytes(b"")
    assert len(load(folder, ('"lines/L*.sgy"', '"lines/*[0-9].sgy"')).lines) == 4


def test_a_prefix_tells_equal_file_names_apart(folder):
    """Two folders that both number from 1 can both be used."""
    (folder / "more").mkdir()
    for name in ("L9", "L10"):
        (folder / "more" / f"{name}.sgy").write_bytes(b"")
    rule = SITE[SITE.index("[[lines]]") : SITE.index("[[line]]")]
    second = rule.replace("lines/L*", "more/L*").replace("first_start_m = [0, 0]", "first_start_m = [9, 0]")
    message = refusal(folder, (rule, rule + second))
    assert "two lines are named L9: lines/L9.sgy ([[lines]] 1) and more/L9.sgy ([[lines]] 2)" in message
    site = load(folder, (rule, rule + second + 'prefix = "north-"\n\n'))
    assert [line.name for line in site.lines[3:5]] == ["north-L9", "north-L10"]


BAD = {
    "unknown key": (
        [("separation_m", "seperation_m")],
        ["site.toml:18: [antenna]", "did you mean separation_m?"],
    ),
    "unknown table": ([("[antenna]", "[antena]")], ["site.toml:16:", '"antena"', "did you mean antenna?"]),
    "key in the wrong table": (
        [
            ("size_m =", "spacing_m ="),
        ],
        ["[site]", "spacing_m", "[[lines]]"],
    ),
    "key outside tables": (
        [("[site]\n", "frequency_mhz = 400\n[site]\n")],
        ["frequency_mhz stands outside the tables", "[antenna]"],
    ),
    "single brackets": ([("[[line]]", "[line]")], ["[[line]]"]),
    "double brackets": ([("[antenna]", "[[antenna]]")], ["[antenna]", "once"]),
    "text for a number": ([("= 400", '= "400"')], ["frequency_mhz", '"400"', "without quotes"]),
    "boolean for a number": ([("= 400", "= true")], ["frequency_mhz = true", "a number is expected"]),
    "not finite": ([("= 400", "= nan")], ["finite"]),
    "enormous integer": ([("= 400", "= 1" + "0" * 400)], ["frequency_mhz", "finite"]),
    "out of bounds": ([("= 400", "= 0.4")], ["frequency_mhz = 0.4", "from 5 to 10000", "megahertz"]),
    "missing key": ([("frequency_mhz = 400\n", "")], ["[antenna]", "frequency_mhz is missing"]),
    "missing table": (
        [("[antenna]\nfrequency_mhz = 400\nseparation_m = 0.15\n", "")],
        ["[antenna] is missing"],
    ),
    "bad size": ([("[2, 8.0]", "[0, 8.0]")], ["size_m = [0, 8.0]", "above 0"]),
    "one number for a pair": ([("[2, 8.0]", "8.0")], ["size_m", "two numbers in square brackets"]),
    "crs as a number": ([('"EPSG:25832"', "25832")], ["crs = 25832", "in quotes"]),
    "empty name": ([('"Mill field"', '" "')], ["name", "empty"]),
    "two rows in a name": ([('"Mill field"', '"Mill\\nfield"')], ["name", "one plain row"]),
    "control name twice": ([('name = "B"', 'name = "A"')], ["[[control]] 2", "[[control]] 1 has this name"]),
    "control without map": (
        [("map_m = [563417.874, 5934123.250]\n", "")],
        ["[[control]] 2", "map_m is missing"],
    ),
    "control lost a point": ([("563417.874", "563417874000")], ["map_m", "decimal point"]),
    "pattern without match": ([("L*.sgy", "M*.sgy")], ["M*.sgy", "no file matches", "holds 4 files"]),
    "pattern in no folder": ([("lines/L*", "line/L*")], ["there is no folder"]),
    "missing file": (
        [("tie.sgy", "tye.sgy")],
        ["[[line]] 1", "there is no file lines/tye.sgy", "lines/tie.sgy"],
    ),
    "folder for a file": ([("lines/tie.sgy", "lines")], ["is a folder"]),
    "up and out": ([("lines/tie.sgy", "../lines/tie.sgy")], ["leads out of the site's folder"]),
    "up and out by pattern": ([("lines/L*.sgy", "lines/../../*/L*.sgy")], ["leads out of the site's folder"]),
    "absolute": (
        [("lines/tie.sgy", "/etc/hostname")],
        ["/etc/hostname", "does not start in the site's folder"],
    ),
    "home": ([("lines/tie.sgy", "~/tie.sgy")], ["does not start in the site's folder"]),
    "drive": ([("lines/tie.sgy", "C:/tie.sgy")], ["does not start in the site's folder"]),
    "backslash": ([('"lines/tie.sgy"', "'lines\\tie.sgy'")], ["backslash", "Write /"]),
    "control character": ([("lines/tie.sgy", "lines/\\u0000.sgy")], ["control character"]),
    "empty path": ([('"lines/tie.sgy"', '""')], ["file", "empty"]),
    "point path": ([('"lines/L*.sgy"', '"."')], ["names no file"]),
    "file listed twice": ([("lines/tie.sgy", "lines/L10.sgy")], ["lines/L10.sgy", "[[lines]] 1 already"]),
    "name twice": (
        [('"lines/tie.sgy"', '"lines/tie.sgy"\nname = "L10"')],
        ["lines/L10.sgy", "lines/tie.sgy", "L10"],
    ),
    "name with a folder": (
        [('"lines/tie.sgy"', '"lines/tie.sgy"\nname = "../x"')],
        ["name", "cannot name a line"],
    ),
    "name like a formula": ([('"lines/tie.sgy"', '"lines/tie.sgy"\nname = "=1+1"')], ["cannot name a line"]),
    "start is end": ([("[2, 4.5]", "[0, 4]")], ["[[line]] 1", "end_m = [0, 4]", "ends where it starts"]),
    "no end": ([("end_m = [2, 4.5]\n", "")], ["[[line]] 1", "the end of the line is missing"]),
    "direction without length": ([("length_m = 8.0\n", "")], ["[[lines]] 1", "length_m is missing"]),
    "end and direction": (
        [("end_m = [2, 4.5]", 'end_m = [2, 4.5]\ndirection = "+x"')],
        ["end_m is given too"],
    ),
    "odd direction": ([('"+y"', '"y"')], ["direction", "not a choice", "+x, -x, +y, -y"]),
    "negative length": ([("length_m = 8.0", "length_m = -8.0")], ["length_m = -8.0", "above 0"]),
    "no step": ([('spacing_m = 0.25\ntoward = "+x"\n', "")], ["step from line to line is missing"]),
    "half a step": ([('toward = "+x"\n', "")], ["toward is missing"]),
    "two steps": ([("zigzag", "step_m = [0.25, 0]\nzigzag")], ["step_m is given too"]),
    "step along the lines": ([('toward = "+x"', 'toward = "+y"')], ["runs along the lines"]),
    "step of nothing": ([('spacing_m = 0.25\ntoward = "+x"', "step_m = [0, 0]")], ["is 0"]),
    "zigzag not said": ([("zigzag = true\n", "")], ["zigzag is missing"]),
    "zigzag in quotes": ([("zigzag = true", 'zigzag = "true"')], ["zigzag", "without quotes"]),
    "wrong count": ([("zigzag", "count = 4\nzigzag")], ["count = 4", "matches 3 files, L9.sgy to L11.sgy"]),
    "line without file": ([('file = "lines/tie.sgy"\n', "")], ["[[line]] 1", "file is missing"]),
    "far away": ([("[2, 4.5]", "[2, 4.5e12]")], ["end_m", "metres in the local grid"]),
}


@pytest.mark.parametrize("case", BAD)
def test_a_mistake_is_named_with_its_place_and_its_fix(folder, case):
    """Each mistake gives one row that names the file, the table, the key and what to do."""
    edits, fragments = BAD[case]
    message = refusal(folder, *edits)
    for fragment in ["site.toml", *fragments]:
        assert fragment in message, message


MORE = {
    "medium and velocity": ('[ground]\nmedium = "clay"\nvelocity_m_per_ns = 0.1', ["medium is given too"]),
    "faster than light": ("[ground]\nvelocity_m_per_ns = 0.31", ["velocity_m_per_ns = 0.31", "0.2998"]),
    "spread alone": ("[ground]\nvelocity_sd_m_per_ns = 0.01", ["Add velocity_m_per_ns"]),
    "spread as large as all": (
        "[ground]\nvelocity_m_per_ns = 0.1\nvelocity_sd_m_per_ns = 0.1",
        ["velocity_sd_m_per_ns", "to below 0.1"],
    ),
    "interval twice": (
        "[record]\nsample_interval_ns = 0.2\n[processing]\nsample_interval_ns = 0.2",
        ["[record] gives it too"],
    ),
    "interval of nothing": ("[record]\nsample_interval_ns = 0", ["sample_interval_ns = 0"]),
    "band upside down": ("[processing]\nband_mhz = [700, 100]", ["band_mhz = [700, 100]"]),
    "imaging unknown": ('[processing]\nimaging = "3D"', ["did you mean 3d?", "auto, 3d, 2d, none"]),
    "overlap of all": ("[processing]\nslice_overlap = 1.0", ["slice_overlap", "to below 1"]),
    "negative cell": ("[processing]\ncell_m = -0.05", ["cell_m = -0.05"]),
    "unknown choice": ("[processing]\ncell_size = 0.05", ["cell_size", "did you mean"]),
}


@pytest.mark.parametrize("case", MORE)
def test_a_choice_that_cannot_be_right_is_refused(folder, case):
    """Ground, record and processing refuse what cannot be right."""
    extra, fragments = MORE[case]
    message = refusal(folder, ("[2, 4.5]\n", "[2, 4.5]\n" + extra + "\n"))
    for fragment in ["site.toml", *fragments]:
        assert fragment in message, message


def test_a_crs_needs_two_control_points(folder):
    """One control point cannot say which way the grid lies."""
    second = SITE[SITE.index('[[control]]\nname = "B"') : SITE.index("[antenna]")]
    message = refusal(folder, (second, ""))
    assert "one control point does not show" in message
    first = SITE[SITE.index("[[control]]") : SITE.index('[[control]]\nname = "B"')]
    assert "needs two or more [[control]] points" in refusal(folder, (first, ""), (second, ""))


def test_a_map_without_a_name_is_taken(folder):
    """Control points may lie in a map that no registry knows, such as the grid of a works."""
    site = load(folder, ('crs = "EPSG:25832"\n', ""))
    assert site.crs is None
    assert len(site.control) == 2


def test_no_lines_is_an_error(folder):
    """A site without lines has nothing to map."""
    assert "there are no lines" in refusal(folder, (SITE[SITE.index("[[lines]]") :], ""))


def test_many_missing_files_are_counted_not_listed(folder):
    """Several missing files give the first few and the count."""
    extra = "".join(
        f'[[line]]\nfile = "lines/gone{n}.sgy"\nstart_m = [{n}, 0]\nend_m = [{n}, 1]\n' for n in range(1, 10)
    )
    message = refusal(folder, ("[2, 4.5]\n", "[2, 4.5]\n" + extra))
    assert "9 files are missing in all" in message
    assert "[[line]] 2" in message
    assert "gone5" in message
    assert "gone6" not in message


def test_a_gap_in_the_numbers_is_not_walked_over(folder):
    """A file that is missing in the middle of a rule would shift all later lines, so it must be said."""
    for name in ("L13", "L14"):
        (folder / "lines" / f"{name}.sgy").write_bytes(b"")
    message = refusal(folder)
    assert "L11.sgy and L13.sgy" in message
    assert "count = 5" in message
    assert len(load(folder, ("zigzag", "count = 5\nzigzag")).lines) == 6


def test_every_second_number_is_no_gap(folder):
    """Numbers that rise by two throughout are even."""
    for name in ("L9", "L10", "L11"):
        (folder / "lines" / f"{name}.sgy").unlink()
    for number in (2, 4, 6, 8):
        (folder / "lines" / f"L{number}.sgy").write_bytes(b"")
    assert [line.name for line in load(folder).lines[:4]] == ["L2", "L4", "L6", "L8"]


def test_a_link_out_of_the_folder_is_refused(folder, tmp_path_factory):
    """A link inside the folder that leads outside is not followed, by name or by pattern."""
    outside = tmp_path_factory.mktemp("outside") / "L.sgy"
    outside.write_bytes(b"")
    (folder / "lines" / "tie.sgy").unlink()
    (folder / "lines" / "tie.sgy").symlink_to(outside)
    assert "link that leads out" in refusal(folder)
    (folder / "lines" / "L12.sgy").symlink_to(outside)
    message = refusal(folder)
    assert "L12.sgy is a link that leads out" in message


def test_a_linked_folder_out_is_refused(folder, tmp_path_factory):
    """A folder that is a link to elsewhere is not followed."""
    outside = tmp_path_factory.mktemp("outside")
    (outside / "L1.sgy").write_bytes(b"")
    (folder / "away").symlink_to(outside, target_is_directory=True)
    assert "leads out" in refusal(folder, ("lines/tie.sgy", "away/L1.sgy"))


def test_a_file_linked_twice_is_one_file(folder):
    """Two names for one file on disk are one file."""
    (folder / "lines" / "tie.sgy").unlink()
    (folder / "lines" / "tie.sgy").symlink_to(folder / "lines" / "L9.sgy")
    assert "stands in [[lines]] 1 already" in refusal(folder)


@pytest.mark.parametrize(
    ("edit", "row"),
    [
        (('"Mill field"', "Mill field"), 2),
        (("= 400", "= 0,4"), 17),
        (("[antenna]", "[antenna"), 16),
        (("separation_m = 0.15", "frequency_mhz = 0.15"), 18),
        (("[2, 4.5]\n", "[2, 4.5"), 32),
    ],
)
def test_what_is_not_toml_is_named_by_row(folder, edit, row):
    """A slip of the pen is named by the row it stands in."""
    message = refusal(folder, edit)
    assert message.startswith(f"site.toml:{row}: not TOML")


def test_other_encodings_are_named(folder):
    """Text saved in an old encoding gives a sentence, not a traceback."""
    (folder / "site.toml").write_bytes(SITE.replace("Mill", "Mühle").encode("latin-1"))
    with pytest.raises(SiteError, match="not UTF-8"):
        load_site(folder / "site.toml")
    (folder / "site.toml").write_bytes(SITE.encode("utf-16"))
    with pytest.raises(SiteError, match="not UTF-8"):
        load_site(folder / "site.toml")


def test_deep_brackets_are_refused(folder):
    """Brackets within brackets without end give a sentence, not a traceback."""
    (folder / "site.toml").write_text("x = " + "[" * 100_000, encoding="utf-8")
    with pytest.raises(SiteError, match="nested too deep"):
        load_site(folder / "site.toml")


def test_no_file_a_folder_and_no_data_folder(folder):
    """What is not a site file is named."""
    with pytest.raises(SiteError, match="there is no such file"):
        load_site(folder / "other.toml")
    with pytest.raises(SiteError, match="this is a folder"):
        load_site(folder)
    with pytest.raises(SiteError, match="there is no such folder"):
        load_site(folder / "site.toml", data=folder / "nowhere")


def test_data_given_for_a_site_file_is_refused(folder):
    """A large binary file is not read as text."""
    (folder / "site.toml").write_bytes(b"\x00" * 5_000_000)
    with pytest.raises(SiteError, match="too large"):
        load_site(folder / "site.toml")


def test_places_to_fill_in_are_listed(folder):
    """Values that were never filled in are named with their rows, also within brackets, but not in notes."""
    message = refusal(
        folder,
        ("= 400", '= "FILL IN"'),
        ("[0, 4]", '["FILL IN", 0]'),
        ("[[line]]", '# note = "FILL IN"\n[[line]]'),
    )
    assert "site.toml:17: 2 values" in message
    assert "frequency_mhz (row 17), start_m (row 32)" in message


@given(text=st.text(max_size=200))
@settings(max_examples=150, deadline=None)
def test_no_text_gives_a_traceback(text, tmp_path_factory):
    """Whatever the text, the answer is a site or a SiteError of one row."""
    path = tmp_path_factory.getbasetemp() / "any.toml"
    path.write_text(text, encoding="utf-8", newline="")
    with pytest.raises(SiteError) as caught:
        load_site(path)
    assert "\n" not in str(caught.value)


WORDS = st.sampled_from(
    [*"xyz", "site", "control", "antenna", "line", "lines", "ground", "record", "processing", "file", "name"]
)
VALUES = st.recursive(
    st.one_of(
        st.integers(),
        st.floats(),
        st.booleans(),
        WORDS,
        st.just("lines/L*.sgy"),
        st.just("2020-01-01"),
        st.text(max_size=3),
    ),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(WORDS, inner, max_size=3),
    max_leaves=8,
)


def as_toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value).replace("\x7f", "\\u007f")
    if isinstance(value, list):
        return "[" + ", ".join(map(as_toml, value)) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{as_toml(key)} = {as_toml(item)}" for key, item in value.items()) + "}"
    return str(value)


TABLES = [f"[{name}]" for name in ("site", "antenna", "ground", "record", "processing")]
TABLES += [f"[[{name}]]" for name in ("line", "lines", "control")]
KEYS_TRIED = ["files", "size_m", "map_m", "band_mhz", "imaging", "count", "start_m"]


@given(
    table=st.sampled_from(TABLES),
    key=WORDS | st.sampled_from(KEYS_TRIED),
    value=VALUES,
)
@settings(max_examples=200, deadline=None)
def test_no_value_gives_a_traceback(table, key, value, tmp_path_factory):
    """Whatever value a key has, the answer is a site or a SiteError of one row."""
    path = tmp_path_factory.getbasetemp() / "value.toml"
    path.write_text(f"{table}\n{key} = {as_toml(value)}\n", encoding="utf-8", newline="", errors="replace")
    with pytest.raises(SiteError) as caught:
        load_site(path)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", ["yard", "plaza", "priory", "meadow"])
def test_the_sites_of_the_test_surveys_say_what_the_field_book_says(name):
    """The short site files write out exactly to the pegs, points and radar of each field book."""
    survey = SURVEYS / name
    if not (survey / "site.json").is_file():
        pytest.skip("the test surveys are not here")
    book = json.loads((survey / "site.json").read_text(encoding="utf-8"))
    site = load_site(SITES / f"{name}.toml", data=survey)
    assert [
        (line.name, line.file.relative_to(survey.absolute()).as_posix(), list(line.start_m), list(line.end_m))
        for line in site.lines
    ] == [(line["name"], line["file"], line["start_local_m"], line["end_local_m"]) for line in book["lines"]]
    assert [(p.name, [p.x_m, p.y_m], p.easting_m, p.northing_m) for p in site.control] == [
        (p["name"], p["local_m"], p["easting"], p["northing"]) for p in book["control_points"]
    ]
    assert (site.name, site.description, site.crs) == (book["name"], book["description"], book["crs"])
    assert site.size_m == tuple(book["grid"]["size_m"])
    assert site.antenna == Antenna(
        book["nominal_frequency_mhz"], book["antenna_separation_m"], book["antenna_height_m"]
    )
    assert site.processing.sample_interval_ns == book["sample_interval_ns"]
    assert site.ground == Ground()

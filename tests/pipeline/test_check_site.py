"""From a site file, or a bare folder, to a verdict: what is missing, copied, cut short or unreadable is told."""

import json
import shutil
import subprocess
import sys

import pytest
from small_survey import SITE, traces_of, write_small_survey

import gridmap
from gridmap.errors import ReadError, SiteError
from gridmap.read.segy_write import write_segy


def _said(verdict, least=("walk again", "attention")):
    return [(f.line, f.kind, f.severity) for f in verdict.findings if f.severity in least]


def _run(*words):
    done = subprocess.run(
        [sys.executable, "-m", "gridmap", "check", *map(str, words)],
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout, done.stderr


def test_sound_survey_is_complete(tmp_path):
    """Ten lines as planned, of a pipe in empty ground."""
    result = gridmap.check_site(write_small_survey(tmp_path / "s"))
    assert result.verdict.complete and _said(result.verdict) == []
    assert [line.name for line in result.verdict.lines] == [f"L{k:02d}" for k in range(1, 11)]
    assert all(line.placed for line in result.verdict.lines)


def test_missing_file_is_walked_again_and_the_others_keep_their_places(tmp_path):
    """The number that is lacking keeps its place in the rule, so no later line moves up."""
    site = write_small_survey(tmp_path / "s")
    (tmp_path / "s" / "lines" / "L04.sgy").unlink()
    verdict = gridmap.check_site(site).verdict
    assert ("L04", "missing", "walk again") in _said(verdict)
    assert not verdict.complete
    x = {line.name: line.xy_m[0, 0] for line in verdict.lines}
    assert x["L05"] == pytest.approx(1.0)
    with pytest.raises(SiteError):  # a map is not made of it
        gridmap.map(site, tmp_path / "out")


def test_copied_unreadable_and_short_lines_are_named(tmp_path):
    """A copy, a file cut within a trace's header, and a line that ends after two thirds of its way."""
    site = write_small_survey(tmp_path / "s")
    lines = tmp_path / "s" / "lines"
    shutil.copy(lines / "L02.sgy", lines / "L06.sgy")
    (lines / "L03.sgy").write_bytes((lines / "L03.sgy").read_bytes()[:3000])
    write_segy(lines / "L08.sgy", traces_of(7)[:40], sample_interval_ps=200)
    said = _said(gridmap.check_site(site).verdict)
    assert ("L06", "duplicate", "walk again") in said
    assert ("L03", "unreadable", "walk again") in said
    assert any(line == "L08" and kind == "short" for line, kind, _ in said)
    assert {line for line, _, _ in said} <= {"L03", "L06", "L08"}


def test_hole_between_lines_and_edge_of_the_grid_are_walked_again(tmp_path):
    """A line taken out of the site file leaves half a metre; a grid of 3.5 m is not covered by lines to 2.25 m."""
    text = SITE.split("[[lines]]")[0].replace("size_m = [2.25, 3.0]", "size_m = [3.5, 3.0]")
    for k in (0, 1, 2, 3, 4, 6, 7, 8, 9):
        ends = [[0.25 * k, 0.0], [0.25 * k, 3.0]][:: -1 if k % 2 else 1]
        text += f'[[line]]\nfile = "lines/L{k + 1:02d}.sgy"\nstart_m = {ends[0]}\nend_m = {ends[1]}\n'
    verdict = gridmap.check_site(write_small_survey(tmp_path / "s", site=text)).verdict
    assert {("", "spacing", "walk again"), ("", "coverage", "walk again")} <= set(_said(verdict))


def test_wanted_depth_comes_from_the_site_file_and_the_option_overrules_it(tmp_path):
    """The record holds 27 ns: 1.34 m at 0.1 m/ns."""
    text = SITE.replace("size_m", "wanted_depth_m = 2.0\nsize_m")
    site = write_small_survey(tmp_path / "s", site=text)
    assert {kind for _, kind, s in _said(gridmap.check_site(site).verdict) if s == "walk again"} == {"window"}
    assert gridmap.check_site(site, depth_m=0.8).verdict.complete


def test_bare_folder_is_judged_and_says_what_it_cannot_know(tmp_path):
    """No site file: copies and dead traces are found, places are not spoken of, the antenna is told from the echoes."""
    write_small_survey(tmp_path / "s")
    (tmp_path / "s" / "site.toml").unlink()
    lines = tmp_path / "s" / "lines"
    shutil.copy(lines / "L02.sgy", lines / "L06.sgy")
    traces = traces_of(4)
    traces[20:27] = 0.0
    write_segy(lines / "L05.sgy", traces, sample_interval_ps=200)
    result = gridmap.check_site(lines)
    assert {("L06", "duplicate", "walk again"), ("L05", "dead", "attention")} <= set(_said(result.verdict))
    assert not any(line.placed for line in result.verdict.lines)
    assert any("cannot be known" in words for words in result.verdict.site_words)
    assert 250 < result.setup.frequency_mhz < 600
    empty = tmp_path / "empty"
    empty.mkdir()
    with pytest.raises(ReadError):
        gridmap.check_site(empty)


@pytest.mark.slow
def test_exit_codes_of_the_command(tmp_path):
    """0 complete, 1 walk again, 2 wrong input; JSON is strict and alone on standard output."""
    site = write_small_survey(tmp_path / "s")
    code, out, _ = _run(site)
    assert code == 0 and out.startswith("COMPLETE")
    (tmp_path / "s" / "lines" / "L04.sgy").unlink()
    code, out, _ = _run(site, "--json")
    assert code == 1 and json.loads(out)["verdict"] == "walk again"
    code, out, err = _run(tmp_path / "none.toml")
    assert code == 2 and out == "" and "no such file" in err


def test_from_plan_to_check_to_map_without_a_step_by_hand(tmp_path):
    """The planned site file names the lines before they are there; checked while they come in, then mapped."""
    tables = {
        "site": {"name": "Bleaching green", "sides_m": [2.25, 3.0]},
        "sought": {"shape": "line", "material": "metal", "size_m": 0.1, "depth_m": 0.8, "trend": "x"},
        "ground": {
            "medium": "topsoil",
            "wetness": "moist",
            "velocity_m_per_ns": 0.1,
            "velocity_sd_m_per_ns": 0.004,
        },
        "antenna": [{"frequency_mhz": 400, "separation_m": 0.0}],
    }
    plan = gridmap.plan_grid(None, tmp_path / "plan", options=tables)
    site = tmp_path / "plan" / "site.toml"
    (tmp_path / "plan" / "lines").mkdir(exist_ok=True)
    for k, line in enumerate(plan.lines):
        write_segy(tmp_path / "plan" / "lines" / f"{line.name}.sgy", traces_of(k), sample_interval_ps=200)
        if k == 3:
            early = gridmap.check_site(site).verdict
            assert {f.line for f in early.findings if f.kind == "missing"} == {
                ln.name for ln in plan.lines[4:]
            }
    result = gridmap.check_site(site)
    assert result.setup.depth_m == 0.8
    assert result.verdict.complete, _said(result.verdict)
    assert gridmap.map(site, tmp_path / "map").out.is_dir()


def test_notes_and_tracks_in_a_bare_folder_are_set_aside_and_scraps_of_lines_are_not(tmp_path):
    """What no reader knows is no line, unless its suffix is that of lines: then it is one that must be copied again."""
    lines = write_small_survey(tmp_path / "s").parent / "lines"
    (lines / "gate.txt").write_text("code at the office", encoding="utf-8")
    (lines / "L11.sgy").write_bytes((lines / "L01.sgy").read_bytes()[:700])
    verdict = gridmap.check_site(lines).verdict
    assert ("L11", "unreadable", "walk again") in _said(verdict)
    assert not any(f.line == "gate" for f in verdict.findings)
    assert any("gate.txt" in words for words in verdict.site_words)


def test_stretches_of_a_bare_folder_are_told_in_traces(tmp_path):
    """Metres that nobody measured are not printed."""
    lines = write_small_survey(tmp_path / "s").parent / "lines"
    dead = traces_of(2)
    dead[20:45] = 0.0
    write_segy(lines / "L03.sgy", dead, sample_interval_ps=200)
    _, out, _ = _run(lines)
    assert "L03      traces 21 to 45" in out

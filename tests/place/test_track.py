"""Lines placed by a track of fixes."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gridmap.errors import PlaceError
from gridmap.model import IDENTITY, Line, Similarity, Track
from gridmap.place.clock import estimate_clock_offset, on_trace_clock, trace_times
from gridmap.place.control import fit_similarity
from gridmap.place.crs import projected_crs
from gridmap.place.dispatch import Placed, Survey, place_line, prepare_survey
from gridmap.place.local_track import LocalTrack, local_track, project
from gridmap.place.track import place_by_track
from gridmap.read import read_line
from gridmap.read.track import read_track
from gridmap.site.load import load_site
from gridmap.site.records import LinePlan, TrackPlan

LANE = Path(__file__).parents[2] / "../shared/surveys/lane"
SITES = Path(__file__).parents[1] / "sites"


def line(count=200, step_s=0.06, start_s=1000.0, numbers=None) -> Line:
    time_s = start_s + step_s * np.arange(count)
    return Line("L1", np.zeros((count, 2), np.float32), 0.2, trace_number=numbers, time_s=time_s)


def fixes(time_s, xy_m, quality=4, sd_m=0.02, height_m=None) -> LocalTrack:
    count = len(time_s)
    nan = np.full(count, np.nan)
    return LocalTrack(
        np.asarray(time_s, float), True, np.asarray(xy_m, float), nan if height_m is None else height_m, nan,
        np.full(count, quality, dtype=np.int64), np.full(count, sd_m), np.full(count, 1.5 * sd_m), "t.nmea",
    )  # fmt: skip


def walk(offset=(0.0, 0.0), noise_m=0.0, rate_hz=5.0):
    """Along x at 0.8 m/s from x = 0 at 1000 s, on y = 2, from 990 s to 1020 s."""
    t = np.arange(990.0, 1020.0, 1 / rate_hz)
    xy = np.column_stack([0.8 * (t - 1000.0), np.full(len(t), 2.0)]) + offset
    return t, xy + np.random.default_rng(3).normal(0, noise_m, xy.shape)


def true_xy(ln: Line):
    return np.column_stack([0.8 * (ln.time_s - 1000.0), np.full(len(ln.time_s), 2.0)])


def test_even_walking_is_placed_to_a_part_of_the_noise():
    """A straight walk with 1 cm of noise is placed to better than half of it, and the sides are told."""
    ln = line()
    placed, report = place_by_track(ln, fixes(*walk(noise_m=0.01)))
    off = placed.xy_m - true_xy(ln)
    assert np.sqrt((off**2).mean()) < 0.005
    assert report.share_fixed == 1.0
    assert (report.bridged, report.blanked, report.outliers, placed.usable) == (0, 0, 0, None)
    assert report.trace_m == pytest.approx(0.048, rel=0.01)
    assert (np.diff(placed.along_m) > 0).all()
    assert placed.along_m[-1] == pytest.approx(0.8 * 0.06 * 199, abs=0.02)


def test_channels_of_an_array_lie_beside_the_track():
    """Walked in +x, a channel 0.3 m to the left of the array's middle has a y greater by that; to the right, less."""
    ln = line()
    survey = Survey(track=fixes(*walk((0.5, 0.2))), plan=TrackPlan(Path("t"), lever_arm_m=(0.5, 0.2, 1.8)))
    for aside_m in (0.3, -0.3):
        plan = LinePlan("L1", Path("l"), (0, 0), (0, 0), "track", channel=0, swath=0, aside_m=aside_m)
        placed = place_line(ln, plan, survey).line
        assert placed.xy_m - true_xy(ln) == pytest.approx(np.tile([0.0, aside_m], (200, 1)), abs=2e-3)


@pytest.mark.parametrize("turn", [0.0, 0.7, np.pi])
def test_the_lever_arm_turns_with_the_heading(turn):
    """A receiver 0.5 m ahead, 0.2 m to the left and 1.8 m up is moved back to the mid-point, whichever way it ran."""
    c, s = np.cos(turn), np.sin(turn)
    turned = np.array([[c, s], [-s, c]])
    t, xy = walk((0.5, 0.2))
    ln = line()
    track = fixes(t, xy @ turned, height_m=np.full(len(t), 61.8))
    placed, _ = place_by_track(ln, track, lever_arm_m=(0.5, 0.2, 1.8), antenna_height_m=0.03)
    assert placed.xy_m == pytest.approx(true_xy(ln) @ turned, abs=2e-3)
    assert placed.elevation_m == pytest.approx(np.full(200, 59.97), abs=1e-6)


def test_latency_and_clock_offset_move_along_the_walk():
    """Fixes stamped 0.2 s late at 0.8 m/s lie 0.16 m behind (u times tau, trade.md 2.3); a clock offset likewise."""
    t, xy = walk()
    ln = line()
    late = fixes(t + 0.2, xy)
    raw, _ = place_by_track(ln, late)
    right, report = place_by_track(ln, late, latency_s=0.2)
    assert raw.xy_m[:, 0] - true_xy(ln)[:, 0] == pytest.approx(np.full(200, -0.16), abs=5e-3)
    assert right.xy_m == pytest.approx(true_xy(ln), abs=2e-3)
    assert report.latency_s == 0.2
    slow = replace(ln, time_s=ln.time_s - 7.0)
    assert place_by_track(slow, fixes(t, xy), time_offset_s=7.0)[0].xy_m == pytest.approx(
        true_xy(ln), abs=2e-3
    )


def test_a_short_gap_is_bridged_by_the_count_and_a_long_one_blanked():
    """Without fixes for 3 s the traces follow the trigger count through a stop; above the limit they are not usable."""
    count = 200
    time_s = 1000.0 + 0.06 * np.arange(count)
    time_s[100:] += 2.0  # stood still for 2 s in the middle of the gap
    ln = replace(line(), time_s=time_s)
    t = np.arange(999.0, 1016.0, 0.2)
    way = np.interp(t, time_s, 0.048 * np.arange(count))
    keep = (t < time_s[90]) | (t > time_s[110])
    track = fixes(t[keep], np.column_stack([way, np.zeros(len(t))])[keep])
    placed, report = place_by_track(ln, track, gap_max_s=5.0)
    assert placed.xy_m[:, 0] == pytest.approx(0.048 * np.arange(count), abs=0.01)
    assert report.bridged == pytest.approx(20, abs=4)
    assert placed.usable is None
    assert len(report.gaps) == 1
    assert report.gaps[0][1] == pytest.approx(3.4, abs=0.21)
    short, said = place_by_track(ln, track, gap_max_s=2.0)
    assert short.usable is not None
    assert (~short.usable).sum() == said.blanked == report.bridged
    assert "left out" in said.notes[0]
    assert np.isfinite(short.xy_m).all()


def test_wrong_fixes_are_left_out_and_counted():
    """Jumps of metres and of half a metre do not move the line."""
    t, xy = walk(noise_m=0.005)
    for index, jump in ((60, 20.0), (75, -0.5), (90, 0.5)):
        xy[index] += (0.0, jump)
    ln = line()
    placed, report = place_by_track(ln, fixes(t, xy))
    assert report.outliers == 3
    assert placed.xy_m == pytest.approx(true_xy(ln), abs=0.015)
    assert "3 of" in report.notes[0]


def test_quality_is_honoured():
    """Autonomous fixes are refused where float or better is asked, taken where any will do, and said."""
    t, xy = walk()
    poor = fixes(t, xy, quality=1, sd_m=3.0)
    with pytest.raises(PlaceError, match="autonomous"):
        place_by_track(line(), poor)
    _, report = place_by_track(line(), poor, min_quality="any")
    assert report.share_other == 1.0
    assert report.sd_m > 1.0
    half = replace(poor, quality=np.where(t < 1006, 4, 1), sd_m=np.where(t < 1006, 0.02, 3.0))
    placed, report = place_by_track(line(), half)
    assert report.blanked > 50
    assert placed.usable is not None
    assert placed.usable[:90].all()


def test_lines_that_no_fix_falls_into_say_so_and_suggest_the_zone():
    """A recorder an hour behind is told with both spans and an offset to try."""
    ln = replace(line(), time_s=line().time_s - 3600 + 86400 * 19000)
    t, xy = walk()
    track = fixes(t + 86400 * 19000, xy)
    with pytest.raises(PlaceError, match="time_offset_s = 3600"):
        place_by_track(ln, track)
    with pytest.raises(PlaceError, match="no trace times"):
        place_by_track(replace(ln, time_s=None), track)
    back = line()
    back.time_s[50] -= 1.0
    with pytest.raises(PlaceError, match="L1, trace 51"):
        place_by_track(back, track)


def test_whole_seconds_are_spread_evenly():
    """Trace times cut to whole seconds come back within a trace or two."""
    ln = line(300, step_s=0.06, start_s=1000.35)
    cut = replace(ln, time_s=np.floor(ln.time_s))
    even, notes = trace_times(cut)
    assert even == pytest.approx(ln.time_s, abs=0.07)
    assert (np.diff(even) > 0).all()
    assert "steps of 1 s" in notes[0]
    with pytest.raises(PlaceError, match="different times"):
        trace_times(replace(ln, time_s=np.full(300, 5.0)))


@pytest.mark.parametrize("day", [0, 19819])
def test_an_undated_track_takes_its_day_from_the_line(day):
    """Seconds since midnight find the day of the traces, over midnight too."""
    t = np.arange(86390.0, 86420.0, 0.2)
    track = replace(fixes(t, np.zeros((len(t), 2))), dated=False)
    traces = day * 86400 + np.linspace(86395.0, 86415.0, 50)
    assert on_trace_clock(track, traces)[0] == pytest.approx(day * 86400 + 86390.0)


def test_projection_gives_the_published_numbers():
    """GN7-2 LAEA example: 50 N 5 E is 3962799.45, 2999718.85 in EPSG:3035 (trade.md 3.3)."""
    mapped, note = project(np.array([[5.0, 50.0]]), projected_crs("EPSG:3035"))
    assert mapped[0] == pytest.approx([3962799.45, 2999718.85], abs=0.01)
    assert note is None or "ETRS89" in note or "European Terrestrial" in note
    assert project(np.array([[5.0, 50.0]]), projected_crs("EPSG:32631"))[1] is None


def test_a_site_grid_takes_map_fixes_to_its_own_axes():
    """Site grid of trade.md 3.3: 450000, 250000, y-axis bearing 30 degrees; (20, 20) is 450027.3205, 250007.3205."""
    turn = -np.radians(30.0)
    grid = Similarity(450000.0, 250000.0, np.cos(turn), np.sin(turn))
    nan = np.full(1, np.nan)
    track = Track(
        np.zeros(1),
        False,
        "map",
        np.array([[450027.3205, 250007.3205]]),
        nan,
        nan,
        np.array([-1]),
        np.full((1, 3), np.nan),
    )
    local = local_track(track, grid)
    assert local.xy_m[0] == pytest.approx([20.0, 20.0], abs=1e-4)
    assert local.sd_m[0] == 0.03
    degrees = replace(track, frame="degrees", place=np.array([[5.0, 50.0]]))
    with pytest.raises(PlaceError, match="no crs"):
        local_track(degrees, IDENTITY)


@pytest.fixture(scope="module")
def lane():
    """The lane's lines, placed by its track alone, with the truth of each."""
    if not (LANE / "track.nmea").is_file():
        pytest.skip("surveys/lane is not beside this repository")
    site = load_site(SITES / "lane.toml", data=LANE)
    fit = fit_similarity(site.control)
    assert site.track is not None
    survey = prepare_survey(site, fit.transform, projected_crs(site.crs), track=read_track(site.track.file))
    lines = [
        read_line(p.file, name=p.name, sample_interval_ns=site.processing.sample_interval_ns)
        for p in site.lines
    ]
    placed = [place_line(ln, plan, survey) for ln, plan in zip(lines, site.lines, strict=True)]
    truth = json.loads((LANE / "truth.json").read_text(encoding="utf-8"))
    return lines, placed, truth, survey


def miss_m(placed: Placed, told: dict) -> np.ndarray:
    """Distance of each trace from where it was taken, metres."""
    return np.hypot(*(placed.line.xy_m - np.column_stack([told["true_u_m"], told["true_v_m"]])).T)


def test_the_lane_is_placed_by_its_track(lane):
    """Against the truth: median below 2.5 cm, 95 % below 6 cm, fixed lines alone below 4 cm.

    Control points are good to 1 to 2 cm, fixed fixes have 6 mm white and 7 mm slow noise, and the true places lie on a
    raster of 2.5 cm across the line: 2 cm is what can be had.
    """
    _, placed, truth, _ = lane
    each = {told["name"]: miss_m(p, told) for p, told in zip(placed, truth["lines"], strict=True)}
    everything = np.concatenate(list(each.values()))
    assert np.median(everything) < 0.025
    assert np.percentile(everything, 95) < 0.06
    fixed = np.concatenate([each[name] for name in each if name != truth["gnss"]["float_line"]])
    assert np.percentile(fixed, 95) < 0.04


def test_the_gap_of_the_lane_is_bridged_and_told(lane):
    """Traces in the 2.3 s without fixes lie as well as the others, and the report names the gap."""
    lines, placed, truth, _ = lane
    index = [ln.name for ln in lines].index(truth["gnss"]["gap_line"])
    first, last = truth["gnss"]["gap_s_utc"]
    clock = lines[index].time_s % 86400
    inside = (clock > first) & (clock < last)
    report = placed[index].track
    assert report.bridged == pytest.approx(inside.sum(), abs=4)
    assert report.gaps[0][0] % 86400 == pytest.approx(first, abs=0.21)
    assert miss_m(placed[index], truth["lines"][index])[inside].max() < 0.05
    assert [p.track.bridged > 0 for p in placed] == [ln.name == truth["gnss"]["gap_line"] for ln in lines]


def test_the_float_stretch_of_the_lane_is_mended(lane):
    """Float fixes lie 15 cm off; the fixed ones beside them hold the line to half of that, and the share is told."""
    lines, placed, truth, _ = lane
    index = [ln.name for ln in lines].index(truth["gnss"]["float_line"])
    first, last = truth["gnss"]["float_s_utc"]
    clock = lines[index].time_s % 86400
    inside = (clock > first) & (clock < last)
    assert placed[index].track.share_float == pytest.approx(inside.mean(), abs=0.03)
    miss = miss_m(placed[index], truth["lines"][index])[inside]
    assert np.median(miss) < 0.5 * np.hypot(*truth["gnss"]["float_offset_m"])


def test_the_clock_offset_is_found_from_the_walking(lane):
    """Lines whose clock is 17.3 s slow are put right within 0.05 s, and told so; no samples are needed."""
    lines, _, _, survey = lane
    lines = [replace(ln, traces=ln.traces[:0]) for ln in lines]
    for shift in (0.0, 17.3, -41.2):
        found = estimate_clock_offset([replace(ln, time_s=ln.time_s - shift) for ln in lines], survey.track)
        assert found.offset_s == pytest.approx(shift, abs=0.05)
        assert found.sd_s < 0.1
        assert found.lines == 5


def test_a_clock_offset_out_of_reach_is_refused(lane):
    """An hour off finds nothing within two minutes, and says to state it."""
    lines, _, _, survey = lane
    with pytest.raises(PlaceError, match="State time_offset_s"):
        estimate_clock_offset(
            [replace(ln, time_s=ln.time_s - 3600) for ln in lines], replace(survey.track, dated=True)
        )


def test_heights_of_the_lane_give_the_ground(lane):
    """The lane is flat: heights of all lines agree within 4 cm, 1.80 m and the antenna's height below the fixes."""
    _, placed, _, survey = lane
    heights = np.concatenate([p.line.elevation_m for p in placed])
    assert np.ptp(heights) < 0.04
    assert np.median(heights) == pytest.approx(np.median(survey.track.height_m) - 1.80 - 0.025, abs=0.01)
    assert any("geoid" in note for note in survey.notes)
